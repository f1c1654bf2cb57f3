"""A line of a log, read: an entry with its clauses, or a heading.

The one place to import the kinds of clause and their values from. How a line is read stands in
``reader`` and ``transform``, what it does to a loom in ``board.state``. An entry can be written
back with ``as_line``, which reads again as the same entry.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from datetime import datetime

from grammar.clauses import (
    Batch,
    Checked,
    Clause,
    Counter,
    Done,
    Dropped,
    FaultCleared,
    FaultOpened,
    Gauged,
    HandedOver,
    Isolated,
    LockRemoved,
    LockSeen,
    Measured,
    Moved,
    Note,
    Opened,
    Running,
    Stopped,
    Struck,
    StyleSet,
    TakenOver,
    ThreadLocked,
    Torqued,
    Worked,
)
from grammar.frozen import dataclass
from grammar.values import (
    ActionName,
    Amount,
    ByNumber,
    ByTime,
    Due,
    DueAfterUse,
    DueAt,
    DueBeforeStart,
    PartAt,
    Place,
    PlaceKind,
    Reason,
    Seal,
    Shift,
    Span,
    Standing,
    Verb,
    WhyReplaced,
)

__all__ = [
    "KINDS",
    "ActionName",
    "Amount",
    "Batch",
    "ByNumber",
    "ByTime",
    "Checked",
    "Clause",
    "Counter",
    "Done",
    "Dropped",
    "Due",
    "DueAfterUse",
    "DueAt",
    "DueBeforeStart",
    "Entry",
    "FaultCleared",
    "FaultOpened",
    "Gauged",
    "HandedOver",
    "Heading",
    "Isolated",
    "LockRemoved",
    "LockSeen",
    "Measured",
    "Moved",
    "Note",
    "Opened",
    "PartAt",
    "Place",
    "PlaceKind",
    "Reason",
    "Running",
    "Seal",
    "Shift",
    "Span",
    "Standing",
    "Stopped",
    "Struck",
    "StyleSet",
    "TakenOver",
    "ThreadLocked",
    "Torqued",
    "Verb",
    "WhyReplaced",
    "Worked",
]


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
            parts.append(f"by {self.by}")  # last, as a note takes in whatever is not
        return f"{self.stamp} {self.place.name} {'; '.join(parts)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """``day DATE SHIFT [by WHO]``: what holds for the entries below it."""

    shift: Shift
    by: str | None = None
    line: int = field(default=0, compare=False)
