"""The mean cumulative function: how many faults a loom has had, on average, by each age.

Needs no model of how faults recur, and bears looms that came under watch late or left early.
Whether the looms differ among themselves is asked in `above`.
"""

import math
from collections.abc import Sequence

import numpy as np

from board.reckon.limits import Limits, check_level, log_limits
from board.reckon.refusal import Refusal
from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """The faults of one loom, watched from `start` to `end` [one unit throughout, as its age]."""

    name: str
    times: tuple[float, ...]
    end: float
    start: float = 0.0

    def __post_init__(self) -> None:
        """Raise ValueError unless start < every time <= end."""
        if not (0.0 <= self.start < self.end and math.isfinite(self.end)):
            raise ValueError(
                f"{self.name}: watching needs start < end, not {self.start}, {self.end}"
            )
        if any(not self.start < time <= self.end for time in self.times):
            raise ValueError(f"{self.name}: a fault outside the time watched")


@dataclass(frozen=True, slots=True, kw_only=True)
class CumulativeStep:
    """The mean number of faults a loom just after one age; `at_risk` looms were watched there."""

    age: float
    at_risk: int
    faults: int
    mean: float
    std_error: float
    limits: Limits | Refusal


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanCumulative:
    """The mean cumulative function of a set of looms, and the counts it rests on."""

    steps: tuple[CumulativeStep, ...]
    looms: int
    faults: int
    exposure: float
    level: float


def mean_cumulative(
    histories: Sequence[History], *, level: float = 0.90
) -> MeanCumulative | Refusal:
    """The mean number of faults a loom by age, with a variance that bears over-dispersion.

    `M(t) = sum d(a) / n(a)` over the ages a <= t with faults, n(a) the looms watched at a: a loom
    whose watching ends at a still counts. Variance by Lawless and Nadeau: the square, summed over
    looms, of `sum (d_i(a) - d(a)/n(a)) / n(a)` over the ages at which loom i was watched. Limits on
    the log scale, with Student's t on n(t) - 1 and the error times `sqrt(n / (n - 1))` since looms
    are few; refused where a single loom is watched, which says nothing of how looms differ.

    Refuses without looms and without faults. Raises ValueError for a level outside 0 to 1.

    Source: Nelson 1988, Journal of Quality Technology 20:24-35; Lawless and Nadeau 1995,
    Technometrics 37:158-168 (pages from memory).
    """
    check_level(level)
    faults = sum(len(history.times) for history in histories)
    if not faults:
        return Refusal(reason=f"no fault on record on {len(histories)} looms")
    starts = np.array([history.start for history in histories])
    ends = np.array([history.end for history in histories])
    events = np.array([time for history in histories for time in history.times])
    owner = np.repeat(np.arange(len(histories)), [len(history.times) for history in histories])
    ages, which = np.unique(events, return_inverse=True)
    counts = np.zeros((len(histories), ages.size))
    np.add.at(counts, (owner, which), 1.0)
    watched = (starts[:, None] < ages) & (ages <= ends[:, None])
    at_risk = watched.sum(axis=0)
    total = counts.sum(axis=0)
    mean = np.cumsum(total / at_risk)
    share = np.cumsum(np.where(watched, (counts - total / at_risk) / at_risk, 0.0), axis=1)
    std_error = np.sqrt((share**2).sum(axis=0))
    return MeanCumulative(
        steps=tuple(
            CumulativeStep(
                age=float(ages[index]),
                at_risk=int(at_risk[index]),
                faults=int(total[index]),
                mean=float(mean[index]),
                std_error=float(std_error[index]),
                limits=_limits(
                    float(mean[index]), float(std_error[index]), int(at_risk[index]), level
                ),
            )
            for index in range(ages.size)
        ),
        looms=len(histories),
        faults=faults,
        exposure=float((ends - starts).sum()),
        level=level,
    )


def _limits(mean: float, std_error: float, at_risk: int, level: float) -> Limits | Refusal:
    """The limits of one step."""
    from scipy.special import stdtrit

    if at_risk == 1:
        return Refusal(reason="only one loom watched, which says nothing of how looms differ")
    quantile = float(stdtrit(at_risk - 1, (1.0 + level) / 2.0))
    return log_limits(mean, quantile * std_error * math.sqrt(at_risk / (at_risk - 1)), level)
