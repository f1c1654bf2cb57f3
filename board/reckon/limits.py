"""An interval, with its level and the way it was reached.

The one shape in which the other modules of the reckoning hand out uncertainty. Nothing is computed
here but the normal quantile that several of them share.
"""

import math
from enum import Enum
from statistics import NormalDist

from grammar.frozen import dataclass


class Method(Enum):
    """How an interval was reached, in words fit for a footnote."""

    GARWOOD = "exact Poisson limits (Garwood)"
    CLOPPER_PEARSON = "exact binomial limits (Clopper-Pearson)"
    CHI_SQUARE = "exact chi-square limits"
    ONE_SIDED = "exact one-sided bound, no failure seen"
    LOG_LOG = "log-log limits on Greenwood's error"
    INVERTED_LOG_LOG = "where the log-log limits of the curve cross (Brookmeyer-Crowley)"
    LIKELIHOOD_RATIO = "likelihood-ratio limits"
    LOG_SCALE = "limits on the log scale"
    WIDER = "the wider of log-normal (Cox) and normal limits"
    ORDER_STATISTICS = "exact order-statistic limits"
    CROW_APPROXIMATE = "Crow's approximate limits, time-truncated"
    DEMAND = "range of the demand's own distribution"
    RATIO_ESTIMATE = "ratio estimate with Student's t, units as the sample"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """An interval from `low` to `high`, in the unit of the number it belongs to.

    `level` is the two-sided confidence level, 0 to 1; for `Method.ONE_SIDED` it is the level of
    the lower bound. A limit that the data do not set is 0 below or `math.inf` above.
    """

    low: float
    high: float
    level: float
    method: Method

    def __post_init__(self) -> None:
        """Raise ValueError for a level outside 0 to 1 or limits out of order or not a number."""
        check_level(self.level)
        if not self.low <= self.high:
            raise ValueError(f"limits out of order: {self.low} to {self.high}")


def check_level(level: float) -> None:
    """Raise ValueError unless the level lies strictly between 0 and 1."""
    if not 0.0 < level < 1.0:
        raise ValueError(f"an interval level lies between 0 and 1, not {level}")


def normal_quantile(level: float) -> float:
    """The two-sided normal quantile of a level: 1.96 for 0.95. Raises ValueError as above."""
    check_level(level)
    return NormalDist().inv_cdf((1.0 + level) / 2.0)


def log_limits(value: float, reach: float, level: float) -> Limits:
    """Limits of a positive number that is taken as normal on the log scale.

    `value * exp(-+ reach / value)`, reach the quantile times the standard error of the value; they
    can not fall below 0. Raises ValueError for a value that is not positive.

    Source: Meeker and Escobar 1998, Statistical Methods for Reliability Data, section 8.4
    (section number from memory).
    """
    if not value > 0.0:
        raise ValueError(f"log limits need a positive value, not {value}")
    factor = math.exp(reach / value)
    return Limits(low=value / factor, high=value * factor, level=level, method=Method.LOG_SCALE)
