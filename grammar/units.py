"""Units and the forms of a number.

Factors of the conversions. Source: NIST SP 811 (2008), appendix B; the inch is exactly 25.4 mm,
the pound-force inch 0.112 984 8 N.m, the kilogram-force 9.806 65 N, the psi 6.894 757 kPa.
What a number may mean for a part (its plausible range) is given by the caller.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from enum import Enum

from grammar.frozen import dataclass


class Kind(Enum):
    """What a unit measures."""

    LENGTH = "length"
    TORQUE = "torque"
    FORCE = "force"
    PRESSURE = "pressure"
    FREQUENCY = "frequency"
    ANGLE = "angle"
    TEMPERATURE = "temperature"
    TIME = "time"
    PICKS = "picks"
    ROTATION = "speed of rotation"
    SPEED = "speed"
    SHARE = "share"


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A unit: its symbol, what it measures, and its size in the first unit of its kind."""

    symbol: str
    kind: Kind
    factor: float


_INCH_POUND = 0.1129848290276167  # exactly 4.448 221 615 260 5 N x 0.0254 m

UNITS: Mapping[str, Unit] = {
    unit.symbol: unit
    for unit in (
        Unit(symbol="mm", kind=Kind.LENGTH, factor=1.0),
        Unit(symbol="um", kind=Kind.LENGTH, factor=0.001),
        Unit(symbol="in", kind=Kind.LENGTH, factor=25.4),
        Unit(symbol="N.m", kind=Kind.TORQUE, factor=1.0),
        Unit(symbol="cN.m", kind=Kind.TORQUE, factor=0.01),
        Unit(symbol="kgf.cm", kind=Kind.TORQUE, factor=0.0980665),
        Unit(symbol="lbf.in", kind=Kind.TORQUE, factor=_INCH_POUND),
        Unit(symbol="N", kind=Kind.FORCE, factor=1.0),
        Unit(symbol="kgf", kind=Kind.FORCE, factor=9.80665),
        Unit(symbol="bar", kind=Kind.PRESSURE, factor=1.0),
        Unit(symbol="kPa", kind=Kind.PRESSURE, factor=0.01),
        Unit(symbol="psi", kind=Kind.PRESSURE, factor=0.06894757293168361),
        Unit(symbol="Hz", kind=Kind.FREQUENCY, factor=1.0),
        Unit(symbol="deg", kind=Kind.ANGLE, factor=1.0),
        Unit(symbol="degC", kind=Kind.TEMPERATURE, factor=1.0),
        Unit(symbol="h", kind=Kind.TIME, factor=1.0),
        Unit(symbol="min", kind=Kind.TIME, factor=1.0 / 60.0),
        Unit(symbol="picks", kind=Kind.PICKS, factor=1.0),
        Unit(symbol="rpm", kind=Kind.ROTATION, factor=1.0),
        Unit(symbol="m/min", kind=Kind.SPEED, factor=1.0),
        Unit(symbol="%", kind=Kind.SHARE, factor=1.0),
    )
}

# Other spellings of the same sizes: the factors of a product stand in any order.
_SPELLINGS: Mapping[str, str] = {
    "μm": "um",
    "Nm": "N.m",
    "N·m": "N.m",
    "N⋅m": "N.m",
    "N m": "N.m",
    "cNm": "cN.m",
    "cN·m": "cN.m",
    "cN⋅m": "cN.m",
    "N.cm": "cN.m",
    "Ncm": "cN.m",
    "N·cm": "cN.m",
    "N⋅cm": "cN.m",
    "kgf·cm": "kgf.cm",
    "kgf⋅cm": "kgf.cm",
    "lbf·in": "lbf.in",
    "lbf⋅in": "lbf.in",
    "in.lbf": "lbf.in",
    "in·lbf": "lbf.in",
    "in⋅lbf": "lbf.in",
    "°": "deg",
    "°C": "degC",
    "1/min": "rpm",
}

ALL_UNITS: tuple[str, ...] = (*UNITS, *_SPELLINGS)

_FOLDED: Mapping[str, str] = {symbol.lower(): symbol for symbol in UNITS} | {
    spelling.lower(): symbol for spelling, symbol in _SPELLINGS.items()
}

UNIT_PATTERN = (
    "(?:"
    + "|".join(re.escape(u).replace(r"\ ", r"\s") for u in sorted(_FOLDED, key=len, reverse=True))
    + r")(?![\w/°]|[.·⋅]\w)"  # the beginning of a longer word is no unit: in.lb
)
DIGIT_PATTERN = r"[-\u2212]?[0-9]"  # U+2212 is the minus that editors put in
NUMBER_PATTERN = rf"{DIGIT_PATTERN}[0-9.,]*+"
AMOUNT_PATTERN = rf"{NUMBER_PATTERN}\s*{UNIT_PATTERN}"

_AMOUNT = re.compile(rf"({NUMBER_PATTERN})\s*({UNIT_PATTERN})")
_PLAIN = re.compile(r"-?[0-9]{1,300}(?:[.,][0-9]{1,300})?")  # longer is no measurement
_GROUPED = re.compile(r"-?(?!0[.,])[0-9]{1,3}[.,][0-9]{3}")


def unit_of(folded: str) -> Unit | None:
    """The unit of that folded spelling, or None."""
    symbol = _FOLDED.get(" ".join(folded.split()))
    return UNITS[symbol] if symbol else None


def split_amount(folded: str) -> tuple[str, str]:
    """The number and the unit of a folded amount such as ``0,80 n.m``.

    Raises ValueError where the text is no number followed by a unit.
    """
    match = _AMOUNT.fullmatch(folded)
    if match is None:
        raise ValueError(folded)
    return match[1], match[2]


def convert(value: float, source: Unit, target: Unit) -> float:
    """A value in another unit of its kind. Raises ValueError where the kinds differ."""
    if source.kind is not target.kind:
        raise ValueError(f"{source.symbol} is no {target.kind.value}")
    if source is target:
        return value
    return value * source.factor / target.factor


class NumberFault(Enum):
    """Why a number could not be read."""

    NO_NUMBER = "no number"
    AMBIGUOUS = "ambiguous"


def read_number(
    written: str, *, source: Unit, target: Unit, plausible: tuple[float, float] | None
) -> float | NumberFault:
    """A written number as a value in ``target``.

    A mark followed by exactly three digits may be a decimal or a thousands mark: the only reading
    inside the plausible range [unit of ``target``] is taken; where both lie inside, or no range is
    given, the number is ambiguous; where neither does, it is read as a decimal.
    """
    written = written.replace("\u2212", "-")
    if not _PLAIN.fullmatch(written):
        return NumberFault.NO_NUMBER
    decimal = convert(float(written.replace(",", ".")), source, target)
    if not _GROUPED.fullmatch(written):
        return decimal
    whole = convert(float(written.replace(",", "").replace(".", "")), source, target)
    if plausible is None:
        return NumberFault.AMBIGUOUS
    low, high = plausible
    decimal_fits, whole_fits = low <= decimal <= high, low <= whole <= high
    if decimal_fits and whole_fits:
        return NumberFault.AMBIGUOUS
    return whole if whole_fits else decimal
