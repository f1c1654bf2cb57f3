"""Does a torque conform to what is asked for, with the tool's own tolerance taken into account.

Numbers of one call share one unit. What is asked for stands in the register, none is built in.
"""

from __future__ import annotations

from enum import Enum

from grammar.frozen import dataclass

# Relative size of what binary arithmetic makes of decimal numbers; no gauge reads that finely.
ROUNDING = 1e-9


class Decision(Enum):
    """What a reading proves about conformity."""

    CONFORMING = "conforming"
    NOT_CONFORMING = "not conforming"
    UNDECIDED = "cannot be decided"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """A required value and how far from it is allowed, both in one unit.

    Raises ValueError for a tolerance below zero.
    """

    required: float
    allowed: float

    def __post_init__(self) -> None:
        not_negative(self.allowed, "tolerance")

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
    not_negative(guard_factor, "guard factor")
    deviation = 0.0
    if tool_tolerance is not None:
        not_negative(tool_tolerance, "tool tolerance")
        deviation = guard_factor * tool_tolerance
    lowest = reference_torque(indicated, deviation)
    highest = reference_torque(indicated, -deviation)
    low, high = tolerance.limits
    near = slack(indicated, highest, low, high)
    if low - near <= lowest and highest <= high + near:
        return Decision.CONFORMING
    if highest < low - near or lowest > high + near:
        return Decision.NOT_CONFORMING
    return Decision.UNDECIDED


def slack(*numbers: float | None) -> float:
    """What counts as nothing beside these numbers."""
    return ROUNDING * max((abs(number) for number in numbers if number is not None), default=0.0)


def not_negative(number: float, name: str) -> None:
    """Raises ValueError for a number below zero."""
    if not number >= 0.0:
        raise ValueError(f"the {name} must be zero or more, not {number}")
