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
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from board.mill import Mill
from board.reckon.availability import OpenStop, Stop
from board.reckon.spans import Span, common, joined
from board.reckon.summary import MAINTENANCE
from board.state.fleet import Fleet, LoomState, Motion
from board.state.shifts import ShiftCalendar
from board.state.spells import (
    GOES_ON,
    MOTIONS,
    REASONS,
    SpellColumns,
    columns_of,
    micros,
    moment_of,
    of_each_loom,
)
from board.state.spells import joined as spells_as_one
from grammar.entries import Reason, Shift
from grammar.frozen import dataclass

if TYPE_CHECKING:
    from board.state.spells import Ints

_MICRO = 1e6  # [us/s]
_RUNNING, _STOPPED, _UNKNOWN = (
    MOTIONS.index(m) for m in (Motion.RUNNING, Motion.STOPPED, Motion.UNKNOWN)
)
_LAID_UP, _FAULT = REASONS.index(Reason.LAID_UP), REASONS.index(Reason.FAULT)
_MAINTENANCE = [REASONS.index(reason) for reason in MAINTENANCE]


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
    spells = spells_as_one(columns_of(fleet.history.spells).pieces)
    rows = of_each_loom(spells)
    faults: dict[str, list[int]] = defaultdict(list)
    for cleared in fleet.history.cleared:
        faults[cleared.loom].append(micros(cleared.fault.since))
    found = {}
    for loom, state in fleet.looms.items():
        own = _motion_of(spells, rows.get(loom, slice(0)), state)
        written = [*faults[loom], *(micros(fault.since) for fault in state.faults)]
        found[loom] = LoomTime(
            loom=loom,
            required=common(of_shifts, _wanted(own, end)),
            stops=_stops(loom, own, sorted(written), start, end),
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Motion:
    """The spells of one loom, one a row, by their start; as ``SpellColumns`` has them."""

    start: Ints
    end: Ints
    motion: Ints
    reason: Ints


def _motion_of(spells: SpellColumns, rows: Ints | slice, state: LoomState) -> _Motion:
    """The spells of a loom, with the one that goes on if a motion is on record."""
    start, end = spells.start[rows], spells.end[rows]
    motion, reason = spells.motion[rows], spells.reason[rows]
    since = state.spell_since or state.motion_since
    if since is not None:
        start, end = np.append(start, micros(since)), np.append(end, GOES_ON)
        motion = np.append(motion, MOTIONS.index(state.motion))
        reason = np.append(reason, REASONS.index(state.stopped_for))
    order = np.argsort(start, kind="stable")
    return _Motion(start=start[order], end=end[order], motion=motion[order], reason=reason[order])


def _wanted(own: _Motion, end: datetime) -> tuple[Span, ...]:
    """The time in which the log tells the motion and the loom is not laid up, joined."""
    until = np.minimum(own.end, micros(end))
    told = (own.motion != _UNKNOWN) & (own.reason != _LAID_UP) & (own.start < until)
    if not told.any():
        return ()
    # as ``hours`` reckons them
    first, last = own.start[told] / _MICRO / 3600.0, until[told] / _MICRO / 3600.0
    reached = np.maximum.accumulate(last)
    begins = np.concatenate([[True], first[1:] > reached[:-1]])
    ends = np.concatenate([begins[1:], [True]])
    return tuple(
        Span(start=a, end=b)
        for a, b in zip(first[begins].tolist(), reached[ends].tolist(), strict=True)
    )


def _stops(
    loom: str, own: _Motion, faults: Sequence[int], start: datetime, end: datetime
) -> tuple[MaintenanceStop, ...]:
    """Maintenance spells that follow each other without a gap, taken together.

    Only those that lie within the time looked at, if only in part. ``faults`` are the moments at
    which one was written, in order [us since the epoch].
    """
    stopped = (own.motion == _STOPPED) & np.isin(own.reason, _MAINTENANCE)
    row = np.flatnonzero(stopped & (own.end > own.start))
    if not len(row):
        return ()
    gone_on = own.end[row[:-1]]
    begins = np.concatenate([[True], (gone_on < own.start[row[1:]]) | (gone_on == GOES_ON)])
    first, last = row[begins], row[np.concatenate([begins[1:], [True]])]
    began, ended = own.start[first], own.end[last]
    of_fault = np.logical_or.reduceat(own.reason[row] == _FAULT, np.flatnonzero(begins))
    moments = np.array(faults, dtype=np.int64)
    written = np.searchsorted(moments, began) < np.searchsorted(moments, ended)
    restored = (ended != GOES_ON) & _runs_after(own, own.start[last])
    seen = np.flatnonzero((began < micros(end)) & (ended > micros(start)))
    return tuple(
        MaintenanceStop(
            loom=loom,
            start=moment_of(since),
            end=None if until == GOES_ON else moment_of(until),
            restored=runs,
            failure=failed,
        )
        for since, until, runs, failed in zip(
            began[seen].tolist(),
            ended[seen].tolist(),
            restored[seen].tolist(),
            (of_fault | written)[seen].tolist(),
            strict=True,
        )
    )


def _runs_after(own: _Motion, start: Ints) -> NDArray[np.bool_]:
    """Whether the loom runs in the spell behind each that begins at a moment.

    Behind the last of them, where several begin at it: all but that one lasted no time.
    """
    if len(own.start) < 2:
        return np.zeros(len(start), dtype=bool)
    place = np.searchsorted(own.start, start, side="right") - 1
    place = np.minimum(place, len(own.start) - 2)
    return np.asarray((own.start[place] == start) & (own.motion[place + 1] == _RUNNING))
