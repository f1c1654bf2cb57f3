"""The usage clock: running hours and picks of a loom as a function of time.

Recorded motion drives it (RUNNING spells, each with its style's speed); counter readings anchor
it: between two of them the recorded motion is scaled to fit. Where neither tells anything the
use is unknown, never calendar time in disguise.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from board.mill import Mill
from board.state.fleet import Complaint, Fleet, LoomState, Motion
from board.state.history import CounterReading, Spell
from grammar.diagnostics import Code, Diagnostic
from grammar.entries import Span

DISAGREEMENT = 0.10  # of the counter's use
DISAGREEMENT_OVER = timedelta(days=7)
RECENT = timedelta(days=14)

_HOUR = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class UnknownUse:
    """Why a use is not known."""

    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """A piecewise linear, never falling function of time; outside of it nothing is known."""

    times: tuple[float, ...]  # [s since the epoch]
    values: tuple[float, ...]

    def at(self, when: float) -> float | None:
        if not self.times or when < self.times[0] or when > self.times[-1]:
            return None
        i = bisect_right(self.times, when) - 1
        if i == len(self.times) - 1:
            return self.values[-1]
        t0, t1 = self.times[i], self.times[i + 1]
        v0, v1 = self.values[i], self.values[i + 1]
        return v0 if t1 == t0 else v0 + (v1 - v0) * (when - t0) / (t1 - t0)


@dataclass(frozen=True, slots=True, kw_only=True)
class UsageClock:
    """Running hours and picks of one loom since its log begins."""

    loom: str
    hours: _Line
    picks: _Line

    def between(self, start: datetime, end: datetime, unit: str = "h") -> float | UnknownUse:
        """The use from ``start`` to ``end`` in running ``h`` or ``picks``."""
        line = self.hours if unit == "h" else self.picks
        first, last = line.at(start.timestamp()), line.at(end.timestamp())
        if first is not None and last is not None:
            return last - first
        if not line.times:
            return UnknownUse(reason=f"no motion and no counter of {self.loom} on record")
        return UnknownUse(reason=f"the log of {self.loom} does not reach over this time")

    def since_begin(self, when: datetime, unit: str = "h") -> float | UnknownUse:
        """The use from the beginning of the loom's log to ``when``."""
        line = self.hours if unit == "h" else self.picks
        value = line.at(when.timestamp())
        if value is None:
            return UnknownUse(reason=f"the log of {self.loom} does not reach to this time")
        return value

    def hours_a_day(self, now: datetime) -> float | UnknownUse:
        """Running hours a day over the last two weeks, or since the log begins."""
        if not self.hours.times:
            return UnknownUse(reason=f"no motion and no counter of {self.loom} on record")
        begin = max(now.timestamp() - RECENT.total_seconds(), self.hours.times[0])
        end = min(now.timestamp(), self.hours.times[-1])
        if end - begin < 8 * _HOUR:
            return UnknownUse(reason=f"less than 8 h of {self.loom} on record")
        first, last = self.hours.at(begin), self.hours.at(end)
        assert first is not None
        assert last is not None
        return (last - first) / ((end - begin) / _HOUR / 24)


@dataclass(frozen=True, slots=True)
class _Piece:
    """A stretch of recorded motion with its rates a second."""

    start: float
    end: float
    hours_rate: float
    picks_rate: float | None


def clocks(fleet: Fleet, mill: Mill) -> Mapping[str, UsageClock]:
    """The usage clock of every loom, up to now."""
    spells: dict[str, list[Spell]] = defaultdict(list)
    for spell in fleet.history.spells:
        spells[spell.loom].append(spell)
    counters: dict[str, list[CounterReading]] = defaultdict(list)
    for reading in fleet.history.counters:
        if reading.when <= fleet.as_of:
            counters[reading.loom].append(reading)
    return {
        loom: _clock(loom, _pieces(spells[loom], state, mill, fleet.as_of), counters[loom])
        for loom, state in fleet.looms.items()
    }


def _pieces(spells: Iterable[Spell], state: LoomState, mill: Mill, now: datetime) -> list[_Piece]:
    all_spells = list(spells)
    since = state.spell_since or state.motion_since
    if since is not None and since <= now:
        all_spells.append(
            Spell(
                loom=state.loom,
                motion=state.motion,
                start=since,
                end=now,
                reason=state.stopped_for,
                style=state.style,
            )
        )
    pieces = []
    for spell in sorted(all_spells, key=lambda s: s.start):
        end = min(spell.end or now, now)
        if end <= spell.start:
            continue
        running = spell.motion is Motion.RUNNING
        speed = speed_of(mill, state.loom, spell.style)
        picks = speed / 60.0 if speed is not None else None
        pieces.append(
            _Piece(
                spell.start.timestamp(),
                end.timestamp(),
                1 / _HOUR if running else 0.0,
                (picks if running else 0.0),
            )
        )
    return pieces


def speed_of(mill: Mill, loom: str, style: str | None) -> float | None:
    """The speed [picks/min] of a loom in a style: the style's own, else its section's."""
    own = mill.style_speeds.get(style) if style else None
    return own if own is not None else mill.section_of[loom].speed


def _clock(loom: str, pieces: list[_Piece], counters: list[CounterReading]) -> UsageClock:
    hours = _integrate([(p.start, p.end, p.hours_rate) for p in pieces])
    picks = _Line(times=(), values=())
    if all(p.picks_rate is not None for p in pieces):
        picks = _integrate([(p.start, p.end, p.picks_rate or 0.0) for p in pieces])
    by_unit: dict[str, list[CounterReading]] = defaultdict(list)
    for reading in sorted(counters, key=lambda c: c.when):
        by_unit[reading.unit].append(reading)
    return UsageClock(
        loom=loom,
        hours=_anchored(hours, by_unit["h"]),
        picks=_anchored(picks, by_unit["picks"]),
    )


def _integrate(pieces: list[tuple[float, float, float]]) -> _Line:
    if not pieces:
        return _Line(times=(), values=())
    times, values = [pieces[0][0]], [0.0]
    for start, end, rate in pieces:
        if start > times[-1]:  # a gap in the record: no use is known to have happened in it
            times.append(start)
            values.append(values[-1])
        times.append(end)
        values.append(values[-1] + rate * (end - start))
    return _Line(times=tuple(times), values=tuple(values))


def _meter_runs(counters: Sequence[CounterReading]) -> Iterable[tuple[CounterReading, ...]]:
    """Counter readings in runs of one meter."""
    run: list[CounterReading] = []
    for reading in counters:
        if reading.new_meter and run:
            yield tuple(run)
            run = []
        run.append(reading)
    if run:
        yield tuple(run)


def _anchored(motion: _Line, counters: Sequence[CounterReading]) -> _Line:
    """The line of recorded motion, scaled between counters to their differences."""
    pairs = [
        (a.when.timestamp(), b.when.timestamp(), b.value - a.value)
        for run in _meter_runs(counters)
        for a, b in zip(run, run[1:], strict=False)
        if b.when > a.when
    ]
    if not pairs:
        return motion
    first = min([*motion.times[:1], pairs[0][0]])
    last = max([*motion.times[-1:], pairs[-1][1]])
    edges = sorted({first, last, *motion.times, *(t for p in pairs for t in p[:2])})
    values = [0.0]
    for start, end in zip(edges, edges[1:], strict=False):
        recorded = _rise(motion, start, end)
        pair = next((p for p in pairs if p[0] <= start and end <= p[1]), None)
        if pair is not None:
            total = _rise(motion, pair[0], pair[1])
            share = recorded / total if total > 0 else (end - start) / (pair[1] - pair[0])
            recorded = pair[2] * share
        values.append(values[-1] + recorded)
    return _Line(times=tuple(edges), values=tuple(values))


def _rise(line: _Line, start: float, end: float) -> float:
    if not line.times:
        return 0.0
    clamp = [min(max(t, line.times[0]), line.times[-1]) for t in (start, end)]
    low, high = line.at(clamp[0]), line.at(clamp[1])
    return (high or 0.0) - (low or 0.0)


def disagreements(fleet: Fleet, mill: Mill) -> tuple[Complaint, ...]:
    """Counters that differ from the recorded motion by more than 10 % over a week or more."""
    spells: dict[str, list[Spell]] = defaultdict(list)
    for spell in fleet.history.spells:
        spells[spell.loom].append(spell)
    counters: dict[tuple[str, str], list[CounterReading]] = defaultdict(list)
    for reading in fleet.history.counters:
        counters[reading.loom, reading.unit].append(reading)
    found = []
    for (loom, unit), readings in sorted(counters.items()):
        pieces = _pieces(spells[loom], fleet.looms[loom], mill, fleet.as_of)
        if unit == "picks" and any(p.picks_rate is None for p in pieces):
            continue
        rates = [
            (p.start, p.end, p.hours_rate if unit == "h" else (p.picks_rate or 0.0)) for p in pieces
        ]
        motion = _integrate(rates)
        for run in _meter_runs(readings):
            found += _disagreeing(motion, run)
    return tuple(found)


def _disagreeing(motion: _Line, run: Sequence[CounterReading]) -> list[Complaint]:
    found = []
    start = run[0]
    for reading in run[1:]:
        if reading.when - start.when < DISAGREEMENT_OVER:
            continue
        if motion.times and motion.times[0] <= start.when.timestamp():
            shown = reading.value - start.value
            recorded = _rise(motion, start.when.timestamp(), reading.when.timestamp())
            if abs(shown - recorded) > DISAGREEMENT * max(shown, recorded):
                found.append(_disagreement(reading, shown, recorded, start.when))
        start = reading
    return found


def _disagreement(
    reading: CounterReading, shown: float, recorded: float, since: datetime
) -> Complaint:
    at = reading.source.text.casefold().find("counter")
    diagnostic = Diagnostic(
        code=Code.COUNTER_DISAGREES,
        message=f"the meter of {reading.loom} rose by {shown:.0f} {reading.unit} since"
        f" {since:%Y-%m-%d}, and the recorded motion makes {recorded:.0f}",
        line=reading.source.line,
        span=Span(max(at, 0), len(reading.source.text)),
        text=reading.source.text,
        help="read the meter again; stops may be missing from the log",
    )
    return Complaint(path=reading.source.path, diagnostic=diagnostic)
