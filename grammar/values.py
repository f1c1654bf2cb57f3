"""What the clauses of a line are made of: places, parts, amounts, times and closed lists of words.

Values only; the kinds of clause stand in ``clauses``, a whole line in ``entries``.
"""

from __future__ import annotations

from datetime import date, datetime
from enum import Enum

from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of a line: characters ``start`` to ``end`` (0-based, end excluded)."""

    start: int
    end: int


class Reason(Enum):
    """Why a loom was stopped."""

    FAULT = "fault"
    WARP = "warp"
    WEFT = "weft"
    STYLE = "style"
    ORDER = "order"
    CHECK = "check"
    PART = "part"
    POWER = "power"
    LAID_UP = "laid-up"
    OTHER = "other"


class Verb(Enum):
    """What was done to a part."""

    REPLACED = "replaced"
    ADJUSTED = "adjusted"
    REPAIRED = "repaired"
    CLEANED = "cleaned"
    GREASED = "greased"
    TIGHTENED = "tightened"


class WhyReplaced(Enum):
    """The reason that a replacement itself gives."""

    WORN = "worn"
    BROKEN = "broken"
    EARLY = "early"


class PlaceKind(Enum):
    """What an entry speaks of."""

    LOOM = "loom"
    RANGE = "range"
    SECTION = "section"
    SHED = "shed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """The loom, section, range of looms or shed that an entry speaks of."""

    kind: PlaceKind
    name: str
    looms: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """A number with its unit: as written, and as a value in the unit it is reckoned in."""

    value: float
    unit: str
    written: str
    implausible: str = ""  # the plausible range in words, when the value lies outside it

    @property
    def plausible(self) -> bool:
        """Whether the value lies inside the register's plausible range, or none is given."""
        return not self.implausible


@dataclass(frozen=True, slots=True, kw_only=True)
class PartAt:
    """A part of a loom: its name, its side if it has sides, its number if there are several."""

    part: str
    side: str | None = None
    number: int | None = None

    def words(self) -> str:
        """The part as it is spoken of: ``left tape``, ``guide 3``."""
        side = f"{self.side} " if self.side else ""
        number = f" {self.number}" if self.number is not None else ""
        return f"{side}{self.part}{number}"


@dataclass(frozen=True, slots=True, kw_only=True)
class DueAt:
    """Due at a moment."""

    moment: datetime  # UTC
    written: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DueBeforeStart:
    """Due before the loom runs again."""

    written: str = "before start"


@dataclass(frozen=True, slots=True, kw_only=True)
class DueAfterUse:
    """Due after so much use of this loom, in [h] or [picks]."""

    use: float
    unit: str
    written: str


Due = DueAt | DueBeforeStart | DueAfterUse


@dataclass(frozen=True, slots=True, kw_only=True)
class ByNumber:
    """An action named by its number in the shed."""

    number: int
    written: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ByTime:
    """An entry or action named by its loom and time."""

    moment: datetime  # UTC
    written: str


ActionName = ByNumber | ByTime


@dataclass(frozen=True, slots=True, kw_only=True)
class Seal:
    """How many lines the shift given over had, and the start of their hash."""

    lines: int
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """One shift of one day, named by the day it began on."""

    day: date
    name: str


class Standing(Enum):
    """How far a line counts."""

    WHOLE = "whole"
    ISOLATIONS_ONLY = "isolations only"  # the rest of the line was refused
    UNFINISHED = "unfinished"  # its newline has not come: only an isolation counts yet
