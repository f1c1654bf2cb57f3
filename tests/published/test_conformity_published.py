"""Published numbers for conformity with measurement uncertainty."""

import math

import pytest
from scipy import integrate, stats

from board.mill import Limits
from board.reckon.conformity import WearWord, conformance_probability, decide, wear_word
from board.torque import Decision


def test_c1_zener_diode():
    # Source: JCGM 106:2012, 7.4 example: breakdown voltage at most -5.40 V, read -5.47 V, u = 0.05 V;
    # the guide prints 0.92 (number from memory).
    p = conformance_probability(-5.47, Limits(high=-5.40), 0.05)
    assert p == pytest.approx(0.919243, abs=5e-7)
    assert round(p, 2) == 0.92
    assert p == pytest.approx(stats.norm.cdf(1.40), rel=1e-12)


@pytest.mark.parametrize(
    ("p", "z"), [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)]
)
def test_c2_one_sided_table(p, z):
    # Source: JCGM 106:2012, Table 1. The table rounds z to two places.
    above, below = Limits(high=10.0), Limits(low=10.0)
    for side, value in ((above, 10.0 - z), (below, 10.0 + z)):
        assert conformance_probability(value, side, 1.0) == pytest.approx(
            p, abs=0.005 * stats.norm.pdf(z) + 1e-4
        )


@pytest.mark.parametrize(
    ("factor", "percent"), [(1.5, 0.135), (1.0, 2.275), (0.83, 4.846), (0.0, 50.0)]
)
def test_c3_risk_on_the_acceptance_limit(factor, percent):
    # Source: ILAC-G8:09/2019, Table 1; ISO 14253-1:2017 (table: number from memory). U = 2 u.
    uncertainty = 0.02
    limits = Limits(high=1.0)
    on_limit = 1.0 - factor * uncertainty
    risk = 1.0 - conformance_probability(on_limit, limits, uncertainty / 2.0)
    assert 100 * risk == pytest.approx(percent, abs=5e-4)
    assert decide(on_limit, limits, uncertainty, factor) is Decision.CONFORMING
    assert decide(on_limit + 1e-6, limits, uncertainty, factor) is not Decision.CONFORMING


def test_c4_global_risks_of_resistors():
    # Source: JCGM 106:2012, 9.5 example: y0 = 1500, u0 = 0.12, u_m = 0.04, tolerance 1499.8 to
    # 1500.2, acceptance 1499.82 to 1500.18; the guide prints 1 % and 7 % (number from memory).
    prior = stats.norm(1500.0, 0.12)
    acceptance = Limits.band(1499.82, 1500.18)

    def accepted(true: float) -> float:
        return conformance_probability(true, acceptance, 0.04)

    def mass(low: float, high: float, weight) -> float:
        return integrate.quad(lambda v: prior.pdf(v) * weight(v), low, high, epsabs=1e-12)[0]

    consumer = mass(1499.0, 1499.8, accepted) + mass(1500.2, 1501.0, accepted)
    producer = mass(1499.8, 1500.2, lambda v: 1.0 - accepted(v))
    assert 100 * consumer == pytest.approx(0.98783, abs=5e-6)
    assert 100 * producer == pytest.approx(6.90265, abs=5e-6)
    assert (round(100 * consumer), round(100 * producer)) == (1, 7)


@pytest.mark.parametrize(
    ("value", "word"),
    [(0.46, WearWord.PAST_LIMIT), (0.50, WearWord.AT_LIMIT), (0.53, WearWord.WITHIN_LIMIT)],
)
def test_wearing_face_of_half_a_millimetre(value, word):
    # Common practice, no source.
    assert wear_word(value, Limits(low=0.50), 0.02) is word


def test_chance_agrees_with_the_reference_library():
    for value in (0.1, 0.35, 0.5, 0.77):
        mine = conformance_probability(value, Limits.band(0.3, 0.7), 0.08)
        theirs = stats.norm.cdf(0.7, value, 0.08) - stats.norm.cdf(0.3, value, 0.08)
        assert math.isclose(mine, theirs, rel_tol=1e-12, abs_tol=1e-15)
