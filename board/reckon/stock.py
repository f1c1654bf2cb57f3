"""Spare parts: how many will be wanted, and whether the shelf holds them.

Each part in service counts at its own age and its own loom's pace, with the parts that replace it;
demand over the shed is the exact distribution of their sum, not a Poisson one. Time is in one unit
of the caller's (shifts, days), pace in use per that unit. The laws of life are in `laws`, the
date to order by in `ordering`. Parts wanted for other reasons than failure are not in it.
"""

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from board.reckon.laws import Basis, LifeLaw, LikelyLaws, Numbers
from board.reckon.limits import Limits, Method, check_level
from board.reckon.refusal import Refusal
from board.reckon.wanted import CELLS, NEGLIGIBLE, Ahead, sums
from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class AgedPart:
    """A part in service at an age [use], on a loom of this pace [use / time]."""

    age: float
    pace: float

    def __post_init__(self) -> None:
        """Raise ValueError for a negative age or pace."""
        if not (0.0 <= self.age < math.inf and 0.0 <= self.pace < math.inf):
            raise ValueError(f"age and pace are not negative, not {self.age} and {self.pace}")


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastPart:
    """A part whose wear is forecast: the chance that it is wanted by each of several times.

    Times are from now, the chance straight between them; nothing is said beyond the last. Its
    successors live by the law at this pace [use / time]; at 0 the part is wanted once.
    """

    times: tuple[float, ...]
    chances: tuple[float, ...]
    pace: float = 0.0

    def __post_init__(self) -> None:
        """Raise ValueError unless times rise from above 0 and chances do not fall from 0 to 1."""
        times, chances = (0.0, *self.times), (0.0, *self.chances)
        if len(times) != len(chances) or len(times) < 2:
            raise ValueError("a forecast needs as many chances as times, and at least one")
        if any(later <= earlier for earlier, later in pairwise(times)):
            raise ValueError("the times of a forecast rise from above 0")
        if any(later < earlier for earlier, later in pairwise(chances)) or chances[-1] > 1.0:
            raise ValueError("the chances of a forecast do not fall, and lie from 0 to 1")
        if not 0.0 <= self.pace < math.inf:
            raise ValueError(f"a pace is not negative, not {self.pace}")

    def chance(self, time: float) -> float:
        """The chance that the part is wanted by then."""
        return float(np.interp(time, (0.0, *self.times), (0.0, *self.chances)))


Part = AgedPart | ForecastPart


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """How many parts will be wanted within `horizon` [time].

    `probabilities` are those of 0, 1, 2 and so on wanted; `mean` their mean and `first` the part of
    it due to parts now in service, without the failures of their successors. `failures` counts the
    past ones that the basis rests on, `parts` those in service.
    """

    horizon: float
    probabilities: tuple[float, ...]
    mean: float
    first: float
    limits: Limits
    parts: int
    failures: int
    basis: Basis

    def runs_out(self, stock: int) -> float:
        """The chance that more are wanted than the stock holds. Raises ValueError below 0."""
        if stock < 0:
            raise ValueError(f"a stock is not negative, not {stock}")
        return min(1.0, math.fsum(self.probabilities[stock + 1 :]))

    def stock_for(self, chance: float) -> int:
        """The least stock that suffices with this chance. Raises ValueError outside 0 to 1."""
        check_level(chance)
        return _quantile(self.probabilities, chance)


def demand(
    parts: Sequence[Part], law: LifeLaw | LikelyLaws, *, horizon: float, level: float = 0.90
) -> Demand | Refusal:
    """The distribution of the number of parts wanted within a horizon [time].

    A part of age a is wanted k + 1 times or more with the chance
    `integral F_k(use - x) dF_a(x)`, F_k the law of k lives in a row and F_a that of what is left;
    the integrals are Riemann-Stieltjes sums at midpoints as in Xie's method, and the sum over parts
    is convolved exactly (Poisson-binomial where no successor fails). One law is taken for true;
    likely laws are averaged over, which is the answer to give while failures are few. Limits are
    the range of the demand itself at the level. Refuses without parts, where the law or a
    forecast does not reach so far, and for a horizon of very many lives.

    Raises ValueError for a horizon not above 0 or a level outside 0 to 1.

    Source: Barlow and Proschan 1965, Mathematical Theory of Reliability, section 3.2 (section from
    memory); Xie 1989 as in `laws.renewals`.
    """
    check_level(level)
    if not 0.0 < horizon < math.inf:
        raise ValueError(f"a horizon is above 0 and finite, not {horizon}")
    if not parts:
        return Refusal(reason="no part in service on record")
    aged = [part for part in parts if isinstance(part, AgedPart) and part.pace > 0.0]
    forecast = [part for part in parts if isinstance(part, ForecastPart)]
    short = min((part.times[-1] for part in forecast), default=math.inf)
    if short < horizon:
        return Refusal(reason=f"a wear forecast reaches {short:g} ahead, not {horizon:g}")
    followed = [part for part in forecast if part.pace > 0.0]
    chances = np.array([part.chance(horizon) for part in forecast if part.pace == 0.0])
    (wanted_once,) = sums([np.column_stack([1.0 - chances, chances])])
    laws = law.laws if isinstance(law, LikelyLaws) else (law,)
    weights = law.weights if isinstance(law, LikelyLaws) else (1.0,)
    several = _wanted(aged, followed, laws, horizon)
    if isinstance(several, Refusal):
        return several
    first = float(chances.sum())
    for wanted, weight in zip(several, weights, strict=True):
        first += weight * float(wanted[:, 1:].sum())
    by_law = [
        np.convolve(total, wanted_once) * weight
        for total, weight in zip(sums(several), weights, strict=True)
    ]
    probabilities = np.sum(by_law, axis=0)
    return _demand(
        probabilities,
        horizon=horizon,
        first=first,
        level=level,
        parts=len(parts),
        failures=law.failures,
        basis=Basis.WEIBULLS if isinstance(law, LikelyLaws) else law.basis,
    )


def demand_at_rate(
    failures: int,
    use: float,
    *,
    ahead: float,
    horizon: float,
    parts: int,
    level: float = 0.90,
) -> Demand | Refusal:
    """The demand in `ahead` use of all parts together, from few failures in `use` past use.

    For parts with too few failures for any law. Failures at a constant rate that is itself in
    doubt: gamma with shape `failures + 1/2` and rate `use` (Jeffreys), hence negative binomial with
    that shape and the share `use / (use + ahead)`. Wider than Poisson at the rate seen, and never
    sure that nothing will fail; but blind to ageing, so too low for parts that wear and have aged
    since. Refuses without use.

    Raises ValueError for a negative count or use, or a level outside 0 to 1.

    Source: Gelman and others 2013, Bayesian Data Analysis, section 2.6 (section from memory).
    """
    from scipy.special import betainc

    check_level(level)
    if failures < 0 or use < 0.0 or not 0.0 <= ahead < math.inf:
        raise ValueError(f"counts and use are not negative, not {failures}, {use}, {ahead}")
    if use == 0.0:
        return Refusal(reason=f"{failures} failures in no use on record")
    shape, share = failures + 0.5, ahead / (use + ahead)
    # Enough of the tail: chances fall at least as fast as the powers of the share in the end.
    most = 8
    while float(betainc(most, shape, share)) > NEGLIGIBLE:
        most *= 2
    above = betainc(np.arange(1.0, most + 1.0), shape, share)
    return _demand(
        -np.diff(np.concatenate([[1.0], above, [0.0]])),
        horizon=horizon,
        first=shape * ahead / use,
        level=level,
        parts=parts,
        failures=failures,
        basis=Basis.RATE,
    )


def _wanted(
    aged: Sequence[AgedPart],
    forecast: Sequence[ForecastPart],
    laws: Sequence[LifeLaw],
    horizon: float,
) -> list[Numbers] | Refusal:
    """Under each law the chances that each part is wanted 0, 1, 2 times and so on; part x times."""
    times = horizon * np.linspace(0.0, 1.0, CELLS + 1)
    gone = [np.interp(times, (0.0, *part.times), (0.0, *part.chances)) for part in forecast]
    ages = [(part.age, part.pace) for part in aged] + [(0.0, part.pace) for part in forecast]
    ahead = Ahead(
        age=np.array([part.age for part in aged], dtype=np.float64),
        pace=np.array([pace for _, pace in ages], dtype=np.float64),
        gone=np.array(gone).reshape(-1, CELLS + 1),
        horizon=horizon,
    )
    several = []
    for law in laws:
        for old, pace in ages:
            refused = law.refusal(old, pace * horizon)
            if refused is not None:
                return refused
        wanted = ahead.wanted(law)
        if isinstance(wanted, Refusal):
            return wanted
        several.append(wanted)
    return several


def together(one: Demand, other: Demand) -> Demand:
    """The demand of two groups of parts that are wanted independently of each other.

    The basis is that of the first. Raises ValueError unless horizon and level are the same.
    """
    if (one.horizon, one.limits.level) != (other.horizon, other.limits.level):
        raise ValueError("demands over different horizons or levels can not be added")
    return _demand(
        np.convolve(one.probabilities, other.probabilities),
        horizon=one.horizon,
        first=one.first + other.first,
        level=one.limits.level,
        parts=one.parts + other.parts,
        failures=one.failures,
        basis=one.basis,
    )


def _quantile(probabilities: Sequence[float], chance: float) -> int:
    """The least count that is not exceeded with this chance."""
    return min(int(np.searchsorted(np.cumsum(probabilities), chance)), len(probabilities) - 1)


def _demand(
    probabilities: Numbers,
    *,
    horizon: float,
    first: float,
    level: float,
    parts: int,
    failures: int,
    basis: Basis,
) -> Demand:
    """The demand with its mean and range."""
    likely = tuple(float(chance) for chance in probabilities)
    return Demand(
        horizon=horizon,
        probabilities=likely,
        mean=math.fsum(count * chance for count, chance in enumerate(likely)),
        first=first,
        limits=Limits(
            low=_quantile(likely, (1.0 - level) / 2.0),
            high=_quantile(likely, (1.0 + level) / 2.0),
            level=level,
            method=Method.DEMAND,
        ),
        parts=parts,
        failures=failures,
        basis=basis,
    )
