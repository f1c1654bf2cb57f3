"""Follow the wear of many parts reading by reading: level, rate, and how sure of both.

What it does: a Kalman filter on the state (age, rate), all series at once. Age grows with use at the
part's own rate plus process noise; a reading is wear at that age, through a straight line or the
fleet's curve, plus gauge noise. A gauge verdict, which only bounds the wear, enters by the moments of
the normal distribution that it cuts. And the likelihood of past lives over a grid of noise levels.
What it leaves to others: where the fleet's numbers come from, and what the state is used for.

Everything is without unit: wear 0 is a new part and 1 the limit, use is in typical lives.

Source: Durbin and Koopman, Time Series Analysis by State Space Methods, 2nd ed. 2012, chapters 4
(filter), 5.7 (unknown fleet means, the augmented filter) and 10.2 (linearised readings); Rasmussen and
Williams, Gaussian Processes for Machine Learning, 2006, 3.9 (moments of a cut normal).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from board.reckon.fleetcurve import Curves
from board.reckon.series import Array, Codes, Mask
from board.reckon.student import normal_cdf, normal_pdf

# Spread of the age after a job that set the reading anew, and of a series whose start is unknown.
RESTARTED = 0.3
UNKNOWN_START = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Fleet:
    """What a fleet says about a part before its first reading; every array of shape (rows,).

    Mean `start` [age] and `rate` [age a typical life] with their variances and covariance, the
    variance a unit of use of the process, and the `scatter` of readings beyond gauge noise [wear**2].
    """

    start: Array
    rate: Array
    var_start: Array
    cov: Array
    var_rate: Array
    process: Array
    scatter: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """Readings without unit, padded: arrays of shape (rows, longest), `fitted` of shape (rows,).

    `use` [typical lives], `wear` [0 new, 1 limit], `noise` [wear**2], `kind`, `fresh` and `there` as
    in `Packed`.
    """

    use: Array
    wear: Array
    noise: Array
    kind: Codes
    fresh: Mask
    there: Mask
    fitted: Mask


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """State after each reading: arrays of shape (rows, longest); padding repeats the last state."""

    age: Array
    rate: Array
    var_age: Array
    cov: Array
    var_rate: Array


def track(readings: Readings, fleet: Fleet, curves: Curves) -> Track:
    """Follow every series through its readings, in order."""
    rows, longest = readings.use.shape
    age, rate = fleet.start.astype(float), fleet.rate.astype(float)
    vague = UNKNOWN_START**2
    v_aa = np.where(readings.fitted, fleet.var_start, vague)
    v_ar = np.where(readings.fitted, fleet.cov, 0.0)
    v_rr = fleet.var_rate.astype(float)
    states = np.zeros((5, rows, longest))
    before = np.zeros(rows)
    for j in range(longest):
        step = readings.use[:, j] - before
        before = readings.use[:, j]
        age = age + step * rate
        v_aa = v_aa + step * (2.0 * v_ar + step * v_rr + fleet.process)
        v_ar = v_ar + step * v_rr
        fresh = readings.fresh[:, j]
        age = np.where(fresh, fleet.start, age)
        v_aa = np.where(fresh, RESTARTED**2, v_aa)
        v_ar = np.where(fresh, 0.0, v_ar)

        exact = readings.there[:, j] & (readings.kind[:, j] == 0)
        noise = readings.noise[:, j] + fleet.scatter
        shift, shrink = _exact(readings.wear[:, j], noise, age, v_aa, curves)
        bound = readings.there[:, j] & (readings.kind[:, j] != 0)
        if bound.any():
            cut_shift, cut_shrink = _cut(readings, j, bound, noise, age, v_aa, curves)
            shift, shrink = np.where(bound, cut_shift, shift), np.where(bound, cut_shrink, shrink)
        used = exact | bound
        shift, shrink = np.where(used, shift, 0.0), np.where(used, shrink, 0.0)
        # `shift` moves the age in units of its variance; rate follows through the covariance.
        age, rate = age + v_aa * shift, rate + v_ar * shift
        v_rr = v_rr - v_ar * v_ar * shrink
        v_ar, v_aa = v_ar - v_aa * v_ar * shrink, v_aa - v_aa * v_aa * shrink
        states[:, :, j] = age, rate, v_aa, v_ar, v_rr
    return Track(
        age=states[0], rate=states[1], var_age=states[2], cov=states[3], var_rate=states[4]
    )


def _exact(
    wear: Array, noise: Array, age: Array, variance: Array, curves: Curves
) -> tuple[Array, Array]:
    """Shift and shrink of a plain reading, the curve drawn straight where the reading puts it."""
    at = age
    for _ in range(2):
        slope = curves.slope(at)
        gain = variance * slope / (slope * slope * variance + noise)
        missed = wear - curves.wear(at) - slope * (age - at)
        at = age + gain * missed
    inverse = 1.0 / (slope * slope * variance + noise)
    return slope * missed * inverse, slope * slope * inverse


def _cut(
    readings: Readings,
    j: int,
    bound: Mask,
    noise: Array,
    age: Array,
    variance: Array,
    curves: Curves,
) -> tuple[Array, Array]:
    """Shift and shrink of a bound: the first two moments of the cut normal distribution."""
    shift, shrink = np.zeros(len(age)), np.zeros(len(age))
    side = readings.kind[bound, j].astype(float)
    picked = curves.rows(np.flatnonzero(bound))
    limit = picked.age(readings.wear[bound, j])
    slope = picked.slope(limit)
    spread = np.sqrt(variance[bound] + noise[bound] / (slope * slope))
    score = side * (age[bound] - limit) / spread
    # Far on the wrong side the ratio of density to chance is the score itself (Mills).
    chance = normal_cdf(score)
    ratio = np.where(
        chance > 1e-280, normal_pdf(score) / np.maximum(chance, 1e-280), np.maximum(-score, 0.0)
    )
    shift[bound] = side * ratio / spread
    shrink[bound] = np.maximum(ratio * (ratio + score), 0.0) / (spread * spread)
    return shift, shrink


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Noise levels to try, one a point: `var_rate`, `process`, `scatter`, each of shape (points,)."""

    var_rate: Array
    process: Array
    scatter: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What each life says at each grid point, before the fleet's two means are known.

    `log_det` (lives, points), `square` (lives, points); `cross` (lives, points, 2) and `information`
    (lives, points, 2, 2) about the means (start, rate); `readings` (lives,) that were counted.
    """

    log_det: Array
    square: Array
    cross: Array
    information: Array
    readings: Codes


def evidence(
    use: Array, age: Array, noise: Array, scatter_scale: Array, fresh: Mask, there: Mask,
    grid: Grid, var_start: float, cov_start_rate: float = 0.0,
) -> Evidence:
    """Run the filter over past lives at every grid point, for the data and for both fleet means.

    `use`, `age` (readings as ages), `noise` [age**2] and `scatter_scale` (age**2 a wear**2), `fresh`
    and `there` of shape (lives, longest).
    """
    lives, longest = use.shape
    shape = (lives, len(grid.var_rate))
    # Column 0 carries the data under zero means, 1 and 2 the effect of the two means.
    level = np.zeros((3, *shape))
    rate = np.zeros((3, *shape))
    level[1], rate[2] = 1.0, 1.0
    v_aa, v_ar = np.full(shape, var_start), np.full(shape, cov_start_rate)
    v_rr = np.broadcast_to(grid.var_rate, shape)
    log_det = np.zeros(shape)
    products = np.zeros((3, 3, *shape))
    before = np.zeros(lives)
    for j in range(longest):
        step = (use[:, j] - before)[:, None]
        before = use[:, j]
        level = level + step * rate
        v_aa = v_aa + step * (2.0 * v_ar + step * v_rr + grid.process)
        v_ar = v_ar + step * v_rr
        if fresh[:, j].any():
            anew = fresh[:, j][:, None]
            level = np.where(anew, np.array([0.0, 1.0, 0.0])[:, None, None], level)
            v_aa, v_ar = np.where(anew, RESTARTED**2, v_aa), np.where(anew, 0.0, v_ar)
        seen = there[:, j][:, None]
        spread = v_aa + noise[:, j][:, None] + scatter_scale[:, j][:, None] * grid.scatter
        inverse = np.where(seen, 1.0 / spread, 0.0)
        missed = -level
        missed[0] += age[:, j][:, None]
        log_det += np.where(seen, np.log(spread), 0.0)
        weighted = missed * inverse
        products += missed[:, None] * weighted[None, :]
        level = level + v_aa * weighted
        rate = rate + v_ar * weighted
        v_rr = v_rr - v_ar * v_ar * inverse
        v_ar, v_aa = v_ar - v_aa * v_ar * inverse, v_aa - v_aa * v_aa * inverse
    moved = np.moveaxis(products, (0, 1), (2, 3))
    return Evidence(
        log_det=log_det,
        square=moved[:, :, 0, 0],
        cross=-moved[:, :, 0, 1:],
        information=moved[:, :, 1:, 1:],
        readings=there.sum(axis=1),
    )
