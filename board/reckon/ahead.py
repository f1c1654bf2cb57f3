"""What lies ahead of every worn part in service: use left, shifts left, chances, or why unknown.

Puts the forecasts of ``wear`` onto the board's lines: the near-limit word follows the band, never
the median, and so do rank and bar.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from board.mill import Every, Interval, Mill
from board.reckon.audit import DatedLife
from board.reckon.conformity import WearWord, near_by_forecast
from board.reckon.forecast import Forecast, NoForecast, Unbounded, soonest
from board.reckon.left import Ahead, Band
from board.reckon.margins import WearLine
from board.reckon.refusal import Refusal
from board.reckon.wear import Study, forecasts, study
from board.reckon.wear_record import Clocks, Group, PastLives, series_of, wearing
from board.state.fleet import Fleet
from board.state.shifts import ShiftCalendar
from board.state.usage import UnknownUse, UsageClock, speed_of


def with_forecasts(
    wear: Mapping[str, tuple[WearLine, ...]],
    past: PastLives,
    fleet: Fleet,
    mill: Mill,
    clocks: Clocks,
    calendar: ShiftCalendar,
) -> dict[str, tuple[WearLine, ...]]:
    """The same lines, each with its forecast or the reason why there is none."""
    groups: dict[Group, list[tuple[str, int, WearLine]]] = defaultdict(list)
    lines = {loom: list(own) for loom, own in wear.items()}
    for loom, own in lines.items():
        for index, line in enumerate(own):
            group = Group(part=line.at.part, side=line.at.side, quantity=line.quantity)
            groups[group].append((loom, index, line))
    for group, members in groups.items():
        answers = _of_group(
            group, [m[2] for m in members], past.get(group, []), fleet, mill, clocks
        )
        for (loom, index, line), answer in zip(members, answers, strict=True):
            lines[loom][index] = _put(line, answer, fleet, mill, clocks[loom], calendar)
    return {loom: tuple(own) for loom, own in lines.items()}


def _of_group(
    group: Group,
    lines: Sequence[WearLine],
    past: Sequence[DatedLife],
    fleet: Fleet,
    mill: Mill,
    clocks: Clocks,
) -> list[tuple[Forecast | NoForecast, float]]:
    """A forecast, and the use so far, for each line of a group."""
    quantity = mill.quantity(group.part, group.quantity)
    assert quantity is not None
    made = [series_of(line.life, line.quantity, clocks, fleet.as_of) for line in lines]
    good = [m[0] for m in made if not isinstance(m, Refusal)]
    best: list[Forecast | NoForecast] | None = None
    for toward in wearing(quantity):
        known: Study | Refusal = study([d.life for d in past], toward)
        answers = forecasts(good, toward, known)
        best = (
            answers if best is None else [soonest(a, b) for a, b in zip(best, answers, strict=True)]
        )
    if best is None:
        return [(NoForecast(reason="no limit given"), 0.0) for _ in lines]
    found = iter(zip(best, good, strict=True))
    result: list[tuple[Forecast | NoForecast, float]] = []
    for one in made:
        if isinstance(one, Refusal):
            result.append((NoForecast(reason=one.reason), 0.0))
        else:
            answer, series = next(found)
            result.append((answer, series.now))
    return result


def _put(
    line: WearLine,
    answer: tuple[Forecast | NoForecast, float],
    fleet: Fleet,
    mill: Mill,
    clock: UsageClock,
    calendar: ShiftCalendar,
) -> WearLine:
    forecast, used = answer
    now = fleet.as_of
    speed = speed_of(mill, line.loom, fleet.looms[line.loom].style)
    if isinstance(forecast, NoForecast):
        return replace(line, ahead=Refusal(reason=forecast.reason))
    high = None if isinstance(forecast.high, Unbounded) else forecast.high
    hours = Band(median=forecast.median, low=forecast.low, high=high)
    a_day = clock.hours_a_day(now)
    quantity = mill.quantity(line.at.part, line.quantity)
    until_check = _hours_to_check(
        quantity.check_every if quantity else None,
        line.reading.when,
        now,
        clock,
        calendar,
        speed,
    )
    until_end = _hours_to_shift_end(now, clock, calendar)
    ahead = Ahead(
        hours=hours,
        shifts=_in_shifts(hours, a_day, mill),
        picks=_in_picks(hours, line.loom, speed),
        p_before_shift_end=_chance(forecast, until_end),
        p_before_check=_chance(forecast, until_check),
        used=used,
        basis=forecast.basis,
        readings=forecast.readings,
        past_lives=forecast.past_lives,
        forecast=forecast,
    )
    word = line.word
    if word in (WearWord.WITHIN_LIMIT, WearWord.NEAR_LIMIT) and not isinstance(
        until_check, Refusal
    ):
        # the band decides, and no longer the share of the way that is left
        word = near_by_forecast(WearWord.WITHIN_LIMIT, hours.low, until_check)
    return replace(line, ahead=ahead, word=word)


def _chance(forecast: Forecast, hours: float | Refusal) -> float | Refusal:
    return hours if isinstance(hours, Refusal) else forecast.p_before(hours)


def _in_shifts(hours: Band, a_day: float | UnknownUse, mill: Mill) -> Band | Refusal:
    if isinstance(a_day, UnknownUse):
        return Refusal(reason=a_day.reason)
    if a_day <= 0:
        return Refusal(reason="the loom has not run of late")
    return hours.times(len(mill.shifts) / a_day)


def _in_picks(hours: Band, loom: str, speed: float | None) -> Band | Refusal:
    if speed is None:
        return Refusal(reason=f"the register gives {loom} no speed")
    return hours.times(speed * 60.0)


def _hours_to_shift_end(
    now: datetime, clock: UsageClock, calendar: ShiftCalendar
) -> float | Refusal:
    """Running hours that the loom makes at its recent use until this, or the next, shift ends."""
    a_day = clock.hours_a_day(now)
    if isinstance(a_day, UnknownUse):
        return Refusal(reason=a_day.reason)
    left = calendar.now_or_next(now).end - now
    return a_day * (left / timedelta(days=1))


def _hours_to_check(
    every: Interval | None,
    read_at: datetime,
    now: datetime,
    clock: UsageClock,
    calendar: ShiftCalendar,
    speed: float | None,
) -> float | Refusal:
    """Running hours to the next planned check; an overdue one is taken as due by this shift's end.

    Without an interval in the register there is no planned check, and the shift's end counts.
    """
    end = _hours_to_shift_end(now, clock, calendar)
    a_day = clock.hours_a_day(now)
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
