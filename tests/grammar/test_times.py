"""What a written time means: shifts over midnight, their leave, clock changes, offsets."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grammar import times
from grammar.reader import Reader, Reading
from grammar.vocabulary import ShiftTimes
from tests.grammar.mills import READER, THREE_SHIFTS, mill

EARLY, LATE, NIGHT = THREE_SHIFTS
DAY = date(2026, 11, 24)
LONDON = ZoneInfo("Europe/London")
LORD_HOWE = ZoneInfo("Australia/Lord_Howe")  # its clocks change by half an hour


def local(text: str) -> datetime:
    return datetime.fromisoformat(text)


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


# Clock, shift -> the wall time, and minutes outside the leave of two hours before and four after.
PLACED = [
    ("23:50", NIGHT, "2026-11-24T23:50", 0),
    ("05:10", NIGHT, "2026-11-25T05:10", 0),
    ("22:00", NIGHT, "2026-11-24T22:00", 0),
    ("06:00", NIGHT, "2026-11-25T06:00", 0),  # half-open, yet within its leave
    ("21:59", NIGHT, "2026-11-24T21:59", 0),
    ("20:00", NIGHT, "2026-11-24T20:00", 0),  # the leave is inclusive
    ("19:59", NIGHT, "2026-11-24T19:59", 1),
    ("10:00", NIGHT, "2026-11-25T10:00", 0),
    ("10:01", NIGHT, "2026-11-25T10:01", 1),
    ("14:00", NIGHT, "2026-11-25T14:00", 240),  # as far from either end: after it
    ("13:59", NIGHT, "2026-11-25T13:59", 239),
    ("14:01", NIGHT, "2026-11-24T14:01", 359),
    ("14:00", EARLY, "2026-11-24T14:00", 0),
    ("18:00", EARLY, "2026-11-24T18:00", 0),
    ("18:01", EARLY, "2026-11-24T18:01", 1),
    ("04:00", EARLY, "2026-11-24T04:00", 0),
    ("03:59", EARLY, "2026-11-24T03:59", 1),
    ("22:00", EARLY, "2026-11-24T22:00", 240),  # tie
    ("22:01", EARLY, "2026-11-23T22:01", 359),
    ("02:00", LATE, "2026-11-25T02:00", 0),
]


@pytest.mark.parametrize(
    ("clock", "shift", "wall", "outside"), PLACED, ids=[f"{p[0]} {p[1].name}" for p in PLACED]
)
def test_placed_in_its_shift(clock: str, shift: ShiftTimes, wall: str, outside: int) -> None:
    found = times.place_in_shift(time.fromisoformat(clock), DAY, shift)
    assert found == (local(wall), timedelta(minutes=outside))


@given(st.times(), st.dates(date(1971, 1, 1), date(2199, 12, 1)), st.times(), st.times())
@settings(max_examples=300, deadline=None)
def test_nearest_to_its_shift_by_trying_every_date(
    clock: time, day: date, start: time, end: time
) -> None:
    clock, start, end = (t.replace(second=0, microsecond=0) for t in (clock, start, end))
    shift = ShiftTimes(name="any", start=start, end=end)
    found, _ = times.place_in_shift(clock, day, shift)
    begin, close = times.shift_bounds(day, shift)

    def far(moment: datetime) -> tuple[timedelta, bool]:
        inside = begin <= moment < close
        gap = max(begin - moment, moment - close, timedelta(0))
        return (timedelta(-1) if inside else gap), moment < close

    every = [datetime.combine(day + timedelta(days=d), clock) for d in range(-3, 5)]
    assert found == min(every, key=far)


def read(text: str, zone: str = "Europe/London") -> Reading:
    return (READER if zone == "Europe/London" else Reader(mill(zone))).read(text)


def test_the_tie_and_the_leave_are_told() -> None:
    reading = read("day 2026-11-24 early\n18:00 A1 running\n18:01 A2 running\n22:00 A3 running\n")
    assert [d.line for d in reading.diagnostics] == [3, 4]
    assert {d.code.value for d in reading.diagnostics} == {"outside-shift"}


# Two shifts that overlap by 30 minutes, and closed hours between 23:00 and 05:00.
TWO = (
    ShiftTimes(name="one", start=time(5), end=time(14, 30)),
    ShiftTimes(name="two", start=time(14), end=time(23)),
)


def test_the_shift_of_a_full_time() -> None:
    reader = Reader(mill(shifts=TWO))
    text = (
        "2026-11-24T14:10 A1 running\n2026-11-25T04:00 A1 stopped\n"
        "day 2026-11-24 two\n2026-11-24T14:10 A2 running\n2026-11-24T06:00 A2 stopped\n"
        "2026-11-24T23:30 A3 running\n"
    )
    shifts = [entry.shift.name if entry.shift else None for entry in reader.read(text).entries]
    assert shifts == ["one", None, "two", "one", "two"]


def test_an_offset_is_taken_to_the_clock_of_the_shed() -> None:
    (entry,) = read("2026-11-24T23:30+02:00 A1 running\n").entries
    assert entry.when == utc("2026-11-24T21:30")
    assert entry.shift is not None
    assert entry.shift.name == "late"  # 21:30 in the shed


def test_a_bare_done_without_heading_in_closed_hours() -> None:
    reader = Reader(mill(shifts=TWO))
    (diagnostic,) = reader.read("2026-11-25T04:00 A1 done 03:50 smooth\n").diagnostics
    assert diagnostic.code.value == "no-day"
    assert diagnostic.text[diagnostic.span.start : diagnostic.span.end] == "03:50"


# -- clock changes -------------------------------------------------------------------------
# Dates of the changes: IANA time zone database. London 2026: forward 29 March at 01:00, back 25
# October at 02:00. Lord Howe 2026: back by 30 minutes 5 April at 02:00, forward 4 October at 02:00.

BACK = [
    ("Europe/London", "2026-10-24", "01:30", "2026-10-25T00:30", "2026-10-25T01:30"),
    ("Europe/London", "2026-10-24", "01:00", "2026-10-25T00:00", "2026-10-25T01:00"),
    ("Europe/London", "2026-10-24", "01:59", "2026-10-25T00:59", "2026-10-25T01:59"),
    ("Australia/Lord_Howe", "2026-04-04", "01:45", "2026-04-04T14:45", "2026-04-04T15:15"),
]


@pytest.mark.parametrize(("zone", "day", "clock", "first", "second"), BACK)
def test_a_repeated_hour(zone: str, day: str, clock: str, first: str, second: str) -> None:
    reading = read(f"day {day} night\n{clock} A1 isolated by KM\n", zone)
    (entry,) = reading.entries
    assert (entry.when, entry.latest) == (utc(first), utc(second))
    assert [d.code.value for d in reading.diagnostics] == ["hour-twice"]


@pytest.mark.parametrize(
    ("zone", "day", "clock"),
    [
        ("Europe/London", "2026-10-24", "00:59"),
        ("Europe/London", "2026-10-24", "02:00"),
        ("Australia/Lord_Howe", "2026-04-04", "01:29"),
        ("Australia/Lord_Howe", "2026-04-04", "02:00"),
    ],
)
def test_beside_a_repeated_hour(zone: str, day: str, clock: str) -> None:
    reading = read(f"day {day} night\n{clock} A1 running\n", zone)
    assert reading.diagnostics == ()
    assert reading.entries[0].when == reading.entries[0].latest


def test_once_the_times_step_back_the_second_pass_is_meant() -> None:
    reading = read(
        "day 2026-10-24 night\n01:12 A1 stopped\n01:48 A2 stopped\n01:06 A1 running\n"
        "01:50 A3 running\n02:10 A2 running\n"
    )
    assert [entry.when for entry in reading.entries] == [
        utc("2026-10-25T00:12"),
        utc("2026-10-25T00:48"),
        utc("2026-10-25T01:06"),
        utc("2026-10-25T01:50"),
        utc("2026-10-25T02:10"),
    ]
    assert [d.line for d in reading.diagnostics] == [2, 3, 4, 5]
    assert reading.entries[3].latest == reading.entries[3].when
    assert reading.carried.second_pass_on == date(2026, 10, 25)


def test_an_offset_tells_the_pass_and_is_not_flagged() -> None:
    reading = read(
        "day 2026-10-24 night\n2026-10-25T01:10+01:00 A1 stopped\n"
        "2026-10-25T01:10+00:00 A1 running\n01:20 A2 running\n"
    )
    assert [entry.when for entry in reading.entries] == [
        utc("2026-10-25T00:10"),
        utc("2026-10-25T01:10"),
        utc("2026-10-25T01:20"),  # the file has come to the second pass
    ]
    assert [d.line for d in reading.diagnostics] == [4]


def test_each_file_begins_in_the_first_pass() -> None:
    text = "day 2026-10-24 night\n01:48 A2 stopped\n01:06 A1 running\n"
    assert read(text).entries == read(text).entries


SKIPPED = [
    ("Europe/London", "2026-03-28", "01:00", "00:59", "02:00"),
    ("Europe/London", "2026-03-28", "01:59", "00:59", "02:00"),
    ("Australia/Lord_Howe", "2026-10-03", "02:15", "01:59", "02:30"),
]


@pytest.mark.parametrize(("zone", "day", "clock", "before", "behind"), SKIPPED)
def test_a_skipped_hour(zone: str, day: str, clock: str, before: str, behind: str) -> None:
    reading = read(
        f"day {day} night\n{clock} A1 running\n{before} A1 running\n{behind} A2 running\n", zone
    )
    assert [d.code.value for d in reading.diagnostics] == ["no-such-time"]
    one, other = reading.entries
    assert other.when - one.when == timedelta(minutes=1)


def test_dues_on_days_without_a_midnight() -> None:
    """Beirut's clocks went forward at midnight into 27 March 2022 (IANA database)."""
    beirut = ZoneInfo("Asia/Beirut")
    assert times.end_of_day(date(2022, 3, 26), beirut) == utc("2022-03-26T22:00")
    assert times.end_of_day(date(2022, 3, 25), beirut) == utc("2022-03-25T22:00")


def test_the_next_time_that_the_clock_shows() -> None:
    half_past = time(1, 30)
    first, second = utc("2026-10-25T00:30"), utc("2026-10-25T01:30")
    assert times.next_clock(half_past, first - timedelta(minutes=1), LONDON) == first
    assert times.next_clock(half_past, first, LONDON) == second  # strictly after
    assert times.next_clock(half_past, second, LONDON) == utc("2026-10-26T01:30")
    assert times.next_start(NIGHT, utc("2026-11-24T22:00"), LONDON) == utc("2026-11-25T22:00")


@pytest.mark.parametrize("zone", ["Europe/London", "Australia/Lord_Howe", "America/St_Johns"])
@given(minute=st.integers(0, 400 * 24 * 60), shift=st.sampled_from(THREE_SHIFTS))
@settings(max_examples=200, deadline=None)
def test_the_quick_way_is_the_way_of_the_calendar(
    zone: str, minute: int, shift: ShiftTimes
) -> None:
    """A bare time read twice: the second reading takes the short way where there is one."""
    reader = _reader(zone)
    wall = datetime(2026, 1, 1) + timedelta(minutes=minute)
    day = wall.date()
    text = f"day {day} {shift.name}\n{wall:%H:%M} A1 running\n"
    once, again = reader.read(text), reader.read(text)
    assert once == again
    placed, _ = times.place_in_shift(wall.time(), day, shift)
    try:
        expected = times.resolve(times.Wall(placed), ZoneInfo(zone), second_pass=False)
    except times.NoSuchTime:
        assert again.entries == ()
        return
    assert (again.entries[0].when, again.entries[0].latest) == (expected.when, expected.latest)


@cache
def _reader(zone: str) -> Reader:
    return Reader(mill(zone))


# -- forms ---------------------------------------------------------------------------------

NO_TIMES = ["24:00", "12:60", "9:5", "1:234", "12345", "", "٢٢:٤٠"]


@pytest.mark.parametrize("written", NO_TIMES)
def test_no_times_of_day(written: str) -> None:
    with pytest.raises(times.NoTime):
        times.read_clock(written)


@pytest.mark.parametrize(
    "written", ["2026-02-29", "2026-13-01", "2026-00-10", "1969-12-31", "2201-01-01", "0000-01-01"]
)
def test_dates_out_of_the_calendar(written: str) -> None:
    with pytest.raises(times.NoTime):
        times.read_date(written)
    for form in (f"{written}t22:40", f"{written}t22:40z"):
        with pytest.raises(times.NoTime):
            times.read_full(form)


@pytest.mark.parametrize(
    "written", ["2026-11-24t22:40+24:00", "2026-11-24t22:40-01:60", "2026-11-24t22:40:60"]
)
def test_offsets_and_seconds_out_of_range(written: str) -> None:
    with pytest.raises(times.NoTime):
        times.read_full(written)


def test_full_forms() -> None:
    wall = local("2026-11-24T22:40")
    assert times.read_full("22:40") is None
    assert times.read_full("2026-11-24t22:40") == times.Wall(wall)
    assert times.read_full("2026-11-24t2240-0330") == times.Wall(wall, -timedelta(minutes=210))
    assert times.read_full("2026-11-24t22:40z") == times.Wall(wall, timedelta(0))


@pytest.mark.parametrize("day", ["1970-01-01", "2200-12-31"])
def test_the_ends_of_the_calendar(day: str) -> None:
    for clock in ("00:00", "05:59", "12:00", "23:59"):
        reading = read(
            f"day {day} night\n{clock} A1 open x; due {day}\n{day}T{clock} A2 open x; due early\n"
        )
        assert len(reading.entries) == 2


@pytest.mark.parametrize(
    "name",
    [
        "Europe/London", "Europe/Lisbon", "Africa/Cairo", "Africa/Casablanca", "America/Sao_Paulo",
        "America/Boa_Vista", "America/Argentina/Tucuman", "Asia/Gaza", "Asia/Pyongyang",
        "Australia/Lord_Howe", "Antarctica/Troll", "Pacific/Apia",
    ],
)  # fmt: skip
def test_a_day_is_steady_where_each_of_its_hours_has_the_same_offset(name: str) -> None:
    """By midnights as by every hour, around each change of 1970 to 2060 (tz database)."""
    zone = ZoneInfo(name)
    first = date(1970, 1, 3)
    days = [first + timedelta(days=n) for n in range(33_000)]

    def offset(hour: datetime) -> timedelta | None:
        return hour.replace(tzinfo=UTC).astimezone(zone).utcoffset()

    offsets = [offset(datetime.combine(day, time(0))) for day in days]
    changed = [n for n in range(1, len(days)) if offsets[n] != offsets[n - 1]]
    assert changed
    for n in {near for at in changed for near in range(at - 5, at + 5) if 0 < near < len(days)}:
        start = datetime.combine(days[n] - timedelta(days=1), time(0))
        hourly = {offset(start + timedelta(hours=hour)) for hour in range(4 * 24 + 1)}
        steady = hourly.pop() if len(hourly) == 1 else None
        assert times.steady_offset(days[n], zone) == steady, days[n]
