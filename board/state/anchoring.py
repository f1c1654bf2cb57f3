"""The recorded motion of looms scaled to what their meters showed, many looms at once.

A meter in a line's own unit says how much it rose; one of hours also says how long a loom made
picks.

What a meter is, and which of its readings can be true together, is left to ``meters``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from board.state.lines_abreast import accumulated, at_each, bounds_of, cut, joined, reached
from board.state.meters import Meter, rises
from board.state.use_line import UseLine

if TYPE_CHECKING:
    from board.state.spells import Ints
    from board.state.use_line import Floats

_HOUR = 3600.0
_DARK = ("dark_from", "dark_to")


def anchored(motions: Sequence[UseLine], meters: Sequence[Meter | None]) -> list[UseLine]:
    """The lines of recorded motion, each scaled between readings of its meter to their difference.

    Where the motion is not known over the whole time between two readings, or tells of no use,
    what the meter rose is spread evenly over it.
    """
    own = [place for place, meter in enumerate(meters) if meter is not None]
    found = list(motions)
    if own:
        first, last, rise, meter = rises([m for m in meters if m is not None])
        begins = np.diff(meter, prepend=-1) > 0
        owner = np.cumsum(begins) - 1
        own = [own[place] for place in meter[begins].tolist()]
    if own:
        made = _scaled([motions[place] for place in own], first, last, rise, owner)
        for place, line in zip(own, made, strict=True):
            found[place] = line
    return found


def _scaled(
    motions: Sequence[UseLine], first: Floats, last: Floats, rise: Floats, owner: Ints
) -> list[UseLine]:
    """Lines scaled to what the meter of each, their ``owner``, rose over stretches of time."""
    times, at, bounds, begins, ends = _edges(motions, first, last, owner)
    moved = at[ends] - at[begins]
    even = (moved <= 0.0) | ~reached(motions, bounds_of(owner, len(motions)), first, last)

    steps = _steps(at, bounds)
    lengths = ends - begins
    by_meter = _ranges(begins + 1, lengths)
    stretch = np.repeat(np.arange(len(first)), lengths)
    spread = even[stretch]
    alone = np.ones(len(at), dtype=bool)
    alone[by_meter] = False
    alone[bounds[:-1]] = False
    if even.any():
        points, own = by_meter[spread], stretch[spread]
        share = (times[points] - times[points - 1]) / (last[own] - first[own])
        steps[points] = rise[own] * share
        by_meter, stretch = by_meter[~spread], stretch[~spread]
    steps[by_meter] = rise[stretch] * (steps[by_meter] / moved[stretch])

    points = np.flatnonzero(alone)
    of_line = np.searchsorted(bounds, points, side="right") - 1
    start, end = times[points - 1], times[points]
    dark = ~reached(motions, bounds_of(of_line, len(motions)), start, end)
    return cut(
        times,
        accumulated(steps, bounds),
        bounds,
        joined(start[dark], end[dark], of_line[dark]),
    )


def by_hours(
    picks: Sequence[UseLine],
    hours: Sequence[UseLine],
    meters: Sequence[Meter],
    unbroken: Callable[[Sequence[int]], Sequence[UseLine]],
) -> list[UseLine]:
    """The picks of recorded motion, scaled between readings of an hour meter as the hours are.

    ``hours`` are the running hours of the same motion. ``unbroken`` tells the picks that looms, by
    their place, had made if they had never stood: their speed where a meter rose though the motion
    tells of no use, so that its hours are spread evenly. Where the motion is not known no speed is.
    """
    found = list(picks)
    first, last, rise, meter = rises(meters)
    bounds = bounds_of(meter, len(meters))
    known = reached(hours, bounds, first, last)
    known &= np.array([len(line.times) > 0 for line in picks])[meter]
    ran = at_each(hours, bounds, last) - at_each(hours, bounds, first)
    first, last, rise, ran = (column[known] for column in (first, last, rise, ran))
    meter = meter[known]
    begins = np.diff(meter, prepend=-1) > 0
    own = meter[begins].tolist()
    if own:
        motions, owner = [picks[place] for place in own], np.cumsum(begins) - 1
        made = _paced(motions, first, last, rise, ran, owner, lambda: unbroken(own))
        for place, line in zip(own, made, strict=True):
            found[place] = line
    return found


def _paced(
    motions: Sequence[UseLine],
    first: Floats,
    last: Floats,
    rise: Floats,
    ran: Floats,
    owner: Ints,
    unbroken: Callable[[], Sequence[UseLine]],
) -> list[UseLine]:
    """Lines of picks over stretches in which the meter of each rose by hours, and the loom ran."""
    times, at, bounds, begins, ends = _edges(motions, first, last, owner)
    steps = _steps(at, bounds)
    lengths = ends - begins
    points = _ranges(begins + 1, lengths)
    stretch = np.repeat(np.arange(len(first)), lengths)
    stood = ran[stretch] <= 0.0
    if stood.any():
        some, own = points[stood], stretch[stood]
        lines, asked = unbroken(), bounds_of(owner[own], len(motions))
        whole = at_each(lines, asked, times[some]) - at_each(lines, asked, times[some - 1])
        steps[some] = whole * (rise[own] * _HOUR / (last[own] - first[own]))
        points, stretch = points[~stood], stretch[~stood]
    steps[points] *= rise[stretch] / ran[stretch]
    dark = [np.concatenate([getattr(line, end) for line in motions]) for end in _DARK]
    of_dark = np.repeat(np.arange(len(motions)), [len(line.dark_from) for line in motions])
    return cut(times, accumulated(steps, bounds), bounds, (dark[0], dark[1], of_dark))


def _steps(at: Floats, bounds: Sequence[int]) -> Floats:
    """The step that leads to each point of lines but the first of each."""
    steps = np.empty(len(at))
    steps[1:] = at[1:] - at[:-1]
    steps[bounds[:-1]] = 0.0
    return steps


def _ranges(first: Ints, lengths: Ints) -> Ints:
    """Whole numbers behind each other: so many from each first one on."""
    before = np.cumsum(lengths) - lengths
    return np.asarray(np.arange(int(lengths.sum())) + np.repeat(first - before, lengths))


def _edges(
    motions: Sequence[UseLine], first: Floats, last: Floats, owner: Ints
) -> tuple[Floats, Floats, list[int], Ints, Ints]:
    """The times of each line and those of its meter, each once and in order, with its values there.

    And where the lines lie among them, and the first and the last time of each stretch.
    """
    count = len(motions)
    # stretches lie in order, each behind the one before or at its end
    more, own = np.stack([first, last], axis=1).ravel(), np.repeat(owner, 2)
    once = np.ones(len(more), dtype=bool)
    once[1:] = (more[1:] != more[:-1]) | (own[1:] != own[:-1])
    which = np.cumsum(once) - 1
    more, own = more[once], own[once]
    bounds = bounds_of(own, count)

    steady = [_steady(line) for line in motions]
    times = np.concatenate([np.asarray(line.times, dtype=float) for line in steady])
    values = np.concatenate([np.asarray(line.values, dtype=float) for line in steady])
    lengths = [len(line.times) for line in steady]
    starts = np.cumsum([0, *lengths])
    place = np.concatenate(
        [
            start + np.asarray(line.times).searchsorted(more[a:b])
            for line, start, (a, b) in zip(steady, starts[:-1], pairwise(bounds), strict=True)
        ]
    ).astype(np.int64)
    new = place == starts[own + 1]
    new[~new] = times[place[~new]] != more[~new]
    added = np.cumsum(new)
    point = place + added - new

    edges, at = np.empty((2, len(times) + int(new.sum())))
    old = np.ones(len(edges), dtype=bool)
    old[point[new]] = False
    edges[old], at[old] = times, values
    edges[point[new]] = more[new]
    at[point[new]] = at_each(motions, bounds_of(own[new], count), more[new])
    before = np.concatenate([[0], added])[bounds]
    begins, ends = point[which].reshape(-1, 2).T
    return edges, at, (starts + before).tolist(), begins, ends


def _steady(line: UseLine) -> UseLine:
    """The line with its times each once and in order, which they are but where spells overlap."""
    times = np.asarray(line.times, dtype=float)
    if not (times[1:] <= times[:-1]).any():
        return line
    once = np.unique(times)
    return UseLine(times=once, values=line.at_all(once))
