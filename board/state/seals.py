"""Seals of shifts that were taken over: whether their lines still are what they were.

The seal counts the lines filed under the shift and hashes them, sorted, so that neither the order
of files nor of lines matters. Lines of handing and taking over are left out, since they may be
written after the seal. From the text alone: no index is needed.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from board.mill import Mill
from board.state.fleet import Complaint, Fleet, Handover
from grammar import times
from grammar.diagnostics import Code, Diagnostic
from grammar.entries import Entry, HandedOver, Seal, Shift, Span, TakenOver

DIGITS = 6


def seal_of(lines: Iterable[str]) -> Seal:
    """The seal of a shift's lines."""
    ordered = sorted(line.rstrip() for line in lines)
    digest = hashlib.sha256("\n".join(ordered).encode("utf-8", "replace")).hexdigest()
    return Seal(lines=len(ordered), digest=digest[:DIGITS])


def is_of_handover(entry: Entry) -> bool:
    """Whether a line hands over or takes over, and so stands outside of its seal."""
    return any(isinstance(clause, HandedOver | TakenOver) for clause in entry.clauses)


def shift_given_over(said: Shift | None, taken: datetime, mill: Mill) -> Shift | None:
    """The shift that a taking over is about: as it was said, else the one four hours before."""
    if said is not None:
        return said
    before = (taken - timedelta(hours=4)).astimezone(mill.zone).replace(tzinfo=None)
    return next(times.shifts_around(before, mill.shifts), None)


def changed_since_sealed(
    fleet: Fleet, lines_of: Mapping[Shift, list[str]], mill: Mill
) -> tuple[Complaint, ...]:
    """A complaint for each taking over whose shift no longer agrees with its seal."""
    return tuple(
        complaint
        for handover in fleet.shed.taken
        if (complaint := _changed(handover, lines_of, mill)) is not None
    )


def _changed(
    handover: Handover, lines_of: Mapping[Shift, list[str]], mill: Mill
) -> Complaint | None:
    if handover.seal is None or handover.taken is None or handover.source is None:
        return None
    shift = shift_given_over(handover.shift, handover.taken, mill)
    if shift is None:
        return None
    now = seal_of(lines_of.get(shift, ()))
    if now == handover.seal:
        return None
    counts = (
        f"{now.lines} lines where {handover.seal.lines} were sealed"
        if now.lines != handover.seal.lines
        else f"still {now.lines} lines, but not the same"
    )
    source = handover.source
    start = source.text.casefold().rfind("sealed")
    diagnostic = Diagnostic(
        code=Code.CHANGED_AFTER_HANDOVER,
        message=f"the {shift.name} shift of {shift.day} changed after it was handed over: {counts}",
        line=source.line,
        span=Span(max(start, 0), len(source.text)),
        text=source.text,
        help="ask who changed it",
    )
    return Complaint(path=source.path, diagnostic=diagnostic)
