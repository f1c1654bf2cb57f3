"""Which entries count as of a moment: not the doubled ones, nor of later ones more than a lock.

Whatever the order of saves, the same lines count. Which entries are struck is told by ``strikes``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import groupby
from operator import attrgetter

from board.state.fleet import Complaint
from board.state.logged import Logged, in_time_order, isolations
from board.state.strikes import struck
from grammar.diagnostics import Code
from grammar.entries import Span, Standing


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """The entries that count as of a moment in time order, struck ones marked, and what is said
    of those that do not."""

    as_of: datetime
    entries: tuple[Logged, ...]
    complaints: tuple[Complaint, ...] = ()


def counted(entries: Iterable[Logged], as_of: datetime) -> Counted:
    """Which entries count as of a moment (UTC)."""
    single, twice = without_doubles(in_time_order(entries))
    marked, strikes = struck(single, as_of)
    known, late = until(marked, as_of)
    return Counted(as_of=as_of, entries=tuple(known), complaints=(*twice, *late, *strikes))


# -- lines that stand twice ----------------------------------------------------------------


def without_doubles(entries: Sequence[Logged]) -> tuple[list[Logged], list[Complaint]]:
    """Entries without those whose line stands twice under one shift.

    ``entries`` are in time order. Of equal lines the one counts that was read whole, then the
    first by writer, file and line. An isolation in one of the others counts all the same: between
    the two the lock may have been taken off.
    """
    kept: list[Logged] = []
    complaints: list[Complaint] = []
    for _, group in groupby(entries, key=attrgetter("entry.when")):
        same_time = list(group)
        if len(same_time) > 1 and len({e.entry.text.strip() for e in same_time}) < len(same_time):
            same_time, twice = _single(same_time)
            complaints += twice
        kept += same_time
    return kept, complaints


def _single(entries: list[Logged]) -> tuple[list[Logged], list[Complaint]]:
    """The same for entries of one instant."""
    lines: dict[tuple[object, ...], list[Logged]] = {}
    for logged in entries:
        entry = logged.entry
        lines.setdefault((entry.shift, entry.text.strip()), []).append(logged)
    kept: list[Logged] = []
    complaints: list[Complaint] = []
    for same in lines.values():
        first, *others = sorted(same, key=_first_of_doubles)
        kept.append(first)
        for again in others:
            locks = isolations(again.entry)
            if locks:
                only = replace(again.entry, clauses=locks, standing=Standing.ISOLATIONS_ONLY)
                kept.append(replace(again, entry=only))
            if again.entry.standing is Standing.WHOLE:
                complaints.append(
                    again.complaint(
                        Code.LINE_TWICE,
                        f"the same line stands already in {first.path} line {first.entry.line}",
                        help="nothing to do if it was copied; else say what differs",
                    )
                )
    return in_time_order(kept), complaints


def _first_of_doubles(logged: Logged) -> tuple[bool, str, str, int]:
    entry = logged.entry
    return entry.standing is not Standing.WHOLE, entry.by or "", logged.path, entry.line


# -- later than now ------------------------------------------------------------------------


def until(entries: Sequence[Logged], as_of: datetime) -> tuple[list[Logged], list[Complaint]]:
    """Entries up to now; of later ones only the isolations, which count at once.

    ``entries`` are in time order. A later entry that was struck and isolates nothing is passed
    over without a word.
    """
    kept: list[Logged] = []
    complaints: list[Complaint] = []
    for logged in entries:
        entry = logged.entry
        if entry.when <= as_of:
            kept.append(logged)
            continue
        locks = isolations(entry)
        if locks:
            kept.append(replace(logged, entry=replace(entry, clauses=locks)))
        elif logged.struck_by is not None:
            continue
        complaints.append(
            logged.complaint(
                Code.IN_THE_FUTURE,
                f"the entry is later than now ({as_of:%Y-%m-%d %H:%M} UTC)",
                span=Span(0, max(len(entry.stamp), 1)),
                help="check the time; an isolation counts at once, the rest when its time comes",
            )
        )
    return kept, complaints
