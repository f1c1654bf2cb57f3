"""What a loom's own meter tells: runs of one meter, and the readings that can be true together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

from board.state.history import CounterReading


def meter_runs(counters: Iterable[CounterReading]) -> list[tuple[CounterReading, ...]]:
    """The readings of each meter in turn, less those that cannot be true with the most others.

    ``counters`` are of one loom and unit, in time order. A meter never falls: where it is written
    as lower than before, one of the two was misread, and the longest series that never falls is
    gone by.
    """
    runs: list[list[CounterReading]] = []
    for reading in counters:
        if reading.new_meter or not runs:
            runs.append([])
        runs[-1].append(reading)
    return [_never_falling(run) for run in runs]


def _never_falling(run: Sequence[CounterReading]) -> tuple[CounterReading, ...]:
    """The longest part of a series that never falls; of several, the one that rises least.

    For each reading the best series that ends in it is the best that ends no higher before it;
    a Fenwick tree over the values holds these. Source: Fenwick 1994, Software: Practice and
        Experience 24:327-336 (from memory).
    """
    if all(a.value <= b.value for a, b in pairwise(run)):
        return tuple(run)
    ranks = {value: rank for rank, value in enumerate(sorted({r.value for r in run}), start=1)}
    # of the series ending at or below a rank: its length, where it starts [value], its last place
    best: list[tuple[int, float, int]] = [(0, 0.0, -1)] * (len(ranks) + 1)
    before: list[int] = []
    ends: list[tuple[int, float, int]] = []
    for place, reading in enumerate(run):
        rank = at = ranks[reading.value]
        found = (0, reading.value, -1)
        while at > 0:
            found = max(found, best[at])
            at -= at & -at
        length, start, last = found
        series = (length + 1, start if length else reading.value, place)
        before.append(last if length else -1)
        ends.append((series[0], series[1] - reading.value, place))
        while rank < len(best):
            best[rank] = max(best[rank], series)
            rank += rank & -rank
    place = max(ends)[2]
    kept = []
    while place >= 0:
        kept.append(run[place])
        place = before[place]
    return tuple(reversed(kept))


def rises(counters: Iterable[CounterReading]) -> list[tuple[float, float, float]]:
    """Start and end [s since the epoch] and rise [the meter's unit] between readings of a meter."""
    return [
        (a.when.timestamp(), b.when.timestamp(), b.value - a.value)
        for run in meter_runs(counters)
        for a, b in pairwise(run)
        if b.when > a.when
    ]
