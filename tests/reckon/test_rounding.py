"""Readings were at least rounded: a line through them is no surer than their last digit."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from board.reckon.forecast import Forecast, Unbounded
from board.reckon.ownline import own_lines
from board.reckon.refusal import Refusal
from board.reckon.series import Life, Quantity, Series, Toward, exact_series, pack
from board.reckon.study_record import as_record, digest
from board.reckon.wear import Study, forecasts, study
from tests.conftest import SMALL_REGISTER, Run

YOUNG = Refusal(reason="no past life")
TENSION = Quantity(limit=47.0, toward=Toward.DOWN, new=62.0)
MEASURED = replace(TENSION, uncertainty=0.5)
HOURS = [100.0, 200.0, 300.0, 400.0, 500.0]
# Scatter about the line: none; a little, inside the rounding; more than the rounding.
STRAIGHT, NEARLY, ROUGH = [60, 59, 58, 57, 56], [60, 59, 58, 57, 55.9], [60, 57, 58.5, 57, 54]


def of(value: list[float], step: float) -> Series:
    return exact_series(HOURS, value, step=step)


def answers(series: list[Series], quantity: Quantity, known: Study | Refusal) -> list[Forecast]:
    found = forecasts(series, quantity, known)
    assert all(isinstance(each, Forecast) for each in found), found
    return [each for each in found if isinstance(each, Forecast)]


def width(answer: Forecast) -> float:
    return math.inf if isinstance(answer.high, Unbounded) else answer.high - answer.low


def fleet(step: float) -> list[Life]:
    """Twelve lives that wear along a line without any scatter."""
    rates = np.random.default_rng(3).normal(1.0, 0.15, 12)
    lives = []
    for rate in rates:
        use = np.arange(0.0, 1600.0, 100.0)
        value = 62.0 - 0.012 * rate * use
        lives.append(Life(series=exact_series(use, value, step=step), ended=1600.0))
    return lives


def test_a_straight_line_of_whole_numbers_has_a_width() -> None:
    """By hand: the standard error of a line's value at its last of five readings."""
    packed = pack([of(STRAIGHT, 1.0)], TENSION)
    assert packed.rounding.tolist() == [pytest.approx(0.2887, abs=1e-4)]
    line = own_lines(packed, 0.0).crossing
    assert line.var_margin[0] == pytest.approx(0.6 / 12, rel=1e-6)  # 1/5 + 4/10
    assert line.margin[0] == pytest.approx(9.0)
    (found,) = answers([of(STRAIGHT, 1.0)], TENSION, YOUNG)
    assert found.median == pytest.approx(900.0, rel=0.01)
    assert width(found) > 100


def test_the_finest_digit_of_a_series_tells_its_step() -> None:
    series = replace(of(STRAIGHT, 1.0), step=np.array([1.0, 0.1, 0.0, 1.0, 1.0]))
    assert pack([series], TENSION).rounding[0] == pytest.approx(0.1 / math.sqrt(12))
    # what a gauge bounded, and a reading of which nothing is known, tell none
    bounded = replace(series, kind=np.array([0, 1, 0, 0, 0]))
    assert pack([bounded], TENSION).rounding[0] == pytest.approx(1.0 / math.sqrt(12))
    assert pack([of(STRAIGHT, 0.0)], TENSION).rounding[0] == 0.0


def test_scatter_that_is_greater_stays_and_no_band_is_narrower() -> None:
    for value in (STRAIGHT, NEARLY, ROUGH):
        (plain,) = answers([of(value, 0.0)], TENSION, YOUNG)
        (found,) = answers([of(value, 1.0)], TENSION, YOUNG)
        assert width(found) >= width(plain)
        assert found.low <= plain.low
    rough = answers([of(ROUGH, 0.0), of(ROUGH, 1.0)], TENSION, YOUNG)
    assert rough[0] == rough[1]


def test_a_gauge_whose_uncertainty_is_given_needs_no_step() -> None:
    for known in (YOUNG, study(fleet(1.0), MEASURED)):
        several = answers([of(NEARLY, 1.0), of(NEARLY, 0.0)], MEASURED, known)
        assert several[0] == several[1]
    taught = [study(fleet(step), MEASURED) for step in (1.0, 0.0)]
    assert as_record(taught[0]) == as_record(taught[1])


@pytest.mark.parametrize("young", [True, False])
def test_each_part_has_its_own_step_whatever_parts_are_reckoned_with_it(young: bool) -> None:
    known = YOUNG if young else study(fleet(0.1), TENSION)
    asked = [of(STRAIGHT, step) for step in (1.0, 0.0, 0.1, 0.01)] + [of(ROUGH, 1.0)]
    together = answers(asked, TENSION, known)
    alone = [answers([one], TENSION, known)[0] for one in asked]
    for one, other in zip(together, alone, strict=True):
        assert one.median == pytest.approx(other.median, rel=1e-9)
        assert one.low == pytest.approx(other.low, rel=1e-9)
        assert width(one) == pytest.approx(width(other), rel=1e-9)
    assert width(together[0]) > width(together[2]) > width(together[3])


def test_past_lives_are_learned_anew_where_they_were_written_otherwise() -> None:
    coarse, fine = study(fleet(2.0), TENSION), study(fleet(0.01), TENSION)
    assert isinstance(coarse, Study)
    assert isinstance(fine, Study)
    assert coarse.fleet.var_rate[0] != fine.fleet.var_rate[0]
    keys = {digest(fleet(step), TENSION) for step in (2.0, 0.01, 0.0)}
    assert len(keys) == 3


def test_steps_are_one_a_reading_or_none() -> None:
    with pytest.raises(ValueError, match="step"):
        pack([replace(of(STRAIGHT, 1.0), step=np.ones(2))], TENSION)


# -- from a log ----------------------------------------------------------------------------

REGISTER = SMALL_REGISTER + "\n[part.belt.tension]\nunit = 'Hz'\nband = [47.0, 68.0]\n"
AT = ("--at", "2026-11-16T12:00")


def wear_of(
    shed: Callable[..., Path], run: Run, values: list[str], index: str
) -> dict[str, object]:
    days = (6, 10, 14)
    lines = ["2026-11-02T06:00 A01 running"]
    lines += [
        f"2026-11-{day:02}T10:00 A01 belt tension {value}"
        for day, value in zip(days, values, strict=True)
    ]
    folder = shed({"a.log": "\n".join(lines) + "\n"}, REGISTER)
    out = run("wear", "--folder", str(folder), *AT, "--index", index, "--json").out
    (line,) = json.loads(out)["wear"]
    found: dict[str, object] = line["forecast"]
    return found


def test_a_log_of_whole_numbers_gives_no_band_of_no_width(
    shed: Callable[..., Path], run: Run, tmp_path: Path
) -> None:
    for index in ("none", str(tmp_path / "kept.sqlite"), str(tmp_path / "kept.sqlite")):
        found = wear_of(shed, run, ["60 Hz", "59 Hz", "58 Hz"], index)
        hours = found["remaining_h"]
        assert isinstance(hours, dict)
        assert hours["low"] < 0.5 * hours["median"]
        chance = found["p_before_check"]
        assert isinstance(chance, float)
        assert chance > 0.0


def test_a_finer_digit_makes_a_surer_forecast(shed: Callable[..., Path], run: Run) -> None:
    whole = wear_of(shed, run, ["60 Hz", "59 Hz", "58 Hz"], "none")["remaining_h"]
    tenths = wear_of(shed, run, ["60.0 Hz", "59.0 Hz", "58.0 Hz"], "none")["remaining_h"]
    assert isinstance(whole, dict)
    assert isinstance(tenths, dict)
    assert whole["low"] < tenths["low"] < tenths["median"]
