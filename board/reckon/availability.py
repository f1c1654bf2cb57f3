"""Figures of down time: recorded availability, time to restoration, time between failures.

Everything is reckoned from stops and required time as they stand in the record, in hours on one time
axis, up to a moment `as_of`. Which stops are maintenance, and which time was required, is decided
before they come here: stops of all kinds give the operational figure, stops cut to the work itself
the inherent one, and the two are far apart where fitters wait for parts.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import assert_never

from board.reckon.limits import Limits, Method, check_level, log_normal_limits
from board.reckon.recurrence import Rate, poisson_rate
from board.reckon.refusal import Refusal
from board.reckon.spans import Span, common, joined, total

FEWEST_RESTORATIONS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenStop:
    """A stop that nothing on record has ended."""

    start: float


Stop = Span | OpenStop


@dataclass(frozen=True, slots=True, kw_only=True)
class Availability:
    """The share of required time not lost to stops, as recorded; times [hours].

    Not an estimate: it says what the record holds, and has no interval for one loom. `stops` began
    or lasted within required time, `still_open` of them to `as_of`.
    """

    share: float
    required: float
    down: float
    up: float
    stops: int
    still_open: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PooledAvailability:
    """The availability of several looms (or days) together; the limits treat them as a sample."""

    share: float
    required: float
    down: float
    units: int
    stops: int
    limits: Limits | Refusal


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Proportion:
    """So many of so many, with exact limits."""

    share: float
    limits: Limits
    count: int
    of: int


def availability(
    required: Sequence[Span], stops: Sequence[Stop], *, as_of: float
) -> Availability | Refusal:
    """The share of required time, up to `as_of`, in which no stop was on record.

    Stops that overlap count once; an open stop counts to `as_of`; what lies outside required time
    does not count. Refuses without required time.

    Source: the definitions of EN 13306 and EN 15341 (both from memory).
    """
    wanted = _until(joined(required), as_of)
    if not wanted:
        return Refusal(reason="no required time on record up to then")
    down_spans, touching, still_open = [], 0, 0
    for stop in stops:
        spans = _until((_as_span(stop, as_of),), as_of) if stop.start < as_of else ()
        within = common(wanted, spans)
        down_spans.extend(within)
        touching += bool(within)
        still_open += bool(within) and isinstance(stop, OpenStop)
    down, whole = total(joined(down_spans)), total(wanted)
    return Availability(
        share=(whole - down) / whole,
        required=whole,
        down=down,
        up=whole - down,
        stops=touching,
        still_open=still_open,
    )


def pooled_availability(
    units: Sequence[Availability], *, level: float = 0.90
) -> PooledAvailability | Refusal:
    """The availability of several looms or days, with limits for others like them.

    `A = 1 - sum down / sum required`; as a ratio estimate its variance is
    `n / (n - 1) * sum (down - (1 - A) required)**2 / (sum required)**2`, with Student's t on n - 1.
    Limits are refused below five units. Refuses without units.

    Source: Cochran 1977, Sampling Techniques, section 6.4 (section number from memory).
    """
    from scipy.special import stdtrit

    check_level(level)
    if not units:
        return Refusal(reason="no looms with required time on record")
    required = math.fsum(unit.required for unit in units)
    down = math.fsum(unit.down for unit in units)
    lost, count = down / required, len(units)
    limits: Limits | Refusal
    if count < FEWEST_RESTORATIONS:
        limits = Refusal(reason=f"{count} looms or days, limits need {FEWEST_RESTORATIONS}")
    else:
        squares = math.fsum((unit.down - lost * unit.required) ** 2 for unit in units)
        error = math.sqrt(count / (count - 1) * squares) / required
        reach = float(stdtrit(count - 1, (1.0 + level) / 2.0)) * error
        limits = Limits(
            low=max(1.0 - lost - reach, 0.0),
            high=min(1.0 - lost + reach, 1.0),
            level=level,
            method=Method.RATIO_ESTIMATE,
        )
    return PooledAvailability(
        share=1.0 - lost,
        required=required,
        down=down,
        units=count,
        stops=sum(unit.stops for unit in units),
        limits=limits,
    )


def restoration(
    stops: Sequence[Stop], *, as_of: float, level: float = 0.90
) -> Restoration | Refusal:
    """How long it took to restore a loom, from the stops whose end is on record by `as_of`.

    Median with exact limits from the order of the times; mean with limits on the log scale from
    the scatter seen, not from an exponential law, which repair times do not follow. Limits are
    refused below five completed stops, and for the median where the level can not be reached.
    Refuses without a completed stop; later stops are not looked at.

    Source: David and Nagaraja 2003, Order Statistics, section 7.1 (section number from memory).
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
    if count < FEWEST_RESTORATIONS:
        mean_limits = median_limits = Refusal(
            reason=f"{count} completed stops, limits need {FEWEST_RESTORATIONS}"
        )
    else:
        variance = math.fsum((time - mean) ** 2 for time in times) / (count - 1)
        mean_limits = log_normal_limits(mean, math.sqrt(variance / count), level)
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


def proportion(count: int, of: int, *, level: float = 0.90) -> Proportion | Refusal:
    """A share with Clopper-Pearson limits, which hold their level whatever the true share.

    `low` is the beta quantile alpha/2 of (k, n - k + 1), `high` that of 1 - alpha/2 of
    (k + 1, n - k); 0 below for none and 1 above for all. Refuses none of none. Raises ValueError
    for a count outside 0 to `of`.

    Source: Clopper and Pearson 1934, Biometrika 26:404-413.
    """
    from scipy.special import betaincinv

    check_level(level)
    if not 0 <= count <= of:
        raise ValueError(f"a share needs 0 <= count <= of, not {count} of {of}")
    if of == 0:
        return Refusal(reason="nothing to take a share of")
    tail = (1.0 - level) / 2.0
    low = float(betaincinv(count, of - count + 1, tail)) if count else 0.0
    high = float(betaincinv(count + 1, of - count, 1.0 - tail)) if count < of else 1.0
    return Proportion(
        share=count / of,
        limits=Limits(low=low, high=high, level=level, method=Method.CLOPPER_PEARSON),
        count=count,
        of=of,
    )


def _as_span(stop: Stop, as_of: float) -> Span:
    """A stop as a span, an open one to `as_of`."""
    match stop:
        case Span():
            return stop
        case OpenStop(start=start):
            return Span(start=start, end=as_of)
        case _:
            assert_never(stop)


def _until(spans: Sequence[Span], as_of: float) -> tuple[Span, ...]:
    """Joined spans, cut at a moment."""
    return tuple(
        Span(start=span.start, end=min(span.end, as_of)) for span in spans if span.start < as_of
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
