"""The usage clock: running hours and picks of a loom as a function of time.

Recorded motion drives it (RUNNING spells, each with its style's speed); counter readings anchor
it: between two of them the recorded motion is scaled to fit. Where neither tells anything the
use is unknown, never calendar time in disguise. Instants are UTC, so that an hour of a clock
change is an hour like any other.

Picks = picks/min x 60 x running hours (common practice, no source).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from board.mill import Calendar, Mill
from board.state.fleet import Complaint, Fleet
from board.state.history import CounterReading, Spell
from board.state.meters import meter_runs
from board.state.use_line import UseLine, anchored, motion_line, pieces_of, speed_of
from grammar.diagnostics import Code, Diagnostic
from grammar.entries import Span

__all__ = ["UnknownUse", "UsageClock", "clocks", "disagreements", "speed_of"]

DISAGREEMENT = 0.10  # of the greater of the two
DISAGREEMENT_OVER = timedelta(days=7)
RECENT = timedelta(days=14)

_HOUR = 3600.0
_DAY = 24 * _HOUR
_LEAST_ON_RECORD = 8 * _HOUR


@dataclass(frozen=True, slots=True, kw_only=True)
class UnknownUse:
    """Why a use is not known."""

    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class UsageClock:
    """Running hours and picks of one loom since its log begins."""

    loom: str
    hours: UseLine
    picks: UseLine
    zone: ZoneInfo
    calendar: Calendar
    day_begins: time  # by the wall clock: when the first shift of a day begins

    def between(self, start: datetime, end: datetime, unit: str = "h") -> float | UnknownUse:
        """The use from ``start`` to ``end`` in running ``h`` or ``picks``."""
        line = self.hours if unit == "h" else self.picks
        first, last = start.timestamp(), end.timestamp()
        if line.reaches(first, last):
            return line.rise(first, last)
        return UnknownUse(reason=self._unknown(line))

    def since_begin(self, when: datetime, unit: str = "h") -> float | UnknownUse:
        """The use from the beginning of the loom's log to ``when``."""
        line = self.hours if unit == "h" else self.picks
        last = when.timestamp()
        if line.times and line.reaches(line.times[0], last) and last >= line.times[0]:
            return line.rise(line.times[0], last)
        return UnknownUse(reason=self._unknown(line))

    def _unknown(self, line: UseLine) -> str:
        if line.times:
            return f"the log of {self.loom} does not reach over this time"
        if line is self.picks and self.hours.times:
            return f"no speed and no meter of {self.loom} tells its picks"
        return f"no motion and no counter of {self.loom} on record"

    def hours_a_day(self, now: datetime) -> float | UnknownUse:
        """Running hours an open day over the last two weeks, or since the log begins.

        Closed days of the calendar are left out with what ran on them, so that a holiday does
        not look like a slow loom. Taken for days of the calendar the rate is too high where days
        are closed: what is due by use is then told too early, never too late. A day begins with
        its first shift.
        """
        if not self.hours.times:
            return UnknownUse(reason=self._unknown(self.hours))
        end = now.timestamp()
        use = open_for = 0.0
        for start, last in self._open(end - RECENT.total_seconds(), end):
            for first, until in self.hours.known(start, last):
                use += self.hours.rise(first, until)
                open_for += until - first
        if open_for < _LEAST_ON_RECORD:
            return UnknownUse(reason=f"less than 8 h of {self.loom} on record")
        return use / (open_for / _DAY)

    def _open(self, start: float, end: float) -> Iterator[tuple[float, float]]:
        """The stretches between two times that lie in open days."""
        day = datetime.fromtimestamp(start, self.zone).date() - timedelta(days=1)
        begins = datetime.combine(day, self.day_begins, tzinfo=self.zone).timestamp()
        while begins < end:
            after = day + timedelta(days=1)
            ends = datetime.combine(after, self.day_begins, tzinfo=self.zone).timestamp()
            is_open = day.weekday() in self.calendar.days and day not in self.calendar.closed
            if is_open and max(begins, start) < min(ends, end):
                yield max(begins, start), min(ends, end)
            day, begins = after, ends


# -- from facts to clocks ------------------------------------------------------------------


def clocks(fleet: Fleet, mill: Mill) -> Mapping[str, UsageClock]:
    """The usage clock of every loom, up to now."""
    spells, counters = _spells(fleet), _counters(fleet)
    day_begins = min((shift.start for shift in mill.shifts), default=time(0))
    found = {}
    for loom, state in fleet.looms.items():
        pieces = pieces_of(spells[loom], state, mill, fleet.as_of)
        found[loom] = UsageClock(
            loom=loom,
            hours=anchored(motion_line(pieces, "h"), counters[loom, "h"]),
            picks=anchored(motion_line(pieces, "picks"), counters[loom, "picks"]),
            zone=mill.zone,
            calendar=mill.calendar,
            day_begins=day_begins,
        )
    return found


def _spells(fleet: Fleet) -> Mapping[str, list[Spell]]:
    found: dict[str, list[Spell]] = defaultdict(list)
    for spell in fleet.history.spells:
        found[spell.loom].append(spell)
    return found


def _counters(fleet: Fleet) -> Mapping[tuple[str, str], list[CounterReading]]:
    """The readings of each loom's meters by unit, in time order."""
    found: dict[tuple[str, str], list[CounterReading]] = defaultdict(list)
    for reading in fleet.history.counters:
        found[reading.loom, reading.unit].append(reading)
    return found


def disagreements(fleet: Fleet, mill: Mill) -> tuple[Complaint, ...]:
    """Counters that differ from the recorded motion by more than 10 % over a week or more."""
    spells = _spells(fleet)
    found: list[Complaint] = []
    for (loom, unit), readings in sorted(_counters(fleet).items()):
        pieces = pieces_of(spells[loom], fleet.looms[loom], mill, fleet.as_of)
        motion = motion_line(pieces, unit)
        for run in meter_runs(readings):
            found += _disagreeing(motion, run)
    return tuple(found)


def _disagreeing(motion: UseLine, run: Sequence[CounterReading]) -> Iterator[Complaint]:
    start = run[0]
    for reading in run[1:]:
        if reading.when - start.when < DISAGREEMENT_OVER:
            continue
        first, last = start.when.timestamp(), reading.when.timestamp()
        if motion.reaches(first, last):
            shown, recorded = reading.value - start.value, motion.rise(first, last)
            if abs(shown - recorded) > DISAGREEMENT * max(shown, recorded):
                yield _disagreement(reading, shown, recorded, start.when)
        start = reading


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
