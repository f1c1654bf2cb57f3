"""A part's own straight line, from its own readings alone.

What it does: maximum likelihood of a straight line through plain readings and bounds, for many
series at once, one starting level for each time the reading was set anew and one rate for all; and
from it when the line meets the limit, by Student's t.
What it leaves to others: whether a fleet knows better, which it nearly always does.
"""

from __future__ import annotations

import numpy as np

from board.reckon.crossing import Crossing
from board.reckon.series import Array, Codes, Mask, Packed
from board.reckon.student import normal_cdf, normal_pdf
from grammar.frozen import dataclass

STEPS = 60
LEAST_READINGS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Fits:
    """Fitted lines: `coef` (rows, p), their `cov` (rows, p, p) and the log likelihood (rows,).

    Bounds count in the likelihood with their chance, plain readings with their density.
    """

    coef: Array
    cov: Array
    log_likelihood: Array


def fit_lines(design: Array, value: Array, kind: Codes, there: Mask, sd: Array) -> Fits:
    """Maximum likelihood of `value = design @ coef + noise`, some values known only as bounds.

    `design` (rows, n, p), `value`, `kind` (a `Kind` each) and `there` (rows, n), `sd` (rows,), the
    noise's known standard deviation. Newton's method; the likelihood has one top. Columns of zeros
    get coefficient zero.

    Source: Tobin 1958, Econometrica 26:24 (bounds in a regression); Cox and Hinkley, Theoretical
    Statistics, 1974, 9.2 (covariance from the observed information).
    """
    p = design.shape[2]
    exact, bound = there & (kind == 0), there & (kind != 0)
    scale = sd[:, None]
    empty = (design * there[:, :, None] == 0.0).all(axis=1)
    ridge = np.eye(p) * empty[:, None, :]
    coef = _solve(design, np.where(exact, value, 0.0), exact.astype(float), ridge)
    information = np.einsum("rni,rn,rnj->rij", design, exact / scale**2, design)
    # Each series goes on until its own fit stands, whatever others are fitted along with it.
    rows = np.flatnonzero(bound.any(axis=1))
    for _ in range(STEPS):
        if not len(rows):
            break
        own, sure, least = design[rows], exact[rows], scale[rows]
        side = np.where(bound[rows], kind[rows], 0).astype(float)
        residual = (value[rows] - np.einsum("rnp,rp->rn", own, coef[rows])) / least
        ratio, curve = _bound_terms(side * -residual)
        pull = np.where(sure, residual, np.where(bound[rows], side * ratio, 0.0)) / least
        weight = np.where(sure, 1.0, np.where(bound[rows], curve, 0.0)) / least**2
        information[rows] = np.einsum("rni,rn,rnj->rij", own, weight, own)
        step = np.linalg.solve(
            information[rows] + ridge[rows], np.einsum("rnp,rn->rp", own, pull)[:, :, None]
        )[:, :, 0]
        # A long step would leave the region where the likelihood is near its parabola.
        moved = np.abs(np.einsum("rnp,rp->rn", own, step) * there[rows]).max(axis=1) / sd[rows]
        coef[rows] += step * np.minimum(1.0, 2.0 / np.maximum(moved, 1e-300))[:, None]
        rows = rows[moved >= 1e-10]
    residual = (value - np.einsum("rnp,rp->rn", design, coef)) / scale
    plain = -0.5 * residual**2 - np.log(scale) - 0.5 * np.log(2.0 * np.pi)
    likely = np.where(exact, plain, 0.0)
    likely[bound] = np.log(np.maximum(normal_cdf((kind * -residual)[bound]), 1e-300))
    return Fits(
        coef=coef, cov=np.linalg.inv(information + ridge), log_likelihood=likely.sum(axis=1)
    )


def _bound_terms(score: Array) -> tuple[Array, Array]:
    """First and (negative) second derivative of the log chance of a bound."""
    chance = normal_cdf(score)
    ratio = np.where(
        chance > 1e-280, normal_pdf(score) / np.maximum(chance, 1e-280), np.maximum(-score, 0.0)
    )
    return ratio, np.maximum(ratio * (ratio + score), 1e-12)


def _solve(design: Array, value: Array, weight: Array, ridge: Array) -> Array:
    normal = np.einsum("rni,rn,rnj->rij", design, weight, design)
    # Bounds alone may leave a column without plain readings: a trace keeps the start solvable.
    own = np.diagonal(normal, axis1=1, axis2=2)
    trace = np.maximum(1e-14 * own, 1e-300)[:, :, None] * np.eye(design.shape[2])
    target = np.einsum("rni,rn,rn->ri", design, weight, value)
    solved = np.linalg.solve(normal + ridge + trace, target[:, :, None])
    return np.asarray(solved[:, :, 0])


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnLines:
    """Own lines at the moment of asking: when each meets its limit, and what it rests on.

    `crossing` in the part's unit and hours; `plain` (rows,) plain readings counted; `spare` (rows,)
    readings beyond those that the line needs, below 1 where there is no line to trust.
    """

    crossing: Crossing
    plain: Codes
    spare: Codes


def own_lines(packed: Packed, sd: float) -> OwnLines:
    """Fit each series its own line; `sd` [part's unit] is the least noise of a reading.

    The noise is the scatter about the line, or the gauge's where that is more, or where the gauge's
    is not known the rounding's. A level on which only bounds were read is left out: nothing ties it
    to a number.
    """
    rows = len(packed.use)
    level = np.cumsum(packed.fresh, axis=1, dtype=np.int64)
    levels = int(level.max(initial=0)) + 1
    exact = packed.there & (packed.kind == 0)
    on = level[:, :, None] == np.arange(levels)
    tied = (on & exact[:, :, None]).any(axis=1)
    there = packed.there & tied[np.arange(rows)[:, None], level]
    # Readings taken all at one use give no rate; such a series is not fitted at all.
    apart: Mask = np.zeros(rows, dtype=bool)
    for one in range(levels):
        mine = exact & on[:, :, one]
        uses = np.where(mine, packed.use, np.inf).min(axis=1)
        apart |= mine.any(axis=1) & (np.where(mine, packed.use, -np.inf).max(axis=1) > uses)
    there &= apart[:, None]
    exact &= apart[:, None]

    # Use is counted from the present, so that the level's coefficient is where the line is now.
    ahead = (packed.use - packed.now[:, None]) * there
    span = np.maximum(np.abs(ahead).max(axis=1), 1e-12)
    design = np.concatenate([on * there[:, :, None], (ahead / span[:, None])[:, :, None]], axis=2)
    design = design.astype(float)
    value = packed.progress * there
    plain = exact.sum(axis=1)
    spare = np.where(apart, plain - tied.sum(axis=1) - 1, 0)

    ones = np.ones(rows)
    first = fit_lines(design, value, packed.kind, exact, ones)
    residual = np.where(exact, value - np.einsum("rnp,rp->rn", design, first.coef), 0.0)
    noise = np.sqrt((residual**2).sum(axis=1) / np.maximum(spare, 1))
    floor = 1e-9 * np.maximum(np.abs(value).max(axis=1), 1e-9)
    noise = np.maximum(np.maximum(noise, np.maximum(sd, packed.rounding)), floor)
    fits = fit_lines(design, value, packed.kind, there, noise)

    last = np.take_along_axis(level, np.maximum(packed.count - 1, 0)[:, None], axis=1)[:, 0]
    row = np.arange(rows)
    # A slope that is only the arithmetic's rounding is no wear.
    slope = np.where(np.abs(fits.coef[:, -1]) < floor, 0.0, fits.coef[:, -1])
    crossing = Crossing(
        margin=-fits.coef[row, last],
        rate=slope / span,
        var_margin=fits.cov[row, last, last],
        cov=fits.cov[row, last, -1] / span,
        var_rate=fits.cov[:, -1, -1] / span**2,
        process=np.zeros(rows),
        df=np.maximum(spare, 1),
    )
    last_tied = tied[row, last]
    return OwnLines(crossing=crossing, plain=plain, spare=np.where(last_tied, spare, 0))
