"""Spells of motion in columns, those of many segments joined: years that stay as they are.

Every command that reckons use goes through all spells, and to join them anew each time took it
half a second where there were millions. So those of old segments are joined once, a few years in
a row, loom by loom. The segments stay: what makes one of them void makes what was joined of it
void too, and whoever looks back to a moment within takes the segments.
"""

from __future__ import annotations

import sqlite3

from board.index import columns
from board.index.packing import pack, unpack
from board.state import spells
from board.state.history import Spell
from board.state.spells import SpellColumns

ENOUGH = 400_000  # spells that are joined, about 10 MB: another program waits for it to be written

_KIND, _COLUMNS = Spell.__name__, columns.kind_of(Spell)


Row = tuple[int, int, bytes]  # in the order of its columns


def to_join(connection: sqlite3.Connection) -> Row | None:
    """The spells of the oldest segments that are not joined, once there are enough of them.

    With no segment beyond the last checkpoint. Changes nothing.
    """
    reach = _reach(connection)
    amount, upto = 0, reach
    for several, end in connection.execute(
        "SELECT amount, upto FROM segment WHERE kind = ? AND start >= ? ORDER BY start",
        (_KIND, reach),
    ):
        amount, upto = amount + several, end
        if amount >= ENOUGH:
            break
    else:
        return None
    return reach, upto, pack(spells.joined(_of_segments(connection, reach, upto)))


def join(connection: sqlite3.Connection, made: Row) -> None:
    """Keep what was joined. Inside a transaction."""
    connection.execute("INSERT INTO joined VALUES (?, ?, ?)", made)


def drop_from(connection: sqlite3.Connection, start: int) -> None:
    """Nothing is kept joined of the segments that begin at a moment [us] or later."""
    connection.execute("DELETE FROM joined WHERE upto > ?", (start,))


def before(connection: sqlite3.Connection, moment: int) -> list[SpellColumns]:
    """The spells of all segments before a checkpoint [us], in a few pieces, oldest first."""
    rows = connection.execute(
        "SELECT members FROM joined WHERE upto <= ? ORDER BY start", (moment,)
    )
    pieces: list[SpellColumns] = [unpack(packed) for (packed,) in rows]
    rest = _of_segments(connection, _reach(connection, moment), moment)
    return [*pieces, spells.joined(rest)] if rest else pieces


def _reach(connection: sqlite3.Connection, moment: int = 1 << 62) -> int:
    """Up to where [us] spells are joined, none of them later than a moment."""
    (upto,) = connection.execute(
        "SELECT max(upto) FROM joined WHERE upto <= ?", (moment,)
    ).fetchone()
    reach: int = -(1 << 62) if upto is None else upto
    return reach


def _of_segments(connection: sqlite3.Connection, start: int, end: int) -> list[SpellColumns]:
    rows = connection.execute(
        "SELECT members FROM segment WHERE kind = ? AND start >= ? AND start < ? ORDER BY start",
        (_COLUMNS, start, end),
    )
    return [piece for (packed,) in rows for piece in unpack(packed)]
