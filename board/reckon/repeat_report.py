"""Everything about repeat faults that a screen shows, reckoned once from one snapshot.

Puts ``chains``, ``repair_record`` and ``repeat_rates`` together under one question. A loom that is
asked for by name is taken as picked because it repeats: its rate is told, a trend is not.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime

from board.reckon.chains import (
    Chain,
    Occurrence,
    Window,
    chains_in,
    occurrences,
    window_of,
)
from board.reckon.cumulative import MeanCumulative
from board.reckon.refusal import Refusal
from board.reckon.repair_record import MovedPart, Repair, RepairRecord
from board.reckon.repeat_rates import (
    Compared,
    Span,
    SymptomRate,
    TrendOf,
    compared,
    cumulative,
    hours_of,
    rates,
    trends,
)
from board.reckon.symptoms import How, Put
from board.snapshot import Snapshot
from board.state.usage import clocks
from board.state.written import extent
from grammar.entries import Verb
from grammar.frozen import dataclass

BY_NAME = Refusal(
    reason="one loom was asked for by name, most likely because it repeats; a trend test would"
    " find what the picking put there"
)
ONE_LOOM = Refusal(reason="one loom was asked for by name; a mean over looms needs several")


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is asked: None asks for no limit. ``until`` is excluded."""

    window: Window | None = None
    since: datetime | None = None
    until: datetime | None = None
    part: str | None = None
    loom: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldChain:
    """A chain with what followed each of its faults and what was not measured beside.

    That is looked up in ``record`` when it is asked for: a screen tells few of many chains in full.
    """

    chain: Chain
    record: RepairRecord
    moved: tuple[MovedPart, ...]

    @property
    def repairs(self) -> tuple[Repair, ...]:
        """What followed each fault until the next one, one a link."""
        links = self.chain.links
        ends = [*(link.fault.since for link in links[1:]), None]
        return tuple(self.record.repair(link, end) for link, end in zip(links, ends, strict=True))

    @property
    def not_measured_beside(self) -> tuple[str, ...]:
        """Quantities of other parts on the chain's side without a reading since."""
        return self.record.not_measured_beside(self.chain)

    @property
    def again_with_new_part(self) -> bool:
        """Whether the fault came again although the part had been replaced in between."""
        return any(job.verb is Verb.REPLACED for link in self.chain.links[:-1] for job in link.jobs)


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupedText:
    """A text that was put to a symptom, how often it stands on record, and how it was put.

    ``fits`` names the symptoms between which it was not decided.
    """

    symptom: str
    text: str
    part: str | None
    count: int
    how: How
    fits: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatReport:
    """The repeats of a shed in a span of time, with the counts they rest on."""

    asked: Asked
    window: Window
    span: Span
    faults: int
    chains: tuple[ToldChain, ...]
    moved: tuple[MovedPart, ...]
    hours: Mapping[str, float]  # [running h] of each loom in the span
    rates: tuple[SymptomRate, ...]
    trends: tuple[TrendOf, ...] | Refusal
    cumulative: MeanCumulative | Refusal
    compared: Compared
    texts: tuple[GroupedText, ...]


def repeat_report(snapshot: Snapshot, asked: Asked) -> RepeatReport:
    """The repeats on record, as asked."""
    fleet, mill = snapshot.fleet, snapshot.mill
    usage = clocks(fleet, mill)
    window = asked.window or window_of(mill)
    span = _span(snapshot, asked)
    every, puts = occurrences(fleet, mill)
    of_part = [f for f in every if asked.part is None or f.part == asked.part]
    known = [f for f in of_part if asked.until is None or f.since < asked.until]
    own = [f for f in known if asked.loom is None or f.loom == asked.loom]
    inside = [f for f in own if f.since >= span.start]
    found = [c for c in chains_in(own, fleet, usage, window) if c.last.since >= span.start]
    record = RepairRecord(fleet, mill)
    moved = record.moved_parts(known, usage, fleet.as_of)
    moved = [m for m in moved if asked.loom in (None, m.job.loom, m.job.origin)]
    moved_of: dict[tuple[str | None, str | None, str], list[MovedPart]] = {}
    for each in moved:
        key = each.job.at.part, each.job.at.side, each.symptom
        moved_of.setdefault(key, []).append(each)
    looms = mill.looms if asked.loom is None else (asked.loom,)
    hours = hours_of(usage, looms, span)
    fleet_faults = [f for f in known if f.since >= span.start]
    return RepeatReport(
        asked=asked,
        window=window,
        span=span,
        faults=len(inside),
        chains=tuple(_told(c, record, moved_of.get(_of_chain(c), ())) for c in found),
        moved=tuple(m for m in moved if m.job.when >= span.start),
        hours=hours,
        rates=tuple(rates(inside, found, hours)),
        trends=tuple(trends(inside, usage, looms, span)) if asked.loom is None else BY_NAME,
        cumulative=cumulative(inside, usage, looms, span) if asked.loom is None else ONE_LOOM,
        compared=compared(fleet_faults, hours_of(usage, mill.looms, span)),
        texts=tuple(_texts(inside, puts)),
    )


def _span(snapshot: Snapshot, asked: Asked) -> Span:
    """The time asked for, as far as somebody wrote: a silent shed says nothing of faults."""
    now = snapshot.fleet.as_of
    first, last = extent(snapshot.entries, now) or (now, now)
    start = max(asked.since or first, first)
    end = min(asked.until or now, last)
    return Span(start=min(start, end), end=end)


def _of_chain(chain: Chain) -> tuple[str | None, str | None, str]:
    return chain.first.part, chain.first.side, chain.first.symptom


def _told(chain: Chain, record: RepairRecord, moved: Sequence[MovedPart]) -> ToldChain:
    """A chain with what followed; ``moved`` are the moves of its part, side and symptom."""
    first = chain.first
    return ToldChain(
        chain=chain,
        record=record,
        moved=tuple(
            m
            for m in moved
            if first.loom in (m.job.loom, m.job.origin) and m.job.when >= first.since
        ),
    )


def _texts(faults: list[Occurrence], puts: Mapping[Occurrence, Put]) -> list[GroupedText]:
    counted = Counter((f.symptom, f.part, puts[f].text, puts[f].how, puts[f].fits) for f in faults)
    return [
        GroupedText(symptom=symptom, text=text, part=part, count=count, how=how, fits=fits)
        for (symptom, part, text, how, fits), count in sorted(
            counted.items(), key=lambda item: (item[0][0], item[0][1] or "", -item[1], item[0][2])
        )
    ]
