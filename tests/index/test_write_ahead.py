"""What was committed comes into the file of an index beside the work, and nobody waits for it."""

import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from board.index import write_ahead
from board.index.schema import open_index
from board.index.write_ahead import WriteAhead

DEADLINE_S = 10.0
ROWS = 300
TEXT = "x" * 20_000  # five pages and more a row


def count(connection: sqlite3.Connection) -> int:
    (rows,) = connection.execute("SELECT count(*) FROM meta WHERE key LIKE 'k%'").fetchone()
    assert isinstance(rows, int)
    return rows


class Written:
    """An index's file with its write-ahead log, which is longer with each ``write``."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.connection = open_index(file, "mark")
        self.ahead = WriteAhead(file, self.connection)
        self.keys = 0

    def write(self, rows: int) -> None:
        self.connection.execute("BEGIN IMMEDIATE")
        for _ in range(rows):
            self.keys += 1
            self.connection.execute("INSERT INTO meta VALUES (?, ?)", (f"k{self.keys}", TEXT))
        self.connection.execute("COMMIT")
        self.ahead.committed()

    def in_file(self) -> int:
        """How many rows stand in the file itself, whatever the log beside it holds."""
        asked = f"{self.file.absolute().as_uri()}?immutable=1"
        with closing(sqlite3.connect(asked, uri=True)) as alone:
            try:
                return count(alone)
            except sqlite3.DatabaseError:  # no table yet, or half of what is brought in
                return 0

    @property
    def log_bytes(self) -> int:
        return Path(f"{self.file}-wal").stat().st_size

    def close(self) -> None:
        self.ahead.close()
        self.connection.close()


def comes_true(what: Callable[[], bool]) -> bool:
    until = time.monotonic() + DEADLINE_S
    while not what() and time.monotonic() < until:
        time.sleep(0.01)
    return what()


@pytest.fixture
def written(tmp_path: Path) -> Iterator[Written]:
    # characters that mean something in the address of a file
    written = Written(tmp_path / "Café 100% #1?mode=ro.sqlite")
    yield written
    written.close()


def test_a_long_log_is_brought_into_the_file(written: Written) -> None:
    assert written.in_file() == 0
    written.write(ROWS)
    assert comes_true(lambda: written.in_file() == ROWS)


def test_a_short_log_is_left(written: Written) -> None:
    written.write(3)
    time.sleep(0.2)
    assert written.in_file() == 0
    assert written.ahead._thread is None


def test_the_log_does_not_grow_without_end(written: Written) -> None:
    for _ in range(10):
        before = written.keys
        written.write(ROWS)
        assert comes_true(lambda before=before: written.in_file() == before + ROWS)
    # one begins anew behind one that was brought in to its end, mostly at once
    assert written.log_bytes < 6 * ROWS * len(TEXT)


def test_nobody_waits_while_the_disk_is_slow(
    written: Written, monkeypatch: pytest.MonkeyPatch
) -> None:
    held, begun = threading.Event(), threading.Event()

    def slow(*_: object, **__: object) -> sqlite3.Connection:
        begun.set()
        held.wait(DEADLINE_S)
        raise sqlite3.OperationalError("disk I/O error")

    with monkeypatch.context() as patched:
        patched.setattr(write_ahead.sqlite3, "connect", slow)
        patched.setattr(write_ahead, "_LAST_WORK_S", 0.1)
        written.write(ROWS)
        assert begun.wait(DEADLINE_S)
        written.write(ROWS)  # goes on
        since = time.monotonic()
        written.ahead.close()
        assert time.monotonic() - since < DEADLINE_S / 2
        held.set()
    with closing(sqlite3.connect(written.file)) as another:
        assert count(another) == 2 * ROWS


def test_a_trouble_is_left_to_whoever_writes_next(
    written: Written, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried: list[object] = []

    def fails(*_: object, **__: object) -> sqlite3.Connection:
        tried.append(None)
        raise sqlite3.OperationalError("disk I/O error")

    with monkeypatch.context() as patched:
        patched.setattr(write_ahead.sqlite3, "connect", fails)
        written.write(ROWS)
        assert comes_true(lambda: bool(tried))
    written.write(ROWS)  # tried again
    assert comes_true(lambda: written.in_file() == 2 * ROWS)


def test_an_index_that_was_deleted_does_not_come_back(written: Written) -> None:
    written.write(3)
    written.file.unlink()
    written.write(ROWS)
    time.sleep(0.2)
    assert not written.file.exists()


def test_letting_go_ends_the_thread(written: Written) -> None:
    written.write(ROWS)
    own = written.ahead._thread
    assert own is not None
    written.ahead.close()
    assert not own.is_alive()


def test_what_is_deleted_is_not_written_over(written: Written) -> None:
    """As SQLite is built by some: whoever deletes years would write them once more, as nothing."""
    written.write(ROWS)
    assert comes_true(lambda: written.in_file() == ROWS)
    written.write(1)  # the log begins anew
    before = written.log_bytes
    written.connection.execute("DELETE FROM meta WHERE key LIKE 'k%'")
    assert written.log_bytes - before < ROWS * len(TEXT) / 4
    (mode,) = written.connection.execute("PRAGMA secure_delete").fetchone()
    assert mode == 0
