"""What a reading tells of the true value, apart from ``series``, to judge without arrays."""

from enum import IntEnum


class Kind(IntEnum):
    """What a reading says about the true value: equal to the number, or only below or above it."""

    BELOW = -1
    EXACT = 0
    ABOVE = 1
