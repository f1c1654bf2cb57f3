"""Meters that disagree with the recorded motion: stops may be missing, or a meter was misread."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from board.mill import Mill
from board.state.fleet import Complaint, Fleet, Source
from board.state.history import CounterReading, Spell
from board.state.later import columns
from board.state.meters import (
    CounterColumns,
    Meter,
    counters_of,
    kept_of,
    meter_runs,
    of_each_meter,
)
from board.state.spells import SpellPieces, columns_of, micros
from board.state.use_line import UseLine, motion_line, pieces_of
from grammar.diagnostics import Code, Diagnostic
from grammar.entries import Span
from grammar.frozen import dataclass

DISAGREEMENT = 0.10  # of the greater of the two
DISAGREEMENT_OVER = timedelta(days=7)

_MICRO = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    """Two readings of a meter, a week or more apart, and what motion makes of the time between."""

    since: datetime
    source: Source  # of the later one
    shown: float
    recorded: float


def disagreements(fleet: Fleet, mill: Mill) -> tuple[Complaint, ...]:
    """Counters that differ from the recorded motion by more than 10 % over a week or more.

    Without numpy, unless spells or counters are kept in columns.
    """
    kept = columns(fleet.history.spells), columns(fleet.history.counters)
    many = any(isinstance(each, SpellPieces | CounterColumns) for each in kept)
    return tuple(_by_columns(fleet, mill) if many else _one_by_one(fleet, mill))


def _one_by_one(fleet: Fleet, mill: Mill) -> Iterator[Complaint]:
    spells: dict[str, list[Spell]] = defaultdict(list)
    for spell in fleet.history.spells:
        spells[spell.loom].append(spell)
    counters: dict[tuple[str, str], list[CounterReading]] = defaultdict(list)
    for reading in fleet.history.counters:
        counters[reading.loom, reading.unit].append(reading)
    for (loom, unit), readings in sorted(counters.items()):
        pieces = pieces_of(spells[loom], fleet.looms[loom], mill, fleet.as_of)
        motion = motion_line(pieces, unit)
        for run in meter_runs(readings):
            for start, end in _weeks_apart([micros(r.when) for r in run]):
                first, last = run[start], run[end]
                begin, until = first.when.timestamp(), last.when.timestamp()
                if motion.reaches(begin, until):
                    pair = _Pair(
                        since=first.when,
                        source=last.source,
                        shown=last.value - first.value,
                        recorded=motion.rise(begin, until),
                    )
                    yield from _told(loom, unit, pair)


def _by_columns(fleet: Fleet, mill: Mill) -> Iterator[Complaint]:
    from board.state.motion_columns import motions_of

    motions = motions_of(columns_of(fleet.history.spells), mill)
    counters = counters_of(fleet.history.counters)
    for loom, meters in sorted(of_each_meter(counters).items()):
        for unit, meter in sorted(meters.items()):
            motion = motions.line(fleet.looms[loom], fleet.as_of, unit)
            for pair in _pairs(meter, motion, counters.sources):
                yield from _told(loom, unit, pair)


def _pairs(meter: Meter, motion: UseLine, sources: Sequence[Source]) -> Iterator[_Pair]:
    """The pairs that differ by enough to be told."""
    import numpy as np

    place, run = kept_of(meter)
    bounds = [*np.flatnonzero(np.diff(run, prepend=-1)).tolist(), len(run)]
    when = meter.when[place]
    both = [
        (begin + a, begin + b)
        for begin, end in pairwise(bounds)
        for a, b in _weeks_apart(when[begin:end].tolist())
    ]
    if not both or motion.begin is None:
        return
    first, last = np.array(both).T
    begin, until = when[first] / _MICRO, when[last] / _MICRO
    shown = meter.value[place[last]] - meter.value[place[first]]
    recorded = motion.at_all(until) - motion.at_all(begin)
    apart = np.abs(shown - recorded) > DISAGREEMENT * np.maximum(shown, recorded)
    for i in np.flatnonzero(apart & motion.reaches_all(begin, until)).tolist():
        yield _Pair(
            since=datetime.fromtimestamp(float(begin[i]), UTC),
            source=sources[int(meter.row[place[last[i]]])],
            shown=float(shown[i]),
            recorded=float(recorded[i]),
        )


def _weeks_apart(moments: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Places of moments [us], in order, that follow each other by a week or more."""
    week = DISAGREEMENT_OVER // timedelta(microseconds=1)
    start = 0
    for place, moment in enumerate(moments):
        if moment - moments[start] >= week:
            yield start, place
            start = place


def _told(loom: str, unit: str, pair: _Pair) -> Iterator[Complaint]:
    shown, recorded, text = pair.shown, pair.recorded, pair.source.text
    if abs(shown - recorded) <= DISAGREEMENT * max(shown, recorded):
        return
    diagnostic = Diagnostic(
        code=Code.COUNTER_DISAGREES,
        message=f"the meter of {loom} rose by {shown:.0f} {unit} since"
        f" {pair.since:%Y-%m-%d}, and the recorded motion makes {recorded:.0f}",
        line=pair.source.line,
        span=Span(max(text.casefold().find("counter"), 0), len(text)),
        text=text,
        help="read the meter again; stops may be missing from the log",
    )
    yield Complaint(path=pair.source.path, diagnostic=diagnostic)
