"""The use lines of a shed from columns: years of recorded motion in arrays, many looms at once.

Makes the lines that ``use_line`` makes spell by spell, to the last bit, some looms at once. Scaling
them to what the meters showed is left to ``anchoring``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from board.mill import Mill
from board.state.anchoring import anchored, by_hours
from board.state.fleet import LoomState, Motion
from board.state.lines_abreast import accumulated, cut, joined
from board.state.meters import Meter
from board.state.spells import MOTIONS, SpellColumns, SpellPieces, micros, of_each_loom
from board.state.use_line import UseLine, speed_of

if TYPE_CHECKING:
    from board.state.lines_abreast import Mask
    from board.state.spells import Ints
    from board.state.use_line import Floats

T = TypeVar("T")

# Looms whose lines are made together: of each array there is little to do, so that calling for it
# takes longer than doing it; with more spells the arrays would not stay near the processor.
ABREAST = 32
SPELLS_ABREAST = 65_536
_AN_HOUR = 1 / 3600.0  # what a second of running makes
_MICRO = 1e6
_RUNNING = MOTIONS.index(Motion.RUNNING)


class Motions:
    """The recorded motion of a shed; each loom's line in a unit is made once for a moment."""

    __slots__ = ("_lines", "_rows", "abreast", "mill", "spells")

    def __init__(self, spells: SpellPieces, mill: Mill) -> None:
        self.spells = spells
        self.mill = mill
        self._rows = [(piece, of_each_loom(piece)) for piece in spells.pieces]
        of_a_loom = sum(len(piece.start) for piece in spells.pieces) // max(len(mill.looms), 1)
        self.abreast = max(min(ABREAST, SPELLS_ABREAST // max(of_a_loom, 1)), 1)
        self._lines: dict[tuple[object, ...], UseLine] = {}

    def line(self, state: LoomState, now: datetime, unit: str) -> UseLine:
        """The use of a loom in ``h`` or ``picks`` up to now, by recorded motion alone."""
        return self.lines((state,), now, unit)[0]

    def lines(self, states: Sequence[LoomState], now: datetime, unit: str) -> list[UseLine]:
        """The same of many looms."""
        keys = [_key(state, now, unit) for state in states]
        missing = [i for i, key in enumerate(keys) if key not in self._lines]
        for some in _several(missing, self.abreast):
            made = self._made([states[i] for i in some], now, unit)
            self._lines.update(zip((keys[i] for i in some), made, strict=True))
        return [self._lines[key] for key in keys]

    def taken(self, states: Sequence[LoomState], now: datetime, unit: str) -> list[UseLine]:
        """The same lines for whoever keeps them: here they are kept no longer."""
        found = self.lines(states, now, unit)
        for state in states:
            self._lines.pop(_key(state, now, unit), None)
        return found

    def _made(self, states: Sequence[LoomState], now: datetime, unit: str) -> list[UseLine]:
        start, end, rate, owner = self._pieces(states, now, unit)
        unknown = None if unit == "h" else np.isnan(rate)
        if unknown is not None:
            told = np.bincount(owner[~unknown], minlength=len(states)) > 0
            kept = np.flatnonzero(told[owner])  # nothing is known of the use of the others
            start, end, rate, owner = start[kept], end[kept], rate[kept], owner[kept]
            unknown = unknown[kept]
            rate[unknown] = 0.0
        return _lines(start, end, rate, unknown, owner, len(states))

    def _pieces(
        self, states: Sequence[LoomState], now: datetime, unit: str
    ) -> tuple[Floats, Floats, Floats, Ints]:
        """Start and end [s since the epoch], use a second and loom's place of each spell.

        The use is nan where it is not known. Loom by loom, each loom's in the order of their start.
        ``unbroken`` are the picks of a loom that never stands.
        """
        starts: list[Any] = []
        ends: list[Any] = []
        runs: list[Any] = []  # of hours the motion, of picks the picks a second
        counts: list[int] = []
        until = micros(now)
        by_motion, unbroken = unit == "h", unit == "unbroken"
        for state in states:
            before = len(starts)
            for piece, of_loom in self._rows:
                rows = of_loom.get(state.loom)
                if rows is not None:
                    starts.append(piece.start[rows])
                    ends.append(piece.end[rows])
                    runs.append(
                        piece.motion[rows]
                        if by_motion
                        else self._picks(state.loom, piece, rows, unbroken)
                    )
            if state.spell_since is not None and state.spell_since <= now:
                starts.append([micros(state.spell_since)])
                ends.append([until])
                own = float(MOTIONS.index(state.motion))
                if not by_motion:
                    running = unbroken or state.motion is Motion.RUNNING
                    own = self._picks_a_second(state.loom, state.style) if running else 0.0
                runs.append([own])
            counts.append(sum(map(len, starts[before:])))
        none = np.zeros(0, dtype=np.int64)
        start, end = np.concatenate([none, *starts]), np.concatenate([none, *ends])
        rate, owner = np.concatenate([none, *runs]), np.repeat(np.arange(len(states)), counts)
        if by_motion:
            rate = (rate == _RUNNING) * _AN_HOUR
        end = np.minimum(end, until)
        if ((start[1:] < start[:-1]) & (owner[1:] == owner[:-1])).any():
            order = np.lexsort((start, owner))
            start, end, rate = start[order], end[order], rate[order]
        lasting = np.flatnonzero(end > start)
        if len(lasting) < len(start):
            start, end, rate, owner = (column.take(lasting) for column in (start, end, rate, owner))
        return start / _MICRO, end / _MICRO, rate, owner

    def _picks(self, loom: str, piece: SpellColumns, rows: Ints | slice, unbroken: bool) -> Floats:
        """The picks a second of some spells of a loom; nan where it ran at an unknown speed."""
        running = (piece.motion[rows] == _RUNNING) | unbroken
        style = piece.style[rows]
        rate = np.zeros(len(running))
        for one in set(style[running].tolist()):
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


class ShedUse:
    """The use of a shed's looms up to now, made for some looms at once when one is asked for."""

    __slots__ = ("_lines", "_meters", "_motions", "_now", "_states", "_with")

    def __init__(
        self,
        motions: Motions,
        meters: Mapping[str, Mapping[str, Meter]],
        states: Mapping[str, LoomState],
        now: datetime,
    ) -> None:
        self._motions = motions
        self._meters = meters
        self._states = states
        self._now = now
        self._with = {
            loom: some for some in _several(list(states), motions.abreast) for loom in some
        }
        self._lines: dict[tuple[str, str], UseLine] = {}

    def line(self, loom: str, unit: str) -> UseLine:
        """The use of a loom in running ``h`` or ``picks``, by motion and meter."""
        found = self._lines.get((loom, unit))
        if found is None:
            some = self._with[loom]
            states = [self._states[each] for each in some]
            motions = self._motions.taken(states, self._now, unit)
            if unit == "picks":
                motions = self._by_hours(states, motions)
            made = anchored(motions, [self._meters.get(each, {}).get(unit) for each in some])
            self._lines.update(zip(((each, unit) for each in some), made, strict=True))
            found = self._lines[loom, unit]
        return found

    def _by_hours(self, states: Sequence[LoomState], picks: list[UseLine]) -> list[UseLine]:
        """The picks of looms scaled to their hour meters, where they have one."""
        meters = [self._meters.get(state.loom, {}).get("h") for state in states]
        own = [place for place, meter in enumerate(meters) if meter is not None]
        if not own:
            return picks
        metered = [states[place] for place in own]
        made = by_hours(
            [picks[place] for place in own],
            self._motions.taken(metered, self._now, "h"),
            [meter for meter in meters if meter is not None],
            lambda some: self._motions.taken([metered[i] for i in some], self._now, "unbroken"),
        )
        found = list(picks)
        for place, line in zip(own, made, strict=True):
            found[place] = line
        return found


class LoomUse:
    """The use of one loom of a shed."""

    __slots__ = ("_loom", "_shed")

    def __init__(self, shed: ShedUse, loom: str) -> None:
        self._shed = shed
        self._loom = loom

    def line(self, unit: str) -> UseLine:
        """The use in running ``h`` or ``picks``, by motion and meter."""
        return self._shed.line(self._loom, unit)


def _several(looms: Sequence[T], abreast: int) -> Iterator[Sequence[T]]:
    """Looms, as many at once as are made together."""
    for first in range(0, len(looms), abreast):
        yield looms[first : first + abreast]


def _lines(
    start: Floats, end: Floats, rate: Floats, unknown: Mask | None, owner: Ints, count: int
) -> list[UseLine]:
    """The lines of so many looms from their spells, which stand loom by loom and last."""
    begins = np.searchsorted(owner, np.arange(count + 1))
    there = np.flatnonzero(begins[:-1] < begins[1:])  # the looms that have spells
    first = begins[there]
    after = np.flatnonzero(start[1:] > end[:-1]) + 1
    gap = after[owner[after] == owner[after - 1]]
    # a point at the end of each spell, and one more where a line begins or a gap before it ends
    more = np.sort(np.concatenate([first, gap]))
    place = np.arange(len(start))
    place += np.repeat(np.arange(1, len(more) + 1), np.diff(more, append=len(start)))
    points = len(start) + len(more)
    times, steps = np.empty(points), np.zeros(points)
    times[place] = end
    times[place[more] - 1] = start[more]
    steps[place] = rate * (end - start)
    dark = end[gap - 1], start[gap], owner[gap]
    if unknown is not None and unknown.any():
        dark_from = np.concatenate([dark[0], start[unknown]])
        dark_to = np.concatenate([dark[1], end[unknown]])
        of = np.concatenate([dark[2], owner[unknown]])
        order = np.lexsort((dark_from, of))
        dark = joined(dark_from[order], dark_to[order], of[order])
    bounds = np.full(count + 1, points)
    bounds[there] = place[first] - 1
    own = np.minimum.accumulate(bounds[::-1])[::-1].tolist()  # one without spells has no points
    return cut(times, accumulated(steps, own), own, dark)
