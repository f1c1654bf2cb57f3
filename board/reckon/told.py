"""Many parts put on the clocks of their looms at once: readings against running hours.

What it does: takes the readings of any number of parts as columns, with the stretches that each
part was on a loom, and reckons the running hours at all their moments loom by loom, on arrays.
What it leaves to others: which readings count, and what is learned from the series.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from board.reckon import made
from board.reckon.kinds import Kind
from board.reckon.refusal import Refusal
from board.reckon.series import Array, Codes, Mask, Origin, Packed, Quantity, Series, laid
from board.state.history import Bound, PartLife
from board.state.kept_readings import BOUNDS, Numbers, first_counted, numbers_of
from board.state.lines_abreast import rises
from board.state.spells import moment_of
from board.state.usage import UsageClock
from grammar.frozen import dataclass

_MICRO = 1e6
NO_READING = Refusal(reason="no reading on record")
_KIND_OF = {  # what a reading of this bound says of the true value
    Bound.EXACT: int(Kind.EXACT),
    Bound.AT_LEAST: int(Kind.ABOVE),
    Bound.AT_MOST: int(Kind.BELOW),
}
_KINDS = np.array([_KIND_OF[bound] for bound in BOUNDS], dtype=np.int64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What is on record of many parts, one row a part, times in seconds since the epoch.

    Of each part: where its use begins (nan: not known), until when it is asked for, whether it
    was ``fitted`` on record, how many readings and stays it has. Behind each other in the order of
    parts: the readings, and the stays with the place of their loom in ``looms``.
    """

    begin: Array
    until: Array
    fitted: Mask
    readings: Codes
    when: Array
    value: Array
    step: Array
    kind: Codes
    level: Codes
    stays: Codes
    looms: Sequence[str]
    loom: Codes
    start: Array
    end: Array

    def rows(self, index: Codes) -> Told:
        """Only the parts named, in that order."""
        reading, stay = _within(self.readings, index), _within(self.stays, index)
        return Told(
            begin=self.begin[index],
            until=self.until[index],
            fitted=self.fitted[index],
            readings=self.readings[index],
            when=self.when[reading],
            value=self.value[reading],
            step=self.step[reading],
            kind=self.kind[reading],
            level=self.level[reading],
            stays=self.stays[index],
            looms=self.looms,
            loom=self.loom[stay],
            start=self.start[stay],
            end=self.end[stay],
        )


def _within(counts: Codes, index: Codes) -> Codes:
    """The places of what belongs to the rows named, each row having so many behind each other."""
    some = counts[index]
    ends = np.cumsum(some)
    first = (np.cumsum(counts) - counts)[index]
    places = np.arange(int(some.sum())) + np.repeat(first - (ends - some), some)
    return np.asarray(places, dtype=np.int64)


def joined(several: Sequence[Told]) -> Told:
    """Columns behind each other as one, though each has its own names of looms."""
    looms = {name: i for i, name in enumerate(dict.fromkeys(n for t in several for n in t.looms))}
    several = [*several, Telling().told()]  # of none, the kinds of the columns are still known

    def behind(name: str) -> Array:
        return np.concatenate([getattr(told, name) for told in several])

    loom = [np.array([looms[n] for n in t.looms], dtype=np.int64)[t.loom] for t in several]
    return Told(
        begin=behind("begin"),
        until=behind("until"),
        fitted=behind("fitted").astype(bool),
        readings=behind("readings").astype(np.int64),
        when=behind("when"),
        value=behind("value"),
        step=behind("step"),
        kind=behind("kind").astype(np.int64),
        level=behind("level").astype(np.int64),
        stays=behind("stays").astype(np.int64),
        looms=tuple(looms),
        loom=np.concatenate(loom),
        start=behind("start"),
        end=behind("end"),
    )


@dataclass(slots=True)
class Telling:
    """Collects parts, one after the other; ``told`` are all of them so far."""

    begin: list[float] = field(default_factory=list)
    until: list[int] = field(default_factory=list)  # [us since the epoch]
    fitted: list[bool] = field(default_factory=list)
    series: list[Numbers] = field(default_factory=list)
    stays: list[int] = field(default_factory=list)
    looms: dict[str, int] = field(default_factory=dict)
    loom: list[int] = field(default_factory=list)
    start: list[float] = field(default_factory=list)
    end: list[float] = field(default_factory=list)

    def add(self, life: PartLife, quantity: str, until: int) -> None:
        """One more part, with its readings of a quantity up to a moment [us since the epoch]."""
        begin = life.fitted or first_reading(life)
        self.begin.append(np.nan if begin is None else begin.timestamp())
        self.until.append(until)
        self.fitted.append(life.fitted is not None)
        self.series.append(numbers_of(life.readings, quantity))
        self.stays.append(len(life.stays))
        for stay in life.stays:
            self.loom.append(self.looms.setdefault(stay.loom, len(self.looms)))
            self.start.append(-np.inf if stay.start is None else stay.start.timestamp())
            self.end.append(np.inf if stay.end is None else stay.end.timestamp())

    def told(self) -> Told:
        """All parts, as columns."""
        until = np.array(self.until, dtype=np.int64)
        of_part = np.repeat(np.arange(len(until)), [len(one) for one in self.series])
        when = _behind([one.when for one in self.series], "<i8")
        counts = _behind([one.counts for one in self.series], "u1")
        good = (counts == 1) & (when <= until[of_part])
        return Told(
            begin=np.array(self.begin, dtype=float),
            until=until / _MICRO,
            fitted=np.array(self.fitted, dtype=bool),
            readings=np.bincount(of_part[good], minlength=len(until)),
            when=when[good] / _MICRO,
            value=_behind([one.value for one in self.series], "<f8")[good],
            step=_behind([one.step for one in self.series], "<f8")[good],
            kind=_KINDS[_behind([one.bound for one in self.series], "u1")[good]],
            level=_behind([one.level for one in self.series], "<i8")[good],
            stays=np.array(self.stays, dtype=np.int64),
            looms=tuple(self.looms),
            loom=np.array(self.loom, dtype=np.int64),
            start=np.array(self.start, dtype=float),
            end=np.array(self.end, dtype=float),
        )


def _behind(columns: Sequence[bytes], kind: str) -> NDArray[Any]:
    return np.frombuffer(b"".join(columns), dtype=kind)


def first_reading(life: PartLife) -> datetime | None:
    """When a part was first measured, by the readings that count."""
    first = first_counted(life.readings)
    return None if first is None else moment_of(first)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placed:
    """Parts on the clocks of their looms [running h]: the `use` at each reading of ``told``, and
    ``now``, (parts,), at the moment each is asked for; why the hours of a part are not known.
    """

    told: Told
    use: Array
    now: Array
    refused: Mapping[int, Refusal]

    def packed(self, parts: Codes, quantity: Quantity) -> Packed:
        """Some parts side by side. Raises ValueError as `series.pack` does."""
        told, reading = self.told, _within(self.told.readings, parts)
        return laid(
            quantity,
            count=told.readings[parts],
            use=self.use[reading],
            value=told.value[reading],
            step=told.step[reading],
            kind=told.kind[reading],
            level=told.level[reading],
            now=self.now[parts],
            fitted=told.fitted[parts],
        )


def placed(told: Told, clocks: Mapping[str, UsageClock]) -> Placed:
    """Parts on the clocks of their looms."""
    # Behind each part's readings stands the moment it is asked for.
    when = np.insert(told.when, np.cumsum(told.readings), told.until)
    count = told.readings + 1
    use, failed = _uses(told, when, count, clocks)
    last = np.cumsum(count)
    starts = last - count
    steady = np.ones(len(use), dtype=bool)
    steady[1:] = use[1:] >= use[:-1]
    steady[starts] = True
    for part in set(np.searchsorted(last, np.flatnonzero(~steady), side="right").tolist()):
        own = slice(starts[part], last[part])
        use[own] = np.maximum.accumulate(use[own])
    refused: dict[int, Refusal] = {}
    for place in np.flatnonzero(failed >= 0).tolist():
        clock = clocks[told.looms[int(failed[place])]]
        part = int(np.searchsorted(last, place, side="right"))
        refused.setdefault(part, Refusal(reason=clock.unknown(clock.hours).reason))
    refused |= dict.fromkeys(np.flatnonzero(np.isnan(told.begin)).tolist(), NO_READING)
    return Placed(told=told, use=np.delete(use, last - 1), now=use[last - 1], refused=refused)


def on_clocks(told: Told, clocks: Mapping[str, UsageClock]) -> list[Series | Refusal]:
    """The series of each part, or why its hours are not known."""
    on = placed(told, clocks)
    last = np.cumsum(told.readings)
    bounds = zip((last - told.readings).tolist(), last.tolist(), strict=True)
    return [
        on.refused[part]
        if part in on.refused
        else made.Series(
            use=on.use[first:end],
            value=told.value[first:end],
            step=told.step[first:end],
            kind=told.kind[first:end],
            level=told.level[first:end],
            now=now,
            origin=Origin.FITTED if fitted else Origin.FIRST_READING,
        )
        for part, ((first, end), now, fitted) in enumerate(
            zip(bounds, on.now.tolist(), told.fitted.tolist(), strict=True)
        )
    ]


def _uses(
    told: Told, when: Array, count: Codes, clocks: Mapping[str, UsageClock]
) -> tuple[Array, Codes]:
    """Running hours at each moment; and the loom whose clock does not tell it, -1 for none."""
    use, failed = np.zeros(len(when)), np.full(len(when), -1)
    of_part = np.repeat(np.arange(len(count)), count)
    first_stay = np.cumsum(told.stays) - told.stays
    for nth in range(int(told.stays.max(initial=0))):
        some = np.flatnonzero((told.stays > nth)[of_part])
        part = of_part[some]
        stay = first_stay[part] + nth
        begin = np.maximum(told.start[stay], told.begin[part])
        until = np.minimum(told.end[stay], when[some])
        lasting = until > begin
        some, stay, begin, until = some[lasting], stay[lasting], begin[lasting], until[lasting]
        order = np.argsort(told.loom[stay], kind="stable")
        some, begin, until = some[order], begin[order], until[order]
        loom = told.loom[stay[order]]
        bounds = [*np.flatnonzero(np.diff(loom, prepend=-1)).tolist(), len(loom)]
        lines = [clocks[told.looms[int(loom[first])]].hours for first in bounds[:-1]]
        rise, known = rises(lines, bounds, begin, until)
        unknown = ~known & (failed[some] < 0)
        failed[some[unknown]] = loom[unknown]
        use[some] += rise
    return use, failed
