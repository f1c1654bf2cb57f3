"""A log that has grown, put away without its old lines: only what is new is read and written.

For a log whose reading is neither packed nor in memory; its rows come to what ``rows.put`` makes of
the whole reading.
"""

from __future__ import annotations

import sqlite3
import zlib
from dataclasses import replace
from datetime import datetime

from board.index import rows, shifts
from board.index.frames import frame_of
from board.index.packing import pack, unpack
from board.record.cabinet import Known
from board.record.files import LogFile
from board.state.spells import micros
from grammar.entries import Standing
from grammar.readings import Reading


def extend(
    connection: sqlite3.Connection, id: int, file: LogFile, known: Known, added: Reading
) -> rows.Put:
    """Keep what was read behind the lines that are kept of a log. It has a frame."""
    shifts.remember(connection, id, added)
    entries = added.entries
    first, last, packed, frame = connection.execute(
        "SELECT first, last, told, frame FROM file WHERE id = ?", (id,)
    ).fetchone()
    times = [at for at in (first, last) if at is not None]
    times += [micros(entry.when) for entry in entries]
    told = rows.told_of(file.path, added)
    whole = sum(entry.standing is Standing.WHOLE for entry in entries)
    if packed is not None:
        before: rows.Told = unpack(packed)
        told = before if told is None else _joined(before, told)
    more = frame_of(added)
    connection.execute(
        f"UPDATE file SET {rows.STAMPED}, lines = lines + ?, entries = entries + ?,"
        " parts = parts + ?, first = ?, last = ?, told = ?, frame = ?, data = ? WHERE id = ?",
        (
            *rows.stamped(known),
            added.lines,
            whole,
            len(entries) - whole,
            min(times, default=None),
            max(times, default=None),
            pack(told) if told is not None else None,
            frame + more if more is not None else None,
            zlib.compress(file.data, 1),
            id,
        ),
    )
    shifts.file_more(connection, id, added)
    rows.strike_more(connection, id, entries)
    return rows.Put(id=id, minute=rows.earliest(connection, entries))


def _joined(before: rows.Told, after: rows.Told) -> rows.Told:
    return replace(
        after,
        complaints=before.complaints + after.complaints,
        doubtful=before.doubtful + after.doubtful,
    )


def alike(before: Reading, after: Reading) -> set[int]:
    """The lines of the entries that are the same in both readings, as of a log that has grown."""
    pairs = zip(before.entries, after.entries, strict=False)
    return {one.line for one, other in pairs if one is other}


def last_of(reading: Reading) -> datetime | None:
    """When the last of its entries was."""
    return max((entry.when for entry in reading.entries), default=None)
