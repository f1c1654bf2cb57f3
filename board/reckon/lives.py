"""Lives of parts, many of them unfinished: the survival curve and its median.

The unit of age is the caller's (running hours or picks) and is the same throughout a call. What
counts as a failure, and what as a part taken out early, is decided before the lives come here.
The Weibull fit is in `weibull`, the comparison of groups in `comparison`; how failures of repaired
looms recur is in `recurrence`.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from board.reckon.limits import Limits, Method, check_level, normal_quantile
from board.reckon.refusal import Refusal
from grammar.frozen import dataclass

Ages = NDArray[np.float64]
Failed = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """What is known of one part's life [running hours or picks].

    The part failed at an age between `lower` and `upper`: equal for an age known exactly, `upper`
    infinite for a part that had not failed at age `lower`. `entry` is its age when the record
    began to watch it (left truncation): 0 for a part whose fitting is on record.
    """

    lower: float
    upper: float
    entry: float = 0.0

    def __post_init__(self) -> None:
        """Raise ValueError unless 0 <= entry <= lower <= upper, with entry < upper, all numbers."""
        if not (0.0 <= self.entry <= self.lower <= self.upper and self.entry < self.upper):
            raise ValueError(
                f"a life needs 0 <= entry <= lower <= upper, not {self.entry}, {self.lower}, "
                f"{self.upper}"
            )
        if math.isinf(self.lower):
            raise ValueError("a life needs a finite lower age")
        if self.is_exact and self.lower == self.entry:
            raise ValueError(f"a failure at {self.lower}, the age at which watching began")

    @classmethod
    def failed(cls, age: float, *, entry: float = 0.0) -> "Life":
        """A part that failed at this age."""
        return cls(lower=age, upper=age, entry=entry)

    @classmethod
    def unfinished(cls, age: float, *, entry: float = 0.0) -> "Life":
        """A part still in service, or taken out for another reason, at this age."""
        return cls(lower=age, upper=math.inf, entry=entry)

    @classmethod
    def between(cls, lower: float, upper: float, *, entry: float = 0.0) -> "Life":
        """A part found failed at age `upper` that was still sound at age `lower`."""
        return cls(lower=lower, upper=upper, entry=entry)

    @property
    def is_exact(self) -> bool:
        """Whether the age at failure is known."""
        return self.lower == self.upper

    @property
    def is_failure(self) -> bool:
        """Whether the part failed, at a known age or between two."""
        return not math.isinf(self.upper)


@dataclass(frozen=True, slots=True, kw_only=True)
class SurvivalStep:
    """The curve just after one age at which parts failed.

    `std_error` is Greenwood's. Once no part is left surviving it is 0 by the formula, which says
    nothing; the limits then run from 0 to the last upper limit that could be reckoned, or to 1.
    """

    age: float
    at_risk: int
    failures: int
    surviving: float
    std_error: float
    limits: Limits


@dataclass(frozen=True, slots=True, kw_only=True)
class SurvivalCurve:
    """The share of parts surviving each age, and the counts it rests on."""

    steps: tuple[SurvivalStep, ...]
    lives: int
    failures: int
    unfinished: int
    late_entries: int
    oldest: float
    level: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MedianLife:
    """The age by which half the parts have failed; the upper limit may be infinite."""

    age: float
    limits: Limits
    lives: int
    failures: int


def kaplan_meier(lives: Sequence[Life], *, level: float = 0.90) -> SurvivalCurve | Refusal:
    """The product-limit estimate of the surviving share, with Greenwood's standard error.

    `S(t) = product over failure ages a <= t of (1 - d / n)`, d failed at a, n at risk: watched
    from before a and not yet gone; a part gone at the very age of a failure still counts as at
    risk. `Var S = S**2 * sum d / (n (n - d))`; limits `S**exp(-+ z v)`, `v = se / (S ln S)`.
    Refuses without a failure, and with ages known only between two readings.

    Raises ValueError for a level outside 0 to 1.

    Source: Kaplan and Meier 1958, JASA 53:457-481; limits Kalbfleisch and Prentice 1980, The
    Statistical Analysis of Failure Time Data, section 1.3 (section number from memory).
    """
    check_level(level)
    refused = refuse_curve(lives)
    if refused is not None:
        return refused
    entry, age, failed = columns(lives)
    steps: list[SurvivalStep] = []
    surviving, greenwood, upper = 1.0, 0.0, 1.0
    z = normal_quantile(level)
    for at, at_risk, failures in at_each_failure(entry, age, failed):
        if surviving == 0.0:
            return Refusal(
                reason=f"every part watched at age {steps[-1].age:g} failed there while others "
                f"came under watch older; the curve can not be carried on to age {at:g}"
            )
        surviving = surviving * (at_risk - failures) / at_risk
        if surviving > 0.0:
            greenwood += failures / (at_risk * (at_risk - failures))
            spread = math.exp(z * math.sqrt(greenwood) / -math.log(surviving))
            lower, upper = surviving**spread, surviving ** (1.0 / spread)
            std_error = surviving * math.sqrt(greenwood)
        else:
            lower, std_error = 0.0, 0.0
        limits = Limits(low=lower, high=upper, level=level, method=Method.LOG_LOG)
        steps.append(
            SurvivalStep(
                age=at,
                at_risk=at_risk,
                failures=failures,
                surviving=surviving,
                std_error=std_error,
                limits=limits,
            )
        )
    return SurvivalCurve(
        steps=tuple(steps),
        lives=len(lives),
        failures=int(np.count_nonzero(failed)),
        unfinished=int(np.count_nonzero(~failed)),
        late_entries=int(np.count_nonzero(entry > 0.0)),
        oldest=float(age.max()),
        level=level,
    )


def median_life(curve: SurvivalCurve) -> MedianLife | Refusal:
    """The first age at which the curve is at one half or below, with limits.

    The limits are the first ages at which the curve's lower and upper limits are at one half or
    below; an upper one that is never reached is infinite. Refuses while more than half survive.

    Source: Brookmeyer and Crowley 1982, Biometrics 38:29-41 (page from memory).
    """
    half = [step.age for step in curve.steps if step.surviving <= 0.5]
    if not half:
        last = curve.steps[-1]
        return Refusal(
            reason=f"{100 * last.surviving:.0f} % of the parts survive the last failure on record, "
            f"at age {last.age:.0f}, so half of them have not failed yet"
        )
    low = [step.age for step in curve.steps if step.limits.low <= 0.5]
    high = [step.age for step in curve.steps if step.limits.high <= 0.5]
    return MedianLife(
        age=half[0],
        limits=Limits(
            low=low[0],
            high=high[0] if high else math.inf,
            level=curve.level,
            method=Method.INVERTED_LOG_LOG,
        ),
        lives=curve.lives,
        failures=curve.failures,
    )


def refuse_curve(lives: Sequence[Life]) -> Refusal | None:
    """The reason why these lives give no curve, if there is one."""
    between = sum(life.is_failure and not life.is_exact for life in lives)
    if between:
        return Refusal(
            reason=f"{between} of {len(lives)} ages at failure are known only between two "
            "readings, and the curve needs exact ages"
        )
    if not any(life.is_failure for life in lives):
        return Refusal(reason=f"no failure among {on_record(lives)}")
    return None


def on_record(lives: Sequence[Life]) -> str:
    """How many lives are on record, in words."""
    return f"{len(lives)} {'life' if len(lives) == 1 else 'lives'} on record"


def at_each_failure(entry: Ages, age: Ages, failed: Failed) -> list[tuple[float, int, int]]:
    """Each age at which lives ended by failing, how many were at risk there, how many failed.

    At risk is who came under watch before it and was not gone before it. Entry, last age and
    whether it failed as in `columns`.
    """
    ages, failures = np.unique(age[failed], return_counts=True)
    # who is gone before an age had come under watch before it
    risk = np.searchsorted(np.sort(entry), ages) - np.searchsorted(np.sort(age), ages)
    return list(zip(ages.tolist(), risk.tolist(), failures.tolist(), strict=True))


def columns(
    lives: Sequence[Life],
) -> tuple[Ages, Ages, Failed]:
    """Entry age, last age and whether it failed, one element a life."""
    entry = np.array([life.entry for life in lives], dtype=np.float64)
    age = np.array([life.lower for life in lives], dtype=np.float64)
    failed = np.array([life.is_failure for life in lives], dtype=np.bool_)
    return entry, age, failed
