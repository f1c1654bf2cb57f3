"""Spare parts: published data and results, recomputed by the product.

Where a number was not read but remembered, the test says "number from memory".
"""

import numpy as np
import pytest

from board.reckon.laws import Basis, Numbers, WeibullLaw, renewals
from board.reckon.refusal import Refusal
from board.reckon.stock import AgedPart, Demand, demand
from board.reckon.weibull import WeibullFit, fit_weibull
from tests.published.test_lives import CAGE_RUNNING, cage_lives


class UniformLife:
    """A life evenly spread from 0 to 1."""

    failures = 0
    basis = Basis.RECORDED

    def refusal(self, age: float, use: float) -> Refusal | None:
        return None

    def failing(self, age: Numbers | float, ahead: Numbers) -> Numbers:
        return np.minimum(ahead / (1.0 - age), 1.0)


class ErlangLife:
    """The sum of two exponential lives of mean 1; asked of new parts only."""

    failures = 0
    basis = Basis.RECORDED

    def refusal(self, age: float, use: float) -> Refusal | None:
        return None

    def failing(self, age: Numbers | float, ahead: Numbers) -> Numbers:
        assert age == 0.0
        return np.asarray(1.0 - (1.0 + ahead) * np.exp(-ahead))


def known(parts: list[AgedPart], law: WeibullLaw, horizon: float) -> Demand:
    answer = demand(parts, law, horizon=horizon)
    assert isinstance(answer, Demand)
    return answer


def test_s1_eight_spares_for_twenty_parts() -> None:
    """8 spares for 95 %, mean 4.32: Blanchard, Logistics Engineering and Management (from memory).

    20 parts, 0.1 failures in 1000 h, 90 days of 24 h. A shape of 1 has no ageing, so that demand
    with its renewals is Poisson.
    """
    law = WeibullLaw(shape=1, scale=10_000, failures=0)
    answer = known([AgedPart(age=0, pace=24)] * 20, law, 90)
    assert answer.mean == pytest.approx(4.32, abs=1e-6)
    assert answer.stock_for(0.95) == 8
    assert 1 - answer.runs_out(7) == pytest.approx(0.927496, abs=5e-7)
    assert 1 - answer.runs_out(8) == pytest.approx(0.967508, abs=5e-7)


def test_s2_four_spares_for_one_part() -> None:
    """4 spares for 95 %, mean 1.4136: a worked example of a forum, rate 0.003534 / h, 400 h."""
    law = WeibullLaw(shape=1, scale=1 / 0.003534, failures=0)
    answer = known([AgedPart(age=120, pace=1)], law, 400)
    assert answer.mean == pytest.approx(1.4136, abs=5e-6)
    assert answer.stock_for(0.95) == 4
    assert 1 - answer.runs_out(3) == pytest.approx(0.944729, abs=5e-7)
    assert 1 - answer.runs_out(4) == pytest.approx(0.985203, abs=5e-7)


def test_s3_renewal_function_of_uniform_lives() -> None:
    """M(t) = e**t - 1 up to 1, and 3.670774 at 2: Feller; Ross, Introduction to Probability Models."""
    expected = renewals(UniformLife(), 2.0, steps=4000)
    assert expected[1000] == pytest.approx(0.648721, abs=5e-7)
    assert expected[2000] == pytest.approx(1.718282, abs=5e-7)
    assert expected[4000] == pytest.approx(3.670774, abs=5e-7)


@pytest.mark.parametrize(("use", "expected"), [(1, 0.283834), (2, 0.754579), (5, 2.250011)])
def test_s3_renewal_function_of_erlang_lives(use: float, expected: float) -> None:
    """M(t) = t/2 - 1/4 + e**(-2t)/4: Feller; Ross, Introduction to Probability Models."""
    assert renewals(ErlangLife(), use, steps=2000)[-1] == pytest.approx(expected, abs=6e-7)


def test_s4_bearing_cages_expected_to_fail_in_the_next_300_hours() -> None:
    """5.057: Meeker and Escobar 1998, chapter 12 (number from memory); 5.0582 recomputed.

    Each survivor at its own age, by the fit to six failures of 1703. `first` is without the
    failures of successors, as the book reckons; with them it is a little more.
    """
    fit = fit_weibull(cage_lives())
    assert isinstance(fit, WeibullFit)
    parts = [
        AgedPart(age=age, pace=1) for age, number in CAGE_RUNNING.items() for _ in range(number)
    ]
    answer = known(parts, WeibullLaw.of(fit), 300)
    assert (answer.parts, answer.failures) == (1697, 6)
    assert answer.first == pytest.approx(5.0582, abs=5e-5)
    assert answer.first < answer.mean < answer.first + 0.01
