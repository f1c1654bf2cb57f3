"""The use lines of a shed from columns: recorded motion and meters of years, in arrays.

Makes the lines that ``use_line`` makes spell by spell, to the last bit, and scales them to what the
meters showed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from board.mill import Mill
from board.state.fleet import LoomState, Motion
from board.state.meters import Meter, rises
from board.state.spells import MOTIONS, SpellColumns, SpellPieces, micros, of_each_loom
from board.state.use_line import UseLine, speed_of

if TYPE_CHECKING:
    from board.state.spells import Ints
    from board.state.use_line import Floats

    Mask = NDArray[np.bool_]

_AN_HOUR = 1 / 3600.0  # what a second of running makes
_MICRO = 1e6
_RUNNING = MOTIONS.index(Motion.RUNNING)


class Motions:
    """The recorded motion of a shed; each loom's line in a unit is made once for a moment."""

    __slots__ = ("_lines", "_rows", "mill", "spells")

    def __init__(self, spells: SpellPieces, mill: Mill) -> None:
        self.spells = spells
        self.mill = mill
        self._rows = [(piece, of_each_loom(piece)) for piece in spells.pieces]
        self._lines: dict[tuple[object, ...], UseLine] = {}

    def line(self, state: LoomState, now: datetime, unit: str) -> UseLine:
        """The use of a loom in ``h`` or ``picks`` up to now, by recorded motion alone."""
        key = _key(state, now, unit)
        if key not in self._lines:
            self._lines[key] = self._made(state, now, unit)
        return self._lines[key]

    def taken(self, state: LoomState, now: datetime, unit: str) -> UseLine:
        """The same line for whoever keeps it: here it is kept no longer."""
        return self._lines.pop(_key(state, now, unit), None) or self._made(state, now, unit)

    def _made(self, state: LoomState, now: datetime, unit: str) -> UseLine:
        start, end, rate = self._pieces(state, now, unit)
        if not len(start) or (unit == "picks" and bool(np.isnan(rate).all())):
            return UseLine()
        return _line(start, end, rate)

    def _pieces(self, state: LoomState, now: datetime, unit: str) -> tuple[Floats, Floats, Floats]:
        """Start and end [s since the epoch] and use a second of each spell; nan: not known."""
        until = micros(now)
        parts = [(p, rows[state.loom]) for p, rows in self._rows if state.loom in rows]
        none = np.zeros(0, dtype=np.int64)
        start = _behind([none, *(piece.start[rows] for piece, rows in parts)])
        end = _behind([none, *(piece.end[rows] for piece, rows in parts)])
        rates = [self._rates(state.loom, piece, rows, unit) for piece, rows in parts]
        rate = _behind([np.zeros(0), *rates])
        if len(end) and end.max() > until:
            end = np.minimum(end, until)
        if state.spell_since is not None and state.spell_since <= now:
            own = 0.0
            if state.motion is Motion.RUNNING:
                own = _AN_HOUR if unit == "h" else self._picks_a_second(state.loom, state.style)
            start = np.append(start, micros(state.spell_since))
            end, rate = np.append(end, until), np.append(rate, own)
        if (start[1:] < start[:-1]).any():
            order = np.argsort(start, kind="stable")
            start, end, rate = start[order], end[order], rate[order]
        lasting = end > start
        if not lasting.all():
            start, end, rate = start[lasting], end[lasting], rate[lasting]
        return start / _MICRO, end / _MICRO, rate

    def _rates(self, loom: str, piece: SpellColumns, rows: Ints | slice, unit: str) -> Floats:
        """The use a second of some spells of a loom; nan where it ran at an unknown speed."""
        running = piece.motion[rows] == _RUNNING
        if unit == "h":
            return np.asarray(running * _AN_HOUR)
        style = piece.style[rows]
        rate = np.zeros(len(running))
        for one in np.unique(style[running]).tolist():
            rate[running & (style == one)] = self._picks_a_second(loom, piece.styles[one])
        return rate

    def _picks_a_second(self, loom: str, style: str | None) -> float:
        speed = speed_of(self.mill, loom, style)
        return speed / 60.0 if speed is not None else np.nan


def _key(state: LoomState, now: datetime, unit: str) -> tuple[object, ...]:
    return (state.loom, unit, now, state.spell_since, state.motion, state.style)


_latest: list[Motions] = []


def motions_of(spells: SpellPieces, mill: Mill) -> Motions:
    """The motion of these spells: what complains of meters and what reckons wear share one."""
    for known in _latest:
        if known.spells is spells and known.mill is mill:
            return known
    made = Motions(spells, mill)
    _latest[:] = [made]
    return made


class LoomUse:
    """The use of one loom up to now, each unit's line made when it is first asked for."""

    __slots__ = ("_lines", "_meters", "_motions", "_now", "_state")

    def __init__(
        self, motions: Motions, meters: Mapping[str, Meter], state: LoomState, now: datetime
    ) -> None:
        self._motions = motions
        self._meters = meters
        self._state = state
        self._now = now
        self._lines: dict[str, UseLine] = {}

    def line(self, unit: str) -> UseLine:
        """The use in running ``h`` or ``picks``, by motion and meter."""
        found = self._lines.get(unit)
        if found is None:
            found = anchored(self.motion(unit), self._meters.get(unit))
            self._lines[unit] = found
        return found

    def motion(self, unit: str) -> UseLine:
        """The use in a unit by recorded motion alone."""
        return self._motions.taken(self._state, self._now, unit)


def _behind(columns: Sequence[NDArray[Any]]) -> NDArray[Any]:
    """Columns behind each other; one alone is not copied."""
    some = [column for column in columns if len(column)]
    return some[0] if len(some) == 1 else np.concatenate(columns)


def _line(start: Floats, end: Floats, rate: Floats) -> UseLine:
    gap = start[1:] > end[:-1]
    unknown = np.isnan(rate)
    # a point at the end of each piece, and one more where a gap before it ends
    place = np.arange(1, len(start) + 1)
    place[1:] += np.cumsum(gap)
    points = int(place[-1]) + 1
    times, steps = np.empty(points), np.zeros(points)
    times[0] = start[0]
    times[place] = end
    times[place[1:][gap] - 1] = start[1:][gap]
    steps[place] = np.where(unknown, 0.0, rate) * (end - start)
    first, last = end[:-1][gap], start[1:][gap]
    if unknown.any():
        first = np.concatenate([first, start[unknown]])
        last = np.concatenate([last, end[unknown]])
        order = np.argsort(first, kind="stable")
        first, last = _joined(first[order], last[order])
    return UseLine(times=times, values=np.add.accumulate(steps), dark_from=first, dark_to=last)


def _joined(first: Floats, last: Floats) -> tuple[Floats, Floats]:
    """Stretches in order, those that meet made one."""
    if not len(first):
        return first, last
    apart = first[1:] > last[:-1]
    begins = np.concatenate([[True], apart])
    ends = np.concatenate([apart, [True]])
    return first[begins], last[ends]


def anchored(motion: UseLine, meter: Meter | None) -> UseLine:
    """The line of recorded motion, scaled between readings of a meter to their difference.

    Where the motion is not known over the whole time between two readings, or tells of no use,
    what the meter rose is spread evenly over it.
    """
    if meter is None:
        return motion
    first, last, shown = rises(meter)
    if not len(first):
        return motion
    edges, at = _edges(motion, np.unique(np.concatenate([first, last])))
    start, end = edges[:-1], edges[1:]
    steps = at[1:] - at[:-1]
    moved = at[np.searchsorted(edges, last)] - at[np.searchsorted(edges, first)]
    i = np.searchsorted(first, start, side="right") - 1
    metered = (i >= 0) & (end <= last[i])
    even = (moved <= 0.0) | ~motion.reaches_all(first, last)
    alone = np.flatnonzero(~metered)
    alone = alone[~motion.reaches_all(start[alone], end[alone])]
    by_meter = np.flatnonzero(metered & ~even[i])
    pair = i[by_meter]
    steps[by_meter] = shown[pair] * (steps[by_meter] / moved[pair])
    if even.any():
        by_meter = np.flatnonzero(metered & even[i])
        pair = i[by_meter]
        share = (end[by_meter] - start[by_meter]) / (last[pair] - first[pair])
        steps[by_meter] = shown[pair] * share
    values = np.zeros(len(edges))
    np.add.accumulate(steps, out=values[1:])
    dark_from, dark_to = _joined(start[alone], end[alone])
    return UseLine(times=edges, values=values, dark_from=dark_from, dark_to=dark_to)


def _edges(motion: UseLine, more: Floats) -> tuple[Floats, Floats]:
    """The times of a line and others (in order), each once and in order, with its values there."""
    times, values = np.asarray(motion.times, dtype=float), np.asarray(motion.values, dtype=float)
    if not len(times):
        return more, np.zeros(len(more))
    if (times[1:] <= times[:-1]).any():
        edges = np.unique(np.concatenate([times, more]))
        return edges, motion.at_all(edges)
    place = np.searchsorted(times, more)
    new = times[np.minimum(place, len(times) - 1)] != more
    place, more = place[new], more[new]
    return np.insert(times, place, more), np.insert(values, place, motion.at_all(more))
