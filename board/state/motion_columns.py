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
from board.state.anchoring import anchored
from board.state.fleet import LoomState, Motion
from board.state.lines_abreast import accumulated, cut, joined
from board.state.meters import Meter
from board.state.spells import MOTIONS, SpellColumns, SpellPieces, micros, of_each_loom
from board.state.use_line import UseLine, speed_of

if TYPE_CHECKING:
    from board.state.spells import Ints
    from board.state.use_line import Floats

T = TypeVar("T")

# Looms whose lines are made together: of each array there is little to do, so that calling for it
# takes longer than doing it; for all looms at once the arrays would not stay near the processor.
ABREAST = 32
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
        return self.lines((state,), now, unit)[0]

    def lines(self, states: Sequence[LoomState], now: datetime, unit: str) -> list[UseLine]:
        """The same of many looms."""
        keys = [_key(state, now, unit) for state in states]
        missing = [i for i, key in enumerate(keys) if key not in self._lines]
        for some in _several(missing):
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
        told = np.bincount(owner[~np.isnan(rate)], minlength=len(states)).astype(bool)
        if not told.all():  # nothing is known of the use of some
            kept = told[owner]
            start, end, rate, owner = start[kept], end[kept], rate[kept], owner[kept]
        return _lines(start, end, rate, owner, len(states))

    def _pieces(
        self, states: Sequence[LoomState], now: datetime, unit: str
    ) -> tuple[Floats, Floats, Floats, Ints]:
        """Start and end [s since the epoch], use a second and loom's place of each spell.

        The use is nan where it is not known. Loom by loom, each loom's in the order of their start.
        """
        starts: list[Any] = []
        ends: list[Any] = []
        rates: list[Any] = []
        counts: list[int] = []
        until = micros(now)
        for state in states:
            before = len(starts)
            for piece, of_loom in self._rows:
                rows = of_loom.get(state.loom)
                if rows is not None:
                    starts.append(piece.start[rows])
                    ends.append(piece.end[rows])
                    rates.append(self._rates(state.loom, piece, rows, unit))
            if state.spell_since is not None and state.spell_since <= now:
                own = 0.0
                if state.motion is Motion.RUNNING:
                    own = _AN_HOUR if unit == "h" else self._picks_a_second(state.loom, state.style)
                starts.append([micros(state.spell_since)])
                ends.append([until])
                rates.append([own])
            counts.append(sum(map(len, starts[before:])))
        none = np.zeros(0, dtype=np.int64)
        start, end = np.concatenate([none, *starts]), np.concatenate([none, *ends])
        rate, owner = np.concatenate([none, *rates]), np.repeat(np.arange(len(states)), counts)
        end = np.minimum(end, until)
        if ((start[1:] < start[:-1]) & (owner[1:] == owner[:-1])).any():
            order = np.lexsort((start, owner))
            start, end, rate = start[order], end[order], rate[order]
        lasting = end > start
        if not lasting.all():
            start, end, rate, owner = start[lasting], end[lasting], rate[lasting], owner[lasting]
        return start / _MICRO, end / _MICRO, rate, owner

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
        self._with = {loom: some for some in _several(list(states)) for loom in some}
        self._lines: dict[tuple[str, str], UseLine] = {}

    def line(self, loom: str, unit: str) -> UseLine:
        """The use of a loom in running ``h`` or ``picks``, by motion and meter."""
        found = self._lines.get((loom, unit))
        if found is None:
            some = self._with[loom]
            states = [self._states[each] for each in some]
            motions = self._motions.taken(states, self._now, unit)
            made = anchored(motions, [self._meters.get(each, {}).get(unit) for each in some])
            self._lines.update(zip(((each, unit) for each in some), made, strict=True))
            found = self._lines[loom, unit]
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


def _several(looms: Sequence[T]) -> Iterator[Sequence[T]]:
    """Looms, as many at once as are made together."""
    for first in range(0, len(looms), ABREAST):
        yield looms[first : first + ABREAST]


def _lines(start: Floats, end: Floats, rate: Floats, owner: Ints, count: int) -> list[UseLine]:
    """The lines of so many looms from their spells, which stand loom by loom and last."""
    first = np.ones(len(start), dtype=bool)
    first[1:] = owner[1:] != owner[:-1]
    gap = np.zeros(len(start), dtype=bool)
    gap[1:] = start[1:] > end[:-1]
    gap &= ~first
    unknown = np.isnan(rate)
    # a point at the end of each spell, and one more where a line begins or a gap before it ends
    more = first | gap
    place = np.arange(len(start)) + np.cumsum(more)
    points = len(start) + int(more.sum())
    times, steps = np.empty(points), np.zeros(points)
    times[place] = end
    times[place[more] - 1] = start[more]
    steps[place] = np.where(unknown, 0.0, rate) * (end - start)
    after = np.flatnonzero(gap)
    dark = end[after - 1], start[after], owner[after]
    if unknown.any():
        dark_from = np.concatenate([dark[0], start[unknown]])
        dark_to = np.concatenate([dark[1], end[unknown]])
        of = np.concatenate([dark[2], owner[unknown]])
        order = np.lexsort((dark_from, of))
        dark = joined(dark_from[order], dark_to[order], of[order])
    of_each = np.bincount(owner, minlength=count) + np.bincount(owner[more], minlength=count)
    bounds = [0, *np.cumsum(of_each).tolist()]
    return cut(times, accumulated(steps, bounds), bounds, dark)
