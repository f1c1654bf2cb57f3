"""Parts of several fleets followed together: to the last bit where each fleet alone leaves them."""

from __future__ import annotations

import numpy as np
import pytest

from board.reckon.fleetcurve import Curves, mean_curves, straight
from board.reckon.tracked import ends
from board.reckon.tracking import Fleet, Readings, track


def _readings(dice: np.random.Generator, rows: int, longest: int) -> Readings:
    """Parts with any number of readings, some of them bounds, some set anew."""
    count = dice.integers(0, longest + 1, rows)
    there = np.arange(longest) < count[:, None]
    use = np.cumsum(np.where(there, dice.uniform(0.0, 0.2, there.shape), 0.0), axis=1)
    return Readings(
        use=use,
        wear=np.where(there, use + dice.normal(0.0, 0.1, there.shape), 1.0),
        noise=np.full(there.shape, 0.001),
        kind=np.where(there, dice.choice([0, 0, 0, 1, -1], there.shape), 0),
        fresh=there & (dice.random(there.shape) < 0.05) & (np.arange(longest) > 0),
        there=there,
        fitted=dice.random(rows) < 0.7,
    )


def _fleet(dice: np.random.Generator) -> Fleet:
    start, rate, var_start, var_rate, process, scatter = dice.uniform(0.01, 0.1, (6, 1))
    return Fleet(
        start=start, rate=1.0 + rate, var_start=var_start**2, cov=0.1 * var_start * var_rate,
        var_rate=var_rate**2, process=process**2, scatter=scatter**2,
    )  # fmt: skip


def _curve(dice: np.random.Generator) -> Curves:
    age = dice.uniform(0.0, 1.2, 60)
    curves = mean_curves(age, age**1.4, np.repeat(np.arange(10), 6), 10)
    return curves.rows(np.array([10]))


@pytest.mark.parametrize("seed", range(6))
def test_several_fleets_end_where_each_alone_does(seed: int) -> None:
    dice = np.random.default_rng(seed)
    asked = [
        (_readings(dice, rows, longest), _fleet(dice), curve)
        for rows, longest, curve in (
            (7, 5, straight(1)),
            (40, 12, _curve(dice)),
            (1, 1, _curve(dice)),
            (25, 30, straight(1)),
            (9, 8, _curve(dice)),
        )
    ]
    for (readings, fleet, curve), (mean, cov) in zip(asked, ends(asked), strict=True):
        all_rows = np.zeros(len(readings.fitted), dtype=np.int64)
        path = track(readings, fleet.rows(all_rows), curve.rows(all_rows))
        assert np.array_equal(mean, path.mean[:, :, -1])
        assert np.array_equal(cov, path.cov[:, :, :, -1])


def test_no_fleet_ends_nowhere() -> None:
    assert ends([]) == []
