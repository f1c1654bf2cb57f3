"""The readings of an index's logs, and its last checkpoint: from memory, or from its rows.

A log that nobody has written to for days is kept as its bytes alone; reading these again costs no
more than unpacking.
"""

from __future__ import annotations

import sqlite3
import zlib
from collections import OrderedDict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import UTC, datetime

from board.index import segments
from board.index.frames import cut, last_read
from board.index.packing import pack, unpack
from board.index.schema import moment
from board.record.reads import Reads
from board.state import made
from board.state.folded import Folded
from board.state.logged import Logged
from grammar.entries import Entry
from grammar.making import changed
from grammar.readings import Carried, LastLine, Reading

Warmed = tuple[bytes, int, bytes, int]  # a packed reading, of the log with this digest
MOST_LINES = 40_000  # of the readings that are kept in memory, about 55 MB


class Readings:
    """Readings by the number of their file. For one connection."""

    def __init__(self, connection: sqlite3.Connection, reader: Reads) -> None:
        self.connection = connection
        self._reader = reader
        self._kept: OrderedDict[int, Reading] = OrderedDict()
        self._lines = 0
        self._checkpoint: tuple[tuple[int, int], Folded] | None = None

    def checkpoint(self, base: int) -> tuple[tuple[int, int], Folded]:
        """Where the fold stood at a checkpoint, and what tells this one from any other."""
        key = (base, segments.number_of(self.connection, base))
        if self._checkpoint is None or self._checkpoint[0] != key:
            self._checkpoint = (key, segments.folded_at(self.connection, base))
        return self._checkpoint

    def mark(self, upto: int, folded: Folded, packed: bytes) -> None:
        """Keep where a fold stands, in memory too: the next one is likely to go on from there."""
        segments.mark(self.connection, upto, packed)
        self._checkpoint = ((upto, segments.number_of(self.connection, upto)), folded)

    def of(self, id: int) -> Reading:
        """The reading of a log."""
        reading = self._kept.get(id)
        if reading is None:
            packed, data, growing = self.connection.execute(
                "SELECT reading, data, growing FROM file WHERE id = ?", (id,)
            ).fetchone()
            reading = self._made(packed, data, growing)
            self.note(id, reading)
        return reading

    def is_at_hand(self, id: int) -> bool:
        """Whether the reading of a log is in memory or packed, and need not be read again."""
        if id in self._kept:
            return True
        asked = "SELECT reading IS NOT NULL FROM file WHERE id = ?"
        return bool(self.connection.execute(asked, (id,)).fetchone()[0])

    def carried(self, id: int, data: bytes, since: int) -> Carried | None:
        """What the lines of a log tell the next one, from its frame alone; ``data`` are its bytes.

        None where all of it has to be read for that, or was: its reading is unpacked or packed, or
        its last entry is of ``since`` [us] or later, or there is no frame.
        """
        packed, frame, lines, last = self.connection.execute(
            "SELECT reading IS NOT NULL, frame, lines, last FROM file WHERE id = ?", (id,)
        ).fetchone()
        if packed or frame is None or id in self._kept or (last is not None and last >= since):
            return None
        part = cut(data, frame, last_read(data, frame))
        if part is None:
            return None
        text, numbers = part
        carried = self._reader.read(text, LastLine.SETTLED).carried
        heading = carried.heading
        if heading is not None:
            heading = replace(heading, line=numbers[heading.line - 1])
        return replace(carried, heading=heading, lines=lines)

    def entries_at(self, id: int, lines: Iterable[int]) -> Sequence[Entry]:
        """The entries of these lines of a log, maybe with others: no more is read than needed."""
        if id not in self._kept:
            packed, frame, data, growing = self.connection.execute(
                "SELECT reading IS NOT NULL, frame, data, growing FROM file WHERE id = ?", (id,)
            ).fetchone()
            part = None
            if not packed and frame is not None:
                part = cut(zlib.decompress(data), frame, lines)
            if part is not None:
                text, numbers = part
                entries = self._read(text, growing).entries
                return [changed(entry, line=numbers[entry.line - 1]) for entry in entries]
        return self.of(id).entries

    def note(self, id: int, reading: Reading) -> None:
        """Keep a reading in memory, and the oldest no longer where there are too many."""
        self.forget(id)
        self._kept[id] = reading
        self._lines += reading.lines
        while self._lines > MOST_LINES and len(self._kept) > 1:
            _, old = self._kept.popitem(last=False)
            self._lines -= old.lines

    def forget(self, id: int) -> None:
        """Keep a reading in memory no longer."""
        known = self._kept.pop(id, None)
        if known is not None:
            self._lines -= known.lines

    def clear(self) -> None:
        """Keep none: another program may have written."""
        self._kept.clear()
        self._lines = 0

    def forget_checkpoint(self) -> None:
        """Keep none: what was put away last was given up, and its number may be given again."""
        self._checkpoint = None

    def logged_between(self, start: int | None, end: int | None) -> list[Logged]:
        """Every entry from ``start`` on and before ``end`` [us], in no order; None: no bound."""
        asked = "SELECT id, path FROM file WHERE first IS NOT NULL"
        bounds: list[int] = []
        if start is not None:
            asked += " AND last >= ?"
            bounds.append(start)
        if end is not None:
            asked += " AND first < ?"
            bounds.append(end)
        first = moment(start) if start is not None else datetime.min.replace(tzinfo=UTC)
        last = moment(end) if end is not None else datetime.max.replace(tzinfo=UTC)
        found: list[Logged] = []
        for id, path in self.connection.execute(asked + " ORDER BY first", bounds).fetchall():
            found += [
                made.Logged(path=path, entry=entry, struck_for=frozenset())
                for entry in self.of(id).entries
                if first <= entry.when < last
            ]
        return found

    def cold(self, since: int) -> list[Warmed]:
        """The readings of the logs with an entry since a moment [us], packed.

        Of those alone that would have to be read again. Changes nothing.
        """
        asked = "SELECT id, digest, growing FROM file WHERE last >= ? AND reading IS NULL"
        found = self.connection.execute(asked, (since,)).fetchall()
        return [(pack(self.of(id)), id, digest, growing) for id, digest, growing in found]

    def warm(self, packed: Iterable[Warmed]) -> None:
        """Keep these readings to be unpacked, but for those of logs that changed since."""
        self.connection.executemany(
            "UPDATE file SET reading = ? WHERE id = ? AND digest = ? AND growing = ?", packed
        )

    def cool(self, before: int) -> None:
        """Unpack no longer what is older than a moment [us]: it is read again where needed."""
        self.connection.execute(
            "UPDATE file SET reading = NULL WHERE reading IS NOT NULL AND last < ?", (before,)
        )

    def _made(self, packed: bytes | None, data: bytes, growing: int) -> Reading:
        if packed is not None:
            reading: Reading = unpack(packed)
            return reading
        return self._read(zlib.decompress(data), growing)

    def _read(self, data: bytes, growing: int) -> Reading:
        return self._reader.read(data, LastLine.GROWING if growing else LastLine.SETTLED)
