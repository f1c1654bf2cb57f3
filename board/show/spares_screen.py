"""Spare parts on a screen and as JSON: what is short first, and what each number rests on."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from board.reckon.ordering import NoOrderYet, OrderBy
from board.reckon.refusal import Refusal
from board.reckon.spares_record import LEVEL, RISK, Spares, SparesOf, order_date
from board.reckon.stock import Demand
from board.reckon.summary import Summary
from board.show.lines import Bit, Line, Tone, line, title
from board.show.moments import counted, long_clock
from board.show.prose import prose
from board.show.records import iso
from board.show.text import clean, pad, width

Record = dict[str, Any]

_DAY = timedelta(days=1)
_RULE = (
    "Every replacement takes a spare. Wanted: mean, and the range that holds with 90 %. Nothing"
    " here counts the stock down: whoever takes or stores a part writes the new count under"
    " [spares] in shed.toml. At the looms' use of the last two weeks. A part is taken as wanted"
    " when it passes its limit; the next check finds that later. The ranges leave out what all"
    " forecasts of a part may err in together."
)


def spares_lines(summary: Summary, spares: Spares, cells: int) -> list[Line]:
    """The whole screen, parts whose order is due soonest first."""
    rows = [title(f"SPARES {len(spares.parts)}", "to suffice with 95 %", cells)]
    rows += prose(_RULE, cells)
    for one in sorted(spares.parts, key=_urgency):
        rows += _part(summary, one, cells)
    if spares.no_stock_given:
        names = ", ".join(spares.no_stock_given)
        rows += prose(f"no stock given: {names}", cells)
    return [row.fitted(cells) for row in rows]


def _urgency(one: SparesOf) -> tuple[float, str]:
    match one.order:
        case OrderBy(offset=offset):
            return offset, one.part
        case NoOrderYet():
            return 1e6, one.part
        case Refusal():
            return 1e7, one.part


def _part(summary: Summary, one: SparesOf, cells: int) -> list[Line]:
    lead = _days(one.stock.lead_time)
    said, tone = _order(summary, one)
    name = Bit(f"{pad(clean(one.part), 8)} ", Tone.STRONG)
    held = f"stock {one.stock.stock}, lead time {lead}: "
    rows = [line(name, held, Bit(said, tone))]
    if width(rows[0].plain) > cells:
        rows = [line(name, held), *_toned(prose(said, cells, " " * 9), tone)]
    texts = [
        f"wanted in {lead} (the lead time): {_over_lead(one)}",
        *([f"wanted in {_days(one.horizon)}: {_over_horizon(one)}"] if _looks_further(one) else []),
        _basis(one),
    ]
    for text in texts:
        rows += prose(text, cells, " " * 9)
    return rows


def _toned(rows: list[Line], tone: Tone) -> list[Line]:
    return [line(Bit(row.plain, tone)) for row in rows]


def _order(summary: Summary, one: SparesOf) -> tuple[str, Tone]:
    match one.order:
        case OrderBy():
            if one.order.offset <= 0:
                late = -one.order.offset
                ago = "" if late < 1 else f"; was due {counted(round(late), 'day')} ago"
                return f"ORDER NOW{_how_many(one)}{ago}", Tone.ABNORMAL
            by = order_date(one.order, summary.as_of)
            day = long_clock(by, summary.snapshot.mill.zone).rpartition(" ")[0]
            return f"order by {day}{_how_many(one)}", Tone.STRONG
        case NoOrderYet():
            return f"no order falls due within {_days(one.horizon)}", Tone.PLAIN
        case Refusal(reason=reason):
            return f"no order date: {reason}", Tone.PLAIN


def _days(span: timedelta) -> str:
    days = span / _DAY
    return counted(round(days), "day") if days >= 1 else f"{days * 24:.0f} h"


def _looks_further(one: SparesOf) -> bool:
    return one.horizon > one.stock.lead_time


def _wanted(demand: Demand) -> str:
    limits = demand.limits
    mean = f"{demand.mean:.0f}" if demand.mean >= 10 else f"{demand.mean:.1f}"
    return f"{mean} ({limits.low:.0f} to {limits.high:.0f})"


def to_add(demand: Demand | Refusal, stock: int) -> int | None:
    """How many more than the stock it takes to suffice with 95 %; None where that is not known."""
    return None if isinstance(demand, Refusal) else max(demand.stock_for(1.0 - RISK) - stock, 0)


def _over_lead(one: SparesOf) -> str:
    demand, stock = one.over_lead, one.stock.stock
    if isinstance(demand, Refusal):
        return f"not known: {demand.reason}"
    more = to_add(demand, stock)
    enough = "the stock suffices with 95 %"
    if more:
        enough = f"{more} more on the shelf now would make it last until then with 95 %"
    return (
        f"{_wanted(demand)}; {percent(demand.runs_out(stock))} chance that the stock runs out"
        f" before a delivery ordered today comes; {enough}"
    )


def _over_horizon(one: SparesOf) -> str:
    demand, stock = one.over_horizon, one.stock.stock
    if isinstance(demand, Refusal):
        return f"not known: {demand.reason}"
    more = to_add(demand, stock)
    enough = f"{more} more would make it" if more else "the stock is"
    return (
        f"{_wanted(demand)}; {percent(demand.runs_out(stock))} chance that the stock runs out by"
        f" then without a delivery; {enough} enough with 95 %"
    )


def _how_many(one: SparesOf) -> str:
    """How many to order: what is short of the longer of lead time and horizon."""
    more = to_add(one.over_horizon, one.stock.stock)
    return f": {more} or more, to last {_days(one.horizon)} with 95 %" if more else ""


def percent(chance: float) -> str:
    """A chance in whole per cent, never rounded to certainty."""
    if chance < 0.005:
        return "under 1 %"
    return "over 99 %" if chance > 0.995 else f"{100 * chance:.0f} %"


def _basis(one: SparesOf) -> str:
    """What the demand rests on, with its counts."""
    parts = one.in_service
    told = [f"{parts.reckoned} in service: {parts.by_forecast} by wear forecast"]
    if parts.by_age:
        told.append(f"{parts.by_age} by {_law(one)}")
    if parts.at_least and not isinstance(one.law, Refusal):
        told.append(f"{parts.at_least} of these older than the log, taken as younger than they are")
    if parts.left_out:
        told.append(f"{parts.left_out} left out, use unknown")
    if parts.emptied:
        moved = "its part" if parts.emptied == 1 else "their parts"
        told.append(f"{counted(parts.emptied, 'place')} empty since {moved} moved away")
    if parts.not_told:
        told.append(f"{counted(parts.not_told, 'place')} never told of")
    if parts.by_forecast and isinstance(one.law, Refusal):
        told.append("their successors not counted")
    if not one.forecasts_used and one.adjusted > one.replaced:
        told.append(
            f"adjusted {one.adjusted} times, more often than replaced, so no forecast of the limit"
        )
    seen = f"{one.replaced} replaced in {one.use:.0f} running h, {one.aged} of known age"
    return f"{', '.join(told)}; {seen}"


def _law(one: SparesOf) -> str:
    if isinstance(one.law, Refusal):
        return "a constant rate, which is blind to ageing"
    return "age and the lives on record"


# -- JSON ------------------------------------------------------------------------------------


def spares_document(summary: Summary, spares: Spares) -> Record:
    """The same as JSON."""
    return {
        "as_of": iso(summary, summary.as_of),
        "spares": [_record(summary, one) for one in spares.parts],
        "no_stock_given": list(spares.no_stock_given),
    }


def _record(summary: Summary, one: SparesOf) -> Record:
    parts = one.in_service
    return {
        "part": one.part,
        "stock": one.stock.stock,
        "lead_time_days": round(one.stock.lead_time / _DAY, 3),
        "horizon_days": round(one.horizon / _DAY, 3),
        "level": LEVEL,
        "risk": RISK,
        "in_service": {
            "by_forecast": parts.by_forecast,
            "by_age": parts.by_age,
            "at_least": parts.at_least,
            "left_out": parts.left_out,
            "emptied": parts.emptied,
            "not_told": parts.not_told,
        },
        "replaced": one.replaced,
        "replaced_of_known_age": one.aged,
        "use_h": round(one.use, 1),
        "adjusted": one.adjusted,
        "basis": _basis(one),
        "order_at_least": to_add(one.over_horizon, one.stock.stock),
        "over_lead": _demand(one.over_lead, one.stock.stock, one.stock.lead_time),
        "over_horizon": _demand(one.over_horizon, one.stock.stock, one.horizon),
        "order": _order_record(summary, one),
    }


def _demand(demand: Demand | Refusal, stock: int, span: timedelta) -> Record:
    days = round(span / _DAY, 3)
    if isinstance(demand, Refusal):
        nothing = dict.fromkeys(("mean", "low", "high", "runs_out", "stock_for_95", "more_for_95"))
        return {"days": days, **nothing, "reason": demand.reason}
    return {
        "days": days,
        "mean": round(demand.mean, 3),
        "low": int(demand.limits.low),
        "high": int(demand.limits.high),
        "runs_out": round(demand.runs_out(stock), 5),
        "stock_for_95": demand.stock_for(1.0 - RISK),
        "more_for_95": to_add(demand, stock),
        "reason": None,
    }


def _order_record(summary: Summary, one: SparesOf) -> Record:
    match one.order:
        case OrderBy():
            by = order_date(one.order, summary.as_of)
            return {"due": by <= summary.as_of, "by": iso(summary, by), "reason": None}
        case NoOrderYet():
            reason = f"no order falls due within {_days(one.horizon)}"
            return {"due": False, "by": None, "reason": reason}
        case Refusal(reason=reason):
            return {"due": None, "by": None, "reason": reason}
