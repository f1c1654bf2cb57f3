"""Open actions as they stand now: overdue or not, and how old in shifts.

What "overdue" means for each kind of due; where it cannot be told, the reason stands in its place.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from board.reckon.refusal import Refusal
from board.state.fleet import Action, LoomState, Motion
from board.state.history import Spell
from board.state.shifts import ShiftCalendar
from board.state.usage import UnknownUse, UsageClock
from grammar.entries import DueAfterUse, DueAt, DueBeforeStart, Shift


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

Starts = Mapping[str, Sequence[datetime]]


def starts_of(spells: Iterable[Spell]) -> Starts:
    """When each loom began to run, of what is over: a new style while it runs is no start."""
    found: dict[str, list[datetime]] = defaultdict(list)
    ran_until: dict[str, datetime | None] = {}
    for spell in spells:
        running = spell.motion is Motion.RUNNING
        if running and ran_until.get(spell.loom) != spell.start:
            found[spell.loom].append(spell.start)
        ran_until[spell.loom] = spell.end if running else None
    return found


def action_line(
    action: Action,
    state: LoomState | None,
    clock: UsageClock | None,
    calendar: ShiftCalendar,
    now: datetime,
    starts: Starts,
) -> ActionLine:
    """An open action as of a moment; state and clock are those of its loom, None for a group."""
    opened_in = calendar.at(action.opened)
    return ActionLine(
        action=action,
        overdue=_overdue(action, state, clock, now, starts),
        age_shifts=calendar.starts_between(action.opened, now),
        opened_in=opened_in.shift if opened_in else None,
    )


def _overdue(
    action: Action,
    state: LoomState | None,
    clock: UsageClock | None,
    now: datetime,
    starts: Starts,
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
            began = list(starts.get(state.loom, ()))
            if state.motion is Motion.RUNNING and state.motion_since is not None:
                began.append(state.motion_since)
            return any(moment > action.opened for moment in began)
        case DueAfterUse(use=use, unit=unit):
            if clock is None:
                return Refusal(reason="a group of looms has no running hours of its own")
            used = clock.between(action.opened, now, unit)
            if isinstance(used, UnknownUse):
                return Refusal(reason=used.reason)
            return used > use * (1.0 + _ROUNDING)
