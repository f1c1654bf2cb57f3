"""At most one fleet in ten without a culprit shows a loom above the fleet, by simulation.

The full table, and how often a culprit is found, is printed by `tests/bench/false_alarms.py`.
"""

import numpy as np
import pytest
from scipy.stats import binom

from board.reckon.spread import Spread
from tests.bench.false_alarms import Case, cases, false_alarms, found

FLEETS_A_CASE = 8


@pytest.fixture(scope="module")
def alarms() -> list[tuple[Case, int]]:
    """1 536 fleets of 12 to 300 looms, mean counts 0.5 to 10, alike to wildly different."""
    random = np.random.default_rng(20240501)
    return [(case, false_alarms(case, FLEETS_A_CASE, random)) for case in cases()]


def share(alarms: list[tuple[Case, int]]) -> float:
    return sum(number for _, number in alarms) / (FLEETS_A_CASE * len(alarms))


def test_at_least_a_thousand_fleets_and_at_most_one_in_ten_shows_a_loom(
    alarms: list[tuple[Case, int]],
) -> None:
    assert FLEETS_A_CASE * len(alarms) >= 1000
    assert share(alarms) <= 0.10


@pytest.mark.parametrize("spread", list(Spread))
def test_whatever_the_form_of_spread(alarms: list[tuple[Case, int]], spread: Spread) -> None:
    assert share([pair for pair in alarms if pair[0].spread is spread]) <= 0.10


@pytest.mark.parametrize("looms", [12, 30, 100, 300])
def test_whatever_the_size_of_fleet(alarms: list[tuple[Case, int]], looms: int) -> None:
    assert share([pair for pair in alarms if pair[0].looms == looms]) <= 0.10


@pytest.mark.parametrize("dispersion", [0.0, 0.1, 0.25, 0.5, 1.0, 2.0])
def test_whatever_the_dispersion(alarms: list[tuple[Case, int]], dispersion: float) -> None:
    assert share([pair for pair in alarms if pair[0].dispersion == dispersion]) <= 0.10


def test_no_kind_of_fleet_is_far_above_one_in_ten(alarms: list[tuple[Case, int]]) -> None:
    """No single kind has more alarms than chance allows at 0.10, over all kinds together."""
    bearable = binom.isf(0.01 / len(alarms), FLEETS_A_CASE, 0.10)
    assert max(number for _, number in alarms) <= bearable


@pytest.mark.parametrize(
    ("looms", "factor", "least"), [(12, 3.0, 0.5), (30, 3.0, 0.7), (100, 3.0, 0.7), (30, 2.0, 0.05)]
)
def test_culprit_among_alike_looms_is_found(looms: int, factor: float, least: float) -> None:
    """A list that names no one would pass the tests above: ten faults a loom, one loom worse."""
    case = Case(looms=looms, mean=10.0, dispersion=0.0, spread=Spread.GAMMA)
    hits = found(case, factor, 60, np.random.default_rng(1))
    assert hits / 60 >= least
