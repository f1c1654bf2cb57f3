"""Judge each way of seeing the fleet by the fleet's own past, and widen its bands to match.

What it does: for every past life, forecasts from its first readings by a fleet learned without it,
against what became of it. From that: which way of seeing is nearer, and by how much its
bands must be widened or may be narrowed.
What it leaves to others: the honest audit over time (`audit`), which repeats all this with only the
lives that had ended by then.
"""

from __future__ import annotations

import numpy as np

from board.reckon.fleetcurve import Curves
from board.reckon.learning import Lesson
from board.reckon.series import Array, Mask
from board.reckon.tracking import AGE, OFFSET, RATE, Fleet, Readings, track
from grammar.frozen import dataclass

# Weight of the belief that bands are right before any life is judged, in lives.
BELIEF = 2.0
# How far a reading count lies from another before its scores count e times less.
NEAR = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """How a way of seeing did on past lives it had not seen.

    `score` (lives, moments): error at the life's last reading in predicted standard deviations;
    `missed` (lives, moments): error in use to reach it, in typical lives; `judged` where a moment
    counts.
    """

    score: Array
    missed: Array
    judged: Mask


def judge(readings: Readings, lesson: Lesson) -> Judgement:
    """Forecast each life's last reading from every moment before, by a fleet without that life."""
    lives, longest = readings.use.shape
    rows = np.arange(lives)
    fleet = lesson.fleet.rows(rows)
    path = track(readings, fleet, lesson.curves.rows(rows))
    exact = readings.there & (readings.kind == 0)
    past = exact & (readings.wear >= 1.0)
    last = longest - 1 - np.argmax(exact[:, ::-1], axis=1)
    goal = np.where(past.any(axis=1), np.argmax(past, axis=1), last)
    ahead = readings.use[rows, goal][:, None] - readings.use
    each = np.repeat(rows, longest)
    way = way_to(
        readings.wear[rows, goal][each],
        path.mean.reshape(3, -1),
        path.cov.reshape(3, 3, -1),
        fleet.rows(each),
        lesson.curves.rows(each),
        readings.noise[rows, goal][each] + fleet.scatter[each],
    )
    h = ahead.ravel()
    with np.errstate(divide="ignore", invalid="ignore"):
        variance = way.var_margin + h * (2.0 * way.cov + way.drift)
        score = (way.rate * h - way.margin) / np.sqrt(variance)
        reach = np.where(way.rate > 0.0, way.margin / way.rate, np.inf)
    begun = np.cumsum(readings.fresh, axis=1)
    judged = (
        readings.there
        & (ahead > 0.0)
        & exact.any(axis=1)[:, None]
        & (begun == begun[rows, goal][:, None])
    )
    missed = np.clip(reach, 0.0, 3.0).reshape(ahead.shape) - ahead
    return Judgement(
        score=np.where(judged, score.reshape(ahead.shape), 0.0),
        missed=np.where(judged, missed, 0.0),
        judged=judged,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """From a state to a wear level: `margin` [age] and `rate`, the variance of the margin, its
    covariance with the rate, and `drift`, the variance a unit of use; all of shape (rows,).
    """

    margin: Array
    rate: Array
    var_margin: Array
    cov: Array
    drift: Array


def way_to(
    wear: Array, mean: Array, cov: Array, fleet: Fleet, curves: Curves, noise: Array | float = 0.0
) -> Way:
    """How far each state is from a wear level on its curve, and how sure that is.

    The spread of rates enters as a variance growing with use, so that the time to the level has
    the fatigue-life distribution: rates of wear are never negative.

    Source: Birnbaum and Saunders 1969, J. Appl. Prob. 6:319.
    """
    goal = curves.age(wear - mean[OFFSET])
    slope = curves.slope(goal)
    margin, rate = goal - mean[AGE], mean[RATE]
    middle = np.clip(margin / np.maximum(rate, 0.05), 0.0, 5.0)
    return Way(
        margin=margin,
        rate=rate,
        var_margin=cov[AGE, AGE]
        + 2.0 * cov[AGE, OFFSET] / slope
        + (cov[OFFSET, OFFSET] + noise) / slope**2,
        cov=cov[AGE, RATE] + cov[OFFSET, RATE] / slope,
        drift=fleet.process + middle * cov[RATE, RATE],
    )


def widening(judgement: Judgement) -> tuple[Array, int]:
    """Factor on the variance for 1, 2, ... readings seen, and the degrees of freedom it rests on.

    Each judged life counts once, its moments weighed by how near their number of readings is; the
    belief that the band is right counts as `BELIEF` lives.

    Source: Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, 3.3 (scaled inverse chi-squared).
    """
    moments = judgement.score.shape[1]
    seen = np.arange(moments)
    near = np.exp(-np.abs(seen[:, None] - seen[None, :]) / NEAR)
    weight = near[:, None, :] * judgement.judged[None]
    total = weight.sum(axis=2)
    with np.errstate(divide="ignore", invalid="ignore"):
        each = np.where(total > 0.0, (weight * judgement.score[None] ** 2).sum(axis=2) / total, 0.0)
    counted = (total > 0.0).sum(axis=1)
    factor = (BELIEF + each.sum(axis=1)) / (BELIEF + counted)
    return factor, int(BELIEF + judgement.judged.any(axis=1).sum())


def error(judgement: Judgement) -> float:
    """Mean size of the error in use over lives, each the mean of its moments [typical lives]."""
    counted = judgement.judged.sum(axis=1)
    lives = counted > 0
    each = np.abs(judgement.missed).sum(axis=1)[lives] / counted[lives]
    return float(each.mean())
