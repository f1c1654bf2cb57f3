"""The Weibull fit: refusals, coverage, and agreement with reference libraries."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lifelines import WeibullFitter
from scipy.optimize import brentq, minimize
from surpyval import Weibull

from board.reckon.likelihood import GREATEST_SHAPE, LEAST_SHAPE, Likelihood
from board.reckon.lives import Life
from board.reckon.refusal import Refusal
from board.reckon.weibull import WeibullFit, fit_weibull, refuse_fit


def fitted(lives: list[Life], level: float = 0.90) -> WeibullFit:
    fit = fit_weibull(lives, level=level)
    assert isinstance(fit, WeibullFit)
    return fit


def log_likelihood(lives: list[Life], shape: float, scale: float) -> float:
    """The plain definition, term by term."""

    def surviving(age: float) -> float:
        return math.exp(-((age / scale) ** shape))

    total = 0.0
    for life in lives:
        total -= math.log(surviving(life.entry))
        if life.is_exact:
            hazard = shape / scale * (life.lower / scale) ** (shape - 1)
            total += math.log(hazard * surviving(life.lower))
        else:
            gone = surviving(life.upper) if life.is_failure else 0.0
            total += math.log(surviving(life.lower) - gone)
    return total


def mixed(random: np.random.Generator, number: int) -> list[Life]:
    """Lives of every kind, from a law of shape 2 and scale 1000."""
    lives: list[Life] = []
    for age in (1000 * random.weibull(2.0, 4 * number)).tolist():
        entry = float(random.choice([0.0, 0.0, 300.0]))
        if age <= entry or len(lives) == number:
            continue
        end = float(random.uniform(500, 2000))
        if age > end > entry:
            lives.append(Life.unfinished(end, entry=entry))
        elif random.random() < 0.5:
            low = age // 100 * 100
            lives.append(Life.between(max(low, entry), low + 100, entry=entry))
        else:
            lives.append(Life.failed(age, entry=entry))
    return lives


@pytest.mark.parametrize("seed", range(4))
def test_fit_is_the_peak_of_the_plain_likelihood(seed: int) -> None:
    lives = mixed(np.random.default_rng(seed), 40)
    fit = fitted(lives)
    assert fit.exact >= 1
    assert fit.between >= 1
    assert fit.late_entries >= 1
    assert fit.log_likelihood == pytest.approx(
        log_likelihood(lives, fit.shape, fit.scale), abs=1e-8
    )
    found = minimize(
        lambda at: -log_likelihood(lives, math.exp(at[0]), math.exp(at[1])),
        [0.3, 6.8],
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-11, "maxiter": 2000},
    )
    assert [fit.shape, fit.scale] == pytest.approx(np.exp(found.x).tolist(), rel=1e-6)


@pytest.mark.parametrize("seed", range(3))
def test_limits_are_where_the_profile_likelihood_falls_off(seed: int) -> None:
    """Each limit, put into the plain likelihood with the other parameter free, is 2.706/2 lower."""
    lives = mixed(np.random.default_rng(seed), 30)
    fit = fitted(lives, level=0.90)

    def profile(point: Callable[[float], tuple[float, float]], start: float) -> float:
        best = minimize(
            lambda at: -log_likelihood(lives, *point(math.exp(at[0]))),
            [math.log(start)],
            method="Nelder-Mead",
            options={"xatol": 1e-9, "fatol": 1e-11},
        )
        return float(-best.fun)

    floor = fit.log_likelihood - 2.705543454095 / 2
    for shape in (fit.shape_limits.low, fit.shape_limits.high):
        assert profile(lambda at, s=shape: (s, 500 * at), 2.0) == pytest.approx(floor, abs=1e-5)
    for scale in (fit.scale_limits.low, fit.scale_limits.high):
        assert profile(lambda at, s=scale: (at, s), fit.shape) == pytest.approx(floor, abs=1e-5)
    tenth = -math.log(0.9)
    for b10 in (fit.b10_limits.low, fit.b10_limits.high):
        reached = profile(lambda at, b=b10: (at, b * tenth ** (-1 / at)), fit.shape)
        assert reached == pytest.approx(floor, abs=1e-5)


def test_agrees_with_lifelines_on_late_entry() -> None:
    random = np.random.default_rng(5)
    lives = [life for life in mixed(random, 120) if life.is_exact or not life.is_failure]
    reference = WeibullFitter().fit(
        [life.lower for life in lives],
        event_observed=[life.is_failure for life in lives],
        entry=[life.entry for life in lives],
    )
    fit = fitted(lives)
    assert fit.shape == pytest.approx(reference.rho_, rel=1e-4)
    assert fit.scale == pytest.approx(reference.lambda_, rel=1e-4)


def test_agrees_with_surpyval_on_ages_between_readings() -> None:
    random = np.random.default_rng(6)
    low = (1000 * random.weibull(1.5, 50)) // 200 * 200
    lives = [Life.between(age, age + 200) for age in low.tolist()]
    reference = Weibull.fit(xl=low, xr=low + 200)
    fit = fitted(lives)
    scale, shape = reference.params
    assert fit.shape == pytest.approx(shape, rel=1e-4)
    assert fit.scale == pytest.approx(scale, rel=1e-4)


def test_lives_all_between_readings_have_a_shape_of_their_own() -> None:
    """Pure go/no-go lives, on which a general fitter returned a shape of 1e-13 without an error."""
    lives = [Life.between(0, 500)] * 4 + [Life.between(500, 1000)] * 6 + [Life.unfinished(1000)] * 3
    fit = fitted(lives)
    assert 1.0 < fit.shape < 4.0
    assert (fit.exact, fit.between) == (0, 10)


@pytest.mark.parametrize(
    ("lives", "reason"),
    [
        ([], "no failure among 0 lives"),
        ([Life.unfinished(100)], "no failure among 1 life on record"),
        ([Life.unfinished(100)] * 9, "no failure among 9 lives"),
        ([Life.failed(100)] + [Life.unfinished(100)] * 9, "1 failure among 10 lives"),
        ([Life.failed(100), Life.failed(200)], "2 failures among 2 lives on record, a fit needs 3"),
        ([Life.failed(100)] * 4 + [Life.unfinished(300)], "all 4 failures at age 100"),
        ([Life.between(100, 200)] * 4, "all 4 failures between ages 100 and 200"),
        ([Life.between(0, 100), Life.between(0, 50), Life.between(0, 70)], "before the first reading"),
        (
            [Life.between(100, 200), Life.between(100, 200), Life.between(150, 250)],
            "lie too close together",
        ),
    ],
    ids=[
        "nothing", "one alone", "no failure", "one", "two", "equal ages", "one interval", "all at first reading",
        "one age would do",
    ],
)  # fmt: skip
def test_fit_is_refused_with_its_reason(lives: list[Life], reason: str) -> None:
    answer = fit_weibull(lives)
    assert isinstance(answer, Refusal)
    assert reason in answer.reason


def test_lives_that_came_under_watch_too_late_are_refused_or_bounded() -> None:
    """Failures soon after a late entry look like a rate that falls for ever: no peak."""
    lives = [Life.failed(100.0 + step, entry=100) for step in (0.1, 0.2, 0.3)]
    lives += [Life.unfinished(1000, entry=100)] * 30
    answer = fit_weibull(lives)
    assert isinstance(answer, Refusal)
    assert "no peak" in answer.reason


def test_limits_hold_at_their_level() -> None:
    """Of 300 samples of 30, part censored, about nine limits in ten hold the true B10."""
    random = np.random.default_rng(7)
    truth = 1000 * (-math.log(0.9)) ** (1 / 2.0)
    held = tried = 0
    for _ in range(300):
        ages = 1000 * random.weibull(2.0, 30)
        lives = [Life.failed(age) if age < 900 else Life.unfinished(900) for age in ages.tolist()]
        fit = fitted(lives)
        tried += 1
        held += fit.b10_limits.low <= truth <= fit.b10_limits.high
    assert 0.84 <= held / tried <= 0.95


def test_thousand_lives_of_each_kind_are_quick_and_near_the_truth() -> None:
    fit = fitted(mixed(np.random.default_rng(8), 1000))
    assert fit.shape == pytest.approx(2.0, rel=0.1)
    assert fit.scale == pytest.approx(1000, rel=0.1)
    assert fit.surviving(fit.b10) == pytest.approx(0.9)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 60), st.booleans()), min_size=3, max_size=25),
    st.floats(1e-3, 1e6),
)
def test_the_unit_of_age_does_not_matter(lives: list[tuple[int, bool]], unit: float) -> None:
    def scaled(by: float) -> list[Life]:
        return [
            Life.failed(age * by) if failed else Life.unfinished(age * by) for age, failed in lives
        ]

    plain, other = fit_weibull(scaled(1.0)), fit_weibull(scaled(unit))
    assert isinstance(plain, Refusal) == isinstance(other, Refusal)
    if isinstance(plain, WeibullFit) and isinstance(other, WeibullFit):
        assert other.shape == pytest.approx(plain.shape, rel=1e-6)
        assert other.scale == pytest.approx(plain.scale * unit, rel=1e-6)
        assert other.b10_limits.high == pytest.approx(plain.b10_limits.high * unit, rel=1e-3)
        assert plain.shape_limits.low <= plain.shape <= plain.shape_limits.high
        assert plain.b10_limits.low <= plain.b10 <= plain.b10_limits.high
        assert plain.scale_limits.low <= plain.scale <= plain.scale_limits.high


@settings(deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(0.01, 1e6), st.sampled_from([0.0, 0.0, 0.5]), st.booleans()),
        min_size=3,
        max_size=25,
    )
)
def test_the_best_shape_is_the_best_of_all_turns_of_the_slope(
    drawn: list[tuple[float, float, bool]],
) -> None:
    """Also where only one turn is looked for, as no life came under watch late."""
    lives = [
        Life.failed(age, entry=entry * age) if failed else Life.unfinished(age, entry=entry * age)
        for age, entry, failed in drawn
    ]
    if refuse_fit(lives) is not None:
        return
    likelihood = Likelihood(lives)

    def slope(log_shape: float) -> float:
        return likelihood.slope(math.exp(log_shape))

    points = np.linspace(math.log(LEAST_SHAPE), math.log(GREATEST_SHAPE), 40).tolist()
    slopes = [slope(point) for point in points]
    peaks = [
        math.exp(brentq(slope, points[i], points[i + 1], xtol=1e-13))
        for i in range(len(points) - 1)
        if slopes[i] > 0.0 >= slopes[i + 1]
    ]
    assert likelihood.best_shape() == max(peaks, key=likelihood.ridge, default=None)
