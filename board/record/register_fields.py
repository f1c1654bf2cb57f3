"""Tables of the register read field by field, each refusal naming its line and key.

Knows types, names, numbers and durations; what a table means is left to ``register``,
``register_parts`` and ``register_words``.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, time

from board.mill import Every, Interval
from board.record.toml_lines import KeyPath, key_lines
from grammar.folding import fold_word
from grammar.frozen import dataclass
from grammar.nearest import did_you_mean
from grammar.units import UNITS, NumberFault, read_number

MOST = 1e12  # no amount of a register is larger

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_DURATION = re.compile(r"([0-9][0-9.,]*)\s*([^\W\d_]+|%)")
_EVERY: Mapping[str, Every] = {
    "h": Every.HOURS,
    "picks": Every.PICKS,
    "shift": Every.SHIFTS,
    "shifts": Every.SHIFTS,
    "day": Every.DAYS,
    "days": Every.DAYS,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterFault:
    """Why a register is refused: its line (0: no one line), its key and a plain sentence."""

    line: int
    key: str
    message: str
    path: str = "shed.toml"

    @property
    def sentence(self) -> str:
        """The whole complaint: ``shed.toml line 14, part.tape.thickness.new: ...``."""
        line = f" line {self.line}" if self.line else ""
        key = f", {self.key}" if self.key else ""
        return f"{self.path}{line}{key}: {self.message}"


class Refused(Exception):
    """Carries a fault out of the reading of a register; never leaves ``read_register``."""

    def __init__(self, fault: RegisterFault) -> None:
        super().__init__(fault.message)
        self.fault = fault


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """The register being read: its name and its text."""

    path: str
    text: str

    def line(self, path: KeyPath) -> int:
        """The line of a key. Costs a scan of the text, and is asked for a fault only."""
        return key_lines(self.text).line(path)

    def refuse(self, path: KeyPath, message: str) -> Refused:
        """A fault at a key."""
        return Refused(
            RegisterFault(
                line=self.line(path),
                key=dotted(path),
                message=message,
                path=self.path,
            )
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table of the register with the way to it."""

    source: Source
    path: KeyPath
    values: Mapping[str, object]

    def __contains__(self, key: str) -> bool:
        return key in self.values

    def at(self, key: str | int) -> KeyPath:
        """The way to a key of this table."""
        return (*self.path, key)

    def refuse(self, key: str, message: str) -> Refused:
        """A fault at one of the table's keys."""
        return self.source.refuse(self.at(key), message)

    def refuse_element(self, key: str, index: int, message: str) -> Refused:
        """A fault at an element of a list."""
        return self.source.refuse((*self.path, key, index), message)

    def only(self, *known: str) -> None:
        """Refuses every key but the known ones."""
        for key in self.values:
            if key not in known:
                raise self.unknown(key, known)

    def unknown(self, key: str, known: Iterable[str]) -> Refused:
        """The fault of a key that is not known, with the nearest that is."""
        known = tuple(known)
        hint = did_you_mean(key, known) or f"known here: {', '.join(known)}"
        return self.refuse(key, f"no such key; {hint}")

    def missing(self, key: str, message: str) -> Refused:
        """The fault of a key that is needed and not there."""
        return self.refuse(key, f"is missing; {message}")

    def table(self, key: str) -> Table:
        """A table inside this one; an empty one where it is left out."""
        value = self.values.get(key, {})
        if not isinstance(value, dict):
            raise self.refuse(key, f"expected a table, not {kind_of(value)}")
        return Table(source=self.source, path=self.at(key), values=value)

    def tables(self) -> Iterator[tuple[str, Table]]:
        """All tables inside this one by name; anything else in it is refused."""
        for key in self.values:
            yield key, self.table(key)

    def text(self, key: str) -> str | None:
        """A text, white space at its ends cut off, or None where it is left out."""
        if key not in self.values:
            return None
        return self._text(self.values[key], self.at(key))

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts; an empty one where it is left out."""
        value = self.values.get(key, [])
        if not isinstance(value, list):
            raise self.refuse(key, f"expected a list in square brackets, not {kind_of(value)}")
        return tuple(self._text(v, (*self.path, key, i)) for i, v in enumerate(value))

    def _text(self, value: object, path: KeyPath) -> str:
        if not isinstance(value, str):
            raise self.source.refuse(path, f"expected text in quotes, not {kind_of(value)}")
        if not value.strip():
            raise self.source.refuse(path, "the text is empty")
        return value.strip()

    def number(self, key: str) -> float | None:
        """A finite number, or None where it is left out."""
        if key not in self.values:
            return None
        return self._number(self.values[key], self.at(key))

    def _number(self, value: object, path: KeyPath) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.source.refuse(path, f"expected a number, not {kind_of(value)}")
        if not math.isfinite(value) or abs(value) > MOST:
            raise self.source.refuse(path, f"{str(value)[:20]} is no number to measure with")
        return float(value)

    def above_zero(self, key: str) -> float | None:
        """A number greater than zero, or None where it is left out."""
        value = self.number(key)
        if value is not None and value <= 0:
            raise self.refuse(key, f"{value:g} is not above zero")
        return value

    def range(self, key: str) -> tuple[float, float] | None:
        """A list of two numbers, the lower first, or None where it is left out."""
        if key not in self.values:
            return None
        value = self.values[key]
        if not isinstance(value, list) or len(value) != 2:
            raise self.refuse(key, "expected two numbers in square brackets, like [1.5, 4.0]")
        low, high = (self._number(v, (*self.path, key, i)) for i, v in enumerate(value))
        if low >= high:
            raise self.refuse(key, f"the lower end {low:g} must lie below the upper end {high:g}")
        return low, high

    def elements(self, key: str, example: str) -> Iterator[tuple[int, object]]:
        """The elements of a list of any kind, with their index."""
        value = self.values.get(key, [])
        if not isinstance(value, list):
            raise self.refuse(key, f"expected a list, like {example}, not {kind_of(value)}")
        yield from enumerate(value)


def kind_of(value: object) -> str:
    """What a TOML value is, in words."""
    match value:
        case bool():
            return str(value).lower()
        case int() | float():
            return f"the number {str(value)[:20]}"
        case str():
            return f'the text "{shortened(value)}"'
        case list():
            return "a list"
        case dict():
            return "a table"
        case datetime() | date() | time():
            return f"the date or time {value}"
        case _:
            return "this"


def shortened(text: str) -> str:
    """A text of the register as a message may quote it: one line, not long."""
    single = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)
    return single if len(single) <= 60 else f"{single[:57]}..."


def dotted(path: KeyPath) -> str:
    """The key as TOML writes it, without the index of an element."""
    return ".".join(_dotted_key(key) for key in path if isinstance(key, str))


def _dotted_key(key: str) -> str:
    return key if _BARE.fullmatch(key) else f'"{shortened(key)}"'


def name_fault(name: str) -> str | None:
    """Why a line of a log could never hold this name or phrase, or None."""
    folded = fold_word(name)
    if not folded:
        return "the name is empty"
    if name != " ".join(name.split()):
        return "the name has white space at an end, or more than one between words"
    if ";" in folded:
        return "a semicolon parts clauses and cannot stand in a name"
    if any(unicodedata.category(c).startswith("C") for c in folded):
        return "the name holds a character that cannot be seen"
    if re.fullmatch(r"[0-9.,:-]+", folded):
        return f"{folded} would read as a number or time"
    return None


def place_fault(name: str) -> str | None:
    """Why a line could never hold this name of a loom, section or style, or None."""
    if re.search(r"\s", name):
        return "the name is of one word, without spaces"
    if re.fullmatch("[0-9]+", name):
        return None
    return name_fault(name)


@dataclass(frozen=True, slots=True)
class Unreadable:
    """Why an amount such as ``500 h`` could not be read."""

    message: str


def read_amount(written: str) -> tuple[float, str] | Unreadable:
    """The number and the folded unit word of ``500 h`` or ``6 %``."""
    folded = fold_word(written)
    match = _DURATION.fullmatch(folded)
    if match is None:
        return Unreadable(f'"{shortened(written)}" is no number with its unit')
    return amount_number(match[1], match[2])


def amount_number(number: str, unit: str) -> tuple[float, str] | Unreadable:
    """A written number with the unit that goes with it."""
    plain = UNITS["%"]  # the factor does not matter: nothing is converted
    value = read_number(number, source=plain, target=plain, plausible=None)
    match value:
        case NumberFault.AMBIGUOUS:
            return Unreadable(f"{number} may be a decimal number or thousands; write it plainly")
        case NumberFault.NO_NUMBER:
            return Unreadable(f"{number} is no number")
        case float() if 0 < value <= MOST:
            return value, unit
        case _:
            return Unreadable(f"{number} is out of range")


def read_interval(written: str) -> Interval | Unreadable:
    """A stretch of use or time: ``500 h``, ``2000000 picks``, ``3 shifts``, ``7 days``."""
    read = read_amount(written)
    if isinstance(read, Unreadable):
        return read
    every = _EVERY.get(read[1])
    if every is None:
        return Unreadable(f'"{shortened(written)}" is not in h, picks, shifts or days')
    return Interval(amount=read[0], unit=every)
