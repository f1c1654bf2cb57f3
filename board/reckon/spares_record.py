"""Spares as the record tells them: the parts in service, their lives, and when to order more.

Every replacement takes a spare from the shelf whatever its reason, so here all replacements count,
not only failures. A part in service whose wear is forecast is wanted when it passes its limit, or
breaks before at the rate on record; the others, and all successors, by the lives on record at
their present age. Where a part is adjusted more often than replaced, a passed limit is no
replacement, and no forecast is used. A passed limit is found only at the next check, so demand by
forecast comes rather too early than too late; what all parts share (a forecast that errs for the
whole fleet) is not in the range of the demand. The mathematics stands in ``stock``, ``laws`` and
``ordering``. Time is in calendar days, use in running hours.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from functools import cache

import numpy as np

from board.mill import Stock
from board.reckon.conformity import WearWord
from board.reckon.forecast import Forecast, p_before
from board.reckon.laws import LikelyLaws, WeibullLaw, likely_laws
from board.reckon.left import Ahead
from board.reckon.life_record import LifeOnRecord, Verdict, lives_on_record
from board.reckon.life_use import uses_between
from board.reckon.lives import Life
from board.reckon.margins import WearLine
from board.reckon.ordering import NoOrderYet, OrderBy, order_by
from board.reckon.refusal import Refusal
from board.reckon.stock import (
    AgedPart,
    Demand,
    ForecastPart,
    Part,
    demand,
    demand_at_rate,
    together,
)
from board.reckon.summary import Summary
from board.state.history import Ending, PartLife
from board.state.usage import UnknownUse
from grammar.entries import Verb, WhyReplaced
from grammar.frozen import dataclass

LEVEL = 0.90
RISK = 0.05  # that the stock runs out: it is to suffice with 95 %
HORIZON = timedelta(days=30)

_TIMES = 24  # how often a forecast is asked over the time looked ahead
_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class InService:
    """What is known of the parts in service: how many are reckoned in which way.

    ``at_least`` of the aged ones are older than the log, and taken at the use it saw of them;
    ``left_out`` are on looms whose use is not known; ``emptied`` places are those whose part was
    moved away, ``not_told`` those the log never speaks of.
    """

    by_forecast: int
    by_age: int
    at_least: int
    left_out: int
    emptied: int
    not_told: int

    @property
    def reckoned(self) -> int:
        """How many parts the demand rests on."""
        return self.by_forecast + self.by_age


@dataclass(frozen=True, slots=True, kw_only=True)
class SparesOf:
    """The demand for one part against its stock.

    ``replaced`` counts all replacements on record, ``aged`` those of known age, ``use`` [running h]
    all use on record. ``law`` tells whether ages count, or why only a rate is left.
    """

    part: str
    stock: Stock
    horizon: timedelta
    in_service: InService
    replaced: int
    aged: int
    use: float
    adjusted: int
    forecasts_used: bool
    law: LikelyLaws | Refusal
    over_lead: Demand | Refusal
    over_horizon: Demand | Refusal
    order: OrderBy | NoOrderYet | Refusal


@dataclass(frozen=True, slots=True, kw_only=True)
class Spares:
    """All parts with a stock in the register, and the names of the others."""

    parts: tuple[SparesOf, ...]
    no_stock_given: tuple[str, ...]


def spares_on_record(
    summary: Summary, part: str | None = None, horizon: timedelta = HORIZON
) -> Spares:
    """Demand, risk and order date of every part that has a stock, or of one."""
    fleet, mill = summary.snapshot.fleet, summary.snapshot.mill
    names = [p.name for p in mill.parts if part in (None, p.name)]
    records = lives_on_record(
        fleet,
        mill,
        summary.clocks,
        summary.calendar,
        parts=[name for name in names if name in mill.spares],
    )
    return Spares(
        parts=tuple(
            _of_part(summary, name, mill.spares[name], horizon, records)
            for name in names
            if name in mill.spares
        ),
        no_stock_given=tuple(name for name in names if name not in mill.spares),
    )


def _of_part(
    summary: Summary,
    part: str,
    stock: Stock,
    horizon: timedelta,
    every: Sequence[LifeOnRecord],
) -> SparesOf:
    fleet = summary.snapshot.fleet
    records = [r for r in every if r.at.part == part]
    replaced = sum(r.life.ending is Ending.REPLACED for r in records)
    use = sum(_seen_uses(summary, [r.life for r in records]))
    lives = [_until_replaced(r, r.age) for r in records if not isinstance(r.age, Refusal)]
    law = likely_laws(lives)
    jobs = [job.verb for job in fleet.history.jobs if job.at.part == part]
    adjusted = sum(verb in (Verb.ADJUSTED, Verb.REPAIRED) for verb in jobs)
    forecasts_used = adjusted <= replaced
    lead = max(stock.lead_time / _DAY, 1e-3)
    looked = max(horizon / _DAY, lead)
    times = tuple(float(t) for t in np.linspace(looked / _TIMES, looked, _TIMES))
    breaking = sum(_broke(r) for r in records) / use if use else 0.0
    parts, in_service = _parts(
        summary,
        part,
        times,
        breaking,
        forecasts=forecasts_used,
        followed=not isinstance(law, Refusal),
    )

    @cache
    def within(days: float) -> Demand | Refusal:
        return _demand(parts, law, replaced, use, days)

    return SparesOf(
        part=part,
        stock=stock,
        horizon=timedelta(days=looked),
        in_service=in_service,
        replaced=replaced,
        aged=sum(life.is_failure for life in lives),
        use=use,
        adjusted=adjusted,
        forecasts_used=forecasts_used and in_service.by_forecast > 0,
        law=law,
        over_lead=within(lead),
        over_horizon=within(looked),
        order=order_by(within, stock=stock.stock, lead=lead, risk=RISK, looked=looked),
    )


def _until_replaced(record: LifeOnRecord, age: float) -> Life:
    if record.life.ending is Ending.REPLACED:
        return Life.failed(age)
    return Life.unfinished(age)


def _broke(record: LifeOnRecord) -> bool:
    """Whether a part was replaced for another reason than its wear: broken, or a fault of it."""
    life = record.life
    if life.ending is not Ending.REPLACED or record.verdict is not Verdict.FAILED:
        return False
    return life.why is WhyReplaced.BROKEN or (life.why is None and "fault" in record.why)


def _seen_uses(summary: Summary, lives: Sequence[PartLife]) -> list[float]:
    """The use of each part that the log saw until its end or now [running h], 0 where not known."""
    asked = []
    for life in lives:
        end = life.ended or summary.as_of
        asked.append((life, life.fitted or _log_begins(life, summary) or end, end))
    uses = uses_between(asked, summary.clocks)
    return [0.0 if isinstance(used, Refusal) else used for used in uses]


def _log_begins(life: PartLife, summary: Summary) -> datetime | None:
    """When the log of the loom that a part was first on begins to tell its use."""
    begin = summary.clocks[life.stays[0].loom].hours.begin
    return datetime.fromtimestamp(begin, UTC) if begin is not None else None


# -- the parts in service --------------------------------------------------------------------


def _parts(
    summary: Summary,
    part: str,
    times: tuple[float, ...],
    breaking: float,
    *,
    forecasts: bool,
    followed: bool,
) -> tuple[list[Part], InService]:
    forecast: list[ForecastPart] = []
    aged: list[tuple[PartLife, float]] = []
    left_out = emptied = plain = 0
    now = summary.as_of
    open_days = _open_share(summary, times[-1])
    told: list[tuple[PartLife, float, Sequence[WearLine]]] = []
    for line in summary.looms:
        pace = summary.clocks[line.loom].hours_a_day(now)
        for life in line.state.parts.values():
            if life.at.part != part:
                continue
            plain += life.at.number is None
            if life.ending is not Ending.IN_SERVICE:
                emptied += life.ending is Ending.ABSENT
                continue
            if isinstance(pace, UnknownUse):
                left_out += 1
                continue
            own = [w for w in line.wear if w.at == life.at] if forecasts else []
            told.append((life, pace * open_days, own))
    every = _chances([(own, a_day) for _, a_day, own in told], times, breaking)
    for (life, a_day, _), chances in zip(told, every, strict=True):
        if chances is None:
            aged.append((life, a_day))
        else:
            after = a_day if followed else 0.0
            forecast.append(ForecastPart(times=times, chances=chances, pace=after))
    ages = _seen_uses(summary, [life for life, _ in aged])
    found: list[Part] = [
        *(AgedPart(age=age, pace=a_day) for age, (_, a_day) in zip(ages, aged, strict=True)),
        *forecast,
    ]
    places = len(summary.looms) * max(len(summary.snapshot.mill.part[part].sides), 1)
    return found, InService(
        by_forecast=len(forecast),
        by_age=len(aged),
        at_least=sum(life.fitted is None for life, _ in aged),
        left_out=left_out,
        emptied=emptied,
        not_told=max(places - plain, 0) if plain else 0,
    )


def _open_share(summary: Summary, days: float) -> float:
    """The share of the days ahead on which the calendar has the shed open."""
    calendar = summary.snapshot.mill.calendar
    today = summary.as_of.astimezone(summary.snapshot.mill.zone).date()
    ahead = [today + timedelta(days=n) for n in range(max(round(days), 1))]
    return sum(
        day.weekday() in calendar.days and day not in calendar.closed for day in ahead
    ) / len(ahead)


def _chances(
    parts: Sequence[tuple[Sequence[WearLine], float]], times: tuple[float, ...], breaking: float
) -> list[tuple[float, ...] | None]:
    """The chance that each part is wanted by each time, or None where nothing is forecast of it.

    Of each part its lines and its pace [running h a day]. Wear of each quantity and breaking are
    taken as independent; a part past its limit is wanted.
    """
    hours = [pace * np.array(times) for _, pace in parts]
    known: list[list[Forecast]] = [
        [w.ahead.forecast for w in lines if isinstance(w.ahead, Ahead)] for lines, _ in parts
    ]
    # the chances of all lines are reckoned together, each at the hours of its own part
    passed = p_before(
        [forecast for own in known for forecast in own],
        np.array([one for one, own in zip(hours, known, strict=True) for _ in own]).reshape(
            -1, len(times)
        ),
    )
    ends = np.cumsum([len(own) for own in known]).tolist()
    found: list[tuple[float, ...] | None] = []
    for (lines, _), until, own, end in zip(parts, hours, known, ends, strict=True):
        if any(line.word in (WearWord.PAST_LIMIT, WearWord.GAUGE_PAST) for line in lines):
            found.append(tuple(1.0 for _ in times))
        elif not own:
            found.append(None)
        else:
            lasting = np.exp(-breaking * until) * np.prod(
                1.0 - passed[end - len(own) : end], axis=0
            )
            chances = np.clip(np.maximum.accumulate(1.0 - lasting), 0.0, 1.0)
            found.append(tuple(chances.tolist()))
    return found


def _demand(
    parts: Sequence[Part], law: LikelyLaws | Refusal, replaced: int, use: float, days: float
) -> Demand | Refusal:
    """The demand within so many days: by the law, else by forecasts and a rate together."""
    if not isinstance(law, Refusal):
        return demand(parts, law, horizon=days, level=LEVEL)
    aged = [part for part in parts if isinstance(part, AgedPart)]
    forecast = [part for part in parts if isinstance(part, ForecastPart)]
    if not parts:
        return Refusal(reason="no part in service on record")
    by_rate = demand_at_rate(
        replaced,
        use,
        ahead=days * sum(part.pace for part in aged),
        horizon=days,
        parts=len(aged),
        level=LEVEL,
    )
    if isinstance(by_rate, Refusal) or not forecast:
        return by_rate
    # no part is aged here and none followed, so that the law given is never asked
    unasked = WeibullLaw(shape=1.0, scale=1.0, failures=replaced)
    worn = demand(forecast, unasked, horizon=days, level=LEVEL)
    return worn if isinstance(worn, Refusal) else together(by_rate, worn)


def order_date(order: OrderBy, as_of: datetime) -> datetime:
    """The latest moment to order; before ``as_of``, it has passed."""
    return as_of + timedelta(days=order.offset)
