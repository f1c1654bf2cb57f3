"""Seals of shifts that were taken over: whether their lines still are what they were.

The seal counts the lines filed under the shift and hashes them, sorted, so that neither the order
of files nor of lines matters. Lines of handing and taking over are left out, since they may be
written after the seal. From the text alone: no index is needed.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta

from board.state.fleet import Complaint, Fleet, Handover
from board.state.shifts import ShiftCalendar, ShiftSpan
from grammar.diagnostics import Code, Diagnostic
from grammar.entries import Entry, HandedOver, Seal, Shift, Span, TakenOver
from grammar.times import EARLY_LEAVE

DIGITS = 6
OVERLAP = timedelta(minutes=60)  # the most that the register lets two shifts overlap


def seal_of(lines: Iterable[str]) -> Seal:
    """The seal of a shift's lines."""
    ordered = sorted(line.rstrip() for line in lines)
    digest = hashlib.sha256("\n".join(ordered).encode("utf-8", "replace")).hexdigest()
    return Seal(lines=len(ordered), digest=digest[:DIGITS])


def is_of_handover(entry: Entry) -> bool:
    """Whether a line hands over or takes over, and so stands outside of its seal."""
    return any(isinstance(clause, HandedOver | TakenOver) for clause in entry.clauses)


def shift_of_outgoing(filed: Shift | None, when: datetime, calendar: ShiftCalendar) -> Shift:
    """The shift that the outgoing word gives over, from the shift that its line is filed under.

    That one; but a line from its first two hours, or from before it, speaks of the shift before:
    the outgoing word then stands in the incoming lead's file.
    """
    own = calendar.span(filed) if filed else calendar.at(when)
    if own is None:
        return calendar.before(when).shift
    if when >= own.start + EARLY_LEAVE:
        return own.shift
    return _before(own, calendar)


def shift_of_incoming(filed: Shift | None, when: datetime, calendar: ShiftCalendar) -> Shift:
    """The shift that an incoming word without an outgoing one takes over.

    The one before the shift that the line is filed under; but a line from its last two hours, or
    from after it, stands in the outgoing lead's file and speaks of that shift itself.
    """
    own = calendar.span(filed) if filed else calendar.at(when)
    if own is None:
        return calendar.before(when).shift
    if when >= own.end - EARLY_LEAVE:
        return own.shift
    return _before(own, calendar)


def _before(span: ShiftSpan, calendar: ShiftCalendar) -> Shift:
    """The shift before one; shifts may overlap by an hour."""
    return calendar.before(span.start + OVERLAP, but=span.shift).shift


def changed_since_sealed(
    fleet: Fleet,
    seal_now: Callable[[Shift], Seal],
    how: Callable[[Shift, Seal], str] = lambda shift, sealed: "",
) -> tuple[Complaint, ...]:
    """A complaint for each taking over whose shift no longer agrees with its seal.

    ``how`` tells what changed in a shift since it had a seal, or nothing where that is not known.
    """
    return tuple(
        complaint
        for handover in fleet.shed.taken
        if (complaint := _changed(handover, seal_now, how)) is not None
    )


def _changed(
    handover: Handover, seal_now: Callable[[Shift], Seal], how: Callable[[Shift, Seal], str]
) -> Complaint | None:
    shift, source = handover.shift, handover.source
    if handover.seal is None or shift is None or source is None:
        return None
    now = seal_now(shift)
    if now == handover.seal:
        return None
    counts = (
        f"{_lines(now.lines)} where {handover.seal.lines} were sealed"
        if now.lines != handover.seal.lines
        else f"still {_lines(now.lines)}, but not the same"
    )
    start = source.text.casefold().rfind("sealed")
    diagnostic = Diagnostic(
        code=Code.CHANGED_AFTER_HANDOVER,
        message=f"the {shift.name} shift of {shift.day} changed after it was handed over: {counts}",
        line=source.line,
        span=Span(max(start, 0), len(source.text)),
        text=source.text,
        help="; ".join(filter(None, ("ask who changed it", how(shift, handover.seal)))),
    )
    return Complaint(path=source.path, diagnostic=diagnostic)


def _lines(count: int) -> str:
    return "1 line" if count == 1 else f"{count} lines"
