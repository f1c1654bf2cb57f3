"""Struck entries: which line a ``struck`` names, and what is left of it.

A struck entry stays on record with the line that strikes it; an isolation in it still counts, and
a ``lock removed`` in it no longer does.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from operator import attrgetter

from board.state.fleet import Complaint
from board.state.logged import MINUTE, Logged
from grammar.diagnostics import Code
from grammar.entries import PlaceKind, Standing, Struck

_Named = tuple[str, datetime]  # loom and minute


def struck(entries: Sequence[Logged], as_of: datetime) -> tuple[list[Logged], list[Complaint]]:
    """Marks the entries that a ``struck`` names. ``entries`` are in time order.

    A strike counts when its own time has come; it may name an entry that is later than now.
    """
    strikes = [
        (logged, clause)
        for logged in entries
        if logged.entry.when <= as_of
        for clause in logged.entry.clauses
        if isinstance(clause, Struck)
    ]
    result = list(entries)
    if not strikes:
        return result, []
    named = {(logged.entry.place.name, _minute(c.name.moment)) for logged, c in strikes}
    there = _entries_at(entries, named)
    complaints: list[Complaint] = []
    for logged, clause in strikes:
        loom = logged.entry.place.name
        found = there.get((loom, _minute(clause.name.moment)), [])
        found = [i for i in found if entries[i] is not logged]
        if clause.name.moment.second:
            found = [i for i in found if result[i].entry.when == clause.name.moment]
        # the loom's own entry comes before one of a group that speaks of it too
        found = [i for i in found if result[i].entry.place.kind is PlaceKind.LOOM] or found
        if len(found) != 1:
            count = f"{len(found)} entries" if found else "no entry that can be struck"
            complaints.append(
                logged.complaint(
                    Code.WHICH_ENTRY,
                    f"{loom} has {count} at {clause.name.written}",
                    span=clause.span,
                    help="write the time of one entry of this loom",
                )
            )
            continue
        victim = result[found[0]]
        result[found[0]] = replace(
            victim,
            struck_by=victim.struck_by or logged.source,
            struck_for=victim.struck_for | {loom},
        )
    return result, complaints


def _entries_at(entries: Sequence[Logged], named: set[_Named]) -> dict[_Named, list[int]]:
    """Where the entries stand that may be meant: read whole, and more than a strike."""
    there: dict[_Named, list[int]] = defaultdict(list)
    for loom, minute in named:
        first = bisect_left(entries, minute, key=attrgetter("entry.when"))
        for index in range(first, len(entries)):
            entry = entries[index].entry
            if entry.when >= minute + MINUTE:
                break
            if loom not in entry.place.looms or entry.standing is not Standing.WHOLE:
                continue
            if not all(isinstance(clause, Struck) for clause in entry.clauses):
                there[loom, minute].append(index)  # a strike cannot be struck
    return there


def _minute(moment: datetime) -> datetime:
    return moment.replace(second=0, microsecond=0)
