"""Rates, trend tests and the power law: refusals, edges and behaviour under simulation."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2

from board.reckon.limits import Limits
from board.reckon.recurrence import (
    Chosen,
    Ended,
    PowerLaw,
    Rate,
    TrendTests,
    poisson_rate,
    power_law,
    trend_tests,
)
from board.reckon.refusal import Refusal


def rate_of(count: int, exposure: float, level: float = 0.90) -> Rate:
    answer = poisson_rate(count, exposure, level=level)
    assert isinstance(answer, Rate)
    return answer


def trend_of(times: list[float], end: float, ended: Ended = Ended.TIME) -> TrendTests:
    answer = trend_tests(times, end=end, ended=ended, chosen=Chosen.BEFORE_LOOKING)
    assert isinstance(answer, TrendTests)
    return answer


def law_of(times: list[float], end: float, ended: Ended = Ended.TIME) -> PowerLaw:
    answer = power_law(times, end=end, ended=ended, level=0.90)
    assert isinstance(answer, PowerLaw)
    return answer


def simulated(random: np.random.Generator, shape: float, mean: float, end: float) -> list[float]:
    """Failure times of the power law with this mean number up to the end."""
    number = random.poisson(mean)
    return sorted((end * random.random(number) ** (1 / shape)).tolist())


@given(st.integers(0, 400), st.floats(1e-6, 1e6), st.sampled_from([0.5, 0.9, 0.99]))
def test_rate_lies_within_its_limits(count: int, exposure: float, level: float) -> None:
    rate = rate_of(count, exposure, level)
    assert rate.limits.low <= rate.rate <= rate.limits.high
    assert (rate.limits.low == 0.0) == (count == 0)


@pytest.mark.parametrize("mean", [0.2, 1.0, 3.0, 10.0])
def test_garwood_limits_hold_at_least_at_their_level(mean: float) -> None:
    """Exactly, from the Poisson chances of each count: never below 90 %."""
    held = sum(
        math.exp(-mean + count * math.log(mean) - math.lgamma(count + 1))
        for count in range(80)
        if rate_of(count, 1.0).limits.low <= mean <= rate_of(count, 1.0).limits.high
    )
    assert held >= 0.90


def test_rate_without_running_time_is_refused() -> None:
    answer = poisson_rate(3, 0.0)
    assert isinstance(answer, Refusal)
    assert answer.reason == "3 events in no running time on record"


@pytest.mark.parametrize(("count", "exposure"), [(-1, 5.0), (1, -5.0)])
def test_negative_count_or_exposure_raises(count: int, exposure: float) -> None:
    with pytest.raises(ValueError, match="not negative"):
        poisson_rate(count, exposure)


def test_history_picked_because_it_repeats_is_refused() -> None:
    times = [100.0, 400.0, 550.0, 600.0, 640.0]
    answer = trend_tests(times, end=700, ended=Ended.TIME, chosen=Chosen.BECAUSE_IT_REPEATS)
    assert isinstance(answer, Refusal)
    assert "5 failures was picked because it repeats" in answer.reason


@pytest.mark.parametrize("number", [0, 1, 3])
def test_few_failures_are_refused_with_their_number(number: int) -> None:
    times = [100.0 * (place + 1) for place in range(number)]
    trend = trend_tests(times, end=700, ended=Ended.TIME, chosen=Chosen.BEFORE_LOOKING)
    law = power_law(times, end=700, ended=Ended.TIME)
    assert isinstance(trend, Refusal)
    assert isinstance(law, Refusal)
    assert trend.reason.startswith(f"{number} failures on record")
    assert law.reason.startswith(f"{number} failures on record")


@pytest.mark.parametrize(
    ("times", "end", "ended", "complaint"),
    [
        ([5.0, 3.0, 8.0, 9.0], 10.0, Ended.TIME, "in order"),
        ([0.0, 3.0, 8.0, 9.0], 10.0, Ended.TIME, "above 0"),
        ([1.0, 3.0, 8.0, 11.0], 10.0, Ended.TIME, "not past the end"),
        ([1.0, 3.0, 8.0, 9.0], 10.0, Ended.FAILURE, "ends at 9.0"),
    ],
)
def test_times_that_do_not_fit_raise(
    times: list[float], end: float, ended: Ended, complaint: str
) -> None:
    with pytest.raises(ValueError, match=complaint):
        trend_tests(times, end=end, ended=ended, chosen=Chosen.BEFORE_LOOKING)
    with pytest.raises(ValueError, match=complaint):
        power_law(times, end=end, ended=ended)


def test_failure_truncation_drops_the_last_time_and_two_degrees() -> None:
    """By hand: times 10 to 50, the last of them the end."""
    times = [10.0, 20.0, 30.0, 40.0, 50.0]
    answer = trend_of(times, 50.0, Ended.FAILURE)
    assert (answer.used, answer.degrees) == (4, 8)
    assert answer.laplace == pytest.approx(0.0)
    logs = sum(math.log(50 / time) for time in times[:-1])
    assert answer.military == pytest.approx(2 * logs)
    law = law_of(times, 50.0, Ended.FAILURE)
    assert law.shape == pytest.approx(5 / logs)
    assert law.shape_unbiased == pytest.approx(3 / logs)
    assert isinstance(law.mtbf_limits, Refusal)
    assert law.shape_limits.high == pytest.approx(chi2.ppf(0.95, 8) / (2 * logs))


def test_failures_at_the_very_end_have_no_shape() -> None:
    answer = power_law([9.0] * 4, end=9.0, ended=Ended.TIME)
    assert isinstance(answer, Refusal)


def test_high_level_on_few_failures_refuses_only_the_limits() -> None:
    answer = power_law([1.0, 2.0, 3.0, 9.0], end=10.0, ended=Ended.TIME, level=0.999)
    assert isinstance(answer, PowerLaw)
    assert isinstance(answer.mtbf_limits, Refusal)
    assert "4 failures are too few" in answer.mtbf_limits.reason


@pytest.mark.parametrize("ended", list(Ended))
def test_trend_tests_find_nothing_in_steady_failures_nine_times_in_ten(ended: Ended) -> None:
    random = np.random.default_rng(1)
    laplace = military = tried = 0
    for _ in range(2000):
        times = simulated(random, 1.0, 12.0, 1000.0)
        if len(times) < 4:
            continue
        end = times[-1] if ended is Ended.FAILURE else 1000.0
        answer = trend_of(times, end, ended)
        tried += 1
        laplace += answer.laplace_p <= 0.10
        military += answer.military_p <= 0.10
    assert 0.08 <= laplace / tried <= 0.12
    assert 0.08 <= military / tried <= 0.12


def test_both_tests_point_to_failures_crowding_at_the_end() -> None:
    answer = trend_of([500.0, 700.0, 800.0, 900.0, 950.0, 980.0], 1000.0)
    assert answer.laplace > 1.64
    assert answer.military < answer.degrees
    assert law_of([500.0, 700.0, 800.0, 900.0, 950.0, 980.0], 1000.0).shape > 1


def test_power_law_limits_hold_at_their_level_and_the_correction_corrects() -> None:
    random = np.random.default_rng(2)
    shapes, held, held_mtbf, tried = [], 0, 0, 0
    for _ in range(1500):
        times = simulated(random, 0.6, 15.0, 1000.0)
        if len(times) < 4:
            continue
        law = law_of(times, 1000.0)
        tried += 1
        shapes.append(law.shape_unbiased)
        held += law.shape_limits.low <= 0.6 <= law.shape_limits.high
        assert isinstance(law.mtbf_limits, Limits)
        held_mtbf += law.mtbf_limits.low <= 1000 / (15 * 0.6) <= law.mtbf_limits.high
    assert np.mean(shapes) == pytest.approx(0.6, abs=0.02)
    assert 0.88 <= held / tried <= 0.92
    # Approximate limits: rather wide than narrow.
    assert 0.87 <= held_mtbf / tried <= 0.97
