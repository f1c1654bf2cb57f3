"""Follow the wear of many parts reading by reading: age, rate, offset, and how sure of each.

What it does: a Kalman filter on the state (age, rate, offset), all series at once. Age grows with
use at the part's own rate plus process noise; a reading is the wear at that age, on a straight
line or the fleet's curve, plus the part's own offset (no two new parts measure alike) plus gauge
noise. A job that sets the reading anew gives a new offset and leaves age and rate. A gauge
verdict, which only bounds the wear, enters by the moments of the normal distribution that it cuts.
And the likelihood of past lives over a grid of noise levels.
What it leaves to others: where the fleet's numbers come from, and what the state is used for.

Everything is without unit: wear 0 is a new part and 1 the limit, use is in typical lives.

Source: Durbin and Koopman, Time Series Analysis by State Space Methods, 2nd ed. 2012, chapters 4
(filter), 5.7 (unknown fleet means, the augmented filter) and 10.2 (linearised readings); Rasmussen
and Williams, Gaussian Processes for Machine Learning, 2006, 3.9 (moments of a cut normal). Chapter
numbers from memory.
"""

from __future__ import annotations

import numpy as np

from board.reckon.fleetcurve import Curves, CurvesAbreast
from board.reckon.series import Array, Codes, Mask
from board.reckon.student import normal_cdf, normal_pdf
from grammar.frozen import dataclass

AGE, RATE, OFFSET = 0, 1, 2
AnyCurves = Curves | CurvesAbreast
# Spread of the offset after a job that set the reading anew, and of the age where use 0 is not the
# fitting but the first reading: anywhere in a life, and not before it.
RESTARTED = 0.3
UNKNOWN_AGE, UNKNOWN_AGE_SPREAD = 0.5, 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Fleet:
    """What a fleet says about a part before its first reading; every array of shape (rows,).

    Mean `start` (offset of a new part) [wear] and `rate` [age a typical life] with their variances
    and covariance, the variance a unit of use of the process, and the `scatter` of readings beyond
    gauge noise [wear**2].
    """

    start: Array
    rate: Array
    var_start: Array
    cov: Array
    var_rate: Array
    process: Array
    scatter: Array

    def rows(self, index: Codes) -> Fleet:
        """The numbers of the rows named, in that order (a row may come more than once)."""
        return Fleet(
            start=self.start[index],
            rate=self.rate[index],
            var_start=self.var_start[index],
            cov=self.cov[index],
            var_rate=self.var_rate[index],
            process=self.process[index],
            scatter=self.scatter[index],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """Readings without unit, padded: arrays of shape (rows, longest), `fitted` of shape (rows,).

    `use` [typical lives], `wear` [0 new, 1 limit], `noise` [wear**2], `kind`, `fresh` and `there`
    as in `Packed`.
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
    """The state after each reading; padding repeats the last state.

    `mean` (3, rows, longest) and `cov` (3, 3, rows, longest), in the order AGE, RATE, OFFSET.
    """

    mean: Array
    cov: Array


def track(readings: Readings, fleet: Fleet, curves: Curves) -> Track:
    """Follow every series through its readings, in order."""
    rows, longest = readings.use.shape
    state, spread = begun(readings.fitted, fleet)
    means, covs = np.zeros((3, rows, longest)), np.zeros((3, 3, rows, longest))
    before = np.zeros(rows)
    for j in range(longest):
        step = readings.use[:, j] - before
        before = readings.use[:, j]
        fresh, there, kind = readings.fresh[:, j], readings.there[:, j], readings.kind[:, j]
        noise = readings.noise[:, j] + fleet.scatter
        moved(state, spread, step, fleet.process, fresh, fleet.start)
        slope, shift, shrink = told(readings.wear[:, j], noise, kind * there, state, spread, curves)
        shift = np.where(there, shift, 0.0)
        shrink = np.where(there, shrink, 0.0)
        corrected(state, spread, slope, shift, shrink)
        means[:, :, j], covs[:, :, :, j] = state, spread
    return Track(mean=means, cov=covs)


def begun(fitted: Mask, fleet: Fleet) -> tuple[Array, Array]:
    """The state, (3, rows) and (3, 3, rows), of parts at use 0, before their first reading."""
    state = np.stack([np.where(fitted, 0.0, UNKNOWN_AGE), fleet.rate, fleet.start])
    spread = np.zeros((3, 3, len(fitted)))
    spread[AGE, AGE] = np.where(fitted, 0.0, UNKNOWN_AGE_SPREAD**2)
    spread[RATE, RATE] = fleet.var_rate
    spread[OFFSET, OFFSET] = fleet.var_start
    spread[RATE, OFFSET] = spread[OFFSET, RATE] = fleet.cov
    return state, spread


def moved(
    state: Array, spread: Array, step: Array, process: Array, fresh: Mask, start: Array
) -> None:
    """Carry a state to its next reading, in place; a ``fresh`` one is of a level set anew."""
    _move(state, spread, step, process)
    if fresh.any():
        state[OFFSET, fresh] = start[fresh]
        spread[OFFSET, :, fresh] = 0.0
        spread[:, OFFSET, fresh] = 0.0
        spread[OFFSET, OFFSET, fresh] = RESTARTED**2


def told(
    wear: Array, noise: Array, kind: Codes, state: Array, spread: Array, curves: AnyCurves
) -> tuple[Array, Array, Array]:
    """What a reading of each part says: slope of the curve, shift and shrink of the state."""
    slope, shift, shrink = _plain(wear, noise, state, spread, curves)
    if kind.any():
        cut = np.flatnonzero(kind)
        slope[cut], shift[cut], shrink[cut] = _bounded(
            wear[cut], kind[cut], noise[cut], state[:, cut], spread[:, :, cut], curves.rows(cut)
        )
    return slope, shift, shrink


def corrected(state: Array, spread: Array, slope: Array, shift: Array, shrink: Array) -> None:
    """Correct a state by what a reading says, in place."""
    reach = slope * spread[AGE] + spread[OFFSET]
    state += reach * shift
    spread -= reach[:, None] * reach[None, :] * shrink


def ahead(mean: Array, cov: Array, since: Array, fleet: Fleet) -> tuple[Array, Array]:
    """The state, (3, rows) and (3, 3, rows), `since` [typical lives] after its last reading."""
    later, spread = mean.copy(), cov.copy()
    _move(later, spread, since, fleet.process)
    return later, spread


def _move(state: Array, spread: Array, step: Array, process: Array) -> None:
    """Carry state and spread over a step of use, in place."""
    state[AGE] += step * state[RATE]
    spread[AGE] += step * spread[RATE]
    spread[:, AGE] += step * spread[:, RATE]
    spread[AGE, AGE] += step * process


def _plain(
    wear: Array, noise: Array, state: Array, spread: Array, curves: AnyCurves
) -> tuple[Array, Array, Array]:
    """Slope, shift and shrink of a plain reading, on the curve's tangent where it puts the age."""
    at = state[AGE]
    for _ in range(2):
        there, slope = curves.tangent(at)
        reach = slope * spread[AGE, AGE] + spread[AGE, OFFSET]
        variance = slope * (reach + spread[AGE, OFFSET]) + spread[OFFSET, OFFSET] + noise
        missed = wear - there - slope * (state[AGE] - at) - state[OFFSET]
        at = state[AGE] + reach * missed / variance
    return slope, missed / variance, 1.0 / variance


def _bounded(
    wear: Array, side: Codes, noise: Array, state: Array, spread: Array, curves: AnyCurves
) -> tuple[Array, Array, Array]:
    """The same of a bound: the first two moments of the normal distribution that it cuts."""
    at = curves.age(wear - state[OFFSET])
    slope = curves.slope(at)
    variance = (
        slope * (slope * spread[AGE, AGE] + 2.0 * spread[AGE, OFFSET])
        + spread[OFFSET, OFFSET]
        + noise
    )
    root = np.sqrt(variance)
    score = side * slope * (state[AGE] - at) / root
    chance = normal_cdf(score)
    # Far on the wrong side the ratio of density to chance is the score itself (Mills).
    ratio = np.where(
        chance > 1e-280, normal_pdf(score) / np.maximum(chance, 1e-280), np.maximum(-score, 0.0)
    )
    return slope, side * ratio / root, np.maximum(ratio * (ratio + score), 0.0) / variance


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Noise levels to try: `var_rate`, `process` and `scatter`, each of shape (points,)."""

    var_rate: Array
    process: Array
    scatter: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Straightened:
    """Past lives with the curve drawn straight at each reading: `wear` = `slope` * age + offset.

    Arrays of shape (lives, longest), `fitted` (lives,); `noise` [wear**2]; `there` only where a
    plain reading is.
    """

    use: Array
    wear: Array
    slope: Array
    noise: Array
    fresh: Mask
    there: Mask
    fitted: Mask


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What each life says at each grid point, before the fleet's two means are known.

    Minus twice the log likelihood, but for a constant, of means m = (start, rate) is
    `log_det + square - 2 m . cross + m . information m`. Shapes (lives, points), and two more axes
    of 2 for the last ones.
    """

    log_det: Array
    square: Array
    cross: Array
    information: Array


def evidence(lives: Straightened, grid: Grid, var_start: float) -> Evidence:
    """What past lives say at every grid point, for the data and for both fleet means.

    `var_start` is the variance of new parts' offsets. A life's rate stays what it is, so the filter
    runs on age and offset alone, for each process and scatter of the grid, and carries the effect
    of the rate; how rates differ between lives (`var_rate`) enters at its end, in closed form.

    Source: Durbin and Koopman as above, 5.7; Harville 1977, JASA 72:320 (a normal effect taken out
    of a normal likelihood).
    """
    levels, of_point = np.unique(
        np.stack([grid.process, grid.scatter]), axis=1, return_inverse=True
    )
    log_det, products = _given_rates(lives, levels[0], levels[1], var_start)
    known, product = log_det[:, of_point], products[:, :, :, of_point]
    by_rate = product[:, 2]
    kept = 1.0 / (1.0 + grid.var_rate * by_rate[2])  # the share that does not know the rate
    taken = grid.var_rate * kept
    square = product[0, 0] - taken * by_rate[0] ** 2
    both = by_rate[1] * kept
    start = product[1, 1] - taken * by_rate[1] ** 2
    cross = [product[0, 1] - taken * by_rate[0] * by_rate[1], by_rate[0] * kept]
    return Evidence(
        log_det=known - np.log(kept),
        square=square,
        cross=-np.stack(cross, axis=-1),
        information=np.stack(
            [np.stack([start, both], axis=-1), np.stack([both, by_rate[2] * kept], axis=-1)],
            axis=-2,
        ),
    )


def _given_rates(
    lives: Straightened, process: Array, scatter: Array, var_start: float
) -> tuple[Array, Array]:
    """Log determinants (lives, levels) and products (3, 3, lives, levels) of what is missed.

    Run over past lives at several levels of process and scatter, for three columns: the data if
    both means were zero, the effect of the mean start, and the effect of the life's own rate.
    """
    count, longest = lives.use.shape
    # Lives in the order of their readings, the longest first: those at their end drop out.
    readings = longest - np.argmax(lives.there[:, ::-1], axis=1)
    readings[~lives.there.any(axis=1)] = 0
    order = np.argsort(-readings, kind="stable")
    going = (readings[:, None] > np.arange(longest)).sum(axis=0).tolist()
    shape = (len(process), count)
    age, offset = np.zeros((2, 3, *shape))
    offset[1] = 1.0
    var_age, cov, var_offset = np.zeros((3, *shape))
    var_offset[:] = var_start
    log_det, products = np.zeros(shape), np.zeros((3, 3, *shape))
    unknown = ~lives.fitted[order]
    age[0][:, unknown] = UNKNOWN_AGE
    var_age[:, unknown] = UNKNOWN_AGE_SPREAD**2
    before = np.zeros(count)
    for j, some in enumerate(going):
        if not some:
            break
        rows = order[:some]
        at, off = age[:, :, :some], offset[:, :, :some]
        var_at, both, var_off = var_age[:, :some], cov[:, :some], var_offset[:, :some]
        step = lives.use[rows, j] - before[:some]
        before = lives.use[rows, j]
        at[2] += step
        var_at += process[:, None] * step
        fresh = lives.fresh[rows, j]
        if fresh.any():
            off[:, :, fresh] = np.array([0.0, 1.0, 0.0])[:, None, None]
            both[:, fresh] = 0.0
            var_off[:, fresh] = RESTARTED**2
        slope, there = lives.slope[rows, j], lives.there[rows, j]
        reach_at, reach_off = slope * var_at + both, slope * both + var_off
        variance = slope * reach_at + reach_off + lives.noise[rows, j] + scatter[:, None]
        inverse = np.where(there, 1.0 / variance, 0.0)
        missed = -(slope * at + off)
        missed[0] += lives.wear[rows, j]
        log_det[:, :some] += np.where(there, np.log(variance), 0.0)
        weighted = missed * inverse
        products[0, :, :, :some] += missed[0] * weighted
        products[1, 1:, :, :some] += missed[1] * weighted[1:]
        products[2, 2, :, :some] += missed[2] * weighted[2]
        at += reach_at * weighted
        off += reach_off * weighted
        var_at -= reach_at * reach_at * inverse
        both -= reach_at * reach_off * inverse
        var_off -= reach_off * reach_off * inverse
    products[1, 0], products[2, :2] = products[0, 1], products[:2, 2]
    back = np.argsort(order)
    return log_det.T[back], np.swapaxes(products, 2, 3)[:, :, back]
