"""Questions to the use lines of many looms at once.

Of each loom only the places in its own line are looked up; all else is done on arrays that hold
what is asked of one loom behind what is asked of another. ``bounds`` tell where: what is asked of
line i stands from ``bounds[i]`` to ``bounds[i + 1]``. Times in seconds since the epoch.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from board.state.use_line import UseLine
from grammar.making import maker

if TYPE_CHECKING:
    from board.state.spells import Ints
    from board.state.use_line import Floats

    Mask = NDArray[np.bool_]

_line = maker(UseLine)


def bounds_of(owner: Ints, count: int) -> list[int]:
    """Where what belongs to each of so many begins, the owners in order; and where all ends."""
    return np.searchsorted(owner, np.arange(count + 1)).tolist()  # type: ignore[no-any-return]


def at_each(lines: Sequence[UseLine], bounds: Sequence[int], moments: Floats) -> Floats:
    """``UseLine.at_all`` of each line's moments, to the last bit; 0 where there is no line."""
    t0, v0, t1, v1 = np.zeros((4, len(moments)))
    for line, (first, last) in zip(lines, pairwise(bounds), strict=True):
        if first == last or not len(line.times):
            continue
        times, values = np.asarray(line.times), np.asarray(line.values)
        own = slice(first, last)
        after = times.searchsorted(moments[own], side="right")
        before = after - 1
        # before the line its first point is taken twice, and after it its last
        t0[own], v0[own] = times.take(before, mode="clip"), values.take(before, mode="clip")
        t1[own], v1[own] = times.take(after, mode="clip"), values.take(after, mode="clip")
    span = t1 - t0
    span[span == 0.0] = 1.0
    return np.asarray(v0 + (v1 - v0) * (moments - t0) / span)


def reached(lines: Sequence[UseLine], bounds: Sequence[int], starts: Floats, ends: Floats) -> Mask:
    """``UseLine.reaches_all`` of each line's stretches."""
    none = (np.inf, -np.inf)
    known = [(line.times[0], line.times[-1]) if len(line.times) else none for line in lines]
    begin, end = np.repeat(np.array(known).reshape(-1, 2), np.diff(bounds), axis=0).T
    found = (starts >= begin) & (ends <= end)
    for line, (first, last) in zip(lines, pairwise(bounds), strict=True):
        if len(line.dark_to) and first < last:
            found[first:last] = line.reaches_all(starts[first:last], ends[first:last])
    return np.asarray(found)


def rises(
    lines: Sequence[UseLine], bounds: Sequence[int], starts: Floats, ends: Floats
) -> tuple[Floats, Mask]:
    """How much each line rises over each of its stretches, and whether it is known over it."""
    rise = at_each(lines, bounds, ends) - at_each(lines, bounds, starts)
    return rise, reached(lines, bounds, starts, ends)


def joined(first: Floats, last: Floats, owner: Ints) -> tuple[Floats, Floats, Ints]:
    """Stretches of each owner in order, those that meet made one."""
    if not len(first):
        return first, last, owner
    apart = (first[1:] > last[:-1]) | (owner[1:] != owner[:-1])
    begins = np.concatenate([[True], apart])
    return first[begins], last[np.concatenate([apart, [True]])], owner[begins]


def cut(
    times: Floats, values: Floats, bounds: Sequence[int], dark: tuple[Floats, Floats, Ints]
) -> list[UseLine]:
    """The lines whose points, and whose dark stretches, stand behind each other."""
    dark_from, dark_to, owner = dark
    darks = bounds_of(owner, len(bounds) - 1)
    return [
        _line(times=times[a:b], values=values[a:b], dark_from=dark_from[c:d], dark_to=dark_to[c:d])
        for (a, b), (c, d) in zip(pairwise(bounds), pairwise(darks), strict=True)
    ]


def accumulated(steps: Floats, bounds: Sequence[int]) -> Floats:
    """The values of lines of these steps, added up line by line from its first point on."""
    values = np.empty_like(steps)
    for first, last in pairwise(bounds):
        np.add.accumulate(steps[first:last], out=values[first:last])
    return values
