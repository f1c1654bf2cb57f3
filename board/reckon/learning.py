"""Learn from past lives how a part wears: the typical rate, its spread, and the noise around it.

What it does: puts past lives on one scale, draws the fleet's curve, and finds the fleet's numbers,
each of them also without each life in turn, so that every life can be judged by a fleet that has
not seen it.
What it leaves to others: judging (`calibration`), and forecasting a part in service (`wear`).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from board.reckon.fleetcurve import Curves, mean_curves, straight
from board.reckon.series import Array, Life, Packed, Quantity, pack
from board.reckon.tracking import Fleet, Grid, Readings, Straightened, evidence
from grammar.frozen import dataclass

# Readings up to this share of a typical life say how a new part starts.
EARLY = 0.05
LEAST_START = 0.01
# The fleet's means before any life is seen: a new part starts at 0, a typical life has rate 1.
PRIOR_INFORMATION = np.diag([1.0 / 0.3**2, 1.0 / 1.0**2])
PRIOR_MEANS = np.array([0.0, 1.0])
# No gauge is perfect to the last bit; this keeps a noise of zero from dividing by zero [wear**2].
LEAST_NOISE = 1e-10


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """From the part's unit and hours to wear (new 0, limit 1) and typical lives."""

    reach: float
    typical: float
    noise: float

    def readings(self, packed: Packed, extra: Array | None = None) -> Readings:
        """The packed series without unit; `extra` is further noise [part's unit squared]."""
        least = np.maximum(self.noise, (packed.rounding / self.reach) ** 2)
        noise = np.repeat(least[:, None], packed.use.shape[1], axis=1)
        if extra is not None:
            noise = noise + extra / self.reach**2
        return Readings(
            use=packed.use / self.typical,
            wear=1.0 + packed.progress / self.reach,
            noise=noise,
            kind=packed.kind,
            fresh=packed.fresh,
            there=packed.there,
            fitted=packed.fitted,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """One way of seeing the fleet: row i without life i, the last row with every life.

    `seen` is the wear that past lives show, at most 1; beyond it the way is carried on unseen.
    """

    curves: Curves
    fleet: Fleet
    seen: float


def grid() -> Grid:
    """The noise levels tried, from steady to very uneven, in lives and wear."""
    rate, process, scatter = np.meshgrid(
        np.array([0.03, 0.08, 0.15, 0.25, 0.4, 0.65]) ** 2,
        np.array([0.0, 0.02, 0.05, 0.1, 0.2]) ** 2,
        np.array([0.0, 0.01, 0.03, 0.06]) ** 2,
        indexing="ij",
    )
    return Grid(var_rate=rate.ravel(), process=process.ravel(), scatter=scatter.ravel())


def scale_of(packed: Packed, quantity: Quantity) -> Scale | None:
    """Find the fleet's scale, or None where its readings do not go toward the limit."""
    exact = packed.there & (packed.kind == 0)
    first = np.argmax(exact, axis=1)
    rows = np.arange(len(first))
    starts = packed.progress[rows, first][exact.any(axis=1)]
    if quantity.new is not None:
        reach = -quantity.sign * (quantity.new - quantity.limit)
    else:
        reach = -float(np.median(starts)) if len(starts) else 0.0
    if reach <= 0.0:
        return None
    noise = (0.5 * quantity.uncertainty / reach) ** 2
    cross = crossings(packed)
    reached = cross[np.isfinite(cross) & packed.fitted]
    if 2 * len(reached) >= len(cross):
        typical = float(np.median(reached))
    else:
        last = exact.shape[1] - 1 - np.argmax(exact[:, ::-1], axis=1)
        hours = packed.use[rows, last] - packed.use[rows, first]
        gain = packed.progress[rows, last] - packed.progress[rows, first]
        usable = (hours > 0) & ~packed.fresh.any(axis=1)
        if not usable.any() or gain[usable].sum() <= 0.0:
            return None
        typical = reach * float(hours[usable].sum() / gain[usable].sum())
    if typical <= 0.0:
        return None
    return Scale(reach=reach, typical=typical, noise=noise + LEAST_NOISE)


def crossings(packed: Packed) -> Array:
    """Use [h] at which each life passed its limit, nan where it never did.

    Between two readings by a straight line. Only on the life's last level: an adjusted part has
    been brought back from its limit.
    """
    return passing(packed, 0.0)


def passing(packed: Packed, level: float) -> Array:
    """Use [h] at which each life first showed this progress on its last level, else nan."""
    rows = np.arange(len(packed.count))
    last = packed.fresh.shape[1] - 1 - np.argmax(packed.fresh[:, ::-1], axis=1)
    begins = np.where(packed.fresh.any(axis=1), last, 0)
    column = np.arange(packed.use.shape[1])
    exact = packed.there & (packed.kind == 0) & (column >= begins[:, None])
    over = exact & (packed.progress >= level)
    at = np.argmax(over, axis=1)
    earlier = np.where(exact & (column < at[:, None]), column, -1).max(axis=1)
    found = over.any(axis=1)
    before = np.maximum(earlier, 0)
    low, high = packed.progress[rows, before], packed.progress[rows, at]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(earlier >= 0, (level - low) / (high - low), 1.0)
    use = packed.use[rows, before] + share * (packed.use[rows, at] - packed.use[rows, before])
    return np.where(found, use, np.nan)


def bracketed(packed: Packed) -> tuple[Packed, Array]:
    """Read two gauge verdicts about one bound as one reading at the bound, halfway between them.

    A gauge that stayed out at one check and entered at the next says when the bound was passed, to
    within the time between. Returns the series with the later verdict turned into that reading, and
    how far off in time it may be [h], a standard deviation, zero for all other readings.
    """
    use, kind, doubt = packed.use.copy(), packed.kind.copy(), np.zeros(packed.use.shape)
    turned = (
        (packed.kind[:, 1:] > 0)
        & (packed.kind[:, :-1] < 0)
        & (packed.progress[:, 1:] == packed.progress[:, :-1])
        & ~packed.fresh[:, 1:]
    )
    row, column = np.nonzero(turned)
    gap = packed.use[row, column + 1] - packed.use[row, column]
    use[row, column + 1] -= 0.5 * gap
    kind[row, column + 1] = 0
    doubt[row, column + 1] = gap / np.sqrt(12.0)
    return (
        Packed(
            use=use,
            progress=packed.progress,
            kind=kind,
            fresh=packed.fresh,
            there=packed.there,
            count=packed.count,
            now=packed.now,
            fitted=packed.fitted,
            rounding=packed.rounding,
        ),
        doubt,
    )


def line_lesson(readings: Readings) -> Lesson:
    """The fleet as straight lines."""
    straightened = Straightened(
        use=readings.use,
        wear=readings.wear,
        slope=np.ones(readings.use.shape),
        noise=readings.noise,
        fresh=readings.fresh,
        there=readings.there & (readings.kind == 0),
        fitted=readings.fitted,
    )
    fleet = _fleet(straightened)
    return Lesson(
        curves=straight(len(readings.use) + 1), fleet=fleet, seen=_seen(_highest(readings), 1)
    )


def _highest(readings: Readings) -> Array:
    """The highest wear read in each life."""
    exact = readings.there & (readings.kind == 0)
    return np.asarray(np.where(exact, readings.wear, -np.inf).max(axis=1))


def _seen(highest: Array, least: int) -> float:
    """The wear, at most 1, that three lives in four have reached, and at least `least` of them."""
    lives = len(highest)
    return min(1.0, float(np.sort(highest)[min(lives // 4, lives - least)]))


def curve_lesson(readings: Readings, packed: Packed, scale: Scale, least: int) -> Lesson | None:
    """The fleet on its mean curve, or None where fewer than `least` lives show its shape."""
    lives = len(readings.use)
    exact = readings.there & (readings.kind == 0)
    if lives < least:
        return None
    common = _seen(_highest(readings), least)
    reached = passing(packed, (common - 1.0) * scale.reach) / scale.typical
    shows = np.isfinite(reached) & (reached > 0.0) & readings.fitted & ~readings.fresh.any(axis=1)
    if common <= 0.0 or shows.sum() < least:
        return None
    own = np.where(shows, reached, 1.0)
    age = readings.use / own[:, None]
    used = exact & shows[:, None]
    life = np.broadcast_to(np.arange(lives)[:, None], age.shape)
    # The life is known to stand at the common level at age 1: that point belongs to its shape.
    ages = np.concatenate([age[used], np.ones(int(shows.sum()))])
    wears = np.concatenate([readings.wear[used], np.full(int(shows.sum()), common)])
    names = np.concatenate([life[used], np.flatnonzero(shows)])
    curves = mean_curves(ages, wears, names, lives)

    # Straightened on the whole fleet's curve, also for the fleets that leave a life out: the curve
    # by which a life is judged has not seen it, the noise levels have, faintly.
    flat = curves.rows(np.full(age.size, lives))
    at = np.where(shows[:, None], age, flat.age(readings.wear.ravel()).reshape(age.shape)).ravel()
    there, slope = flat.tangent(at)
    wear = readings.wear - (there - slope * at).reshape(age.shape)
    straightened = Straightened(
        use=readings.use,
        wear=wear,
        slope=slope.reshape(age.shape),
        noise=readings.noise,
        fresh=readings.fresh,
        there=exact,
        fitted=readings.fitted,
    )
    fleet = _fleet(straightened)
    return Lesson(curves=curves, fleet=fleet, seen=common)


def _fleet(lives: Straightened) -> Fleet:
    """The fleet's numbers from straightened lives; row i without life i, the last with all."""
    early = lives.there[:, 0] & (lives.use[:, 0] <= EARLY) & lives.fitted
    var_start = 0.3**2
    if early.sum() >= 3:
        seen = float(np.var(lives.wear[early, 0], ddof=1))
        var_start = max(seen - float(np.mean(lives.noise[early, 0])), LEAST_START**2)
    points = grid()
    each = evidence(lives, points, var_start)

    def without_each(values: Array) -> Array:
        total = values.sum(axis=0)
        return np.concatenate([total - values, total[None]])

    log_det, square = without_each(each.log_det), without_each(each.square)
    information = without_each(each.information) + PRIOR_INFORMATION
    cross = without_each(each.cross) + PRIOR_INFORMATION @ PRIOR_MEANS
    # The two means at each point: start and rate, their variances and covariance.
    of_start, both = information[..., 0, 0], information[..., 0, 1]
    share = both / of_start
    of_rate = information[..., 1, 1] - share * both  # where the start is not known
    rate = (cross[..., 1] - share * cross[..., 0]) / of_rate
    start = (cross[..., 0] - both * rate) / of_start
    fit = square - start * cross[..., 0] - rate * cross[..., 1]
    log_weight = -0.5 * (log_det + np.log(of_start) + np.log(of_rate) + fit)
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)

    def averaged(values: Array) -> Array:
        return np.asarray((weight * values).sum(axis=1))

    mean_start, mean_rate = averaged(start), averaged(rate)
    start, rate = start - mean_start[:, None], rate - mean_rate[:, None]
    return Fleet(
        start=mean_start,
        rate=mean_rate,
        var_start=var_start + averaged(1.0 / of_start + share**2 / of_rate + start**2),
        cov=averaged(start * rate - share / of_rate),
        var_rate=weight @ points.var_rate + averaged(1.0 / of_rate + rate**2),
        process=weight @ points.process,
        scatter=weight @ points.scatter,
    )


def prepare(lives: Sequence[Life], quantity: Quantity) -> tuple[Packed, Readings, Scale] | None:
    """Lay past lives out for learning, or None where they do not go toward the limit."""
    packed, doubt = bracketed(pack([life.series for life in lives], quantity))
    scale = scale_of(packed, quantity)
    if scale is None:
        return None
    # A doubt in time is worth the wear of a typical life in that time.
    extra = (doubt * scale.reach / scale.typical) ** 2
    return packed, scale.readings(packed, extra), scale
