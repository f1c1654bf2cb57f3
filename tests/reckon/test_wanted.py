"""How often parts are wanted, against the plain definition: part by part and law by law."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from board.reckon.laws import LifeLaw, LikelyLaws, Numbers, WeibullLaw
from board.reckon.stock import AgedPart, Demand, ForecastPart, demand
from board.reckon.wanted import CELLS, NEGLIGIBLE, Ahead, sums

PACES = st.sampled_from([0.5, 3.0, 20.0, 21.0])  # some parts share one
AGED = st.builds(AgedPart, age=st.floats(0.0, 3000.0), pace=PACES)
FOLLOWED = st.builds(
    lambda chances, pace: ForecastPart(
        times=(10.0, 25.0, 60.0), chances=tuple(sorted(chances)), pace=pace
    ),
    st.tuples(*[st.floats(0.0, 1.0)] * 3),
    PACES,
)
LAWS = st.builds(
    WeibullLaw,
    shape=st.floats(0.5, 6.0),
    scale=st.floats(200.0, 4000.0),
    failures=st.just(9),
)


def plainly_wanted(
    aged: list[AgedPart], forecast: list[ForecastPart], law: LifeLaw, horizon: float
) -> Numbers:
    """The chances that each part is wanted 0, 1, 2 times and so on, lives added up cell by cell."""
    use = np.array([[part.pace * horizon] for part in (*aged, *forecast)])
    edge = np.linspace(0.0, 1.0, CELLS + 1)
    cell = (np.arange(CELLS) + 0.5) / CELLS
    gone = np.vstack(
        [
            *(law.failing(part.age, part.pace * horizon * edge) for part in aged),
            *(
                np.interp(horizon * edge, (0.0, *part.times), (0.0, *part.chances))
                for part in forecast
            ),
        ]
    )
    rise, rest = np.diff(gone), use * (1.0 - cell)
    point = np.linspace(0.0, float(use.max()), CELLS + 1)
    life = law.failing(0.0, point)
    middle, new = law.failing(0.0, float(use.max()) * cell), np.diff(life)
    at_least = [np.ones(len(use)), gone[:, -1], (rise * law.failing(0.0, rest)).sum(axis=1)]
    while at_least[-1].max() > NEGLIGIBLE:
        life = np.concatenate([[0.0], np.convolve(middle, new)[:CELLS]])
        middle = (life[1:] + life[:-1]) / 2.0
        at_least.append((rise * np.interp(rest, point, life)).sum(axis=1))
    chances = np.column_stack([*at_least, np.zeros(len(use))])
    return np.maximum(-np.diff(chances), 0.0)


def plainly_summed(counts: Numbers) -> Numbers:
    """The distribution of the sum of independent counts, a negligible end cut off at each."""
    total = np.ones(1)
    for chances in counts:
        both = np.convolve(total, chances)
        total = both[: int(np.flatnonzero(both > NEGLIGIBLE)[-1]) + 1]
    return total


@settings(deadline=None)
@given(st.lists(AGED, max_size=4), st.lists(FOLLOWED, max_size=4), LAWS, st.floats(1.0, 60.0))
def test_each_part_is_wanted_as_often_as_the_plain_definition_says(
    aged: list[AgedPart], forecast: list[ForecastPart], law: WeibullLaw, horizon: float
) -> None:
    if not aged and not forecast:
        return
    times = horizon * np.linspace(0.0, 1.0, CELLS + 1)
    gone = [np.interp(times, (0.0, *part.times), (0.0, *part.chances)) for part in forecast]
    ahead = Ahead(
        age=np.array([part.age for part in aged]),
        pace=np.array([part.pace for part in (*aged, *forecast)]),
        gone=np.array(gone).reshape(-1, CELLS + 1),
        horizon=horizon,
    )
    wanted = ahead.wanted(law)
    plain = plainly_wanted(aged, forecast, law, horizon)
    assert isinstance(wanted, np.ndarray)
    width = max(wanted.shape[1], plain.shape[1])
    assert _filled(wanted, width) == pytest.approx(_filled(plain, width), abs=1e-12)


@given(
    st.integers(0, 30).flatmap(
        lambda parts: st.lists(
            st.integers(1, 5).flatmap(
                lambda times: st.lists(
                    st.lists(st.floats(1e-14, 1.0), min_size=times, max_size=times),
                    min_size=parts,
                    max_size=parts,
                ).map(lambda rows: np.array(rows).reshape(parts, times))
            ),
            min_size=1,
            max_size=4,
        )
    )
)
def test_sums_under_several_laws_are_those_of_each_law_alone(drawn: list[Numbers]) -> None:
    several = [counts / counts.sum(axis=1, keepdims=True) for counts in drawn]
    together = sums(several)
    for row, counts in zip(together, several, strict=True):
        alone = plainly_summed(counts)
        assert not row[len(alone) :].any()
        assert row[: len(alone)] == pytest.approx(alone, rel=1e-12, abs=1e-15)


@settings(max_examples=30, deadline=None)
@given(st.lists(AGED, min_size=1, max_size=4), st.lists(LAWS, min_size=1, max_size=3))
def test_demand_under_likely_laws_is_the_weighed_demand_under_each(
    aged: list[AgedPart], laws: list[WeibullLaw]
) -> None:
    weights = tuple((n + 1.0) / sum(range(1, len(laws) + 1)) for n in range(len(laws)))
    likely = LikelyLaws(laws=tuple(laws), weights=weights, failures=9)
    answer = demand(aged, likely, horizon=30.0)
    assert isinstance(answer, Demand)
    plain = np.zeros(max(len(answer.probabilities), 200))
    for law, weight in zip(laws, weights, strict=True):
        total = plainly_summed(plainly_wanted(aged, [], law, 30.0))
        plain[: len(total)] += weight * total
    # at seven times the scale the cumulative hazard is 60,000, and a difference of two such numbers
    # keeps eleven digits
    assert plain[: len(answer.probabilities)] == pytest.approx(answer.probabilities, abs=1e-9)
    assert not plain[len(answer.probabilities) :].any()


def _filled(chances: Numbers, width: int) -> Numbers:
    return np.pad(chances, ((0, 0), (0, width - chances.shape[1])))
