"""The use of a loom as a line over time, and what recorded motion makes of it, spell by spell.

A line never falls and knows where it is dark: stretches of which neither motion nor meter tells
anything. The lines of a whole shed are made in ``motion_columns``; what clocks and complaints are
made of them is left to ``usage``. Without numpy as long as no more than single moments are asked.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Protocol

from board.mill import Mill
from board.state.fleet import LoomState, Motion
from board.state.history import Spell
from grammar.folding import fold_word
from grammar.frozen import dataclass

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_HOUR = 3600.0


class Numbers(Protocol):
    """A tuple of numbers, or an array."""

    def __len__(self) -> int: ...
    def __getitem__(self, place: int, /) -> float: ...


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UseLine:
    """A piecewise linear, never falling function of time; outside of it nothing is known.

    From ``dark_from`` to ``dark_to`` lie stretches inside of it of which nothing is known either,
    in order and apart from each other. Times in seconds since the epoch.
    """

    times: Numbers = ()
    values: Numbers = ()
    dark_from: Numbers = ()
    dark_to: Numbers = ()

    @property
    def begin(self) -> float | None:
        """Where it begins [s since the epoch]; None where there is no line."""
        return float(self.times[0]) if len(self.times) else None

    @property
    def end(self) -> float | None:
        """Where it ends [s since the epoch]; None where there is no line."""
        return float(self.times[-1]) if len(self.times) else None

    def at(self, when: float) -> float:
        """The value at a time; before the line its first, after it its last."""
        i = bisect_right(self.times, when) - 1
        if i < 0:
            return float(self.values[0])
        if i == len(self.times) - 1:
            return float(self.values[-1])
        t0, t1 = float(self.times[i]), float(self.times[i + 1])
        v0, v1 = float(self.values[i]), float(self.values[i + 1])
        return v0 + (v1 - v0) * (when - t0) / (t1 - t0)

    def at_all(self, moments: Floats) -> Floats:
        """``at`` of many moments, to the last bit. Raises IndexError where there is no line."""
        import numpy as np

        times, values = np.asarray(self.times), np.asarray(self.values)
        last = len(times) - 1
        if last == 0:
            return np.full(len(moments), values[0])
        i = times.searchsorted(moments, side="right") - 1
        before, after = i < 0, i >= last
        edge = before.any() or after.any()
        if edge:
            i = np.minimum(np.maximum(i, 0), last - 1)
        t0, v0 = times[i], values[i]
        i += 1
        found = v0 + (values[i] - v0) * (moments - t0) / (times[i] - t0)
        if edge:
            found[before] = values[0]
            found[after] = values[last]
        return np.asarray(found)

    def rise(self, start: float, end: float) -> float:
        """How much it rises between two times; nothing where there is no line."""
        return self.at(end) - self.at(start) if len(self.times) else 0.0

    def reaches(self, start: float, end: float) -> bool:
        """Whether it is known over the whole of a stretch."""
        if not len(self.times) or start < self.times[0] or end > self.times[-1]:
            return False
        i = bisect_right(self.dark_to, start)
        return i == len(self.dark_to) or bool(end <= self.dark_from[i])

    def reaches_all(self, starts: Floats, ends: Floats) -> NDArray[np.bool_]:
        """``reaches`` of many stretches."""
        import numpy as np

        if not len(self.times):
            return np.zeros(len(starts), dtype=bool)
        known = (starts >= self.times[0]) & (ends <= self.times[-1])
        if len(self.dark_to):
            # one more that never comes, for what lies behind the last
            first = np.append(np.asarray(self.dark_from), np.inf)
            known &= ends <= first[np.asarray(self.dark_to).searchsorted(starts, side="right")]
        return np.asarray(known)

    def known(self, start: float, end: float) -> Iterator[tuple[float, float]]:
        """The stretches between two times that are known."""
        if not len(self.times):
            return
        start, end = max(start, float(self.times[0])), min(end, float(self.times[-1]))
        for i in range(bisect_right(self.dark_to, start), len(self.dark_to)):
            first = float(self.dark_from[i])
            if start < min(first, end):
                yield start, min(first, end)
            if first >= end:
                return
            start = max(start, float(self.dark_to[i]))
        if start < end:
            yield start, end

    def known_of(self, stretches: Sequence[tuple[float, float]]) -> Sequence[tuple[float, float]]:
        """What of some stretches, in order, is known."""
        if stretches and not len(self.dark_to) and self.reaches(stretches[0][0], stretches[-1][1]):
            return stretches
        return [told for start, end in stretches for told in self.known(start, end)]


# -- recorded motion -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of recorded motion [s since the epoch] with what it makes a second.

    ``picks`` is None where the loom ran and no speed is known.
    """

    start: float
    end: float
    hours: float
    picks: float | None


def pieces_of(spells: Iterable[Spell], state: LoomState, mill: Mill, now: datetime) -> list[Piece]:
    """The recorded motion of a loom up to now, in the order of time."""
    told = list(spells)
    if state.spell_since is not None and state.spell_since <= now:
        told.append(
            Spell(
                loom=state.loom,
                motion=state.motion,
                start=state.spell_since,
                end=now,
                reason=state.stopped_for,
                style=state.style,
            )
        )
    speeds: dict[str | None, float | None] = {}
    pieces = []
    for spell in sorted(told, key=lambda s: s.start):
        end = min(spell.end or now, now)
        if end <= spell.start:
            continue
        hours, picks = 0.0, 0.0 if spell.motion is not Motion.RUNNING else None
        if spell.motion is Motion.RUNNING:
            if spell.style not in speeds:
                speeds[spell.style] = speed_of(mill, state.loom, spell.style)
            speed = speeds[spell.style]
            hours, picks = 1 / _HOUR, speed / 60.0 if speed is not None else None
        pieces.append(Piece(spell.start.timestamp(), end.timestamp(), hours, picks))
    return pieces


def speed_of(mill: Mill, loom: str, style: str | None) -> float | None:
    """The speed [picks/min] of a loom in a style: the style's own, else its section's."""
    if style is not None:
        word = fold_word(style)
        for name, speed in mill.style_speeds.items():
            if fold_word(name) == word:
                return speed
    return mill.section_of[loom].speed


def motion_line(pieces: Sequence[Piece], unit: str) -> UseLine:
    """The use [running h or picks] that recorded motion makes.

    Dark where it has a gap or where a loom ran at an unknown speed; no line at all if it never
    tells anything. ``motion_columns`` makes the same lines of many more spells.
    """
    if not pieces or (unit == "picks" and all(p.picks is None for p in pieces)):
        return UseLine()
    times, values = [pieces[0].start], [0.0]
    dark: list[tuple[float, float]] = []
    for piece in pieces:
        if piece.start > times[-1]:
            dark.append((times[-1], piece.start))
            times.append(piece.start)
            values.append(values[-1])
        rate = piece.hours if unit == "h" else piece.picks
        if rate is None:
            dark.append((piece.start, piece.end))
        times.append(piece.end)
        values.append(values[-1] + (rate or 0.0) * (piece.end - piece.start))
    first, last = _joined(dark)
    return UseLine(times=times, values=values, dark_from=first, dark_to=last)


def _joined(stretches: Sequence[tuple[float, float]]) -> tuple[list[float], list[float]]:
    """Stretches in order, those that meet made one: where each begins, and where it ends."""
    first: list[float] = []
    last: list[float] = []
    for start, end in stretches:
        if last and last[-1] >= start:
            last[-1] = end
        else:
            first.append(start)
            last.append(end)
    return first, last
