"""How much is left: value, limit, signed margin and wear word of every measured part.

The forecast, where there is one, is put in by ``ahead``; here a part without one says why.
Which of a part's readings stands, its value or a gauge's verdict, is left to ``which_stands``.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from datetime import datetime, timedelta

from board.mill import Every, Interval, Limits, Mill, Quantity, Worse
from board.reckon.conformity import WearWord, margin, near_by_share, wear_word
from board.reckon.left import Ahead
from board.reckon.refusal import Refusal
from board.reckon.which_stands import Standing, gauge_says, standing_of
from board.state.fleet import Fleet, LoomState
from board.state.history import Bound, Ending, PartLife, ReadingAt
from board.state.shifts import ShiftCalendar
from board.state.usage import UnknownUse, UsageClock, look_up
from grammar.entries import PartAt
from grammar.frozen import dataclass
from grammar.making import changed, maker

_ROUNDING = 1e-9  # sums of hours: an interval that is just over is not overdue
NOT_EXACT = Refusal(reason="a gauge gives no value")
NOT_RECKONED = Refusal(reason="no forecast was asked for")


@dataclass(frozen=True, slots=True, kw_only=True)
class WearLine:
    """One measured quantity of one part in service.

    Of a band the limit is the end that a forecast goes to; without one, and at an end or past it,
    the nearest. ``margin`` is positive inside the limit, in the quantity's unit, and None for a
    gauge or without a limit. ``worn`` is the share of the way from new to the limit, None where the
    register gives no typical new reading. ``old`` tells that a check is known to be overdue.
    """

    loom: str
    at: PartAt
    quantity: str
    reading: ReadingAt
    life: PartLife
    limit: float | None
    uncertainty: float | None
    margin: float | None
    word: WearWord
    worn: float | None
    old: bool
    since: tuple[ReadingAt, ...] = ()  # gauge verdicts after the reading, which leave it standing
    of_band: bool = False  # whether its limit is one of two
    old_unknown: str = ""  # why it cannot be told whether a check is overdue
    new: float | None = None  # the typical reading of a new part
    ahead: Ahead | Refusal = NOT_RECKONED

    @property
    def words(self) -> str:
        """The wear word, with ``old reading`` added where a check is overdue."""
        return f"{self.word.value}, old reading" if self.old else self.word.value

    @property
    def name(self) -> str:
        """Part and quantity: ``left tape thickness``."""
        return f"{self.at.words()} {self.quantity}"


_wear_line = maker(WearLine)


def wear_lines(
    fleet: Fleet,
    mill: Mill,
    clocks: Mapping[str, UsageClock],
    calendar: ShiftCalendar,
    meanwhile: Callable[[], None] = lambda: None,
) -> dict[str, tuple[WearLine, ...]]:
    """Every measured part in service, by loom, in the order of the register.

    ``meanwhile`` is called before each loom; what it raises ends the reckoning.
    """
    order = {part.name: i for i, part in enumerate(mill.parts)}
    standing = {}
    for loom, state in fleet.looms.items():
        meanwhile()
        standing[loom] = _of_loom(state, mill, order)
    for unit in (Every.HOURS, Every.PICKS):
        asked = [
            (clocks[loom], {s.reading.when for _, q, s in own if _every(q) is unit})
            for loom, own in standing.items()
        ]
        meanwhile()
        look_up([each for each in asked if each[1]], fleet.as_of, unit.value)
    said: dict[Hashable, _Said] = {}
    found = {}
    for loom, own in standing.items():
        meanwhile()
        found[loom] = tuple(
            _line(loom, *each, fleet.as_of, mill, clocks[loom], calendar, said) for each in own
        )
    return found


def _every(quantity: Quantity) -> Every | None:
    return None if quantity.check_every is None else quantity.check_every.unit


def _of_loom(
    state: LoomState, mill: Mill, order: Mapping[str, int]
) -> list[tuple[PartLife, Quantity, Standing]]:
    """The readings that stand, each with its part and quantity, in the order of the register."""
    lives = sorted(
        state.parts.values(),
        key=lambda p: (order.get(p.at.part, 0), p.at.side or "", p.at.number or 0),
    )
    found = []
    for life in lives:
        if life.ending is Ending.ABSENT:
            continue
        for quantity in mill.part[life.at.part].quantities:
            stands = standing_of(life, quantity)
            if stands is not None:
                found.append((life, quantity, stands))
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """What a value says by itself: limit, margin, word and share of the way, as in a line."""

    limit: float | None
    margin: float | None
    word: WearWord
    worn: float | None


_made_said = maker(_Said)


def _said(reading: ReadingAt, quantity: Quantity, mill: Mill) -> _Said:
    limits = quantity.limits
    exact = reading.bound is Bound.EXACT
    distance = margin(reading.value, limits) if exact else NOT_EXACT
    return _made_said(
        limit=nearer_limit(reading.value, limits),
        margin=None if isinstance(distance, Refusal) else distance,
        word=reading_word(reading, quantity, mill.rules.near_limit),
        worn=worn_share(reading.value, quantity) if exact else None,
    )


def _line(
    loom: str,
    life: PartLife,
    quantity: Quantity,
    stands: Standing,
    now: datetime,
    mill: Mill,
    clock: UsageClock,
    calendar: ShiftCalendar,
    said: dict[Hashable, _Said],
) -> WearLine:
    """The line of one reading; what its value says is looked up where another part had the same."""
    reading = stands.reading
    overdue = is_overdue(quantity.check_every, reading.when, now, clock, calendar)
    value = (life.at.part, quantity.name, reading.bound, reading.value)
    own = said.get(value)
    if own is None:
        own = said[value] = _said(reading, quantity, mill)
    return _made(loom, life, quantity, stands, own, overdue)


def line_of(
    loom: str,
    life: PartLife,
    quantity: Quantity,
    reading: ReadingAt,
    mill: Mill,
    overdue: bool | Refusal = False,
) -> WearLine:
    """The line of one reading; ``overdue`` tells whether the next check is, where it is known."""
    stands = Standing(reading=reading)
    return _made(loom, life, quantity, stands, _said(reading, quantity, mill), overdue)


def _made(
    loom: str,
    life: PartLife,
    quantity: Quantity,
    stands: Standing,
    said: _Said,
    overdue: bool | Refusal,
) -> WearLine:
    return _wear_line(
        loom=loom,
        at=life.at,
        quantity=quantity.name,
        reading=stands.reading,
        since=stands.since,
        life=life,
        limit=said.limit,
        of_band=quantity.limits.worse is Worse.EITHER,
        uncertainty=quantity.tool_uncertainty,
        margin=said.margin,
        word=said.word,
        worn=said.worn,
        old=overdue is True,
        old_unknown=overdue.reason if isinstance(overdue, Refusal) else "",
        new=quantity.new,
    )


def reading_word(reading: ReadingAt, quantity: Quantity, near: float) -> WearWord:
    """The wear word of a reading or gauge verdict, without a forecast; ``near`` is a share."""
    limits = quantity.limits
    if reading.bound is not Bound.EXACT:
        return gauge_says(reading, limits)
    word = wear_word(reading.value, limits, quantity.tool_uncertainty or 0.0)
    if quantity.new is None:
        return word
    return near_by_share(word, reading.value, limits, quantity.new, near)


def nearer_limit(value: float, limits: Limits) -> float | None:
    """The limit that a value is nearer to, or None without one."""
    both = [limit for limit in (limits.low, limits.high) if limit is not None]
    return min(both, key=lambda limit: abs(limit - value)) if both else None


def worn_share(value: float, quantity: Quantity) -> float | None:
    """How far a value has gone from new to its limit; 1 at the limit, more beyond."""
    limit = nearer_limit(value, quantity.limits)
    if quantity.limits.worse is Worse.EITHER and quantity.new is not None:
        limit = quantity.limits.high if value >= quantity.new else quantity.limits.low
    return None if limit is None else _share_toward(limit, value, quantity)


def _share_toward(limit: float, value: float, quantity: Quantity) -> float | None:
    if quantity.new is None or limit == quantity.new:
        return None
    return max((value - quantity.new) / (limit - quantity.new), 0.0)


def toward(line: WearLine, limit: float, quantity: Quantity, near: float) -> WearLine:
    """The line of a reading inside a band, by the end that its forecast goes to; else as it is."""
    if not line.of_band or line.word in _AT_AN_END:
        return line
    if line.margin is None:
        return changed(line, limit=limit)
    value = line.reading.value
    end = Limits(low=limit) if limit < value else Limits(high=limit)
    word = WearWord.WITHIN_LIMIT
    if quantity.new is not None:
        word = near_by_share(word, value, end, quantity.new, near)
    return changed(
        line,
        limit=limit,
        margin=abs(value - limit),
        word=word,
        worn=_share_toward(limit, value, quantity),
    )


_AT_AN_END = (WearWord.PAST_LIMIT, WearWord.AT_LIMIT, WearWord.GAUGE_PAST)


def is_overdue(
    every: Interval | None,
    since: datetime,
    now: datetime,
    clock: UsageClock,
    calendar: ShiftCalendar,
) -> bool | Refusal:
    """Whether more than an interval has passed since a moment; a refusal where use is unknown."""
    if every is None:
        return False
    match every.unit:
        case Every.DAYS:
            return now - since > timedelta(days=every.amount)
        case Every.SHIFTS:
            return calendar.starts_between(since, now) > every.amount
        case Every.HOURS | Every.PICKS:
            use = clock.between(since, now, every.unit.value)
            if isinstance(use, UnknownUse):
                return Refusal(reason=use.reason)
            return use > every.amount * (1.0 + _ROUNDING)
