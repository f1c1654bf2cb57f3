"""The shed's figures on a screen: each with its counts and limits, or why there is none."""

from __future__ import annotations

import math

from board.reckon.durations import NoFailures, TimeBetweenFailures
from board.reckon.figures_record import AvailabilityOf, Backlog, Figures
from board.reckon.limits import Limits
from board.reckon.proportion import Proportion
from board.reckon.refusal import Refusal
from board.reckon.summary import Summary
from board.show.lines import Bit, Line, Tone, line, title
from board.show.moments import counted, figure, long_clock
from board.show.prose import prose
from board.show.text import clean, pad

_DOWN = (
    "Down: stopped for fault, part or check, or without a reason; open stops count to now."
    " Required: the calendar's shifts, less laid up and less what the log does not tell. Limits in"
    " brackets are 90 %; those of availability take the looms as a sample."
)


def figures_lines(summary: Summary, figures: Figures, cells: int) -> list[Line]:
    """The whole screen."""
    zone = summary.snapshot.mill.zone
    when = f"{long_clock(figures.start, zone)} to {long_clock(figures.end, zone)}"
    rows = [title("FIGURES", when, cells)]
    rows.append(_head("RECORDED AVAILABILITY"))
    rows += prose(_DOWN, cells)
    for one in (figures.shed, *figures.sections):
        rows += _available(one, cells)
    rows.append(_head("TIME TO RESTORE"))
    rows += prose(_restoration(figures), cells, "  ")
    rows.append(_head("RUNNING TIME BETWEEN STOPS FOR A FAULT"))
    rows += prose(_failures(figures), cells, "  ")
    rows.append(_head("REPEATS"))
    rows += prose(_repeats(figures), cells, "  ")
    rows.append(_head("CHECKS"))
    rows += prose(_checks(figures), cells, "  ")
    rows.append(_head("ACTIONS"))
    rows += prose(_backlog(figures.backlog), cells, "  ")
    rows.append(_head("LINES"))
    rows += prose(_read(figures), cells, "  ")
    return [row.fitted(cells) for row in rows]


def _head(words: str) -> Line:
    return line(Bit(words, Tone.STRONG))


def share(value: float, places: int = 1) -> str:
    """A share in per cent, never rounded up to all or down to none."""
    rounded = f"{100 * value:.{places}f}"
    if value < 1.0 and float(rounded) >= 100.0:
        return "over 99.9 %"
    return "under 0.1 %" if value > 0.0 and float(rounded) == 0.0 else f"{rounded} %"


def _between(limits: Limits | Refusal) -> str:
    """The limits of a share in brackets."""
    if isinstance(limits, Refusal):
        return f"(no limits: {limits.reason})"
    return f"({100 * limits.low:.1f} to {100 * limits.high:.1f} %)"


def _available(one: AvailabilityOf, cells: int) -> list[Line]:
    name = clean(one.name if one.name == "shed" else f"section {one.name}")
    if isinstance(one.pooled, Refusal):
        return prose(f"{pad(name, 10)}  not known: {one.pooled.reason}", cells, "  ")
    pooled = one.pooled
    rest = f"; {one.not_told:.0f} h not required or not told" if one.not_told >= 0.5 else ""
    still = f", {one.still_open} of them open" if one.still_open else ""
    text = (
        f"{share(pooled.share)} {_between(pooled.limits)}: {figure(pooled.down)} h down of"
        f" {pooled.required:.0f} h required, {counted(one.looms, 'loom')},"
        f" {counted(pooled.stops, 'stop')}{still}{rest}"
    )
    rows = prose(text, cells - 13)
    return [
        line(Bit(f"  {pad(name if i == 0 else '', 10)} ", Tone.STRONG), row.plain)
        for i, row in enumerate(rows)
    ]


def _restoration(figures: Figures) -> str:
    pairs = figures.pairs
    if isinstance(pairs, Refusal):
        return f"not known: {pairs.reason}"
    have = "has" if 1 in (pairs.count, pairs.of) else "have"
    of = counted(pairs.of, "stop")
    both = f"{pairs.count} of {of} {have} both ends on record: {_share(pairs)}"
    restored = figures.restoration
    if isinstance(restored, Refusal):
        return f"not known: {restored.reason}. {both}"
    pulled = ", pulled up by few long stops" if restored.is_pulled_up else ""
    return (
        f"median {_hours(restored.median, restored.median_limits)}; mean"
        f" {_hours(restored.mean, restored.mean_limits)}{pulled}. {both};"
        " a stop that ends in waiting has no end here"
    )


def _share(proportion: Proportion) -> str:
    return f"{share(proportion.share)} {_between(proportion.limits)}"


def _hours(value: float, limits: Limits | Refusal) -> str:
    if isinstance(limits, Refusal):
        return f"{duration(value)} (no limits: {limits.reason})"
    return f"{duration(value)} ({duration(limits.low)} to {duration(limits.high)})"


def duration(hours: float) -> str:
    """A length of time in minutes or hours."""
    return f"{hours * 60:.0f} min" if hours < 2 else f"{figure(hours)} h"


def in_days(days: float) -> str:
    """A length of time in days, under one in minutes or hours."""
    if days < 1:
        return duration(24 * days)
    told = figure(days, 2)
    return f"{told} day" if float(told) == 1 else f"{told} days"


def _failures(figures: Figures) -> str:
    failures = figures.failures
    unknown = ""
    if failures.use_unknown:
        unknown = f"; {counted(failures.use_unknown, 'loom')} of unknown use left out"
    match failures.between:
        case TimeBetweenFailures(mean=mean, limits=limits):
            high = "more" if math.isinf(limits.high) else f"{limits.high:.0f}"
            return (
                f"one in {mean:.0f} h ({limits.low:.0f} to {high}):"
                f" {counted(failures.failures, 'stop')} in {failures.operating:.0f} running h,"
                f" taken as coming at a constant rate{unknown}"
            )
        case NoFailures(operating=operating, bound=bound):
            return f"none in {operating:.0f} h: {bound.low:.0f} h or more, with 90 %{unknown}"
        case Refusal(reason=reason):
            return f"not known: {reason}{unknown}"


def _repeats(figures: Figures) -> str:
    repeats = figures.repeats
    if isinstance(repeats.share, Refusal):
        return f"not known: {repeats.share.reason}"
    one = repeats.share
    return (
        f"{one.count} of {counted(one.of, 'fault')} came again within {repeats.window.words()}"
        f" after a repair: {_share(one)}; {counted(repeats.chains, 'chain')}"
    )


def _checks(figures: Figures) -> str:
    checks, answer = figures.checks, figures.checks_in_time
    if isinstance(answer, Refusal):
        return f"not known: {answer.reason}"
    unknown = f"; {checks.unknown} not judged, use unknown" if checks.unknown else ""
    return (
        f"{checks.in_time} of {checks.due} due were done in time: {_share(answer)}; {checks.late}"
        f" late ({checks.little_late} of them by a tenth of the interval or less),"
        f" {checks.not_done} not done{unknown}; a reading before half of the interval is none that"
        " was due"
    )


def _backlog(backlog: Backlog) -> str:
    if isinstance(backlog.median_age, Refusal) or isinstance(backlog.oldest, Refusal):
        now = "none open"
    else:
        age = f"{backlog.median_age:g} shift{'' if backlog.median_age == 1 else 's'}"
        now = (
            f"{backlog.open} open, {backlog.overdue} overdue; age median {age},"
            f" oldest {counted(backlog.oldest, 'shift')}"
        )
    if backlog.use_unknown:
        now += f"; {backlog.use_unknown} due by use, not known"
    days = backlog.median_days
    took = "" if isinstance(days, Refusal) else f", done after {in_days(days)} in the median"
    return f"{now}. In the time {backlog.done} done, {backlog.dropped} dropped{took}"


def _read(figures: Figures) -> str:
    lines = figures.lines
    entries = f"{lines.entries} {'entry' if lines.entries == 1 else 'entries'} used"
    no_shift = lines.of_no_shift - lines.partly_of_no_shift
    unknown = f", {no_shift} of them under no shift" if no_shift else ""
    number = lines.not_understood + lines.of_no_shift - lines.partly_refused
    missed = f"{counted(number, 'line')} not understood{unknown}"
    if lines.partly_refused:
        return (
            f"{entries}, {lines.partly_refused} of them refused in part or whole; {missed}: what"
            " was refused or not understood is in no figure"
        )
    return f"{entries}; {missed}: what they say is in no figure"
