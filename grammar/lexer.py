"""Lark's contextual lexer for a text of one line: it counts no lines and columns.

What a terminal is and which may come next stays with Lark; only the bookkeeping for texts of many
lines is left out, which is a third of the time that reading takes.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, cast

from lark import Token
from lark.lexer import BasicLexer, ContextualLexer, LexerState


class OneLineLexer(ContextualLexer):
    """Finds the same tokens as Lark's own; asks that one where no token is to be found."""

    def lex(self, lexer_state: LexerState, parser_state: Any) -> Iterator[Token]:
        """The tokens of the text, each sought among those that may come next."""
        text, new = lexer_state.text, str.__new__
        lexers = cast("dict[int, BasicLexer]", self.lexers)
        place, end = lexer_state.line_ctr.char_pos, text.end
        states = parser_state.state_stack
        while place < end:
            lexer = lexers[states[-1]]
            found = lexer.scanner.match(text, place)
            if found is None:
                lexer_state.line_ctr.char_pos = place
                lexer_state.line_ctr.column = place + 1
                yield from super().lex(lexer_state, parser_state)  # raises, with its reasons
                return
            value, kind = found
            start, place = place, place + len(value)
            if kind in lexer.ignore_types:
                continue
            token = new(Token, value)
            token.type = kind
            token.value = value
            token.start_pos, token.end_pos = start, place
            token.line = token.end_line = 1
            token.column, token.end_column = start + 1, place + 1
            lexer_state.last_token = token
            yield token
