"""The kinds of clause that a line of a log can hold.

Values only: how a line is read stands in ``reader`` and ``transform``, what it does to a loom in
``board.state``. Every clause can be written back as text with ``as_text``.
"""

from __future__ import annotations

from dataclasses import field

from grammar.frozen import dataclass
from grammar.values import (
    ActionName,
    Amount,
    ByTime,
    Due,
    PartAt,
    Reason,
    Seal,
    Span,
    Verb,
    WhyReplaced,
)


def _clause_span() -> Span:
    return Span(0, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spanned:
    span: Span = field(default_factory=_clause_span, compare=False, repr=False)

    def as_text(self) -> str:
        """The clause as a line would hold it."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True, kw_only=True)
class Stopped(_Spanned):
    """``stopped [for REASON]``."""

    reason: Reason | None = None

    def as_text(self) -> str:
        return f"stopped for {self.reason.value}" if self.reason else "stopped"


@dataclass(frozen=True, slots=True, kw_only=True)
class Running(_Spanned):
    """``running [TEXT]``."""

    text: str = ""

    def as_text(self) -> str:
        return _joined("running", self.text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Isolated(_Spanned):
    """``isolated by WHO [TEXT]``: a lock on record."""

    by: str
    text: str = ""

    def as_text(self) -> str:
        return _joined(f"isolated by {self.by}", self.text)


@dataclass(frozen=True, slots=True, kw_only=True)
class LockSeen(_Spanned):
    """``lock seen by WHO``: a look, no proof of isolation."""

    by: str

    def as_text(self) -> str:
        return f"lock seen by {self.by}"


@dataclass(frozen=True, slots=True, kw_only=True)
class LockRemoved(_Spanned):
    """``lock removed by WHO [for WHO]``: ends the lock of ``owner``."""

    by: str
    owner: str

    def as_text(self) -> str:
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
        return f"fault {self.text}"


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultCleared(_Spanned):
    """``fault cleared [TEXT]``, or ``fault cleared all``."""

    text: str = ""
    at: PartAt | None = None
    side: str | None = None
    every: bool = False

    def as_text(self) -> str:
        return _joined("fault cleared", self.text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured(_Spanned):
    """A reading: ``[SIDE] PART [N] [QUANTITY] NUMBER UNIT``."""

    at: PartAt
    quantity: str
    amount: Amount

    def as_text(self) -> str:
        return f"{self.at.words()} {self.quantity} {self.amount.written}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauged(_Spanned):
    """What a step gauge did: ``... gauge NUMBER UNIT enters`` or ``stays out``."""

    at: PartAt
    quantity: str
    amount: Amount
    enters: bool

    def as_text(self) -> str:
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
        return _joined(f"{self.verb.value} {self.at.words()}", self.text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved(_Spanned):
    """``moved PART from LOOM``: the part comes from another loom with its life."""

    at: PartAt
    origin: str

    def as_text(self) -> str:
        return f"moved {self.at.words()} from {self.origin}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Torqued(_Spanned):
    """``torque [TEXT] NUMBER UNIT``, the torque in N.m."""

    amount: Amount
    text: str = ""

    def as_text(self) -> str:
        return f"{_joined('torque', self.text)} {self.amount.written}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ThreadLocked(_Spanned):
    """``thread-locked``: the proof word."""

    def as_text(self) -> str:
        return "thread-locked"


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked(_Spanned):
    """``checked TEXT ok/bad``."""

    text: str
    good: bool

    def as_text(self) -> str:
        return f"checked {self.text} {'ok' if self.good else 'bad'}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch(_Spanned):
    """``batch WORD``: the delivery that a new part came from."""

    word: str

    def as_text(self) -> str:
        return f"batch {self.word}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Counter(_Spanned):
    """``counter NUMBER h/picks [new]``: the loom's own meter, in [h] or [picks]."""

    amount: Amount
    new_meter: bool = False

    def as_text(self) -> str:
        return _joined(f"counter {self.amount.written}", "new" if self.new_meter else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class StyleSet(_Spanned):
    """``style WORD``: the style woven from here on."""

    word: str

    def as_text(self) -> str:
        return f"style {self.word}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened(_Spanned):
    """``open [no N] TEXT [; due WHEN] [; for WHO]``: an action opens."""

    text: str
    number: int | None = None
    due: Due | None = None
    whom: str | None = None

    def as_text(self) -> str:
        number = f" no {self.number}" if self.number is not None else ""
        due = f"; due {self.due.written}" if self.due else ""
        whom = f"; for {self.whom}" if self.whom else ""
        return f"open{number} {self.text}{due}{whom}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Done(_Spanned):
    """``done no N [TEXT]`` or ``done TIME [TEXT]``."""

    name: ActionName
    text: str = ""

    def as_text(self) -> str:
        return _joined(f"done {self.name.written}", self.text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dropped(_Spanned):
    """``dropped no N TEXT``: closed undone, with its reason."""

    name: ActionName
    text: str

    def as_text(self) -> str:
        return f"dropped {self.name.written} {self.text}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Note(_Spanned):
    """``note TEXT``: kept, searchable."""

    text: str

    def as_text(self) -> str:
        return f"note {self.text}"


@dataclass(frozen=True, slots=True, kw_only=True)
class HandedOver(_Spanned):
    """``handed over WHO to WHO``: the outgoing lead's word."""

    by: str
    to: str

    def as_text(self) -> str:
        return f"handed over {self.by} to {self.to}"


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenOver(_Spanned):
    """``taken over by WHO``, sealed or not: the incoming lead's word."""

    by: str
    seal: Seal | None = None

    def as_text(self) -> str:
        seal = f"; sealed {self.seal.lines} {self.seal.digest}" if self.seal else ""
        return f"taken over by {self.by}{seal}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Struck(_Spanned):
    """``struck TIME TEXT``: this loom's entry at that time no longer counts."""

    name: ByTime
    text: str

    def as_text(self) -> str:
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


def _joined(head: str, text: str) -> str:
    return f"{head} {text}" if text else head
