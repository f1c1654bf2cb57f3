"""Survival curves: refusals, edges, and agreement with a reference library."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from lifelines import KaplanMeierFitter
from lifelines.exceptions import StatError

from board.reckon.limits import Limits
from board.reckon.lives import (
    Life,
    MedianLife,
    SurvivalCurve,
    at_each_failure,
    columns,
    kaplan_meier,
    median_life,
)
from board.reckon.refusal import Refusal

AGES = st.integers(1, 40).map(float)
LIVES = st.builds(
    lambda age, back, failed: (
        Life.failed(age, entry=max(age - back, 0.0))
        if failed
        else Life.unfinished(age, entry=max(age - back, 0.0))
    ),
    AGES,
    st.sampled_from([1.0, 5.0, 40.0]),
    st.booleans(),
)


def curve_of(lives: list[Life], level: float = 0.95) -> SurvivalCurve:
    curve = kaplan_meier(lives, level=level)
    assert isinstance(curve, SurvivalCurve)
    return curve


def refused(answer: object) -> str:
    assert isinstance(answer, Refusal)
    return answer.reason


@pytest.mark.parametrize(
    ("lower", "upper", "entry"),
    [
        (-1.0, 5.0, 0.0),
        (5.0, 4.0, 0.0),
        (5.0, 6.0, 5.5),
        (5.0, 5.0, 5.0),
        (0.0, 0.0, 0.0),
        (math.inf, math.inf, 0.0),
        (math.nan, 5.0, 0.0),
    ],
)
def test_impossible_life_is_refused_when_made(lower: float, upper: float, entry: float) -> None:
    with pytest.raises(ValueError, match=r"life|failure at"):
        Life(lower=lower, upper=upper, entry=entry)


def test_no_lives_at_all() -> None:
    assert refused(kaplan_meier([])) == "no failure among 0 lives on record"


def test_no_failure_is_refused() -> None:
    assert "no failure among 2 lives" in refused(kaplan_meier([Life.unfinished(5)] * 2))


def test_ages_between_two_readings_are_refused_with_their_number() -> None:
    lives = [Life.failed(5), Life.between(3, 8), Life.between(4, 9)]
    assert "2 of 3 ages at failure" in refused(kaplan_meier(lives))


@pytest.mark.parametrize("level", [0.0, 1.0, 95.0, math.nan])
def test_level_outside_its_range_raises(level: float) -> None:
    with pytest.raises(ValueError, match="level"):
        kaplan_meier([Life.failed(5)], level=level)


def test_single_failure_ends_the_curve_at_nothing_with_limits_that_say_nothing() -> None:
    curve = curve_of([Life.failed(5)])
    (step,) = curve.steps
    assert (step.surviving, step.at_risk) == (0.0, 1)
    assert (step.limits.low, step.limits.high) == (0.0, 1.0)


def test_part_gone_at_the_age_of_a_failure_is_at_risk_there() -> None:
    curve = curve_of([Life.failed(5), Life.unfinished(5), Life.failed(9)])
    assert [(step.at_risk, step.surviving) for step in curve.steps] == [
        (3, pytest.approx(2 / 3)),
        (1, 0.0),
    ]


def test_part_that_came_under_watch_later_is_not_at_risk_before() -> None:
    curve = curve_of([Life.failed(5), Life.failed(9, entry=5), Life.unfinished(12)])
    assert [step.at_risk for step in curve.steps] == [2, 2]
    assert curve.late_entries == 1


def test_curve_that_dies_out_before_others_come_under_watch_is_refused() -> None:
    lives = [Life.failed(5), Life.failed(9, entry=6), Life.failed(11, entry=6)]
    assert "can not be carried on to age 9" in refused(kaplan_meier(lives))


def test_median_not_reached_is_refused_with_what_survives() -> None:
    curve = curve_of([Life.failed(5)] + [Life.unfinished(9)] * 3)
    assert "75 % of the parts survive the last failure on record" in refused(median_life(curve))


def test_median_has_an_open_upper_limit_while_few_have_failed() -> None:
    curve = curve_of([Life.failed(age) for age in (5, 6, 7)] + [Life.unfinished(9)] * 2)
    median = median_life(curve)
    assert isinstance(median, MedianLife)
    assert median.age == 7
    assert math.isinf(median.limits.high)
    assert median.limits.low <= 7


def test_limits_cover_at_their_level() -> None:
    """Of 600 samples of 30, about nine in ten limits at the true median hold one half."""
    random = np.random.default_rng(11)
    truth = math.log(2.0)
    held = 0
    for _ in range(600):
        ages, ends = random.exponential(1.0, 30), random.uniform(0.5, 3.0, 30)
        lives = [
            Life.failed(age) if age <= end else Life.unfinished(end)
            for age, end in zip(ages.tolist(), ends.tolist(), strict=True)
        ]
        before = [step for step in curve_of(lives, 0.90).steps if step.age <= truth]
        held += before[-1].limits.low <= 0.5 <= before[-1].limits.high
    assert 0.86 <= held / 600 <= 0.95


@given(st.lists(LIVES, max_size=40))
def test_who_is_at_risk_at_each_failure_is_what_counting_each_age_anew_tells(
    lives: list[Life],
) -> None:
    failures = sorted({life.lower for life in lives if life.is_failure})
    plain = [
        (
            at,
            sum(life.entry < at <= life.lower for life in lives),
            sum(life.is_failure and life.lower == at for life in lives),
        )
        for at in failures
    ]
    assert at_each_failure(*columns(lives)) == plain


@given(st.lists(LIVES, min_size=1, max_size=40))
def test_curve_falls_within_its_limits_and_counts_add_up(lives: list[Life]) -> None:
    curve = kaplan_meier(lives)
    if isinstance(curve, Refusal):
        return
    shares = [step.surviving for step in curve.steps]
    assert all(later < earlier for earlier, later in zip([1.0, *shares], shares, strict=False))
    for step in curve.steps:
        assert step.limits.low <= step.surviving <= step.limits.high
        assert isinstance(step.limits, Limits)
    assert sum(step.failures for step in curve.steps) == curve.failures
    assert curve.failures + curve.unfinished == curve.lives == len(lives)


@settings(max_examples=60, deadline=None)
@given(st.lists(LIVES, min_size=2, max_size=30))
def test_agrees_with_lifelines_late_entry_included(lives: list[Life]) -> None:
    curve = kaplan_meier(lives, level=0.95)
    if isinstance(curve, Refusal):
        return
    fitter = KaplanMeierFitter()
    try:
        fitter.fit(
            [life.lower for life in lives],
            event_observed=[life.is_failure for life in lives],
            entry=[life.entry for life in lives],
            alpha=0.05,
        )
    except StatError:
        # The library gives up where at some age every part watched so far is gone.
        assume(False)
    for step in curve.steps:
        assert step.surviving == pytest.approx(
            float(fitter.survival_function_at_times(step.age).iloc[0]), abs=1e-9
        )
        if step.surviving > 0.0:
            band = fitter.confidence_interval_.loc[step.age]
            assert step.limits.low == pytest.approx(float(band.iloc[0]), abs=1e-6)
            assert step.limits.high == pytest.approx(float(band.iloc[1]), abs=1e-6)
