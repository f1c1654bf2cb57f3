"""How long the log has been silent about a loom, in whole shifts that were worked.

Shifts of the calendar's closed days are left out: after a free Sunday not every loom is silent.
What silence is long enough to be told is left to ``summary``.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from datetime import datetime, timedelta

from board.mill import Mill
from board.state.shifts import ShiftCalendar
from grammar.entries import Shift


class Silence:
    """Counts shifts up to now (UTC) since any of the last entries of a shed's looms."""

    def __init__(
        self,
        calendar: ShiftCalendar,
        mill: Mill,
        now: datetime,
        last_entries: Iterable[datetime | None],
    ) -> None:
        self._calendar = calendar
        self._now = now
        self._present = calendar.at(now)
        known = [moment for moment in last_entries if moment is not None]
        self._closed = sorted(_closed_starts(calendar, mill, min(known), now)) if known else []

    def shifts_since(self, last_entry: datetime | None) -> int | None:
        """Whole shifts since the one of the last entry; None where there never was an entry."""
        if last_entry is None:
            return None
        if last_entry >= self._now:
            return 0
        count = self._calendar.starts_between(last_entry, self._now)
        if self._present is not None and self._present.start > last_entry:
            count -= 1  # it is not over yet
        return max(count - (len(self._closed) - bisect_right(self._closed, last_entry)), 0)


def _closed_starts(
    calendar: ShiftCalendar, mill: Mill, first: datetime, now: datetime
) -> Iterable[datetime]:
    """Starts of the shifts of closed days that are over."""
    day = first.astimezone(mill.zone).date() - timedelta(days=1)
    last = now.astimezone(mill.zone).date()
    while day <= last:
        if day.weekday() not in mill.calendar.days or day in mill.calendar.closed:
            for times in mill.shifts:
                span = calendar.span(Shift(day=day, name=times.name), times)
                if first < span.start and span.end <= now:
                    yield span.start
        day += timedelta(days=1)
