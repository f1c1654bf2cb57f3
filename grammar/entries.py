"""The kinds of clause and entry that a line of a log can hold.

Values only: how a line is read stands in ``reader`` and ``transform``, what it does to a loom in
``board.state``. Every clause can be written back as text with ``as_text``; an entry with
``as_line``, which reads again as the same entry.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import Enum


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


def _clause_span() -> Span:
    return Span(0, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spanned:
    span: Span = field(default_factory=_clause_span, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stopped(_Spanned):
    """``stopped [for REASON]``."""

    reason: Reason | None = None

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return f"stopped for {self.reason.value}" if self.reason else "stopped"


@dataclass(frozen=True, slots=True, kw_only=True)
class Running(_Spanned):
    """``running [TEXT]``."""

    text: str = ""

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return _joined("running", self.text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Isolated(_Spanned):
    """``isolated by WHO [TEXT]``: a lock on record."""

    by: str
    text: str = ""

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return _joined(f"isolated by {self.by}", self.text)


@dataclass(frozen=True, slots=True, kw_only=True)
class LockSeen(_Spanned):
    """``lock seen by WHO``: a look, no proof of isolation."""

    by: str

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return f"lock seen by {self.by}"


@dataclass(frozen=True, slots=True, kw_only=True)
class LockRemoved(_Spanned):
    """``lock removed by WHO [for WHO]``: ends the lock of ``owner``."""

    by: str
    owner: str

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        other = f" for {self.owner}" if self.owner != self.by else ""
        return f"lock removed by {self.by}{other}"


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultOpened(_Spanned):
    """``fault TEXT``; side, part and symptom found in the text by the register's words."""

    text: str
    at: PartAt | None = None
    side: str | None = None
    symptom: str = ""

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return f"fault {self.text}"


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultCleared(_Spanned):
    """``fault cleared [TEXT]``, or ``fault cleared all``."""

    text: str = ""
    at: PartAt | None = None
    side: str | None = None
    every: bool = False

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return _joined("fault cleared", self.text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured(_Spanned):
    """A reading: ``[SIDE] PART [N] [QUANTITY] NUMBER UNIT``."""

    at: PartAt
    quantity: str
    amount: Amount

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return f"{self.at.words()} {self.quantity} {self.amount.written}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauged(_Spanned):
    """What a step gauge did: ``... gauge NUMBER UNIT enters`` or ``stays out``."""

    at: PartAt
    quantity: str
    amount: Amount
    enters: bool

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        did = "enters" if self.enters else "stays out"
        return f"{self.at.words()} {self.quantity} gauge {self.amount.written} {did}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked(_Spanned):
    """``VERB [SIDE] PART [N] [TEXT]``."""

    verb: Verb
    at: PartAt
    text: str = ""
    why: WhyReplaced | None = None

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return _joined(f"{self.verb.value} {self.at.words()}", self.text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved(_Spanned):
    """``moved PART from LOOM``: the part comes from another loom with its life."""

    at: PartAt
    origin: str

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return f"moved {self.at.words()} from {self.origin}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Torqued(_Spanned):
    """``torque [TEXT] NUMBER UNIT``, the torque in N.m."""

    amount: Amount
    text: str = ""

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return f"{_joined('torque', self.text)} {self.amount.written}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ThreadLocked(_Spanned):
    """``thread-locked``: the proof word."""

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return "thread-locked"


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked(_Spanned):
    """``checked TEXT ok/bad``."""

    text: str
    good: bool

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return f"checked {self.text} {'ok' if self.good else 'bad'}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch(_Spanned):
    """``batch WORD``: the delivery that a new part came from."""

    word: str

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return f"batch {self.word}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Counter(_Spanned):
    """``counter NUMBER h/picks [new]``: the loom's own meter, in [h] or [picks]."""

    amount: Amount
    new_meter: bool = False

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return _joined(f"counter {self.amount.written}", "new" if self.new_meter else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class StyleSet(_Spanned):
    """``style WORD``: the style woven from here on."""

    word: str

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return f"style {self.word}"


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
class Opened(_Spanned):
    """``open [no N] TEXT [; due WHEN] [; for WHO]``: an action opens."""

    text: str
    number: int | None = None
    due: Due | None = None
    whom: str | None = None

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        number = f" no {self.number}" if self.number is not None else ""
        due = f"; due {self.due.written}" if self.due else ""
        whom = f"; for {self.whom}" if self.whom else ""
        return f"open{number} {self.text}{due}{whom}"


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
class Done(_Spanned):
    """``done no N [TEXT]`` or ``done TIME [TEXT]``."""

    name: ActionName
    text: str = ""

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return _joined(f"done {self.name.written}", self.text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dropped(_Spanned):
    """``dropped no N TEXT``: closed undone, with its reason."""

    name: ActionName
    text: str

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return f"dropped {self.name.written} {self.text}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Note(_Spanned):
    """``note TEXT``: kept, searchable."""

    text: str

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return f"note {self.text}"


@dataclass(frozen=True, slots=True, kw_only=True)
class HandedOver(_Spanned):
    """``handed over WHO to WHO``: the outgoing lead's word."""

    by: str
    to: str

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return f"handed over {self.by} to {self.to}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Seal:
    """How many lines the shift given over had, and the start of their hash."""

    lines: int
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenOver(_Spanned):
    """``taken over by WHO``, sealed or not: the incoming lead's word."""

    by: str
    seal: Seal | None = None

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        seal = f"; sealed {self.seal.lines} {self.seal.digest}" if self.seal else ""
        return f"taken over by {self.by}{seal}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Struck(_Spanned):
    """``struck TIME TEXT``: this loom's entry at that time no longer counts."""

    name: ByTime
    text: str

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        return f"struck {self.name.written} {self.text}"


Clause = (
    Stopped
    | Running
    | Isolated
    | LockSeen
    | LockRemoved
    | FaultOpened
    | FaultCleared
    | Measured
    | Gauged
    | Worked
    | Moved
    | Torqued
    | ThreadLocked
    | Checked
    | Batch
    | Counter
    | StyleSet
    | Opened
    | Done
    | Dropped
    | Note
    | HandedOver
    | TakenOver
    | Struck
)

KINDS: Mapping[type, str] = {
    Stopped: "stopped",
    Running: "running",
    Isolated: "isolated",
    LockSeen: "lock-seen",
    LockRemoved: "lock-removed",
    FaultOpened: "fault",
    FaultCleared: "fault-cleared",
    Measured: "reading",
    Gauged: "gauge",
    Worked: "work",
    Moved: "moved",
    Torqued: "torque",
    ThreadLocked: "thread-locked",
    Checked: "checked",
    Batch: "batch",
    Counter: "counter",
    StyleSet: "style",
    Opened: "open",
    Done: "done",
    Dropped: "dropped",
    Note: "note",
    HandedOver: "handed-over",
    TakenOver: "taken-over",
    Struck: "struck",
}


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of a log, read.

    ``when`` and ``latest`` are UTC; ``latest`` is later than ``when`` only where a clock change
    repeats the hour and the line does not tell which pass it means.
    """

    when: datetime
    latest: datetime
    place: Place
    clauses: tuple[Clause, ...]
    by: str | None = None
    shift: Shift | None = None
    own_writer: bool = False
    standing: Standing = Standing.WHOLE
    stamp: str = field(default="", compare=False)
    line: int = field(default=0, compare=False)
    text: str = field(default="", compare=False)

    def as_line(self) -> str:
        """The entry in its plainest words; reads again as an equal entry."""
        parts = [clause.as_text() for clause in self.clauses]
        if self.own_writer and self.by:
            parts.insert(0, f"by {self.by}")
        return f"{self.stamp} {self.place.name} {'; '.join(parts)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """``day DATE SHIFT [by WHO]``: what holds for the entries below it."""

    shift: Shift
    by: str | None = None
    line: int = field(default=0, compare=False)


def _joined(head: str, text: str) -> str:
    return f"{head} {text}" if text else head
