"""What past lives say of the noise levels, against the plain filter that also follows the rate."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from board.reckon.series import Array
from board.reckon.tracking import (
    AGE,
    OFFSET,
    RATE,
    RESTARTED,
    UNKNOWN_AGE,
    UNKNOWN_AGE_SPREAD,
    Grid,
    Straightened,
    evidence,
)

GRID = Grid(
    var_rate=np.array([0.0009, 0.0625, 0.4225, 0.0009, 0.16]),
    process=np.array([0.0, 0.0, 0.0025, 0.04, 0.0004]),
    scatter=np.array([0.0001, 0.0001, 0.0, 0.0036, 0.0]),
)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 9), st.integers(1, 12), st.floats(1e-6, 1e-2))
def test_the_rate_taken_out_at_the_end_is_the_rate_followed_throughout(
    seed: int, count: int, longest: int, noise: float
) -> None:
    lives = drawn(np.random.default_rng(seed), count, longest, noise)
    var_start = 0.04
    got = evidence(lives, GRID, var_start)
    log_det, products = plainly(lives, GRID, var_start)
    assert got.log_det == pytest.approx(log_det, rel=1e-9, abs=1e-9)
    for means in (np.zeros(2), np.array([0.1, 0.9]), np.array([-0.3, 1.4])):
        one = np.array([1.0, *means])
        misfit = np.einsum("i,ijlg,j->lg", one, products, one)
        told = (
            got.square
            - 2.0 * got.cross @ means
            + np.einsum("i,lgij,j->lg", means, got.information, means)
        )
        assert told == pytest.approx(misfit, rel=1e-8, abs=1e-7)
    assert got.information == pytest.approx(
        np.moveaxis(products, (0, 1), (2, 3))[:, :, 1:, 1:], rel=1e-8, abs=1e-7
    )


def drawn(rng: np.random.Generator, count: int, longest: int, noise: float) -> Straightened:
    """Lives of different lengths, some begun before the record, some set anew, some with gaps."""
    shape = (count, longest)
    readings = rng.integers(0, longest + 1, count)[:, None]
    column = np.arange(longest)
    steps = np.where(column < readings, rng.uniform(0.0, 0.3, shape), 0.0)
    use = np.cumsum(steps, axis=1)
    fresh = (rng.random(shape) < 0.15) & (column < readings) & (column > 0)
    rates = rng.normal(1.0, 0.2, count)[:, None]
    return Straightened(
        use=use,
        wear=use * rates + rng.normal(0.0, 0.05, shape),
        slope=rng.uniform(0.5, 2.0, shape),
        noise=noise * rng.uniform(1.0, 2.0, shape),
        fresh=fresh,
        there=(rng.random(shape) < 0.8) & (column < readings),
        fitted=rng.random(count) < 0.7,
    )


def plainly(lives: Straightened, grid: Grid, var_start: float) -> tuple[Array, Array]:
    """The filter on age, rate and offset at every point, for the data and for both means."""
    count, longest = lives.use.shape
    shape = (count, len(grid.var_rate))
    state, spread = np.zeros((3, 3, *shape)), np.zeros((3, 3, *shape))
    state[OFFSET, 1], state[RATE, 2] = 1.0, 1.0
    state[AGE, 0, ~lives.fitted] = UNKNOWN_AGE
    spread[AGE, AGE, ~lives.fitted] = UNKNOWN_AGE_SPREAD**2
    spread[RATE, RATE] = grid.var_rate
    spread[OFFSET, OFFSET] = var_start
    log_det, products = np.zeros(shape), np.zeros((3, 3, *shape))
    before = np.zeros(count)
    for j in range(longest):
        step = (lives.use[:, j] - before)[:, None]
        before = lives.use[:, j]
        state[AGE] += step * state[RATE]
        spread[AGE] += step * spread[RATE]
        spread[:, AGE] += step * spread[:, RATE]
        spread[AGE, AGE] += step * grid.process
        fresh = lives.fresh[:, j]
        state[OFFSET][:, fresh] = np.array([0.0, 1.0, 0.0])[:, None, None]
        spread[OFFSET][:, fresh] = 0.0
        spread[:, OFFSET][:, fresh] = 0.0
        spread[OFFSET, OFFSET, fresh] = RESTARTED**2
        slope, there = lives.slope[:, j, None], lives.there[:, j, None]
        reach = slope * spread[AGE] + spread[OFFSET]
        variance = slope * reach[AGE] + reach[OFFSET] + lives.noise[:, j, None] + grid.scatter
        inverse = np.where(there, 1.0 / variance, 0.0)
        missed = -(slope * state[AGE] + state[OFFSET])
        missed[0] += lives.wear[:, j, None]
        log_det += np.where(there, np.log(variance), 0.0)
        weighted = missed * inverse
        products += missed[:, None] * weighted[None, :]
        state += reach[:, None] * weighted[None, :]
        spread -= (reach * inverse)[:, None] * reach[None, :]
    return log_det, products
