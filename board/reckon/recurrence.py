"""How often something recurs on one loom, and whether it comes faster or slower than before.

Rates with exact limits, two trend tests and the power-law growth model, each saying whether
watching ended at a set time or with the last failure: the formulas differ. The picture over many
looms is in `cumulative`, the search for looms above the fleet in `above`. Times are running hours,
or whatever one unit the caller counts in, from the start of watching.

A rate that falls or grows in the first months of logging may be the logging and not the loom; that
is for the screen to say.
"""

import math
from collections.abc import Sequence
from enum import Enum
from itertools import pairwise

from board.reckon.limits import Limits, Method, check_level, normal_quantile
from board.reckon.refusal import Refusal
from grammar.frozen import dataclass

FEWEST_FOR_TREND = 4


class Ended(Enum):
    """What ended the watching."""

    TIME = "time-truncated"
    FAILURE = "failure-truncated"


class Chosen(Enum):
    """Why this history is being tested."""

    BEFORE_LOOKING = "chosen before its failures were looked at"
    BECAUSE_IT_REPEATS = "picked because it repeats"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """Events counted, the exposure in which they were, and their rate [1 / unit of exposure]."""

    count: int
    exposure: float
    rate: float
    limits: Limits


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendTests:
    """Two tests of "no trend", on `failures` times of which `used` enter the formulas.

    `laplace` is a normal score, above 0 when failures crowd towards the end. `military` is
    chi-square with `degrees`, low when they do. Both p-values are two-sided.
    """

    failures: int
    used: int
    end: float
    ended: Ended
    laplace: float
    laplace_p: float
    military: float
    degrees: int
    military_p: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerLaw:
    """Failures recurring at the power-law rate `a * b * t**(b - 1)`; times in the caller's unit.

    Three conventions are about: `shape` is b by maximum likelihood, `shape_unbiased` b corrected
    for bias, and `1 - shape_unbiased` is what the growth plots call the growth slope. `coefficient`
    is a, and `mtbf_at_end` the instantaneous mean time between failures at the end; both go with
    `shape_unbiased`.
    """

    failures: int
    end: float
    ended: Ended
    shape: float
    shape_limits: Limits
    shape_unbiased: float
    coefficient: float
    mtbf_at_end: float
    mtbf_limits: Limits | Refusal
    level: float


def poisson_rate(count: int, exposure: float, *, level: float = 0.90) -> Rate | Refusal:
    """A rate of events with exact two-sided Poisson limits.

    `low = chi2(alpha/2; 2k) / 2T`, `high = chi2(1 - alpha/2; 2k + 2) / 2T`, and 0 below for k = 0.
    The level holds whatever the rate: being discrete, the limits are rather wide than narrow.
    Refuses without exposure. Raises ValueError for a negative count or exposure.

    Source: Garwood 1936, Biometrika 28:437-442.
    """
    from scipy.special import gammaincinv

    check_level(level)
    if count < 0 or exposure < 0.0:
        raise ValueError(f"count and exposure are not negative, not {count} and {exposure}")
    if exposure == 0.0:
        return Refusal(reason=f"{count} events in no running time on record")
    tail = (1.0 - level) / 2.0
    low = float(gammaincinv(count, tail)) if count else 0.0
    high = float(gammaincinv(count + 1, 1.0 - tail))
    return Rate(
        count=count,
        exposure=exposure,
        rate=count / exposure,
        limits=Limits(low=low / exposure, high=high / exposure, level=level, method=Method.GARWOOD),
    )


def trend_tests(
    times: Sequence[float], *, end: float, ended: Ended, chosen: Chosen
) -> TrendTests | Refusal:
    """Whether failures come faster or slower than at first: Laplace and MIL-HDBK-189.

    Time-truncated, n times up to `end`: `U = (mean t - end/2) / (end / sqrt(12 n))` and
    `2 sum ln(end / t)`, chi-square with 2n degrees. Failure-truncated, the last time is the end and
    drops out of both sums: n - 1 in place of n. Refuses below four failures, and for a history
    that was picked because it repeats: such a one shows a trend by the picking.

    Raises ValueError for times not in order from above 0 up to the end.

    Source: NIST/SEMATECH e-Handbook 8.2.3.4; Ascher and Feingold 1984, Repairable Systems
    Reliability, chapter 5 (chapter from memory).
    """
    from scipy.special import gammainc, gammaincc, ndtr

    used = _times_used(times, end, ended)
    if chosen is Chosen.BECAUSE_IT_REPEATS:
        return Refusal(
            reason=f"this history of {len(times)} failures was picked because it repeats, so a "
            "trend test would find what the picking put there"
        )
    if len(times) < FEWEST_FOR_TREND:
        return Refusal(
            reason=f"{len(times)} failures on record, a trend test needs {FEWEST_FOR_TREND}"
        )
    count = len(used)
    laplace = (sum(used) / count - end / 2.0) / (end / math.sqrt(12.0 * count))
    half_military = _log_sum(used, end)
    lower, upper = float(gammainc(count, half_military)), float(gammaincc(count, half_military))
    return TrendTests(
        failures=len(times),
        used=count,
        end=end,
        ended=ended,
        laplace=laplace,
        laplace_p=2.0 * float(ndtr(-abs(laplace))),
        military=2.0 * half_military,
        degrees=2 * count,
        military_p=min(1.0, 2.0 * min(lower, upper)),
    )


def power_law(
    times: Sequence[float], *, end: float, ended: Ended, level: float = 0.90
) -> PowerLaw | Refusal:
    """The power-law (Crow, AMSAA) model of one repaired loom.

    With `L = sum ln(end / t)` over n times, time-truncated: shape `n / L`, unbiased `(n - 1) / L`,
    limits of the shape from `2 n b / shape` as chi-square with 2n degrees. Failure-truncated: L
    over the first n - 1, shape `n / L`, unbiased `(n - 2) / L`, `2 n b / shape` with 2(n - 1).
    Coefficient `n / end**b`, MTBF at the end `end / (n b)`, b the unbiased one. Its limits, for
    time-truncated watching only, are Crow's approximate ones: MTBF times `n (n - 1) /
    (n + z**2/4 + sqrt(n z**2/2 + z**4/16))**2` and `n (n - 1) / (n - z sqrt(n/2))**2`.

    Refuses below four failures. Raises ValueError for times not in order from above 0 to the end.

    Source: Crow 1974; as given in NIST/SEMATECH e-Handbook 8.4.5.2 (limits from memory, checked
    against the numbers printed there).
    """
    from scipy.special import gammaincinv

    used = _times_used(times, end, ended)
    count = len(times)
    if count < FEWEST_FOR_TREND:
        return Refusal(reason=f"{count} failures on record, the power law needs {FEWEST_FOR_TREND}")
    log_sum = _log_sum(used, end)
    if log_sum <= 0.0:
        return Refusal(reason=f"all {count} failures at the very end of watching")
    z = normal_quantile(level)
    tail = (1.0 - level) / 2.0
    unbiased = (len(used) - 1) / log_sum
    mtbf = end / (count * unbiased)
    divisor = count - z * math.sqrt(count / 2.0)
    mtbf_limits: Limits | Refusal
    if ended is Ended.FAILURE:
        mtbf_limits = Refusal(reason="limits are reckoned for time-truncated watching only")
    elif divisor <= 0.0:
        mtbf_limits = Refusal(reason=f"{count} failures are too few for limits at level {level:g}")
    else:
        pairs = count * (count - 1)
        below = count + z**2 / 4.0 + math.sqrt(count * z**2 / 2.0 + z**4 / 16.0)
        mtbf_limits = Limits(
            low=mtbf * pairs / below**2,
            high=mtbf * pairs / divisor**2,
            level=level,
            method=Method.CROW_APPROXIMATE,
        )
    return PowerLaw(
        failures=count,
        end=end,
        ended=ended,
        shape=count / log_sum,
        shape_limits=Limits(
            low=float(gammaincinv(len(used), tail)) / log_sum,
            high=float(gammaincinv(len(used), 1.0 - tail)) / log_sum,
            level=level,
            method=Method.CHI_SQUARE,
        ),
        shape_unbiased=unbiased,
        coefficient=count / end**unbiased,
        mtbf_at_end=mtbf,
        mtbf_limits=mtbf_limits,
        level=level,
    )


def _times_used(times: Sequence[float], end: float, ended: Ended) -> Sequence[float]:
    """The times that enter the sums. Raises ValueError for times out of order or past the end."""
    if any(later < earlier for earlier, later in pairwise(times)):
        raise ValueError("failure times are to be in order")
    if times and not (times[0] > 0.0 and times[-1] <= end):
        raise ValueError(f"failure times lie above 0 and not past the end, {end}")
    match ended:
        case Ended.TIME:
            return times
        case Ended.FAILURE:
            if times and times[-1] != end:
                raise ValueError(f"failure-truncated watching ends at {times[-1]}, not {end}")
            return times[:-1]


def _log_sum(times: Sequence[float], end: float) -> float:
    """The sum of `ln(end / t)`."""
    return math.fsum(math.log(end / time) for time in times)
