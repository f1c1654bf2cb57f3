"""How open actions stand to a shift: overdue, due by its end, or due by use that may come in it."""

from __future__ import annotations

from datetime import timedelta
from enum import Enum

from board.reckon.open_actions import ActionLine, used_since_opened
from board.reckon.refusal import Refusal
from board.reckon.summary import Summary
from board.state.shifts import ShiftSpan
from grammar.entries import DueAfterUse, DueAt, DueBeforeStart


class Pressing(Enum):
    """How an open action stands to the coming shift."""

    OVERDUE = "overdue"
    COMING = "due in the coming shift"
    MAY_COME = "may fall due in the coming shift"
    BEFORE_START = "before the loom starts"
    NOT_KNOWN = "use unknown, so it cannot be told"
    LATER = "later"
    NO_DUE = "no due"


def pressing(summary: Summary, line: ActionLine, shift: ShiftSpan) -> Pressing:
    """How an action stands to a shift that begins now or later: due by its end, or may it be."""
    if line.is_overdue:
        return Pressing.OVERDUE
    match line.action.due:
        case None:
            return Pressing.NO_DUE
        case DueAt(moment=moment):
            return Pressing.COMING if moment <= shift.end else Pressing.LATER
        case DueBeforeStart():
            return Pressing.BEFORE_START
        case DueAfterUse() as due:
            return _by_use(summary, line, due, shift)


def _by_use(summary: Summary, line: ActionLine, due: DueAfterUse, shift: ShiftSpan) -> Pressing:
    """Whether the loom can reach the use asked for, if it runs from now to the shift's end."""
    looms, now = summary.snapshot.fleet.looms, summary.as_of
    used = used_since_opened(line.action, due.unit, looms, summary.clocks, now)
    if isinstance(used, Refusal):
        return Pressing.NOT_KNOWN
    hours = (shift.end - summary.as_of) / timedelta(hours=1)
    most = hours
    if due.unit == "picks":
        section = summary.snapshot.mill.section_of.get(line.action.place.name)
        if section is None or section.speed is None:
            return Pressing.NOT_KNOWN
        most = hours * 60.0 * section.speed
    return Pressing.MAY_COME if due.use - used <= most else Pressing.LATER
