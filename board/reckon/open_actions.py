"""Open actions as they stand now: overdue or not, and how old in shifts.

What "overdue" means for each kind of due; where it cannot be told, the reason stands in its place.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from board.reckon.refusal import Refusal
from board.state.fleet import Action, LoomState, Motion
from board.state.history import Spell
from board.state.shifts import ShiftCalendar
from board.state.spells import backwards
from board.state.usage import UnknownUse, UsageClock
from grammar.entries import DueAfterUse, DueAt, DueBeforeStart, PlaceKind, Shift
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
_NO_HOURS = "a group of looms has no running hours of its own"


def action_line(
    action: Action,
    looms: Mapping[str, LoomState],
    clocks: Mapping[str, UsageClock],
    calendar: ShiftCalendar,
    now: datetime,
    spells: Sequence[Spell],
) -> ActionLine:
    """An open action as of a moment. ``spells`` are those of the shed that are over."""
    opened_in = calendar.at(action.opened)
    since = _overdue(action, looms, clocks, now, spells)
    return ActionLine(
        action=action,
        overdue=since if isinstance(since, Refusal) else since is not None,
        overdue_since=None if isinstance(since, Refusal) else since,
        age_shifts=calendar.starts_between(action.opened, now),
        opened_in=opened_in.shift if opened_in else None,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Leg:
    """A stretch of time in which what is to be done was on one loom; ``end`` None: it is now."""

    loom: str
    start: datetime
    end: datetime | None = None


def _legs(action: Action, looms: Mapping[str, LoomState]) -> tuple[_Leg, ...]:
    """Where an action's due ran since it was opened: a recheck goes along with its part."""
    own = _Leg(loom=action.place.name, start=action.opened)
    at = action.recheck_of
    life = looms[action.place.name].parts.get(at) if at is not None else None
    if life is None:
        return (own,)
    return tuple(
        _Leg(loom=stay.loom, start=max(stay.start or action.opened, action.opened), end=stay.end)
        for stay in life.stays
        if stay.end is None or stay.end > action.opened
    ) or (own,)


def used_since_opened(
    action: Action,
    unit: str,
    looms: Mapping[str, LoomState],
    clocks: Mapping[str, UsageClock],
    now: datetime,
) -> float | Refusal:
    """How much a loom was used since an action was opened on it, in a unit."""
    if action.place.kind is not PlaceKind.LOOM:
        return Refusal(reason=_NO_HOURS)
    total = 0.0
    for leg in _legs(action, looms):
        used = clocks[leg.loom].between(leg.start, leg.end or now, unit)
        if isinstance(used, UnknownUse):
            return Refusal(reason=used.reason)
        total += used
    return total


def _overdue(
    action: Action,
    looms: Mapping[str, LoomState],
    clocks: Mapping[str, UsageClock],
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
            if action.place.kind is not PlaceKind.LOOM:
                return Refusal(reason="a group of looms has no single start")
            legs = _legs(action, looms)
            return next(filter(None, (_first_start(leg, looms, spells) for leg in legs)), None)
        case DueAfterUse(use=use, unit=unit):
            if action.place.kind is not PlaceKind.LOOM:
                return Refusal(reason=_NO_HOURS)
            return _used_up(_legs(action, looms), clocks, now, unit, use)


def _first_start(
    leg: _Leg, looms: Mapping[str, LoomState], spells: Sequence[Spell]
) -> datetime | None:
    """When the loom first began to run within a leg."""
    state = looms[leg.loom]
    starts = _starts(spells, leg.loom, leg.start)
    if state.motion is Motion.RUNNING and state.motion_since is not None:
        starts = [*starts, state.motion_since]
    there = [s for s in starts if s > leg.start and (leg.end is None or s < leg.end)]
    return min(there, default=None)


def _used_up(
    legs: tuple[_Leg, ...], clocks: Mapping[str, UsageClock], now: datetime, unit: str, use: float
) -> datetime | Refusal | None:
    """When a use was reached, to the minute; a use that is unknown later on does not undo it."""
    left = use
    unknown: Refusal | None = None
    for leg in legs:
        end = leg.end or now
        used = clocks[leg.loom].between(leg.start, end, unit)
        if isinstance(used, UnknownUse):
            unknown = unknown or Refusal(reason=used.reason)
        elif used > left + use * _ROUNDING:
            return _reached(clocks[leg.loom], leg.start, end, unit, left)
        else:
            left -= used
    return unknown


def _reached(clock: UsageClock, begun: datetime, now: datetime, unit: str, use: float) -> datetime:
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
