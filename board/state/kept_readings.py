"""The readings of a part's life as numbers behind each other, without an object for each of them.

What reckons with all readings of a shed takes them so. Who keeps them so (``Kept``) makes the
readings themselves only where somebody looks at them; a fold that puts new ones behind them
(``with_last``) looks at the last alone.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterator, Mapping, Sequence
from copy import copy
from struct import pack, unpack

from board.state.history import Bound, ReadingAt
from board.state.spells import micros
from grammar.frozen import dataclass
from grammar.making import maker
from grammar.steps import step_of

BOUNDS = tuple(Bound)
_PLACES = {bound: place for place, bound in enumerate(BOUNDS)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbers:
    """The readings of one quantity in their order, as bytes, the lowest first.

    Of each reading ``when`` [us since the epoch] as a whole number of 8 bytes, ``value`` and
    ``step`` (of the last digit that was written, 0: not known) as floats of 8, ``level`` as a whole
    number of 8; ``bound`` (its place in BOUNDS) and ``counts`` (1 or 0) as a byte.
    """

    when: bytes
    value: bytes
    step: bytes
    level: bytes
    bound: bytes
    counts: bytes

    def __len__(self) -> int:
        return len(self.counts)

    @property
    def moments(self) -> tuple[int, ...]:
        """When each was taken [us since the epoch]."""
        return unpack(f"<{len(self.counts)}q", self.when)

    def first(self, count: int) -> Numbers:
        """The first so many of them."""
        return numbers(
            when=self.when[: 8 * count],
            value=self.value[: 8 * count],
            step=self.step[: 8 * count],
            level=self.level[: 8 * count],
            bound=self.bound[:count],
            counts=self.counts[:count],
        )

    def behind(self, before: Numbers) -> Numbers:
        """These behind others."""
        return numbers(
            when=before.when + self.when,
            value=before.value + self.value,
            step=before.step + self.step,
            level=before.level + self.level,
            bound=before.bound + self.bound,
            counts=before.counts + self.counts,
        )

    @property
    def levels(self) -> tuple[int, ...]:
        """The level of each."""
        return unpack(f"<{len(self.counts)}q", self.level)


numbers = maker(Numbers)


class Kept(Mapping[str, tuple[ReadingAt, ...]]):
    """Readings by their quantity, of which the numbers are at hand without the readings."""

    __slots__ = ()

    @abstractmethod
    def numbers(self, quantity: str) -> Numbers | None:
        """The numbers of one quantity; None where it has no readings."""

    @abstractmethod
    def last(self, quantity: str) -> ReadingAt | None:
        """The last reading of one quantity."""


class _Grown(Kept):
    """Kept readings, and new ones behind them.

    ``behind`` are those of a quantity, with how many of the kept ones stand before them.
    """

    __slots__ = ("_behind", "_kept", "_made")

    def __init__(self, kept: Kept, behind: dict[str, tuple[int, tuple[ReadingAt, ...]]]) -> None:
        self._kept = kept
        self._behind = behind
        self._made: dict[str, tuple[ReadingAt, ...]] = {}

    def __copy__(self) -> _Grown:
        return _Grown(copy(self._kept), self._behind)

    def grown(self, quantity: str, added: tuple[ReadingAt, ...], instead_of: int) -> _Grown:
        """These with some behind those of one quantity."""
        count, own = self._behind.get(quantity) or (_count(self._kept, quantity), ())
        stands = max(len(own) - instead_of, 0)
        less = max(instead_of - len(own), 0)
        behind = (max(count - less, 0), (*own[:stands], *added))
        return _Grown(self._kept, {**self._behind, quantity: behind})

    def numbers(self, quantity: str) -> Numbers | None:
        kept = self._kept.numbers(quantity)
        if quantity not in self._behind:
            return kept
        count, added = self._behind[quantity]
        new = made_of(added)
        return new if kept is None else new.behind(kept.first(count))

    def last(self, quantity: str) -> ReadingAt | None:
        if quantity in self._behind:
            return self._behind[quantity][1][-1]
        return self._kept.last(quantity)

    def __getitem__(self, quantity: str) -> tuple[ReadingAt, ...]:
        if quantity not in self._behind:
            return self._kept[quantity]
        if quantity not in self._made:
            count, added = self._behind[quantity]
            kept = self._kept[quantity][:count] if count else ()
            self._made[quantity] = (*kept, *added)
        return self._made[quantity]

    def __iter__(self) -> Iterator[str]:
        yield from self._kept
        yield from (quantity for quantity in self._behind if quantity not in self._kept)

    def __len__(self) -> int:
        return sum(1 for _ in self)


def _count(kept: Kept, quantity: str) -> int:
    return len(kept.numbers(quantity) or ())


def with_last(
    readings: Mapping[str, tuple[ReadingAt, ...]],
    quantity: str,
    added: tuple[ReadingAt, ...],
    instead_of: int = 0,
) -> Mapping[str, tuple[ReadingAt, ...]]:
    """Readings with some behind those of one quantity, in the place of so many of these."""
    if isinstance(readings, Kept):
        grown = readings if isinstance(readings, _Grown) else _Grown(readings, {})
        return grown.grown(quantity, added, instead_of)
    series = readings.get(quantity, ())
    return {**readings, quantity: (*series[: max(len(series) - instead_of, 0)], *added)}


def newest_first(
    readings: Mapping[str, tuple[ReadingAt, ...]], quantity: str
) -> Iterator[ReadingAt]:
    """The readings of one quantity from the last on; no more are made than the last, if enough."""
    if isinstance(readings, Kept):
        last = readings.last(quantity)
        if last is not None:
            yield last
            yield from reversed(readings[quantity][:-1])
    else:
        yield from reversed(readings.get(quantity, ()))


def numbers_of(readings: Mapping[str, tuple[ReadingAt, ...]], quantity: str) -> Numbers:
    """The readings of one quantity as numbers: those that are kept, else made of them."""
    if isinstance(readings, Kept):
        found = readings.numbers(quantity)
        return made_of(()) if found is None else found
    return made_of(readings.get(quantity, ()))


def made_of(series: Sequence[ReadingAt]) -> Numbers:
    """Readings as numbers, made anew."""
    count = len(series)
    return numbers(
        when=pack(f"<{count}q", *[micros(r.when) for r in series]),
        value=pack(f"<{count}d", *[r.value for r in series]),
        step=pack(f"<{count}d", *[step_of(r.written, r.unit, r.value) for r in series]),
        level=pack(f"<{count}q", *[r.level for r in series]),
        bound=bytes([_PLACES[r.bound] for r in series]),
        counts=bytes([r.counts for r in series]),
    )


def first_counted(readings: Mapping[str, tuple[ReadingAt, ...]]) -> int | None:
    """When the first of all readings that count was taken [us since the epoch]."""
    several = [numbers_of(readings, quantity) for quantity in readings]
    dated = [
        at for own in several for at, counts in zip(own.moments, own.counts, strict=True) if counts
    ]
    return min(dated, default=None)
