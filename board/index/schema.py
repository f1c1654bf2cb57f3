"""The tables of the index, and how its file is opened, judged and made anew.

One SQLite file, derived from the logs and deletable at any time. Moments are whole microseconds
since 1970 in UTC. ``told`` and ``reading`` are packed values (``packing``); numbers of lines are
4 bytes each.
"""

from __future__ import annotations

import os
import sqlite3
import zlib
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

from board.index.packing import Damaged

# what reading an index can raise that somebody has damaged
FAULTS = (
    sqlite3.Error, Damaged, zlib.error, ValueError, TypeError, ArithmeticError, LookupError,
    AttributeError,
)  # fmt: skip
APPLICATION_ID = 0x6C6F6F6D  # "loom"; kept in the file's header
LAYOUT = 4  # of the tables; another one is made anew
WAIT_S = 5.0  # [s] for another program that writes

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)

_TABLES = """
CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE file (
    id INTEGER PRIMARY KEY,
    path TEXT NOT NULL UNIQUE,   -- inside the folder, as it is shown
    size INTEGER NOT NULL,       -- [bytes]
    mtime_ns INTEGER NOT NULL,   -- as of before it was read
    ctime_ns INTEGER NOT NULL,
    digest BLOB NOT NULL,        -- of its bytes
    growing INTEGER NOT NULL,    -- whether a last line without its end is left uncounted
    ended INTEGER NOT NULL,      -- whether its last line has its end
    settles INTEGER,             -- when an uncounted last line will count
    trusted INTEGER NOT NULL,    -- read long enough after its last change to trust its stamp
    lines INTEGER NOT NULL,
    entries INTEGER NOT NULL,    -- read whole
    parts INTEGER NOT NULL,      -- entries of which only the isolations were read
    first INTEGER,               -- earliest entry
    last INTEGER,                -- latest entry
    reading BLOB,                -- of a log that is likely to be asked for again, or NULL
    told BLOB,                   -- complaints, doubtful lines and an unfinished one, or NULL
    frame BLOB,                  -- numbers of the lines that others are read by, or NULL for all
    data BLOB NOT NULL           -- its bytes, compressed
);
CREATE INDEX file_stamp ON file (  -- what each look asks of all, without their bytes
    path, size, mtime_ns, ctime_ns, digest, growing, ended, settles, trusted,
    first, last, lines, entries, parts
);
CREATE INDEX file_last ON file (last);
CREATE INDEX file_told ON file (id) WHERE told IS NOT NULL;
CREATE TABLE filed (             -- numbers of the lines under a shift, 4 bytes each
    day INTEGER NOT NULL, name TEXT NOT NULL, file INTEGER NOT NULL,
    sealed BLOB NOT NULL,        -- those that its seal is made of
    others BLOB NOT NULL,        -- those that hand over or take over
    PRIMARY KEY (day, name, file)
) WITHOUT ROWID;
CREATE INDEX filed_file ON filed (file);
CREATE TABLE seal (
    day INTEGER NOT NULL, name TEXT NOT NULL, lines INTEGER NOT NULL, digest TEXT NOT NULL,
    PRIMARY KEY (day, name)
) WITHOUT ROWID;
CREATE TABLE sealed_lines (
    day INTEGER NOT NULL, name TEXT NOT NULL, lines BLOB NOT NULL, PRIMARY KEY (day, name)
) WITHOUT ROWID;
CREATE TABLE strike (
    file INTEGER NOT NULL, line INTEGER NOT NULL, at INTEGER NOT NULL,
    loom TEXT NOT NULL, minute INTEGER NOT NULL,
    baked INTEGER NOT NULL DEFAULT 0,  -- whether the segments know what it strikes
    PRIMARY KEY (file, line, loom, minute)
) WITHOUT ROWID;
CREATE INDEX strike_minute ON strike (minute);
CREATE INDEX strike_at ON strike (at);
CREATE VIRTUAL TABLE line USING fts5 (
    words, content='', columnsize=0, detail=none, tokenize="unicode61 tokenchars '_@'"
);
CREATE TABLE word (
    term TEXT PRIMARY KEY        -- every one that stands in a line
) WITHOUT ROWID;
CREATE TABLE checkpoint (
    number INTEGER PRIMARY KEY AUTOINCREMENT, upto INTEGER NOT NULL UNIQUE, state BLOB NOT NULL
);
CREATE TABLE segment (
    start INTEGER NOT NULL, kind TEXT NOT NULL, upto INTEGER NOT NULL, amount INTEGER NOT NULL,
    members BLOB NOT NULL  -- without a ROWID, SQLite would read all of it to compare a start
);
CREATE UNIQUE INDEX segment_kind ON segment (kind, start);
CREATE TABLE joined (
    start INTEGER PRIMARY KEY, upto INTEGER NOT NULL,
    members BLOB NOT NULL        -- the spells of the segments between, in columns
);
CREATE INDEX joined_upto ON joined (upto);
"""


class Unusable(Exception):
    """Why an index cannot be used, in one sentence.

    ``mended`` if another try will do; ``passing`` if it may be usable later as it is.
    """

    def __init__(self, sentence: str, *, mended: bool = False, passing: bool = False) -> None:
        super().__init__(sentence)
        self.mended = mended
        self.passing = passing


def moment(at: int) -> datetime:
    """The moment of a number [us since 1970], in UTC; as far off as the calendar goes."""
    try:
        return _EPOCH + at * _MICROSECOND
    except OverflowError:
        return (datetime.max if at > 0 else datetime.min).replace(tzinfo=UTC)


def open_index(file: Path, fingerprint: str) -> sqlite3.Connection:
    """A connection to a usable index of this fingerprint; anything else there is made anew.

    Raises Unusable where no index can be had at this place. A file that is no index of this
    program is never touched.
    """
    try:
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if _is_foreign(file):
            raise Unusable(f"{file} is not an index of loomslate and was left as it is")
        try:
            return _opened(file, fingerprint)
        except (sqlite3.DatabaseError, UnicodeDecodeError) as error:  # or a text that is none
            if is_passing(error):
                raise
            remove(file)
            return _opened(file, fingerprint)
    except (OSError, ValueError, sqlite3.Error) as error:
        raise Unusable(f"the index {file} cannot be used: {error}", passing=True) from error


def remove(file: Path) -> None:
    """Delete an index with what SQLite keeps beside it."""
    for end in ("", "-wal", "-shm", "-journal"):
        with suppress(FileNotFoundError):
            os.unlink(f"{file}{end}")


def _is_foreign(file: Path) -> bool:
    """Whether something else than an index stands there: a log, another program's database."""
    try:
        with open(file, "rb") as opened:
            head = opened.read(100)
    except FileNotFoundError:
        return False
    if not head:
        return False
    if not head.startswith(b"SQLite format 3\x00"):
        return True
    mark, tables = (int.from_bytes(head[at : at + 4], "big") for at in (68, 40))
    return len(head) == 100 and mark != APPLICATION_ID and bool(mark or tables)


def is_passing(error: Exception) -> bool:
    """Whether the trouble is of the moment, and no fault of what the file holds."""
    if isinstance(error, sqlite3.ProgrammingError):
        return True  # it was closed
    if not isinstance(error, sqlite3.OperationalError):
        return False
    name: str = getattr(error, "sqlite_errorname", "")
    return name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED", "SQLITE_READONLY", "SQLITE_CANTOPEN",
                            "SQLITE_FULL", "SQLITE_IOERR"))  # fmt: skip


def _opened(file: Path, fingerprint: str) -> sqlite3.Connection:
    connection = sqlite3.connect(
        file, timeout=WAIT_S, isolation_level=None, check_same_thread=False
    )
    try:
        if _holds_something_else(connection):
            raise Unusable(f"{file} is not an index of loomslate and was left as it is")
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = NORMAL")
        connection.execute("PRAGMA cache_size = -32768")
        if not _is_of(connection, fingerprint):
            _make(connection, fingerprint)
    except BaseException:
        connection.close()
        raise
    return connection


def _holds_something_else(connection: sqlite3.Connection) -> bool:
    """Whether there are tables in it of another program; these may stand beside its file."""
    connection.execute("BEGIN")  # both as of one moment: another program may be making the tables
    (tables,) = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    (mark,) = connection.execute("PRAGMA application_id").fetchone()
    connection.execute("COMMIT")
    return mark != APPLICATION_ID and bool(mark or tables)


def _is_of(connection: sqlite3.Connection, fingerprint: str) -> bool:
    (layout,) = connection.execute("PRAGMA user_version").fetchone()
    if layout != LAYOUT:
        return False
    return kept(connection, "fingerprint") == fingerprint


def _make(connection: sqlite3.Connection, fingerprint: str) -> None:
    """Empty tables, in one transaction: another program sees all of them or none."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        if _is_of(connection, fingerprint):  # another program was quicker
            connection.execute("ROLLBACK")
            return
        names = connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
            " ORDER BY sql NOT LIKE 'CREATE VIRTUAL%'"  # these take their own tables along
        ).fetchall()
        for (name,) in names:
            connection.execute(f'DROP TABLE IF EXISTS "{name}"')
        for statement in _TABLES.split(";\n"):
            if statement.strip():
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {LAYOUT}")
        keep(connection, "fingerprint", fingerprint)
        connection.execute("COMMIT")
    except BaseException:
        with suppress(sqlite3.Error):
            connection.execute("ROLLBACK")
        raise


def kept(connection: sqlite3.Connection, key: str) -> str | None:
    """A single value of the index, or None."""
    row = connection.execute("SELECT value FROM meta WHERE key = ?", (key,)).fetchone()
    return str(row[0]) if row else None


def keep(connection: sqlite3.Connection, key: str, value: str) -> None:
    """Set a single value of the index."""
    connection.execute("INSERT OR REPLACE INTO meta VALUES (?, ?)", (key, value))
