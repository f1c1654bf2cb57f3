"""The single rows of the board: what is never cut, bars and margins, dues in words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from board.reckon.first_looks import look_first
from board.reckon.left import Ahead, Band
from board.reckon.margins import WearLine
from board.reckon.refusal import Refusal
from board.reckon.summary import Summary, summarise
from board.show.rows import (
    action_row,
    ahead_words,
    change_row,
    conflict_row,
    due_words,
    first_row,
    lock_row,
    margin_words,
    share_of_u,
    short_lock,
    signed_margin,
    value_words,
    wear_bar,
)
from board.show.text import width
from tests.state.shed import REGISTER, night, read

LONG_NAMES = REGISTER.replace('["B01-B03"]', '["LOOM-1001", "LOOM-1002"]')


def summed(*lines: str, now: str = "2026-11-25 06:00", register: str = REGISTER) -> Summary:
    return summarise(night(*lines, now=now, register=register))


# -- isolations ----------------------------------------------------------------------------


def rows_of_locks(summary: Summary, loom: str, cells: int) -> list[str]:
    state = summary.loom(loom).state
    return [lock_row(summary, state, lock, cells).fitted(cells).plain for lock in state.locks]


def test_a_lock_in_full() -> None:
    summary = summed("22:10 A07 isolated by KM lock 14", "22:20 A07 isolated by JO")
    assert rows_of_locks(summary, "A07", 80) == [
        "A07  KM since 22:10  lock 14   not yet seen this shift",
        "A07  JO since 22:20   not yet seen this shift",
    ]


def test_a_lock_that_was_seen() -> None:
    log = "2026-11-25T05:00 A07 isolated by KM\n2026-11-25T06:10 A07 lock seen by RB\n"
    summary = summarise(read({"a.log": log}, "2026-11-25 07:00"))
    assert rows_of_locks(summary, "A07", 80) == ["A07  KM since 05:00   seen by RB 06:10"]


@pytest.mark.parametrize("cells", [60, 80, 100])
def test_a_long_text_of_a_lock_never_takes_its_mark_away(cells: int) -> None:
    text = "lock 14 behind the creel because the guard of the left head is off " * 3
    (row,) = rows_of_locks(summed(f"22:10 A07 isolated by KM {text}"), "A07", cells)
    assert row.startswith("A07  KM since 22:10  lock 14")
    assert row.endswith("~   not yet seen this shift")
    assert width(row) == cells


def test_blanks_in_a_lock_hide_nothing() -> None:
    (row,) = rows_of_locks(summed(f"22:10 A07 isolated by KM {' ' * 90}lock 14"), "A07", 80)
    assert row == "A07  KM since 22:10  lock 14   not yet seen this shift"


def test_a_long_loom_name_is_never_cut() -> None:
    summary = summed("22:10 LOOM-1001 isolated by KM", register=LONG_NAMES)
    assert rows_of_locks(summary, "LOOM-1001", 80) == [
        "LOOM-1001 KM since 22:10   not yet seen this shift"
    ]


def test_a_lock_written_for_later_says_so() -> None:
    summary = summarise(
        read({"a.log": "2026-11-25T07:00 A07 isolated by KM\n"}, "2026-11-25 06:00")
    )
    (row,) = rows_of_locks(summary, "A07", 80)
    assert row == "A07  KM since 25 Nov 07:00, a time still to come   not yet seen this shift"
    state = summary.loom("A07").state
    assert short_lock(summary, state, state.locks[0]) == "A07 KM*+"


def test_a_conflict_names_the_writer_of_its_own_line_only() -> None:
    first = ("22:10 A07 isolated by KM", "22:20 A07 running; by DW")
    told = "A07  CONFLICT  written as running 22:20{}, locks stand: ask there"
    state = summed(*first).loom("A07").state
    assert conflict_row(summed(*first), state).plain == told.format(" by DW")
    again = summed(*first, "23:00 A07 running; by RB")
    assert conflict_row(again, again.loom("A07").state).plain == told.format("")
    assert short_lock(again, again.loom("A07").state, again.loom("A07").state.locks[0]) == (
        "A07 KM* CONFLICT"
    )


# -- wear ----------------------------------------------------------------------------------


def worn(reading: str) -> WearLine:
    (line,) = summed(f"22:10 A07 {reading}").loom("A07").wear
    return line


@pytest.mark.parametrize(
    ("reading", "words", "short", "value"),
    [
        ("left tape 2.30 mm", "PAST LIMIT by 0.15 mm", "PAST LIMIT -0.15 mm", "2.30 mm"),
        ("left tape 2.46 mm", "AT LIMIT, 0.01 mm inside", "AT LIMIT +0.01 mm", "2.46 mm"),
        ("left tape 2.44 mm", "AT LIMIT, 0.01 mm beyond", "AT LIMIT -0.01 mm", "2.44 mm"),
        ("left tape 2.55 mm", "0.10 mm to limit", "near limit +0.10 mm", "2.55 mm"),
        ("left tape 3.00 mm", "0.55 mm to limit", "within limit +0.55 mm", "3.00 mm"),
        ("left guide 1 gap gauge 0.40 mm enters", "gauge past", "gauge past", "at least 0.40 mm"),
        ("left tape gauge 2.45 mm enters", "gauge past", "gauge past", "at most 2.45 mm"),
        # of a band the end is named, by the side on which the reading lies
        ("belt 60 Hz", "8.0 Hz below 68", "within limit 68", "60.0 Hz"),
        ("belt 48.2 Hz", "1.2 Hz above 47", "near limit 47", "48.2 Hz"),
        ("belt 48 Hz", "AT LIMIT, 1.0 Hz inside", "AT LIMIT +1.0 Hz", "48.0 Hz"),
    ],
)
def test_margins_in_words(reading: str, words: str, short: str, value: str) -> None:
    line = worn(reading)
    assert (margin_words(line), signed_margin(line), value_words(line)) == (words, short, value)


@pytest.mark.parametrize(
    ("reading", "bar"),
    [
        ("left tape 3.20 mm", "          |  "),
        # 0.30 of 0.75 gone: 0.40, uncertain by 0.04: sure to 0.36, likely to 0.44
        ("left tape 2.90 mm", "====      |  "),
        ("left tape 2.60 mm", "========  |  "),  # 0.76 to 0.84
        ("left tape 2.45 mm", "==========|  "),  # 0.96 to 1.04: cell ten stands for 0.95
        ("left tape 2.30 mm", "==========|=."),  # 1.2; 1.16 to 1.24: 1.05 sure, 1.15 sure
        ("left guide 1 gap gauge 0.40 mm enters", "             "),
    ],
)
def test_a_bar_of_the_reading_alone(reading: str, bar: str) -> None:
    line = worn(reading)
    new = 3.20 if "tape" in reading else 0.12
    made = wear_bar(line, share_of_u(line, new))
    assert len(made) == len(bar) == 13
    assert made[:11] == bar[:11]


def ahead(low: float, high: float | None, shifts: bool = True) -> WearLine:
    from typing import cast

    from board.reckon.forecast import Forecast

    band = Band(median=low, low=low, high=high)
    made = Ahead(
        limit=2.45,
        hours=band, shifts=band if shifts else Refusal(reason="x"), picks=Refusal(reason="x"),
        p_before_shift_end=Refusal(reason="x"), p_before_check=Refusal(reason="x"), used=30.0,
        basis="", readings=3, past_lives=0, forecast=cast("Forecast", None),
    )  # fmt: skip
    return replace(worn("left tape 2.60 mm"), ahead=made)


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (1.4, 4.4, "1 to 4 shifts"),
        (0.0, 0.8, "0 to 0.8 shifts"),
        (0.3, 12.0, "0.3 to 12 shifts"),
        (10.0, None, "10 or more shifts"),
        (0.0, None, "0 or more shifts"),
        (0.0, 0.4, "may be past now"),
    ],
)
def test_what_is_left_in_words(low: float, high: float | None, words: str) -> None:
    assert ahead_words(ahead(low, high)) == words


def test_without_shifts_hours_are_told_and_without_a_forecast_nothing() -> None:
    assert ahead_words(ahead(10.0, 20.0, shifts=False)) == "10 to 20 h"
    assert ahead_words(worn("left tape 2.60 mm")) == ""


def test_at_one_end_of_a_band_the_end_that_is_forecast_is_named() -> None:
    left = ahead(10.0, 20.0).ahead
    assert isinstance(left, Ahead)
    at_an_end = replace(worn("belt 67.5 Hz"), ahead=replace(left, limit=47.0))
    assert (margin_words(at_an_end), ahead_words(at_an_end)) == (
        "AT LIMIT, 0.5 Hz inside",
        "10 to 20 shifts to 47",
    )


def test_the_bar_of_a_forecast_grows_toward_the_limit() -> None:
    """30 h used; 10 to 30 h left: between 0.5 and 0.75 of the life."""
    assert wear_bar(ahead(10.0, 30.0), 0.0) == "=====...  |  "
    assert wear_bar(ahead(10.0, None), 0.0) == "........  |  "


@pytest.mark.parametrize("cells", range(40, 121, 5))
def test_a_number_is_shown_whole_or_not_at_all(cells: int) -> None:
    lines = (
        "22:10 A07 left guide 1 gap 0.41 mm",
        "22:11 A08 left tape 2.30 mm",
        "22:12 A09 belt 68.5 Hz",
    )
    summary = summed(*lines)
    for item in look_first(summary):
        if item.wear is not None:
            row = first_row(summary, item, cells).plain
            assert margin_words(item.wear) in row or width(row) > cells


def test_an_old_gauge_verdict_says_so_once() -> None:
    register = REGISTER.replace(
        "tool_uncertainty = 0.02", 'tool_uncertainty = 0.02\ncheck_every = "1 days"'
    )
    lines = ("22:10 A07 left guide 1 gap gauge 0.40 mm enters",)
    summary = summed(*lines, now="2026-11-27 06:00", register=register)
    (item,) = [i for i in look_first(summary) if i.wear is not None]
    assert first_row(summary, item, 80).plain.count("old reading") == 1


# -- actions and changes -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("due", "now", "words"),
    [
        ("", "2026-11-25 06:00", "no due"),
        ("; due 05:00", "2026-11-25 04:00", "due 25 Nov 05:00"),
        ("; due 05:00", "2026-11-25 06:00", "OVERDUE since 05:00"),
        ("; due early", "2026-11-25 06:00", "due 06:00"),
        ("; due early", "2026-11-26 06:00", "OVERDUE since 25 Nov 06:00"),  # which early one
        ("; due before start", "2026-11-25 06:00", "due before start"),
        ("; due in 4 h", "2026-11-25 06:00", "due in 4 h (use unknown)"),
        ("; due in 4 h; running", "2026-11-25 01:00", "due in 4 h"),
        ("; due in 4 h; running", "2026-11-25 06:00", "OVERDUE after 4 h"),
        ("; due in 100 picks; running", "2026-11-25 06:00", "OVERDUE after 100 picks"),
    ],
)
def test_dues_in_words(due: str, now: str, words: str) -> None:
    summary = summed(f"22:10 A07 open look{due}", now=now)
    assert due_words(summary, summary.actions[0]) == words


def test_what_was_due_before_a_start_that_came() -> None:
    summary = summed("22:10 A07 stopped; open look; due before start", "22:30 A07 running")
    assert due_words(summary, summary.actions[0]) == "OVERDUE was due before start"


def test_a_due_that_no_one_loom_can_meet_says_so() -> None:
    summary = summed("22:10 A open oil; due before start")
    assert due_words(summary, summary.actions[0]) == "due before start (of no one loom)"


@pytest.mark.parametrize("cells", [40, 60, 80, 99, 100, 120, 200])
@pytest.mark.parametrize(
    "text",
    ["look", "recheck the left tape and both clamp screws with the small key " * 2, "疲れた " * 30],
)
def test_an_action_fits_its_width_and_keeps_its_due(cells: int, text: str) -> None:
    summary = summed(f"22:10 A07 open no 12345 {text}; due 05:00; for RB")
    row = action_row(summary, summary.actions[0], cells).plain
    assert width(row) <= max(cells, 54)  # number, loom, twelve cells of text and the due
    assert row.startswith("12345  A07 ")
    assert "OVERDUE since 05:00" in row
    assert ("for RB" in row) is (cells >= 80 or text == "look")


def test_the_place_of_an_action_is_never_cut() -> None:
    summary = summed("22:10 A01-A06 open oil")
    assert action_row(summary, summary.actions[0], 80).plain.startswith("  -  A01-A06 oil")


def test_a_change_of_a_group_and_of_a_loom() -> None:
    from board.reckon.changes import changed_since
    from tests.state.shed import at

    summary = summed("22:10 A01-A06 open oil", "22:20 A07 fault noisy")
    rows = [change_row(summary, c).plain for c in changed_since(summary, at("2026-11-24 22:00"))]
    assert rows == ["22:20  A07  fault noisy  KM", "22:10  A01-A06 open oil  KM"]
