"""A line taken through Lark's tables in one loop.

The terminals, the table of states and the calls of the transformer are Lark's. What is left out is
what only a text of many lines needs: lines and columns are not counted, and no token is handed from
a lexer to a parser. Where a line cannot be read, Lark itself goes on from that place and raises.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from functools import lru_cache, partial
from typing import Any, NoReturn, cast

from lark import Lark, Token
from lark.exceptions import UnexpectedInput
from lark.grammar import Rule
from lark.lexer import (
    BasicLexer,
    ContextualLexer,
    LexerState,
    LexerThread,
    PatternRE,
    TerminalDef,
)
from lark.parsers.lalr_interactive_parser import InteractiveParser
from lark.parsers.lalr_parser_state import ParseConf, ParserState
from lark.utils import TextSlice

SINGLY = 400  # times that a state's terminals are tried one after the other
_END = "$END"
_NEW = str.__new__


class _State:
    """A state of the parser: how its next token is found, and what becomes of it.

    ``steps`` by the kind of token: the symbol of what is reduced, the call that makes it and of how
    many; or no symbol, the call that the token itself is given to, and the state to go to.
    ``beyond``: the state to go to behind a symbol.

    To compile Lark's one expression of all its terminals takes longer than to try them one after
    the other for some hundred lines.
    """

    __slots__ = ("_asked", "_lexer", "_singles", "beyond", "find", "skipped", "steps")

    def __init__(self, lexer: BasicLexer, actions: dict[str, tuple[Any, Any]], calls: Any) -> None:
        self._lexer = lexer
        self._singles = [_single(each, lexer.g_regex_flags) for each in lexer.terminals]
        self._asked = 0
        self.find: Callable[[str, int], Any] = self._find  # a match, or None
        self.skipped = lexer.ignore_types
        self.steps: dict[str, tuple[str, Callable[[Any], object] | None, int]] = {}
        self.beyond: dict[str, int] = {}
        for name, (_, to) in actions.items():
            if isinstance(to, Rule):
                self.steps[name] = to.origin.name, calls[to], len(to.expansion)
            else:
                self.steps[name] = "", calls.get(name), to
                self.beyond[name] = to

    def _find(self, text: str, place: int) -> Any:
        """The first of the terminals, in Lark's order, that stands there."""
        self._asked += 1
        if self._asked > SINGLY:
            (expression,) = self._lexer.scanner._mres
            self.find = expression.match
            return self.find(text, place)
        for single in self._singles:
            found = single().match(text, place)
            if found is not None:
                return found
        return None


def _single(terminal: TerminalDef, flags: int) -> Callable[[], re.Pattern[str]]:
    """A terminal's own expression, which names it as Lark's does, compiled when it is tried."""
    return partial(_compiled, f"(?P<{terminal.name}>{terminal.pattern.to_regexp()})", flags)


_compiled = lru_cache(maxsize=512)(re.compile)


class Driver:
    """Reads lines from one start rule on. Not for use by two threads at once."""

    def __init__(self, lark: Lark, start: str) -> None:
        self._front: Any = lark.parser
        self._conf: Any = ParseConf(
            self._front.parser._parse_table, self._front.parser.parser.callbacks, start
        )
        self._lexer = cast("ContextualLexer", self._front.lexer)
        self._met: dict[int, _State] = {}

    def _state(self, number: int) -> _State:
        state = self._met[number] = _State(
            cast("BasicLexer", self._lexer.lexers[number]),
            self._conf.states[number],
            self._conf.callbacks,
        )
        return state

    def parse(self, text: str) -> object:
        """What the transformer makes of a line, as ``Lark.parse`` does. Raises UnexpectedInput."""
        met, last = self._met, self._conf.end_state
        number = self._conf.start_state
        states: list[int] = [number]
        values: list[object] = []
        place, end, token = 0, len(text), None
        while True:
            state = met.get(number) or self._state(number)
            if place < end:
                found = state.find(text, place)
                if found is None:
                    self._stuck(text, place, token, states, values)
                kind, begun, place = found.lastgroup, place, found.end()
                if kind in state.skipped:
                    continue
                value = found.group()
                token = _NEW(Token, value)
                token.type, token.value = kind, value
                token.start_pos, token.end_pos = begun, place
            else:
                kind = _END
            while True:
                step = state.steps.get(kind)
                if step is None:
                    self._refused(text, place, token, kind, states, values)
                symbol, call, amount = step
                if not symbol:
                    break
                assert call is not None, "what is reduced is made by a call"
                taken = values[-amount:]
                del states[-amount:], values[-amount:]
                made = call(taken)
                number = met[states[-1]].beyond[symbol]
                if number == last and kind is _END:
                    return made
                states.append(number)
                values.append(made)
                state = met.get(number) or self._state(number)
            number = amount
            states.append(number)
            values.append(token if call is None else call(token))

    # -- a line that cannot be read ----------------------------------------------------------

    def _stuck(
        self, text: str, place: int, last: Token | None, states: list[int], values: list[object]
    ) -> NoReturn:
        """No token is found: Lark looks for one too, and says what it expected."""
        state = self._as_larks(text, place, last, states, values)
        self._front.parser.parser.parse_from_state(state, last)
        raise AssertionError("Lark found a token where there is none")

    def _refused(
        self,
        text: str,
        place: int,
        token: Token | None,
        kind: str,
        states: list[int],
        values: list[object],
    ) -> NoReturn:
        """A token that nothing is done with, or the end too early: Lark says so."""
        state = self._as_larks(text, place, token, states, values)
        if kind is _END:
            token = Token.new_borrow_pos(_END, "", token) if token else Token(_END, "", 0, 1, 1)
        assert token is not None, "a kind has a token"
        try:
            state.feed_token(token, kind is _END)
        except UnexpectedInput as error:
            parser = InteractiveParser(self._front.parser.parser, state, state.lexer)
            error.interactive_parser = parser
            raise
        raise AssertionError("Lark goes on where there is no way on")

    def _as_larks(
        self, text: str, place: int, last: Token | None, states: list[int], values: list[object]
    ) -> ParserState[int]:
        """Lark's own state, where this one stands, the tokens with their line and columns."""
        for token in (last, *values):
            if isinstance(token, Token):
                assert token.start_pos is not None, "each was found somewhere"
                assert token.end_pos is not None, "each was found somewhere"
                token.line = token.end_line = 1
                token.column, token.end_column = token.start_pos + 1, token.end_pos + 1
        lexer_state = LexerState(TextSlice.cast_from(text), last_token=last)
        lexer_state.line_ctr.char_pos = place
        lexer_state.line_ctr.column = place + 1
        return ParserState(self._conf, LexerThread(self._lexer, lexer_state), states, values)


Parse = Mapping[str, Callable[[str], object]]


def by_lark(lark: Lark, starts: Iterable[str]) -> Parse:
    """What reads a line from each start rule on: Lark's own loop."""
    return {start: partial(lark.parse, start=start) for start in starts}


def driven(lark: Lark, starts: Iterable[str]) -> Parse:
    """What reads a line from each start rule on: this loop, or Lark's own where it cannot."""
    if not can_drive(lark):
        return by_lark(lark, starts)
    return {start: Driver(lark, start).parse for start in starts}


def can_drive(lark: Lark) -> bool:
    """Whether this loop does all that Lark would do with a line of this grammar.

    No terminal may become another one once it is found, and no rule may be of nothing.
    """
    return all(isinstance(terminal.pattern, PatternRE) for terminal in lark.terminals) and all(
        rule.expansion for rule in lark.rules
    )
