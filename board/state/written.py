"""What the entries of a record tell as a whole: their first and last, how many, those of one loom.

Asked of any sequence of entries. One that need not read them all for it, such as an index's,
answers by itself.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime

from board.state.logged import Logged, in_time_order
from grammar.entries import Entry, Moved, PlaceKind, Running, Shift, Standing, Stopped, StyleSet
from grammar.frozen import dataclass

ABOUT_MOTION = (Stopped, Running, StyleSet)  # what a group's line says of each of its looms
ABOUT_OTHERS = (*ABOUT_MOTION, Moved)  # of looms that a line is not written of alone


@dataclass(frozen=True, slots=True, kw_only=True)
class OfLoom:
    """The entries that speak of a loom: how many, and the newest of them in the order of time."""

    number: int
    newest: tuple[Logged, ...]


class Knowing(ABC):
    """A sequence of entries that answers for itself, as the functions of this module would."""

    @abstractmethod
    def extent(self, until: datetime) -> tuple[datetime, datetime] | None:
        """The first and the last moment (UTC) of what was written up to a moment."""

    @abstractmethod
    def number(self, start: datetime, end: datetime) -> int:
        """How many there are from a moment to another, both included."""

    @abstractmethod
    def of_loom(self, loom: str, until: datetime, most: int) -> OfLoom:
        """Those that speak of a loom, up to a moment."""

    @abstractmethod
    def by_log(self, shift: Shift) -> Mapping[str, int]:
        """How many are of a shift in each log, by its path."""


def extent(entries: Sequence[Logged], until: datetime) -> tuple[datetime, datetime] | None:
    """The first and the last moment (UTC) of what was written up to a moment; None: nothing was."""
    if isinstance(entries, Knowing):
        return entries.extent(until)
    written = [x.entry.when for x in entries if x.entry.when <= until]
    return (min(written), max(written)) if written else None


def number(entries: Sequence[Logged], start: datetime, end: datetime) -> int:
    """How many entries there are from a moment to another (UTC), both included."""
    if isinstance(entries, Knowing):
        return entries.number(start, end)
    return sum(start <= x.entry.when <= end for x in entries)


def of_loom(entries: Sequence[Logged], loom: str, until: datetime, most: int) -> OfLoom:
    """The entries that speak of a loom, up to a moment (UTC): how many, and the newest ``most``."""
    if isinstance(entries, Knowing):
        return entries.of_loom(loom, until, most)
    own = [x for x in entries if x.entry.when <= until and speaks_of(x, loom)]
    return OfLoom(number=len(own), newest=tuple(in_time_order(own)[-most:]) if most > 0 else ())


def by_log(entries: Sequence[Logged], shift: Shift) -> Mapping[str, int]:
    """How many entries, none still being written, are of a shift in each log, by its path."""
    if isinstance(entries, Knowing):
        return entries.by_log(shift)
    return Counter(x.path for x in entries if is_of(x.entry, shift))


def is_of(entry: Entry, shift: Shift) -> bool:
    """Whether an entry is of a shift; a line without its end is of none yet."""
    return entry.shift == shift and entry.standing is not Standing.UNFINISHED


def speaks_of(logged: Logged, loom: str) -> bool:
    """Whether an entry is the loom's own, takes a part off it, or is a group's about its motion."""
    place = logged.entry.place
    if place.kind is PlaceKind.LOOM:
        return place.name == loom or any(
            isinstance(c, Moved) and c.origin == loom for c in logged.entry.clauses
        )
    return loom in place.looms and any(isinstance(c, ABOUT_MOTION) for c in logged.entry.clauses)
