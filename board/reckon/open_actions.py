"""Open actions as they stand now: overdue or not, and how old in shifts.

What "overdue" means for each kind of due; where it cannot be told, the reason stands in its place.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from board.reckon.refusal import Refusal
from board.state.fleet import Action, LoomState, Motion
from board.state.history import Spell
from board.state.shifts import ShiftCalendar
from board.state.spells import backwards
from board.state.usage import UnknownUse, UsageClock
from grammar.entries import DueAfterUse, DueAt, DueBeforeStart, Shift
from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class ActionLine:
    """An open action with how it stands now; ``overdue`` is a refusal where use is unknown."""

    action: Action
    overdue: bool | Refusal
    age_shifts: int
    opened_in: Shift | None

    @property
    def is_overdue(self) -> bool:
        """Whether it is known to be overdue."""
        return self.overdue is True


def urgency(line: ActionLine) -> tuple[object, ...]:
    """What actions are sorted by: the overdue first, then by due time, then the oldest."""
    due = line.action.due
    moment = due.moment.timestamp() if isinstance(due, DueAt) else float("inf")
    opened = line.action.opened.timestamp()
    return not line.is_overdue, moment, opened, line.action.text


_ROUNDING = 1e-9  # sums of hours: a use that is just reached is not over


def action_line(
    action: Action,
    state: LoomState | None,
    clock: UsageClock | None,
    calendar: ShiftCalendar,
    now: datetime,
    spells: Sequence[Spell],
) -> ActionLine:
    """An open action as of a moment; state and clock are those of its loom, None for a group.

    ``spells`` are those of the shed that are over.
    """
    opened_in = calendar.at(action.opened)
    return ActionLine(
        action=action,
        overdue=_overdue(action, state, clock, now, spells),
        age_shifts=calendar.starts_between(action.opened, now),
        opened_in=opened_in.shift if opened_in else None,
    )


def _overdue(
    action: Action,
    state: LoomState | None,
    clock: UsageClock | None,
    now: datetime,
    spells: Sequence[Spell],
) -> bool | Refusal:
    """Whether an action's due has passed: not in its very minute; a start is not undone."""
    match action.due:
        case None:
            return False
        case DueAt(moment=moment):
            return now > moment
        case DueBeforeStart():
            if state is None:
                return Refusal(reason="a group of looms has no single start")
            runs_since = state.motion_since if state.motion is Motion.RUNNING else None
            if runs_since is not None and runs_since > action.opened:
                return True
            return _began(spells, state.loom, action.opened)
        case DueAfterUse(use=use, unit=unit):
            if clock is None:
                return Refusal(reason="a group of looms has no running hours of its own")
            used = clock.between(action.opened, now, unit)
            if isinstance(used, UnknownUse):
                return Refusal(reason=used.reason)
            return used > use * (1.0 + _ROUNDING)


def _began(spells: Sequence[Spell], loom: str, after: datetime) -> bool:
    """Whether a loom began to run after a moment, by the spells that are over.

    A new style while it runs is no start.
    """
    running: Spell | None = None
    for spell in backwards(spells, loom):
        runs = spell.motion is Motion.RUNNING
        if running is not None and not (runs and spell.end == running.start):
            return True
        if spell.start <= after:
            return False
        running = spell if runs else None
    return running is not None
