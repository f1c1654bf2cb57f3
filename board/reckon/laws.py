"""Life laws: the chance that a part of a given age fails within so much further use.

What `stock` needs to know of a part's life, fitted (Weibull) or as recorded (a survival curve), and
how often a part renewed on each failure is expected to fail. Use is in the unit of the ages:
running hours or picks.
"""

import math
from collections.abc import Sequence
from enum import Enum
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from board.reckon.likelihood import Likelihood, Region
from board.reckon.lives import Life, SurvivalCurve
from board.reckon.refusal import Refusal
from board.reckon.weibull import WeibullFit, refuse_fit
from grammar.frozen import dataclass

Numbers = NDArray[np.float64]

LEAST_LIKELY, GREATEST_LIKELY = 0.3, 10.0
LIKELY_LEVEL = 0.995
GRID_POINTS = 7


class Basis(Enum):
    """What a demand is reckoned from."""

    WEIBULL = "a Weibull law, taken for true"
    WEIBULLS = "Weibull laws, each weighted by how well it agrees with the lives"
    RECORDED = "the lives on record as they stand"
    RATE = "failures counted in use, with the doubt of a small count"


class LifeLaw(Protocol):
    """A law of the life of one kind of part."""

    @property
    def failures(self) -> int:
        """The failures on record that the law rests on."""
        ...

    @property
    def basis(self) -> Basis:
        """Where the law comes from."""
        ...

    def refusal(self, age: float, use: float) -> Refusal | None:
        """Why the law says nothing of a part of this age over this use, if it does not."""
        ...

    def failing(self, age: Numbers | float, ahead: Numbers) -> Numbers:
        """The chance that a part sound at an age fails within a stretch of use; they broadcast."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class WeibullLaw:
    """`S(t) = exp(-(t / scale)**shape)`, taken for true: what is not known of it is not in it."""

    shape: float
    scale: float
    failures: int

    def __post_init__(self) -> None:
        """Raise ValueError unless shape and scale are above 0 and finite."""
        if not (0.0 < self.shape < math.inf and 0.0 < self.scale < math.inf):
            raise ValueError(f"a Weibull law needs shape and scale above 0, not {self}")

    @classmethod
    def of(cls, fit: WeibullFit) -> "WeibullLaw":
        """The law with the fitted values."""
        return cls(shape=fit.shape, scale=fit.scale, failures=fit.failures)

    @property
    def basis(self) -> Basis:
        """A Weibull law."""
        return Basis.WEIBULL

    def refusal(self, age: float, use: float) -> Refusal | None:
        """None: the law goes on beyond the ages it was fitted to."""
        return None

    def failing(self, age: Numbers | float, ahead: Numbers) -> Numbers:
        """The chance of failing within each stretch of use, sound at this age."""
        hazard = ((age + ahead) / self.scale) ** self.shape - (age / self.scale) ** self.shape
        return np.asarray(-np.expm1(-hazard))


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedLaw:
    """The survival curve as it stands, a step at each age at which a part failed.

    `oldest` is the greatest age to which any part was watched. Where the last step reaches 0 the
    law says nothing of a part that has outlived it, elsewhere nothing of ages above `oldest`.
    """

    ages: tuple[float, ...]
    surviving: tuple[float, ...]
    oldest: float
    failures: int

    @classmethod
    def of(cls, curve: SurvivalCurve) -> "RecordedLaw":
        """The law of a survival curve."""
        return cls(
            ages=tuple(step.age for step in curve.steps),
            surviving=tuple(step.surviving for step in curve.steps),
            oldest=curve.oldest,
            failures=curve.failures,
        )

    @property
    def basis(self) -> Basis:
        """The lives on record."""
        return Basis.RECORDED

    def refusal(self, age: float, use: float) -> Refusal | None:
        """Why the record says nothing of this part, if it does not."""
        if self.surviving[-1] == 0.0:
            if age >= self.ages[-1]:
                return Refusal(
                    reason=f"a part in service is at age {age:g}, and every part on record had "
                    f"failed by {self.ages[-1]:g}"
                )
            return None
        if age + use > self.oldest:
            return Refusal(
                reason=f"a part in service will be at age {age + use:g} by then, and no part on "
                f"record was watched past {self.oldest:g}"
            )
        return None

    def failing(self, age: Numbers | float, ahead: Numbers) -> Numbers:
        """The chance of failing within each stretch of use; see `refusal` for where it holds."""
        shares = np.concatenate([[1.0], self.surviving])
        now = shares[np.searchsorted(self.ages, age, side="right")]
        then = shares[np.searchsorted(self.ages, age + ahead, side="right")]
        return np.asarray(1.0 - then / now)


@dataclass(frozen=True, slots=True, kw_only=True)
class LikelyLaws:
    """Weibull laws with weights that add up to 1, in place of one law taken for true."""

    laws: tuple[WeibullLaw, ...]
    weights: tuple[float, ...]
    failures: int


def likely_laws(lives: Sequence[Life]) -> LikelyLaws | Refusal:
    """The Weibull laws that the lives leave likely, on a grid, weighted by their likelihood.

    A flat prior on the logarithms of shape and rate, shapes from 0.3 to 10 only: nearly each part
    known wears or fails within those. Refuses where `weibull.fit_weibull` does.

    Source: Meeker and Escobar 1998, Statistical Methods for Reliability Data, chapter 14, for
    prediction by averaging over the likelihood (chapter from memory).
    """
    refused = refuse_fit(lives)
    if refused is not None:
        return refused
    likelihood = Likelihood(lives)
    best = likelihood.best_shape()
    if best is None:
        return Refusal(reason=f"the likelihood of {len(lives)} lives has no peak")
    shape = min(max(best, LEAST_LIKELY), GREATEST_LIKELY)
    region = Region.around(likelihood, shape, LIKELY_LEVEL)
    limits = region.shape_limits()
    shapes = np.geomspace(
        max(limits.low, LEAST_LIKELY), min(limits.high, GREATEST_LIKELY), GRID_POINTS
    )
    laws, weights = [], []
    for each in shapes.tolist():
        at = likelihood.at(each)
        low, high = at.log_rates_at(min(region.floor, at.value(at.best_log_rate()) - 1.0))
        for log_rate in np.linspace(low, high, GRID_POINTS).tolist():
            scale = likelihood.unit * math.exp(-log_rate / each)
            laws.append(WeibullLaw(shape=each, scale=scale, failures=0))
            weights.append(math.exp(at.value(log_rate) - likelihood.ridge(shape)) * (high - low))
    whole = math.fsum(weights)
    return LikelyLaws(
        laws=tuple(laws),
        weights=tuple(weight / whole for weight in weights),
        failures=sum(life.is_failure for life in lives),
    )


def renewals(law: LifeLaw, use: float, *, steps: int = 400) -> Numbers:
    """The expected failures of a part that is renewed on each, at even points from 0 to `use`.

    One number a point, `steps` + 1 in all. The renewal function M of
    `M(t) = F(t) + integral M(t - x) dF(x)`, solved on even points as a Riemann-Stieltjes sum with
    the integrand at midpoints, `F(t_i - t_(j-1/2))`; needs no density.
    Raises ValueError for use or steps not above 0, and for lives shorter than half a step.

    Source: Xie 1989, Reliability Engineering and System Safety 24:133-145 (page from memory).
    """
    if not (use > 0.0 and steps > 0):
        raise ValueError(f"renewals need use and steps above 0, not {use} and {steps}")
    width = use / steps
    cell = np.arange(steps, dtype=np.float64)
    at = law.failing(0.0, width * (cell + 1.0))
    half = law.failing(0.0, width * (cell + 0.5))
    if half[0] >= 1.0:
        raise ValueError(f"lives are shorter than half a step of {width:g}")
    expected = np.zeros(steps + 1)
    rise = np.zeros(steps)
    for point in range(1, steps + 1):
        # Failures that follow a first renewal in each earlier cell, and in the present one.
        earlier = rise[: point - 1] @ half[point - 1 : 0 : -1]
        expected[point] = (at[point - 1] + earlier - half[0] * expected[point - 1]) / (
            1.0 - half[0]
        )
        rise[point - 1] = expected[point] - expected[point - 1]
    return expected
