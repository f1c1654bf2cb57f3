"""What a repair left on record and what it did not: proofs, readings, and where moved parts went.

Compares what was written after a job with the proofs and quantities that the register gives the
part. What is missing here may have been done: it was not written.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from enum import Enum

from board.mill import Mill
from board.reckon.chains import Chain, Clocks, Link, Occurrence
from board.state.fleet import Fleet
from board.state.history import Job, PartLife, ProofGiven, ReadingAt
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


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingOf:
    """A reading with the part and quantity it is of, on the loom where it was taken."""

    loom: str
    at: PartAt
    quantity: str
    reading: ReadingAt


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
        self._lives = [
            *fleet.history.lives,
            *(life for s in fleet.looms.values() for life in s.parts.values()),
        ]
        self._readings = _readings_by_loom(self._lives)

    def repair(self, link: Link, end: datetime | None) -> Repair:
        """What followed a fault until an end, which is excluded; None: until now."""
        fault = link.fault
        part = self._mill.part.get(fault.part) if fault.part else None
        wanted = [q.name for q in part.quantities] if part else []
        readings = [
            r
            for r in self._readings.get(fault.loom, ())
            if r.at.part == fault.part
            and (fault.side is None or r.at.side in (None, fault.side))
            and fault.since < r.reading.when
            and (end is None or r.reading.when < end)
        ]
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
        since = {
            (r.at.part, r.quantity)
            for r in self._readings.get(fault.loom, ())
            if r.reading.when > fault.since and (fault.side is None or r.at.side == fault.side)
        }
        return tuple(
            f"{fault.side} {part.name} {q.name}" if fault.side else f"{part.name} {q.name}"
            for part in self._mill.parts
            if part.name != fault.part
            and (fault.side in part.sides if fault.side else not part.sides)
            for q in part.quantities
            if (part.name, q.name) not in since
        )

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
        found = []
        for job in self._fleet.history.jobs:
            if job.origin is None:
                continue
            of_part = [f for f in faults if f.part == job.at.part and f.side == job.at.side]
            began, ended = self._with_it(job)
            symptoms = {f.symptom for f in of_part if _on(f, job.origin, began, job.when)}
            for symptom in sorted(symptoms):
                same = [f for f in of_part if f.symptom == symptom]
                spans = (
                    (job.origin, began, job.when),
                    (job.loom, job.when, ended or now),
                    (job.origin, job.when, now),
                )
                before, went, left = (_exposed(same, clocks, *span) for span in spans)
                found.append(
                    MovedPart(job=job, symptom=symptom, before=before, went=went, left=left)
                )
        return found

    def _with_it(self, job: Job) -> tuple[datetime | None, datetime | None]:
        """Since when the part was on the loom it left, and until when on the one it came to."""
        for life in self._lives:
            for before, here in zip(life.stays, life.stays[1:], strict=False):
                if (here.loom, here.start, life.at) == (job.loom, job.when, job.at):
                    return before.start or life.fitted, here.end or life.ended
        return None, None


def _readings_by_loom(lives: Iterable[PartLife]) -> Mapping[str, list[ReadingOf]]:
    found: dict[str, dict[tuple[object, ...], ReadingOf]] = defaultdict(dict)
    for life in lives:
        for quantity, series in life.readings.items():
            for reading in series:
                stays = [s for s in life.stays if s.start is None or s.start <= reading.when]
                if not stays:
                    continue
                loom = stays[-1].loom
                key = (reading.source.path, reading.source.line, life.at, quantity, reading.when)
                found[loom][key] = ReadingOf(
                    loom=loom, at=life.at, quantity=quantity, reading=reading
                )
    return {
        loom: sorted(own.values(), key=lambda r: (r.reading.when, r.at.words(), r.quantity))
        for loom, own in found.items()
    }


def _any_is(what: str, given: Sequence[str]) -> bool:
    """Whether a proof asked for is among those written: a check by the words it holds."""
    wanted = set(re.findall(r"\w+", fold_word(what)))
    return any(wanted <= set(re.findall(r"\w+", fold_word(other))) for other in given)


def _on(fault: Occurrence, loom: str, start: datetime | None, end: datetime) -> bool:
    return fault.loom == loom and (start is None or start <= fault.since) and fault.since < end


def _exposed(
    faults: Iterable[Occurrence],
    clocks: Clocks,
    loom: str,
    start: datetime | None,
    end: datetime,
) -> Exposed:
    count = sum(_on(f, loom, start, end) for f in faults)
    line = clocks[loom].hours
    if line.begin is None or line.end is None:
        return Exposed(faults=count, hours=None)
    first = max(start.timestamp() if start else line.begin, line.begin)
    begin = datetime.fromtimestamp(first, end.tzinfo)
    last = datetime.fromtimestamp(max(min(end.timestamp(), line.end), first), end.tzinfo)
    hours = clocks[loom].between(begin, last)
    return Exposed(faults=count, hours=None if isinstance(hours, UnknownUse) else hours)
