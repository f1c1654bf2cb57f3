"""The forms of a clause and of a heading, each as one regular expression, found in Lark's tables.

Lark's contextual lexer tries, in each state of the parser, the terminals that may come next in a
fixed order. A form is one way through the states from the place where a clause begins to where it
may end. Its expression takes each terminal as an atomic group, behind a negative look-ahead for
every terminal that would have been tried before it, unless the two can never match at one place.
So what an expression takes, Lark takes as the same terminals; and a form that cannot be proved so
is left out.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from lark import Lark, Token
from lark.lexer import ContextualLexer, PatternRE, TerminalDef

from grammar.fast_patterns import (
    Unprovable,
    is_separator,
    is_white_space,
    is_word_space_word,
    never_both,
    stays_in_clause,
)

_LONGEST = 8  # terminals of a form; a longer one may well be without end
_MOST = 400  # forms
_END = "$END"
_SHIFT = "Shift"

Callback = Callable[[Any], Any]


class Refused(Exception):
    """Lark's tables are not of the kind that expressions can be derived from, and why."""


@dataclass(frozen=True, eq=False)
class Form:
    """One form of a clause or heading: its terminals, and what Lark makes of their tokens.

    ``before`` are the terminals that would be tried before each of them; ``whole_line`` tells that
    it may reach over ``;`` to the end of the line; ``behind`` is what has to stand behind it.
    """

    terminals: tuple[TerminalDef, ...]
    before: tuple[tuple[TerminalDef, ...], ...]
    make: Callback
    whole_line: bool
    behind: str

    @cached_property
    def names(self) -> tuple[str, ...]:
        """The names of the terminals."""
        return tuple(terminal.name for terminal in self.terminals)

    @cached_property
    def read(self) -> Callable[[str, int], tuple[Any, int] | None]:
        """Reads a text that stands so far into a line: what it makes and where that ends.

        Written out as source, as a loop over the tokens takes half as long again. The tokens are
        those of Lark, less the line and columns that nobody asks for; each begins where the one
        before it ends.
        """
        lines = ["def read(text, at):", " found = match(text)", " if found is None: return None"]
        for n, name in enumerate(self.names):
            lines += [
                f" value = found[{self.expression.groupindex[f'_{n}']}]",
                f" t{n} = token = new(Token, value)",
                f" token.type, token.value = {name!r}, value",
                " token.start_pos, at = at, at + len(value)",
                " token.end_pos = at",
            ]
        lines.append(f" return make([{', '.join(f't{n}' for n in range(len(self.names)))}]), at")
        scope: dict[str, Any] = {"Token": Token, "new": str.__new__, "make": self.make}
        scope["match"] = self.expression.match
        exec("\n".join(lines), scope)
        read: Callable[[str, int], tuple[Any, int] | None] = scope["read"]
        return read

    @cached_property
    def expression(self) -> re.Pattern[str]:
        """Takes the form, the groups ``_0``, ``_1`` ... its terminals."""
        pieces = []
        for n, (terminal, before) in enumerate(zip(self.terminals, self.before, strict=True)):
            own = _pattern(terminal)
            guards = [_pattern(other) for other in before]
            pieces += [f"(?!{guard})" for guard in guards if not never_both(guard, own)]
            pieces.append(f"(?P<_{n}>(?>{own}))")
        return re.compile("".join(pieces) + self.behind)


def _pattern(terminal: TerminalDef) -> str:
    return terminal.pattern.to_regexp()


class Tables:
    """Lark's parse table and lexers, walked without values."""

    def __init__(self, lark: Lark) -> None:
        front: Any = lark.parser
        table = front.parser._parse_table
        self._states: dict[int, dict[str, tuple[Any, Any]]] = table.states
        self._starts, self._ends = table.start_states, table.end_states
        self.callbacks: dict[Any, Callable[..., Any]] = front.parser.parser.callbacks
        if not isinstance(front.lexer, ContextualLexer):
            raise Refused("the lexer is not the contextual one")
        self._lexers: dict[int, Any] = front.lexer.lexers
        self._patterns = {t.name: t for t in lark.terminals}
        self.ignored: frozenset[str] = frozenset(front.lexer_conf.ignore)
        if front.lexer_conf.callbacks:
            raise Refused("the lexer has callbacks")
        if front.lexer_conf.g_regex_flags:
            raise Refused("the lexer has flags")

    def begin(self, start: str) -> tuple[int, ...]:
        """The stack of states before a text."""
        return (self._starts[start],)

    def tried(self, state: int) -> tuple[TerminalDef, ...]:
        """The terminals that the lexer tries in a state, in their order."""
        lexer = self._lexers[state]
        terminals: tuple[TerminalDef, ...] = tuple(lexer.terminals)
        if not all(isinstance(t.pattern, PatternRE) for t in terminals):
            raise Refused("a terminal is a plain string, which Lark tries in an order of its own")
        return terminals

    def pattern(self, name: str) -> str:
        """The pattern of a terminal. Raises Refused where there is none of that name."""
        if name not in self._patterns:
            raise Refused(f"there is no terminal {name}")
        return _pattern(self._patterns[name])

    def shifts(self, state: int, terminal: str) -> int | None:
        """The state behind a terminal that is taken at once, or None."""
        action = self._states[state].get(terminal)
        return action[1] if action is not None and str(action[0]) == _SHIFT else None

    def takes(self, state: int, terminal: str) -> bool:
        """Whether a terminal may come next."""
        return terminal in self._states[state]

    def fed(self, stack: tuple[int, ...], terminal: str) -> tuple[tuple[int, ...], list[Any]]:
        """The stack behind a terminal, and the rules that were reduced before it.

        Raises Refused where the terminal may not come.
        """
        rules: list[Any] = []
        while True:
            action = self._states[stack[-1]].get(terminal)
            if action is None:
                raise Refused(f"{terminal} may not come there")
            if str(action[0]) == _SHIFT:
                return (*stack, action[1]), rules
            rule = action[1]
            rules.append(rule)
            stack = stack[: len(stack) - len(rule.expansion)]
            stack = (*stack, self._states[stack[-1]][rule.origin.name][1])
            if terminal == _END and stack[-1] in self._ends.values():
                return stack, rules


def forms_from(tables: Tables, begun: tuple[int, ...], ends: Sequence[str]) -> Iterator[Form]:
    """The forms that lead from a stack to where every one of the given terminals may come.

    Forms that are no single rule, or that cannot be proved, are left out. Raises Refused where
    there are too many.
    """
    found = 0
    ways: list[tuple[tuple[int, ...], tuple[TerminalDef, ...]]] = [((begun[-1],), ())]
    while ways:
        states, taken = ways.pop()
        if taken and all(tables.takes(states[-1], end) for end in ends):
            form = _form(tables, begun, states, taken, ends)
            if form is not None:
                yield form
        if len(taken) == _LONGEST:
            raise Refused(f"a form has more than {_LONGEST} terminals, or is without end")
        for terminal in tables.tried(states[-1]):
            behind = tables.shifts(states[-1], terminal.name)
            if behind is not None and terminal.name not in ends:
                ways.append(((*states, behind), (*taken, terminal)))
        found += 1
        if found > _MOST:
            raise Refused(f"there are more than {_MOST} forms")


def _form(
    tables: Tables,
    begun: tuple[int, ...],
    states: tuple[int, ...],
    taken: tuple[TerminalDef, ...],
    ends: Sequence[str],
) -> Form | None:
    """The form of a way through the states, or None where it cannot be proved."""
    rules = {tables.fed((*begun, *states[1:]), end)[1][0] for end in ends}
    if len(rules) != 1 or any(t.name in tables.callbacks for t in taken):
        return None
    rule = rules.pop()
    if len(rule.expansion) != len(taken):
        return None
    before, over = [], False
    try:
        for state, terminal in zip(states, taken, strict=False):
            tried = tables.tried(state)
            earlier = tried[: tried.index(terminal)]
            before.append(tuple(t for t in earlier if t.name not in ends))
            over = over or not stays_in_clause(_pattern(terminal))
            if not all(stays_in_clause(_pattern(t)) for t in before[-1]):
                return None
        behind = [t for t in tables.tried(states[-1]) if t.name not in ends]
        if any(not _none_at_separator(_pattern(t)) for t in behind):
            return None
    except Unprovable:
        return None
    behind_it = r"\Z" if list(ends) == [_END] else r"(?=;|\Z)" if over else r"(?=;?\Z)"
    return Form(taken, tuple(before), tables.callbacks[rule], over, behind_it)


def _none_at_separator(pattern: str) -> bool:
    """Whether a pattern surely matches nothing at a ``;``."""
    return stays_in_clause(pattern) or never_both(pattern, ";")


@dataclass(frozen=True, kw_only=True)
class Grammar:
    """What the derivation found: the head of a line, the forms of a clause and of a heading."""

    head: re.Pattern[str]
    at: Callback
    clauses: dict[str, tuple[Form, ...]]  # by the first terminal
    headings: tuple[Form, ...]
    first_state: int  # where the first clause begins


def derive(lark: Lark, head: str, separator: str, day: str) -> Grammar:
    """The forms of a grammar, ``day`` being the pattern that tells headings. Raises Refused."""
    try:
        tables = Tables(lark)
        return _derived(tables, head, separator, day)
    except (Unprovable, KeyError, AttributeError, TypeError) as error:
        raise Refused(f"Lark's tables are not as they were: {error}") from error


def _derived(tables: Tables, head: str, separator: str, day: str) -> Grammar:
    if [name for name in tables.callbacks if isinstance(name, str)] != [head]:
        raise Refused("a terminal other than the head has a callback")
    if not all(is_white_space(tables.pattern(name)) for name in tables.ignored):
        raise Refused("something other than white space is passed over")
    if not is_separator(tables.pattern(separator)):
        raise Refused("clauses are not parted by a semicolon")
    pattern = tables.pattern(head)
    if not is_word_space_word(pattern):
        raise Refused("the head of a line is not a word, white space and a word")
    if not never_both(pattern, day):
        raise Refused("a heading may begin like the head of a line")
    begun, _ = tables.fed(tables.begin("entry"), head)
    first_tried = tables.tried(tables.begin("entry")[-1])
    if {t.name for t in first_tried} != {head, *tables.ignored}:
        raise Refused("a line may begin with more than its head")
    first = tuple(forms_from(tables, begun, (separator, _END)))
    if not first:
        raise Refused("no form of a clause can be proved")
    further = _behind_first(tables, begun, first[0], separator)
    second = tuple(forms_from(tables, further, (separator, _END)))
    if _outlines(first) != _outlines(second):
        raise Refused("the first clause of a line has other forms than the next")
    _clauses_are_listed(tables, begun, first[0], separator)
    clauses: dict[str, tuple[Form, ...]] = {}
    for form in first:
        clauses[form.names[0]] = (*clauses.get(form.names[0], ()), form)
    return Grammar(
        head=re.compile(rf"\s*({pattern})"),
        at=tables.callbacks[head],
        clauses=clauses,
        headings=tuple(forms_from(tables, tables.begin("heading"), (_END,))),
        first_state=begun[-1],
    )


def _outlines(forms: tuple[Form, ...]) -> list[Any]:
    """What tells forms apart, whatever state they begin in."""
    return sorted(
        (f.names, tuple(tuple(t.name for t in b) for b in f.before), f.whole_line) for f in forms
    )


def _behind_first(
    tables: Tables, begun: tuple[int, ...], form: Form, separator: str
) -> tuple[int, ...]:
    """The stack where the second clause begins; the third begins on the same. Raises Refused."""
    stack, _ = tables.fed(_behind(tables, begun, form), separator)
    again, _ = tables.fed(_behind(tables, stack, form), separator)
    if again != stack:
        raise Refused("the third clause begins in another state than the second")
    return stack


def _behind(tables: Tables, stack: tuple[int, ...], form: Form) -> tuple[int, ...]:
    for name in form.names:
        stack, _ = tables.fed(stack, name)
    return stack


def _clauses_are_listed(tables: Tables, begun: tuple[int, ...], form: Form, separator: str) -> None:
    """Makes sure that a line becomes the list of its clauses. Raises Refused."""
    head, one, mark, two = object(), object(), object(), object()
    stack, rules = tables.fed(_behind(tables, begun, form), separator)
    listed = tables.callbacks[rules[1]]([head, one])
    _, more = tables.fed(_behind(tables, stack, form), separator)
    lists = listed == [one] and tables.callbacks[more[1]]([listed, mark, two]) == [one, two]
    _, last = tables.fed(stack, _END)
    if not lists or tables.callbacks[last[0]]([[one], mark]) != [one] or len(last) != 1:
        raise Refused("a line does not become the list of its clauses")
    if any(len(found) != 2 for found in (rules, more)):
        raise Refused("a clause is more than one rule in a line")
