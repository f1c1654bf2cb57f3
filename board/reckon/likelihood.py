"""The likelihood of lives under the Weibull law, and the region in which it is not much lower.

What `weibull` maximises and inverts. Parametrised as `S(t) = exp(-rate * t**shape)` with ages
divided by one of them: for a fixed shape, ages to that power have an exponential law, so that the
likelihood has one peak in the rate and only the shape is left to search for. Powers of ages far
apart run out of the range of a float, hence the logarithms.
"""

import math
from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from board.reckon.limits import Limits, Method
from board.reckon.lives import Life
from grammar.frozen import dataclass

Ages = NDArray[np.float64]

# A shape outside these is no finding about a part but a sign that the lives do not set one.
LEAST_SHAPE, GREATEST_SHAPE = 0.02, 200.0
# Where a hazard's exponential is nothing beside 1, and still within the range of a float.
_GREAT_HAZARD = 600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Slice:
    """The log-likelihood at one shape, as a function of the logarithm of the rate.

    `failures` counts the exact ones; `exposure` is the sum of ages to the power of the shape less
    those at entry; `log_gap` and `weight` belong to the failures between two ages.
    """

    shape: float
    failures: int
    exposure: float
    constant: float
    log_gap: Ages
    weight: Ages

    def value(self, log_rate: float) -> float:
        """The log-likelihood, ages in the unit of the lives."""
        known = self.failures * log_rate + self.constant - math.exp(log_rate) * self.exposure
        if not self.log_gap.size:
            return known
        hazard = _capped_exp(log_rate + self.log_gap)
        small = log_rate + self.log_gap - hazard / 2.0
        tiny = hazard < 1e-8
        between = np.where(tiny, small, np.log(-np.expm1(-np.where(tiny, 1.0, hazard))))
        return known + float(self.weight @ between)

    def score(self, log_rate: float) -> float:
        """The derivative in the logarithm of the rate, which falls throughout."""
        odds = _times_odds(_capped_exp(log_rate + self.log_gap))
        return float(self.failures - math.exp(log_rate) * self.exposure + self.weight @ odds)

    def best_log_rate(self) -> float:
        """The logarithm of the rate at which the likelihood is greatest."""
        from scipy.optimize import brentq

        if not self.log_gap.size:
            return math.log(self.failures / self.exposure)
        # Each failure between two ages adds at most 1 to the score, so this is above the root; a
        # trifle more, lest rounding put it below.
        high = math.log((self.failures + self.weight.sum()) / self.exposure) + 1e-6
        low = high - 1.0
        while self.score(low) < 0.0:
            low -= 2.0
        return float(brentq(self.score, low, high, xtol=1e-12))

    def log_rates_at(self, value: float) -> tuple[float, float]:
        """The two log rates, either side of the best, at which the log-likelihood has this value.

        Both are the best one where the likelihood does not reach the value.
        """
        from scipy.optimize import brentq

        best = self.best_log_rate()
        if self.value(best) <= value:
            return best, best

        def above(log_rate: float) -> float:
            return self.value(log_rate) - value

        found = []
        for direction in (-1.0, 1.0):
            step = 0.5
            while above(best + direction * step) > 0.0:
                step *= 2.0
            found.append(float(brentq(above, best, best + direction * step, xtol=1e-12)))
        return found[0], found[1]


class Likelihood:
    """The log-likelihood of a set of lives; equal lives are kept once, with their number.

    Needs a failure, and a life watched over some length of age; `weibull` refuses other sets.
    """

    __slots__ = ("_entry", "_exact", "_high", "_low", "_sound", "_weight", "unit")

    def __init__(self, lives: Sequence[Life]) -> None:
        """Sort the lives by kind; ages become fractions of `unit`, the greatest age watched to."""
        self.unit = max(life.lower for life in lives if life.lower > life.entry)
        self._exact = self._column(life.lower for life in lives if life.is_exact)
        self._sound = self._column(life.lower for life in lives if not life.is_exact)
        self._entry = self._column(life.entry for life in lives)
        between = Counter(
            (life.lower, life.upper) for life in lives if life.is_failure and not life.is_exact
        )
        pairs = np.array(list(between), dtype=np.float64).reshape(-1, 2) / self.unit
        self._low, self._high = pairs[:, 0], pairs[:, 1]
        self._weight = np.array(list(between.values()), dtype=np.float64)

    def at(self, shape: float) -> Slice:
        """The likelihood at one shape."""
        (exact, exact_count), (sound, sound_count) = self._exact, self._sound
        entry, entry_count = self._entry
        failures = int(exact_count.sum())
        return Slice(
            shape=shape,
            failures=failures,
            exposure=float(
                exact_count @ exact**shape + sound_count @ sound**shape - entry_count @ entry**shape
            ),
            constant=float(
                failures * math.log(shape) + (shape - 1.0) * (exact_count @ np.log(exact))
            ),
            log_gap=shape * np.log(self._high) + np.log1p(-((self._low / self._high) ** shape)),
            weight=self._weight,
        )

    def slope(self, shape: float) -> float:
        """The derivative in the shape along the ridge of best rates."""
        ridge = self.at(shape)
        log_rate = ridge.best_log_rate()
        (exact, exact_count), (sound, sound_count) = self._exact, self._sound
        entry, entry_count = self._entry
        exposure_rise = (
            exact_count @ _power_log(exact, shape)
            + sound_count @ _power_log(sound, shape)
            - entry_count @ _power_log(entry, shape)
        )
        ratio = self._low / self._high
        log_gap_rise = np.log(self._high) - _power_log(ratio, shape) / (1.0 - ratio**shape)
        odds = _times_odds(_capped_exp(log_rate + ridge.log_gap))
        return float(
            ridge.failures / shape
            + exact_count @ np.log(exact)
            - math.exp(log_rate) * exposure_rise
            + (self._weight * odds) @ log_gap_rise
        )

    def best_shape(self) -> float | None:
        """The shape of greatest likelihood, or None where no shape from 0.02 to 200 is a peak.

        Lives that came under watch late can give more than one peak, or none.
        """
        from scipy.optimize import brentq

        def slope(log_shape: float) -> float:
            return self.slope(math.exp(log_shape))

        points = np.linspace(math.log(LEAST_SHAPE), math.log(GREATEST_SHAPE), 40).tolist()
        turns = _only_turn if self._turns_once else _turns
        peaks = [
            math.exp(float(brentq(slope, low, high, xtol=1e-13)))
            for low, high in turns(slope, points)
        ]
        return max(peaks, key=self.ridge, default=None)

    @property
    def _turns_once(self) -> bool:
        """Whether the slope is known to fall throughout, so that it turns at one shape at most.

        So it is where all failures are exact and all lives were watched from new: failures over
        shape falls, and so does the mean logarithm of age at failure less that of all lives, each
        weighted by its age to the power of the shape.
        """
        return not self._entry[0].size and not self._weight.size

    def ridge(self, shape: float) -> float:
        """The log-likelihood at a shape and its best rate."""
        at = self.at(shape)
        return at.value(at.best_log_rate())

    def _column(self, ages: Iterable[float]) -> tuple[Ages, Ages]:
        """The different ages above 0, as fractions of the unit, and how many lives have each."""
        counts = Counter(age for age in ages if age > 0.0)
        return (
            np.array(list(counts), dtype=np.float64) / self.unit,
            np.array(list(counts.values()), dtype=np.float64),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """All shapes and rates whose log-likelihood is at least `floor`."""

    likelihood: Likelihood
    shape: float
    floor: float
    level: float

    @classmethod
    def around(cls, likelihood: Likelihood, shape: float, level: float) -> "Region":
        """The region about the best shape for limits of one quantity at a level.

        Source: the likelihood ratio as chi-square with one degree of freedom, Meeker and Escobar
        1998, Statistical Methods for Reliability Data, section 8.3 (section from memory).
        """
        from scipy.special import chdtri

        drop = float(chdtri(1.0, 1.0 - level)) / 2.0
        return cls(
            likelihood=likelihood, shape=shape, floor=likelihood.ridge(shape) - drop, level=level
        )

    def shape_limits(self) -> Limits:
        """The least and greatest shape; 0 or infinite where the lives do not set one."""
        from scipy.optimize import brentq

        def above(log_shape: float) -> float:
            return self.likelihood.ridge(math.exp(log_shape)) - self.floor

        best = math.log(self.shape)
        ends = []
        for extreme, beyond in ((LEAST_SHAPE, 0.0), (GREATEST_SHAPE, math.inf)):
            end = math.log(extreme)
            inside = above(end) >= 0.0
            ends.append(beyond if inside else math.exp(float(brentq(above, best, end))))
        return Limits(low=ends[0], high=ends[1], level=self.level, method=Method.LIKELIHOOD_RATIO)

    def life_limits(self, *, failing: float, shapes: Limits) -> Limits:
        """The least and greatest age by which this share has failed, in the unit of the lives.

        The age is `(-ln(1 - failing) / rate)**(1 / shape)`; for the share 1 - 1/e it is the scale.
        """
        log_hazard = math.log(-math.log1p(-failing))
        start = math.log(max(shapes.low, LEAST_SHAPE))
        stop = math.log(min(shapes.high, GREATEST_SHAPE))

        def log_age(log_shape: float, side: int) -> float:
            shape = math.exp(log_shape)
            return (log_hazard - self.likelihood.at(shape).log_rates_at(self.floor)[side]) / shape

        unit = self.likelihood.unit
        low = -_greatest(lambda log_shape: -log_age(log_shape, 1), start, stop)
        high = _greatest(lambda log_shape: log_age(log_shape, 0), start, stop)
        return Limits(
            low=unit * math.exp(low),
            high=unit * math.exp(high) if high < _GREAT_HAZARD else math.inf,
            level=self.level,
            method=Method.LIKELIHOOD_RATIO,
        )


def _only_turn(
    slope: Callable[[float], float], points: Sequence[float]
) -> list[tuple[float, float]]:
    """The neighbours between which a slope that falls throughout turns to falling, if it does."""
    if not slope(points[0]) > 0.0 >= slope(points[-1]):
        return []
    inner = points[1:-1]
    turn = bisect_left(inner, True, key=lambda point: slope(point) <= 0.0)
    return [(points[turn], points[turn + 1])]


def _turns(slope: Callable[[float], float], points: Sequence[float]) -> list[tuple[float, float]]:
    """The neighbours between which a slope turns from rising to falling."""
    slopes = [slope(point) for point in points]
    return [
        (points[i], points[i + 1])
        for i in range(len(points) - 1)
        if slopes[i] > 0.0 >= slopes[i + 1]
    ]


def _greatest(function: Callable[[float], float], start: float, stop: float) -> float:
    """The greatest value of a smooth function between two points, sought in two passes."""
    from scipy.optimize import minimize_scalar

    points = np.linspace(start, stop, 17)
    values = [function(float(point)) for point in points]
    best = int(np.argmax(values))
    nearby = (float(points[max(best - 1, 0)]), float(points[min(best + 1, points.size - 1)]))
    found = minimize_scalar(
        lambda point: -function(point), bounds=nearby, method="bounded", options={"xatol": 1e-5}
    )
    return max(values[best], -float(found.fun))


def _capped_exp(power: Ages) -> Ages:
    """The exponential, held where it is great beyond meaning."""
    return np.exp(np.minimum(power, math.log(_GREAT_HAZARD)))


def _times_odds(hazard: Ages) -> Ages:
    """`h / (exp(h) - 1)`, which is 1 at 0."""
    tiny = hazard < 1e-12
    return np.where(tiny, 1.0, hazard / np.expm1(np.where(tiny, 1.0, hazard)))


def _power_log(age: Ages, shape: float) -> Ages:
    """`t**shape * ln t`, which is 0 at 0."""
    return np.asarray(age**shape * np.log(np.where(age > 0.0, age, 1.0)))
