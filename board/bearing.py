"""What bears on an entry among years of logs: a checkpoint of the index and what came since.

Where the logs are few, the lines that can bear on an entry are picked out and read (``sifting``).
Parts go from loom to loom, so that over years every loom's lines bear on every other's; then only
a checkpoint before the entry spares reading them all. Where none is wanted, or the index is no
good, nothing is known here and the lines are read.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from datetime import datetime
from pathlib import Path
from sqlite3 import Connection

from board.index import joining, segments, standing, words
from board.index.index import Index
from board.index.schema import Unusable
from board.indexed import index_file
from board.judging import NO_HISTORY, Earlier
from board.loading import Progress
from board.mill import Mill
from board.record.files import Listed
from board.record.reads import Reads
from board.record.shelf import Shelf
from board.state.fleet import Fleet
from board.state.history import CounterReading, History, Spell
from board.state.later import Later
from board.state.logged import Logged
from board.state.shifts import ShiftCalendar
from board.state.spells import SpellPieces, backwards, micros
from grammar.entries import Counter, Entry, Opened, Seal, Shift, Struck
from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """Where the shed stood before the entry, and the entries of all looms from then on.

    ``given`` are the numbers that actions were ever opened with, where the entry opens one.
    """

    start: Earlier
    entries: tuple[Logged, ...]
    given: frozenset[int]


MUCH_UNREAD = 500_000  # [bytes] of logs that the index does not know, from which on it is settled


class Bearing:
    """Looks into the index of a log folder for whoever writes into it."""

    def __init__(
        self,
        folder: Path,
        mill: Mill,
        reader: Reads,
        named: str | None,
        environ: Mapping[str, str],
        clock: Callable[[], datetime],
        progress: Progress | None = None,
    ) -> None:
        self._folder = folder
        self._mill = mill
        self._reader = reader
        self._file = index_file(folder, named, environ)
        self._clock = clock
        self._progress = progress
        self._index: Index | None = None

    def on(self, entry: Entry, now: datetime, listing: Listed) -> Basis | None:
        """What bears on an entry that would be written now; None where the index does not tell.

        ``listing`` is the folder's, of just now. An index that is not there, or that was made for
        another program, is made first, which takes no longer than to read the logs without it.
        """
        if self._file is None:
            return None
        try:
            return self._basis(entry, now, listing)
        except Unusable:
            self.close()
            return None  # whoever shows the shed tells of it
        finally:
            if self._progress is not None:
                self._progress.ends()

    def fleet(self, now: datetime, listing: Listed) -> Fleet | None:
        """The shed as it stands, for whoever waits at a key; None where that takes long to tell.

        ``listing`` is the folder's, of just now.
        """
        if self._file is None:
            return None
        try:
            shelf = self._shelf()
            if shelf.unknown(listing) > MUCH_UNREAD:
                return None
            shelf.look(self._clock(), None, listing)
            index = self._opened()
            index.commit()
            with index.reads() as readings:
                stands = standing.base_for(readings.connection, now) is not None
                return index.tail(now).fleet if stands else None
        except Unusable:
            self.close()
            return None

    def seal(self, shift: Shift) -> Seal | None:
        """The seal of a shift, as its lines stood when the index was last asked what bears."""
        try:
            return self._index.seals([shift])[0][shift] if self._index is not None else None
        except Unusable:
            self.close()
            return None

    def close(self) -> None:
        """Let go of the index."""
        if self._index is not None:
            self._index.close()
            self._index = None

    def _opened(self) -> Index:
        if self._index is None:
            assert self._file is not None
            self._index = Index(self._file, self._folder, self._mill, self._reader)
        return self._index

    def _shelf(self) -> Shelf:
        return Shelf(self._folder, self._reader, self._opened())

    def _basis(self, entry: Entry, now: datetime, listing: Listed) -> Basis | None:
        index, shelf, clock = self._opened(), self._shelf(), self._clock()
        much = shelf.unknown(listing) > MUCH_UNREAD
        shelf.look(clock, self._progress, listing)
        if much:
            index.settle(min(now, clock), clock)
        index.commit()
        if shelf.missing or shelf.held:
            return None
        touched = _first_touched(entry, now)
        first = min(touched, self._first_sealing(entry) or touched)
        opens = any(isinstance(c, Opened) for c in entry.clauses)
        with index.reads() as readings:
            connection = readings.connection
            bounds = [standing.base_for(connection, moment) for moment in (now, entry.when)]
            if None in bounds:
                return None
            known = min(bound for bound in bounds if bound is not None)
            base = segments.latest(connection, min(known, micros(first)))
            if base is None:
                return None
            entries = tuple(readings.logged_between(base, None))
            metered = _asks_meters(entry, touched, entries)
            past = _past(connection, entry.place.looms, base) if metered else NO_HISTORY
            return Basis(
                start=Earlier(folded=readings.checkpoint(base)[1], past=past),
                entries=entries,
                given=words.numbers_given(connection) if opens else frozenset(),
            )

    def _first_sealing(self, entry: Entry) -> datetime | None:
        """From when on the shift that an entry is filed under may have been taken over."""
        if entry.shift is None:
            return None
        return ShiftCalendar(self._mill.shifts, self._mill.zone).span(entry.shift).start


def _first_touched(entry: Entry, now: datetime) -> datetime:
    """The first minute of which an entry may change what is told."""
    struck = [c.name.moment for c in entry.clauses if isinstance(c, Struck)]
    return min(entry.when, now, *struck).replace(second=0, microsecond=0)


def _asks_meters(entry: Entry, touched: datetime, entries: Iterable[Logged]) -> bool:
    """Whether it changes what a meter is compared with: it tells one, or one was read later."""
    if _tells_meter(entry):
        return True
    looms = set(entry.place.looms)
    return any(
        x.entry.when >= touched
        and _tells_meter(x.entry)
        and not looms.isdisjoint(x.entry.place.looms)
        for x in entries
    )


def _tells_meter(entry: Entry) -> bool:
    return any(isinstance(clause, Counter) for clause in entry.clauses)


def _past(connection: Connection, looms: Collection[str], base: int) -> History:
    """The spells and the meter readings of some looms before a checkpoint [us].

    A meter is compared with the motion of weeks, from its first reading on.
    """
    kept = segments.members(connection, CounterReading.__name__, base, None)
    read = [counter for counter in kept if counter.loom in looms]
    if not read:
        return NO_HISTORY
    pieces = SpellPieces(tuple(joining.before(connection, base)))
    spells: Later[Spell] = Later(lambda _: (), columns=lambda: pieces)
    of_looms = [[*backwards(spells, loom)][::-1] for loom in {counter.loom for counter in read}]
    return History(spells=[s for own in of_looms for s in own], counters=read)
