"""Required time and maintenance stops of each loom, from the record to spans of hours.

Required is what the calendar's shifts ask for, less what a loom was laid up, and less what the log
does not tell: before its first motion, or while its motion is unknown. Of stops only those for a
fault, a part, a check or without a reason are maintenance; the others wait for something else.
Times are hours since the epoch. What the spans give is left to ``availability``, ``durations``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise

from board.mill import Mill
from board.reckon.availability import OpenStop, Stop
from board.reckon.spans import Span, common, joined
from board.reckon.summary import MAINTENANCE
from board.state.fleet import Fleet, LoomState, Motion
from board.state.history import Spell
from board.state.shifts import ShiftCalendar
from grammar.entries import Reason, Shift
from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class MaintenanceStop:
    """A stop for maintenance, all reasons of one standing together.

    ``restored`` tells that the loom is on record as running at its end; ``end`` None: it goes on.
    ``failure``: it was for a fault, or a fault was written while it lasted.
    """

    loom: str
    start: datetime
    end: datetime | None
    restored: bool
    failure: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LoomTime:
    """The required spans of one loom and its maintenance stops, in the time looked at."""

    loom: str
    required: tuple[Span, ...]
    stops: tuple[MaintenanceStop, ...]

    @property
    def down(self) -> tuple[Stop, ...]:
        """The stops as they take time away, each up to its end or open."""
        return tuple(_lasting(stop) for stop in self.stops)

    def pairs(self, start: datetime) -> tuple[Stop, ...]:
        """The stops begun since a moment as pairs: those without a running at the end are open."""
        return tuple(
            _lasting(stop) if stop.restored else OpenStop(start=hours(stop.start))
            for stop in self.stops
            if stop.start >= start
        )


def hours(when: datetime) -> float:
    """A moment on the axis of spans [h since the epoch]."""
    return when.timestamp() / 3600.0


def _lasting(stop: MaintenanceStop) -> Stop:
    if stop.end is None:
        return OpenStop(start=hours(stop.start))
    return Span(start=hours(stop.start), end=hours(stop.end))


def loom_times(
    fleet: Fleet, mill: Mill, calendar: ShiftCalendar, start: datetime, end: datetime
) -> Mapping[str, LoomTime]:
    """Required time and maintenance stops of every loom from ``start`` to ``end``."""
    of_shifts = shift_spans(mill, calendar, start, end)
    spells: dict[str, list[Spell]] = defaultdict(list)
    for spell in fleet.history.spells:
        spells[spell.loom].append(spell)
    faults: dict[str, list[datetime]] = defaultdict(list)
    for cleared in fleet.history.cleared:
        faults[cleared.loom].append(cleared.fault.since)
    found = {}
    for loom, state in fleet.looms.items():
        own = [*spells[loom], *_present(state)]
        own.sort(key=lambda spell: spell.start)
        written = [*faults[loom], *(fault.since for fault in state.faults)]
        stops = [s for s in _stops(loom, own, written) if s.start < end]
        found[loom] = LoomTime(
            loom=loom,
            required=common(of_shifts, _wanted(own, end)),
            stops=tuple(s for s in stops if s.end is None or s.end > start),
        )
    return found


def shift_spans(
    mill: Mill, calendar: ShiftCalendar, start: datetime, end: datetime
) -> tuple[Span, ...]:
    """The time that the calendar's shifts ask for between two moments, joined."""
    if end <= start:
        return ()
    day = start.astimezone(mill.zone).date() - timedelta(days=1)
    last = end.astimezone(mill.zone).date()
    found = []
    while day <= last:
        if day.weekday() in mill.calendar.days and day not in mill.calendar.closed:
            for times in mill.shifts:
                span = calendar.span(Shift(day=day, name=times.name), times)
                begins, ends = max(span.start, start), min(span.end, end)
                if begins < ends:
                    found.append(Span(start=hours(begins), end=hours(ends)))
        day += timedelta(days=1)
    return joined(found)


def _present(state: LoomState) -> list[Spell]:
    """The spell that goes on, if a motion is on record."""
    since = state.spell_since or state.motion_since
    if since is None:
        return []
    return [
        Spell(
            loom=state.loom,
            motion=state.motion,
            start=since,
            end=None,
            reason=state.stopped_for,
            style=state.style,
        )
    ]


def _wanted(spells: Sequence[Spell], end: datetime) -> tuple[Span, ...]:
    """The time in which the log tells the motion and the loom is not laid up."""
    found = []
    for spell in spells:
        if spell.motion is Motion.UNKNOWN or spell.reason is Reason.LAID_UP:
            continue
        until = min(spell.end or end, end)
        if spell.start < until:
            found.append(Span(start=hours(spell.start), end=hours(until)))
    return joined(found)


def _stops(loom: str, spells: Sequence[Spell], faults: Sequence[datetime]) -> list[MaintenanceStop]:
    """Maintenance spells that follow each other without a gap, taken together."""
    runs: list[list[Spell]] = []
    for spell in spells:
        if not _is_maintenance(spell) or (spell.end is not None and spell.end <= spell.start):
            continue
        last = runs[-1][-1].end if runs else None
        if last is not None and last >= spell.start:
            runs[-1].append(spell)
        else:
            runs.append([spell])
    after = {before.start: then for before, then in pairwise(spells)}
    return [_stop(loom, run, after.get(run[-1].start), faults) for run in runs]


def _is_maintenance(spell: Spell) -> bool:
    return spell.motion is Motion.STOPPED and spell.reason in MAINTENANCE


def _stop(
    loom: str, run: Sequence[Spell], then: Spell | None, faults: Sequence[datetime]
) -> MaintenanceStop:
    start, end = run[0].start, run[-1].end
    written = any(start <= fault and (end is None or fault < end) for fault in faults)
    return MaintenanceStop(
        loom=loom,
        start=start,
        end=end,
        restored=end is not None and then is not None and then.motion is Motion.RUNNING,
        failure=written or any(spell.reason is Reason.FAULT for spell in run),
    )
