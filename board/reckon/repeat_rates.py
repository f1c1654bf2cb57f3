"""How often faults and repeats come, whether they come faster, and which looms are above the fleet.

Counts per running hours with exact limits, a trend over the fleet's own running hours, the mean
cumulative function, and the comparison of looms with its power. Trends are asked of the whole
fleet and of every part, named before looking; never of a chain, which was picked because it
repeats. What a chain holds is told by ``chains``.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from board.reckon.above import AboveFleet, Power, looms_above, power_above
from board.reckon.chains import Chain, Clocks, Occurrence
from board.reckon.counts import Dispersion, LoomCount, dispersion
from board.reckon.cumulative import History, MeanCumulative, mean_cumulative
from board.reckon.recurrence import (
    Chosen,
    Ended,
    Rate,
    TrendTests,
    poisson_rate,
    trend_tests,
)
from board.reckon.refusal import Refusal
from board.reckon.several import holm
from grammar.frozen import dataclass

LEVEL = 0.90
Q = 0.10
FACTORS = (2.0, 3.0)
YOUNG_RECORD = timedelta(days=180)  # within these months a growing rate may be the logging
_RUNS, _RUNS_OF_MANY, _MANY = 200, 60, 80  # simulated fleets; fewer for many looms

Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """The time that is looked at: ``start`` is the record's where none was asked for."""

    start: datetime
    end: datetime

    @property
    def is_young(self) -> bool:
        """Whether the record is so short that people may still be learning to log."""
        return self.end - self.start < YOUNG_RECORD


@dataclass(frozen=True, slots=True, kw_only=True)
class SymptomRate:
    """Faults of one part and symptom over the fleet: counts first, then the rate [1/h]."""

    part: str | None
    symptom: str
    faults: int
    repeats: int
    looms: int
    rate: Rate | Refusal


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendOf:
    """A trend over the fleet's running hours; ``adjusted`` p-values after Holm over all asked."""

    what: str
    faults: int
    tests: TrendTests | Refusal
    laplace_adjusted: float | None = None
    military_adjusted: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """Looms above the fleet, how much the looms differ, and what the comparison could find."""

    answer: AboveFleet | Refusal
    spread: Dispersion | Refusal
    power: tuple[Power, ...]


def hours_of(clocks: Clocks, looms: Sequence[str], span: Span) -> dict[str, float]:
    """Running hours of each loom within the span, as far as its log reaches [h]."""
    return {loom: float(_hours_to(clocks, loom, [span.end], span)[0]) for loom in looms}


def rates(
    faults: Sequence[Occurrence], chains: Sequence[Chain], hours: Mapping[str, float]
) -> list[SymptomRate]:
    """The rate of every part and symptom per running hour of the looms, the most faults first."""
    count = Counter((f.part, f.symptom) for f in faults)
    on = {(f.part, f.symptom, f.loom) for f in faults}
    looms = Counter((part, symptom) for part, symptom, _ in on)
    written = {(f.source.path, f.source.line, f.text) for f in faults}
    again: Counter[tuple[str | None, str]] = Counter()
    for chain in chains:
        for link in chain.links[1:]:
            f = link.fault
            if (f.source.path, f.source.line, f.text) in written:
                again[f.part, f.symptom] += 1
    exposure = sum(hours.values())
    found = [
        SymptomRate(
            part=part,
            symptom=symptom,
            faults=number,
            repeats=again[part, symptom],
            looms=looms[part, symptom],
            rate=poisson_rate(number, exposure, level=LEVEL),
        )
        for (part, symptom), number in count.items()
    ]
    return sorted(found, key=lambda r: (-r.faults, r.part or "", r.symptom))


def trends(
    faults: Sequence[Occurrence], clocks: Clocks, looms: Sequence[str], span: Span
) -> list[TrendOf]:
    """Whether faults come faster or slower: of all, and of each part, over fleet running hours.

    Time-truncated at the span's end. Where several are asked, the p-values are adjusted by Holm.
    """
    asked = [("all faults", list(faults))]
    parts = sorted({f.part for f in faults if f.part is not None})
    if len(parts) > 1:
        asked += [(part, [f for f in faults if f.part == part]) for part in parts]
    end = float(_fleet_hours(clocks, looms, [span.end], span)[0])
    found = []
    for what, own in asked:
        times = np.sort(_fleet_hours(clocks, looms, [f.since for f in own], span))
        found.append(TrendOf(what=what, faults=len(own), tests=_tests(times, end)))
    return _adjusted(found)


def _tests(times: Numbers, end: float) -> TrendTests | Refusal:
    # a fault that was written before the first running hour stands at the very beginning
    inside = np.clip(times, min(1e-6, end / 2.0), end) if end > 0 else times
    if end <= 0:
        return Refusal(reason=f"{len(times)} faults in no running time on record")
    return trend_tests(
        [float(t) for t in inside], end=end, ended=Ended.TIME, chosen=Chosen.BEFORE_LOOKING
    )


def _adjusted(found: Sequence[TrendOf]) -> list[TrendOf]:
    tested = [t for t in found if not isinstance(t.tests, Refusal)]
    laplace = holm([t.tests.laplace_p for t in tested if not isinstance(t.tests, Refusal)])
    military = holm([t.tests.military_p for t in tested if not isinstance(t.tests, Refusal)])
    by_name = {t.what: (a, b) for t, a, b in zip(tested, laplace, military, strict=True)}
    return [
        TrendOf(
            what=t.what,
            faults=t.faults,
            tests=t.tests,
            laplace_adjusted=by_name[t.what][0] if t.what in by_name else None,
            military_adjusted=by_name[t.what][1] if t.what in by_name else None,
        )
        for t in found
    ]


def cumulative(
    faults: Sequence[Occurrence], clocks: Clocks, looms: Sequence[str], span: Span
) -> MeanCumulative | Refusal:
    """The mean number of faults a loom by its running hours in the span."""
    histories = []
    since: dict[str, list[datetime]] = defaultdict(list)
    for fault in faults:
        since[fault.loom].append(fault.since)
    for loom in looms:
        own = since[loom]
        end = float(_hours_to(clocks, loom, [span.end], span)[0])
        if end <= 0:
            continue
        times = np.sort(_hours_to(clocks, loom, own, span)) if own else np.zeros(0)
        inside = np.clip(times, min(1e-6, end / 2.0), end)
        histories.append(History(name=loom, times=tuple(map(float, inside)), end=end))
    if not histories:
        return Refusal(reason="no loom with running time on record")
    return mean_cumulative(histories, level=LEVEL)


def compared(faults: Sequence[Occurrence], hours: Mapping[str, float]) -> Compared:
    """The looms above the fleet at q = 0.10, and how often one at 2 or 3 times it is named."""
    count = Counter(f.loom for f in faults)
    looms = [LoomCount(name=n, count=count[n], exposure=h) for n, h in hours.items()]
    answer = looms_above(looms, q=Q)
    power = []
    if not isinstance(answer, Refusal):
        runs = _RUNS if answer.looms <= _MANY else _RUNS_OF_MANY
        for factor in FACTORS:
            found = power_above(looms, factor=factor, runs=runs, q=Q)
            if not isinstance(found, Refusal):
                power.append(found)
    return Compared(answer=answer, spread=dispersion(looms), power=tuple(power))


# -- running hours -------------------------------------------------------------------------


def _hours_to(clocks: Clocks, loom: str, moments: Sequence[datetime], span: Span) -> Numbers:
    """Running hours of a loom from the span's start to each moment; its log's ends bound them."""
    return _to(clocks, loom, _stamps(moments), span)


def _fleet_hours(
    clocks: Clocks, looms: Sequence[str], moments: Sequence[datetime], span: Span
) -> Numbers:
    at = _stamps(moments)
    total = np.zeros(at.size)
    for loom in looms:
        total += _to(clocks, loom, at, span)
    return total


def _stamps(moments: Sequence[datetime]) -> Numbers:
    return np.array([m.timestamp() for m in moments], dtype=np.float64)


def _to(clocks: Clocks, loom: str, at: Numbers, span: Span) -> Numbers:
    line = clocks[loom].hours
    if line.begin is None:
        return np.zeros(at.size)
    times, values = np.asarray(line.times), np.asarray(line.values)
    use = np.interp(at, times, values)
    begin = np.interp(span.start.timestamp(), times, values)
    return np.asarray(np.maximum(use - begin, 0.0), dtype=np.float64)
