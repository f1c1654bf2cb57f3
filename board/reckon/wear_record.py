"""The shed's record as the wear forecast reads it: series against running hours, and past lives.

Groups by part, side and quantity over the whole fleet (numbered parts of a side together). Hours
come from the usage clocks of the looms that a part was on; implausible readings stay out. What
cannot be put on a clock is left out with its reason.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from board.mill import Limits, Mill, Quantity, Worse
from board.reckon.audit import DatedLife
from board.reckon.kinds import Kind
from board.reckon.refusal import Refusal
from board.reckon.series import Life, Origin, Series, Toward
from board.reckon.series import Quantity as Wearing
from board.state.history import Bound, Ending, History, PartLife, ReadingAt
from board.state.usage import UnknownUse, UsageClock

Clocks = Mapping[str, UsageClock]
PastLives = Mapping["Group", list[DatedLife]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """What wears alike: one quantity of one part and side, over the whole fleet."""

    part: str
    side: str | None
    quantity: str

    def words(self) -> str:
        """``left tape thickness``."""
        return f"{self.side} {self.part} {self.quantity}" if self.side else (
            f"{self.part} {self.quantity}"
        )  # fmt: skip


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
    begin = life.fitted or _first_reading(life)
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


def _first_reading(life: PartLife) -> datetime | None:
    moments = [r.when for series in life.readings.values() for r in series if r.counts]
    return min(moments, default=None)


_KINDS = {Bound.EXACT: Kind.EXACT, Bound.AT_LEAST: Kind.ABOVE, Bound.AT_MOST: Kind.BELOW}


def series_of(
    life: PartLife, quantity: str, clocks: Clocks, until: datetime
) -> tuple[Series, list[ReadingAt]] | Refusal:
    """The readings of a life against its running hours, up to a moment, and the readings used."""
    readings = [r for r in life.readings.get(quantity, ()) if r.counts and r.when <= until]
    uses: list[float] = []
    for reading in readings:
        use = use_of(life, reading.when, clocks)
        if isinstance(use, Refusal):
            return use
        uses.append(use)
    now = use_of(life, until, clocks)
    if isinstance(now, Refusal):
        return now
    series = Series(
        use=np.maximum.accumulate(np.array(uses, dtype=float)) if uses else np.zeros(0),
        value=np.array([r.value for r in readings], dtype=float),
        kind=np.array([int(_KINDS[r.bound]) for r in readings], dtype=np.int64),
        level=np.array([r.level for r in readings], dtype=np.int64),
        now=max([now, *uses]),
        origin=Origin.FITTED if life.fitted else Origin.FIRST_READING,
    )
    return series, readings


def past_lives(history: History, mill: Mill, clocks: Clocks) -> dict[Group, list[DatedLife]]:
    """The ended lives of each group, in the order of their ends."""
    found: dict[Group, list[DatedLife]] = defaultdict(list)
    for life in sorted(
        history.lives, key=lambda x: (x.ended is None, x.ended, x.loom, x.at.words())
    ):
        if life.ended is None or life.ending is Ending.ABSENT:
            continue
        part = mill.part.get(life.at.part)
        for quantity in part.quantities if part else ():
            made = series_of(life, quantity.name, clocks, life.ended)
            if isinstance(made, Refusal) or not len(made[0].use):
                continue
            series, readings = made
            group = Group(part=life.at.part, side=life.at.side, quantity=quantity.name)
            found[group].append(
                DatedLife(
                    life=Life(series=series, ended=series.now),
                    read_at=np.array([r.when.timestamp() for r in readings]),
                    ended_at=life.ended.timestamp(),
                )
            )
    return found
