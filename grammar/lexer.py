"""Lark's contextual lexer for a text of one line: it counts no lines and columns.

What a terminal is and which may come next stays with Lark; only the bookkeeping for texts of many
lines is left out, which makes reading about a sixth faster.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, cast

from lark import Token
from lark.lexer import BasicLexer, ContextualLexer, LexerState
from lark.utils import TextSlice

_Finder = tuple[Callable[[TextSlice[str], int], tuple[str, str] | None], frozenset[str]]


class OneLineLexer(ContextualLexer):
    """Finds the same tokens as Lark's own; asks that one where no token is to be found."""

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self._finders: dict[int, _Finder] = {}

    def _finder(self, state: int) -> _Finder:
        """How a token is found in a state of the parser, and which kinds are passed over."""
        lexer = cast("BasicLexer", self.lexers[state])
        self._finders[state] = lexer.scanner.match, lexer.ignore_types
        return self._finders[state]

    def lex(self, lexer_state: LexerState, parser_state: Any) -> Iterator[Token]:
        """The tokens of the text, each sought among those that may come next."""
        text, new = lexer_state.text, str.__new__
        finders = self._finders
        place, end = lexer_state.line_ctr.char_pos, text.end
        states = parser_state.state_stack
        while place < end:
            state = states[-1]
            finder = finders.get(state)
            find, ignored = self._finder(state) if finder is None else finder
            found = find(text, place)
            if found is None:
                lexer_state.line_ctr.char_pos = place
                lexer_state.line_ctr.column = place + 1
                yield from super().lex(lexer_state, parser_state)  # raises, with its reasons
                return
            value, kind = found
            start, place = place, place + len(value)
            if kind in ignored:
                continue
            token = new(Token, value)
            token.type = kind
            token.value = value
            token.start_pos, token.end_pos = start, place
            token.line = token.end_line = 1
            token.column, token.end_column = start + 1, place + 1
            lexer_state.last_token = token
            yield token
