"""What a written time means: under its heading, in the shed's zone, over clock changes.

Wall-clock times become UTC instants here; everything later compares instants only.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from grammar.entries import Shift
from grammar.frozen import dataclass
from grammar.vocabulary import ShiftTimes

EARLY_LEAVE = timedelta(hours=2)  # how far before a shift an entry is taken without a word
LATE_LEAVE = timedelta(hours=4)  # and after it
FIRST_YEAR, LAST_YEAR = 1970, 2200

# Every form of a time, folded, whether the calendar has it or not.
CLOCK = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}t[0-9]{2}:?[0-9]{2}(?::[0-9]{2})?(?:z|[+-][0-9]{2}:?[0-9]{2})?"
    r"|[0-9]{1,2}:[0-9]{2}|[0-9]{4}"
)

_CLOCK = re.compile(r"([0-9]{1,2}):?([0-9]{2})")
_STAMP = re.compile(
    r"([0-9]{4}-[0-9]{2}-[0-9]{2})[t\s]\s*([0-9]{1,2}):?([0-9]{2})(?::([0-9]{2}))?(z|[+-][0-9]{2}:?[0-9]{2})?"
)


class NoSuchTime(ValueError):
    """The clocks went forward over this wall time."""


class NoTime(ValueError):
    """The text is no time of day, or no date of the calendar."""


@dataclass(frozen=True, slots=True)
class Instant:
    """A moment in UTC; ``latest`` differs where a repeated hour leaves it open.

    ``twice`` tells that the wall time came twice and was written without its offset.
    """

    when: datetime
    latest: datetime
    twice: bool = False


@dataclass(frozen=True, slots=True)
class Wall:
    """A written time: the wall clock's date and time, and its offset where one was given."""

    local: datetime  # naive
    offset: timedelta | None = None


def read_date(written: str) -> date:
    """An ISO 8601 calendar date. Raises NoTime."""
    try:
        day = date.fromisoformat(written)
    except ValueError as error:
        raise NoTime(written) from error
    if not FIRST_YEAR <= day.year <= LAST_YEAR:  # keeps the arithmetic below inside the calendar
        raise NoTime(written)
    return day


def read_clock(folded: str) -> time:
    """A time of day: ``22:40``, ``9:05``, ``0905``. Raises NoTime."""
    match = _CLOCK.fullmatch(folded)
    if match is None or int(match[1]) > 23 or int(match[2]) > 59:
        raise NoTime(folded)
    return time(int(match[1]), int(match[2]))


def read_full(folded: str) -> Wall | None:
    """A full timestamp such as ``2026-11-24t22:40+01:00``, or None. Raises NoTime."""
    match = _STAMP.fullmatch(folded)
    if match is None:
        return None
    day = read_date(match[1])
    clock = read_clock(f"{match[2]}:{match[3]}")
    if match[4] and int(match[4]) > 59:
        raise NoTime(folded)
    local = datetime.combine(day, clock) + timedelta(seconds=int(match[4] or 0))
    return Wall(local, _offset(match[5]) if match[5] else None)


def _offset(written: str) -> timedelta:
    if written == "z":
        return timedelta(0)
    hours, minutes = int(written[1:3]), int(written[-2:])
    if hours > 23 or minutes > 59:
        raise NoTime(written)
    size = timedelta(hours=hours, minutes=minutes)
    return -size if written[0] == "-" else size


def shift_bounds(day: date, shift: ShiftTimes) -> tuple[datetime, datetime]:
    """Wall-clock start and end of a shift of a day, end excluded."""
    start = datetime.combine(day, shift.start)
    end = datetime.combine(day, shift.end) + timedelta(days=1 if shift.past_midnight else 0)
    return start, end


def place_in_shift(clock: time, day: date, shift: ShiftTimes) -> tuple[datetime, timedelta]:
    """The date that puts a bare time inside its shift, else nearest to it, a tie after its end.

    Returns the wall time and how far outside the leave around the shift it lies (zero: inside).
    """
    start, end = shift_bounds(day, shift)
    best = min(
        (datetime.combine(day + timedelta(days=d), clock) for d in (-1, 0, 1, 2)),
        key=lambda c: (_distance(c, start, end), c < end),
    )
    if best < start:
        return best, max(start - best - EARLY_LEAVE, timedelta(0))
    return best, max(best - end - LATE_LEAVE, timedelta(0)) if best >= end else timedelta(0)


def _distance(moment: datetime, start: datetime, end: datetime) -> timedelta:
    if start <= moment < end:
        return timedelta(minutes=-1)
    return start - moment if moment < start else moment - end


def resolve(wall: Wall, zone: ZoneInfo, *, second_pass: bool) -> Instant:
    """The instant of a wall time in a zone. Raises NoSuchTime where the clocks skipped it."""
    if wall.offset is not None:
        exact = (wall.local - wall.offset).replace(tzinfo=UTC)
        return Instant(exact, exact)
    first = wall.local.replace(tzinfo=zone, fold=0).astimezone(UTC)
    second = wall.local.replace(tzinfo=zone, fold=1).astimezone(UTC)
    if first == second:
        return Instant(first, first)
    if first.astimezone(zone).replace(tzinfo=None) != wall.local:
        raise NoSuchTime(str(wall.local))
    return Instant(second if second_pass else first, second, twice=True)


def came_twice(local: datetime, zone: ZoneInfo) -> bool:
    """Whether a wall time lies in an hour that a clock change repeats."""
    first = local.replace(tzinfo=zone, fold=0).utcoffset()
    second = local.replace(tzinfo=zone, fold=1).utcoffset()
    return first is not None and second is not None and first > second


def wall_in(wall: Wall, zone: ZoneInfo) -> datetime:
    """What the shed's own clock showed at a written time (naive)."""
    if wall.offset is None:
        return wall.local
    return (wall.local - wall.offset).replace(tzinfo=UTC).astimezone(zone).replace(tzinfo=None)


def shifts_around(local: datetime, shifts: tuple[ShiftTimes, ...]) -> Iterator[Shift]:
    """The shifts that a wall time lies in; two where shifts overlap."""
    for day in (local.date() - timedelta(days=1), local.date()):
        for shift in shifts:
            start, end = shift_bounds(day, shift)
            if start <= local < end:
                yield Shift(day=day, name=shift.name)


def next_start(shift: ShiftTimes, after: datetime, zone: ZoneInfo) -> datetime:
    """The next start of a shift strictly after an instant (UTC)."""
    return next_clock(shift.start, after, zone)


def next_clock(clock: time, after: datetime, zone: ZoneInfo) -> datetime:
    """The next time that the wall clock shows ``clock``, strictly after an instant (UTC).

    Where a clock change skips that time, the instant as far behind the change as the time is.
    """
    day = after.astimezone(zone).date() - timedelta(days=1)
    while True:
        for fold in (0, 1):
            local = datetime.combine(day, clock, tzinfo=zone).replace(fold=fold)
            moment = local.astimezone(UTC)
            if moment > after:
                return moment
        day += timedelta(days=1)


def end_of_day(day: date, zone: ZoneInfo) -> datetime:
    """The midnight that ends a date (UTC); the later one where a clock change repeats it."""
    midnight = datetime.combine(day + timedelta(days=1), time(0), tzinfo=zone)
    return max(midnight.astimezone(UTC), midnight.replace(fold=1).astimezone(UTC))


def steady_offset(day: date, zone: ZoneInfo) -> timedelta | None:
    """The zone's offset from UTC where it is the same all around a date's shifts, else None.

    Looked for at every midnight (UTC) from a day before the date to three days behind it: no time
    of a shift of that date, nor its leave, lies farther out in any zone, and since 1970 none has
    kept an offset for less than 167 hours (tz database).
    """
    first = datetime.combine(day - timedelta(days=1), time(0), tzinfo=UTC)
    offsets = {(first + timedelta(days=n)).astimezone(zone).utcoffset() for n in range(5)}
    return offsets.pop() if len(offsets) == 1 else None
