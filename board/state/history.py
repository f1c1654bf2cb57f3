"""What has been and is over: spells of motion, part lives, faults, locks, jobs, counters.

Facts that the step from one state to the next leaves behind; everything the reckoning counts is
counted from these and from the states. Times are UTC.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field
from datetime import datetime
from enum import Enum
from typing import TYPE_CHECKING, Any

from grammar.entries import PartAt, Reason, Shift, Verb, WhyReplaced
from grammar.frozen import dataclass

if TYPE_CHECKING:
    from board.state.fleet import Action, Fault, Motion, Said, Source


class Bound(Enum):
    """What a reading tells: the value, or on which side of a gauge it lies."""

    EXACT = "exact"
    AT_LEAST = "at least"
    AT_MOST = "at most"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingAt:
    """A reading or gauge verdict of a part in the unit of its quantity.

    ``level`` counts the adjustments and repairs since fitting: readings compare within a level.
    ``counts`` is false while an implausible value waits for a second one.
    """

    when: datetime
    value: float
    unit: str
    bound: Bound
    written: str
    level: int
    by: str | None
    source: Source
    counts: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """A stretch of a part's life on one loom."""

    loom: str
    start: datetime | None  # None: it was there before the log speaks of it
    end: datetime | None = None


class Ending(Enum):
    """How a part's life on record ended."""

    IN_SERVICE = "in service"
    REPLACED = "replaced"
    GAVE_WAY = "gave way to a moved part"
    ABSENT = "moved away, place empty"


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLife:
    """One part from fitting to removal, with its readings; ``fitted`` None: before the log."""

    at: PartAt
    stays: tuple[Stay, ...]
    fitted: datetime | None = None
    ended: datetime | None = None
    ending: Ending = Ending.IN_SERVICE
    why: WhyReplaced | None = None
    end_text: str = ""
    batch: str | None = None
    style: str | None = None  # woven when it was fitted
    by: str | None = None
    level: int = 0
    last_work: datetime | None = None  # the last work that may better a reading
    readings: Mapping[str, tuple[ReadingAt, ...]] = field(default_factory=dict)
    source: Source | None = None
    fault_at_end: bool = False  # a fault of this part was open or cleared by the job that ended it

    @property
    def loom(self) -> str:
        """The loom it is on, or was on last."""
        return self.stays[-1].loom


@dataclass(frozen=True, slots=True, kw_only=True)
class Spell:
    """A stretch of one motion; ``end`` None: it goes on."""

    loom: str
    motion: Motion
    start: datetime
    end: datetime | None
    reason: Reason | None
    style: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CounterReading:
    """What a loom's own meter showed, in ``h`` or ``picks``."""

    loom: str
    when: datetime
    value: float
    unit: str
    new_meter: bool
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class StyleChange:
    """A loom began to weave a style."""

    loom: str
    when: datetime
    style: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearedFault:
    """A fault and how it was closed."""

    loom: str
    fault: Fault
    cleared: datetime
    by: str | None
    text: str
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenProof:
    """A proof that was written: ``torque``, ``thread-locked``, ``checked joint``, ``batch``."""

    what: str
    written: str
    good: bool
    when: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Work on a part; ``origin`` names the loom a moved part came from."""

    loom: str
    at: PartAt
    verb: Verb | None  # None: moved
    when: datetime
    by: str | None
    text: str
    source: Source
    style: str | None = None
    origin: str | None = None
    shift: Shift | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofGiven:
    """A proof written for a part, in its job's entry or later."""

    loom: str
    at: PartAt | None
    proof: GivenProof
    by: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosedAction:
    """An action and how it was closed."""

    action: Action
    when: datetime
    dropped: bool
    text: str
    by: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class EndedLock:
    """A lock that is off on record: whose, since when it was on, and who took it off.

    ``below`` is a line that put it on, where it stands below the one that took it off.
    """

    loom: str
    owner: str
    since: datetime
    ended: datetime
    by: str
    below: Said | None = None


Fact = (
    Spell
    | CounterReading
    | StyleChange
    | ClearedFault
    | Job
    | ProofGiven
    | ClosedAction
    | EndedLock
    | PartLife
)


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """All facts in the order of time; each list holds every loom."""

    spells: Sequence[Spell] = ()
    counters: Sequence[CounterReading] = ()
    styles: Sequence[StyleChange] = ()
    cleared: Sequence[ClearedFault] = ()
    jobs: Sequence[Job] = ()
    proofs: Sequence[ProofGiven] = ()
    closed: Sequence[ClosedAction] = ()
    locks: Sequence[EndedLock] = ()
    lives: Sequence[PartLife] = ()


def history_of(facts: Iterable[Fact]) -> History:
    """Facts in the order of time, sorted by their kind."""
    kinds: dict[type, list[Any]] = defaultdict(list)
    for fact in facts:
        kinds[type(fact)].append(fact)
    return History(
        spells=tuple(kinds[Spell]),
        counters=tuple(kinds[CounterReading]),
        styles=tuple(kinds[StyleChange]),
        cleared=tuple(kinds[ClearedFault]),
        jobs=tuple(kinds[Job]),
        proofs=tuple(kinds[ProofGiven]),
        closed=tuple(kinds[ClosedAction]),
        locks=tuple(kinds[EndedLock]),
        lives=tuple(kinds[PartLife]),
    )
