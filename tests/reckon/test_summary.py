"""The one source of counts and lists: looks at locks, silence, overdue actions, handovers.

Every expectation is worked out by hand from the lines of the log.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from board.reckon.refusal import Refusal
from board.reckon.summary import Summary, default_since, last_handover, since_of, summarise
from tests.state.shed import REGISTER, at, night, read

GAPS = REGISTER.replace(
    'shifts = { early = "06:00-14:00", late = "14:00-22:00", night = "22:00-06:00" }',
    'shifts = { early = "06:00-14:00", late = "14:00-22:00" }',
)
OVERLAP = REGISTER.replace('night = "22:00-06:00"', 'night = "22:00-06:30"')
NO_SUNDAY = REGISTER.replace('days = "mon-sun"', 'days = "mon-sat"')


def summed(*lines: str, now: str = "2026-11-25 06:00", register: str = REGISTER) -> Summary:
    return summarise(night(*lines, now=now, register=register))


def full(*lines: str, now: str, register: str = REGISTER) -> Summary:
    return summarise(read({"a.log": "".join(f"{x}\n" for x in lines)}, now, register=register))


# -- seen this shift -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("seen", "now", "register", "expected"),
    [
        ("2026-11-25T06:00", "2026-11-25 06:00", REGISTER, True),  # the shift's first minute
        ("2026-11-25T05:59", "2026-11-25 06:00", REGISTER, False),  # the night's look
        ("2026-11-25T05:59", "2026-11-25 05:59", REGISTER, True),
        ("2026-11-25T07:10", "2026-11-25 13:59", REGISTER, True),
        ("2026-11-25T13:59", "2026-11-25 14:00", REGISTER, False),
        # closed hours begin at 22:00: the late shift's look does not count in them
        ("2026-11-25T21:30", "2026-11-26 02:00", GAPS, False),
        ("2026-11-25T22:30", "2026-11-26 02:00", GAPS, True),
        ("2026-11-25T22:30", "2026-11-26 06:00", GAPS, False),
        # shifts that overlap: from 06:00 on the early one is meant
        ("2026-11-25T05:50", "2026-11-25 06:10", OVERLAP, False),
        ("2026-11-25T06:05", "2026-11-25 06:10", OVERLAP, True),
    ],
)
def test_seen_this_shift(seen: str, now: str, register: str, expected: bool) -> None:
    lines = ("2026-11-24T20:00 A07 isolated by KM", f"{seen} A07 lock seen by RB")
    summary = full(*lines, now=now, register=register)
    (lock,) = summary.loom("A07").state.locks
    assert lock.seen is not None
    assert summary.seen_this_shift(lock) is expected


def test_a_lock_that_nobody_looked_at_is_unseen_in_closed_hours_too() -> None:
    summary = full("2026-11-25T20:00 A07 isolated by KM", now="2026-11-26 02:00", register=GAPS)
    assert summary.shift is None
    assert not summary.seen_this_shift(summary.loom("A07").state.locks[0])


def test_a_lock_put_on_after_the_look_is_unseen() -> None:
    summary = full(
        "2026-11-25T06:10 A07 isolated by KM",
        "2026-11-25T06:20 A07 lock seen by RB",
        "2026-11-25T06:30 A07 isolated by JO",
        now="2026-11-25 07:00",
    )
    locks = summary.loom("A07").state.locks
    assert [(k.by, summary.seen_this_shift(k)) for k in locks] == [("KM", True), ("JO", False)]


@pytest.mark.parametrize(
    ("now", "register", "before"),
    [
        ("2026-11-25 06:10", REGISTER, "night"),
        ("2026-11-25 06:10", OVERLAP, "night"),  # it has not ended yet
        ("2026-11-25 14:10", OVERLAP, "early"),
        ("2026-11-26 02:00", GAPS, "late"),  # closed hours
        ("2026-11-26 06:00", GAPS, "late"),
    ],
)
def test_the_shift_before(now: str, register: str, before: str) -> None:
    assert summed(now=now, register=register).previous.shift.name == before


# -- silence -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("last", "now", "register", "shifts"),
    [
        ("2026-11-24T23:00", "2026-11-25 06:00", REGISTER, 0),
        ("2026-11-24T21:00", "2026-11-25 06:00", REGISTER, 1),  # the night
        ("2026-11-24T06:00", "2026-11-25 06:00", REGISTER, 2),  # late, night
        ("2026-11-23T23:00", "2026-11-25 06:00", REGISTER, 3),
        # two shifts a day: at 02:00 nothing runs, the late shift is whole and over
        ("2026-11-25T13:00", "2026-11-26 02:00", GAPS, 1),
        ("2026-11-25T13:00", "2026-11-26 06:00", GAPS, 1),
        # Saturday evening to Monday morning: Saturday's night alone was worked in between
        ("2026-11-21T21:00", "2026-11-23 06:00", REGISTER, 4),
        ("2026-11-21T21:00", "2026-11-23 06:00", NO_SUNDAY, 1),
        ("2026-11-22T10:00", "2026-11-23 06:00", NO_SUNDAY, 0),  # somebody wrote on the Sunday
    ],
)
def test_silence_in_whole_shifts_that_were_worked(
    last: str, now: str, register: str, shifts: int
) -> None:
    summary = full(f"{last} A07 note hm", now=now, register=register)
    assert summary.loom("A07").silent_shifts == shifts
    assert summary.loom("A07").is_silent is (shifts >= 3)


def test_a_loom_without_any_entry_is_silent_and_a_laid_up_one_is_not() -> None:
    summary = full("2026-11-20T10:00 A07 stopped for laid-up", now="2026-11-25 06:00")
    assert not summary.loom("A07").is_silent
    assert summary.loom("A01").silent_shifts is None
    assert summary.loom("A01").silence == "no entry at all"
    assert summary.counts.silent == 11  # twelve looms, one laid up


# -- overdue -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lines", "now", "overdue"),
    [
        (("22:10 A07 open look; due 05:00",), "2026-11-25 05:00", False),  # this very minute
        (("22:10 A07 open look; due 05:00",), "2026-11-25 05:01", True),
        (("22:10 A07 open look; due early",), "2026-11-25 06:00", False),
        (("22:10 A07 open look; due early",), "2026-11-25 06:01", True),
        (("22:10 A07 open look; due 2026-11-25",), "2026-11-26 00:00", False),  # the day's end
        (("22:10 A07 open look; due 2026-11-25",), "2026-11-26 00:01", True),
        (("22:10 A07 open look",), "2026-12-25 06:00", False),
        # before start: it runs already, and does not stop
        (("22:00 A07 running", "22:10 A07 open look; due before start"), "2026-11-25 06:00", False),
        # it was started with the action open
        (("22:10 A07 open look; due before start", "22:20 A07 running"), "2026-11-25 06:00", True),
        # a new style, or running said again, is no start
        (("22:00 A07 running", "22:10 A07 open look; due before start", "22:20 A07 style 4410",
          "22:30 A07 running"), "2026-11-25 06:00", False),
        (("22:00 A07 stopped", "22:10 A07 open look; due before start"), "2026-11-25 06:00", False),
        # it was started and stands again: the start has been all the same
        (("22:00 A07 stopped", "22:10 A07 open look; due before start", "22:20 A07 running",
          "22:30 A07 stopped"), "2026-11-25 06:00", True),
        # four running hours from 23:00
        (("22:00 A07 running", "23:00 A07 open look; due in 4 h"), "2026-11-25 03:00", False),
        (("22:00 A07 running", "23:00 A07 open look; due in 4 h"), "2026-11-25 03:01", True),
        # at 500 picks a minute 30000 picks take an hour
        (("22:00 A07 running", "23:00 A07 open look; due in 30000 picks"), "2026-11-25 00:00", False),
        (("22:00 A07 running", "23:00 A07 open look; due in 30000 picks"), "2026-11-25 00:01", True),
    ],
)  # fmt: skip
def test_overdue(lines: tuple[str, ...], now: str, overdue: bool) -> None:
    (action,) = summed(*lines, now=now).loom("A07").actions
    assert action.overdue is overdue


@pytest.mark.parametrize(
    ("lines", "since"),
    [
        (("22:10 A07 open look; due 05:00",), "05:00"),
        # the first start of several, the last of which goes on
        (("22:10 A07 open look; due before start", "22:20 A07 running", "22:30 A07 stopped",
          "22:40 A07 running", "22:50 A07 style 4410"), "22:20"),
        (("22:00 A07 running", "22:10 A07 open look; due before start", "22:20 A07 stopped",
          "22:40 A07 running"), "22:40"),
        (("22:00 A07 running", "23:00 A07 open look; due in 4 h"), "03:00"),
        # an hour of 30000 picks, with half an hour of standing in it
        (("22:00 A07 running", "23:00 A07 open look; due in 30000 picks", "23:10 A07 stopped",
          "23:40 A07 running"), "00:30"),
        (("22:00 A07 running", "22:10 A07 open look; due before start"), None),
    ],
)  # fmt: skip
def test_since_when_it_is_overdue(lines: tuple[str, ...], since: str | None) -> None:
    (action,) = summed(*lines, now="2026-11-25 06:00").loom("A07").actions
    told = action.overdue_since
    assert (None if told is None else f"{told + timedelta(seconds=30):%H:%M}") == since


def test_a_due_by_use_of_a_loom_without_motion_cannot_be_told() -> None:
    (action,) = summed("22:10 A07 open look; due in 4 h").loom("A07").actions
    assert isinstance(action.overdue, Refusal)
    assert not action.is_overdue


def test_a_group_has_no_start_and_no_use_of_its_own() -> None:
    summary = summed("22:10 A open oil; due before start", "22:11 shed open sweep; due in 4 h")
    assert all(isinstance(a.overdue, Refusal) for a in summary.shed_actions)


def test_actions_stand_most_overdue_first_then_by_due_then_by_age() -> None:
    summary = summed(
        "22:10 A01 open no 1 none",
        "22:11 A02 open no 2 later; due 09:00",
        "22:12 A03 open no 3 long ago; due 22:30",
        "22:13 A04 open no 4 a while ago; due 04:00",
        "22:09 A05 open no 5 oldest",
        "22:14 A06 open no 6 before; due before start",
        "22:40 A06 running",
        "22:15 A07 running; open no 7 in use; due in 3 h",
    )
    assert [a.action.number for a in summary.actions] == [3, 6, 7, 4, 2, 5, 1]


@pytest.mark.parametrize(
    ("now", "shifts"), [("2026-11-25 05:59", 0), ("2026-11-25 06:00", 1), ("2026-11-26 06:00", 4)]
)
def test_age_counts_the_shifts_that_began_since(now: str, shifts: int) -> None:
    (action,) = summed("22:10 A07 open look", now=now).loom("A07").actions
    assert action.age_shifts == shifts


# -- handovers -----------------------------------------------------------------------------

TAKEN = ("2026-11-24T22:04 shed handed over DW to KM", "2026-11-24T22:05 shed taken over by KM")


def test_changed_begins_at_the_shift_before_where_nothing_was_taken_over() -> None:
    assert default_since(full(now="2026-11-25 06:10")) == at("2026-11-24 22:00")
    assert default_since(full(now="2026-11-25 06:10", register=OVERLAP)) == at("2026-11-24 22:00")


def test_a_section_taken_over_hides_nothing_of_the_others() -> None:
    lines = (*TAKEN, "2026-11-25T06:01 A taken over by RB")
    whole = full(*lines, now="2026-11-25 07:00")
    assert last_handover(whole) == at("2026-11-24 22:05")
    both = full(*lines, "2026-11-25T06:03 B taken over by RB", now="2026-11-25 07:00")
    assert last_handover(both) == at("2026-11-25 06:01")


def test_of_one_section_its_own_taking_over_counts() -> None:
    lines = "\n".join((*TAKEN, "2026-11-25T06:01 A taken over by RB")) + "\n"
    shot = read({"a.log": lines}, "2026-11-25 07:00")
    assert last_handover(summarise(shot, section="A")) == at("2026-11-25 06:01")
    assert last_handover(summarise(shot, section="B")) == at("2026-11-24 22:05")


def test_a_section_that_nobody_took_over_is_not_said_to_be() -> None:
    summary = full("2026-11-25T06:01 A taken over by RB", now="2026-11-25 07:00")
    assert last_handover(summary) is None
    assert since_of(summary, "rb") == at("2026-11-25 06:01")
    assert since_of(summary, "QQ") is None


def test_a_handover_that_was_said_and_not_taken_stays_open() -> None:
    summary = full(TAKEN[0], now="2026-11-25 06:00")
    assert [(h.by, h.to) for h in summary.handovers_open] == [("DW", "KM")]
    assert full(*TAKEN, now="2026-11-25 06:00").handovers_open == ()


# -- counts are the lengths of lists, and isolations of other sections are kept -------------

MANY = (
    "22:00 A01 isolated by KM", "22:01 A01 isolated by JO", "22:02 A02 isolated by KM",
    "22:03 A02 running", "22:04 B01 isolated by TN", "22:05 A03 stopped for warp",
    "22:06 A04 running", "22:07 A04 left tape 2.30 mm", "22:08 A04 right tape 2.46 mm",
    "22:09 A04 left guide 1 gap gauge 0.40 mm enters", "22:10 A05 opne x",
    "22:11 shed open sweep", "22:12 A06 replaced left tape",
)  # fmt: skip


def test_counts() -> None:
    counts = summed(*MANY).counts
    assert (counts.isolated, counts.conflict) == (3, 1)
    # A02 is written as running over its lock
    assert (counts.running, counts.stopped, counts.unknown) == (2, 3, 7)
    assert (counts.past_limit, counts.at_limit) == (2, 1)  # 2.30 and the gauge; 2.46
    assert (counts.actions, counts.proofs_missing) == (1, 3)  # torque, thread-locked, joint
    assert counts.not_understood == 1


def test_a_board_of_one_section_still_knows_the_isolations_of_the_others() -> None:
    only = summarise(night(*MANY), section="B")
    assert [x.loom for x in only.looms] == ["B01", "B02", "B03"]
    assert only.counts.isolated == 1
    assert [s.loom for s in only.isolated_elsewhere] == ["A01", "A02"]
    assert summarise(night(*MANY)).isolated_elsewhere == ()


def test_the_worst_part_may_be_a_gauge_verdict() -> None:
    lines = ("22:07 A04 left tape 2.46 mm", "22:09 A04 left guide 1 gap gauge 0.40 mm enters")
    worst = summed(*lines).loom("A04").worst
    assert worst is not None
    assert worst.name == "left guide 1 gap"


def test_a_lock_written_for_later_counts_and_is_known_as_such() -> None:
    summary = full("2026-11-25T07:00 A07 isolated by KM", now="2026-11-25 06:00")
    (lock,) = summary.loom("A07").state.locks
    assert summary.is_to_come(lock)
    assert summary.counts.isolated == 1
