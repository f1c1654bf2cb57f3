"""The shed's record as the wear forecast reads it: series against running hours, and past lives.

Groups by part, side and quantity over the whole fleet (numbered parts of a side together). Hours
come from the usage clocks of the looms that a part was on; implausible readings stay out. What
cannot be put on a clock is left out with its reason.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime

import numpy as np

from board.mill import Limits, Mill, Quantity, Worse
from board.reckon import made
from board.reckon.audit import DatedLife
from board.reckon.ended import Group, newest
from board.reckon.refusal import Refusal
from board.reckon.series import Quantity as Wearing
from board.reckon.series import Series, Toward
from board.reckon.told import Placed, Telling, first_reading, on_clocks, placed
from board.state.history import History, PartLife, ReadingAt
from board.state.spells import micros
from board.state.usage import UnknownUse, UsageClock
from grammar.making import maker

__all__ = [
    "Clocks",
    "Group",
    "PastLives",
    "past_lives",
    "placed_of",
    "series_of",
    "use_of",
    "wearing",
]

Clocks = Mapping[str, UsageClock]
PastLives = Mapping[Group, list[DatedLife]]

_dated_life = maker(DatedLife)


def wearing(quantity: Quantity) -> tuple[Wearing, ...]:
    """A quantity as something that wears toward its limit, one for each end of a band."""
    limits: Limits = quantity.limits
    u = quantity.tool_uncertainty or 0.0
    ends: list[tuple[float, Toward]] = []
    if limits.worse in (Worse.FALLING, Worse.EITHER) and limits.low is not None:
        ends.append((limits.low, Toward.DOWN))
    if limits.worse in (Worse.RISING, Worse.EITHER) and limits.high is not None:
        ends.append((limits.high, Toward.UP))
    return tuple(
        Wearing(limit=limit, toward=toward, uncertainty=u, new=quantity.new)
        for limit, toward in ends
    )


def use_of(life: PartLife, when: datetime, clocks: Clocks) -> float | Refusal:
    """Running hours of a part from its fitting, or its first reading, to a moment."""
    total = 0.0
    begin = life.fitted or first_reading(life)
    if begin is None:
        return Refusal(reason="no reading on record")
    for stay in life.stays:
        start = max(stay.start or begin, begin)
        end = min(stay.end or when, when)
        if end <= start:
            continue
        used = clocks[stay.loom].between(start, end)
        if isinstance(used, UnknownUse):
            return Refusal(reason=used.reason)
        total += used
    return total


def series_of(
    life: PartLife, quantity: str, clocks: Clocks, until: datetime
) -> tuple[Series, list[ReadingAt]] | Refusal:
    """The readings of a life against its running hours, up to a moment, and the readings used."""
    telling = Telling()
    telling.add(life, quantity, micros(until))
    (series,) = on_clocks(telling.told(), clocks)
    if isinstance(series, Refusal):
        return series
    return series, [r for r in life.readings.get(quantity, ()) if r.counts and r.when <= until]


def placed_of(lives: Iterable[tuple[PartLife, str]], clocks: Clocks, until: datetime) -> Placed:
    """Many lives, each with the readings of one quantity, on the clocks of their looms."""
    telling, moment = Telling(), micros(until)
    for life, quantity in lives:
        telling.add(life, quantity, moment)
    return placed(telling.told(), clocks)


def past_lives(history: History, mill: Mill, clocks: Clocks) -> dict[Group, list[DatedLife]]:
    """The newest ended lives of each group, in the order of their ends."""
    ended = newest(history.lives, mill)
    told = ended.told
    last = np.cumsum(told.readings)
    found: dict[Group, list[DatedLife]] = {}
    for group, series, first, end, moment in zip(
        ended.group.tolist(),
        on_clocks(told, clocks),
        (last - told.readings).tolist(),
        last.tolist(),
        told.until.tolist(),
        strict=True,
    ):
        if not isinstance(series, Refusal):
            found.setdefault(ended.groups[group], []).append(
                _dated_life(
                    life=made.Life(series=series, ended=series.now),
                    read_at=told.when[first:end],
                    ended_at=moment,
                )
            )
    return found
