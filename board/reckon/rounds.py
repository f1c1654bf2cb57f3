"""What to measure in a shift: what is likeliest to be past its limit, then overdue checks.

The chance is that of passing the limit before the following round is over, that is by the end of
the shift after the one asked for, at each loom's recent use. A sheet is kept to a length that can
be walked, the most urgent on it; what is left off is named. A part that more likely than not
passes its limit comes before any check that is merely overdue. Open actions that are due by then
go along, since a shed is walked once. Which checks are due is reckoned in ``checks_due``.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from enum import Enum

from board.mill import Every, Interval, Quantity
from board.reckon.checks_due import check_moments, overdue_by
from board.reckon.conformity import WearWord
from board.reckon.left import Ahead
from board.reckon.margins import WearLine
from board.reckon.open_actions import ActionLine, urgency
from board.reckon.pressing import Pressing, pressing
from board.reckon.refusal import Refusal
from board.reckon.shift_change import change_of_shift
from board.reckon.summary import LoomLine, Summary
from board.state.fleet import Motion
from board.state.history import Ending, PartLife, ReadingAt
from board.state.shifts import ShiftSpan
from board.state.usage import UnknownUse, speed_of
from grammar.entries import PartAt, Reason
from grammar.frozen import dataclass

MOST_LINES = 36  # two sides of paper
LEAST_CHANCE = 0.05  # below it, a part that is not due is left for its planned check
MORE_LIKELY_THAN_NOT = 0.5
LONG_OVERDUE = 0.25  # of its interval

_PAST = (WearWord.PAST_LIMIT, WearWord.GAUGE_PAST)


class Why(Enum):
    """Why a part is on the round."""

    OVERDUE = "check overdue"
    LIKELY = "likely to pass its limit"
    COMES_DUE = "check comes due"
    NEAR = "near its limit, no forecast"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundLine:
    """One quantity to measure.

    ``over``: by how much its interval is exceeded now, in the interval's unit, or why that is not
    known; None without an interval. ``chance`` of passing the limit before the following round is
    over. ``is_near``: the reading that stands is at or near its limit. ``last`` None: never
    measured since it was fitted; ``stands``: the reading that it leaves standing, if it is another.
    """

    loom: LoomLine
    at: PartAt
    quantity: Quantity
    life: PartLife
    last: ReadingAt | None
    stands: ReadingAt | None
    since: datetime
    over: float | Refusal | None
    chance: float | Refusal
    is_near: bool
    why: Why

    @property
    def name(self) -> str:
        """Part and quantity: ``left tape thickness``."""
        return f"{self.at.words()} {self.quantity.name}"

    @property
    def share_over(self) -> float:
        """By how much of its interval the check is overdue; 0 where it is not, or not known."""
        every = self.quantity.check_every
        if every is None or not isinstance(self.over, float):
            return 0.0
        return max(self.over / every.amount, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class AlsoDue:
    """An open action to be done by the end of the shift; ``loom`` None: of no single loom."""

    line: ActionLine
    pressing: Pressing
    loom: LoomLine | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NeverTold:
    """A part with planned checks, each side by itself, and looms whose log never speaks of it."""

    part: str
    side: str | None
    looms: tuple[str, ...]

    @property
    def words(self) -> str:
        """Side and part: ``right tape``."""
        return PartAt(part=self.part, side=self.side).words()


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """What to measure in a shift, in the order of sections and looms.

    ``until`` ends the following round. ``left_off`` did not fit, the most urgent first. ``past`` is
    past its limit on record already, ``laid_up`` out of use; neither is on the round. ``also_due``
    are actions of looms in walking order, then those of the shed.
    """

    shift: ShiftSpan
    until: datetime
    order: tuple[str, ...]  # of the looms
    lines: tuple[RoundLine, ...]
    left_off: tuple[RoundLine, ...]
    also_due: tuple[AlsoDue, ...]
    past: tuple[WearLine, ...]
    laid_up: tuple[str, ...]
    never_told: tuple[NeverTold, ...]


def shift_asked(summary: Summary, name: str | None) -> ShiftSpan:
    """The shift of a name that begins next, or is being taken over now; None: whichever that is.

    Raises ValueError for a name that no shift has.
    """
    span = change_of_shift(summary)[1]
    for _ in range(2 * summary.calendar.shifts_a_day + 1):
        if name is None or span.shift.name == name:
            return span
        span = summary.calendar.next_after(span.start)
    raise ValueError(f"no shift is called {name}")


def round_for(summary: Summary, shift: ShiftSpan, most: int = MOST_LINES) -> Round:
    """The round of a shift, at most so many lines long."""
    until = summary.calendar.next_after(shift.start).end
    laid_up = {x.loom for x in summary.looms if x.state.stopped_for is Reason.LAID_UP}
    found = [
        line
        for loom in summary.looms
        if loom.loom not in laid_up
        for line in _of_loom(summary, loom, shift, until)
    ]
    ranked = sorted(range(len(found)), key=lambda i: (*_rank(found[i]), i))
    kept = sorted(ranked[:most])
    return Round(
        shift=shift,
        until=until,
        order=tuple(loom.loom for loom in summary.looms),
        lines=tuple(found[i] for i in kept),
        left_off=tuple(found[i] for i in ranked[most:]),
        also_due=tuple(_also_due(summary, shift)),
        past=tuple(w for x in summary.looms for w in x.wear if w.word in _PAST),
        laid_up=tuple(loom for loom in summary.snapshot.mill.looms if loom in laid_up),
        never_told=tuple(_never_told(summary)),
    )


def _rank(line: RoundLine) -> tuple[int, float, float]:
    """How urgent a line is, the most urgent least.

    First what more likely than not passes its limit, and what is at or near it without a forecast;
    then checks overdue by a quarter of their interval or more; then what may pass its limit; then
    the other overdue checks, and those that come due.
    """
    chance = 0.0 if isinstance(line.chance, Refusal) else line.chance
    if chance >= MORE_LIKELY_THAN_NOT:
        return 0, -chance, -line.share_over
    if line.why is Why.NEAR or (isinstance(line.chance, Refusal) and line.is_near):
        return 1, -line.share_over, 0.0
    if line.share_over >= LONG_OVERDUE:
        return 2, -line.share_over, -chance
    if chance >= LEAST_CHANCE:
        return 3, -chance, -line.share_over
    return 4 if line.why is Why.OVERDUE else 5, -line.share_over, -chance


def _also_due(summary: Summary, shift: ShiftSpan) -> Iterable[AlsoDue]:
    """Open actions that are overdue, or due by the end of the shift or perhaps so."""
    found: list[tuple[LoomLine | None, ActionLine]] = [
        (loom, action) for loom in summary.looms for action in sorted(loom.actions, key=urgency)
    ]
    found += [(None, action) for action in sorted(summary.shed_actions, key=urgency)]
    for loom, action in found:
        how = pressing(summary, action, shift)
        if how in (Pressing.OVERDUE, Pressing.COMING, Pressing.MAY_COME):
            yield AlsoDue(line=action, pressing=how, loom=loom)


def _of_loom(
    summary: Summary, loom: LoomLine, shift: ShiftSpan, until: datetime
) -> Iterable[RoundLine]:
    mill = summary.snapshot.mill
    order = {part.name: i for i, part in enumerate(mill.parts)}
    for life in sorted(
        loom.state.parts.values(),
        key=lambda p: (order.get(p.at.part, 0), p.at.side or "", p.at.number or 0),
    ):
        if life.ending is not Ending.IN_SERVICE:
            continue
        for quantity in mill.part[life.at.part].quantities:
            wear = next(
                (w for w in loom.wear if w.at == life.at and w.quantity == quantity.name), None
            )
            if wear is not None and wear.word in _PAST:
                continue
            line = _line(summary, loom, life, quantity, wear, shift, until)
            if line is not None:
                yield line


def _line(
    summary: Summary,
    loom: LoomLine,
    life: PartLife,
    quantity: Quantity,
    wear: WearLine | None,
    shift: ShiftSpan,
    until: datetime,
) -> RoundLine | None:
    """The line of a quantity, or None where nothing asks for it."""
    moments = check_moments(life.fitted, life.readings.get(quantity.name, ()))
    if not moments:
        return None
    every, now = quantity.check_every, summary.as_of
    over: float | Refusal | None = None
    if every is not None:
        over = overdue_by(life, every, moments[-1], now, summary.clocks, summary.calendar)
    chance = _chance(summary, loom, wear, until)
    why = _why(summary, loom, every, over, chance, wear, shift)
    if why is None:
        return None
    readings = life.readings.get(quantity.name, ())
    last = readings[-1] if readings else None
    return RoundLine(
        loom=loom,
        at=life.at,
        quantity=quantity,
        life=life,
        last=last,
        stands=wear.reading if wear is not None and last in wear.since else None,
        since=moments[-1],
        over=float(over) if isinstance(over, int | float) else over,
        chance=chance,
        is_near=_is_near(wear),
        why=why,
    )


def _why(
    summary: Summary,
    loom: LoomLine,
    every: Interval | None,
    over: float | Refusal | None,
    chance: float | Refusal,
    wear: WearLine | None,
    shift: ShiftSpan,
) -> Why | None:
    known = None if isinstance(over, Refusal) else over
    if known is not None and known > 0:
        return Why.OVERDUE
    if not isinstance(chance, Refusal):
        if chance >= LEAST_CHANCE:
            return Why.LIKELY
    elif _is_near(wear):
        return Why.NEAR
    if known is not None and every is not None:
        coming = _use_until(summary, loom, every, shift.end)
        if not isinstance(coming, Refusal) and known + coming > 0:
            return Why.COMES_DUE
    return None


def _is_near(wear: WearLine | None) -> bool:
    return wear is not None and wear.word in (WearWord.AT_LIMIT, WearWord.NEAR_LIMIT)


def _use_until(summary: Summary, loom: LoomLine, every: Interval, end: datetime) -> float | Refusal:
    """How much of an interval a moment is away, in its unit, at the loom's recent use."""
    now = summary.as_of
    days = (end - now) / timedelta(days=1)
    match every.unit:
        case Every.DAYS:
            return days
        case Every.SHIFTS:
            return summary.calendar.starts_between(now, end)
        case Every.HOURS | Every.PICKS:
            a_day = summary.clocks[loom.loom].hours_a_day(now)
            if isinstance(a_day, UnknownUse):
                return Refusal(reason=a_day.reason)
            if every.unit is Every.HOURS:
                return a_day * days
            speed = speed_of(summary.snapshot.mill, loom.loom, loom.state.style)
            if speed is None:
                return Refusal(reason=f"the register gives {loom.loom} no speed")
            return a_day * days * speed * 60.0


def _chance(
    summary: Summary, loom: LoomLine, wear: WearLine | None, until: datetime
) -> float | Refusal:
    if wear is None:
        return Refusal(reason="no reading since it was fitted")
    if isinstance(wear.ahead, Refusal) or not isinstance(wear.ahead, Ahead):
        return wear.ahead
    a_day = summary.clocks[loom.loom].hours_a_day(summary.as_of)
    if isinstance(a_day, UnknownUse):
        return Refusal(reason=a_day.reason)
    return wear.ahead.forecast.p_before(a_day * ((until - summary.as_of) / timedelta(days=1)))


def _never_told(summary: Summary) -> Iterable[NeverTold]:
    """Parts with planned checks that the log has not named on a loom, side by side."""
    for part in summary.snapshot.mill.parts:
        if not any(q.check_every is not None for q in part.quantities):
            continue
        for side in part.sides or (None,):
            missing = [
                loom.loom
                for loom in summary.looms
                if loom.state.motion is not Motion.UNKNOWN
                and not any(at.part == part.name and at.side == side for at in loom.state.parts)
            ]
            if missing:
                yield NeverTold(part=part.name, side=side, looms=tuple(missing))
