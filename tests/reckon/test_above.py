"""Looms above the fleet: refusals, edges, and what unequal hours and spread do to the list."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import gamma, lognorm, nbinom, poisson

from board.reckon.above import AboveFleet, Power, looms_above, power_above
from board.reckon.counts import Dispersion, LoomCount, dispersion, moment_dispersion
from board.reckon.refusal import Refusal
from board.reckon.spread import Spread, chances

FLEETS = st.lists(st.tuples(st.integers(0, 30), st.floats(1.0, 100.0)), min_size=5, max_size=40)


def fleet(counts: list[int], exposures: list[float] | None = None) -> list[LoomCount]:
    hours = exposures or [100.0] * len(counts)
    return [
        LoomCount(name=f"A{place:02d}", count=count, exposure=exposure)
        for place, (count, exposure) in enumerate(zip(counts, hours, strict=True), start=1)
    ]


def listed(looms: list[LoomCount], q: float = 0.10) -> AboveFleet:
    answer = looms_above(looms, q=q)
    assert isinstance(answer, AboveFleet)
    return answer


def names(looms: list[LoomCount]) -> list[str]:
    return [loom.name for loom in listed(looms).above]


def test_loom_far_above_alike_looms_is_named_with_its_counts() -> None:
    (loom,) = listed(fleet([3] * 20 + [30])).above
    assert (loom.name, loom.count, loom.expected) == ("A21", 30, pytest.approx(3.0))
    assert loom.chance < 1e-4
    assert loom.adjusted == pytest.approx(21 * loom.chance)


def test_alike_looms_name_none() -> None:
    assert names(fleet([5] * 30)) == []


def test_loom_that_ran_ten_times_as_long_is_not_named_for_its_count() -> None:
    counts, hours = [3] * 20 + [30], [100.0] * 20 + [1000.0]
    assert names(fleet(counts, hours)) == []


def test_same_count_in_a_tenth_of_the_hours_is_named() -> None:
    counts, hours = [10] * 20 + [10], [1000.0] * 20 + [100.0]
    assert names(fleet(counts, hours)) == ["A21"]


def test_count_named_among_alike_looms_is_not_named_among_looms_that_differ() -> None:
    alike = [8, 12, 10, 9, 11, 10, 7, 13, 10, 9, 11, 10, 8, 12, 28]
    differing = [2, 21, 5, 17, 1, 24, 9, 3, 19, 6, 14, 2, 20, 7, 28]
    assert names(fleet(alike)) == ["A15"]
    assert names(fleet(differing)) == []


def test_all_faults_on_one_loom_name_it() -> None:
    (loom,) = listed(fleet([0] * 11 + [8])).above
    assert (loom.name, loom.expected) == ("A12", 0.0)


def test_least_likely_loom_comes_first() -> None:
    assert names(fleet([3] * 60 + [20, 40])) == ["A62", "A61"]


def test_looms_without_running_time_are_left_out_by_name() -> None:
    looms = [*fleet([3] * 20 + [30]), LoomCount(name="B01", count=4, exposure=0.0)]
    answer = listed(looms)
    assert answer.left_out == ("B01",)
    assert (answer.looms, answer.count) == (21, 90)


@pytest.mark.parametrize(
    ("counts", "reason"),
    [
        ([], "0 faults on 0 looms"),
        ([9, 9, 9, 9], "36 faults on 4 looms"),
        ([0, 1, 2, 1, 0, 0], "4 faults on 6 looms"),
    ],
)
def test_thin_record_is_refused_with_its_counts(counts: list[int], reason: str) -> None:
    answer = looms_above(fleet(counts))
    assert isinstance(answer, Refusal)
    assert reason in answer.reason


@pytest.mark.parametrize(("count", "exposure"), [(-1, 1.0), (1, -1.0), (1, float("nan"))])
def test_impossible_count_raises(count: int, exposure: float) -> None:
    with pytest.raises(ValueError, match="A07"):
        LoomCount(name="A07", count=count, exposure=exposure)


@pytest.mark.parametrize("q", [0.0, 1.0])
def test_q_outside_its_range_raises(q: float) -> None:
    with pytest.raises(ValueError, match="level"):
        looms_above(fleet([3] * 9), q=q)


@settings(max_examples=60, deadline=None)
@given(FLEETS)
def test_chances_are_chances_and_the_list_is_sorted(looms: list[tuple[int, float]]) -> None:
    answer = looms_above(fleet([count for count, _ in looms], [hours for _, hours in looms]))
    if isinstance(answer, Refusal):
        return
    adjusted = [loom.adjusted for loom in answer.above]
    assert adjusted == sorted(adjusted)
    for loom in answer.above:
        assert 0.0 <= loom.chance <= loom.adjusted <= answer.q
        assert loom.count > loom.expected


@settings(max_examples=20, deadline=None)
@given(st.permutations(range(12)))
def test_order_of_looms_does_not_matter(order: list[int]) -> None:
    looms = fleet([2, 3, 1, 4, 2, 3, 1, 2, 3, 4, 2, 15])
    shuffled = [looms[place] for place in order]
    assert listed(shuffled).above[0].chance == pytest.approx(listed(looms).above[0].chance)


@pytest.mark.parametrize("spread", list(Spread))
@pytest.mark.parametrize("excess", [0.0, 0.5])
def test_chance_in_a_great_fleet_is_that_of_the_true_law(spread: Spread, excess: float) -> None:
    """With 4000 other looms nothing is left to learn: the tail is that of the law itself."""
    random = np.random.default_rng(5)
    mean, watched = 4.0, 12
    match spread:
        case Spread.LOG_NORMAL:
            sigma = np.log1p(excess) ** 0.5
            law = lognorm(sigma or 1e-9, scale=mean / (1 + excess) ** 0.5)
        case Spread.GAMMA | Spread.BURSTS:
            law = gamma(1 / (excess or 1e-12), scale=mean * (excess or 1e-12))
    drawn = random.poisson(law.rvs(4000, random_state=random)).astype(float)
    count = np.append(drawn, float(watched))
    (chance,) = chances(count, np.ones(4001), spread, np.array([4000]))
    if excess == 0.0:
        truth = poisson.sf(watched - 1, mean)
    elif spread is Spread.LOG_NORMAL:
        truth = poisson.sf(watched - 1, law.rvs(400_000, random_state=random)).mean()
    else:
        truth = nbinom.sf(watched - 1, 1 / excess, 1 / (1 + mean * excess))
    assert chance == pytest.approx(truth, rel=0.15)


def test_chance_from_few_looms_is_larger_than_the_plugged_in_one() -> None:
    """Twelve looms that look alike by luck do not prove that they are."""
    count = np.array([4.0] * 11 + [12.0])
    (chance,) = chances(count, np.ones(12), Spread.GAMMA, np.array([11]))
    assert chance > 2 * poisson.sf(11, 4.0)


def test_dispersion_is_one_for_alike_looms_and_its_p_value_is_a_chance() -> None:
    random = np.random.default_rng(6)
    hours = random.uniform(50, 500, 60)
    finds = 0
    for _ in range(600):
        answer = dispersion(fleet(random.poisson(hours / 20).tolist(), hours.tolist()))
        assert isinstance(answer, Dispersion)
        finds += answer.p_value <= 0.10
    assert 0.07 <= finds / 600 <= 0.13


@pytest.mark.parametrize("counts", [[], [3], [0, 0, 0]])
def test_dispersion_of_too_little_is_refused(counts: list[int]) -> None:
    assert isinstance(dispersion(fleet(counts)), Refusal)


def test_power_is_seeded_grows_with_the_factor_and_counts_its_runs() -> None:
    looms = fleet([10, 9, 12, 8, 11, 10, 13, 9, 10, 7, 12, 11] * 3)
    two, again, three = (
        power_above(looms, factor=factor, runs=60, seed=4) for factor in (2.0, 2.0, 3.0)
    )
    assert isinstance(two, Power)
    assert isinstance(three, Power)
    assert two == again
    assert two.found.of == 60
    assert two.found.share + 0.2 < three.found.share
    assert three.found.limits.low <= three.found.share <= three.found.limits.high


def test_power_of_a_thin_record_is_refused() -> None:
    assert isinstance(power_above(fleet([1] * 4), factor=3.0), Refusal)


def test_power_is_how_often_the_list_itself_names_the_loom() -> None:
    """Though a run is given up where one form of spread leaves the loom out."""
    looms = fleet([4, 9, 2, 7, 5, 3, 6, 12, 1, 5, 4, 8], [90.0 + place for place in range(12)])
    random = np.random.default_rng(7)
    count = np.array([loom.count for loom in looms], dtype=np.float64)
    exposure = np.array([loom.exposure for loom in looms])
    rate, excess = count.sum() / exposure.sum(), moment_dispersion(count, exposure)
    assert excess > 0.0
    suspect = int(np.argsort(exposure)[6])
    hits = 0
    for _ in range(60):
        rates = random.gamma(1.0 / excess, rate * excess, 12)
        rates[suspect] *= 3.0
        drawn = random.poisson(rates * exposure)
        hits += looms[suspect].name in names(fleet(drawn.tolist(), exposure.tolist()))
    answer = power_above(looms, factor=3.0, runs=60, seed=7)
    assert isinstance(answer, Power)
    assert 0 < hits < 60
    assert answer.found.count == hits
