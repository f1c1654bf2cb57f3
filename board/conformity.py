"""tmp"""

from enum import Enum


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
