"""The index of one log folder: a cabinet on the disk, and the shed's state kept beside it.

For one process and any of its threads. Another program may write to the same file: what it wrote
is seen at the next look, and nothing of it is replaced by what was read before it was written.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

from board.index import columns, growing, joining, rows, segments, shifts, standing, words
from board.index.readings import Readings
from board.index.settling import Settling
from board.index.tails import Tail, Tails
from board.mill import Mill
from board.record.cabinet import Known, Overtaken, joined, known_of
from board.record.files import LogFile
from board.record.reads import Reads
from board.state.fleet import Complaint, Handover
from board.state.history import CounterReading, PartLife, Spell
from board.state.spells import micros
from grammar.entries import Seal, Shift
from grammar.frozen import dataclass
from grammar.readings import Carried, Reading

LONGEST_LATE = 2 * standing.LONGEST_TAIL  # entries that are folded for whoever reads late
_PICTURES = 4  # of which it is known what they rest on: older ones are not looked at


@dataclass(frozen=True, slots=True)
class Reckoned:
    """Seals that had to be reckoned, of the lines as they stood at a count of changes."""

    generation: int
    seals: Mapping[Shift, Seal]


class MovedOn(Exception):
    """What a picture rests on is void, and years would have to be folded: the next one tells."""


class Index(Settling):
    """A cabinet (``board.record.cabinet``) that knows what its readings add up to."""

    def __init__(self, file: Path, folder: Path, mill: Mill, reader: Reads) -> None:
        """Open or make an index; ``reader`` reads in the mill's words. Raises Unusable."""
        super().__init__(file, folder, mill, reader)
        self._tails = Tails(self._readings, mill)
        self._old: dict[tuple[str, tuple[int, int] | None], list[Any]] = {}
        self._met: set[str] = set()  # words that are surely kept
        self._rests: deque[tuple[Tail, int]] = deque(maxlen=_PICTURES)
        self.may_fold: Callable[[], bool] = lambda: True  # years anew, for whoever reads late

    # -- the cabinet -----------------------------------------------------------------------

    def known(self) -> Mapping[str, Known]:
        """What is known already of each log."""
        with self._telling():
            self._told_version = self._version()
            return rows.known(self._connection)

    def others(self) -> Mapping[str, Known] | None:
        """What is known of each log, where that is not what was told or put away; else None."""
        with self._telling():
            return self.known() if self._version() != self._told_version else None

    def keep(self, file: LogFile, reading: Reading, now: datetime, over: Known | None) -> Known:
        """Put a log's reading in the place of the one before it. Raises Overtaken."""
        known = known_of(file, now)
        last = growing.last_of(reading)
        self._read_before(file.path)
        with self._writing():
            since = standing.hot_since(self._connection, now, self.has_many)
            hot = last is not None and micros(last) > since
            self._must_stand(file.path, over)
            before = self._reading_before(file.path)
            alike = growing.alike(before, reading)
            lines = self._lines_of(file.path, alike)
            put = rows.put(self._connection, file, known, reading, before, packed=hot)
            new = words.rows_of(put.id, reading, file.data, self.mill, alike)
            words.put(self._connection, lines, new, self._met)
            self._readings.note(put.id, reading)
            self._has_come(put.minute, len(reading.entries) - len(alike), last)
        self._fold_many(now)
        return known

    def extend(
        self, file: LogFile, read: Callable[[Carried], Reading], now: datetime, over: Known
    ) -> Known | None:
        """Put away what was added to a log. Raises Overtaken."""
        if file.size == over.size:  # it has only been quiet for longer, as all that was copied
            return self.restamp(file, now)
        known = known_of(file, now)
        with self._telling():
            self._must_stand(file.path, over)
            since = standing.hot_since(self._connection, now, self.has_many)
            carried = self._carried(file.path, file.data[: over.size], since)
        if carried is None:
            return None
        added = read(carried)
        last = growing.last_of(added)
        if last is not None and micros(last) > since:
            self._read_before(file.path)
            with self._telling():
                self._must_stand(file.path, over)
                whole = joined(self._reading_before(file.path), added)
            return self.keep(file, whole, now, over)
        with self._writing():
            self._must_stand(file.path, over)
            id = rows.id_of(self._connection, file.path)
            if id is None or self._readings.is_at_hand(id):  # since just now
                return None
            put = growing.extend(self._connection, id, file, known, added)
            new = words.rows_of(id, added, file.data, self.mill)
            words.put(self._connection, (), new, self._met)
            self._has_come(put.minute, len(added.entries), last)
        self._fold_many(now)
        return known

    def _carried(self, path: str, data: bytes, since: int) -> Carried | None:
        id = rows.id_of(self._connection, path)
        return self._readings.carried(id, data, since) if id is not None else None

    def _read_before(self, path: str) -> None:
        """Have a log's reading in memory; nobody else waits where all of it must be read."""
        with self._telling():
            id = rows.id_of(self._connection, path)
            if id is None or self._readings.is_at_hand(id):
                return
        self.commit()
        with self._telling():
            self._reading_before(path)

    def _lines_of(self, path: str, but: Collection[int] = ()) -> list[tuple[int, str]]:
        """The rows of a log's words as they are kept, but for the entries of some lines."""
        id = rows.id_of(self._connection, path)
        if id is None:
            return []
        reading, data = self._readings.of(id), rows.data_of(self._connection, id)
        return words.rows_of(id, reading, data, self.mill, but)

    def _reading_before(self, path: str) -> Reading:
        id = rows.id_of(self._connection, path)
        return self._readings.of(id) if id is not None else Reading()

    def restamp(self, file: LogFile, now: datetime) -> Known | None:
        """The same bytes, with another stamp; None where others stand there by now."""
        known = known_of(file, now)
        with self._writing():
            stands = rows.restamp(self._connection, file.path, known)
        return known if stands else None

    def drop(self, path: str, over: Known | None) -> None:
        """Forget a log, if it is the one that was known. Raises Overtaken."""
        with self._telling():
            if rows.id_of(self._connection, path) is None:
                return
        self._read_before(path)
        with self._writing():
            id = rows.id_of(self._connection, path)
            if id is not None:
                self._must_stand(path, over)
                words.put(self._connection, self._lines_of(path), (), self._met)
                self._void(rows.drop(self._connection, id, self._readings.of(id)))
                self._readings.forget(id)

    def _must_stand(self, path: str, over: Known | None) -> None:
        """Raises Overtaken where another program has put something else there meanwhile."""
        stands = rows.known(self._connection, path).get(path)
        if stands != over:
            raise Overtaken(stands)

    def reading(self, path: str) -> Reading:
        """The reading of a log that is kept."""
        with self._telling():
            return self._reading_before(path)

    def before(self, path: str, known: Known) -> Reading | None:
        """The reading of a log, if it is still the one that was known."""
        self._read_before(path)
        with self._telling():
            same = rows.digest_of(self._connection, path) == known.digest
            return self._reading_before(path) if same else None

    def files(self) -> Iterable[LogFile]:
        """Every log that is kept, as it was read."""
        with self._telling():
            return tuple(rows.files(self._connection))

    # -- the state -------------------------------------------------------------------------

    def tail(self, as_of: datetime) -> Tail:
        """The state as of a moment (UTC)."""
        with self._telling():
            tail = self._tails.at(as_of)
            if tail.base != standing.BEGIN:
                number = segments.number_of(self._connection, tail.base)
                self._rests.append((tail, number))
            return tail

    def facts(self, tail: Tail, kind: type, since: datetime | None) -> list[Any]:
        """The facts of a kind, all or at least those since a moment."""
        with self._telling_of(tail) as tail:
            old = segments.members(self._connection, kind.__name__, tail.base, since)
            return [*old, *(f for f in tail.facts if type(f) is kind)]

    def columns(self, tail: Tail, kind: type) -> object:
        """All facts of a kind as columns; of part lives the newest, as many as are learned from."""
        with self._telling_of(tail) as tail:
            old = self._in_columns(kind, tail.base)
            if kind is CounterReading and len(old) > 1:  # kept as one for the next time
                old[:] = [columns.told(kind, old, tuple)]
            new = columns.made_of(kind, [f for f in tail.facts if type(f) is kind])
            return columns.told(kind, [*old, new], lambda: self.facts(tail, kind, None))

    def backwards(self, tail: Tail, kind: type) -> Iterator[Any]:
        """The facts of a kind from the newest on; no more is read than is taken."""
        with self._telling_of(tail) as tail:
            yield from (f for f in reversed(tail.facts) if type(f) is kind)
            yield from segments.backwards(self._connection, kind.__name__, tail.base)

    def taken(self, tail: Tail, since: datetime | None) -> list[Handover]:
        """Every taking over, or at least those since a moment."""
        with self._telling_of(tail) as tail:
            kind, base = segments.TAKEN, tail.base
            if since is None:
                return [*self._few(kind, base), *tail.taken]
            return [*segments.members(self._connection, kind, base, since), *tail.taken]

    def complaints(self, tail: Tail) -> list[Complaint]:
        """What was complained of in the segments, and in the tail, each with its shift."""
        with self._telling():
            old = self._few(segments.COMPLAINTS, tail.base)
            return [*old, *self.with_shifts(tail.fleet.complaints)]

    def with_shifts(self, complaints: Iterable[Complaint]) -> list[Complaint]:
        """Complaints, each with the shift that its line is filed under."""
        with self._telling():
            return shifts.with_shifts(self._connection, complaints)

    def _in_columns(self, kind: type, base: int) -> list[Any]:
        """What the segments before a checkpoint hold of a kind in columns."""
        name, connection = columns.kind_of(kind), self._connection
        if kind is Spell:
            return self._before(name, base, lambda: joining.before(connection, base))
        if kind is PartLife:
            groups = segments.kinds_like(connection, columns.OF_GROUP)
            newest = (segments.backwards(connection, group, base) for group in groups)
            return self._before(name, base, lambda: columns.newest_lives(newest))
        return self._few(name, base)

    def _few(self, kind: str, base: int) -> list[Any]:
        """What the segments before a checkpoint hold of a kind of which there is little."""
        connection = self._connection
        return self._before(kind, base, lambda: segments.members(connection, kind, base, None))

    def _before(self, name: str, base: int, load: Callable[[], list[Any]]) -> list[Any]:
        """What is kept of the time before a checkpoint, read once while that stands."""
        stands = base != standing.BEGIN
        number = (base, segments.number_of(self._connection, base)) if stands else None
        if (name, number) not in self._old:
            self._old = {k: v for k, v in self._old.items() if k[0] != name}
            self._old[name, number] = load()
        return self._old[name, number]

    def seals(self, asked: Iterable[Shift]) -> tuple[dict[Shift, Seal], Reckoned]:
        """The seals of shifts as their lines stand now, and what of them is to be kept."""
        with self._telling():
            found, reckoned = shifts.seals(self._connection, asked)
            return found, Reckoned(self._generation, reckoned)

    def keep_seals(self, reckoned: Reckoned) -> None:
        """Keep the seals that had to be reckoned, unless something has changed since."""
        if not reckoned.seals:
            return
        with self._writing():
            if self._generation == reckoned.generation:
                shifts.keep_seals(self._connection, reckoned.seals)
        self.commit()

    def how_changed(self, shift: Shift, sealed: Seal) -> str:
        """Which lines of a shift went and came since it had this seal, where that is known."""
        with self._telling():
            return shifts.how_changed(self._connection, shift, sealed)

    @contextmanager
    def reads(self) -> Iterator[Readings]:
        """The readings, and by their ``connection`` the tables, for reading."""
        with self._telling():
            yield self._readings

    @contextmanager
    def _telling_of(self, tail: Tail) -> Iterator[Tail]:
        """The tail, while the checkpoint that it rests on stands; else one that is folded anew.

        Raises MovedOn where that would be years, and whoever asks may wait for the next picture.
        """
        with self._lock:
            with self._telling():
                holds = self._holds(tail)
            if not holds and self._depth == 0:
                self.commit()  # nobody else waits while it is folded
            with self._telling():
                if not self._holds(tail):
                    if self._is_much(tail.as_of) and not self.may_fold():
                        raise MovedOn
                    tail = self._tails.at(tail.as_of)
                yield tail

    def _holds(self, tail: Tail) -> bool:
        """Whether the segments before a tail are those that it was folded on top of."""
        if tail.base == standing.BEGIN:
            return True
        number = next((number for one, number in self._rests if one is tail), None)
        return number is not None and segments.stands(self._connection, tail.base, number)

    def _is_much(self, as_of: datetime) -> bool:
        base = standing.base_for(self._connection, as_of)
        asked = "SELECT coalesce(sum(entries + parts), 0) FROM file WHERE last >= ?"
        bound = standing.BEGIN if base is None else base
        (entries,) = self._connection.execute(asked, (bound,)).fetchone()
        return int(entries) > LONGEST_LATE

    def _give_up(self) -> None:
        super()._give_up()
        self._rests.clear()  # their numbers may be given again

    def _forget(self) -> None:
        super()._forget()
        self._met.clear()

    def _let_go(self) -> None:
        super()._let_go()
        self._met.clear()
