"""How long stops last, and how long looms run between failures.

Times to restoration are skewed, a few long waits among many short jobs, so nothing here takes them
as exponential; failures are taken as coming at a constant rate. Which stops are failures, and which
hours were operating time, is decided before they come here.
"""

import math
from collections.abc import Sequence
from typing import assert_never

from board.reckon.availability import Stop
from board.reckon.limits import Limits, Method, log_limits, normal_quantile
from board.reckon.recurrence import Rate, poisson_rate
from board.reckon.refusal import Refusal
from board.reckon.spans import Span
from grammar.frozen import dataclass

FEWEST_STOPS = 5
PULLED_STOPS, PULLED = 3, 1.25  # of so many stops, a mean this many times the median


@dataclass(frozen=True, slots=True, kw_only=True)
class Restoration:
    """How long stops lasted that came to an end [hours].

    `mean` is for adding up, `median` for what to expect: a few long stops pull them apart. `open`
    stops have no length yet and are in neither.
    """

    mean: float
    mean_limits: Limits | Refusal
    median: float
    median_limits: Limits | Refusal
    completed: int
    open: int

    @property
    def is_pulled_up(self) -> bool:
        """Whether few long stops pull the mean up: by more than a quarter of the median."""
        return self.completed >= PULLED_STOPS and self.mean > PULLED * self.median

    @property
    def share_completed(self) -> float:
        """The share of stops whose end is on record."""
        return self.completed / (self.completed + self.open)


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeBetweenFailures:
    """Operating time divided by failures [hours], with exact limits, time-truncated."""

    mean: float
    limits: Limits
    failures: int
    operating: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NoFailures:
    """None in so many operating hours: only a lower bound of the mean time between failures."""

    operating: float
    bound: Limits


def restoration(
    stops: Sequence[Stop], *, as_of: float, level: float = 0.90
) -> Restoration | Refusal:
    """How long it took to restore a loom, from the stops whose end is on record by `as_of`.

    Median with exact limits from the order of the times. Mean with the wider, on each side, of two
    limits: Cox's for log-normal times, `exp(m + s**2/2 -+ t sqrt(s**2/n + s**4/(2(n - 1))))`, m and
    s of the logarithms, Student's t on n - 1; and normal ones on the log scale from the scatter
    seen. The first holds its level for few and skewed times, the second for many of whatever law;
    neither can know of long stops so rare that none is among a handful seen.
    Limits are refused below five completed stops, and for the median where the level can not be
    reached. Refuses without a completed stop; stops begun after `as_of` are not looked at.

    Source: median David and Nagaraja 2003, Order Statistics, section 7.1; mean Olsson 2005, Journal
    of Statistics Education 13(1) (both from memory).
    """
    begun = [stop for stop in stops if stop.start < as_of]
    times = sorted(stop.length for stop in begun if isinstance(stop, Span) and stop.end <= as_of)
    still_open = len(begun) - len(times)
    if not times:
        return Refusal(reason=f"no stop with its end on record, {still_open} without")
    count = len(times)
    mean = math.fsum(times) / count
    mean_limits: Limits | Refusal
    median_limits: Limits | Refusal
    if count < FEWEST_STOPS:
        noun = "stop" if count == 1 else "stops"
        mean_limits = median_limits = Refusal(
            reason=f"{count} completed {noun}, limits need {FEWEST_STOPS}"
        )
    else:
        mean_limits = _mean_limits(times, level)
        median_limits = _median_limits(times, level)
    return Restoration(
        mean=mean,
        mean_limits=mean_limits,
        median=(times[(count - 1) // 2] + times[count // 2]) / 2.0,
        median_limits=median_limits,
        completed=count,
        open=still_open,
    )


def time_between_failures(
    failures: int, operating: float, *, level: float = 0.90
) -> TimeBetweenFailures | NoFailures | Refusal:
    """Mean operating time between failures, exact for failures at a constant rate.

    Limits are the reciprocals of the Poisson rate's, for watching that ended at a set time. Without
    a failure, the one-sided lower bound `operating / -ln(1 - level)`. Refuses without operating
    time. Raises ValueError for a negative count or time.

    Source: NIST/SEMATECH e-Handbook 8.4.5.1.
    """
    rate = poisson_rate(failures, operating, level=level)
    match rate:
        case Refusal():
            return Refusal(reason=f"{failures} failures in no operating time on record")
        case Rate(count=0):
            low = operating / -math.log1p(-level)
            return NoFailures(
                operating=operating,
                bound=Limits(low=low, high=math.inf, level=level, method=Method.ONE_SIDED),
            )
        case Rate():
            return TimeBetweenFailures(
                mean=operating / failures,
                limits=Limits(
                    low=1.0 / rate.limits.high,
                    high=1.0 / rate.limits.low,
                    level=level,
                    method=Method.CHI_SQUARE,
                ),
                failures=failures,
                operating=operating,
            )
        case _:
            assert_never(rate)


def _mean_limits(times: Sequence[float], level: float) -> Limits:
    """The wider, on each side, of Cox's limits and the normal ones on the log scale."""
    from scipy.special import stdtrit

    count = len(times)
    mean = math.fsum(times) / count
    variance = math.fsum((time - mean) ** 2 for time in times) / (count - 1)
    logs = [math.log(time) for time in times]
    log_mean = math.fsum(logs) / count
    square = math.fsum((log - log_mean) ** 2 for log in logs) / (count - 1)
    reach = float(stdtrit(count - 1, (1.0 + level) / 2.0)) * math.sqrt(
        square / count + square**2 / (2.0 * (count - 1))
    )
    normal = log_limits(mean, normal_quantile(level) * math.sqrt(variance / count), level)
    return Limits(
        low=min(math.exp(log_mean + square / 2.0 - reach), normal.low),
        high=max(math.exp(log_mean + square / 2.0 + reach), normal.high),
        level=level,
        method=Method.WIDER,
    )


def _median_limits(times: Sequence[float], level: float) -> Limits | Refusal:
    """The innermost pair of the r-th least and r-th greatest time that holds the level."""
    from scipy.special import bdtr

    count, tail = len(times), (1.0 - level) / 2.0
    outside = 0
    while float(bdtr(outside, count, 0.5)) <= tail:
        outside += 1
    if not outside:
        return Refusal(reason=f"{count} completed stops can not bound a median at level {level:g}")
    return Limits(
        low=times[outside - 1],
        high=times[count - outside],
        level=level,
        method=Method.ORDER_STATISTICS,
    )
