"""So many of so many, with exact limits.

For shares of a count: checks done of checks due, stops completed, forecasts that held. Shares of
time are in `availability`.
"""

from board.reckon.limits import Limits, Method, check_level
from board.reckon.refusal import Refusal
from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Proportion:
    """So many of so many, with exact limits."""

    share: float
    limits: Limits
    count: int
    of: int


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
