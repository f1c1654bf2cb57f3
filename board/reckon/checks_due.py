"""Checks that the register asks for: which were done in time, and which are due.

A check is due when an interval has passed since the last reading, or since the part was fitted; a
gauge verdict is a check as well. An interval in use is counted by the loom's own clock. How many of
how many is left to ``proportion``, which to do first to ``rounds``.
"""

from __future__ import annotations

from array import array
from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from copy import copy
from datetime import datetime, timedelta
from itertools import pairwise
from math import inf
from typing import TypeVar

import numpy as np

from board.mill import Every, Interval, Mill
from board.reckon.life_use import Clocks, use_between
from board.reckon.refusal import Refusal
from board.state.fleet import Fleet
from board.state.history import Ending, PartLife, ReadingAt
from board.state.shifts import ShiftCalendar
from board.state.usage import UsageClock
from grammar.frozen import dataclass

T = TypeVar("T", datetime, float)  # a moment; or the same [s since the epoch]

_LITTLE = 0.10  # of an interval
_EARLY = 0.5  # of an interval: a look before that is not the check that will be due
_OF_USE = (Every.HOURS, Every.PICKS)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChecksDone:
    """Checks due in a time: in time, late, and not done; ``unknown`` where use is not known.

    ``little_late`` of the late ones came within a tenth of the interval after it. In time is a
    reading of the second half of its interval; an earlier one is no check that was due: it begins
    the interval anew and counts as nothing. A part that is left alone counts once.
    """

    in_time: int
    late: int
    little_late: int
    not_done: int
    unknown: int

    @property
    def due(self) -> int:
        """How many checks were due."""
        return self.in_time + self.late + self.not_done


def checks_done(
    fleet: Fleet,
    mill: Mill,
    clocks: Clocks,
    calendar: ShiftCalendar,
    start: datetime,
    end: datetime,
) -> ChecksDone:
    """The checks due from ``start`` to ``end`` and what became of them.

    An interval that a reading ended counts at that reading, one that ran out without any at the end
    of the part's life, or now.
    """
    tally = _Tally()
    by_use: dict[tuple[str, Interval], _ByUse] = {}
    for life in _lives(fleet):
        part = mill.part.get(life.at.part)
        # a copy: what is taken apart to look into it is not kept, for years of a shed
        readings = copy(life.readings)
        for quantity in part.quantities if part else ():
            every = quantity.check_every
            if every is None:
                continue
            series = readings.get(quantity.name, ())
            if every.unit in _OF_USE and len(life.stays) == 1:
                # nearly all of them: those of a loom are judged together
                own = by_use.setdefault((life.loom, every), _ByUse(start, end))
                own.add(life, series)
                continue
            moments = check_moments(life.fitted, series)
            last = min(life.ended or end, end)
            intervals, ran_out = _marks(moments, start, end, last)
            for before, after in pairwise(intervals):
                over = overdue_by(life, every, before, after, clocks, calendar)
                if ran_out and after == last:
                    tally.ran_out(over)
                else:
                    tally.read(over, every.amount)
    for (loom, every), own in by_use.items():
        own.count(clocks[loom], every, tally)
    return tally.done()


class _Tally:
    """Counts of checks, as they are judged."""

    def __init__(self) -> None:
        self.in_time = self.late = self.little_late = self.not_done = self.unknown = 0

    def read(self, over: float | Refusal, interval: float) -> None:
        """A reading that ended an interval, so far after it was over."""
        if isinstance(over, Refusal):
            self.unknown += 1
        elif over > 0:
            self.late += 1
            self.little_late += over <= _LITTLE * interval
        elif over >= -_EARLY * interval:
            self.in_time += 1

    def ran_out(self, over: float | Refusal) -> None:
        """An interval that no reading ended, so far after it was over."""
        if isinstance(over, Refusal):
            self.unknown += 1
        elif over > 0:
            self.not_done += 1

    def done(self) -> ChecksDone:
        """The counts."""
        return ChecksDone(
            in_time=self.in_time,
            late=self.late,
            little_late=self.little_late,
            not_done=self.not_done,
            unknown=self.unknown,
        )


class _ByUse:
    """Intervals in use of parts that were on one loom only, judged all at once.

    Says of each what ``overdue_by`` says, to the last bit. Times in seconds since the epoch.
    """

    def __init__(self, start: datetime, end: datetime) -> None:
        self._start, self._end = start.timestamp(), end.timestamp()
        self._since, self._until = array("d"), array("d")
        self._ran_out = array("b")  # or a reading ended it

    def add(self, life: PartLife, readings: Iterable[ReadingAt]) -> None:
        """The intervals of one check of a part."""
        (stay,) = life.stays
        moments = {reading.when.timestamp() for reading in readings}
        if life.fitted is not None:
            moments.add(life.fitted.timestamp())
        last = self._end if life.ended is None else min(life.ended.timestamp(), self._end)
        marks, ran_out = _marks(sorted(moments), self._start, self._end, last)
        if len(marks) < 2:
            return
        begin = -inf if stay.start is None else stay.start.timestamp()
        end = inf if stay.end is None else stay.end.timestamp()
        self._since.extend(marks[:-1] if begin <= marks[0] else [max(m, begin) for m in marks[:-1]])
        self._until.extend(marks[1:] if marks[-1] <= end else [min(m, end) for m in marks[1:]])
        self._ran_out.extend(bytes(len(marks) - 2))
        self._ran_out.append(ran_out)

    def count(self, clock: UsageClock, every: Interval, tally: _Tally) -> None:
        """Add them to the counts, by the clock of their loom."""
        since, until = np.array(self._since), np.array(self._until)
        ran_out = np.array(self._ran_out, dtype=bool)
        line = clock.uses.line(every.unit.value)
        lasting = until > since
        known = line.reaches_all(since, until) | ~lasting
        used = np.zeros(len(since))
        asked = known & lasting
        if asked.any():
            used[asked] = line.at_all(until[asked]) - line.at_all(since[asked])
        over = used - every.amount
        late = known & (over > 0)
        read_late = late & ~ran_out
        is_due = over >= -_EARLY * every.amount
        tally.in_time += int((known & ~late & ~ran_out & is_due).sum())
        tally.late += int(read_late.sum())
        tally.little_late += int((read_late & (over <= _LITTLE * every.amount)).sum())
        tally.not_done += int((late & ran_out).sum())
        tally.unknown += int((~known).sum())


def _marks(moments: list[T], start: T, end: T, last: T) -> tuple[list[T], bool]:
    """The moments between which the intervals of a check lie that count in a time, end to end.

    Also whether the last of them ran out at ``last``; all others were ended by a reading.
    """
    first = max(bisect_left(moments, start), 1)
    marks = moments[first - 1 : bisect_right(moments, end)]
    ran_out = bool(moments) and start <= last and moments[-1] < last
    if ran_out:
        marks.append(last)
    return marks, ran_out


def _lives(fleet: Fleet) -> Iterable[PartLife]:
    for life in fleet.history.lives:
        if life.ending is not Ending.ABSENT:
            yield life
    for state in fleet.looms.values():
        for life in state.parts.values():
            if life.ending is Ending.IN_SERVICE:
                yield life


def check_moments(fitted: datetime | None, readings: Iterable[ReadingAt]) -> list[datetime]:
    """When a part was fitted, if that is on record, and each time it was measured since."""
    read = {reading.when for reading in readings}
    return sorted(read | {fitted}) if fitted is not None else sorted(read)


def overdue_by(
    life: PartLife,
    every: Interval,
    since: datetime,
    until: datetime,
    clocks: Clocks,
    calendar: ShiftCalendar,
) -> float | Refusal:
    """How far an interval was exceeded from ``since`` to ``until``, in its unit; below 0, not."""
    match every.unit:
        case Every.DAYS:
            return (until - since) / timedelta(days=1) - every.amount
        case Every.SHIFTS:
            return calendar.starts_between(since, until) - every.amount
        case Every.HOURS | Every.PICKS:
            used = use_between(life, since, until, clocks, every.unit.value)
            return used if isinstance(used, Refusal) else used - every.amount
