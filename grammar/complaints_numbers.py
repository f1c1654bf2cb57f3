"""What is wrong with a number where one with its unit should stand."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from decimal import Context, Decimal, Inexact

from grammar.diagnostics import Code, Diagnostic
from grammar.frozen import dataclass
from grammar.line import Line
from grammar.nearest import each_nearest
from grammar.units import ALL_UNITS, NUMBER_PATTERN, UNIT_PATTERN, UNITS, Kind, unit_of

_BEFORE = r"(?<![^\s;(=])"
AMOUNT = re.compile(rf"{_BEFORE}{NUMBER_PATTERN}\s*{UNIT_PATTERN}")
_NUMBER = re.compile(rf"{_BEFORE}{NUMBER_PATTERN}")
_UNIT = re.compile(rf"\s*{UNIT_PATTERN}")
_NO_DIGIT_FIRST = re.compile(rf"{_BEFORE}[-+]?[.,][0-9]+")
_GROUPED = re.compile(rf"{_BEFORE}-?[0-9]{{1,3}}(?:[\s'’_][0-9]{{3}})+(?![\w.,])")
_WORD = re.compile(r"\s*([^\s;]+)")
_EXPONENT = re.compile(
    rf"{_BEFORE}([-+]?[0-9]{{1,9}}(?:[.,][0-9]{{1,9}})?)e([-+]?[0-9]{{1,2}})(?![\d.,])"
)
_FRACTION = re.compile(rf"{_BEFORE}-?(?:[0-9]{{1,9}}\s+)?[0-9]{{1,9}}[/\u2044][0-9]{{1,9}}(?!\d)")
_VULGAR = re.compile(r"(-?)([0-9]*)([\u00bc-\u00be\u2150-\u215e])")
_PLUS = re.compile(rf"{_BEFORE}\+([0-9][0-9.,]*)")
_ANY_DIGITS = re.compile(rf"{_BEFORE}[-+]?\d[\d.,]*")
_ONE_MARK = re.compile(r"-?(?:0[.,][0-9]{3}|[0-9]{1,9}(?:[.,](?![0-9]{3}$)[0-9]{1,9})?)")
_AS_IF_GROUPED = re.compile(r"-?(?!0[.])[0-9]{1,3}[.][0-9]{3}")
_EXACT = Context(prec=24, traps=[Inexact])

_PREFIXES = {"G": 9, "M": 6, "k": 3, "h": 2, "da": 1, "": 0, "d": -1, "c": -2, "m": -3, "n": -9}
_PREFIXES |= {"u": -6, "\u03bc": -6}
_PREFIXED = {
    "m": (Kind.LENGTH, 3),
    "N": (Kind.FORCE, 0),
    "Nm": (Kind.TORQUE, 0),
    "Pa": (Kind.PRESSURE, -5),
    "bar": (Kind.PRESSURE, 0),
    "Hz": (Kind.FREQUENCY, 0),
}

# Real units that the language does not take: what they measure, and their size in the first unit
# of their kind where a value can be told in it exactly. A near spelling of one is another size.
_OTHER_SIZES: Mapping[str, tuple[Kind, Decimal | None]] = {
    **{
        prefix + base: (kind, Decimal(1).scaleb(ten + power))
        for base, (kind, ten) in _PREFIXED.items()
        for prefix, power in _PREFIXES.items()
    },
    "Nmm": (Kind.TORQUE, Decimal("0.001")),
    "lbfft": (Kind.TORQUE, None),
    "ftlbf": (Kind.TORQUE, None),
    "ft": (Kind.LENGTH, Decimal("304.8")),
    "gf": (Kind.FORCE, None),
    "lbf": (Kind.FORCE, None),
    "atm": (Kind.PRESSURE, None),
    "mmHg": (Kind.PRESSURE, None),
    "gon": (Kind.ANGLE, Decimal("0.9")),
    "rad": (Kind.ANGLE, None),
    "K": (Kind.TEMPERATURE, None),
    "F": (Kind.TEMPERATURE, None),
    "degF": (Kind.TEMPERATURE, None),
    "\u00b0F": (Kind.TEMPERATURE, None),
    "s": (Kind.TIME, None),
    "m/s": (Kind.SPEED, Decimal(60)),
    "\u2030": (Kind.SHARE, Decimal("0.1")),
    "ppm": (Kind.SHARE, Decimal("0.0001")),
}

# Names that are no near spelling of the unit that they mean.
_NAMES: Mapping[str, str] = {
    "inch": "in",
    "inches": "in",
    '"': "in",
    "newton": "N",
    "hertz": "Hz",
    "degree": "deg",
    "degrees": "deg",
    "hour": "h",
    "hours": "h",
    "minutes": "min",
    "percent": "%",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a number is to tell: its unit ("" where several may be meant), and of what.

    ``help`` says what to write where no one unit can be named.
    """

    unit: str
    what: str
    help: str = ""

    @property
    def kinds(self) -> tuple[Kind, ...]:
        """What a unit may measure here; a use is told in hours or picks."""
        if not self.unit:
            return ()
        kind = UNITS[self.unit].kind
        return (kind, Kind.PICKS) if kind is Kind.TIME else (kind,)


def number_fault(
    line: Line, stretch: tuple[int, int], wanted: Wanted, closing: frozenset[str]
) -> Diagnostic | None:
    """Why a stretch of the folded line holds no number with its unit, or None where it does.

    ``closing`` are the words that may follow a number with its unit.
    """
    text = line.folded.text
    grouped = _GROUPED.search(text, *stretch)
    if grouped is not None:
        written = line.folded.cut(*grouped.span())
        return line.complaint(
            Code.NOT_UNDERSTOOD,
            "numbers are written without blanks or grouping marks",
            line.at(*grouped.span()),
            help=f"write {re.sub('[^0-9-]', '', written)}",
        )
    if AMOUNT.search(text, *stretch):
        return None
    odd = _odd_form(line, stretch)
    if odd is not None:
        span, message, value = odd
        help = f"write {value}{_unit_behind(line, (span[1], stretch[1]), wanted.unit)}"
        if value is None:
            help = "write it as one decimal number, like 2.35"
        return line.complaint(Code.NOT_UNDERSTOOD, message, line.at(*span), help=help)
    begun = _NO_DIGIT_FIRST.search(text, *stretch)
    numbers = list(_NUMBER.finditer(text, *stretch))
    if begun is not None and not numbers:
        return line.complaint(
            Code.NOT_UNDERSTOOD,
            "a number begins with a digit",
            line.at(*begun.span()),
            help=f"write 0{begun[0].lstrip('+-')}",
        )
    if not numbers:
        return None
    number = numbers[-1]
    written = line.folded.cut(*number.span())
    example = f"write {written} {wanted.unit}" if wanted.unit else wanted.help
    rest = _WORD.match(text, number.end(), stretch[1])
    if rest is None or rest[1].rstrip(".,:") in closing:
        message = f"{written} stands without its unit"
        return line.complaint(Code.UNIT_MISSING, message, line.at(*number.span()), help=example)
    return _no_unit(line, written, rest, wanted)


def _odd_form(
    line: Line, stretch: tuple[int, int]
) -> tuple[tuple[int, int], str, str | None] | None:
    """A number in a form that is not taken: where, what is odd, and the same number plainly."""
    text = line.folded.text
    if found := _EXPONENT.search(text, *stretch):
        value = _plainly(Decimal(found[1].replace(",", ".")).scaleb(int(found[2])))
        return found.span(), "a number is written without an exponent", value
    if found := _FRACTION.search(text, *stretch):
        plain = _fraction(line.folded.cut(*found.span()))
        return found.span(), "a number is written without a fraction", plain
    if found := _PLUS.search(text, *stretch):
        return found.span(), "a number is written without a plus", found[1]
    for found in _ANY_DIGITS.finditer(text, *stretch):
        if not found[0].isascii():
            own = "".join(c if not c.isdecimal() else str(int(c)) for c in found[0].lstrip("+"))
            return found.span(), "a number is written with the digits 0 to 9", own
    return None


def _fraction(written: str) -> str | None:
    """A fraction as a decimal number; None where it is none, or might be two numbers."""
    sign, whole, parts = "", "", written
    if vulgar := _VULGAR.fullmatch(written):
        sign, whole, parts = vulgar[1], vulgar[2], unicodedata.normalize("NFKC", vulgar[3])
    above, _, below = parts.replace("\u2044", "/").partition("/")
    if not (above.isdecimal() and below.isdecimal() and int(below)):
        return None
    try:
        value = _EXACT.add(Decimal(whole or 0), _EXACT.divide(Decimal(above), Decimal(below)))
    except Inexact:
        return None
    return sign + _plainly(value)


def _unit_behind(line: Line, rest: tuple[int, int], unit: str) -> str:
    """The unit that stands behind a number, or the one that is missing there."""
    if found := _UNIT.match(line.folded.text, *rest):
        return f" {line.folded.cut(*found.span())}"
    return f" {unit}" if unit and not _WORD.match(line.folded.text, *rest) else ""


def _no_unit(line: Line, number: str, rest: re.Match[str], wanted: Wanted) -> Diagnostic:
    """What stands behind a number is no unit of the language."""
    written = line.folded.cut(*rest.span(1))
    symbol = rest[1].rstrip(".,:")
    where = line.at(*rest.span(1))
    unit = wanted.unit
    kind, size, is_so_written = _other_size(written.rstrip(".,:"))
    help = f"write a unit like {unit}" if unit else wanted.help
    if kind in wanted.kinds:
        help = f"write {_in_unit(number, size, unit) or 'it in'} {unit}"
    elif unit and kind is not None and is_so_written:
        units = "h or picks" if UNITS[unit].kind is Kind.TIME else unit
        message = f"{written} measures {kind.value}, and {wanted.what} is written in {units}"
        help = f"write a unit of {UNITS[unit].kind.value} like {unit}"
        return line.complaint(Code.WRONG_UNIT, message, where, help=help)
    elif unit and not (kind is not None and is_so_written) and (near := _near_unit(symbol, wanted)):
        help = f"did you mean {near}?"
    message = f"{written} is no unit of the language"
    return line.complaint(Code.UNIT_MISSING, message, where, help=help)


def _near_unit(symbol: str, wanted: Wanted) -> str | None:
    """A unit of the right kind that is spelt nearly so, or called so.

    Of several equally near the one that the register measures in is meant.
    """
    kinds = wanted.kinds
    named = _NAMES.get(symbol)
    if named is not None and UNITS[named].kind in kinds:
        return named
    found = ((spelling, unit_of(spelling.lower())) for spelling in ALL_UNITS)
    of_kind = {spelling: unit for spelling, unit in found if unit and unit.kind in kinds}
    near = each_nearest(symbol, of_kind)
    if wanted.unit in near:
        return wanted.unit
    return near[0] if len(near) == 1 else None


def _other_size(written: str) -> tuple[Kind | None, Decimal | None, bool]:
    """What a unit that is not taken measures, its size, and whether it is written just so.

    Where capitals alone tell two sizes apart, and these are not written so, no size is told.
    """
    symbol = re.sub("[.\u00b7\u22c5*]", "", unicodedata.normalize("NFKC", written))
    if symbol in _OTHER_SIZES:
        return (*_OTHER_SIZES[symbol], True)
    alike = {size for s, size in _OTHER_SIZES.items() if s.casefold() == symbol.casefold()}
    kinds = {kind for kind, _ in alike}
    if len(kinds) != 1:
        return None, None, False
    return kinds.pop(), alike.pop()[1] if len(alike) == 1 else None, False


def _in_unit(number: str, size: Decimal | None, unit: str) -> str | None:
    """A written number of another size in a unit of the language, or None where it is not exact."""
    number = number.replace("\u2212", "-")
    if size is None or not _ONE_MARK.fullmatch(number):
        return None
    try:
        ratio = _EXACT.divide(size, Decimal(str(UNITS[unit].factor)))
        return _plainly(_EXACT.multiply(Decimal(number.replace(",", ".")), ratio.normalize()))
    except Inexact:
        return None


def _plainly(value: Decimal) -> str:
    """A number as a log takes it: no exponent, and no mark that could be a thousands mark."""
    text = f"{value:f}"
    if not _AS_IF_GROUPED.fullmatch(text):
        return text
    return text.rstrip("0").rstrip(".") if text.endswith("0") else f"{text}0"
