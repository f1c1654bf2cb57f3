"""Judge each way of seeing the fleet by the fleet's own past, and widen its bands to match.

What it does: for every past life, forecasts from its first readings by a fleet learned without it,
against what became of it. From that: which way of seeing is nearer, and by how much its
bands must be widened or may be narrowed.
What it leaves to others: the honest audit over time (`audit`), which repeats all this with only the
lives that had ended by then.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from board.reckon.fleetcurve import Curves
from board.reckon.learning import Lesson
from board.reckon.series import Array, Codes, Mask
from board.reckon.tracking import Fleet, Readings, track

# Weight of the belief that bands are right before any life is judged, in lives.
BELIEF = 2.0
# How far a reading count lies from another before its scores count e times less.
NEAR = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """How a way of seeing did on past lives it had not seen.

    `score` (lives, moments): error at the life's last reading in predicted standard deviations;
    `missed` (lives, moments): error in use to reach it, in typical lives; `judged` where a moment counts.
    """

    score: Array
    missed: Array
    judged: Mask


def judge(readings: Readings, lesson: Lesson) -> Judgement:
    """Forecast each life's last reading from each moment before it, by a fleet that has not seen it."""
    lives, longest = readings.use.shape
    rows = np.arange(lives)
    curves = lesson.curves.rows(rows)
    fleet = rows_of(lesson.fleet, rows)
    path = track(readings, fleet, curves)
    exact = readings.there & (readings.kind == 0)
    past = exact & (readings.wear >= 1.0)
    last = longest - 1 - np.argmax(exact[:, ::-1], axis=1)
    goal = np.where(past.any(axis=1), np.argmax(past, axis=1), last)
    wear = readings.wear[rows, goal]
    age = curves.age(wear)
    slope = curves.slope(age)
    noise = (readings.noise[rows, goal] + fleet.scatter) / slope**2

    ahead = readings.use[rows, goal][:, None] - readings.use
    lead = path.age + path.rate * ahead - age[:, None]
    middle = np.clip((age[:, None] - path.age) / np.maximum(path.rate, 0.05), 0.0, 5.0)
    variance = (
        path.var_age
        + ahead * (2.0 * path.cov + middle * path.var_rate + fleet.process[:, None])
        + noise[:, None]
    )
    begun = np.cumsum(readings.fresh, axis=1)
    judged = (
        readings.there
        & (ahead > 0.0)
        & exact.any(axis=1)[:, None]
        & (begun == begun[rows, goal][:, None])
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        score = np.where(judged, lead / np.sqrt(variance), 0.0)
        reach = np.where(path.rate > 0.0, (age[:, None] - path.age) / path.rate, np.inf)
    missed = np.where(judged, np.clip(reach, 0.0, 3.0) - ahead, 0.0)
    return Judgement(score=score, missed=missed, judged=judged)


def rows_of(fleet: Fleet, index: Codes) -> Fleet:
    """The fleet's numbers of the rows named, in that order."""
    return Fleet(
        start=fleet.start[index],
        rate=fleet.rate[index],
        var_start=fleet.var_start[index],
        cov=fleet.cov[index],
        var_rate=fleet.var_rate[index],
        process=fleet.process[index],
        scatter=fleet.scatter[index],
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


__all__ = ["Curves", "Judgement", "error", "judge", "rows_of", "widening"]
