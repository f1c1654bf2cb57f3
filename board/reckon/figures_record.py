"""The shed's figures over a time: availability, restoration, failures, repeats, checks, backlog.

Counted from the record, each with its counts; what cannot be told is a refusal. Figures are of
looms and parts, never of people. The definitions of down and required time stand in ``required``,
of checks due in ``checks_due``, of repeats in ``chains``; the formulas in the modules they name.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from statistics import median

from board.reckon.availability import (
    Availability,
    PooledAvailability,
    availability,
    pooled_availability,
)
from board.reckon.chains import Window, chains_in, occurrences, window_of
from board.reckon.checks_due import ChecksDone, checks_done
from board.reckon.durations import (
    NoFailures,
    Restoration,
    TimeBetweenFailures,
    restoration,
    time_between_failures,
)
from board.reckon.open_actions import ActionLine
from board.reckon.proportion import Proportion, proportion
from board.reckon.refusal import Refusal
from board.reckon.required import LoomTime, hours, loom_times, shift_spans
from board.reckon.spans import total
from board.reckon.summary import Summary
from board.state.written import extent, number
from grammar.diagnostics import Severity
from grammar.frozen import dataclass

LEVEL = 0.90


@dataclass(frozen=True, slots=True, kw_only=True)
class AvailabilityOf:
    """The recorded availability of a section, or of the shed.

    ``not_told`` [h]: shift time for which the looms were laid up or the log tells no motion.
    """

    name: str
    looms: int
    pooled: PooledAvailability | Refusal
    still_open: int
    not_told: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Failures:
    """Stops for a fault against the running hours of the looms whose use is known."""

    between: TimeBetweenFailures | NoFailures | Refusal
    failures: int
    operating: float
    use_unknown: int  # looms


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeats:
    """Faults that came again within the window after a repair, of all faults written."""

    share: Proportion | Refusal
    chains: int
    window: Window


@dataclass(frozen=True, slots=True, kw_only=True)
class Backlog:
    """Open actions now, their age in shifts, and what was closed in the time."""

    open: int
    overdue: int
    use_unknown: int  # due by use, and the use is not known
    median_age: float | Refusal
    oldest: int | Refusal
    done: int
    dropped: int
    median_days: float | Refusal  # from opening to done


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Entries whose time lies in the time looked at, and lines not understood filed in it.

    ``partly_refused`` of these lines are entries all the same, of which something was refused.
    """

    entries: int
    not_understood: int
    of_no_shift: int  # not understood, and not known when
    partly_refused: int
    partly_of_no_shift: int  # of these


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """All figures from ``start`` to ``end``."""

    start: datetime
    end: datetime
    sections: tuple[AvailabilityOf, ...]
    shed: AvailabilityOf
    restoration: Restoration | Refusal
    pairs: Proportion | Refusal
    failures: Failures
    repeats: Repeats
    checks: ChecksDone
    checks_in_time: Proportion | Refusal
    backlog: Backlog
    lines: Lines


def figures_on_record(summary: Summary, start: datetime | None = None) -> Figures | Refusal:
    """Every figure from a moment, else from the first entry, to now.

    Refuses where nothing is written before now, or the moment lies after it.
    """
    fleet, mill, end = summary.snapshot.fleet, summary.snapshot.mill, summary.as_of
    written = extent(summary.snapshot.entries, end)
    if written is None:
        return Refusal(reason="no entry up to then")
    start = written[0] if start is None else start
    if start >= end:
        return Refusal(reason="the time to look at ends before it begins")
    times = loom_times(fleet, mill, summary.calendar, start, end)
    asked = total(shift_spans(mill, summary.calendar, start, end))
    every = [times[loom] for loom in mill.looms]
    units = {each.loom: availability(each.required, each.down, as_of=hours(end)) for each in every}
    sections = tuple(
        _available(s.name, [units[loom] for loom in s.looms], asked) for s in mill.sections
    )
    pairs = [pair for each in every for pair in each.pairs(start)]
    restored = restoration(pairs, as_of=hours(end), level=LEVEL)
    checks = checks_done(fleet, mill, summary.clocks, summary.calendar, start, end)
    return Figures(
        start=start,
        end=end,
        sections=sections,
        shed=_available("shed", list(units.values()), asked),
        restoration=restored,
        pairs=_complete(restored, len(pairs)),
        failures=_failures(summary, every, start),
        repeats=_repeats(summary, start),
        checks=checks,
        checks_in_time=_share(checks.in_time, checks.due, "no check was due"),
        backlog=_backlog(summary, start),
        lines=_lines(summary, start),
    )


def _share(count: int, of: int, none: str) -> Proportion | Refusal:
    return proportion(count, of, level=LEVEL) if of else Refusal(reason=none)


def _available(name: str, units: Sequence[Availability | Refusal], asked: float) -> AvailabilityOf:
    """The availability of several looms, from that of each."""
    known = [unit for unit in units if isinstance(unit, Availability)]
    pooled = pooled_availability(known, level=LEVEL)
    if isinstance(pooled, Refusal):
        pooled = Refusal(reason="no required time on record of any loom")
    return AvailabilityOf(
        name=name,
        looms=len(known),
        pooled=pooled,
        still_open=sum(unit.still_open for unit in known),
        not_told=asked * len(units) - sum(unit.required for unit in known),
    )


def _complete(restored: Restoration | Refusal, pairs: int) -> Proportion | Refusal:
    done = 0 if isinstance(restored, Refusal) else restored.completed
    return _share(done, pairs, "no stop for maintenance began")


def _failures(summary: Summary, looms: Sequence[LoomTime], start: datetime) -> Failures:
    operating, failures, use_unknown = 0.0, 0, 0
    for each in looms:
        line = summary.clocks[each.loom].hours
        known = list(line.known(start.timestamp(), summary.as_of.timestamp()))
        if not known:
            use_unknown += 1
            continue
        operating += sum(line.rise(first, last) for first, last in known)
        failures += sum(stop.failure and stop.start >= start for stop in each.stops)
    return Failures(
        between=time_between_failures(failures, operating, level=LEVEL),
        failures=failures,
        operating=operating,
        use_unknown=use_unknown,
    )


def _repeats(summary: Summary, start: datetime) -> Repeats:
    fleet, mill = summary.snapshot.fleet, summary.snapshot.mill
    window = window_of(mill)
    faults, _ = occurrences(fleet, mill)
    chains = chains_in(faults, fleet, summary.clocks, window)
    again = [link for c in chains for link in c.links[1:] if link.fault.since >= start]
    told_twice = sum(link.fault.again for c in chains for link in c.links)
    written = sum(fault.since >= start for fault in faults)
    of = max(written - told_twice, len(again))
    return Repeats(
        share=_share(len(again), of, "no fault was written"),
        chains=sum(c.last.since >= start for c in chains),
        window=window,
    )


def _backlog(summary: Summary, start: datetime) -> Backlog:
    lines: tuple[ActionLine, ...] = summary.actions
    ages = [line.age_shifts for line in lines]
    closed = [c for c in summary.snapshot.fleet.history.closed if c.when >= start]
    done = [c for c in closed if not c.dropped]
    days = [(c.when - c.action.opened).total_seconds() / 86400.0 for c in done]
    none = Refusal(reason="no action is open")
    return Backlog(
        open=len(lines),
        overdue=sum(line.is_overdue for line in lines),
        use_unknown=sum(isinstance(line.overdue, Refusal) for line in lines),
        median_age=float(median(ages)) if ages else none,
        oldest=max(ages) if ages else none,
        done=len(done),
        dropped=len(closed) - len(done),
        median_days=median(days) if days else Refusal(reason="no action was done"),
    )


def _lines(summary: Summary, start: datetime) -> Lines:
    refused = {
        (c.path, c.diagnostic.line): c.shift
        for c in summary.snapshot.complaints
        if c.diagnostic.severity is Severity.REFUSED
    }
    spans = {key: summary.calendar.span(s) for key, s in refused.items() if s is not None}
    filed = {k for k, span in spans.items() if span.end > start and span.start <= summary.as_of}
    unfiled = refused.keys() - spans.keys()
    partly = summary.snapshot.partly_refused
    return Lines(
        entries=number(summary.snapshot.entries, start, summary.as_of),
        not_understood=len(filed),
        of_no_shift=len(unfiled),
        partly_refused=len((filed | unfiled) & partly),
        partly_of_no_shift=len(unfiled & partly),
    )
