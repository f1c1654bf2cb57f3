"""The use lines of a shed from columns: recorded motion and meters of years, in arrays.

Makes the lines that ``use_line`` makes spell by spell, to the last bit, and scales them to what the
meters showed.
"""

from __future__ import annotations

from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from board.mill import Mill
from board.state.fleet import LoomState, Motion
from board.state.meters import Meter, rises
from board.state.spells import MOTIONS, SpellColumns, micros
from board.state.use_line import Floats, UseLine, speed_of

_HOUR = 3600.0
_MICRO = 1e6
_RUNNING = MOTIONS.index(Motion.RUNNING)


class LoomUse:
    """The use of one loom up to now, each unit's line made when it is first asked for."""

    __slots__ = ("_lines", "_meters", "_mill", "_now", "_spells", "_state")

    def __init__(
        self,
        spells: SpellColumns | None,
        meters: dict[str, Meter],
        state: LoomState,
        mill: Mill,
        now: datetime,
    ) -> None:
        self._spells = spells
        self._meters = meters
        self._state = state
        self._mill = mill
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
        start, end, rate = _pieces(self._spells, self._state, self._mill, self._now, unit)
        if not len(start) or (unit == "picks" and bool(np.isnan(rate).all())):
            return UseLine()
        return _line(start, end, rate)


def _pieces(
    spells: SpellColumns | None, state: LoomState, mill: Mill, now: datetime, unit: str
) -> tuple[Floats, Floats, Floats]:
    """Start and end [s since the epoch] and use a second of each spell; nan: it is not known."""
    until = micros(now)
    present = state.spell_since is not None and state.spell_since <= now
    since = micros(state.spell_since) if present and state.spell_since is not None else until
    if spells is None:
        start = end = np.zeros(0, dtype=np.int64)
        running = np.zeros(0, dtype=bool)
    else:
        start, end = spells.start, np.minimum(spells.end, until)
        running = spells.motion == _RUNNING
    rate = np.where(running, 1 / _HOUR, 0.0) if unit == "h" else _picks(spells, running, state, mill)
    if present:
        start, end = np.append(start, since), np.append(end, until)
        own = 0.0
        if state.motion is Motion.RUNNING:
            own = 1 / _HOUR if unit == "h" else _picks_a_second(mill, state.loom, state.style)
        rate = np.append(rate, own)
    if (start[1:] < start[:-1]).any():
        order = np.argsort(start, kind="stable")
        start, end, rate = start[order], end[order], rate[order]
    lasting = end > start
    if not lasting.all():
        start, end, rate = start[lasting], end[lasting], rate[lasting]
    return start / _MICRO, end / _MICRO, rate


def _picks(
    spells: SpellColumns | None, running: NDArray[np.bool_], state: LoomState, mill: Mill
) -> Floats:
    """Picks a second of each spell, nan where the loom ran at an unknown speed."""
    if spells is None:
        return np.zeros(0)
    rate = np.zeros(len(running))
    for style in np.unique(spells.style[running]).tolist():
        own = _picks_a_second(mill, state.loom, spells.styles[style])
        rate[running & (spells.style == style)] = own
    return rate


def _picks_a_second(mill: Mill, loom: str, style: str | None) -> float:
    speed = speed_of(mill, loom, style)
    return speed / 60.0 if speed is not None else np.nan


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
    edges = np.unique(np.concatenate([np.asarray(motion.times, dtype=float), first, last]))
    start, end = edges[:-1], edges[1:]
    moved = even_share = np.zeros(len(first))
    step = np.zeros(len(start))
    if len(motion.times):
        at = motion.at_all(edges)
        step = at[1:] - at[:-1]
        moved = motion.at_all(last) - motion.at_all(first)
    even = (moved <= 0.0) | ~motion.reaches_all(first, last)
    i = np.searchsorted(first, start, side="right") - 1
    pair = np.maximum(i, 0)
    metered = (i >= 0) & (end <= last[pair])
    with np.errstate(divide="ignore", invalid="ignore"):
        even_share = (end - start) / (last[pair] - first[pair])
        share = np.where(even[pair], even_share, step / moved[pair])
    steps = np.concatenate([[0.0], np.where(metered, shown[pair] * share, step)])
    dark = ~metered & ~motion.reaches_all(start, end)
    dark_from, dark_to = _joined(start[dark], end[dark])
    return UseLine(
        times=edges, values=np.add.accumulate(steps), dark_from=dark_from, dark_to=dark_to
    )
