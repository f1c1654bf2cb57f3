"""The use of a loom as a line over time, from recorded motion and from its own meter.

A line never falls and knows where it is dark: stretches of which neither motion nor meter tells
anything. What clocks and complaints are made of it is left to ``usage``.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from board.mill import Mill
from board.state.fleet import LoomState, Motion
from board.state.history import CounterReading, Spell
from board.state.meters import rises
from grammar.folding import fold_word

_HOUR = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class UseLine:
    """A piecewise linear, never falling function of time; outside of it nothing is known.

    ``dark`` are stretches inside of it of which nothing is known either, in order.
    """

    times: tuple[float, ...] = ()  # [s since the epoch]
    values: tuple[float, ...] = ()
    dark: tuple[tuple[float, float], ...] = ()

    def at(self, when: float) -> float:
        """The value at a time; before the line its first, after it its last."""
        i = bisect_right(self.times, when) - 1
        if i < 0:
            return self.values[0]
        if i == len(self.times) - 1:
            return self.values[-1]
        t0, t1 = self.times[i], self.times[i + 1]
        v0, v1 = self.values[i], self.values[i + 1]
        return v0 + (v1 - v0) * (when - t0) / (t1 - t0)

    def rise(self, start: float, end: float) -> float:
        """How much it rises between two times; nothing where there is no line."""
        return self.at(end) - self.at(start) if self.times else 0.0

    def reaches(self, start: float, end: float) -> bool:
        """Whether it is known over the whole of a stretch."""
        if not self.times or start < self.times[0] or end > self.times[-1]:
            return False
        return all(last <= start or end <= first for first, last in self.dark)

    def known(self, start: float, end: float) -> Iterator[tuple[float, float]]:
        """The stretches between two times that are known."""
        if not self.times:
            return
        start, end = max(start, self.times[0]), min(end, self.times[-1])
        for first, last in self.dark:
            if start < min(first, end):
                yield start, min(first, end)
            start = max(start, last)
        if start < end:
            yield start, end


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
    tells anything.
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
    return UseLine(times=tuple(times), values=tuple(values), dark=_joined(dark))


def _joined(stretches: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Stretches in order, those that meet made one."""
    joined: list[tuple[float, float]] = []
    for start, end in stretches:
        if joined and joined[-1][1] >= start:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return tuple(joined)


# -- with the meter ------------------------------------------------------------------------


def anchored(motion: UseLine, counters: Sequence[CounterReading]) -> UseLine:
    """The line of recorded motion, scaled between readings of a meter to their difference.

    Where the motion is not known over the whole time between two readings, or tells of no use,
    what the meter rose is spread evenly over it.
    """
    pairs = rises(counters)
    if not pairs:
        return motion
    begins = [start for start, _, _ in pairs]
    moved = [motion.rise(start, end) for start, end, _ in pairs]
    even = [
        total <= 0 or not motion.reaches(start, end)
        for (start, end, _), total in zip(pairs, moved, strict=True)
    ]
    edges = sorted({*motion.times, *(t for start, end, _ in pairs for t in (start, end))})
    values = [0.0]
    dark: list[tuple[float, float]] = []
    for start, end in pairwise(edges):
        rise = motion.rise(start, end)
        i = bisect_right(begins, start) - 1
        if i >= 0 and end <= pairs[i][1]:
            first, last, shown = pairs[i]
            rise = shown * ((end - start) / (last - first) if even[i] else rise / moved[i])
        elif not motion.reaches(start, end):
            dark.append((start, end))
        values.append(values[-1] + rise)
    return UseLine(times=tuple(edges), values=tuple(values), dark=_joined(dark))
