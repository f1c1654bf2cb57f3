"""The parts of a register: their names, sides and measured quantities with their limits.

A limit that contradicts another figure of the same quantity is refused here. What is asked for
after a replacement is read in ``register_after``; whether a word means two things is looked at in
``register_words``.
"""

from __future__ import annotations

from board.mill import Interval, Limits, Part, Quantity
from board.record.register_fields import (
    Refused,
    Table,
    Unreadable,
    name_fault,
    read_interval,
    shortened,
)
from grammar.folding import fold_word
from grammar.nearest import did_you_mean, nearest
from grammar.units import UNITS, Kind, Unit, unit_of

_PART_KEYS = ("sides", "words", "after", "caution")
_QUANTITY_KEYS = (
    "unit",
    "new",
    "replace_below",
    "replace_above",
    "band",
    "tool_uncertainty",
    "plausible",
    "check_every",
    "words",
)


def read_part(table: Table) -> Part:
    """A part with its quantities; what is asked for after a replacement is added later."""
    name = _name(table)
    quantities = []
    for key in table.values:
        if key in _PART_KEYS:
            continue
        if not isinstance(table.values[key], dict):
            raise table.unknown(key, _PART_KEYS)
        inner = table.table(key)
        near = nearest(key, ("after", "caution"))
        if near and "unit" not in inner:
            raise table.refuse(key, f"did you mean {near}? a quantity of that name needs a unit")
        quantities.append(_quantity(inner))
    caution = table.table("caution")
    caution.only("text")
    if "caution" in table and "text" not in caution:
        raise caution.missing("text", "write what is shown with the part")
    return Part(
        name=name,
        sides=names(table, "sides"),
        words=names(table, "words"),
        quantities=tuple(quantities),
        caution=caution.text("text") or "",
    )


def names(table: Table, key: str) -> tuple[str, ...]:
    """A list of names that a line of a log can hold, none of them twice."""
    found = table.texts(key)
    seen: set[str] = set()
    for index, name in enumerate(found):
        fault = name_fault(name)
        if fault:
            raise table.refuse_element(key, index, fault)
        folded = fold_word(name)
        if folded in seen:
            raise table.refuse_element(key, index, f"{name} stands here twice")
        seen.add(folded)
    return found


def _name(table: Table) -> str:
    name = str(table.path[-1])
    fault = name_fault(name)
    if fault:
        raise table.source.refuse(table.path, fault)
    return name


# -- quantities ----------------------------------------------------------------------------


def _quantity(table: Table) -> Quantity:
    name = _name(table)
    table.only(*_QUANTITY_KEYS)
    return Quantity(
        name=name,
        unit=_unit(table).symbol,
        new=table.number("new"),
        limits=_limits(table),
        tool_uncertainty=_tool_uncertainty(table),
        plausible=_plausible(table),
        check_every=_check_every(table),
        words=names(table, "words"),
    )


def _unit(table: Table) -> Unit:
    written = table.text("unit")
    if written is None:
        raise table.missing("unit", 'write the unit of the readings, like unit = "mm"')
    unit = known_unit(table, "unit", written)
    if unit.kind is Kind.PICKS:
        raise table.refuse("unit", "picks count the use of a loom, not the state of a part")
    return unit


def known_unit(table: Table, key: str, written: str) -> Unit:
    """The unit of that spelling; refuses any other, with the nearest."""
    unit = unit_of(fold_word(written))
    if unit is None:
        hint = did_you_mean(written, UNITS) or f"known are {' '.join(UNITS)}"
        raise table.refuse(key, f'"{shortened(written)}" is no unit; {hint}')
    return unit


def _limits(table: Table) -> Limits:
    low, high = table.number("replace_below"), table.number("replace_above")
    band, new = table.range("band"), table.number("new")
    if band is not None and (low is not None or high is not None):
        other = "replace_below" if low is not None else "replace_above"
        raise table.refuse("band", f"stands beside {other}; a quantity has one or the other")
    if low is not None and high is not None:
        raise table.refuse(
            "replace_above",
            f"stands beside replace_below; two limits are a band: band = [{low:g}, {high:g}]",
        )
    if low is not None and new is not None and new <= low:
        raise _never_good(table, "replace_below", low, new, "above")
    if high is not None and new is not None and new >= high:
        raise _never_good(table, "replace_above", high, new, "below")
    if band is not None:
        low, high = band
        if new is not None and not low < new < high:
            raise table.refuse("band", f"new is {new:g} and must lie between {low:g} and {high:g}")
    return Limits(low=low, high=high)


def _never_good(table: Table, key: str, limit: float, new: float, where: str) -> Refused:
    return table.refuse(
        key,
        f"new is {new:g} and must lie {where} {limit:g}, or a new part is due for replacement",
    )


def _tool_uncertainty(table: Table) -> float | None:
    value = table.number("tool_uncertainty")
    if value is not None and value <= 0:
        raise table.refuse(
            "tool_uncertainty", f"{value:g} is not above zero; leave it out where it is not known"
        )
    return value


def _plausible(table: Table) -> tuple[float, float] | None:
    plausible = table.range("plausible")
    if plausible is None:
        return None
    for key in ("new", "replace_below", "replace_above"):
        value = table.number(key)
        if value is not None:
            _inside(table, plausible, key, value)
    for value in table.range("band") or ():
        _inside(table, plausible, "band", value)
    return plausible


def _inside(table: Table, plausible: tuple[float, float], key: str, value: float) -> None:
    low, high = plausible
    if not low <= value <= high:
        raise table.refuse("plausible", f"{key} is {value:g} and lies outside {low:g} to {high:g}")


def _check_every(table: Table) -> Interval | None:
    written = table.text("check_every")
    if written is None:
        return None
    read = read_interval(written)
    if isinstance(read, Unreadable):
        raise table.refuse("check_every", f'{read.message}; write it like "500 h" or "7 days"')
    return read
