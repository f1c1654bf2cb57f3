"""An entry with the file it stands in, and the order of time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import field
from datetime import datetime, timedelta

from board.state.fleet import Complaint, Source
from grammar.diagnostics import Code, Diagnostic
from grammar.entries import Clause, Entry, Isolated, Span
from grammar.frozen import dataclass
from grammar.making import maker

MINUTE = timedelta(minutes=1)


_source = maker(Source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """An entry and where it stands. ``struck_by`` is the line that strikes it, for the looms in
    ``struck_for`` (a group's entry may be struck for one of its looms)."""

    path: str
    entry: Entry
    struck_by: Source | None = None
    struck_for: frozenset[str] = field(default_factory=frozenset)

    @property
    def source(self) -> Source:
        """File, line and text."""
        return _source(path=self.path, line=self.entry.line, text=self.entry.text)

    def counting(self, loom: str) -> tuple[Clause, ...]:
        """The clauses that count for a loom.

        Of a struck entry the isolations still count, and a ``lock removed`` in it does not.
        """
        if loom not in self.struck_for:
            return self.entry.clauses
        return isolations(self.entry)

    def complaint(
        self, code: Code, message: str, *, span: Span | None = None, help: str = ""
    ) -> Complaint:
        """A complaint about this entry."""
        entry = self.entry
        diagnostic = Diagnostic(
            code=code,
            message=message,
            line=entry.line,
            span=span or Span(0, max(len(entry.text), 1)),
            text=entry.text,
            help=help,
        )
        return Complaint(path=self.path, diagnostic=diagnostic)


def isolations(entry: Entry) -> tuple[Clause, ...]:
    """The clauses of an entry that record an isolation: these count whatever else is wrong."""
    return tuple(clause for clause in entry.clauses if isinstance(clause, Isolated))


def alike(one: Logged, other: Logged) -> bool:
    """Whether two are the same entry, and struck alike."""
    return (
        one.entry is other.entry
        and one.path == other.path
        and one.struck_for == other.struck_for
        and one.struck_by == other.struck_by
    )


def begin_alike(several: Sequence[Sequence[Logged]]) -> int:
    """How many entries all of these begin with alike."""
    count = 0
    for first, *others in zip(*several, strict=False):
        if not all(alike(first, other) for other in others):
            break
        count += 1
    return count


def whole_minutes(entries: Sequence[Logged], upto: int) -> int:
    """How many of the first entries come before any minute that goes on behind them."""
    if upto >= len(entries):
        return len(entries)
    begin = entries[upto].entry.when.replace(second=0, microsecond=0)
    while upto and entries[upto - 1].entry.when >= begin:
        upto -= 1
    return upto


def _in_order(logged: Logged) -> tuple[datetime, str, int]:
    entry = logged.entry
    return entry.when, logged.path, entry.line


def in_time_order(entries: Iterable[Logged]) -> list[Logged]:
    """Entries by instant, then file and line."""
    return sorted(entries, key=_in_order)


def by_minute(entries: Sequence[Logged]) -> Iterator[Sequence[Logged]]:
    """Entries that are in time order, minute by minute."""
    first = 0
    while first < len(entries):
        begin = entries[first].entry.when
        if begin.second or begin.microsecond:
            begin = begin.replace(second=0, microsecond=0)
        end, last = begin + MINUTE, first + 1
        while last < len(entries) and entries[last].entry.when < end:
            last += 1
        yield entries[first:last]
        first = last
