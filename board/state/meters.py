"""What a loom's own meter tells: runs of one meter, and the readings that can be true together.

Of single readings, or of all meters of a shed in columns, which may be handed in by whoever keeps
them so (``Later.columns``).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from board.state.fleet import Source
from board.state.history import CounterReading
from board.state.later import columns
from board.state.spells import micros
from grammar.frozen import dataclass

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.signedinteger]

UNITS = ("h", "picks")
_MICRO = 1e6


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
    return [tuple(run[i] for i in never_falling([r.value for r in run])) for run in runs]


def never_falling(values: Sequence[float]) -> Sequence[int]:
    """The places of the longest part of a series that never falls; of several, that rises least.

    For each reading the best series that ends in it is the best that ends no higher before it;
    a Fenwick tree over the values holds these. Source: Fenwick 1994, Software: Practice and
        Experience 24:327-336 (from memory).
    """
    if all(a <= b for a, b in pairwise(values)):
        return range(len(values))
    ranks = {value: rank for rank, value in enumerate(sorted(set(values)), start=1)}
    # of the series ending at or below a rank: its length, where it starts [value], its last place
    best: list[tuple[int, float, int]] = [(0, 0.0, -1)] * (len(ranks) + 1)
    before: list[int] = []
    ends: list[tuple[int, float, int]] = []
    for place, value in enumerate(values):
        rank = at = ranks[value]
        found = (0, value, -1)
        while at > 0:
            found = max(found, best[at])
            at -= at & -at
        length, start, last = found
        series = (length + 1, start if length else value, place)
        before.append(last if length else -1)
        ends.append((series[0], series[1] - value, place))
        while rank < len(best):
            best[rank] = max(best[rank], series)
            rank += rank & -rank
    place = max(ends)[2]
    kept = []
    while place >= 0:
        kept.append(place)
        place = before[place]
    return kept[::-1]


# -- all meters of a shed ------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CounterColumns:
    """Readings of meters, one a row, each loom's in time order.

    ``loom`` is the place in ``looms``, ``unit`` in UNITS; ``when`` [us since the epoch]; ``new``
    where a new meter begins; ``sources`` where each was written.
    """

    looms: tuple[str, ...]
    loom: Ints
    unit: Ints
    when: Ints
    value: Floats
    new: NDArray[np.bool_]
    sources: Sequence[Source]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Meter:
    """The readings of one loom in one unit; ``row`` is where each stands in the columns."""

    row: Ints
    when: Ints
    value: Floats
    new: NDArray[np.bool_]


def counters_of(counters: Sequence[CounterReading]) -> CounterColumns:
    """Readings of meters in columns: those that they are kept in, else made of them."""
    kept = columns(counters)
    return kept if isinstance(kept, CounterColumns) else counters_made_of(counters)


def counters_made_of(counters: Iterable[CounterReading]) -> CounterColumns:
    """Columns of readings, made anew."""
    import numpy as np

    counters = list(counters)
    looms = {name: i for i, name in enumerate(dict.fromkeys(c.loom for c in counters))}
    return CounterColumns(
        looms=tuple(looms),
        loom=np.array([looms[c.loom] for c in counters], dtype=np.int32),
        unit=np.array([UNITS.index(c.unit) for c in counters], dtype=np.int8),
        when=np.array([micros(c.when) for c in counters], dtype=np.int64),
        value=np.array([c.value for c in counters], dtype=float),
        new=np.array([c.new_meter for c in counters], dtype=bool),
        sources=tuple(c.source for c in counters),
    )


def of_each_meter(counters: CounterColumns) -> Mapping[str, dict[str, Meter]]:
    """The readings of each loom's meters by unit."""
    import numpy as np

    found: dict[str, dict[str, Meter]] = {}
    if not len(counters.loom):
        return found
    meter = counters.loom.astype(np.int64) * len(UNITS) + counters.unit
    order = np.argsort(meter, kind="stable")
    meter, when = meter[order], counters.when[order]
    value, new = counters.value[order], counters.new[order]
    firsts = np.flatnonzero(np.diff(meter, prepend=-1))
    for first, last in pairwise([*firsts.tolist(), len(order)]):
        own = slice(first, last)
        loom, unit = divmod(int(meter[first]), len(UNITS))
        found.setdefault(counters.looms[loom], {})[UNITS[unit]] = Meter(
            row=order[own], when=when[own], value=value[own], new=new[own]
        )
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Believed:
    """The readings of several meters that can be true together, meter by meter in time order.

    ``meter`` is the place of its meter among them, ``run`` another number for each new meter.
    """

    meter: Ints
    run: Ints
    row: Ints
    when: Ints
    value: Floats


def believed(meters: Sequence[Meter]) -> Believed:
    """The readings of meters, of which there are some, that can be true together."""
    import numpy as np

    when, value = (
        np.concatenate([getattr(meter, name) for meter in meters]) for name in ("when", "value")
    )
    row = np.concatenate([meter.row for meter in meters])
    owner = np.repeat(np.arange(len(meters)), [len(meter.row) for meter in meters])
    begins = np.concatenate([meter.new for meter in meters])
    begins[1:] |= owner[1:] != owner[:-1]
    run = np.cumsum(begins, dtype=np.int64)
    falls = (run[1:] == run[:-1]) & (value[1:] < value[:-1])
    if falls.any():
        kept = np.ones(len(run), dtype=bool)
        for one in set(run[1:][falls].tolist()):
            first, last = np.searchsorted(run, (one, one + 1)).tolist()
            kept[first:last] = False
            kept[[first + i for i in never_falling(value[first:last].tolist())]] = True
        owner, run, row, when, value = (x[kept] for x in (owner, run, row, when, value))
    return Believed(meter=owner, run=run, row=row, when=when, value=value)


def rises(meters: Sequence[Meter]) -> tuple[Floats, Floats, Floats, Ints]:
    """Start and end [s since the epoch], rise [the meter's unit] and meter between the readings."""
    told = believed(meters)
    when, value = told.when, told.value
    whole = (told.run[1:] == told.run[:-1]) & (when[1:] > when[:-1])
    return (
        when[:-1][whole] / _MICRO,
        when[1:][whole] / _MICRO,
        (value[1:] - value[:-1])[whole],
        told.meter[1:][whole],
    )
