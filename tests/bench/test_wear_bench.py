"""The bands hold and the errors are small: real crack growth, and simulated fleets."""

import numpy as np
import pytest

from tests.bench import wear_backtest, wear_coverage


@pytest.fixture(scope="module")
def table():
    return wear_backtest.back_test()


def test_real_cracks_are_forecast_within_ten_percent_from_three_readings(table):
    chosen = table["chosen by the fleet's past"]
    assert chosen[3].error <= 10.0
    assert all(chosen[k].answered == 21 for k in wear_backtest.COUNTS)


# Worked elsewhere on the same data, with a rate defined a little differently from ours.
MEAN_RATE_ELSEWHERE = {2: 14.0, 3: 18.0, 4: 18.0, 5: 22.0}


def test_never_worse_than_the_mean_rate_of_the_fleet(table):
    chosen, mean_rate = table["chosen by the fleet's past"], table["fleet's mean rate"]
    for k in wear_backtest.COUNTS:
        assert chosen[k].error <= min(mean_rate[k].error, MEAN_RATE_ELSEWHERE[k])


def test_bands_on_real_cracks_hold_in_eighteen_or_more_of_twentyone(table):
    chosen = table["chosen by the fleet's past"]
    for k in wear_backtest.COUNTS:
        assert 18 <= chosen[k].held <= 21


@pytest.mark.parametrize(
    ("method", "k", "published"),
    [
        ("own straight line", 3, 47),
        ("own straight line", 4, 46),
        ("own straight line", 5, 47),
        ("Theil-Sen", 4, 44),
        ("Theil-Sen", 5, 50),
    ],
)
def test_simple_methods_err_as_they_did_elsewhere(table, method, k, published):
    # The same data, limit and scoring, worked elsewhere with other code; printed without decimals.
    # It guards the scoring: a back-test that flattered us would move these numbers too.
    assert table[method][k].error == pytest.approx(published, abs=1.0)


@pytest.mark.parametrize(
    ("shape", "noise", "past"),
    [("near-linear", 0.04, 12), ("accelerating", 0.0, 12), ("running-in", 0.04, 4)],
)
def test_bands_hold_on_simulated_fleets_quickly(shape, noise, past):
    # 200 lives, five forecasts each: the share may stray by 3 points for chance alone.
    cells = wear_coverage.run_case(shape, noise, past, fleets=50)
    assert 0.86 <= wear_coverage.coverage(cells) <= 0.96


# forty past lives take as long as all the others: `python -m tests.bench.wear_coverage` has them
@pytest.mark.slow
@pytest.mark.parametrize(
    ("shape", "noise", "past"), [case for case in wear_coverage.CASES if case[2] <= 12]
)
def test_bands_hold_on_a_thousand_lives_a_case(shape, noise, past):
    cells = wear_coverage.run_case(shape, noise, past, fleets=250)
    share = wear_coverage.coverage(cells)
    assert share >= 0.85
    if past >= 12:
        assert 0.87 <= share <= 0.93
    for cell in cells.values():
        assert cell.held / cell.judged >= 0.85
        _, best = cell.best_width()
        assert np.median(cell.widths) <= 2.0 * best
        assert cell.refused <= 0.02 * cell.judged
