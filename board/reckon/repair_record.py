"""What a repair left on record and what it did not: proofs, readings, and where moved parts went.

Compares what was written after a job with the proofs and quantities that the register gives the
part. What is missing here may have been done: it was not written.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from enum import Enum
from functools import lru_cache
from itertools import pairwise

from board.mill import Mill
from board.reckon.chains import Chain, Clocks, Link, Occurrence
from board.reckon.readings_taken import ReadingOf, ReadingsTaken
from board.state.fleet import Fleet
from board.state.history import Job, PartLife, ProofGiven
from board.state.usage import UnknownUse
from grammar.entries import PartAt
from grammar.folding import fold_word
from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRecord:
    """A job with the proofs that were written of it and those of the register that were not.

    ``batch`` is None where none is written; ``failed`` are proofs that were written and were bad.
    """

    job: Job
    proofs: tuple[str, ...]
    not_proved: tuple[str, ...]
    failed: tuple[str, ...]
    batch: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """What followed a fault: jobs, readings of the part, and its quantities without a reading."""

    jobs: tuple[JobRecord, ...]
    measured: tuple[ReadingOf, ...]
    not_measured: tuple[str, ...]


class Follows(Enum):
    """Where a fault was after its part had gone to another loom."""

    PART = "went along with the part"
    LOOM = "stayed with the loom"
    BOTH = "came again on both looms"
    NEITHER = "has not come again on either loom"


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposed:
    """So many faults in so many running hours [h]; hours None: not known."""

    faults: int
    hours: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedPart:
    """A part with a fault that was moved to another loom, and what came of it.

    ``before``: on the loom it left, with it; ``went``: on the loom it came to, with it; ``left``:
    on the loom it left, since, with another part.
    """

    job: Job
    symptom: str
    before: Exposed
    went: Exposed
    left: Exposed

    @property
    def follows(self) -> Follows:
        """Where the fault was after the move; a few counts, not a proof."""
        if self.went.faults and self.left.faults:
            return Follows.BOTH
        if self.went.faults:
            return Follows.PART
        return Follows.LOOM if self.left.faults else Follows.NEITHER


class RepairRecord:
    """The jobs' proofs and the parts' readings of a fleet, looked up by loom and part."""

    def __init__(self, fleet: Fleet, mill: Mill) -> None:
        self._fleet = fleet
        self._mill = mill
        self._proofs: dict[tuple[str, PartAt], list[ProofGiven]] = defaultdict(list)
        for proof in fleet.history.proofs:
            if proof.at is not None:
                self._proofs[proof.loom, proof.at].append(proof)
        self._jobs: dict[tuple[str, PartAt], list[datetime]] = defaultdict(list)
        for job in fleet.history.jobs:
            self._jobs[job.loom, job.at].append(job.when)
        self._taken = ReadingsTaken(_lives(fleet))

    def repair(self, link: Link, end: datetime | None) -> Repair:
        """What followed a fault until an end, which is excluded; None: until now."""
        fault = link.fault
        part = self._mill.part.get(fault.part) if fault.part else None
        wanted = [q.name for q in part.quantities] if part else []
        readings: Sequence[ReadingOf] = ()
        if fault.part is not None:
            readings = self._taken.between(fault.loom, fault.part, fault.side, fault.since, end)
        have = {r.quantity for r in readings}
        return Repair(
            jobs=tuple(self._job(job, end) for job in link.jobs),
            measured=tuple(readings),
            not_measured=tuple(name for name in wanted if name not in have),
        )

    def not_measured_beside(self, chain: Chain) -> tuple[str, ...]:
        """Quantities of the other parts of the chain's side without a reading since.

        Since its last fault where that is open, else since its first. For a fault without a side,
        those of the parts without one.
        """
        fault = chain.last if chain.is_open else chain.first
        found = []
        for part in self._mill.parts:
            if part.name == fault.part:
                continue
            if not (fault.side in part.sides if fault.side else not part.sides):
                continue
            last = self._taken.last(fault.loom, part.name, fault.side)
            for q in part.quantities:
                if q.name not in last or last[q.name] <= fault.since:
                    what = f"{part.name} {q.name}"
                    found.append(f"{fault.side} {what}" if fault.side else what)
        return tuple(found)

    def _job(self, job: Job, end: datetime | None) -> JobRecord:
        later = [when for when in self._jobs[job.loom, job.at] if when > job.when]
        until = min([w for w in (end, *later) if w is not None], default=None)
        given = [
            p.proof
            for p in self._proofs.get((job.loom, job.at), ())
            if job.when <= p.proof.when and (until is None or p.proof.when < until)
        ]
        batch = next((p.written for p in given if p.what == "batch"), None)
        proofs = [p for p in given if p.what != "batch"]
        return JobRecord(
            job=job,
            proofs=tuple(p.written for p in proofs if p.good),
            not_proved=self._missing(job, [p.what for p in proofs]),
            failed=tuple(p.written for p in proofs if not p.good),
            batch=batch.removeprefix("batch ") if batch else None,
        )

    def _missing(self, job: Job, given: Sequence[str]) -> tuple[str, ...]:
        """The register's proofs of the part that no line gives."""
        part = self._mill.part.get(job.at.part)
        if part is None:
            return ()
        asked = ["torque"] if part.after.torque is not None else []
        return tuple(what for what in (*asked, *part.after.needs) if not _any_is(what, given))

    def moved_parts(
        self, faults: Sequence[Occurrence], clocks: Clocks, now: datetime
    ) -> list[MovedPart]:
        """Every part that had a fault on the loom it left, in the order of the moves."""
        written: dict[tuple[str, str | None, str | None], dict[str, list[datetime]]] = {}
        for fault in sorted(faults, key=lambda f: f.since):
            of_place = written.setdefault((fault.loom, fault.part, fault.side), {})
            of_place.setdefault(fault.symptom, []).append(fault.since)
        stays = _stays_of_moves(self._fleet)
        found = []
        for job in self._fleet.history.jobs:
            if job.origin is None:
                continue
            began, ended = stays.get((job.loom, job.when, job.at), (None, None))
            there = written.get((job.origin, job.at.part, job.at.side), {})
            here = written.get((job.loom, job.at.part, job.at.side), {})
            for symptom, times in sorted(there.items()):
                before = _exposed(times, clocks, job.origin, began, job.when)
                if not before.faults:
                    continue
                went = here.get(symptom, ())
                found.append(
                    MovedPart(
                        job=job,
                        symptom=symptom,
                        before=before,
                        went=_exposed(went, clocks, job.loom, job.when, ended or now),
                        left=_exposed(times, clocks, job.origin, job.when, now),
                    )
                )
        return found


def _lives(fleet: Fleet) -> Iterator[PartLife]:
    """Every part life on record, those that are over first."""
    yield from fleet.history.lives
    for state in fleet.looms.values():
        yield from state.parts.values()


def _stays_of_moves(
    fleet: Fleet,
) -> Mapping[tuple[str, datetime | None, PartAt], tuple[datetime | None, datetime | None]]:
    """By the loom, time and place of each move: since when the part was on the loom it left,
    and until when on the one it came to; None: not known, or it is there still.
    """
    found: dict[tuple[str, datetime | None, PartAt], tuple[datetime | None, datetime | None]] = {}
    for life in _lives(fleet):
        for before, here in pairwise(life.stays):
            stay = before.start or life.fitted, here.end or life.ended
            found.setdefault((here.loom, here.start, life.at), stay)
    return found


def _any_is(what: str, given: Sequence[str]) -> bool:
    """Whether a proof asked for is among those written: a check by the words it holds."""
    wanted = _words(what)
    return any(wanted <= _words(other) for other in given)


@lru_cache(maxsize=1024)
def _words(text: str) -> frozenset[str]:
    return frozenset(re.findall(r"\w+", fold_word(text)))


def _exposed(
    faults: Sequence[datetime],
    clocks: Clocks,
    loom: str,
    start: datetime | None,
    end: datetime,
) -> Exposed:
    """How many of a loom's faults, told by their times in order, came from start to end."""
    count = bisect_left(faults, end) - (bisect_left(faults, start) if start else 0)
    line = clocks[loom].hours
    if line.begin is None or line.end is None:
        return Exposed(faults=max(count, 0), hours=None)
    first = max(start.timestamp() if start else line.begin, line.begin)
    begin = datetime.fromtimestamp(first, end.tzinfo)
    last = datetime.fromtimestamp(max(min(end.timestamp(), line.end), first), end.tzinfo)
    hours = clocks[loom].between(begin, last)
    return Exposed(faults=max(count, 0), hours=None if isinstance(hours, UnknownUse) else hours)
