"""The readings of a part's life as numbers behind each other, without an object for each of them.

What reckons with all readings of a shed takes them so. Who keeps them so (``Kept``) makes the
readings themselves only where somebody looks at them.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping, Sequence
from struct import pack, unpack

from board.state.history import Bound, ReadingAt
from board.state.spells import micros
from grammar.frozen import dataclass
from grammar.making import maker

BOUNDS = tuple(Bound)
_PLACES = {bound: place for place, bound in enumerate(BOUNDS)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbers:
    """The readings of one quantity in their order, as bytes, the lowest first.

    Of each reading ``when`` [us since the epoch] as a whole number of 8 bytes, ``value`` as a
    float of 8, ``level`` as a whole number of 8; ``bound`` (its place in BOUNDS) and ``counts`` (1
    or 0) as a byte.
    """

    when: bytes
    value: bytes
    level: bytes
    bound: bytes
    counts: bytes

    def __len__(self) -> int:
        return len(self.counts)

    @property
    def moments(self) -> tuple[int, ...]:
        """When each was taken [us since the epoch]."""
        return unpack(f"<{len(self.counts)}q", self.when)

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
