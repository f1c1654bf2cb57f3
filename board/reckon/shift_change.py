"""Which change of shift a moment belongs to, and what was handed over at it and before it."""

from __future__ import annotations

from datetime import datetime, timedelta

from board.reckon.summary import Summary
from board.state.fleet import Handover
from board.state.later import newest_first
from board.state.shifts import ShiftSpan


def change_of_shift(summary: Summary) -> tuple[ShiftSpan, ShiftSpan]:
    """The shift handed over and the one that takes over, of the change nearest to now.

    A sheet is prepared before the shift ends and used after the next has begun: up to the middle
    of a shift its beginning is meant, after it its end. In closed hours: the last and the next.
    """
    calendar, now = summary.calendar, summary.as_of
    present, following = calendar.at(now), calendar.next_after(now)
    if present is None:
        return calendar.before(now), following
    if following.start - now < now - present.start:
        return present, following
    just_before = present.start - timedelta(microseconds=1)
    return calendar.at(just_before) or calendar.before(present.start), present


def middle(span: ShiftSpan) -> datetime:
    """The moment half-way through a shift."""
    return span.start + (span.end - span.start) / 2


def last_taken(summary: Summary, until: datetime) -> datetime | None:
    """The last taking over up to a moment: of the shed, else the earliest of its sections' last."""
    latest: dict[str, datetime] = {}
    for handover in newest_first(summary.snapshot.fleet.shed.taken):
        if handover.taken is not None and handover.taken <= until:
            if handover.what == "shed":
                return handover.taken
            latest.setdefault(handover.what, handover.taken)
    sections = [latest.get(section.name) for section in summary.snapshot.mill.sections]
    known = [moment for moment in sections if moment is not None]
    return min(known) if known and len(known) == len(sections) else None


def of_this_change(summary: Summary, outgoing: ShiftSpan) -> tuple[Handover, ...]:
    """The handovers of the shed and its sections that were said or taken at this change."""
    half = middle(outgoing)
    latest = summary.snapshot.fleet.shed.handovers.values()
    return tuple(h for h in latest if max(filter(None, (h.said, h.taken)), default=half) > half)
