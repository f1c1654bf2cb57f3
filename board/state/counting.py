"""Which entries count as of a moment: not the doubled ones, nor of later ones more than a lock.

Whatever the order of saves, the same lines count. Which entries are struck is told by ``strikes``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, tzinfo

from board.state.fleet import Complaint
from board.state.logged import Logged, by_minute, in_time_order, isolations
from board.state.strikes import struck
from grammar.diagnostics import Code
from grammar.entries import Span, Standing
from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """The entries that count as of a moment in time order, struck ones marked, and what is said
    of those that do not."""

    as_of: datetime
    entries: tuple[Logged, ...]
    complaints: tuple[Complaint, ...] = ()


def counted(entries: Iterable[Logged], as_of: datetime, zone: tzinfo = UTC) -> Counted:
    """Which entries count as of a moment (UTC), which a complaint tells in the shed's ``zone``."""
    single, twice = without_doubles(in_time_order(entries))
    marked, strikes = struck(single, as_of)
    known, late = until(marked, as_of, zone)
    return Counted(as_of=as_of, entries=tuple(known), complaints=(*twice, *late, *strikes))


# -- lines that stand twice ----------------------------------------------------------------


def without_doubles(entries: Sequence[Logged]) -> tuple[list[Logged], list[Complaint]]:
    """Entries without those whose line stands twice under one shift.

    ``entries`` are in time order. Of equal lines the one counts that was read whole, then the
    first by its writer and by what its file says in that minute, so that no name of a file
    decides. An isolation in one of the others counts all the same: between the two the lock may
    have been taken off.
    """
    kept: list[Logged] = []
    complaints: list[Complaint] = []
    for minute in by_minute(entries):
        if len(minute) > 1 and len({x.entry.text.strip() for x in minute}) < len(minute):
            single, twice = _single(minute)
            kept += single
            complaints += twice
        else:
            kept += minute
    return kept, complaints


def _single(minute: Sequence[Logged]) -> tuple[list[Logged], list[Complaint]]:
    """The same for the entries of one minute."""
    lines: dict[tuple[object, ...], list[Logged]] = defaultdict(list)
    said: dict[str, list[str]] = defaultdict(list)
    for logged in minute:
        entry = logged.entry
        lines[entry.when, entry.shift, entry.text.strip()].append(logged)
        said[logged.path].append(entry.text)

    def first_of_doubles(logged: Logged) -> tuple[object, ...]:
        entry = logged.entry
        whole = entry.standing is Standing.WHOLE
        return not whole, entry.by or "", said[logged.path], logged.path, entry.line

    kept: list[Logged] = []
    complaints: list[Complaint] = []
    for same in lines.values():
        first, *others = sorted(same, key=first_of_doubles)
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


# -- later than now ------------------------------------------------------------------------


def until(
    entries: Sequence[Logged], as_of: datetime, zone: tzinfo
) -> tuple[list[Logged], list[Complaint]]:
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
                f"the entry is later than now, {as_of.astimezone(zone):%Y-%m-%d %H:%M}",
                span=Span(0, max(len(entry.stamp), 1)),
                help="check the time; an isolation counts at once, the rest when its time comes",
            )
        )
    return kept, complaints
