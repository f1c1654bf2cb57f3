"""The use of parts between two moments, over all looms they were on, of one part or of many.

What it does: running hours or picks by the usage clocks; of many parts the moments of each loom are
looked up at once, on arrays.
What it leaves to others: from when to when a part is asked about, and what its use says of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

import numpy as np

from board.reckon.refusal import Refusal
from board.state.history import PartLife
from board.state.usage import UnknownUse, UsageClock

Clocks = Mapping[str, UsageClock]
Asked = tuple[PartLife, datetime, datetime]


def use_between(
    life: PartLife, start: datetime, end: datetime, clocks: Clocks, unit: str = "h"
) -> float | Refusal:
    """The use of a part between two moments [running h or picks], over all looms it was on."""
    total = 0.0
    for stay in life.stays:
        begin = max(stay.start or start, start)
        until = min(stay.end or end, end)
        if until <= begin:
            continue
        used = clocks[stay.loom].between(begin, until, unit)
        if isinstance(used, UnknownUse):
            return Refusal(reason=used.reason)
        total += used
    return total


def uses_between(asked: Sequence[Asked], clocks: Clocks, unit: str = "h") -> list[float | Refusal]:
    """``use_between`` of many parts, each from a moment to another, to the last bit."""
    stretches = _Stretches()
    for part, (life, start, end) in enumerate(asked):
        for stay in life.stays:
            begin = start if stay.start is None or stay.start < start else stay.start
            until = end if stay.end is None or stay.end > end else stay.end
            if begin < until:
                stretches.add(part, stay.loom, begin.timestamp(), until.timestamp())
    totals: list[float | Refusal] = [0.0] * len(asked)
    for part, loom, used in stretches.used(clocks, unit):
        total = totals[part]
        if isinstance(total, Refusal):
            continue
        if used is None:
            clock = clocks[loom]
            totals[part] = Refusal(reason=clock.unknown(clock.uses.line(unit)).reason)
        else:
            totals[part] = total + used
    return totals


class _Stretches:
    """Stretches of time on looms [s since the epoch], each of a part, in the order they come."""

    def __init__(self) -> None:
        self._parts: list[int] = []
        self._looms: list[str] = []
        self._of_loom: dict[str, list[int]] = {}
        self._begin: list[float] = []
        self._until: list[float] = []

    def add(self, part: int, loom: str, begin: float, until: float) -> None:
        """One more stretch."""
        self._of_loom.setdefault(loom, []).append(len(self._parts))
        self._parts.append(part)
        self._looms.append(loom)
        self._begin.append(begin)
        self._until.append(until)

    def used(self, clocks: Clocks, unit: str) -> list[tuple[int, str, float | None]]:
        """Part, loom and use of each stretch; None where the loom's line does not tell it."""
        begins, untils = np.array(self._begin), np.array(self._until)
        rise, known = np.zeros(len(begins)), np.zeros(len(begins), dtype=bool)
        for loom, own in self._of_loom.items():
            line = clocks[loom].uses.line(unit)
            rows = np.array(own)
            begin, until = begins[rows], untils[rows]
            known[rows] = line.reaches_all(begin, until)
            if line.begin is not None:
                rise[rows] = line.at_all(until) - line.at_all(begin)
        told = zip(rise.tolist(), known.tolist(), strict=True)
        uses = [used if is_known else None for used, is_known in told]
        return list(zip(self._parts, self._looms, uses, strict=True))
