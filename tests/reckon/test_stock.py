"""Spares: refusals, edges, and demand against simulation and reference libraries."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import nbinom, poisson_binom

from board.reckon.laws import (
    Basis,
    LikelyLaws,
    RecordedLaw,
    WeibullLaw,
    likely_laws,
    renewals,
)
from board.reckon.lives import Life, SurvivalCurve, kaplan_meier
from board.reckon.ordering import NoOrderYet, OrderBy, order_by
from board.reckon.refusal import Refusal
from board.reckon.stock import AgedPart, Demand, ForecastPart, Part, demand, demand_at_rate
from board.reckon.weibull import WeibullFit, fit_weibull

WEAR = WeibullLaw(shape=2.5, scale=1000, failures=20)


def wanted(parts: list[Part], law: WeibullLaw | RecordedLaw | LikelyLaws, horizon: float) -> Demand:
    answer = demand(parts, law, horizon=horizon)
    assert isinstance(answer, Demand)
    return answer


def aged(*ages: float, pace: float = 1.0) -> list[Part]:
    return [AgedPart(age=age, pace=pace) for age in ages]


def recorded(lives: list[Life]) -> RecordedLaw:
    curve = kaplan_meier(lives)
    assert isinstance(curve, SurvivalCurve)
    return RecordedLaw.of(curve)


def test_demand_within_a_short_time_is_poisson_binomial() -> None:
    """Agrees with scipy's Poisson-binomial; second failures have a chance of 1e-5."""
    ages = [0.0, 200.0, 500.0, 900.0, 1500.0]
    answer = wanted(aged(*ages), WEAR, 10)
    chances = [float(WEAR.failing(age, np.array([10.0]))[0]) for age in ages]
    reference = poisson_binom.pmf(np.arange(4), chances)
    assert answer.probabilities[:4] == pytest.approx(reference, abs=1e-6)
    assert answer.first == pytest.approx(sum(chances))


def test_demand_with_renewals_agrees_with_simulation() -> None:
    random = np.random.default_rng(1)
    parts = [(100.0, 5.0), (700.0, 12.0), (1200.0, 20.0)]
    answer = wanted([AgedPart(age=age, pace=pace) for age, pace in parts], WEAR, 100)
    runs = 40_000
    count = np.zeros(runs, dtype=int)
    for age, pace in parts:
        left = 1000 * ((age / 1000) ** 2.5 - np.log(random.random(runs))) ** 0.4 - age
        while (left <= 100 * pace).any():
            count += left <= 100 * pace
            left = np.where(left <= 100 * pace, left + 1000 * random.weibull(2.5, runs), np.inf)
    assert answer.mean == pytest.approx(count.mean(), abs=0.02)
    for number, chance in enumerate(answer.probabilities[:6]):
        assert chance == pytest.approx((count == number).mean(), abs=0.01)


def test_mean_of_new_parts_is_the_renewal_function() -> None:
    answer = wanted(aged(0.0, 0.0), WEAR, 3000)
    assert answer.mean == pytest.approx(2 * renewals(WEAR, 3000.0, steps=2000)[-1], rel=1e-3)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.builds(AgedPart, age=st.floats(0, 2000), pace=st.sampled_from([0.0, 1.0, 7.5])),
        min_size=1,
        max_size=8,
    ),
    st.floats(0.6, 4.0),
    st.floats(1.0, 400.0),
)
def test_demand_is_a_distribution_and_grows_with_time(
    parts: list[Part], shape: float, horizon: float
) -> None:
    law = WeibullLaw(shape=shape, scale=1000, failures=9)
    near, far = wanted(parts, law, horizon), wanted(parts, law, 2 * horizon)
    assert math.fsum(near.probabilities) == pytest.approx(1.0, abs=1e-6)
    assert min(near.probabilities) >= 0.0
    assert near.mean <= far.mean + 1e-6
    assert near.first <= near.mean + 1e-3
    assert near.limits.low <= near.limits.high
    for stock in range(4):
        assert near.runs_out(stock) <= far.runs_out(stock) + 1e-6


def test_looms_that_stand_still_want_nothing() -> None:
    answer = wanted(aged(900.0, 900.0, pace=0.0), WEAR, 100)
    assert answer.probabilities == (1.0,)
    assert answer.parts == 2


def test_forecast_parts_count_once_with_their_own_chance() -> None:
    parts: list[Part] = [
        ForecastPart(times=(10.0, 20.0), chances=(0.5, 1.0)),
        ForecastPart(times=(20.0,), chances=(0.0,)),
    ]
    answer = wanted(parts, WEAR, 15)
    assert answer.probabilities == pytest.approx((0.25, 0.75))
    assert answer.mean == answer.first == pytest.approx(0.75)


def test_forecast_that_does_not_reach_so_far_is_refused() -> None:
    answer = demand([ForecastPart(times=(10.0,), chances=(0.5,))], WEAR, horizon=15)
    assert isinstance(answer, Refusal)
    assert answer.reason == "a wear forecast reaches 10 ahead, not 15"


@pytest.mark.parametrize(
    ("times", "chances"),
    [
        ((), ()),
        ((1.0,), (0.1, 0.2)),
        ((2.0, 1.0), (0.1, 0.2)),
        ((1.0, 2.0), (0.2, 0.1)),
        ((1.0,), (1.5,)),
    ],
)
def test_impossible_forecast_raises(times: tuple[float, ...], chances: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="forecast"):
        ForecastPart(times=times, chances=chances)


def test_no_part_in_service_is_refused() -> None:
    assert isinstance(demand([], WEAR, horizon=10), Refusal)


def test_horizon_of_very_many_lives_is_refused() -> None:
    answer = demand(aged(0.0), WeibullLaw(shape=2, scale=1, failures=9), horizon=1000)
    assert isinstance(answer, Refusal)
    assert "60 times" in answer.reason


@pytest.mark.parametrize("horizon", [0.0, -5.0, math.inf])
def test_impossible_horizon_raises(horizon: float) -> None:
    with pytest.raises(ValueError, match="horizon"):
        demand(aged(1.0), WEAR, horizon=horizon)


def test_recorded_lives_by_hand() -> None:
    """Five lives: a part at 250 has outlived two, and one of the three others failed by 350."""
    law = recorded([Life.failed(age) for age in (100, 200, 300, 400, 500)])
    answer = wanted(aged(250.0), law, 100)
    assert answer.probabilities == pytest.approx((2 / 3, 1 / 3))
    assert answer.basis is Basis.RECORDED


def test_part_older_than_every_life_on_record_is_refused() -> None:
    law = recorded([Life.failed(age) for age in (100, 200, 300)])
    answer = demand(aged(50.0, 400.0), law, horizon=10)
    assert isinstance(answer, Refusal)
    assert "at age 400, and every part on record had failed by 300" in answer.reason


def test_age_no_part_was_watched_to_is_refused() -> None:
    law = recorded([Life.failed(100), Life.failed(200), Life.unfinished(300)])
    assert isinstance(demand(aged(150.0), law, horizon=150), Demand)
    answer = demand(aged(150.0), law, horizon=151)
    assert isinstance(answer, Refusal)
    assert "at age 301 by then, and no part on record was watched past 300" in answer.reason


def test_recorded_and_fitted_demand_agree_on_many_lives() -> None:
    random = np.random.default_rng(2)
    law = recorded([Life.failed(age) for age in (1000 * random.weibull(2.5, 4000)).tolist()])
    parts = aged(0.0, 300.0, 800.0)
    assert wanted(parts, law, 500).mean == pytest.approx(wanted(parts, WEAR, 500).mean, rel=0.03)


def test_rate_demand_is_negative_binomial() -> None:
    answer = demand_at_rate(2, 5000, ahead=3000, horizon=30, parts=40)
    assert isinstance(answer, Demand)
    reference = nbinom.pmf(np.arange(20), 2.5, 5000 / 8000)
    assert answer.probabilities[:20] == pytest.approx(reference, abs=1e-12)
    assert answer.mean == pytest.approx(1.5)
    assert (answer.basis, answer.failures) == (Basis.RATE, 2)


def test_rate_demand_without_a_failure_is_not_sure_of_none() -> None:
    answer = demand_at_rate(0, 1000, ahead=1000, horizon=30, parts=4)
    assert isinstance(answer, Demand)
    assert 0.2 < answer.runs_out(0) < 0.4


def test_rate_demand_without_use_is_refused_or_raises() -> None:
    assert isinstance(demand_at_rate(0, 0, ahead=10, horizon=3, parts=4), Refusal)
    with pytest.raises(ValueError, match="not negative"):
        demand_at_rate(-1, 10, ahead=10, horizon=3, parts=4)


def test_rate_demand_of_no_use_ahead_is_none() -> None:
    answer = demand_at_rate(3, 100, ahead=0, horizon=3, parts=4)
    assert isinstance(answer, Demand)
    assert answer.runs_out(0) == 0.0


def test_likely_laws_weigh_up_to_one_about_the_fit() -> None:
    lives = [Life.failed(age) for age in (54, 187, 216, 240, 244, 335, 361)] + [
        Life.unfinished(500)
    ] * 7
    laws, fit = likely_laws(lives), fit_weibull(lives)
    assert isinstance(laws, LikelyLaws)
    assert isinstance(fit, WeibullFit)
    assert math.fsum(laws.weights) == pytest.approx(1.0)
    assert laws.failures == 7
    middle = sum(law.shape * weight for law, weight in zip(laws.laws, laws.weights, strict=True))
    assert middle == pytest.approx(fit.shape, rel=0.1)


@pytest.mark.parametrize("lives", [[], [Life.failed(5), Life.failed(9)], [Life.failed(5)] * 4])
def test_likely_laws_are_refused_as_the_fit_is(lives: list[Life]) -> None:
    assert isinstance(likely_laws(lives), Refusal)


def test_stock_from_likely_laws_suffices_as_often_as_said_and_a_fit_taken_for_true_does_not() -> (
    None
):
    """Twenty looms watched for 800 h, some ten failures, a stock for 95 % over the next 300 h."""
    random = np.random.default_rng(3)
    held = held_fit = tried = 0
    for _ in range(150):
        lives, ages = [], []
        for _ in range(20):
            age = 800.0
            while (life := float(1000 * random.weibull(2.0))) < age:
                lives.append(Life.failed(life))
                age -= life
            lives.append(Life.unfinished(age))
            ages.append(age)
        laws, fit = likely_laws(lives), fit_weibull(lives)
        if isinstance(laws, Refusal) or isinstance(fit, Refusal):
            continue
        used = 0
        for age in ages:
            left = 1000 * ((age / 1000) ** 2 - math.log(random.random())) ** 0.5 - age
            while left <= 300:
                used += 1
                left += float(1000 * random.weibull(2.0))
        tried += 1
        held += used <= wanted(aged(*ages), laws, 300).stock_for(0.95)
        held_fit += used <= wanted(aged(*ages), WeibullLaw.of(fit), 300).stock_for(0.95)
    assert tried > 140
    assert held / tried >= 0.90
    assert held_fit < held


def ordered(
    stock: int, *, lead: float = 10.0, risk: float = 0.05
) -> OrderBy | NoOrderYet | Refusal:
    parts = aged(600.0, 650.0, 700.0, 300.0, pace=10.0)
    return order_by(
        lambda time: demand(parts, WEAR, horizon=time),
        stock=stock, lead=lead, risk=risk, looked=60.0,
    )  # fmt: skip


def test_order_is_due_the_lead_time_before_the_risk_is_reached() -> None:
    answer = ordered(3)
    assert isinstance(answer, OrderBy)
    parts = aged(600.0, 650.0, 700.0, 300.0, pace=10.0)
    reach = answer.offset + answer.lead
    assert wanted(parts, WEAR, reach).runs_out(3) <= 0.05
    assert wanted(parts, WEAR, reach + 0.07).runs_out(3) > 0.05
    assert answer.offset > 0


def test_order_already_too_late_has_an_offset_below_nothing() -> None:
    answer = ordered(0)
    assert isinstance(answer, OrderBy)
    assert -10.0 <= answer.offset < 0
    assert answer.runs_out > 0.05


def test_full_shelf_needs_no_order_yet() -> None:
    answer = ordered(30)
    assert isinstance(answer, NoOrderYet)
    assert answer.runs_out <= 0.05
    assert answer.looked == 60.0


def test_more_stock_and_more_risk_put_the_order_off() -> None:
    offsets = []
    for stock, risk in ((1, 0.05), (2, 0.05), (2, 0.20), (3, 0.20)):
        answer = ordered(stock, risk=risk)
        assert isinstance(answer, OrderBy)
        offsets.append(answer.offset)
    assert offsets == sorted(offsets)
    assert offsets[0] < offsets[-1]


def test_order_is_refused_where_demand_is() -> None:
    law = recorded([Life.failed(100), Life.failed(200), Life.unfinished(300)])
    answer = order_by(
        lambda time: demand(aged(150.0), law, horizon=time),
        stock=1, lead=10, risk=0.1, looked=500,
    )  # fmt: skip
    assert isinstance(answer, Refusal)


@pytest.mark.parametrize(("lead", "risk"), [(0.0, 0.1), (70.0, 0.1), (10.0, 0.0), (10.0, 1.0)])
def test_impossible_order_raises(lead: float, risk: float) -> None:
    with pytest.raises(ValueError, match=r"lead|level"):
        ordered(2, lead=lead, risk=risk)


@pytest.mark.parametrize(("use", "steps"), [(0.0, 10), (5.0, 0), (1e9, 2)])
def test_renewals_of_nothing_or_of_too_coarse_steps_raise(use: float, steps: int) -> None:
    with pytest.raises(ValueError, match=r"steps|half a step"):
        renewals(WEAR, use, steps=steps)
