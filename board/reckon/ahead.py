"""What lies ahead of every worn part in service: use left, shifts left, chances, or why unknown.

Puts the forecasts of ``wear`` onto the board's lines: the near-limit word follows the band, never
the median, and so do rank and bar.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import accumulate, islice, pairwise

import numpy as np

from board.mill import Every, Interval, Mill
from board.reckon import made
from board.reckon.conformity import WearWord, near_by_forecast
from board.reckon.forecast import Forecast, NoForecast, Unbounded, p_before, soonest
from board.reckon.left import Band
from board.reckon.margins import WearLine, toward
from board.reckon.refusal import Refusal
from board.reckon.series import Life, Packed
from board.reckon.series import Quantity as Wearing
from board.reckon.told import Placed
from board.reckon.wear import Study, forecasts_of_all, study
from board.reckon.wear_record import Clocks, Group, PastLives, placed_of, wearing
from board.state.fleet import Fleet
from board.state.shifts import ShiftCalendar
from board.state.usage import UnknownUse, UsageClock, look_up_days, speed_of
from grammar.frozen import dataclass
from grammar.making import changed

_Members = list[tuple[str, int, WearLine]]  # of a group: loom, place among its lines, line
_Answer = tuple[Forecast | NoForecast, float]  # and the limit that it is of

Learn = Callable[[Sequence[Life], Wearing], Study | Refusal]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pace:
    """What the lines of one loom share: its use of late and what it makes of it."""

    clock: UsageClock
    speed: float | None
    in_shifts: float | Refusal  # [shifts a running h], at its recent use
    in_picks: float | Refusal  # [picks a running h]
    a_day: float | UnknownUse
    # [running h] that it makes at its recent use until this shift, or the next, ends
    until_end: float | Refusal


def with_forecasts(
    wear: Mapping[str, tuple[WearLine, ...]],
    past: PastLives,
    fleet: Fleet,
    mill: Mill,
    clocks: Clocks,
    calendar: ShiftCalendar,
    learn: Learn = study,
    meanwhile: Callable[[], None] = lambda: None,
) -> dict[str, tuple[WearLine, ...]]:
    """The same lines, each with its forecast or the reason why there is none.

    ``learn`` tells what past lives teach; it may remember that from before. ``meanwhile`` is called
    before each group of parts, again and again; what it raises ends the reckoning.
    """
    named: dict[tuple[str, str | None, str], _Members] = defaultdict(list)
    lines = {loom: list(own) for loom, own in wear.items()}
    for loom, own in lines.items():
        for index, line in enumerate(own):
            named[line.at.part, line.at.side, line.quantity].append((loom, index, line))
    groups = {
        Group(part=part, side=side, quantity=quantity): members
        for (part, side, quantity), members in named.items()
    }
    paces = _paces([loom for loom, own in lines.items() if own], fleet, mill, clocks, calendar)
    meanwhile()
    on = placed_of(
        ((m[2].life, m[2].quantity) for members in groups.values() for m in members),
        clocks,
        fleet.as_of,
    )
    answers = _of_groups(groups, on, past, mill, learn, meanwhile)
    for (group, members), told in zip(groups.items(), answers, strict=True):
        meanwhile()
        put = _put(group, [m[2] for m in members], told, paces, fleet.as_of, mill, calendar)
        for (loom, index, _), line in zip(members, put, strict=True):
            lines[loom][index] = line
    return {loom: tuple(own) for loom, own in lines.items()}


def _paces(
    looms: Sequence[str], fleet: Fleet, mill: Mill, clocks: Clocks, calendar: ShiftCalendar
) -> dict[str, _Pace]:
    now = fleet.as_of
    look_up_days([clocks[loom] for loom in looms], now)
    left = (calendar.now_or_next(now).end - now) / timedelta(days=1)
    paces = {}
    for loom in looms:
        a_day = clocks[loom].hours_a_day(now)
        speed = speed_of(mill, loom, fleet.looms[loom].style)
        paces[loom] = _Pace(
            clock=clocks[loom],
            speed=speed,
            in_shifts=_in_shifts(a_day, mill),
            in_picks=Refusal(reason=f"the register gives {loom} no speed")
            if speed is None
            else speed * 60.0,
            a_day=a_day,
            until_end=Refusal(reason=a_day.reason)
            if isinstance(a_day, UnknownUse)
            else a_day * left,
        )
    return paces


def _of_groups(
    groups: Mapping[Group, _Members],
    on: Placed,
    past: PastLives,
    mill: Mill,
    learn: Learn,
    meanwhile: Callable[[], None],
) -> list[list[tuple[_Answer, float]]]:
    """A forecast, and the use so far, for each line of each group, in the order they are placed."""
    asked: list[tuple[Packed, Wearing, Study | Refusal]] = []
    ways: list[list[float]] = []
    bounds = list(pairwise([0, *accumulate(map(len, groups.values()))]))
    for group, (first, last) in zip(groups, bounds, strict=True):
        meanwhile()
        quantity = mill.quantity(group.part, group.quantity)
        assert quantity is not None
        good = [part for part in range(first, last) if part not in on.refused]
        ends = wearing(quantity)
        ways.append([end.limit for end in ends])
        lives = [d.life for d in past.get(group, [])]
        parts = np.array(good, dtype=np.int64)
        asked += [(on.packed(parts, way), way, learn(lives, way)) for way in ends]
    meanwhile()
    told, now = iter(forecasts_of_all(asked, meanwhile)), on.now.tolist()
    found: list[list[tuple[_Answer, float]]] = []
    for (first, last), limits in zip(bounds, ways, strict=True):
        if not limits:
            found.append([((NoForecast(reason="no limit given"), 0.0), 0.0)] * (last - first))
            continue
        best = [(answer, limits[0]) for answer in next(told)]
        for limit, other in zip(limits[1:], islice(told, len(limits) - 1), strict=True):
            best = [
                one if soonest(one[0], answer) is one[0] else (answer, limit)
                for one, answer in zip(best, other, strict=True)
            ]
        own = iter(best)
        found.append(
            [
                ((NoForecast(reason=on.refused[part].reason), 0.0), 0.0)
                if part in on.refused
                else (next(own), now[part])
                for part in range(first, last)
            ]
        )
    return found


def _put(
    group: Group,
    lines: Sequence[WearLine],
    answers: Sequence[tuple[_Answer, float]],
    paces: Mapping[str, _Pace],
    now: datetime,
    mill: Mill,
    calendar: ShiftCalendar,
) -> list[WearLine]:
    """The lines of a group with what was found; the chances of all are reckoned together."""
    quantity = mill.quantity(group.part, group.quantity)
    assert quantity is not None
    every = quantity.check_every
    found = [
        (forecast, paces[line.loom], _hours_to_check(every, line, now, paces[line.loom], calendar))
        for line, ((forecast, _), _) in zip(lines, answers, strict=True)
        if isinstance(forecast, Forecast)
    ]
    asked = [[_horizon(pace.until_end), _horizon(check)] for _, pace, check in found]
    chances: list[list[float]] = []
    if found:
        chances = p_before([forecast for forecast, _, _ in found], np.array(asked)).tolist()
    own = zip(found, chances, strict=True)
    put = []
    for given, ((answer, limit), used) in zip(lines, answers, strict=True):
        line = given
        if isinstance(answer, NoForecast):
            put.append(changed(line, ahead=Refusal(reason=answer.reason)))
            continue
        if line.word in _PAST:
            next(own)
            put.append(changed(line, ahead=PAST))
            continue
        (forecast, pace, until_check), (before_end, before_check) = next(own)
        high = forecast.high
        hours = made.Band(
            median=forecast.median,
            low=forecast.low,
            high=None if isinstance(high, Unbounded) else high,
        )
        ahead = made.Ahead(
            limit=limit,
            hours=hours,
            shifts=_times(hours, pace.in_shifts),
            picks=_times(hours, pace.in_picks),
            p_before_shift_end=_known(pace.until_end, before_end),
            p_before_check=_known(until_check, before_check),
            used=used,
            basis=forecast.basis,
            readings=forecast.readings,
            past_lives=forecast.past_lives,
            forecast=forecast,
        )
        line = toward(line, limit, quantity, mill.rules.near_limit)
        word = line.word
        if word in _INSIDE and not isinstance(until_check, Refusal):
            # the band decides, and no longer the share of the way that is left
            word = near_by_forecast(WearWord.WITHIN_LIMIT, hours.low, until_check)
        put.append(changed(line, ahead=ahead, word=word))
    return put


_INSIDE = (WearWord.WITHIN_LIMIT, WearWord.NEAR_LIMIT)
_PAST = (WearWord.PAST_LIMIT, WearWord.GAUGE_PAST)
PAST = Refusal(reason="the reading that stands is past the limit")


def _horizon(hours: float | Refusal) -> float:
    """How far to look; where it is not known, its chance is not asked for."""
    return 0.0 if isinstance(hours, Refusal) else hours


def _known(hours: float | Refusal, chance: float) -> float | Refusal:
    """The chance that a limit passes within some hours, or why these are not known."""
    return hours if isinstance(hours, Refusal) else chance


def _in_shifts(a_day: float | UnknownUse, mill: Mill) -> float | Refusal:
    if isinstance(a_day, UnknownUse):
        return Refusal(reason=a_day.reason)
    if a_day <= 0:
        return Refusal(reason="the loom has not run of late")
    return len(mill.shifts) / a_day


def _times(hours: Band, factor: float | Refusal) -> Band | Refusal:
    return factor if isinstance(factor, Refusal) else hours.times(factor)


def _hours_to_check(
    every: Interval | None,
    line: WearLine,
    now: datetime,
    pace: _Pace,
    calendar: ShiftCalendar,
) -> float | Refusal:
    """Running hours to the next planned check; an overdue one is taken as due by this shift's end.

    Without an interval in the register there is no planned check, and the shift's end counts.
    """
    end, a_day, clock, speed = pace.until_end, pace.a_day, pace.clock, pace.speed
    read_at = line.reading.when
    if isinstance(end, Refusal) or isinstance(a_day, UnknownUse) or every is None:
        return end
    match every.unit:
        case Every.HOURS:
            whole, used = every.amount, clock.between(read_at, now)
        case Every.PICKS:
            if speed is None:
                return Refusal(reason=f"the register gives {clock.loom} no speed")
            whole, used = every.amount / (speed * 60.0), clock.between(read_at, now)
        case Every.SHIFTS:
            a_shift = a_day / calendar.shifts_a_day
            passed = calendar.starts_between(read_at, now)
            whole, used = every.amount * a_shift, passed * a_shift
        case Every.DAYS:
            days = (now - read_at) / timedelta(days=1)
            whole, used = every.amount * a_day, days * a_day
    if isinstance(used, UnknownUse):
        return Refusal(reason=used.reason)
    return max(whole - used, end)
