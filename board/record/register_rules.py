"""Shifts, calendar, rules, spares and speeds of a register: what is counted by the clock."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from itertools import combinations

from board.mill import Calendar, Every, Interval, Part, Rules, Stock
from board.record.register_fields import (
    Table,
    Unreadable,
    name_fault,
    place_fault,
    read_amount,
    read_interval,
    shortened,
)
from grammar import times
from grammar.folding import fold_word
from grammar.nearest import did_you_mean, nearest
from grammar.vocabulary import ShiftTimes

_DAY_MINUTES = 24 * 60
_MOST_OVERLAP = 60  # [min] that two shifts may overlap
_LONGEST = 36525  # [days], a century
_WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_LONG_NAMES = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


# -- shifts --------------------------------------------------------------------------------


def read_shifts(table: Table) -> tuple[ShiftTimes, ...]:
    """The shifts in the order of the register, no two of them overlapping by more than an hour."""
    found: dict[str, ShiftTimes] = {}
    for name in table.values:
        fault = name_fault(name)
        if fault:
            raise table.refuse(name, fault)
        if fold_word(name) in found:
            raise table.refuse(name, f"the shift {found[fold_word(name)].name} is called the same")
        found[fold_word(name)] = _shift(table, name)
    if not found:
        raise table.source.refuse(table.path, 'no shift stands here; write early = "06:00-14:00"')
    for first, second in combinations(found.values(), 2):
        overlap = _overlap(first, second)
        if overlap > _MOST_OVERLAP:
            raise table.refuse(
                second.name,
                f"overlaps {first.name} by {overlap} minutes; at most {_MOST_OVERLAP} are allowed",
            )
    return tuple(found.values())


def _shift(table: Table, name: str) -> ShiftTimes:
    written = table.text(name) or ""
    ends = [piece.strip() for piece in re.split("[-–]", written)]
    try:
        start, end = ends
        begin = times.read_clock(start)
        finish = times.read_clock("00:00" if end in ("24:00", "2400") else end)
    except (ValueError, times.NoTime):
        raise table.refuse(
            name, f'"{shortened(written)}" is no stretch of the day, expected one like 06:00-14:00'
        ) from None
    if begin == finish and not end.startswith("24"):
        raise table.refuse(name, f"begins and ends at {begin:%H:%M}, a shift of no length")
    return ShiftTimes(name=name.strip(), start=begin, end=finish)


def _minutes(shift: ShiftTimes) -> tuple[int, int]:
    start = shift.start.hour * 60 + shift.start.minute
    end = shift.end.hour * 60 + shift.end.minute
    return start, end + _DAY_MINUTES if shift.past_midnight else end


def _overlap(first: ShiftTimes, second: ShiftTimes) -> int:
    """The longest stretch [min] that lies in both shifts, day after day."""
    start, end = _minutes(first)
    other_start, other_end = _minutes(second)
    return max(
        min(end, other_end + day) - max(start, other_start + day)
        for day in (-_DAY_MINUTES, 0, _DAY_MINUTES)
    )


# -- calendar ------------------------------------------------------------------------------


def read_calendar(table: Table) -> Calendar:
    """The required time; every day where the table is left out."""
    table.only("days", "closed")
    closed = set()
    for index, value in table.elements("closed", '["2026-12-25"]'):
        closed.add(_date(table, index, value))
    return Calendar(days=_days(table), closed=frozenset(closed))


def _date(table: Table, index: int, value: object) -> date:
    if isinstance(value, date) and not isinstance(value, datetime):
        value = value.isoformat()
    try:
        return times.read_date(value if isinstance(value, str) else "")
    except times.NoTime:
        written = f'"{shortened(value)}"' if isinstance(value, str) else "this"
        raise table.refuse_element(
            "closed", index, f"{written} is no date, expected one like 2026-12-25"
        ) from None


def _days(table: Table) -> frozenset[int]:
    written = table.text("days")
    if written is None:
        return frozenset(range(7))
    found: set[int] = set()
    for piece in fold_word(written).split(","):
        ends = [_weekday(table, word.strip()) for word in re.split("[-–]", piece)]
        if len(ends) > 2:
            raise table.refuse("days", f'"{shortened(written)}" is no range, expected mon-sat')
        first, last = ends[0], ends[-1]
        found |= {day % 7 for day in range(first, last + (8 if last < first else 1))}
    return frozenset(found)


def _weekday(table: Table, word: str) -> int:
    for names in (_WEEKDAYS, _LONG_NAMES):
        if word in names:
            return names.index(word)
    days = {name: index for names in (_WEEKDAYS, _LONG_NAMES) for index, name in enumerate(names)}
    hint = did_you_mean(word, days) or "expected days like mon-sat"
    raise table.refuse("days", f'"{shortened(word)}" is no day of the week; {hint}')


# -- rules, spares, speeds -----------------------------------------------------------------


def read_rules(table: Table) -> Rules:
    """The rules of reckoning; the language's own where they are left out."""
    table.only("guard_band", "near_limit", "repeat_window")
    rules = Rules()
    guard = table.number("guard_band")
    if guard is not None and guard < 0:
        raise table.refuse("guard_band", f"{guard:g} lies below zero")
    hours, days = _window(table, rules)
    near = table.text("near_limit")
    return Rules(
        guard_band=rules.guard_band if guard is None else guard,
        near_limit=rules.near_limit if near is None else _share(table, "near_limit", near),
        repeat_hours=hours,
        repeat_days=days,
    )


def _share(table: Table, key: str, written: str) -> float:
    read = read_amount(written)
    if isinstance(read, Unreadable):
        raise table.refuse(key, f"{read.message}; write it like 20 %")
    value, unit = read
    if unit != "%" or value >= 100:
        raise table.refuse(key, f'"{shortened(written)}" is no share, expected one like 20 %')
    return value / 100


def _window(table: Table, rules: Rules) -> tuple[float, timedelta]:
    if "repeat_window" not in table:
        return rules.repeat_hours, rules.repeat_days
    read = []
    for index, written in enumerate(table.texts("repeat_window")):
        interval = read_interval(written)
        if isinstance(interval, Unreadable):
            raise table.refuse_element("repeat_window", index, interval.message)
        read.append(interval)
    match sorted(read, key=lambda interval: interval.unit is Every.DAYS):
        case [
            Interval(amount=hours, unit=Every.HOURS),
            Interval(amount=days, unit=Every.DAYS),
        ] if days <= _LONGEST:
            return hours, timedelta(days=days)
        case _:
            raise table.refuse(
                "repeat_window", 'expected hours of the loom and days, like ["200 h", "14 days"]'
            )


def read_spares(tables: Table, parts: tuple[Part, ...]) -> dict[str, Stock]:
    """The spares by part."""
    known = {fold_word(part.name): part.name for part in parts}
    by_word = {fold_word(word): part.name for part in parts for word in part.words}
    found: dict[str, Stock] = {}
    for name, table in tables.tables():
        part = known.get(fold_word(name))
        if part is None:
            near = by_word.get(fold_word(name)) or nearest(name, known.values())
            hint = f"; did you mean {near}?" if near else ""
            raise tables.refuse(name, f'no part "{shortened(name)}" stands in the register{hint}')
        if part in found:
            raise tables.refuse(name, f"the spares of {part} stand here twice")
        found[part] = _stock(table)
    return found


def _stock(table: Table) -> Stock:
    table.only("stock", "lead_time")
    stock = table.number("stock")
    if stock is None:
        raise table.missing("stock", "write how many pieces are on the shelf")
    if stock < 0 or stock != int(stock):
        raise table.refuse("stock", f"{stock:g} is no number of pieces")
    written = table.text("lead_time")
    if written is None:
        raise table.missing("lead_time", 'write how long a delivery takes, like "14 days"')
    read = read_interval(written)
    if isinstance(read, Unreadable):
        raise table.refuse("lead_time", f"{read.message}; write it like 14 days")
    if read.unit is not Every.DAYS or read.amount > _LONGEST:
        raise table.refuse("lead_time", f'"{shortened(written)}" is not in days, like 14 days')
    return Stock(stock=int(stock), lead_time=timedelta(days=read.amount))


def read_style_speeds(tables: Table) -> dict[str, float]:
    """The speed of each style [picks/min]."""
    found: dict[str, float] = {}
    seen: dict[str, str] = {}
    for name, table in tables.tables():
        fault = place_fault(name)
        if fault:
            raise tables.refuse(name, fault)
        first = seen.setdefault(fold_word(name), name)
        if first != name:
            raise tables.refuse(name, f"the style {first} is called the same")
        table.only("speed")
        speed = table.above_zero("speed")
        if speed is None:
            raise table.missing("speed", "write the picks per minute")
        found[name] = speed
    return found
