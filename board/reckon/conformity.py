"""Does a reading lie inside its limit, and how sure is that: margins, words, chances, torque.

What it does: the signed margin of a reading, the word for it that takes the tool's uncertainty into
account, the chance that the true value conforms, and the decision with a guard band; the same for a
torque against its required value, with the torque tool's own tolerance.
What it leaves to others: forecasts, what is shown beside the word, and the limits, none of which
are built in.

Numbers of one call share one unit. A value a rounding error away from a border counts as on it, so
that 2.38 against 2.40 with an uncertainty of 0.02 is at the limit, as on paper.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from board.reckon.refusal import Refusal
from board.reckon.series import Kind

# Relative size of what binary arithmetic makes of decimal numbers; no gauge reads that finely.
ROUNDING = 1e-9


class WearWord(Enum):
    """The words that a margin can carry on the board."""

    PAST_LIMIT = "PAST LIMIT"
    AT_LIMIT = "AT LIMIT"
    NEAR_LIMIT = "near limit"
    WITHIN_LIMIT = "within limit"
    GAUGE_PAST = "gauge past"
    GAUGE_WITHIN = "gauge within"
    NO_LIMIT = "no limit given"


class Decision(Enum):
    """What a reading proves about conformity."""

    CONFORMING = "conforming"
    NOT_CONFORMING = "not conforming"
    UNDECIDED = "cannot be decided"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The limits of one quantity: replace below, replace above, both for a band, or none.

    Raises ValueError where a band has its upper end not above its lower.
    """

    replace_below: float | None = None
    replace_above: float | None = None

    def __post_init__(self) -> None:
        low, high = self.replace_below, self.replace_above
        if low is not None and high is not None and not low < high:
            raise ValueError(f"a band needs its lower end under its upper, not {low} to {high}")

    @classmethod
    def band(cls, low: float, high: float) -> Limits:
        """Limits on both sides: replace below `low` and above `high`."""
        return cls(replace_below=low, replace_above=high)


def margin(value: float, limits: Limits) -> float | Refusal:
    """Distance to the nearest limit, positive inside, negative beyond; a refusal without limit."""
    distances = []
    if limits.replace_below is not None:
        distances.append(value - limits.replace_below)
    if limits.replace_above is not None:
        distances.append(limits.replace_above - value)
    if not distances:
        return Refusal(reason="no limit given")
    return min(distances)


def wear_word(value: float, limits: Limits, uncertainty: float) -> WearWord:
    """The word of a plain reading; `uncertainty` is the tool's expanded one (k = 2).

    PAST LIMIT is beyond by more than the uncertainty, AT LIMIT within it on either side. Raises
    ValueError for a negative uncertainty.
    """
    _not_negative(uncertainty, "uncertainty")
    distance = margin(value, limits)
    if isinstance(distance, Refusal):
        return WearWord.NO_LIMIT
    slack = _slack(value, uncertainty, limits.replace_below, limits.replace_above)
    if distance < -(uncertainty + slack):
        return WearWord.PAST_LIMIT
    if distance <= uncertainty + slack:
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
    slack = _slack(value, new, limits.replace_below, limits.replace_above)
    return WearWord.NEAR_LIMIT if left <= share * whole + slack else word


def gauge_word(kind: Kind, bound: float, limits: Limits) -> WearWord | Refusal:
    """The word of a gauge verdict, which says only that the value is below or above `bound`.

    A refusal where the verdict leaves both sides of the limit open. Raises ValueError for EXACT.
    """
    low, high = limits.replace_below, limits.replace_above
    slack = _slack(bound, 0.0, low, high)
    if low is None and high is None:
        return WearWord.NO_LIMIT
    match kind:
        case Kind.BELOW:
            past = low is not None and bound <= low + slack
            within = low is None and high is not None and bound <= high + slack
        case Kind.ABOVE:
            past = high is not None and bound >= high - slack
            within = high is None and low is not None and bound >= low - slack
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
    _not_negative(standard_uncertainty, "standard uncertainty")
    inside = 1.0
    for limit, sign in ((limits.replace_below, 1.0), (limits.replace_above, -1.0)):
        if limit is None:
            continue
        room = sign * (value - limit)
        if standard_uncertainty == 0.0:
            inside -= 0.0 if room >= -_slack(value, 0.0, limit) else 1.0
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
    _not_negative(uncertainty, "uncertainty")
    _not_negative(guard_factor, "guard factor")
    distance = margin(value, limits)
    if isinstance(distance, Refusal):
        return distance
    guard = guard_factor * uncertainty
    slack = _slack(value, guard, limits.replace_below, limits.replace_above)
    return _by_distance(distance, guard, slack)


def _by_distance(distance: float, guard: float, slack: float) -> Decision:
    if distance >= guard - slack:
        return Decision.CONFORMING
    if distance < -(guard + slack):
        return Decision.NOT_CONFORMING
    return Decision.UNDECIDED


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """A required value and how far from it is allowed, both in one unit.

    Raises ValueError for a tolerance below zero.
    """

    required: float
    allowed: float

    def __post_init__(self) -> None:
        _not_negative(self.allowed, "tolerance")

    @classmethod
    def percent(cls, required: float, percent: float) -> Tolerance:
        """A tolerance given in percent of the required value."""
        return cls(required=required, allowed=abs(required) * percent / 100.0)

    @property
    def limits(self) -> tuple[float, float]:
        """The lowest and the highest allowed value."""
        return self.required - self.allowed, self.required + self.allowed


def reference_torque(indicated: float, deviation: float) -> float:
    """The torque at the screw when a tool of known deviation [%] indicates a value.

    The deviation is a = (indicated - reference) / reference x 100, of the *reference*, so that at
    +4 % an indicated 100 is 96.15 and not 96. Raises ValueError for a deviation of -100 % or less.

    Source: ISO 6789-1:2017, clause 7 (formula from memory).
    """
    if deviation <= -100.0:
        raise ValueError(f"a deviation of {deviation} % has no reference torque")
    return indicated / (1.0 + deviation / 100.0)


def torque_conformity(
    indicated: float,
    tolerance: Tolerance,
    tool_tolerance: float | None = None,
    guard_factor: float = 1.0,
) -> Decision:
    """Decide whether a torque conforms to its tolerance.

    `tool_tolerance` [%]: how far the tool may deviate either way; conforming when every torque that
    it may stand for is allowed, not conforming when none is. Without it there is no guard band and
    the indicated value decides. Raises ValueError for a negative tool tolerance or factor, or one
    that reaches 100 %.
    """
    _not_negative(guard_factor, "guard factor")
    deviation = 0.0
    if tool_tolerance is not None:
        _not_negative(tool_tolerance, "tool tolerance")
        deviation = guard_factor * tool_tolerance
    lowest = reference_torque(indicated, deviation)
    highest = reference_torque(indicated, -deviation)
    low, high = tolerance.limits
    slack = _slack(indicated, highest, low, high)
    if low - slack <= lowest and highest <= high + slack:
        return Decision.CONFORMING
    if highest < low - slack or lowest > high + slack:
        return Decision.NOT_CONFORMING
    return Decision.UNDECIDED


def _slack(*numbers: float | None) -> float:
    return ROUNDING * max((abs(number) for number in numbers if number is not None), default=0.0)


def _not_negative(number: float, name: str) -> None:
    if not number >= 0.0:
        raise ValueError(f"the {name} must be zero or more, not {number}")
