"""What the index keeps of each log: its stamp, its reading, and what other parts look up.

Rows only; which of them make the present state is left to ``standing``.
"""

from __future__ import annotations

import sqlite3
import zlib
from collections.abc import Iterable, Iterator, Sequence

from board.index import shifts
from board.index.frames import frame_of
from board.index.packing import Damaged, pack, unpack
from board.index.schema import moment
from board.record.cabinet import Known
from board.record.files import LogFile
from board.snapshot import doubtful_of
from board.state.fleet import Complaint, MayIsolate, Source
from board.state.spells import micros
from grammar.entries import Entry, Standing, Struck
from grammar.frozen import dataclass
from grammar.making import maker
from grammar.readings import LastLine, Reading

MINUTE_US = 60_000_000

_known = maker(Known)
_GROWING, _SETTLED = LastLine.GROWING, LastLine.SETTLED  # an enumeration is slow to ask


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a log's reading says beside its entries.

    ``doubtful`` are the lines that may isolate, each with whether an isolation was read from it.
    """

    complaints: tuple[Complaint, ...]
    doubtful: tuple[tuple[MayIsolate, bool], ...]
    unfinished: Source | None


def known(connection: sqlite3.Connection, path: str | None = None) -> dict[str, Known]:
    """Every log that is kept, by its path; or the one of this path, if there is one."""
    rows = connection.execute(
        "SELECT path, size, mtime_ns, ctime_ns, digest, growing, ended, settles, trusted FROM file"
        + ("" if path is None else " WHERE path = ?"),
        () if path is None else (path,),
    )
    found = {}
    for path, size, mtime_ns, ctime_ns, digest, growing, ended, settles, trusted in rows:
        if not (
            type(path) is str
            and type(digest) is bytes
            and type(size) is type(mtime_ns) is type(ctime_ns) is int
        ):  # SQLite takes anything anywhere
            raise Damaged("a log is kept with something else than was put there")
        found[path] = _known(
            size=size, mtime_ns=mtime_ns, ctime_ns=ctime_ns, digest=digest,
            last_line=_GROWING if growing else _SETTLED, ended=bool(ended),
            settles_at=None if settles is None else moment(settles), trusted=bool(trusted),
        )  # fmt: skip
    return found


def id_of(connection: sqlite3.Connection, path: str) -> int | None:
    """The number of a log that is kept, or None."""
    row = connection.execute("SELECT id FROM file WHERE path = ?", (path,)).fetchone()
    return row[0] if row else None


def data_of(connection: sqlite3.Connection, id: int) -> bytes:
    """The bytes of a log as it was read."""
    (data,) = connection.execute("SELECT data FROM file WHERE id = ?", (id,)).fetchone()
    return zlib.decompress(data)


def digest_of(connection: sqlite3.Connection, path: str) -> bytes | None:
    """What tells the bytes of a log that is kept from any others, or None."""
    row = connection.execute("SELECT digest FROM file WHERE path = ?", (path,)).fetchone()
    return row[0] if row else None


def restamp(connection: sqlite3.Connection, path: str, known: Known) -> bool:
    """The same bytes with another stamp; whether these bytes are the ones that are kept.

    How long a log has been quiet tells something of a last line without its end alone.
    """
    growing = known.last_line is LastLine.GROWING
    stamp = (_held(known.mtime_ns), _held(known.ctime_ns), known.trusted, _settles(known))
    changed = connection.execute(
        "UPDATE file SET mtime_ns = ?, ctime_ns = ?, trusted = ?, settles = ?, growing = ?"
        " WHERE path = ? AND digest = ? AND (growing = ? OR ended)",
        (*stamp, growing, path, known.digest, growing),
    )
    return changed.rowcount == 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Put:
    """A log that was put away; ``minute`` [us] is the earliest whose state may change by it."""

    id: int
    minute: int | None


def put(
    connection: sqlite3.Connection,
    file: LogFile,
    known: Known,
    reading: Reading,
    before: Reading,
    *,
    packed: bool,
) -> Put:
    """Keep a log's reading in the place of the one ``before`` it, packed or to be read again."""
    id = id_of(connection, file.path)
    shifts.remember(connection, id, reading)
    entries = reading.entries
    times = [micros(e.when) for e in entries]
    told = told_of(file.path, reading)
    whole = sum(e.standing is Standing.WHOLE for e in entries)
    row = (
        file.path,
        *stamped(known),
        reading.lines,
        whole,
        len(entries) - whole,
        min(times, default=None),
        max(times, default=None),
        pack(reading) if packed else None,
        pack(told) if told is not None else None,
        frame_of(reading),
        zlib.compress(file.data, 1),
    )
    if id is None:
        marks = ", ".join("?" * len(row))
        id = connection.execute(f"INSERT INTO file VALUES (NULL, {marks})", row).lastrowid
        assert id is not None
    else:
        connection.execute(
            f"UPDATE file SET path = ?, {STAMPED}, lines = ?, entries = ?, parts = ?,"
            " first = ?, last = ?, reading = ?, told = ?, frame = ?, data = ?"
            " WHERE id = ?",
            (*row, id),
        )
    shifts.refile(connection, id, reading)
    _restrike(connection, id, entries)
    return Put(id=id, minute=earliest(connection, _changed(before.entries, entries)))


# of a log that is kept, in the order of ``stamped``
STAMPED = (
    "size = ?, mtime_ns = ?, ctime_ns = ?, digest = ?, growing = ?, ended = ?, settles = ?,"
    " trusted = ?"
)


def stamped(known: Known) -> tuple[object, ...]:
    """What is known of a log, as its row has it."""
    return (
        known.size,
        _held(known.mtime_ns),
        _held(known.ctime_ns),
        known.digest,
        known.last_line is LastLine.GROWING,
        known.ended,
        _settles(known),
        known.trusted,
    )


def drop(connection: sqlite3.Connection, id: int, before: Reading) -> int | None:
    """Forget a log that is gone; the earliest minute [us] whose state may change by it."""
    minute = earliest(connection, before.entries)
    shifts.remember(connection, id, Reading())
    shifts.refile(connection, id, Reading())
    connection.execute("DELETE FROM strike WHERE file = ?", (id,))
    connection.execute("DELETE FROM file WHERE id = ?", (id,))
    return minute


def files(connection: sqlite3.Connection) -> Iterator[LogFile]:
    """Every log that is kept, as it was read, by path."""
    rows = connection.execute(
        "SELECT path, data, mtime_ns, ctime_ns, growing FROM file ORDER BY path"
    )
    for path, data, mtime_ns, ctime_ns, growing in rows.fetchall():
        raw = zlib.decompress(data)
        yield LogFile(
            path=path, data=raw, size=len(raw), mtime_ns=mtime_ns, ctime_ns=ctime_ns,
            last_line=LastLine.GROWING if growing else LastLine.SETTLED,
        )  # fmt: skip


def _held(nanoseconds: int) -> int:
    """A time of a file as far as SQLite's numbers go; one beyond is never taken for the same."""
    return min(max(nanoseconds, -(1 << 63)), (1 << 63) - 1)


def _settles(known: Known) -> int | None:
    return None if known.settles_at is None else micros(known.settles_at)


# -- what changed --------------------------------------------------------------------------


def _changed(before: Sequence[Entry], after: Sequence[Entry]) -> list[Entry]:
    """Entries of either reading that the other does not hold in the same place."""
    old = {e.line: e for e in before}
    new = {e.line: e for e in after}
    if len(old) != len(before) or len(new) != len(after):  # two of a line: never, but then all
        return [*before, *after]
    changed: list[Entry] = []
    for line in old.keys() | new.keys():
        one, other = old.get(line), new.get(line)
        if one is other or (one is not None and other is not None and same(one, other)):
            continue
        changed += [e for e in (one, other) if e is not None]
    return changed


def same(one: Entry, other: Entry) -> bool:
    return one == other and (one.line, one.text, one.stamp) == (other.line, other.text, other.stamp)


def earliest(connection: sqlite3.Connection, changed: Iterable[Entry]) -> int | None:
    """The earliest minute that a change of these entries may bear on [us]."""
    minutes: set[int] = set()
    for entry in changed:
        minutes.add(minute_of(micros(entry.when)))
        for clause in entry.clauses:
            if isinstance(clause, Struck):
                minutes.add(minute_of(_struck_at(clause)))
    if not minutes:
        return None
    strikes = connection.execute(
        "SELECT minute, min(at) FROM strike WHERE minute BETWEEN ? AND ? GROUP BY minute",
        (min(minutes), max(minutes)),
    )
    asked = [minute_of(at) for minute, at in strikes if minute in minutes]
    return min((*minutes, *asked))


def minute_of(at: int) -> int:
    """The start of a moment's minute [us]."""
    return at - at % MINUTE_US


def _struck_at(clause: Struck) -> int:
    """The moment that a strike names [us]; it is a time of the shed, so it has its zone."""
    return micros(clause.name.moment)


def _restrike(connection: sqlite3.Connection, id: int, entries: Iterable[Entry]) -> None:
    rows = _strikes(id, entries)
    held = connection.execute(
        "SELECT line, at, loom, minute FROM strike WHERE file = ?", (id,)
    ).fetchall()
    if sorted(held) != sorted((row[1:]) for row in rows):
        connection.execute("DELETE FROM strike WHERE file = ?", (id,))
        _insert_strikes(connection, rows)


def strike_more(connection: sqlite3.Connection, id: int, entries: Iterable[Entry]) -> None:
    """Keep what these new entries of a log strike."""
    _insert_strikes(connection, _strikes(id, entries))


def _strikes(id: int, entries: Iterable[Entry]) -> list[tuple[int, int, int, str, int]]:
    return [
        (id, e.line, micros(e.when), e.place.name, minute_of(_struck_at(clause)))
        for e in entries
        for clause in e.clauses
        if isinstance(clause, Struck)
    ]


def _insert_strikes(
    connection: sqlite3.Connection, strikes: Iterable[tuple[int, int, int, str, int]]
) -> None:
    connection.executemany(
        "INSERT OR IGNORE INTO strike (file, line, at, loom, minute) VALUES (?, ?, ?, ?, ?)",
        strikes,
    )


# -- readings ------------------------------------------------------------------------------


def told_of(path: str, reading: Reading) -> Told | None:
    """What a reading says beside its entries; None for nothing."""
    if not (reading.diagnostics or reading.may_isolate or reading.unfinished):
        return None
    shifts = {f.line: f.shift for f in reading.filed}
    unfinished = reading.unfinished
    return Told(
        complaints=tuple(
            Complaint(path=path, diagnostic=d, shift=shifts.get(d.line))
            for d in reading.diagnostics
        ),
        doubtful=doubtful_of(path, reading),
        unfinished=(
            Source(path=path, line=unfinished.line, text=unfinished.text) if unfinished else None
        ),
    )


def told(connection: sqlite3.Connection) -> Iterator[Told]:
    """What each log says beside its entries, in the order of the paths."""
    # sorted here: SQLite would go through every log for their order
    rows = connection.execute("SELECT path, told FROM file WHERE told IS NOT NULL").fetchall()
    for _, packed in sorted(rows):
        yield unpack(packed)


def times_between(connection: sqlite3.Connection, start: int, end: int) -> list[int]:
    """About when the entries between two moments [us] were written, in order: one time each.

    Of a file with several, these are spread evenly from its first to its last.
    """
    found: list[int] = []
    rows = connection.execute(
        "SELECT first, last, entries FROM file WHERE last >= ? AND first < ?", (start, end)
    )
    for first, last, entries in rows:
        step = (last - first) // max(entries, 1)
        found += [at for n in range(max(entries, 1)) if start <= (at := first + n * step) < end]
    found.sort()
    return found
