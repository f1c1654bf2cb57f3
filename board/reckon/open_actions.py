"""Open actions as they stand now: overdue or not, and how old in shifts.

What "overdue" means for each kind of due; where it cannot be told, the reason stands in its place.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

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
    """An open action with how it stands now; ``overdue`` is a refusal where use is unknown.

    ``overdue_since`` is when its due passed, None while it is not known to have passed.
    """

    action: Action
    overdue: bool | Refusal
    overdue_since: datetime | None
    age_shifts: int
    opened_in: Shift | None

    @property
    def is_overdue(self) -> bool:
        """Whether it is known to be overdue."""
        return self.overdue is True


def urgency(line: ActionLine) -> tuple[object, ...]:
    """What actions are sorted by: the most overdue first, then by due time, then the oldest."""
    due = line.action.due
    moment = due.moment if isinstance(due, DueAt) else line.overdue_since
    at = moment.timestamp() if moment is not None else float("inf")
    return not line.is_overdue, at, line.action.opened.timestamp(), line.action.text


_ROUNDING = 1e-9  # sums of hours: a use that is just reached is not over
_MINUTE = timedelta(minutes=1)


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
    since = _overdue(action, state, clock, now, spells)
    return ActionLine(
        action=action,
        overdue=since if isinstance(since, Refusal) else since is not None,
        overdue_since=None if isinstance(since, Refusal) else since,
        age_shifts=calendar.starts_between(action.opened, now),
        opened_in=opened_in.shift if opened_in else None,
    )


def _overdue(
    action: Action,
    state: LoomState | None,
    clock: UsageClock | None,
    now: datetime,
    spells: Sequence[Spell],
) -> datetime | Refusal | None:
    """Since when an action's due has passed: not in its very minute; a start is not undone."""
    match action.due:
        case None:
            return None
        case DueAt(moment=moment):
            return moment if now > moment else None
        case DueBeforeStart():
            if state is None:
                return Refusal(reason="a group of looms has no single start")
            starts = _starts(spells, state.loom, action.opened)
            if state.motion is Motion.RUNNING and state.motion_since is not None:
                starts = [*starts, state.motion_since]
            return min((start for start in starts if start > action.opened), default=None)
        case DueAfterUse(use=use, unit=unit):
            if clock is None:
                return Refusal(reason="a group of looms has no running hours of its own")
            used = clock.between(action.opened, now, unit)
            if isinstance(used, UnknownUse):
                return Refusal(reason=used.reason)
            if used <= use * (1.0 + _ROUNDING):
                return None
            return _used_up(clock, action.opened, now, unit, use)


def _used_up(clock: UsageClock, begun: datetime, now: datetime, unit: str, use: float) -> datetime:
    """When a use was reached, to the minute."""
    least, most = begun, now
    while most - least > _MINUTE:
        middle = least + (most - least) / 2
        used = clock.between(begun, middle, unit)
        if isinstance(used, UnknownUse) or used <= use:
            least = middle
        else:
            most = middle
    return most


def _starts(spells: Sequence[Spell], loom: str, after: datetime) -> list[datetime]:
    """When a loom began to run after a moment, by the spells that are over.

    A new style while it runs is no start.
    """
    found: list[datetime] = []
    running: Spell | None = None
    for spell in backwards(spells, loom):
        runs = spell.motion is Motion.RUNNING
        if running is not None and not (runs and spell.end == running.start):
            found.append(running.start)
            running = None
        if spell.start <= after:
            return found
        running = spell if runs else None
    return [*found, running.start] if running is not None else found
