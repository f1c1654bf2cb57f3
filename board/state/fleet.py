"""The state of a fleet at one moment: every loom, the shed, and what is on record of them.

Frozen values only; how an entry changes them stands in ``step`` and ``fold``. Times are UTC.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from datetime import datetime
from enum import Enum

from board.state.history import History, PartLife
from grammar.diagnostics import Diagnostic
from grammar.entries import Due, PartAt, Place, Reason, Seal, Shift
from grammar.folding import fold_word
from grammar.frozen import dataclass


class Motion(Enum):
    """What the log says of a loom's motion."""

    RUNNING = "RUNNING"
    STOPPED = "STOPPED"
    UNKNOWN = "UNKNOWN"


class Isolation(Enum):
    """What the log says of a loom's isolation; never that there is none."""

    ISOLATED = "ISOLATED"
    NONE_RECORDED = "none recorded"
    CONFLICT = "CONFLICT"


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where something was written: file, line and the line itself."""

    path: str
    line: int
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A line that said something, and who wrote it."""

    source: Source
    by: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """A lock was looked at."""

    by: str
    when: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Lock:
    """One person's lock on record.

    ``latest`` is later than ``since`` in a repeated hour; ``doubts`` tells by file until when the
    lines that leave it open may have been written. ``lowest`` is of each file the lowest line that
    said it.
    """

    by: str
    text: str
    since: datetime
    latest: datetime
    source: Source
    lowest: tuple[Said, ...]
    seen: Look | None = None
    doubts: tuple[tuple[str, datetime], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RemovedForOther:
    """A lock taken off by someone else than its owner; stays visible through the next shift.

    A loom's state holds those of the year before its last one; the lines are found by ``find``.
    """

    by: str
    owner: str
    when: datetime
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """An open fault."""

    since: datetime
    text: str
    at: PartAt | None
    side: str | None
    symptom: str
    by: str | None
    source: Source

    @property
    def part(self) -> str | None:
        """The part that the text names, or None."""
        return self.at.part if self.at else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """An open action: of a loom, a group of looms or the shed."""

    text: str
    opened: datetime
    place: Place
    source: Source
    number: int | None = None
    due: Due | None = None
    by: str | None = None
    whom: str | None = None
    recheck_of: PartAt | None = None  # opened by itself after this part was replaced


class ProofFault(Enum):
    """What is wrong with a proof that was asked for."""

    MISSING = "missing"
    FAILED = "failed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """A proof asked for after a job that is not there, or failed; ``why`` tells a failure."""

    at: PartAt | None
    what: str
    since: datetime
    by: str | None
    source: Source
    fault: ProofFault = ProofFault.MISSING
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoomState:
    """All that the log says of one loom now."""

    loom: str
    motion: Motion = Motion.UNKNOWN
    motion_since: datetime | None = None
    spell_since: datetime | None = None  # since this motion, for this reason, in this style
    stopped_for: Reason | None = None
    motion_text: str = ""
    motion_by: str | None = None
    motion_source: Source | None = None
    locks: tuple[Lock, ...] = ()
    conflict_since: datetime | None = None
    conflict_source: Source | None = None
    removed_for_others: tuple[RemovedForOther, ...] = ()
    faults: tuple[Fault, ...] = ()
    actions: tuple[Action, ...] = ()
    proofs: tuple[Proof, ...] = ()
    parts: Mapping[PartAt, PartLife] = field(default_factory=dict)
    style: str | None = None
    style_since: datetime | None = None
    counters: tuple[tuple[str, float], ...] = ()  # the last value by unit
    last_entry: datetime | None = None

    @property
    def isolation(self) -> Isolation:
        """ISOLATED while a lock is on record, CONFLICT if it was written as running since."""
        if not self.locks:
            return Isolation.NONE_RECORDED
        return Isolation.CONFLICT if self.conflict_since else Isolation.ISOLATED


@dataclass(frozen=True, slots=True, kw_only=True)
class Handover:
    """The latest handover of the shed or a section: the outgoing word and the incoming one."""

    what: str
    by: str | None = None
    to: str | None = None
    said: datetime | None = None
    taken: datetime | None = None
    taken_by: str | None = None
    seal: Seal | None = None
    shift: Shift | None = None  # the shift given over
    source: Source | None = None  # the incoming line

    @property
    def stands(self) -> bool:
        """Whether both lines are there."""
        return self.said is not None and self.taken is not None

    @property
    def went_to_another(self) -> bool:
        """Whether somebody else took over than the one it was handed to."""
        if not self.stands or self.to is None or self.taken_by is None:
            return False
        return fold_word(self.to) != fold_word(self.taken_by)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShedState:
    """What belongs to no single loom."""

    actions: tuple[Action, ...] = ()
    handovers: Mapping[str, Handover] = field(default_factory=dict)  # the latest of each
    taken: Sequence[Handover] = ()  # every one taken over, in time order


@dataclass(frozen=True, slots=True, kw_only=True)
class Complaint:
    """A diagnostic, the file it is about and the shift its line is filed under.

    ``by`` is who wrote the line, where the state complains of a clause.
    """

    path: str
    diagnostic: Diagnostic
    shift: Shift | None = None
    by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MayIsolate:
    """A line that may hide an isolation and counts for nothing: to be asked about.

    ``shift`` is the one that it is filed under, ``by`` who wrote it, as far as that is known.
    ``gone`` is since when a lock's line stands in no log any more, though nobody took it off; then
    ``when`` is since when it was on.
    """

    path: str
    line: int
    text: str
    shift: Shift | None = None
    by: str | None = None
    gone: datetime | None = None
    when: datetime | None = None
    understood: bool = False  # it counts, and may tell of an isolation beside what was read


@dataclass(frozen=True, slots=True, kw_only=True)
class Fleet:
    """The whole shed as of a moment."""

    as_of: datetime
    looms: Mapping[str, LoomState]
    shed: ShedState
    history: History
    complaints: tuple[Complaint, ...] = ()
    may_isolate: tuple[MayIsolate, ...] = ()
    last_entry: datetime | None = None
