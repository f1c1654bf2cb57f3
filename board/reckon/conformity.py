"""Does a reading lie inside its limit, and how sure is that: margins, words, chances.

What it does: the signed margin of a reading, the word for it that takes the tool's uncertainty into
account, the chance that the true value conforms, and the decision with a guard band.
What it leaves to others: torque, forecasts, what is shown beside the word, and the limits, none of
which are built in.

Numbers of one call share one unit. A value a rounding error away from a border counts as on it, so
that 2.38 against 2.40 with an uncertainty of 0.02 is at the limit, as on paper.
"""

from __future__ import annotations

import math
from enum import Enum

from board.mill import Limits
from board.reckon.kinds import Kind
from board.reckon.refusal import Refusal
from board.torque import Decision, not_negative, slack


class WearWord(Enum):
    """The words that a margin can carry on the board."""

    PAST_LIMIT = "PAST LIMIT"
    AT_LIMIT = "AT LIMIT"
    NEAR_LIMIT = "near limit"
    WITHIN_LIMIT = "within limit"
    GAUGE_PAST = "gauge past"
    GAUGE_WITHIN = "gauge within"
    GAUGE_NEITHER = "gauge says neither"
    NO_LIMIT = "no limit given"


def margin(value: float, limits: Limits) -> float | Refusal:
    """Distance to the nearest limit, positive inside, negative beyond; a refusal without limit."""
    distances = []
    if limits.low is not None:
        distances.append(value - limits.low)
    if limits.high is not None:
        distances.append(limits.high - value)
    if not distances:
        return Refusal(reason="no limit given")
    return min(distances)


def wear_word(value: float, limits: Limits, uncertainty: float) -> WearWord:
    """The word of a plain reading; `uncertainty` is the tool's expanded one (k = 2).

    PAST LIMIT is beyond by more than the uncertainty, AT LIMIT within it on either side. Raises
    ValueError for a negative uncertainty.
    """
    not_negative(uncertainty, "uncertainty")
    distance = margin(value, limits)
    if isinstance(distance, Refusal):
        return WearWord.NO_LIMIT
    near = slack(value, uncertainty, limits.low, limits.high)
    if distance < -(uncertainty + near):
        return WearWord.PAST_LIMIT
    if distance <= uncertainty + near:
        return WearWord.AT_LIMIT
    return WearWord.WITHIN_LIMIT


def near_by_forecast(word: WearWord, low: float, until_check: float) -> WearWord:
    """Turn "within limit" into "near limit" where the limit may be reached before the next check.

    `low` [h]: the early end of the forecast's band; `until_check` [h]: use to the next check.
    """
    if word is WearWord.WITHIN_LIMIT and low <= until_check:
        return WearWord.NEAR_LIMIT
    return word


def near_by_share(
    word: WearWord, value: float, limits: Limits, new: float, share: float
) -> WearWord:
    """Turn "within limit" into "near limit" in the last `share` (0 to 1) of the life new-to-limit.

    For readings without a forecast; `new` is the typical reading of a new part.
    """
    whole, left = margin(new, limits), margin(value, limits)
    if word is not WearWord.WITHIN_LIMIT or isinstance(whole, Refusal) or isinstance(left, Refusal):
        return word
    near = slack(value, new, limits.low, limits.high)
    return WearWord.NEAR_LIMIT if left <= share * whole + near else word


def gauge_word(kind: Kind, bound: float, limits: Limits) -> WearWord | Refusal:
    """The word of a gauge verdict, which says only that the value is below or above `bound`.

    A refusal where the verdict leaves both sides of the limit open. Raises ValueError for EXACT.
    """
    low, high = limits.low, limits.high
    near = slack(bound, 0.0, low, high)
    if low is None and high is None:
        return WearWord.NO_LIMIT
    match kind:
        case Kind.BELOW:
            past = low is not None and bound <= low + near
            within = low is None and high is not None and bound <= high + near
        case Kind.ABOVE:
            past = high is not None and bound >= high - near
            within = high is None and low is not None and bound >= low - near
        case Kind.EXACT:
            raise ValueError("a plain reading has its own word, see wear_word")
    if past:
        return WearWord.GAUGE_PAST
    if within:
        return WearWord.GAUGE_WITHIN
    side = "below" if kind is Kind.BELOW else "above"
    return Refusal(reason=f"{side} {bound:g} says nothing about the limit")


def conformance_probability(value: float, limits: Limits, standard_uncertainty: float) -> float:
    """Chance that the true value lies inside the limits, given a reading and its uncertainty.

    p = Phi((upper - value) / u) - Phi((lower - value) / u), nothing being known beforehand. Without
    limits it is 1. Raises ValueError for a negative uncertainty.

    Source: JCGM 106:2012, 7.2 and equation (18) (numbers from memory).
    """
    not_negative(standard_uncertainty, "standard uncertainty")
    inside = 1.0
    for limit, sign in ((limits.low, 1.0), (limits.high, -1.0)):
        if limit is None:
            continue
        room = sign * (value - limit)
        if standard_uncertainty == 0.0:
            inside -= 0.0 if room >= -slack(value, 0.0, limit) else 1.0
        else:
            inside -= 0.5 * math.erfc(room / (standard_uncertainty * math.sqrt(2.0)))
    return min(1.0, max(0.0, inside))


def decide(
    value: float, limits: Limits, uncertainty: float, guard_factor: float = 1.0
) -> Decision | Refusal:
    """Decide with a guard band of `guard_factor` times the expanded uncertainty on each side.

    Conforming: inside by the guard band or more; not conforming: beyond by more than it; between
    them the reading proves neither. Raises ValueError for a negative uncertainty or factor.

    Source: ISO 14253-1:2017 (decision rules); JCGM 106:2012, 8.3 (guarded acceptance).
    """
    not_negative(uncertainty, "uncertainty")
    not_negative(guard_factor, "guard factor")
    distance = margin(value, limits)
    if isinstance(distance, Refusal):
        return distance
    guard = guard_factor * uncertainty
    near = slack(value, guard, limits.low, limits.high)
    return _by_distance(distance, guard, near)


def _by_distance(distance: float, guard: float, near: float) -> Decision:
    if distance >= guard - near:
        return Decision.CONFORMING
    if distance < -(guard + near):
        return Decision.NOT_CONFORMING
    return Decision.UNDECIDED
