"""The shed's shifts as stretches of time: which one is now, and how many lie between.

Instants are UTC; shifts begin and end by the wall clock, so the night of a clock change is an hour
longer or shorter.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from grammar.entries import Shift
from grammar.frozen import dataclass
from grammar.times import shift_bounds
from grammar.vocabulary import ShiftTimes

_KEPT = 4096  # days that are remembered at most


@dataclass(frozen=True, slots=True, kw_only=True)
class ShiftSpan:
    """One shift of one day from ``start`` to ``end`` (excluded)."""

    shift: Shift
    start: datetime
    end: datetime


class ShiftCalendar:
    """The shifts of a mill, day by day."""

    def __init__(self, shifts: Sequence[ShiftTimes], zone: ZoneInfo) -> None:
        self._shifts = tuple(sorted(shifts, key=lambda s: s.start))
        self._zone = zone
        self._met: dict[date, tuple[ShiftSpan, ...]] = {}

    @property
    def shifts_a_day(self) -> int:
        """How many shifts a day has."""
        return len(self._shifts)

    def at(self, when: datetime) -> ShiftSpan | None:
        """The shift that an instant lies in, the later of two that overlap, or None."""
        inside = [s for s in self._around(when) if s.start <= when < s.end]
        return inside[-1] if inside else None

    def now_or_next(self, when: datetime) -> ShiftSpan:
        """The shift of an instant, else the next one."""
        return self.at(when) or self.next_after(when)

    def next_after(self, when: datetime) -> ShiftSpan:
        """The first shift that starts strictly after an instant."""
        return next(s for s in self._around(when, days=3) if s.start > when)

    def before(self, when: datetime, but: Shift | None = None) -> ShiftSpan:
        """The last shift that has ended at an instant, other than ``but``."""
        ended = [s for s in self._around(when, days=3) if s.end <= when and s.shift != but]
        return max(ended, key=lambda s: s.end)

    def previous(self, span: ShiftSpan) -> ShiftSpan:
        """The shift that started last before another one, though it may still run into it."""
        started = [s for s in self._around(span.start, days=3) if s.start < span.start]
        return max(started, key=lambda s: s.start)

    def starts_between(self, after: datetime, until: datetime) -> int:
        """How many shifts start in the time ``(after, until]``."""
        if until <= after:
            return 0
        first, last = self._day(after), self._day(until)
        days = (last - first).days
        if days <= 2:
            return sum(after < s.start <= until for s in self._days(first, last))
        edge = [*self._days(first, first), *self._days(last, last)]
        whole = (days - 1) * len(self._shifts)
        return whole + sum(after < s.start <= until for s in edge)

    def _around(self, when: datetime, days: int = 1) -> list[ShiftSpan]:
        day = self._day(when)
        spans = self._days(day - timedelta(days=days), day + timedelta(days=days))
        return sorted(spans, key=lambda s: s.start)

    def _day(self, when: datetime) -> date:
        return when.astimezone(self._zone).date()

    def _days(self, first: date, last: date) -> list[ShiftSpan]:
        count = (last - first).days + 1
        return [s for d in range(count) for s in self._of_day(first + timedelta(days=d))]

    def _of_day(self, day: date) -> tuple[ShiftSpan, ...]:
        found = self._met.get(day)
        if found is None:
            if len(self._met) >= _KEPT:
                self._met.clear()
            found = tuple(self.span(Shift(day=day, name=s.name), s) for s in self._shifts)
            self._met[day] = found
        return found

    def span(self, shift: Shift, times: ShiftTimes | None = None) -> ShiftSpan:
        """When a shift of a day begins and ends. Raises StopIteration for an unknown name."""
        times = times or next(s for s in self._shifts if s.name == shift.name)
        start, end = shift_bounds(shift.day, times)
        return ShiftSpan(
            shift=shift,
            start=start.replace(tzinfo=self._zone).astimezone(UTC),
            end=end.replace(tzinfo=self._zone).astimezone(UTC),
        )
