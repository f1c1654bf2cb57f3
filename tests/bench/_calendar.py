"""Shifts of the benchmark's shed in time: from minutes since the epoch to the wall clock."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from tests.bench._shed import SHIFT_MINUTES, SHIFTS, ZONE

LAST_DAY = date(2026, 11, 24)  # its night ends at 06:00 on the next
_NONE = (0, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShiftTime:
    """A shift: its day and name, its start and length [min], the clock at its start [min].

    ``barred`` are the minutes about a clock change: the wall clock does not tell them apart.
    """

    day: date
    name: str
    start: int
    minutes: int
    wall: int
    barred: tuple[int, int] = _NONE

    def clock(self, minute: int) -> int:
        """The minute of the day by the wall clock."""
        return self._wall(minute) % 1440

    def stamp(self, minute: int) -> str:
        """Date and time by the wall clock, say ``2026-11-24T22:40``."""
        days, of_day = divmod(self._wall(minute), 1440)
        return f"{self.day + timedelta(days=days)}T{of_day // 60:02d}:{of_day % 60:02d}"

    def _wall(self, minute: int) -> int:
        wall = self.wall + minute - self.start
        if self.minutes != SHIFT_MINUTES and minute >= self.barred[1]:
            wall += SHIFT_MINUTES - self.minutes
        return wall


def shifts(number: int) -> list[ShiftTime]:
    """The last so many shifts up to the fixed end, oldest first."""
    zone = ZoneInfo(ZONE)
    found: list[ShiftTime] = []
    for back in range(number):
        days, place = divmod(back, len(SHIFTS))
        name, wall = SHIFTS[-1 - place]
        day = LAST_DAY - timedelta(days=days)
        start, end = _epoch(day, wall, zone), _epoch(day, wall + SHIFT_MINUTES, zone)
        barred = _NONE
        if end - start != SHIFT_MINUTES:  # the clock changes at 01:00 UTC
            at = _epoch(day, 1440, zone) // 1440 * 1440 + 60
            at += 1440 if at < start else 0
            barred = (at - 60, at + 60)
        found.append(
            ShiftTime(
                day=day, name=name, start=start, minutes=end - start, wall=wall, barred=barred
            )
        )
    return found[::-1]


def _epoch(day: date, minute: int, zone: ZoneInfo) -> int:
    """Minutes since the epoch at a minute of a day by the wall clock."""
    days, of_day = divmod(minute, 1440)
    at = time(of_day // 60, of_day % 60)
    return int(datetime.combine(day + timedelta(days=days), at, tzinfo=zone).timestamp()) // 60
