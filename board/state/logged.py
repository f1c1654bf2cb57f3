"""Entries with the file they stand in, and which of them count: future, struck and doubled ones.

Whatever the order of saves, the same lines count.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from board.state.fleet import Complaint, Source
from grammar.diagnostics import Code, Diagnostic
from grammar.entries import (
    Clause,
    Entry,
    Isolated,
    LockRemoved,
    PlaceKind,
    Span,
    Standing,
    Struck,
)

MINUTE = timedelta(minutes=1)


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
        return Source(path=self.path, line=self.entry.line, text=self.entry.text)

    def counting(self, loom: str) -> tuple[Clause, ...]:
        """The clauses that count for a loom.

        Of a struck entry the isolations still count, and a ``lock removed`` in it does not.
        """
        if loom not in self.struck_for:
            return self.entry.clauses
        return tuple(c for c in self.entry.clauses if isinstance(c, Isolated))

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


def place_in_line(logged: Logged) -> tuple[str, int]:
    """File and line, for an order within a minute."""
    return logged.path, logged.entry.line


def in_time_order(entries: Iterable[Logged]) -> list[Logged]:
    """Entries by instant, then file and line."""
    return sorted(entries, key=lambda e: (e.entry.when, e.path, e.entry.line))


def without_doubles(entries: Sequence[Logged]) -> tuple[list[Logged], list[Complaint]]:
    """Entries without those whose line stands twice under one shift.

    ``entries`` are in time order. Of equal lines the one counts that was read whole, then the
    first by writer, file and line.
    """
    seen: dict[tuple[object, ...], list[Logged]] = defaultdict(list)
    for logged in entries:
        entry = logged.entry
        seen[entry.when, entry.shift, entry.text.strip()].append(logged)
    kept: list[Logged] = []
    complaints: list[Complaint] = []
    for same in seen.values():
        if len(same) > 1:
            same.sort(key=lambda e: (e.entry.standing.value != Standing.WHOLE.value,
                                     e.entry.by or "", place_in_line(e)))  # fmt: skip
            first = same[0]
            complaints += [
                again.complaint(
                    Code.LINE_TWICE,
                    f"the same line stands already in {first.path} line {first.entry.line}",
                    help="nothing to do if it was copied; else say what differs",
                )
                for again in same[1:]
                if again.entry.standing is Standing.WHOLE
            ]
        kept.append(same[0])
    return in_time_order(kept), complaints


def until(entries: Sequence[Logged], as_of: datetime) -> tuple[list[Logged], list[Complaint]]:
    """Entries up to now; of later ones only the isolations, which count at once."""
    kept: list[Logged] = []
    complaints: list[Complaint] = []
    for logged in entries:
        entry = logged.entry
        if entry.when <= as_of:
            kept.append(logged)
            continue
        complaints.append(
            logged.complaint(
                Code.IN_THE_FUTURE,
                f"the entry is later than now ({as_of:%Y-%m-%d %H:%M} UTC)",
                span=Span(0, max(len(entry.stamp), 1)),
                help="check the time; an isolation counts at once, the rest when its time comes",
            )
        )
        locks = tuple(c for c in entry.clauses if isinstance(c, Isolated))
        if locks:
            kept.append(replace(logged, entry=replace(entry, clauses=locks)))
    return kept, complaints


# -- struck entries ------------------------------------------------------------------------


def struck(entries: Sequence[Logged]) -> tuple[list[Logged], list[Complaint]]:
    """Marks the entries that a ``struck`` names. ``entries`` are in time order."""
    if not any(isinstance(c, Struck) for logged in entries for c in logged.entry.clauses):
        return list(entries), []
    result = list(entries)
    by_minute: dict[tuple[str, datetime], list[int]] = defaultdict(list)
    for index, logged in enumerate(entries):
        if any(isinstance(c, Struck) for c in logged.entry.clauses):
            continue  # a strike cannot be struck
        minute = logged.entry.when.replace(second=0, microsecond=0)
        for loom in logged.entry.place.looms:
            by_minute[loom, minute].append(index)
    complaints: list[Complaint] = []
    for logged in entries:
        for clause in logged.entry.clauses:
            if isinstance(clause, Struck):
                complaints += _strike(logged, clause, result, by_minute)
    return result, complaints


def _strike(
    logged: Logged,
    clause: Struck,
    result: list[Logged],
    by_minute: dict[tuple[str, datetime], list[int]],
) -> list[Complaint]:
    loom = logged.entry.place.name
    minute = clause.name.moment.replace(second=0, microsecond=0)
    there = by_minute.get((loom, minute), [])
    own = [i for i in there if result[i].entry.place.kind is PlaceKind.LOOM]
    found = own or there
    if len(found) != 1:
        count = f"{len(found)} entries" if found else "no entry that can be struck"
        return [
            logged.complaint(
                Code.WHICH_ENTRY,
                f"{loom} has {count} at {clause.name.written}",
                span=clause.span,
                help="write the time of one entry of this loom",
            )
        ]
    index = found[0]
    victim = result[index]
    result[index] = replace(
        victim,
        struck_by=victim.struck_by or logged.source,
        struck_for=victim.struck_for | {loom},
    )
    return []


def has_removal(logged: Logged) -> bool:
    """Whether an entry takes a lock off."""
    return any(isinstance(c, LockRemoved) for c in logged.entry.clauses)
