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

_MOST_TOLD = 3  # entries of one minute
_LONGEST_TOLD = 30  # characters of each

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
            complaints.append(_which(logged, clause, [result[i] for i in found]))
            continue
        victim = result[found[0]]
        result[found[0]] = replace(
            victim,
            struck_by=victim.struck_by or logged.source,
            struck_for=victim.struck_for | {loom},
        )
    return result, complaints


def _which(logged: Logged, clause: Struck, found: Sequence[Logged]) -> Complaint:
    """The complaint where a strike names no entry, or several: those are told."""
    loom, at = logged.entry.place.name, clause.name.written
    message = f"{loom} has no entry that can be struck at {at}"
    help = "write the time of one entry of this loom"
    if found:
        # by what they say, so that no name of a file decides
        alike = sorted(found, key=lambda x: (x.entry.when, x.entry.text))
        texts = [_short(x.entry.text) for x in alike[:_MOST_TOLD]]
        more = len(found) - len(texts)
        told = "; ".join([*texts, f"and {more} more"] if more else texts)
        message = f"{loom} has {len(found)} entries at {at}: {told}"
        help = (
            "a striking names one minute: in their file give one of them its own minute, or put"
            " the line right there"
        )
    return logged.complaint(Code.WHICH_ENTRY, message, span=clause.span, help=help)


def _short(text: str) -> str:
    """What a line says behind its time and loom, as much as tells it from another."""
    said = " ".join(text.split()[2:])
    return said if len(said) <= _LONGEST_TOLD else said[: _LONGEST_TOLD - 3].rstrip() + "..."


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
