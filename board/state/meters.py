"""What a loom's own meter tells: runs of one meter, and the readings that can be true together."""

from __future__ import annotations

from bisect import bisect_right
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
    """The longest part of a series that never falls, in its order.

    Source: Fredman 1975, Discrete Mathematics 11:29-35 (longest increasing subsequence by
        sorted piles; from memory).
    """
    if all(a.value <= b.value for a, b in pairwise(run)):
        return tuple(run)
    ends: list[float] = []  # the lowest value in which a series of each length can end
    last: list[int] = []  # and where that reading stands
    before: list[int] = []
    for index, reading in enumerate(run):
        length = bisect_right(ends, reading.value)
        before.append(last[length - 1] if length else -1)
        ends[length : length + 1] = [reading.value]
        last[length : length + 1] = [index]
    kept = []
    index = last[-1]
    while index >= 0:
        kept.append(run[index])
        index = before[index]
    return tuple(reversed(kept))


def rises(counters: Iterable[CounterReading]) -> list[tuple[float, float, float]]:
    """Start and end [s since the epoch] and rise [the meter's unit] between readings of a meter."""
    return [
        (a.when.timestamp(), b.when.timestamp(), b.value - a.value)
        for run in meter_runs(counters)
        for a, b in pairwise(run)
        if b.when > a.when
    ]
