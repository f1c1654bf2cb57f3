"""Actions: opened, closed by number or time, due, and dropped with their reason."""

from __future__ import annotations

from datetime import timedelta

import pytest

from board.reckon.refusal import Refusal
from board.reckon.summary import summarise
from board.snapshot import Snapshot
from board.state.fleet import Action
from grammar.entries import DueAt, DueBeforeStart
from tests.state.shed import REGISTER, at, codes, loom, night, read

ONE = "22:10 A07 open no 31 recheck left tape"
BARE = "22:20 A07 open 2 clamps missing"


def _open(shed: Snapshot) -> list[str]:
    states = shed.fleet.looms.values()
    everything: list[Action] = [*shed.fleet.shed.actions, *(a for s in states for a in s.actions)]
    return [a.text for a in everything]


# lines, texts still open, codes
CASES: list[tuple[list[str], list[str], list[str]]] = [
    ([ONE], ["recheck left tape"], []),
    ([ONE, "23:00 A07 done no 31 smooth"], [], []),
    ([ONE, "23:00 A07 dropped no 31 loom sold"], [], []),
    ([ONE, "23:00 A07 done no 32 smooth"], ["recheck left tape"], ["no-such-action"]),
    ([ONE, "23:00 A08 done no 31 smooth"], ["recheck left tape"], ["no-such-action"]),
    ([ONE, "23:00 A done no 31 smooth"], [], []),
    ([ONE, "23:00 shed dropped no 31 not needed"], [], []),
    ([ONE, "23:00 B done no 31 smooth"], ["recheck left tape"], ["no-such-action"]),
    ([ONE, "23:00 A07 done no 31 once", "23:01 A07 done no 31 twice"], [], ["no-such-action"]),
    ([ONE, "23:00 A07 done 22:10 smooth"], [], []),
    ([BARE], ["2 clamps missing"], []),
    ([BARE, "23:00 A07 done 22:20 fitted"], [], []),
    ([BARE, "23:00 A07 done 2026-11-24T22:20 fitted"], [], []),
    ([BARE, "23:00 A07 done 22:21 fitted"], ["2 clamps missing"], ["no-such-action"]),
    ([BARE, "23:00 A08 done 22:20 fitted"], ["2 clamps missing"], ["no-such-action"]),
    ([BARE, "22:20 A07 open oil the shaft", "23:00 A07 done 22:20"], ["2 clamps missing", "oil the shaft"], ["no-such-action"]),
    ([BARE, "22:20 A07 open oil the shaft", "23:00 A07 done 22:20 oil the shaft"], ["2 clamps missing"], []),
    ([BARE, "22:20 A07 open oil the shaft", "23:00 A07 done 22:20 fitted"], ["2 clamps missing", "oil the shaft"], ["no-such-action"]),
    ([ONE, "22:10 A07 open look again", "23:00 A07 done 22:10 fine"], ["recheck left tape"], []),
    (["22:10 A open no 5 count the weights", "23:00 A done no 5 all there"], [], []),
    (["22:10 A open no 5 count the weights", "23:00 A03 done no 5 all there"], [], []),
    (["22:10 A open no 5 count the weights", "23:00 B02 done no 5 all there"], ["count the weights"], ["no-such-action"]),
    (["22:10 A open count the weights", "23:00 A done 22:10 all there"], [], []),
    (["22:10 shed open no 5 sweep", "23:00 A01-A03 done no 5 swept"], [], []),
    (["22:10 A07 open no 5 own", "22:11 A open no 6 row", "23:00 A07 done no 6"], ["own"], []),
    ([ONE, "22:40 A08 open no 31 other"], ["recheck left tape", "other"], ["number-taken"]),
    ([ONE, "22:40 A open no 31 other"], ["other", "recheck left tape"], ["number-taken"]),
    ([ONE, "22:40 A07 done no 31", "22:50 A08 open no 31 again"], ["again"], []),
    ([ONE, "22:40 A07 done no 31; open no 31 again"], ["again"], []),
    ([ONE, "22:40 A07 open no 31 twice", "22:50 A07 done no 31 first"], ["twice"], ["number-taken"]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("lines", "left", "complaints"), CASES, ids=[" / ".join(c[0]) for c in CASES]
)
def test_what_stays_open(lines: list[str], left: list[str], complaints: list[str]) -> None:
    shed = night(*lines)
    assert _open(shed) == left
    assert codes(shed) == complaints


def test_a_loom_s_own_number_comes_before_a_group_s() -> None:
    shed = night("22:10 A open no 5 row", "22:11 A07 open no 5 own", "23:00 A07 done no 5 x")
    assert _open(shed) == ["row"]


def test_a_number_on_another_loom_is_named_in_the_help() -> None:
    (complaint,) = night(ONE, "23:00 A08 done no 31 smooth").complaints
    assert complaint.diagnostic.help == "no 31 is open on A07"


def test_how_an_action_was_closed() -> None:
    shed = night(ONE, BARE, "23:00 A07 done no 31 smooth; by RB", "23:10 A07 dropped 22:20 no use")
    assert [(c.action.number, c.dropped, c.text, c.by) for c in shed.fleet.history.closed] == [
        (31, False, "smooth", "RB"), (None, True, "no use", "KM"),
    ]  # fmt: skip


def _overdue(shed: Snapshot) -> bool | Refusal:
    (line,) = summarise(shed).loom("A07").actions
    return line.overdue


# the due, a moment at which it is not overdue, and one at which it is
TIMES = [
    ("06:00", "2026-11-25 06:00", "2026-11-25 06:01"),
    ("2026-11-26", "2026-11-27 00:00", "2026-11-27 00:01"),
    ("2026-11-25T12:30", "2026-11-25 12:30", "2026-11-25 12:31"),
    ("early", "2026-11-25 06:00", "2026-11-25 06:01"),
    ("night", "2026-11-25 22:00", "2026-11-25 22:01"),
]


@pytest.mark.parametrize(("due", "not_yet", "overdue"), TIMES, ids=[t[0] for t in TIMES])
def test_due_at_a_time_is_overdue_after_exactly_that_moment(
    due: str, not_yet: str, overdue: str
) -> None:
    line = f"22:10 A07 open recheck; due {due}"
    assert isinstance(loom(night(line)).actions[0].due, DueAt)
    assert _overdue(night(line, now=not_yet)) is False
    assert _overdue(night(line, now=overdue)) is True


def test_due_before_start_is_overdue_once_the_loom_runs() -> None:
    lines = ("22:00 A07 stopped for part", "22:10 A07 open close the guard; due before start")
    assert isinstance(loom(night(*lines)).actions[0].due, DueBeforeStart)
    assert _overdue(night(*lines)) is False
    assert _overdue(night(*lines, "23:00 A07 running")) is True


@pytest.mark.parametrize(
    ("due", "not_yet", "overdue"),
    [
        # running from 22:30, so 3 h are used at 01:30; 500/min x 60 x 3 h = 90 000 picks
        ("in 3 h", "2026-11-25 01:30", "2026-11-25 01:31"),
        ("in 90000 picks", "2026-11-25 01:30", "2026-11-25 01:31"),
    ],
)
def test_due_after_use_counts_this_looms_running(due: str, not_yet: str, overdue: str) -> None:
    lines = (
        "22:00 A07 stopped for part",
        f"22:10 A07 open recheck; due {due}",
        "22:30 A07 running",
    )
    assert _overdue(night(*lines, now=not_yet)) is False
    assert _overdue(night(*lines, now=overdue)) is True


def test_due_after_use_where_no_use_is_known_is_no_guess() -> None:
    assert isinstance(_overdue(night("22:10 A07 open recheck; due in 3 h")), Refusal)


# A recheck in 24 h, and before start, goes along with its part: replaced on A05 at 06:00 of the
# 23rd, moved to A07 at 07:00 of the 24th.
DAYS = (
    "day 2026-11-23 early by KM\n06:00 A05 running; replaced left head\n"
    "day 2026-11-24 early by RB\n{before}07:00 A07 moved left head from A05\n{after}"
)


@pytest.mark.parametrize(
    ("before", "after", "now", "since"),
    [
        # 24 running hours were up at 06:00 on A05; A07 has no motion on record, or stands
        ("", "", "2026-11-24 07:30", "2026-11-24 06:00"),
        ("", "", "2026-11-25 07:00", "2026-11-24 06:00"),
        ("06:30 A07 stopped\n", "", "2026-11-24 12:00", "2026-11-24 06:00"),
        # 10 h on A05, then on A07 from 08:00: the other 14 h are up at 22:00
        ("2026-11-23T16:00 A05 stopped\n06:30 A07 stopped\n", "08:00 A07 running\n",
         "2026-11-24 22:00", None),
        ("2026-11-23T16:00 A05 stopped\n06:30 A07 stopped\n", "08:00 A07 running\n",
         "2026-11-24 22:02", "2026-11-24 22:00"),
        # what A07 ran before the part came, and A05 after it had gone, counts for nothing
        ("2026-11-23T16:00 A05 stopped\n2026-11-22T06:00 A07 running\n06:59 A07 stopped\n",
         "07:30 A05 running\n", "2026-11-26 07:00", None),
    ],
)  # fmt: skip
def test_a_recheck_goes_along_with_its_part(
    before: str, after: str, now: str, since: str | None
) -> None:
    shed = read({"a.log": DAYS.format(before=before, after=after)}, now=now)
    assert summarise(shed).loom("A05").actions == ()
    (line,) = summarise(shed).loom("A07").actions
    assert (line.action.opened, line.action.by) == (at("2026-11-23 06:00"), "KM")
    assert line.overdue is (since is not None)
    if since is not None:
        assert line.overdue_since is not None
        assert abs(line.overdue_since - at(since)) <= timedelta(minutes=1)
    closed = DAYS.format(before=before, after=f"07:10 A07 done 2026-11-23T06:00 fine\n{after}")
    assert loom(read({"a.log": closed}, now=now)).actions == ()


def test_a_start_before_a_part_was_moved_is_a_start() -> None:
    register = REGISTER.replace('recheck = "in 24 h"', 'recheck = "before start"')
    for ran, since in (("06:01 A05", "2026-11-24 06:01"), ("06:01 A07", None)):
        log = (
            "day 2026-11-24 early by KM\n06:00 A05 replaced left head\n"
            f"{ran} running\n07:00 A07 moved left head from A05\n"
        )
        shed = read({"a.log": log}, register=register, now="2026-11-24 09:00")
        (line,) = summarise(shed).loom("A07").actions
        assert line.overdue_since == (at(since) if since else None)


def test_a_group_in_the_same_minute_opens_before_its_looms_close() -> None:
    shed = read(
        {
            "a.log": "day 2026-11-24 night by KM\n22:10 A03 done no 5 swept\n",
            "b.log": "day 2026-11-24 night by RB\n22:10 A open no 5 sweep\n",
        }
    )
    assert (_open(shed), codes(shed)) == ([], [])
    assert shed.fleet.history.closed[0].when == at("2026-11-24 22:10")
