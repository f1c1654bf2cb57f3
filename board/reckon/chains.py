"""Repeat faults as chains: the same loom, part, side and symptom again soon after a repair.

What was done between two of them, by which method, and what of the register's proofs and
quantities was not written; for a part that went to another loom, whether the fault went along.
Counts and facts only: how often is told by ``repeat_rates``. People are not counted.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from operator import attrgetter

from board.mill import Mill
from board.reckon.symptoms import How, Put, grouped
from board.state.fleet import Fault, Fleet, Source
from board.state.history import ClearedFault, Job
from board.state.usage import UnknownUse, UsageClock
from grammar.frozen import dataclass

Clocks = Mapping[str, UsageClock]


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """How soon after a repair a fault is the same again: within either, whichever is longer."""

    hours: float | None  # [running h]
    days: timedelta | None

    def words(self) -> str:
        """``200 running h or 14 days, whichever is longer``."""
        told = [f"{self.hours:g} running h"] if self.hours is not None else []
        if self.days is not None:
            told.append(f"{self.days / timedelta(days=1):g} days")
        return " or ".join(told) + (", whichever is longer" if len(told) > 1 else "")

    def holds(self, hours: float | None, time: timedelta) -> bool:
        """Whether so many running hours (None: unknown) or so much time lie within."""
        in_hours = self.hours is not None and hours is not None and hours <= self.hours
        return in_hours or (self.days is not None and time <= self.days)


@dataclass(frozen=True, slots=True, kw_only=True)
class Occurrence:
    """One fault as it was written, under the symptom it was put to, and when it was cleared.

    ``how`` its text was put there; ``again`` counts further lines about it while it stood open
    without a job.
    """

    loom: str
    part: str | None
    side: str | None
    symptom: str
    text: str
    how: How
    since: datetime
    source: Source
    cleared: datetime | None = None
    cleared_text: str = ""
    again: int = 0

    @property
    def key(self) -> tuple[str, str | None, str | None, str]:
        """What makes it the same fault: loom, part, side and symptom."""
        return self.loom, self.part, self.side, self.symptom

    @property
    def place(self) -> str:
        """Side and part in words; empty where the text names none."""
        return " ".join(word for word in (self.side, self.part) if word)


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """A fault and what followed it until the next one.

    ``hours`` [running h] and ``time`` from the last repair to the next fault, None where there is
    no next or the use is unknown.
    """

    fault: Occurrence
    jobs: tuple[Job, ...]
    hours: float | None = None
    time: timedelta | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """The same fault two times or more, each within the window after a repair of the one before."""

    links: tuple[Link, ...]

    @property
    def first(self) -> Occurrence:
        """The first fault of the chain."""
        return self.links[0].fault

    @property
    def last(self) -> Occurrence:
        """The last fault of the chain."""
        return self.links[-1].fault

    @property
    def is_open(self) -> bool:
        """Whether the last fault is not cleared on record."""
        return self.last.cleared is None


def window_of(mill: Mill) -> Window:
    """The window that the register gives."""
    return Window(hours=mill.rules.repeat_hours, days=mill.rules.repeat_days)


def occurrences(fleet: Fleet, mill: Mill) -> tuple[list[Occurrence], Mapping[Occurrence, Put]]:
    """Every fault on record in time order, and how the text of each was put to its symptom."""
    written: list[tuple[str, Fault, ClearedFault | None]] = [
        (c.loom, c.fault, c) for c in fleet.history.cleared
    ]
    written += [(s.loom, fault, None) for s in fleet.looms.values() for fault in s.faults]
    puts = grouped(((f.part, f.symptom) for _, f, _ in written), mill.vocabulary)
    found = {
        Occurrence(
            loom=loom,
            part=fault.part,
            side=fault.at.side if fault.at and fault.at.side else fault.side,
            symptom=puts[fault.part, fault.symptom].symptom,
            text=fault.text,
            how=puts[fault.part, fault.symptom].how,
            since=fault.since,
            source=fault.source,
            cleared=cleared.cleared if cleared else None,
            cleared_text=cleared.text if cleared else "",
        ): puts[fault.part, fault.symptom]
        for loom, fault, cleared in written
    }
    place = {loom: i for i, loom in enumerate(mill.looms)}
    in_time = sorted(found, key=lambda f: (f.since, place[f.loom], f.source.path, f.source.line))
    return in_time, found


def chains_in(
    faults: Sequence[Occurrence], fleet: Fleet, clocks: Clocks, window: Window
) -> list[Chain]:
    """Every chain among the faults: the longest first, then the one that came last.

    Chains alike in both stand in the order of the looms in the register.
    """
    place = {loom: i for i, loom in enumerate(fleet.looms)}
    jobs: dict[tuple[str, str], list[Job]] = defaultdict(list)
    for job in sorted(fleet.history.jobs, key=_when):
        jobs[job.loom, job.at.part].append(job)
    by_key: dict[tuple[str, str | None, str | None, str], list[Occurrence]] = defaultdict(list)
    for fault in faults:
        by_key[fault.key].append(fault)
    found: list[Chain] = []
    for own in by_key.values():
        if len(own) > 1:
            found += _chained(own, jobs, clocks, window)
    return sorted(
        found, key=lambda c: (-len(c.links), -c.last.since.timestamp(), place[c.last.loom])
    )


def jobs_between(
    fault: Occurrence, end: datetime | None, jobs: Mapping[tuple[str, str], Sequence[Job]]
) -> tuple[Job, ...]:
    """The jobs on a fault's part from the fault to an end, which is excluded.

    Given those of each loom and part, in the order of time.
    """
    if fault.part is None:
        return ()
    own = jobs.get((fault.loom, fault.part), ())
    first = bisect_left(own, fault.since, key=_when)
    behind = len(own) if end is None else bisect_left(own, end, key=_when)
    return tuple(
        job for job in own[first:behind] if fault.side is None or job.at.side in (None, fault.side)
    )


_when = attrgetter("when")


def _chained(
    faults: Sequence[Occurrence],
    jobs: Mapping[tuple[str, str], list[Job]],
    clocks: Clocks,
    window: Window,
) -> list[Chain]:
    """The chains among the faults of one loom, part, side and symptom, in time order."""
    chains: list[Chain] = []
    links: list[Link] = []
    now = faults[0]
    for after in faults[1:]:
        done = jobs_between(now, after.since, jobs)
        repairs = [job.when for job in done]
        if now.cleared is not None and now.cleared <= after.since:
            repairs.append(now.cleared)
        if not repairs:
            # still the same fault, written down once more
            now = _told_again(now, after)
            continue
        repaired = max(repairs)
        time = after.since - repaired
        use = clocks[now.loom].between(repaired, after.since)
        hours = None if isinstance(use, UnknownUse) else use
        if window.holds(hours, time):
            links.append(Link(fault=now, jobs=done, hours=hours, time=time))
        else:
            chains += _closed(links, now, jobs_between(now, after.since, jobs))
            links = []
        now = after
    return [*chains, *_closed(links, now, jobs_between(now, None, jobs))]


def _told_again(fault: Occurrence, later: Occurrence) -> Occurrence:
    return replace(
        fault, cleared=later.cleared, cleared_text=later.cleared_text, again=fault.again + 1
    )


def _closed(links: Sequence[Link], last: Occurrence, jobs: tuple[Job, ...]) -> list[Chain]:
    if not links:
        return []
    return [Chain(links=(*links, Link(fault=last, jobs=jobs)))]
