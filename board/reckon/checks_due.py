"""Checks that the register asks for: which were done in time, and which are due.

A check is due when an interval has passed since the last reading, or since the part was fitted; a
gauge verdict is a check as well. An interval in use is counted by the loom's own clock. How many of
how many is left to ``proportion``, which to do first to ``rounds``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from itertools import pairwise

from board.mill import Every, Interval, Mill
from board.reckon.life_record import use_between
from board.reckon.refusal import Refusal
from board.state.fleet import Fleet
from board.state.history import Ending, PartLife
from board.state.shifts import ShiftCalendar
from board.state.usage import UsageClock
from grammar.frozen import dataclass

Clocks = Mapping[str, UsageClock]

_LITTLE = 0.10  # of an interval


@dataclass(frozen=True, slots=True, kw_only=True)
class ChecksDone:
    """Checks due in a time: in time, late, and not done; ``unknown`` where use is not known.

    ``little_late`` of the late ones came within a tenth of the interval after it.
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
    in_time = late = little_late = not_done = unknown = 0
    for life in _lives(fleet):
        part = mill.part.get(life.at.part)
        for quantity in part.quantities if part else ():
            if quantity.check_every is None:
                continue
            moments = check_moments(life, quantity.name)
            for before, after in pairwise(moments):
                if not start <= after <= end:
                    continue
                over = overdue_by(life, quantity.check_every, before, after, clocks, calendar)
                if isinstance(over, Refusal):
                    unknown += 1
                elif over > 0:
                    late += 1
                    little_late += over <= _LITTLE * quantity.check_every.amount
                else:
                    in_time += 1
            last = min(life.ended or end, end)
            if moments and start <= last and moments[-1] < last:
                over = overdue_by(life, quantity.check_every, moments[-1], last, clocks, calendar)
                if isinstance(over, Refusal):
                    unknown += 1
                elif over > 0:
                    not_done += 1
    return ChecksDone(
        in_time=in_time, late=late, little_late=little_late, not_done=not_done, unknown=unknown
    )


def _lives(fleet: Fleet) -> Iterable[PartLife]:
    for life in fleet.history.lives:
        if life.ending is not Ending.ABSENT:
            yield life
    for state in fleet.looms.values():
        for life in state.parts.values():
            if life.ending is Ending.IN_SERVICE:
                yield life


def check_moments(life: PartLife, quantity: str) -> list[datetime]:
    """When a part was fitted, if that is on record, and each time it was measured since."""
    read = {reading.when for reading in life.readings.get(quantity, ())}
    return sorted(read | {life.fitted}) if life.fitted is not None else sorted(read)


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
