"""Where a line is filed and how its time is written: the clock, shifts, closed hours, clock changes.

The clock changes of Europe/London are those of the IANA time zone database: 2026-03-29 forward over
01:00 to 02:00, 2026-10-25 back from 02:00 to 01:00.
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from board.clock_typed import shift_of
from board.mill import Mill
from board.record.register import read_register
from board.writing import KEPT_ANYWAY, draft, head_of, marked, next_number, numbered, numbers_given
from grammar.entries import Opened
from grammar.reader import Reader
from tests.writing.conftest import REGISTER


@pytest.fixture(scope="module")
def mill() -> Mill:
    found = read_register(REGISTER.encode())
    assert isinstance(found, Mill), found
    return found


@pytest.fixture(scope="module")
def reader(mill: Mill) -> Reader:
    return Reader(mill.vocabulary)


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


# now (UTC) | typed | the time as written | the shift it is filed under
TIMES = [
    ("2026-11-25T02:40:31", "A07 stopped", "02:40", "2026-11-24 night"),
    ("2026-11-25T05:58", "A07 stopped", "05:58", "2026-11-24 night"),
    ("2026-11-25T05:59:59", "A07 stopped", "05:59", "2026-11-24 night"),
    ("2026-11-25T06:00", "A07 stopped", "06:00", "2026-11-25 early"),
    ("2026-11-25T06:05", "5:58 A07 stopped", "5:58", "2026-11-24 night"),
    ("2026-11-25T06:05", "0600 A07 stopped", "0600", "2026-11-25 early"),
    ("2026-11-25T00:10", "23:50 A07 stopped", "23:50", "2026-11-24 night"),
    ("2026-11-25T00:10", "0005 A07 stopped", "0005", "2026-11-24 night"),
    ("2026-11-25T02:40", "02:40 A07 stopped", "02:40", "2026-11-24 night"),
    # more than an hour ahead of the clock: the latest such time is yesterday's
    ("2026-11-25T02:40", "03:41 A07 stopped", "03:41", "2026-11-23 night"),
    ("2026-11-25T13:00", "22:40 A07 stopped", "22:40", "2026-11-24 night"),
    # in full: kept as it is, filed under its own shift
    ("2026-11-25T13:00", "2026-11-23T07:10 A07 stopped", "2026-11-23T07:10", "2026-11-23 early"),
    ("2026-11-25T13:00", "2026-11-23T07:10+01:00 A07 stopped", "2026-11-23T07:10+01:00",
     "2026-11-23 early"),
    # summer time: local is an hour ahead of UTC
    ("2026-07-01T04:59", "A07 stopped", "05:59", "2026-06-30 night"),
    ("2026-07-01T05:00", "A07 stopped", "06:00", "2026-07-01 early"),
    # the night the clocks go back: 01:30 comes twice and is written with its offset
    ("2026-10-25T00:30", "A07 stopped", "2026-10-25T01:30+01:00", "2026-10-24 night"),
    ("2026-10-25T01:30", "A07 stopped", "2026-10-25T01:30+00:00", "2026-10-24 night"),
    ("2026-10-25T01:10", "01:30 A07 stopped", "2026-10-25T01:30+01:00", "2026-10-24 night"),
    ("2026-10-25T03:00", "01:30 A07 stopped", "2026-10-25T01:30+00:00", "2026-10-24 night"),
    ("2026-10-25T03:00", "02:00 A07 stopped", "02:00", "2026-10-24 night"),
    # the night they go forward
    ("2026-03-29T01:30", "00:59 A07 stopped", "00:59", "2026-03-28 night"),
    ("2026-03-29T01:00", "A07 stopped", "02:00", "2026-03-28 night"),
]  # fmt: skip


@pytest.mark.parametrize(("now", "typed", "stamp", "shift"), TIMES, ids=lambda x: str(x))
def test_time_and_shift(
    now: str, typed: str, stamp: str, shift: str, mill: Mill, reader: Reader
) -> None:
    made = draft(typed, "KM", utc(now), mill, reader)
    assert made.line == f"{stamp} A07 stopped"
    assert f"{made.shift.day} {made.shift.name}" == shift
    assert made.entry is not None
    assert made.entry.when <= utc(now)
    assert not made.reading.diagnostics
    assert made.path == f"{shift[:4]}/{shift[5:7]}/{shift.replace(' ', '-')}-KM.log"
    assert made.heading == f"day {shift} by KM"


@pytest.mark.parametrize(("now", "typed", "stamp", "shift"), TIMES, ids=lambda x: str(x))
def test_the_moment_is_the_latest_such_time(
    now: str, typed: str, stamp: str, shift: str, mill: Mill, reader: Reader
) -> None:
    """Counted out minute by minute: the last minute up to now whose wall clock shows that time."""
    made = draft(typed, "KM", utc(now), mill, reader)
    assert made.entry is not None
    if "T" in typed.split()[0]:
        return
    minute = utc(now).replace(second=0)
    head = head_of(typed, mill.vocabulary)
    if head.stamp:
        wanted = head.stamp.replace(":", "").zfill(4)
        from datetime import timedelta

        while minute.astimezone(mill.zone).strftime("%H%M") != wanted:
            minute -= timedelta(minutes=1)
    assert made.entry.when == minute


def test_a_time_skipped_by_the_clock_change_is_refused(mill: Mill, reader: Reader) -> None:
    made = draft("01:30 A07 stopped", "KM", utc("2026-03-29T02:00"), mill, reader)
    assert made.entry is None
    assert [d.code.value for d in made.reading.diagnostics] == ["no-such-time"]


@pytest.mark.parametrize(
    ("typed", "stamp"),
    [
        ("A07 stopped", ""),
        ("a7 stopped", ""),
        ("A07; stopped", ""),
        ("22:40 A07 stopped", "22:40"),
        ("2240 a7 stopped", "2240"),
        ("22.40 A07 stopped", "22.40"),  # badly written: the reader says how to write it
        ("25:70 A07 stopped", "25:70"),
        ("x07 stopped", ""),
        ("shed handed over KM to RB", ""),
        ("A01-A06 stopped", ""),
        ("2026-11-24 22:40 A07 stopped", "2026-11-24"),
    ],
)
def test_where_the_time_ends(typed: str, stamp: str, mill: Mill) -> None:
    assert head_of(typed, mill.vocabulary).stamp == stamp


def test_a_loom_that_looks_like_a_time() -> None:
    plain = REGISTER.replace('["A01-A12"]', '["1201-1212", "14"]')
    mill = read_register(plain.encode())
    assert isinstance(mill, Mill), mill
    words = mill.vocabulary
    assert head_of("1205 stopped", words).stamp == ""
    assert head_of("1205 1206 stopped", words).stamp == "1205"
    assert head_of("14 stopped", words).stamp == ""
    assert head_of("0905 14 stopped", words).stamp == "0905"
    assert head_of("99 stopped", words).stamp == ""


CLOSED = REGISTER.replace(
    '{ early = "06:00-14:00", late = "14:00-22:00", night = "22:00-06:00" }',
    '{ early = "06:00-14:00", late = "14:00-20:00" }',
)


@pytest.mark.parametrize(
    ("now", "stamp", "shift"),
    [
        ("2026-11-25T20:30", "20:30", "2026-11-25 late"),  # just after: taken without a word
        ("2026-11-26T00:00", "00:00", "2026-11-25 late"),  # four hours after, inclusive
        ("2026-11-26T00:30", "2026-11-26T00:30", "2026-11-25 late"),  # farther: in full
        ("2026-11-26T01:00", "2026-11-26T01:00", "2026-11-25 late"),  # a tie: after its end
        ("2026-11-26T01:01", "2026-11-26T01:01", "2026-11-26 early"),
        ("2026-11-26T04:00", "04:00", "2026-11-26 early"),  # two hours before, inclusive
    ],
)
def test_closed_hours(now: str, stamp: str, shift: str) -> None:
    mill = read_register(CLOSED.encode())
    assert isinstance(mill, Mill), mill
    made = draft("A07 stopped", "KM", utc(now), mill, Reader(mill.vocabulary))
    assert made.line == f"{stamp} A07 stopped"
    assert f"{made.shift.day} {made.shift.name}" == shift
    assert made.entry is not None
    assert made.entry.when == utc(now)
    assert not made.reading.diagnostics
    assert shift_of(utc(now), mill) == made.shift


def test_an_old_time_says_so(mill: Mill, reader: Reader) -> None:
    made = draft("03:41 A07 stopped", "KM", utc("2026-11-25T02:40"), mill, reader)
    assert "taken as 2026-11-24 03:41, 23 h ago" in made.said
    assert "2026-11-25T03:41" in made.said
    assert draft("23:50 A07 stopped", "KM", utc("2026-11-25T00:10"), mill, reader).said == ""


# now | typed | how to write the time that was meant, "" where it has come
AHEAD = [
    ("2026-11-25T05:58", "06:02 A07 stopped", "2026-11-24T06:02"),
    ("2026-11-25T05:58:59", "05:59 A07 stopped", "2026-11-24T05:59"),
    ("2026-11-25T23:50", "0020 A07 stopped", "2026-11-25T00:20"),
    ("2026-11-25T02:40", "03:40 A07 stopped", "2026-11-24T03:40"),  # an hour, inclusive
    ("2026-11-25T02:40", "03:41 A07 stopped", ""),
    ("2026-11-25T02:40", "02:40 A07 stopped", ""),
    ("2026-11-25T05:58", "2026-11-25T06:02 A07 stopped", ""),  # in full: as it says
    ("2026-10-25T00:30", "01:10 A07 stopped", ""),  # twenty minutes ago; it comes once more
    ("2026-10-25T00:30", "01:45 A07 stopped", "2026-10-24T01:45"),
    ("2026-03-29T00:50", "01:30 A07 stopped", ""),  # the clocks skip it: no such time
]  # fmt: skip


@pytest.mark.parametrize(("now", "typed", "meant"), AHEAD, ids=lambda x: str(x))
def test_a_time_within_the_coming_hour_has_not_come(
    now: str, typed: str, meant: str, mill: Mill, reader: Reader
) -> None:
    made = draft(typed, "KM", utc(now), mill, reader)
    assert bool(made.ahead) is bool(meant)
    assert made.ahead.endswith(meant)
    if meant:
        assert made.entry is not None
        assert made.entry.when > utc(now)


@pytest.mark.parametrize(
    ("typed", "line"),
    [
        ("A07 open recheck; due early", "02:40 A07 open no 7 recheck; due early"),
        ("A07 open 2 clamps missing", "02:40 A07 open no 7 2 clamps missing"),
        ("A07 offen nachsehen", "02:40 A07 offen no 7 nachsehen"),
        ("A07 OPEN  look", "02:40 A07 OPEN no 7  look"),
        ("A07 open no 3 look", "02:40 A07 open no 3 look"),
        ("A07 open a; open no 3 b; open c; due early",
         "02:40 A07 open no 7 a; open no 3 b; open no 8 c; due early"),
        ("A07 note opened; by KM", "02:40 A07 note opened; by KM"),
        ("A07 ｏｐｅｎ wide", "02:40 A07 ｏｐｅｎ no 7 wide"),
    ],
)  # fmt: skip
def test_numbers_are_put_in(typed: str, line: str, mill: Mill, reader: Reader) -> None:
    made = numbered(draft(typed, "KM", utc("2026-11-25T02:40"), mill, reader), 7, reader)
    assert made.line == line
    assert made.entry is not None
    assert not made.needs_turn
    assert all(c.number is not None for c in made.entry.clauses if isinstance(c, Opened))


def test_next_number_is_after_the_highest_ever_given(mill: Mill, reader: Reader) -> None:
    assert next_number([]) == 1
    text = "day 2026-11-24 night by KM\n22:10 A07 open no 4 x\n22:20 A07 done no 4\n"
    assert next_number(numbers_given(reader.read(text).entries)) == 5
    most = "day 2026-11-24 night by KM\n22:10 A07 open no 999999999 x\n22:11 A07 open no 1 y\n"
    assert next_number(numbers_given(reader.read(most).entries)) == 2


def test_the_mark_of_a_line_kept_anyway_leaves_it_refused(mill: Mill, reader: Reader) -> None:
    now = utc("2026-11-25T02:40")
    made = marked(draft("A07 lefft tape 2.35 mm", "KM", now, mill, reader), reader)
    assert made.line == "02:40 A07 lefft tape 2.35 mm" + KEPT_ANYWAY
    assert made.entry is None
    kept = marked(draft("A07 xx; isolated by KM", "KM", now, mill, reader), reader)
    assert len(kept.reading.entries) == 1  # the isolation in it counts all the same


def test_the_entrys_own_writer_counts_without_another(mill: Mill, reader: Reader) -> None:
    now = utc("2026-11-25T02:40")
    assert draft("A07 stopped; by RB", None, now, mill, reader).who == "RB"
    assert draft("A07 stopped; by RB", None, now, mill, reader).path.endswith("-night-RB.log")
    assert draft("A07 stopped; by RB", "KM", now, mill, reader).who == "KM"
    assert draft("A07 isolated by RB", None, now, mill, reader).who is None
    assert draft("A07 fault broken by hand truck", None, now, mill, reader).who is None
