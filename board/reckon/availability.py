"""Recorded availability: the share of required time that stops did not take.

Reckoned from stops and required time as they stand in the record, in hours on one time axis, up to
a moment `as_of`. Which stops are maintenance, and which time was required, is decided before they
come here: stops of all kinds give the operational figure, stops cut to the work itself the inherent
one, and the two are far apart where fitters wait for parts. How long stops last is in `durations`.
"""

import math
from bisect import bisect_right
from collections.abc import Sequence

from board.reckon.limits import Limits, Method, check_level
from board.reckon.refusal import Refusal
from board.reckon.spans import Span, joined, total
from grammar.frozen import dataclass

FEWEST_UNITS = 5


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
    ends = [span.end for span in wanted]
    down_spans: list[Span] = []
    touching = still_open = 0
    for stop in stops:
        if stop.start >= as_of:
            continue
        until = as_of if isinstance(stop, OpenStop) else min(stop.end, as_of)
        within = []
        for span in wanted[bisect_right(ends, stop.start) :]:
            if span.start >= until:
                break
            within.append(Span(start=max(span.start, stop.start), end=min(span.end, until)))
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
    if count < FEWEST_UNITS:
        limits = Refusal(reason=f"{count} looms or days, limits need {FEWEST_UNITS}")
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


def _until(spans: Sequence[Span], as_of: float) -> tuple[Span, ...]:
    """Joined spans, cut at a moment."""
    return tuple(
        Span(start=span.start, end=min(span.end, as_of)) for span in spans if span.start < as_of
    )
