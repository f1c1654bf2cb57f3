"""Forecasts put onto the board's lines: refusals with their reasons, units, the near-limit word."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from board.reckon.first_looks import look_first, nearest_their_limits
from board.reckon.left import Ahead, Band
from board.reckon.margins import WearLine
from board.reckon.refusal import Refusal
from board.reckon.summary import Summary, summarise
from tests.state.shed import REGISTER, at, read

GAPS = REGISTER.replace(
    'shifts = { early = "06:00-14:00", late = "14:00-22:00", night = "22:00-06:00" }',
    'shifts = { early = "06:00-14:00", late = "14:00-22:00" }',
)


def summed(*lines: str, now: str = "2026-11-25 06:00", register: str = REGISTER) -> Summary:
    return summarise(read({"a.log": "".join(f"{x}\n" for x in lines)}, now, register=register))


def fallen(loom: str, *values: float, begin: str = "2026-11-01 06:00") -> list[str]:
    """A tape measured every 100 h while its loom runs without a stop."""
    start = at(begin)
    lines = [f"{start:%Y-%m-%dT%H:%M}+00:00 {loom} running; replaced left tape"]
    for n, value in enumerate(values):
        when = start + timedelta(hours=100 * n)
        lines.append(f"{when:%Y-%m-%dT%H:%M}+00:00 {loom} left tape {value:.2f} mm")
    return lines


def tape(summary: Summary, loom: str = "A07") -> WearLine:
    return next(w for w in summary.loom(loom).wear if w.at.part == "tape")


def ahead_of(line: WearLine) -> Ahead:
    assert isinstance(line.ahead, Ahead), line.ahead
    return line.ahead


def why_not(line: WearLine) -> str:
    assert isinstance(line.ahead, Refusal), line.ahead
    return line.ahead.reason


# -- refusals ------------------------------------------------------------------------------


def test_without_motion_or_counter_there_is_no_forecast_and_it_says_why() -> None:
    line = tape(summed("2026-11-24T23:00 A07 left tape 2.90 mm"))
    assert why_not(line) == "no motion and no counter of A07 on record"
    assert line.word.value == "within limit"  # by the share of the way that is left


def test_without_a_limit_there_is_no_forecast() -> None:
    register = REGISTER.replace("replace_below = 2.45\n", "")
    assert (
        why_not(tape(summed(*fallen("A07", 3.2, 3.1, 3.0), register=register))) == "no limit given"
    )


def test_two_readings_and_no_past_life_are_too_few() -> None:
    assert "past lives" in why_not(tape(summed(*fallen("A07", 3.2, 3.1))))


def test_an_implausible_reading_stays_out_of_the_forecast() -> None:
    """28.1 mm is no tape: with it or without, three good readings make the same forecast."""
    lines = fallen("A07", 3.2, 3.1, 3.0, 2.9)
    odd = "2026-11-20T10:00 A07 left tape 28.1 mm"
    assert ahead_of(tape(summed(*lines))).hours == ahead_of(tape(summed(*lines, odd))).hours


def test_a_part_proven_past_its_limit_has_no_forecast_after_a_verdict_that_decides_nothing() -> (
    None
):
    lines = fallen("A07", 3.2, 3.1, 3.0, 2.9, 2.8, 2.7)
    lines += [
        "2026-11-22T06:00 A07 left tape gauge 2.45 mm enters",
        "2026-11-22T07:00 A07 left tape gauge 2.30 mm stays out",
    ]
    line = tape(summed(*lines))
    assert line.word.value == "gauge past"
    assert why_not(line) == "the reading that stands is past the limit"


# -- what is left --------------------------------------------------------------------------


@pytest.fixture(scope="module")
def steady() -> Summary:
    """0.10 mm every 100 h from 3.20; read 2.70 at 500 h, now 576 h: the limit lies at 750 h."""
    return summed(*fallen("A07", 3.2, 3.1, 3.0, 2.9, 2.8, 2.7))


def test_the_line_through_its_own_readings(steady: Summary) -> None:
    ahead = ahead_of(tape(steady))
    assert ahead.used == pytest.approx(576.0)
    assert ahead.readings == 6
    assert ahead.hours.median == pytest.approx(750.0 - 576.0, rel=0.02)
    assert ahead.hours.low < 174.0
    assert ahead.hours.high is None or ahead.hours.high > 174.0


def test_shifts_and_picks_follow_from_the_looms_use(steady: Summary) -> None:
    """It runs 24 h a day in three shifts: 8 h a shift; 500 picks a minute: 30000 an hour."""
    ahead = ahead_of(tape(steady))
    assert isinstance(ahead.shifts, Band)
    assert isinstance(ahead.picks, Band)
    assert ahead.shifts.median == pytest.approx(ahead.hours.median / 8.0)
    assert ahead.picks.low == pytest.approx(ahead.hours.low * 30000.0)


def test_the_chance_before_the_end_of_the_shift_is_that_of_its_hours(steady: Summary) -> None:
    ahead = ahead_of(tape(steady))
    assert ahead.p_before_shift_end == pytest.approx(ahead.forecast.p_before(8.0))


def test_in_closed_hours_the_next_shift_is_meant() -> None:
    """At 02:00 nothing runs; the early shift ends at 14:00, twelve hours from now."""
    lines = fallen("A07", 3.2, 3.1, 3.0, 2.9, 2.8, 2.7)
    ahead = ahead_of(tape(summed(*lines, now="2026-11-25 02:00", register=GAPS)))
    assert ahead.p_before_shift_end == pytest.approx(ahead.forecast.p_before(12.0))
    assert isinstance(ahead.shifts, Band)
    assert ahead.shifts.low == pytest.approx(ahead.hours.low / 12.0)  # two shifts of its 24 h


def test_a_loom_that_has_not_run_of_late_has_hours_and_no_shifts() -> None:
    lines = fallen("A07", 3.2, 3.1, 3.0, 2.9, 2.8, 2.7)
    stopped = "2026-11-22T06:00 A07 stopped for order"
    ahead = ahead_of(tape(summed(*lines, stopped, now="2026-12-20 06:00")))
    assert ahead.shifts == Refusal(reason="the loom has not run of late")
    assert ahead.hours.median > 0


def test_without_a_speed_there_are_hours_and_no_picks() -> None:
    lines = fallen("B01", 3.2, 3.1, 3.0, 2.9, 2.8, 2.7)
    ahead = ahead_of(tape(summed(*lines), "B01"))
    assert ahead.picks == Refusal(reason="the register gives B01 no speed")


def test_the_word_follows_the_band_and_no_longer_the_share_that_is_left() -> None:
    """2.59 is in the last 20 % (from 2.60), but the early end of its band is far off."""
    values = (3.2, 3.0, 2.9, 2.8, 2.7, 2.6, 2.59)
    slow = fallen("A07", *values)
    line = tape(summed(*slow, now="2026-11-26 07:00"))
    ahead = ahead_of(line)
    near = ahead.hours.low <= 7.0  # this shift ends at 14:00, and no check is planned
    assert line.word.value == ("near limit" if near else "within limit")
    register = REGISTER.replace(
        "tool_uncertainty = 0.03", 'tool_uncertainty = 0.03\ncheck_every = "5000 h"'
    )
    planned = tape(summed(*slow, now="2026-11-26 07:00", register=register))
    assert planned.word.value == "near limit"  # long before the next check


def belt(*values: float) -> WearLine:
    """A belt in a band of 47 to 68 Hz, measured every 100 h while its loom runs without a stop."""
    start = at("2026-11-01 06:00")
    lines = [f"{start:%Y-%m-%dT%H:%M}+00:00 A07 running; replaced belt"]
    for n, value in enumerate(values):
        when = start + timedelta(hours=100 * n)
        lines.append(f"{when:%Y-%m-%dT%H:%M}+00:00 A07 belt {value} Hz")
    (line,) = summed(*lines).loom("A07").wear
    return line


@pytest.mark.parametrize(
    ("values", "limit", "margin", "worn", "word"),
    [
        # new is 61: toward the end that the readings move to, though the other is nearer
        ((66, 65, 64, 63, 62, 61), 47.0, 14.0, 0.0, "within limit"),
        ((66, 65, 64, 63, 62, 60), 47.0, 13.0, 1 / 14, "within limit"),
        ((49, 51, 53, 55, 56, 57), 68.0, 11.0, 0.0, "within limit"),
        ((58, 60, 62, 63, 64), 68.0, 4.0, 3 / 7, "near limit"),
        ((61, 61), 68.0, 7.0, 0.0, "within limit"),  # without a forecast the nearest
        ((60, 60), 68.0, 8.0, 1 / 14, "within limit"),
        ((66, 67, 68.5, 67.4, 67.2), 68.0, 0.8, 6.2 / 7, "AT LIMIT"),  # at an end that one
        ((61, 65, 69.5), 68.0, -1.5, 8.5 / 7, "PAST LIMIT"),
    ],
)
def test_of_a_band_limit_and_margin_are_of_the_end_that_is_forecast(
    values: tuple[float, ...], limit: float, margin: float, worn: float, word: str
) -> None:
    line = belt(*values)
    assert (line.limit, line.word.value) == (limit, word)
    assert (line.margin, line.worn) == (pytest.approx(margin), pytest.approx(worn))
    if isinstance(line.ahead, Ahead) and word != "AT LIMIT":
        assert line.ahead.limit == limit


def test_of_a_band_the_end_that_is_reached_first_counts() -> None:
    """A belt falls from 61 by 1 Hz in 100 h: 47 lies ahead, 68 behind."""
    line = belt(*(61 - 2 * n for n in range(6)))
    # 51 Hz at 500 h, 76 h ago: 700 h to 47 Hz in all
    assert ahead_of(line).hours.median == pytest.approx(700.0 - 576.0, rel=0.1)


# -- where they rank -----------------------------------------------------------------------


def test_what_runs_and_is_not_looked_at_first_stands_next_to_wear_out(steady: Summary) -> None:
    line = tape(steady)
    first = {id(i.wear) for i in look_first(steady) if i.wear is not None}
    nearest = {id(w) for w in nearest_their_limits(steady)}
    assert (id(line) in first) != (id(line) in nearest)
    stopped = replace(
        steady,
        looms=tuple(
            replace(x, state=summed("2026-11-24T23:00 A07 stopped").loom("A07").state)
            if x.loom == "A07" else x
            for x in steady.looms
        ),
    )  # fmt: skip
    assert nearest_their_limits(stopped) == ()
