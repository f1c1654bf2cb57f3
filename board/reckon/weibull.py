"""The Weibull law fitted to part lives by maximum likelihood, with likelihood-ratio limits.

Takes exact, unfinished and interval-censored lives, watched from new or from a later age on. Says
nothing about whether the Weibull law suits the part: the survival curve in `lives` is for that.
What the fit means for the parts in service is in `stock`.

Parametrisation: `S(t) = exp(-(t / scale)**shape)`. The likelihood itself is in `likelihood`.
"""

import math
from collections.abc import Sequence

from board.reckon.likelihood import GREATEST_SHAPE, LEAST_SHAPE, Likelihood, Region
from board.reckon.limits import Limits, check_level
from board.reckon.lives import Life, on_record
from board.reckon.refusal import Refusal
from grammar.frozen import dataclass

FEWEST_FAILURES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class WeibullFit:
    """A fitted Weibull law; `scale`, `b10` and their limits in the unit of the ages.

    `b10` is the age by which a tenth of the parts have failed. `exact` and `between` count the
    failures at a known age and those between two readings.
    """

    shape: float
    scale: float
    b10: float
    shape_limits: Limits
    scale_limits: Limits
    b10_limits: Limits
    log_likelihood: float
    lives: int
    exact: int
    between: int
    unfinished: int
    late_entries: int
    level: float

    @property
    def failures(self) -> int:
        """The failures that the fit rests on."""
        return self.exact + self.between

    def surviving(self, age: float) -> float:
        """The share of parts that outlive an age."""
        return math.exp(-((age / self.scale) ** self.shape))


def fit_weibull(lives: Sequence[Life], *, level: float = 0.90) -> WeibullFit | Refusal:
    """Shape and scale by maximum likelihood, each with likelihood-ratio limits, and B10 likewise.

    A life adds `ln f(t)` if exact, `ln S(t)` if unfinished, `ln(S(l) - S(u))` if known between two
    ages, less `ln S(entry)` if it came under watch at a later age. Limits: all values that, the
    other parameter being free, lower twice the log-likelihood by no more than the chi-square
    quantile with one degree of freedom. A limit outside shapes 0.02 to 200 is 0 or infinite.

    Refuses for fewer than three failures, failures all at one age, a failure at age 0, and a
    likelihood without a peak. Raises ValueError for a level outside 0 to 1.

    Source: Meeker and Escobar 1998, Statistical Methods for Reliability Data, sections 7.5, 8.3
    and 11.3 (section numbers from memory); profile equation as in the NIST/SEMATECH e-Handbook
    8.4.1.2.
    """
    check_level(level)
    refused = refuse_fit(lives)
    if refused is not None:
        return refused
    likelihood = Likelihood(lives)
    shape = likelihood.best_shape()
    if shape is None:
        return Refusal(
            reason=f"the likelihood of {len(lives)} lives has no peak at a shape between "
            f"{LEAST_SHAPE:g} and {GREATEST_SHAPE:g}; the failures lie too close together in age, "
            "or the parts came under watch too late"
        )
    ridge = likelihood.at(shape)
    log_rate = ridge.best_log_rate()
    scale = likelihood.unit * math.exp(-log_rate / shape)
    region = Region.around(likelihood, shape, level)
    shape_limits = region.shape_limits()
    exact = sum(life.is_exact for life in lives)
    failures = sum(life.is_failure for life in lives)
    return WeibullFit(
        shape=shape,
        scale=scale,
        b10=scale * (-math.log(0.9)) ** (1.0 / shape),
        shape_limits=shape_limits,
        scale_limits=region.life_limits(failing=1.0 - math.exp(-1.0), shapes=shape_limits),
        b10_limits=region.life_limits(failing=0.1, shapes=shape_limits),
        log_likelihood=ridge.value(log_rate) - exact * math.log(likelihood.unit),
        lives=len(lives),
        exact=exact,
        between=failures - exact,
        unfinished=len(lives) - failures,
        late_entries=sum(life.entry > 0.0 for life in lives),
        level=level,
    )


def refuse_fit(lives: Sequence[Life]) -> Refusal | None:
    """The reason why these lives give no fit, found before any fitting, if there is one."""
    failures = [life for life in lives if life.is_failure]
    if not failures:
        return Refusal(reason=f"no failure among {on_record(lives)}")
    if len(failures) < FEWEST_FAILURES:
        return Refusal(
            reason=f"{len(failures)} {'failure' if len(failures) == 1 else 'failures'} among"
            f" {on_record(lives)}, a fit needs {FEWEST_FAILURES}"
        )
    if any(life.upper == 0.0 for life in failures):
        return Refusal(reason="a failure at age 0 is on record, which no Weibull law allows")
    if not any(life.lower > life.entry for life in lives):
        return Refusal(
            reason=f"all {len(failures)} failures happened before the first reading of their part, "
            "and no other part was watched over any length of age"
        )
    if len({(life.lower, life.upper) for life in failures}) == 1:
        where = (
            f"at age {failures[0].lower:g}"
            if failures[0].is_exact
            else f"between ages {failures[0].lower:g} and {failures[0].upper:g}"
        )
        return Refusal(
            reason=f"all {len(failures)} failures {where}; ages that do not differ set no shape"
        )
    return None
