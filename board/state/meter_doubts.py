"""Meters that disagree with the recorded motion: stops may be missing, or a meter was misread."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from board.mill import Mill
from board.state.fleet import Complaint, Fleet, Source
from board.state.history import CounterReading, Spell
from board.state.later import columns
from board.state.meters import (
    UNITS,
    CounterColumns,
    Meter,
    believed,
    counters_of,
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
    found: dict[tuple[str, str], list[_Pair]] = defaultdict(list)
    meters = of_each_meter(counters)
    for unit in UNITS:
        own = {loom: several[unit] for loom, several in meters.items() if unit in several}
        lines = motions.lines([fleet.looms[loom] for loom in own], fleet.as_of, unit)
        for loom, pair in _pairs(own, lines, counters.sources):
            found[loom, unit].append(pair)
    for (loom, unit), pairs in sorted(found.items()):
        for pair in pairs:
            yield from _told(loom, unit, pair)


def _pairs(
    meters: Mapping[str, Meter], motions: Sequence[UseLine], sources: Sequence[Source]
) -> Iterator[tuple[str, _Pair]]:
    """The pairs of each loom's meter that differ by enough from its motion to be told."""
    if not meters:
        return
    import numpy as np

    from board.state.lines_abreast import bounds_of, rises

    told = believed(list(meters.values()))
    begins = np.flatnonzero(np.diff(told.run, prepend=-1)).tolist()
    both = [
        (begin + a, begin + b)
        for begin, end in pairwise([*begins, len(told.run)])
        for a, b in _weeks_apart(told.when[begin:end].tolist())
    ]
    if not both:
        return
    first, last = np.array(both).T
    begin, until = told.when[first] / _MICRO, told.when[last] / _MICRO
    shown = told.value[last] - told.value[first]
    owner = told.meter[first]
    recorded, known = rises(motions, bounds_of(owner, len(motions)), begin, until)
    apart = np.abs(shown - recorded) > DISAGREEMENT * np.maximum(shown, recorded)
    looms = list(meters)
    for i in np.flatnonzero(apart & known).tolist():
        yield (
            looms[owner[i]],
            _Pair(
                since=datetime.fromtimestamp(float(begin[i]), UTC),
                source=sources[int(told.row[last[i]])],
                shown=float(shown[i]),
                recorded=float(recorded[i]),
            ),
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
