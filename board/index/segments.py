"""Facts and complaints that a fold left behind, kept by stretches of time, and where it stood.

A checkpoint is how far the fold had come at the start of a minute; a segment holds what it left
between two of them. Checkpoints lie the farther apart the older they are; whatever is written of a
time before one makes it, and what follows, void.
"""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

from board.index import columns, joining
from board.index.packing import pack, unpack
from board.state.fleet import Complaint, Handover
from board.state.folded import Folded
from board.state.history import Fact
from board.state.spells import micros

COMPLAINTS = "complaints"
TAKEN = "taken"
_DAY_US = timedelta(days=1) // timedelta(microseconds=1)
SWEPT_AT_ONCE = 8 << 20  # [bytes] of segments; a few hundredths of a second where they must be read
_APART = 1.7  # how many times as old the next older checkpoint is at most, if there was one


def void(connection: sqlite3.Connection, minute: int) -> bool:
    """Nothing that was folded from this minute [us] on holds any longer; whether there was any.

    What else is kept of it counts for nothing without its checkpoint: ``sweep`` takes it away.
    """
    gone = connection.execute("DELETE FROM checkpoint WHERE upto > ?", (minute,)).rowcount
    if not gone:
        return False
    _forget_strikes(connection, _reach(connection))
    return True


def has_rest(connection: sqlite3.Connection) -> bool:
    """Whether anything is kept of a fold behind the last checkpoint, which counts for nothing."""
    (found,) = connection.execute(
        "SELECT EXISTS (SELECT 1 FROM segment WHERE start >= ?1)"
        " OR EXISTS (SELECT 1 FROM joined WHERE upto > ?1)"
        " OR EXISTS (SELECT 1 FROM strike WHERE baked AND minute >= ?1)",
        (_reach(connection),),
    ).fetchone()
    return bool(found)


def sweep(connection: sqlite3.Connection) -> None:
    """Take away what is kept behind the last checkpoint, as much as is soon done."""
    reach = _reach(connection)
    joining.drop_from(connection, reach)
    _forget_strikes(connection, reach)
    rows = connection.execute(
        "SELECT rowid, length(members) FROM segment WHERE start >= ?", (reach,)
    )
    gone, size = [], 0
    for row, own in rows:
        gone.append((row,))
        size += own
        if size > SWEPT_AT_ONCE:
            break
    connection.executemany("DELETE FROM segment WHERE rowid = ?", gone)


def _forget_strikes(connection: sqlite3.Connection, start: int) -> None:
    """The segments from a checkpoint [us] on know of no strike any more."""
    connection.execute("UPDATE strike SET baked = 0 WHERE baked AND minute >= ?", (start,))


def _reach(connection: sqlite3.Connection) -> int:
    """Up to where [us] what is kept counts: to the last checkpoint."""
    (upto,) = connection.execute("SELECT max(upto) FROM checkpoint").fetchone()
    return -(1 << 62) if upto is None else int(upto)


def void_after(connection: sqlite3.Connection, now: int) -> None:
    """Nothing holds that was folded for a time to come [us]: the clock was wrong, or is."""
    (upto,) = connection.execute("SELECT max(upto) FROM checkpoint").fetchone()
    if upto is not None and upto > now:
        void(connection, now)


def latest(connection: sqlite3.Connection, until: int) -> int | None:
    """The latest checkpoint not after a moment [us]."""
    row = connection.execute("SELECT max(upto) FROM checkpoint WHERE upto <= ?", (until,))
    found: int | None = row.fetchone()[0]
    return found


def number_of(connection: sqlite3.Connection, upto: int) -> int:
    """What tells a checkpoint from any other that stood, or will stand, at the same moment."""
    (number,) = connection.execute(
        "SELECT number FROM checkpoint WHERE upto = ?", (upto,)
    ).fetchone()
    found: int = number
    return found


def stands(connection: sqlite3.Connection, upto: int, number: int) -> bool:
    """Whether the checkpoint with a number stands at this moment [us]."""
    row = connection.execute("SELECT number FROM checkpoint WHERE upto = ?", (upto,)).fetchone()
    return row is not None and row[0] == number


def folded_at(connection: sqlite3.Connection, upto: int) -> Folded:
    """Where the fold stood at a checkpoint."""
    (state,) = connection.execute("SELECT state FROM checkpoint WHERE upto = ?", (upto,)).fetchone()
    found: Folded = unpack(state)
    return found


Row = tuple[int, str, int, int, bytes]  # of a segment, in the order of its columns


def rows_of(
    start: int,
    upto: int,
    facts: Iterable[Fact],
    complaints: Sequence[Complaint],
    taken: Sequence[Handover],
) -> list[Row]:
    """What a fold left between two moments [us], packed as it is kept."""
    kinds: dict[type, list[Any]] = defaultdict(list)
    for fact in facts:
        kinds[type(fact)].append(fact)
    kept: dict[str, Sequence[Any]] = {kind.__name__: some for kind, some in kinds.items()}
    for kind, some in kinds.items():
        if columns.has_columns(kind):
            kept |= columns.kept_of(kind, some)
    if complaints:
        kept[COMPLAINTS] = complaints
    if taken:
        kept[TAKEN] = taken
    return [(start, kind, upto, len(some), pack(tuple(some))) for kind, some in kept.items()]


def add(connection: sqlite3.Connection, rows: Iterable[Row]) -> None:
    """Keep what a fold left."""
    connection.executemany("INSERT INTO segment VALUES (?, ?, ?, ?, ?)", rows)


def mark(connection: sqlite3.Connection, upto: int, packed: bytes) -> None:
    """Keep where a fold stands, packed, and fewer of the older checkpoints."""
    connection.execute(
        "INSERT OR REPLACE INTO checkpoint (upto, state) VALUES (?, ?)", (upto, packed)
    )
    rows = connection.execute("SELECT upto FROM checkpoint ORDER BY upto DESC").fetchall()
    ages = [upto - old for (old,) in rows]
    for age in _needless(ages):
        connection.execute("DELETE FROM checkpoint WHERE upto = ?", (upto - age,))


def _needless(ages: Sequence[int]) -> list[int]:
    """Which of these ages [us], from the youngest on, may go.

    Whatever is written of an old time, a checkpoint not much older than it is left.
    """
    needless = []
    kept = 0
    for age, older in pairwise(ages):
        if age and older <= max(kept, _DAY_US / 2) * _APART:
            needless.append(age)
        else:
            kept = age
    return needless


def members(
    connection: sqlite3.Connection, kind: str, before: int, since: datetime | None
) -> list[Any]:
    """What is kept of a kind in the segments before a checkpoint [us], in the order it came.

    With ``since`` only of the segments that reach to that moment or later.
    """
    rows = connection.execute(
        "SELECT members FROM segment WHERE kind = ? AND start < ? AND upto > ? ORDER BY start",
        (kind, before, -(1 << 62) if since is None else micros(since)),
    )
    found: list[Any] = []
    for (packed,) in rows:
        found += unpack(packed)
    return found


def kinds_like(connection: sqlite3.Connection, begin: str) -> list[str]:
    """The kinds of what is kept whose names begin so, in their order."""
    rows = connection.execute(
        "SELECT DISTINCT kind FROM segment WHERE kind >= ? AND kind < ? ORDER BY kind",
        (begin, begin + "\U0010ffff"),
    )
    return [kind for (kind,) in rows]


def backwards(connection: sqlite3.Connection, kind: str, before: int) -> Iterator[Any]:
    """What is kept of a kind in the segments before a checkpoint [us], the last first.

    No more segments are read than what is taken of it needs.
    """
    starts = connection.execute(
        "SELECT start FROM segment WHERE kind = ? AND start < ? ORDER BY start DESC",
        (kind, before),
    ).fetchall()
    for (start,) in starts:
        row = connection.execute(
            "SELECT members FROM segment WHERE kind = ? AND start = ?", (kind, start)
        ).fetchone()
        if row is not None:
            yield from reversed(unpack(row[0]))
