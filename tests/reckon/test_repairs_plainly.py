"""What repairs left on record and where moved parts went, against the definitions said plainly."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from board.mill import Mill
from board.reckon.chains import Chain, Occurrence, Window, chains_in, occurrences
from board.reckon.readings_taken import ReadingOf, ReadingsTaken
from board.reckon.repair_record import RepairRecord
from board.reckon.repeat_report import Asked, repeat_report
from board.state.fleet import Fleet, Source
from board.state.history import Bound, Job, PartLife, ReadingAt, Stay
from board.state.usage import clocks
from grammar.entries import PartAt
from tests.reckon.random_logs import random_shed
from tests.state.shed import NIGHT, read

WINDOW = Window(hours=None, days=timedelta(days=9))


def _lives(fleet: Fleet) -> list[PartLife]:
    return [*fleet.history.lives, *(x for s in fleet.looms.values() for x in s.parts.values())]


def _readings(fleet: Fleet, loom: str) -> list[ReadingOf]:
    """Every reading taken on a loom, once, in time order."""
    found = {}
    for life in _lives(fleet):
        for quantity, series in life.readings.items():
            for reading in series:
                stays = [s for s in life.stays if s.start is None or s.start <= reading.when]
                if stays and stays[-1].loom == loom:
                    key = (reading.source.line, life.at, quantity, reading.when)
                    found[key] = ReadingOf(
                        loom=loom, at=life.at, quantity=quantity, reading=reading
                    )
    return sorted(found.values(), key=lambda r: (r.reading.when, r.at.words(), r.quantity))


def _jobs(fleet: Fleet, fault: Occurrence, end: datetime | None) -> tuple[Job, ...]:
    return tuple(
        j
        for j in fleet.history.jobs
        if (j.loom, j.at.part) == (fault.loom, fault.part)
        and (fault.side is None or j.at.side in (None, fault.side))
        and fault.since <= j.when
        and (end is None or j.when < end)
    )


def _measured(fleet: Fleet, fault: Occurrence, end: datetime | None) -> tuple[ReadingOf, ...]:
    return tuple(
        r
        for r in _readings(fleet, fault.loom)
        if r.at.part == fault.part
        and (fault.side is None or r.at.side in (None, fault.side))
        and fault.since < r.reading.when
        and (end is None or r.reading.when < end)
    )


def _beside(fleet: Fleet, mill: Mill, chain: Chain) -> Iterator[tuple[str, str]]:
    """Part and quantity, of the other parts on the chain's side, without a reading since."""
    fault = chain.last if chain.is_open else chain.first
    since = [
        (r.at.part, r.quantity)
        for r in _readings(fleet, fault.loom)
        if r.reading.when > fault.since and (fault.side is None or r.at.side == fault.side)
    ]
    for part in mill.parts:
        if part.name != fault.part and (fault.side in part.sides or (fault.side, part.sides) == (
            None, (),
        )):  # fmt: skip
            yield from (
                (part.name, q.name) for q in part.quantities if (part.name, q.name) not in since
            )


@pytest.mark.parametrize("seed", range(40))
def test_what_followed_a_fault_is_what_was_written_after_it(seed: int) -> None:
    shed = random_shed(seed)
    faults, _ = occurrences(shed.fleet, shed.mill)
    record = RepairRecord(shed.fleet, shed.mill)
    for chain in chains_in(faults, shed.fleet, clocks(shed.fleet, shed.mill), WINDOW):
        ends = [link.fault.since for link in chain.links[1:]]
        for link, end in zip(chain.links, [*ends, None], strict=True):
            assert link.jobs == _jobs(shed.fleet, link.fault, end)
            told = record.repair(link, end)
            assert told.measured == _measured(shed.fleet, link.fault, end)
            read_of = {r.quantity for r in told.measured}
            part = shed.mill.part.get(link.fault.part or "")
            wanted = [q.name for q in part.quantities] if part else []
            assert told.not_measured == tuple(q for q in wanted if q not in read_of)
            for job in told.jobs:
                _check_proofs(shed.fleet, job.job, end, (*job.proofs, *job.failed))
        side = f"{chain.first.side} " if chain.first.side else ""
        beside = tuple(f"{side}{part} {q}" for part, q in _beside(shed.fleet, shed.mill, chain))
        assert record.not_measured_beside(chain) == beside


def _check_proofs(fleet: Fleet, job: Job, end: datetime | None, told: tuple[str, ...]) -> None:
    """The proofs of a job are those of its part up to the next job on it, and to the end."""
    own = [j.when for j in fleet.history.jobs if (j.loom, j.at) == (job.loom, job.at)]
    until = min([w for w in (*own, end) if w is not None and w > job.when], default=None)
    assert sorted(told) == sorted(
        p.proof.written
        for p in fleet.history.proofs
        if (p.loom, p.at) == (job.loom, job.at)
        and p.proof.what != "batch"
        and job.when <= p.proof.when
        and (until is None or p.proof.when < until)
    )


def _count(faults: list[Occurrence], loom: str, start: datetime | None, end: datetime) -> int:
    return sum(f.loom == loom and (start is None or start <= f.since) and f.since < end
               for f in faults)  # fmt: skip


def _with_it(fleet: Fleet, job: Job) -> tuple[datetime | None, datetime | None]:
    """Since when a moved part was on the loom it left, and until when where it came to."""
    for life in _lives(fleet):
        for before, here in zip(life.stays, life.stays[1:], strict=False):
            if (here.loom, here.start, life.at) == (job.loom, job.when, job.at):
                return before.start or life.fitted, here.end or life.ended
    return None, None


@pytest.mark.parametrize("seed", range(40))
def test_a_moved_part_is_told_with_its_faults_before_and_since(seed: int) -> None:
    shed = random_shed(seed)
    now = shed.fleet.as_of
    faults, _ = occurrences(shed.fleet, shed.mill)
    usage = clocks(shed.fleet, shed.mill)
    told = RepairRecord(shed.fleet, shed.mill).moved_parts(faults, usage, now)
    right = []
    for job in shed.fleet.history.jobs:
        if job.origin is None:
            continue
        began, ended = _with_it(shed.fleet, job)
        own = [f for f in faults if (f.part, f.side) == (job.at.part, job.at.side)]
        for symptom in sorted({f.symptom for f in own}):
            same = [f for f in own if f.symptom == symptom]
            before = _count(same, job.origin, began, job.when)
            went = _count(same, job.loom, job.when, ended or now)
            if before:
                left = _count(same, job.origin, job.when, now)
                right.append((job, symptom, before, went, left))
    assert right == [
        (m.job, m.symptom, m.before.faults, m.went.faults, m.left.faults) for m in told
    ]


def test_a_reading_that_went_along_with_its_part_is_told_once_and_where_it_was_taken() -> None:
    shed = read(
        {
            "a.log": NIGHT
            + "22:00 A01 fault left head noisy; left head force 30 N\n"
            + "22:10 A01 left head force 29 N; left head force 29 N\n"
            + "22:20 A02 moved left head from A01\n"
            + "22:30 A02 left head force 28 N; fault left head noisy\n"
            + "22:40 A01 adjusted left head\n"
            + "22:50 A01 fault left head noisy\n"
        }
    )
    faults, _ = occurrences(shed.fleet, shed.mill)
    (chain,) = chains_in(faults, shed.fleet, clocks(shed.fleet, shed.mill), WINDOW)
    repair = RepairRecord(shed.fleet, shed.mill).repair(chain.links[0], None)
    assert [(r.loom, r.reading.value) for r in repair.measured] == [("A01", 29.0)]


def test_a_reading_without_a_side_may_tell_of_a_side_but_is_none_of_that_very_side() -> None:
    noon = datetime(2026, 11, 2, 12, tzinfo=UTC)
    stays = (Stay(loom="A01", start=None),)

    def life(side: str | None, *minutes: int) -> PartLife:
        read = tuple(
            ReadingAt(
                when=noon + timedelta(minutes=minute), value=float(minute), unit="N",
                bound=Bound.EXACT, written="", level=0, by=None,
                source=Source(path="a.log", line=minute, text=""),
            )
            for minute in minutes
        )  # fmt: skip
        return PartLife(at=PartAt(part="head", side=side), stays=stays, readings={"force": read})

    taken = ReadingsTaken([life("left", 1, 5), life("right", 2), life(None, 3, 7)])

    def told(side: str | None) -> list[float]:
        return [r.reading.value for r in taken.between("A01", "head", side, noon, None)]

    assert (told("left"), told("right"), told(None)) == ([1, 3, 5, 7], [2, 3, 7], [1, 2, 3, 5, 7])
    assert taken.last("A01", "head", "left") == {"force": noon + timedelta(minutes=5)}
    assert taken.last("A01", "head", None) == {"force": noon + timedelta(minutes=7)}
    assert taken.last("A02", "head", None) == {}


class Closed(Mapping[str, tuple[ReadingAt, ...]]):
    """Readings that nobody may look into."""

    def __getitem__(self, quantity: str) -> tuple[ReadingAt, ...]:
        raise AssertionError("looked into")

    def __iter__(self) -> Iterator[str]:
        raise AssertionError("looked into")

    def __len__(self) -> int:
        raise AssertionError("looked into")


def test_readings_are_looked_into_for_the_chains_that_are_told_in_full_and_no_others() -> None:
    shed = random_shed(3)
    right = repeat_report(shed, Asked(window=WINDOW))
    told = next(t for t in right.chains if any(r.measured for r in t.repairs))
    loom, part = told.chain.first.loom, told.chain.first.part

    def closed(life: PartLife) -> PartLife:
        of_it = life.at.part == part and any(stay.loom == loom for stay in life.stays)
        return life if of_it else replace(life, readings=Closed())

    fleet = replace(
        shed.fleet,
        history=replace(
            shed.fleet.history, lives=tuple(closed(x) for x in shed.fleet.history.lives)
        ),
        looms={
            name: replace(state, parts={at: closed(x) for at, x in state.parts.items()})
            for name, state in shed.fleet.looms.items()
        },
    )
    report = repeat_report(replace(shed, fleet=fleet), Asked(window=WINDOW))
    assert [t.chain for t in report.chains] == [t.chain for t in right.chains]
    (same,) = [t for t in report.chains if t.chain == told.chain]
    assert same.repairs == told.repairs
    other = next(t for t in report.chains if t.chain.first.loom != loom)
    with pytest.raises(AssertionError, match="looked into"):
        assert other.not_measured_beside
