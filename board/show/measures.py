"""Measured values, limits and margins in figures: with as many decimals as tell them apart.

A value past its limit must not look like the limit, and a margin that is there must not read 0.
"""

from __future__ import annotations

import math
from decimal import Decimal

from board.mill import Quantity
from board.reckon.conformity import margin
from board.reckon.margins import WearLine
from board.reckon.refusal import Refusal
from board.state.history import Bound, ReadingAt
from grammar.steps import step_of

_MOST = 9  # decimals: more is noise of the arithmetic
_UNKNOWN = 2  # where neither the register nor the reading tells how fine a number is


def like(value: float, wear: WearLine) -> str:
    """A value or limit with the decimals that belong to this line."""
    return f"{value:.{_of_line(wear)}f}"


def margin_of(wear: WearLine, sign: str = "") -> str:
    """The size of a margin; ``under 0.01`` where neither the tool nor the digits written tell it.

    A ``sign`` stands before the number.
    """
    left, places = abs(wear.margin or 0.0), _of_line(wear)
    text = f"{left:.{places}f}"
    if float(text) == 0.0 and _is_there(left, wear.reading):
        return f"under {sign}{10.0**-places:.{places}f}"
    return f"{sign}{text}"


def value_of(reading: ReadingAt, quantity: Quantity) -> str:
    """A reading with the decimals that belong to its quantity."""
    limits = quantity.limits
    known = tuple(n for n in (limits.low, limits.high, quantity.new) if n is not None)
    left = margin(reading.value, limits) if reading.bound is Bound.EXACT else None
    told = None if isinstance(left, Refusal) else left
    return f"{reading.value:.{_decimals(reading, known, quantity.tool_uncertainty, told)}f}"


def plain(value: float) -> str:
    """A number of the register as it was written there, but for noughts at its end."""
    text = f"{Decimal(repr(value)):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _of_line(wear: WearLine) -> int:
    known = tuple(number for number in (wear.limit, wear.new) if number is not None)
    return _decimals(wear.reading, known, wear.uncertainty, wear.margin)


def _decimals(
    reading: ReadingAt, known: tuple[float, ...], u: float | None, left: float | None
) -> int:
    """As many as the gauge can tell, or else were written; and more where a margin needs them."""
    step = step_of(reading.written, reading.unit, reading.value)
    if u is not None:
        places = 0 if u >= 10 else 1 if u >= 0.5 else 2 if u >= 0.005 else 3
        if left is not None and abs(left) <= u and abs(left) < 0.5 * step:
            return places  # neither the tool nor what was written can tell such a margin
    else:
        written = math.ceil(-math.log10(step) - 1e-9) if step > 0.0 else _UNKNOWN
        places = max(written, 0, *(len(plain(number).partition(".")[2]) for number in known))
        places = min(places, _MOST)
    if left is not None and _is_there(left, reading):
        while places < _MOST and float(f"{left:.{places}f}") == 0.0:
            places += 1
    return places


def _is_there(left: float, reading: ReadingAt) -> bool:
    """Whether a margin is more than the arithmetic's rounding, as the wear words have it."""
    return not math.isclose(reading.value, reading.value - left, rel_tol=1e-9)
