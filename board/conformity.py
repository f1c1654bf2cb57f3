"""tmp, until the reckoning's own conformity takes this place"""

from __future__ import annotations
from enum import Enum
from board.mill import Limits


class TorqueVerdict(Enum):
    CONFORMS = "conforms"
    FAILS = "does not conform"
    UNDECIDED = "cannot be decided"


def torque_verdict(
    value: float, *, required: float, tolerance: float, tool: float | None
) -> TorqueVerdict:
    eps = 1e-9 * max(1.0, abs(required))
    low, high = required - tolerance, required + tolerance
    t = tool or 0.0
    if value < low - t - eps or value > high + t + eps:
        return TorqueVerdict.FAILS
    if low + t - eps <= value <= high - t + eps:
        return TorqueVerdict.CONFORMS
    return TorqueVerdict.UNDECIDED


class WearWord(Enum):
    PAST_LIMIT = "PAST LIMIT"
    AT_LIMIT = "AT LIMIT"
    NEAR_LIMIT = "near limit"
    WITHIN = "within limit"
    GAUGE_PAST = "gauge past"
    GAUGE_WITHIN = "gauge within"
    GAUGE_NEITHER = "gauge says neither"
    NO_LIMIT = "no limit given"


def margin_to(value: float, limits: Limits) -> float | None:
    gaps = []
    if limits.low is not None:
        gaps.append(value - limits.low)
    if limits.high is not None:
        gaps.append(limits.high - value)
    return min(gaps) if gaps else None


def wear_word(margin: float | None, u: float, *, near: bool) -> WearWord:
    if margin is None:
        return WearWord.NO_LIMIT
    eps = 1e-9
    if margin < -u - eps:
        return WearWord.PAST_LIMIT
    if margin <= u + eps:
        return WearWord.AT_LIMIT
    return WearWord.NEAR_LIMIT if near else WearWord.WITHIN
