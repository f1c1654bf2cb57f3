"""How finely a number was written: the size of a step of its last digit.

What it does: tells that step, and the decimals it needs, in the unit that the number is reckoned
in. What it leaves to others: what a step says of how well something was measured.
"""

from __future__ import annotations

import math
from functools import lru_cache

from grammar.units import UNITS, convert, split_amount, unit_of


@lru_cache(maxsize=8192)
def step_of(written: str, unit: str, value: float) -> float:
    """The step of the last digit of an amount such as ``0,0101 in``, in ``unit``; 0: not known.

    ``value`` is what the amount was taken for [unit]: a mark in it may part thousands.
    """
    try:
        number, name = split_amount(written.lower())
    except ValueError:
        return 0.0
    source, target = unit_of(name), UNITS.get(unit)
    if source is None or target is None or source.kind is not target.kind:
        return 0.0
    digits = number.replace("\u2212", "-").replace(",", ".")
    decimals = len(digits.partition(".")[2])
    if decimals and not math.isclose(_value(digits) * source.factor / target.factor, value):
        decimals = 0
    return convert(10.0**-decimals, source, target)


def _value(digits: str) -> float:
    try:
        return float(digits)
    except ValueError:
        return math.nan
