"""Restoration times, times between failures, proportions: refusals, edges, coverage."""

import math

import numpy as np
import pytest
from scipy.stats import binom, binomtest

from board.reckon.availability import OpenStop, Stop
from board.reckon.durations import (
    NoFailures,
    Restoration,
    TimeBetweenFailures,
    restoration,
    time_between_failures,
)
from board.reckon.limits import Limits, Method
from board.reckon.proportion import Proportion, proportion
from board.reckon.refusal import Refusal
from board.reckon.spans import Span


def lasting(hours: list[float]) -> list[Stop]:
    return [Span(start=1000.0 * turn, end=1000.0 * turn + each) for turn, each in enumerate(hours)]


def restored(stops: list[Stop], level: float = 0.90, as_of: float = 1e6) -> Restoration:
    answer = restoration(stops, as_of=as_of, level=level)
    assert isinstance(answer, Restoration)
    return answer


def test_open_stops_have_no_length_but_are_counted() -> None:
    answer = restored([*lasting([1.0, 3.0]), OpenStop(start=9000)])
    assert (answer.mean, answer.median) == (2.0, 2.0)
    assert (answer.completed, answer.open) == (2, 1)
    assert answer.share_completed == pytest.approx(2 / 3)


def test_stop_that_ends_after_the_moment_asked_for_is_open_then() -> None:
    answer = restored([Span(start=0, end=2), Span(start=5, end=50)], as_of=10)
    assert (answer.completed, answer.open, answer.mean) == (1, 1, 2.0)


def test_stop_that_begins_after_the_moment_asked_for_is_not_looked_at() -> None:
    answer = restored([Span(start=0, end=2), OpenStop(start=20)], as_of=10)
    assert answer.open == 0


def test_only_open_stops_are_refused_with_their_number() -> None:
    answer = restoration([OpenStop(start=1), OpenStop(start=2)], as_of=9)
    assert isinstance(answer, Refusal)
    assert answer.reason == "no stop with its end on record, 2 without"


def test_four_stops_have_a_mean_and_median_but_no_limits() -> None:
    answer = restored(lasting([1.0, 2.0, 3.0, 4.0]))
    assert answer.median == 2.5
    assert isinstance(answer.mean_limits, Refusal)
    assert isinstance(answer.median_limits, Refusal)


def test_median_limits_are_refused_where_the_level_can_not_be_reached() -> None:
    """Five times bound a median at 93.75 % at most."""
    assert isinstance(restored(lasting([1, 2, 3, 4, 5]), 0.90).median_limits, Limits)
    refusal = restored(lasting([1, 2, 3, 4, 5]), 0.95).median_limits
    assert isinstance(refusal, Refusal)
    assert "5 completed stops can not bound a median at level 0.95" in refusal.reason


@pytest.mark.parametrize("count", [5, 6, 11, 30, 46])
def test_median_limits_are_the_innermost_that_hold_the_level(count: int) -> None:
    times = [float(turn + 1) for turn in range(count)]
    limits = restored(lasting(times), 0.90).median_limits
    assert isinstance(limits, Limits)
    low, high = int(limits.low), int(limits.high)
    assert low + high == count + 1
    assert binom.cdf(low - 1, count, 0.5) <= 0.05
    assert binom.cdf(low, count, 0.5) > 0.05


@pytest.mark.parametrize(
    ("law", "count", "least"),
    [
        *((law, count, 0.86) for law in ("log-normal", "exponential") for count in (6, 20, 100)),
        ("two kinds", 20, 0.86),
        ("two kinds", 100, 0.86),
        # One sample in four has none of the long stops, and nothing can tell that there are any.
        ("two kinds", 6, 0.65),
    ],
)
def test_mean_limits_hold_about_their_level(law: str, count: int, least: float) -> None:
    random = np.random.default_rng(8)
    held = 0
    for _ in range(500):
        match law:
            case "log-normal":
                times, truth = random.lognormal(0.0, 1.0, count), math.exp(0.5)
            case "exponential":
                times, truth = random.exponential(2.0, count), 2.0
            case _:
                long = random.random(count) < 0.2
                times, truth = (
                    np.where(long, random.gamma(3, 3, count), random.gamma(2, 0.5, count)),
                    2.6,
                )
        limits = restored(lasting(times.tolist())).mean_limits
        assert isinstance(limits, Limits)
        held += limits.low <= truth <= limits.high
    assert least <= held / 500


def test_stops_all_alike_have_limits_at_their_length() -> None:
    limits = restored(lasting([2.0] * 8)).mean_limits
    assert isinstance(limits, Limits)
    assert (limits.low, limits.high) == (pytest.approx(2.0), pytest.approx(2.0))


def test_no_failure_gives_the_one_sided_bound() -> None:
    """500 h without a failure, level 0.90: the bound under which none in 500 h has chance 0.10."""
    answer = time_between_failures(0, 500, level=0.90)
    assert isinstance(answer, NoFailures)
    assert math.exp(-500 / answer.bound.low) == pytest.approx(0.10)
    assert math.isinf(answer.bound.high)
    assert answer.bound.method is Method.ONE_SIDED


def test_time_between_failures_lies_within_its_limits() -> None:
    answer = time_between_failures(3, 600)
    assert isinstance(answer, TimeBetweenFailures)
    assert answer.limits.low < answer.mean == 200 < answer.limits.high


def test_no_operating_time_is_refused() -> None:
    assert isinstance(time_between_failures(0, 0), Refusal)
    with pytest.raises(ValueError, match="not negative"):
        time_between_failures(-1, 10)


@pytest.mark.parametrize(("count", "of"), [(0, 7), (7, 7), (17, 19), (1, 400)])
@pytest.mark.parametrize("level", [0.90, 0.95])
def test_proportion_agrees_with_scipy(count: int, of: int, level: float) -> None:
    answer = proportion(count, of, level=level)
    assert isinstance(answer, Proportion)
    reference = binomtest(count, of).proportion_ci(level, method="exact")
    assert answer.limits.low == pytest.approx(reference.low, abs=1e-12)
    assert answer.limits.high == pytest.approx(reference.high, abs=1e-12)
    assert (answer.count, answer.of, answer.limits.level) == (count, of, level)


def test_share_of_nothing_is_refused_and_an_impossible_one_raises() -> None:
    assert isinstance(proportion(0, 0), Refusal)
    with pytest.raises(ValueError, match="8 of 7"):
        proportion(8, 7)
