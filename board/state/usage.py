"""The usage clock: running hours and picks of a loom as a function of time.

Recorded motion drives it (RUNNING spells, each with its style's speed); counter readings anchor
it: between two of them the recorded motion is scaled to fit. An hour meter scales the picks as it
scales the hours, but where a meter of picks tells them; a meter of picks leaves the hours, since a
loom may weave faster or slower than the register has it. Where neither tells anything the use is
unknown, never calendar time in disguise. Instants are UTC, so that an hour of a clock change is an
hour like any other.

Picks = picks/min x 60 x running hours (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import field
from datetime import datetime, time, timedelta
from functools import lru_cache
from itertools import accumulate
from typing import Protocol
from zoneinfo import ZoneInfo

from board.mill import Calendar, Mill
from board.state.fleet import Fleet
from board.state.meter_doubts import disagreements
from board.state.meters import counters_of, of_each_meter
from board.state.spells import columns_of
from board.state.use_line import UseLine, speed_of
from grammar.frozen import dataclass

__all__ = ["UnknownUse", "UsageClock", "clocks", "disagreements", "speed_of"]

RECENT = timedelta(days=14)

_HOUR = 3600.0
_DAY = 24 * _HOUR
_LEAST_ON_RECORD = 8 * _HOUR


@dataclass(frozen=True, slots=True, kw_only=True)
class UnknownUse:
    """Why a use is not known."""

    reason: str


class Uses(Protocol):
    """Where the lines of a loom come from; only those that are asked for need be made."""

    def line(self, unit: str) -> UseLine:
        """The use in running ``h`` or ``picks``."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UsageClock:
    """Running hours and picks of one loom since its log begins."""

    loom: str
    uses: Uses
    zone: ZoneInfo
    calendar: Calendar
    day_begins: time  # by the wall clock: when the first shift of a day begins
    _asked: dict[tuple[datetime, datetime, str], float | UnknownUse] = field(
        default_factory=dict, repr=False
    )
    _a_day: dict[datetime, float | UnknownUse] = field(default_factory=dict, repr=False)

    @property
    def hours(self) -> UseLine:
        """Running hours over time."""
        return self.uses.line("h")

    @property
    def picks(self) -> UseLine:
        """Picks over time."""
        return self.uses.line("picks")

    def between(self, start: datetime, end: datetime, unit: str = "h") -> float | UnknownUse:
        """The use from ``start`` to ``end`` in running ``h`` or ``picks``."""
        known = self._asked.get((start, end, unit))
        if known is not None:
            return known
        line = self.uses.line(unit)
        first, last = start.timestamp(), end.timestamp()
        if line.reaches(first, last):
            return line.rise(first, last)
        return self.unknown(line)

    def since_begin(self, when: datetime, unit: str = "h") -> float | UnknownUse:
        """The use from the beginning of the loom's log to ``when``."""
        line = self.uses.line(unit)
        last = when.timestamp()
        if line.begin is not None and line.reaches(line.begin, last) and last >= line.begin:
            return line.rise(line.begin, last)
        return self.unknown(line)

    def unknown(self, line: UseLine) -> UnknownUse:
        """Why a line of this loom does not tell a use that was asked for."""
        if line.begin is not None:
            return UnknownUse(reason=f"the log of {self.loom} does not reach over this time")
        if line is not self.hours and self.hours.begin is not None:
            return UnknownUse(reason=f"no speed and no meter of {self.loom} tells its picks")
        return UnknownUse(reason=f"no motion and no counter of {self.loom} on record")

    def hours_a_day(self, now: datetime) -> float | UnknownUse:
        """Running hours an open day over the last two weeks, or since the log begins.

        Closed days of the calendar are left out with what ran on them, so that a holiday does
        not look like a slow loom. Taken for days of the calendar the rate is too high where days
        are closed: what is due by use is then told too early, never too late. A day begins with
        its first shift.
        """
        if now not in self._a_day:
            look_up_days((self,), now)
        return self._a_day[now]


# -- many clocks at once -------------------------------------------------------------------


def look_up(
    asked: Sequence[tuple[UsageClock, Collection[datetime]]], end: datetime, unit: str = "h"
) -> None:
    """Reckon the use of many looms from many moments to ``end``, for ``between`` to answer."""
    import numpy as np

    from board.state.lines_abreast import rises

    lines = [clock.uses.line(unit) for clock, _ in asked]
    bounds = [0, *accumulate(len(starts) for _, starts in asked)]
    moments = np.array([start.timestamp() for _, starts in asked for start in starts])
    rise, known = rises(lines, bounds, moments, np.full(len(moments), end.timestamp()))
    uses, told = rise.tolist(), known.tolist()
    for (clock, starts), first in zip(asked, bounds[:-1], strict=True):
        for place, start in enumerate(starts, start=first):
            if told[place]:
                clock._asked[start, end, unit] = uses[place]


def look_up_days(clocks: Sequence[UsageClock], now: datetime) -> None:
    """Reckon the hours a day of many looms, for ``hours_a_day`` to answer."""
    import numpy as np

    from board.state.lines_abreast import at_each

    lines = [clock.hours for clock in clocks]
    known = [
        line.known_of(_open(clock.calendar, clock.zone, clock.day_begins, now))
        for clock, line in zip(clocks, lines, strict=True)
    ]
    moments = np.array([moment for own in known for stretch in own for moment in stretch])
    bounds = [0, *accumulate(2 * len(own) for own in known)]
    at = at_each(lines, bounds, moments).tolist()
    for clock, line, own, place in zip(clocks, lines, known, bounds[:-1], strict=True):
        use = open_for = 0.0
        for i, (first, last) in enumerate(own):
            use += at[place + 2 * i + 1] - at[place + 2 * i]
            open_for += last - first
        if line.begin is None:
            clock._a_day[now] = clock.unknown(line)
        elif open_for < _LEAST_ON_RECORD:
            reason = f"less than 8 h of {clock.loom} on record"
            clock._a_day[now] = UnknownUse(reason=reason)
        else:
            clock._a_day[now] = use / (open_for / _DAY)


@lru_cache(maxsize=4)
def _open(
    calendar: Calendar, zone: ZoneInfo, day_begins: time, now: datetime
) -> tuple[tuple[float, float], ...]:
    """The stretches of the time that counts as recent that lie in open days [s since the epoch]."""
    end = now.timestamp()
    start = end - RECENT.total_seconds()
    day = datetime.fromtimestamp(start, zone).date() - timedelta(days=1)
    begins = datetime.combine(day, day_begins, tzinfo=zone).timestamp()
    found = []
    while begins < end:
        after = day + timedelta(days=1)
        ends = datetime.combine(after, day_begins, tzinfo=zone).timestamp()
        is_open = day.weekday() in calendar.days and day not in calendar.closed
        if is_open and max(begins, start) < min(ends, end):
            found.append((max(begins, start), min(ends, end)))
        day, begins = after, ends
    return tuple(found)


# -- from facts to clocks ------------------------------------------------------------------


def clocks(fleet: Fleet, mill: Mill) -> Mapping[str, UsageClock]:
    """The usage clock of every loom, up to now."""
    from board.state.motion_columns import LoomUse, ShedUse, motions_of

    motions = motions_of(columns_of(fleet.history.spells), mill)
    meters = of_each_meter(counters_of(fleet.history.counters))
    shed = ShedUse(motions, meters, fleet.looms, fleet.as_of)
    day_begins = min((shift.start for shift in mill.shifts), default=time(0))
    return {
        loom: UsageClock(
            loom=loom,
            uses=LoomUse(shed, loom),
            zone=mill.zone,
            calendar=mill.calendar,
            day_begins=day_begins,
        )
        for loom in fleet.looms
    }
