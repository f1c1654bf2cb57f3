"""What a mill's register says: looms, shifts, parts with their limits, proofs and rules.

Values only. ``board.record.register`` reads them from ``shed.toml`` and refuses what cannot be;
everything else takes them as given. No limit is built in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from datetime import date, timedelta
from enum import Enum
from functools import cached_property
from zoneinfo import ZoneInfo

from grammar.frozen import dataclass
from grammar.vocabulary import ShiftTimes, Vocabulary


class Worse(Enum):
    """Which way a quantity wears."""

    FALLING = "replace_below"
    RISING = "replace_above"
    EITHER = "band"
    NO_LIMIT = "no limit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The limits of a quantity in its unit: ``low`` to replace below, ``high`` above.

    Raises ValueError where a band has its upper end not above its lower.
    """

    low: float | None = None
    high: float | None = None

    def __post_init__(self) -> None:
        if self.low is not None and self.high is not None and not self.low < self.high:
            raise ValueError(f"a band needs its lower end under its upper, not {self}")

    @classmethod
    def band(cls, low: float, high: float) -> Limits:
        """Limits on both sides: replace below ``low`` and above ``high``."""
        return cls(low=low, high=high)

    @property
    def worse(self) -> Worse:
        """Which way a reading goes bad."""
        if self.low is not None and self.high is not None:
            return Worse.EITHER
        if self.low is not None:
            return Worse.FALLING
        return Worse.RISING if self.high is not None else Worse.NO_LIMIT


class Every(Enum):
    """What an interval counts."""

    HOURS = "h"  # running hours of the loom
    PICKS = "picks"  # picks of the loom
    SHIFTS = "shifts"
    DAYS = "days"


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """A stretch of use or of time, as the register writes it: ``500 h``, ``3 shifts``."""

    amount: float
    unit: Every

    def __str__(self) -> str:
        return f"{self.amount:g} {self.unit.value}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A measured quantity of a part: unit, limits, tool and how often it is checked."""

    name: str
    unit: str
    new: float | None = None  # typical reading of a new part [unit]
    limits: Limits = field(default_factory=Limits)
    tool_uncertainty: float | None = None  # expanded, k = 2 [unit]
    plausible: tuple[float, float] | None = None
    check_every: Interval | None = None
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """A tolerance: a share of the value (``6 %``) or an absolute amount in the value's unit."""

    share: float | None = None
    absolute: float | None = None

    def around(self, value: float) -> float:
        """Half the width of the tolerance around a value, in the value's unit."""
        return abs(value) * self.share if self.share is not None else (self.absolute or 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class TorqueProof:
    """The torque asked for after a part is replaced, in ``unit``."""

    value: float
    unit: str
    tolerance: Tolerance
    tool_tolerance: Tolerance | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class After:
    """What is asked for after a part is replaced.

    ``needs`` holds the proofs as a line writes them: ``thread-locked``, ``checked joint``.
    ``recheck`` is the due of an action that opens by itself, as a line writes it: ``in 24 h``.
    """

    torque: TorqueProof | None = None
    needs: tuple[str, ...] = ()
    recheck: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of a loom as the register describes it."""

    name: str
    sides: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    quantities: tuple[Quantity, ...] = ()
    after: After = field(default_factory=After)
    caution: str = ""

    def quantity(self, name: str) -> Quantity | None:
        """The quantity of that name, or None."""
        for quantity in self.quantities:
            if quantity.name == name:
                return quantity
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A row of the shed: its looms in walking order, their speed [picks/min], the giver's side."""

    name: str
    looms: tuple[str, ...]
    speed: float | None = None
    giver: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """Required time: the weekdays (0 is Monday) and the closed dates. All days: always."""

    days: frozenset[int] = frozenset(range(7))
    closed: frozenset[date] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """The rules of reckoning that a mill may set."""

    guard_band: float = 1.0
    near_limit: float = 0.20  # share of the life new-to-limit, where no forecast
    repeat_hours: float = 200.0  # running hours of the loom
    repeat_days: timedelta = timedelta(days=14)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """Spares of a part: pieces on the shelf and the time a new delivery takes."""

    stock: int
    lead_time: timedelta


@dataclass(frozen=True, kw_only=True)
class Mill:
    """Everything a register says, and the vocabulary that its logs are read with."""

    name: str
    zone: ZoneInfo
    shifts: tuple[ShiftTimes, ...]
    sections: tuple[Section, ...]
    vocabulary: Vocabulary
    parts: tuple[Part, ...] = ()
    rules: Rules = field(default_factory=Rules)
    calendar: Calendar = field(default_factory=Calendar)
    spares: Mapping[str, Stock] = field(default_factory=dict)
    style_speeds: Mapping[str, float] = field(default_factory=dict)  # [picks/min]
    digest: str = field(default="", compare=False)  # of the register as it is written

    @cached_property
    def looms(self) -> tuple[str, ...]:
        """Every loom, in walking order."""
        return tuple(loom for section in self.sections for loom in section.looms)

    @cached_property
    def section_of(self) -> Mapping[str, Section]:
        """The section of each loom."""
        return {loom: section for section in self.sections for loom in section.looms}

    @cached_property
    def part(self) -> Mapping[str, Part]:
        """Parts by name."""
        return {part.name: part for part in self.parts}

    def quantity(self, part: str, name: str) -> Quantity | None:
        """A quantity of a part, or None."""
        found = self.part.get(part)
        return found.quantity(name) if found else None
