"""An index that is damaged, foreign, locked or impossible: the same board, and one sentence.

Whatever stands in the place of the index, the document of ``--index FILE`` is that of ``--index
none`` and the exit code 0; what is told of the index goes to standard error.
"""

from __future__ import annotations

import os
import pickle
import random
import shutil
import sqlite3
import sys
import threading
import zlib
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from board.index import fingerprint, schema, transactions
from board.index import index as indexes
from board.index.packing import Damaged
from tests.conftest import Outcome, Run
from tests.index.doing import some_lines
from tests.state.shed import REGISTER

pytestmark = pytest.mark.usefixtures("short_stretches")
AT = "2026-11-02T06:00"
LATER = max(datetime.now(UTC), datetime(2026, 11, 26, tzinfo=UTC)) + timedelta(days=2)
COMMANDS = (("board",), ("check",), ("figures",), ("repeats",), ("handover",))


@pytest.fixture(scope="module")
def logs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A little shed's logs, with everything in them."""
    folder = tmp_path_factory.mktemp("shed") / "logs"
    folder.mkdir()
    (folder / "shed.toml").write_text(REGISTER)
    dice = random.Random(5)
    for path in ("a.log", "b.log", "wide.log"):
        (folder / path).write_bytes(b"".join(some_lines(dice, path) for _ in range(9)))
    with (folder / "a.log").open("a") as log:
        log.write("day 2026-10-20 night by KM\n22:10 A03 isolated by CANARY lock 14\n")
    return folder


@dataclass
class Board:
    """The board of a folder, with an index and without."""

    run: Run
    logs: Path
    file: Path
    _without: dict[str, Outcome]

    def without(self, command: str = "board") -> Outcome:
        """The document without an index."""
        if command not in self._without:
            self._without[command] = self.told(command, "none")
            assert self._without[command].code in (0, 1)
        return self._without[command]

    def told(self, command: str, index: str) -> Outcome:
        return self.run(
            command, "--folder", str(self.logs), "--at", AT, "--json", "--index", index, now=LATER
        )

    def must_be_same(self, command: str = "board") -> str:
        """The document is the same; answers what was said beside it."""
        told = self.told(command, str(self.file))
        assert told.out == self.without(command).out
        assert told.code == self.without(command).code
        assert "Traceback" not in told.err
        assert all(line.startswith("loomslate: ") for line in told.err.splitlines())
        return told.err

    def built(self) -> bytes:
        """A good index of the folder in its place, as bytes; it is built once."""
        if self.logs in _BUILT:
            self.file.parent.mkdir(exist_ok=True)
            self.put(_BUILT[self.logs])
            return _BUILT[self.logs]
        assert self.must_be_same() == ""
        assert b"CANARY" in self.without().out.encode()
        with closing(sqlite3.connect(self.file)) as connection, connection:
            assert connection.execute("SELECT count(*) FROM checkpoint").fetchone()[0] > 2
            assert connection.execute("SELECT count(*) FROM joined").fetchone()[0] > 1
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.close()
        return _BUILT.setdefault(self.logs, self.file.read_bytes())

    def doubted(self) -> None:
        """Let there be something to put away: a log whose stamp is not trusted."""
        with closing(sqlite3.connect(self.file)) as connection, connection:
            connection.execute("UPDATE file SET trusted = 0 WHERE path = 'a.log'")

    def put(self, data: bytes) -> None:
        """Let something else stand in the index's place."""
        schema.remove(self.file)
        self.file.write_bytes(data)


TABLES = ("file", "filed", "seal", "strike", "checkpoint", "segment", "joined", "meta")
_WITHOUT: dict[str, Outcome] = {}
_BUILT: dict[Path, bytes] = {}


@pytest.fixture
def board(run: Run, logs: Path, tmp_path: Path) -> Board:
    return Board(run, logs, tmp_path / "kept" / "index.sqlite", _WITHOUT)


def is_one_sentence(told: str) -> bool:
    return told.startswith("loomslate: ") and told.count("\n") == 1


# -- a file that is damaged ----------------------------------------------------------------


def test_every_command_says_the_same_with_an_index(board: Board) -> None:
    for _ in range(2):
        for (command,) in COMMANDS:
            assert board.must_be_same(command) == ""


@pytest.mark.parametrize("share", [0.0, 0.01, 0.2, 0.5, 0.9, 0.999])
def test_an_index_cut_short(board: Board, share: float) -> None:
    data = board.built()
    board.put(data[: int(len(data) * share)])
    board.must_be_same()
    assert board.must_be_same() == ""


@pytest.mark.parametrize("seed", range(16))
def test_bytes_changed_anywhere(board: Board, seed: int) -> None:
    dice = random.Random(seed)
    data = bytearray(board.built())
    for _ in range(dice.choice((1, 3, 30))):
        data[dice.randrange(100, len(data))] ^= dice.randrange(1, 256)
    board.put(bytes(data))
    board.must_be_same()
    board.must_be_same("check")
    board.must_be_same("figures")  # looks into what the others do not
    assert board.must_be_same("figures") == ""


def _cells(connection: sqlite3.Connection) -> list[tuple[str, str]]:
    found = []
    for table in TABLES:
        if connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]:
            columns = connection.execute(f"PRAGMA table_info({table})").fetchall()
            found += [(table, name) for _, name, *_ in columns]
    return found


def changed_blob(dice: random.Random, blob: bytes) -> bytes:
    data = bytearray(blob or b"x")
    data[dice.randrange(len(data))] ^= dice.randrange(1, 256)
    return bytes(data)


@pytest.mark.parametrize("seed", range(12))
def test_a_byte_changed_inside_of_what_is_kept(board: Board, seed: int) -> None:
    """Where SQLite itself sees nothing wrong: a state, facts, a reading, the bytes of a log."""
    dice = random.Random(seed)
    board.built()
    with closing(sqlite3.connect(board.file)) as connection, connection:
        blobs = [
            ("checkpoint", "state", "upto"), ("segment", "members", "start"), ("file", "told", "id"),
            ("file", "reading", "id"), ("file", "data", "id"), ("joined", "members", "start"),
        ]  # fmt: skip
        table, column, key = blobs[seed % len(blobs)]
        rows = connection.execute(
            f"SELECT {key}, {column} FROM {table} WHERE {column} IS NOT NULL"
        ).fetchall()
        for at, blob in rows:
            connection.execute(
                f"UPDATE {table} SET {column} = ? WHERE {key} = ?", (changed_blob(dice, blob), at)
            )
    connection.close()
    board.must_be_same()
    board.must_be_same("figures")
    board.must_be_same("check")


@pytest.mark.parametrize("seed", range(2))
def test_a_value_of_another_kind_in_any_column(board: Board, seed: int) -> None:
    """As a hand that knows SQLite might leave it: never a traceback."""
    data = board.built()
    dice = random.Random(seed)
    with closing(sqlite3.connect(board.file)) as connection, connection:
        cells = _cells(connection)
    connection.close()
    for table, column in cells:
        value = dice.choice((None, -1, 1 << 62, "text", b"\0\xff", 1.5))
        board.put(data)
        with closing(sqlite3.connect(board.file)) as connection, connection:
            try:
                connection.execute(f"UPDATE OR IGNORE {table} SET {column} = ?", (value,))
            except sqlite3.IntegrityError:
                continue
        connection.close()
        told = board.told("board", str(board.file))
        assert told.code == 0, (table, column, value)
        assert "Traceback" not in told.err


@pytest.mark.parametrize("table", TABLES)
def test_a_table_that_is_gone(board: Board, table: str) -> None:
    board.built()
    with closing(sqlite3.connect(board.file)) as connection, connection:
        connection.execute(f"DROP TABLE {table}")
    connection.close()
    board.must_be_same()
    assert board.must_be_same("figures") == ""


def test_a_bomb_in_what_is_kept_does_not_go_off(board: Board, tmp_path: Path) -> None:
    class Bomb:
        def __reduce__(self) -> tuple[Callable[[str], int], tuple[str]]:
            return os.system, (f"touch {tmp_path}/went_off",)

    bomb = pickle.dumps(Bomb())
    for column, table in (
        ("state", "checkpoint"),
        ("members", "segment"),
        ("members", "joined"),
        ("told", "file"),
        ("reading", "file"),
    ):
        for data in (bomb, zlib.crc32(bomb).to_bytes(4, "big") + bomb):
            board.built()
            with closing(sqlite3.connect(board.file)) as connection, connection:
                connection.execute(f"UPDATE {table} SET {column} = ?", (data,))
            connection.close()
            for command in ("board", "figures"):
                board.must_be_same(command)
            assert not (tmp_path / "went_off").exists()
    pickle.loads(bomb)
    assert (tmp_path / "went_off").exists()


def test_damage_that_comes_again_is_not_mended_for_ever(
    board: Board, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk that changes what is written to it: told, and then done without."""
    board.built()

    def damaged(_: sqlite3.Connection) -> None:
        raise Damaged("always")

    monkeypatch.setattr(indexes.rows, "known", damaged)
    told = board.must_be_same()
    assert "made anew" in told
    assert told.count("\n") == 2
    assert told.endswith("; the logs are read without it\n")


# -- something else in its place -----------------------------------------------------------


def test_no_bytes_at_all(board: Board) -> None:
    board.file.parent.mkdir()
    board.file.touch()
    assert board.must_be_same() == ""
    assert board.built()


@pytest.mark.parametrize("length", [1, 15, 16, 99, 100, 5_000])
def test_a_file_of_something_else_is_left_as_it_is(board: Board, length: int) -> None:
    data = (b"22:10 A01 isolated by KM\n" * 300)[:length]
    board.file.parent.mkdir()
    board.file.write_bytes(data)
    for _ in range(2):
        assert is_one_sentence(board.must_be_same())
    assert board.file.read_bytes() == data
    assert list(board.file.parent.iterdir()) == [board.file]


@pytest.mark.parametrize("application", [0, 0x0F055112])
def test_a_database_of_another_program_is_left_as_it_is(board: Board, application: int) -> None:
    board.file.parent.mkdir()
    with closing(sqlite3.connect(board.file)) as connection, connection:
        connection.execute(f"PRAGMA application_id = {application}")
        connection.execute("CREATE TABLE file (id INTEGER PRIMARY KEY, path TEXT)")
        connection.execute("INSERT INTO file VALUES (1, 'precious')")
    connection.close()
    data = board.file.read_bytes()
    for _ in range(2):
        assert is_one_sentence(board.must_be_same())
    assert board.file.read_bytes() == data
    assert list(board.file.parent.iterdir()) == [board.file]


def test_one_of_the_logs_named_as_the_index(board: Board) -> None:
    file = board.file = board.logs / "a.log"
    data = file.read_bytes()
    assert is_one_sentence(board.must_be_same())
    assert file.read_bytes() == data


@pytest.mark.parametrize(
    "change",
    ["PRAGMA user_version = 99", "PRAGMA user_version = 0", "UPDATE meta SET value = 'other'", "DELETE FROM meta"],
)  # fmt: skip
def test_an_index_of_another_time_is_made_anew(board: Board, change: str) -> None:
    board.built()
    with closing(sqlite3.connect(board.file)) as connection, connection:
        connection.execute("UPDATE file SET told = NULL, entries = 7")
        connection.execute(change)
    connection.close()
    assert board.must_be_same() == ""
    assert board.must_be_same("check") == ""


def test_an_index_of_another_program_of_the_same_name(
    board: Board, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever module was changed, what was read by the old one is read again."""
    board.built()
    with closing(sqlite3.connect(board.file)) as connection, connection:
        connection.execute("UPDATE file SET entries = 7")
    connection.close()
    monkeypatch.setattr(fingerprint, "_program", lambda: "changed")
    assert board.must_be_same() == ""


# -- a place where nothing can be kept -----------------------------------------------------


def test_a_folder_with_the_name_of_the_index(board: Board) -> None:
    board.file.mkdir(parents=True)
    assert is_one_sentence(board.must_be_same())
    assert list(board.file.iterdir()) == []


@pytest.mark.parametrize("way", ["", "x" * 300, "nul\0"])
def test_a_place_that_cannot_be(board: Board, way: str) -> None:
    board.file = Path("/proc/version") / way
    assert is_one_sentence(board.must_be_same())


def _as_nobody(work: Callable[[], None]) -> int:
    """Whether it worked out in a child that is nobody special; 0 is yes."""
    child = os.fork()
    if child == 0:
        code = 1
        try:
            if os.getuid() == 0:
                os.setgid(65534)
                os.setuid(65534)
            work()
            code = 0
        except BaseException as error:
            sys.__stderr__.write(f"{error!r}\n")
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)


def _reachable(*places: Path) -> None:
    """Let anybody walk down to these places, and read the logs."""
    for place in places:
        for above in (place, *place.parents):
            if above.exists() and above.stat().st_uid == os.getuid() and above.is_dir():
                above.chmod(above.stat().st_mode | 0o055)


@pytest.mark.parametrize("closed", ["file", "folder", "both", "unreadable", "empty folder"])
def test_where_nothing_may_be_written(board: Board, closed: str) -> None:
    data = board.built()
    board.put(data)
    _reachable(board.file.parent, board.logs)
    if closed == "empty folder":
        schema.remove(board.file)
    if closed in ("file", "both", "unreadable"):
        board.file.chmod(0o000 if closed == "unreadable" else 0o444)
    board.file.parent.chmod(0o777 if closed in ("file", "unreadable") else 0o555)
    board.without()

    def work() -> None:
        told = board.must_be_same()
        assert told == "" or is_one_sentence(told), told

    assert _as_nobody(work) == 0
    board.file.parent.chmod(0o755)
    if closed != "empty folder":
        board.file.chmod(0o644)
    assert board.must_be_same() == ""


class _Full:
    """A connection to a disk that becomes full after so many statements that write."""

    def __init__(self, real: sqlite3.Connection, after: list[int], reason: str) -> None:
        self._real, self._after, self._reason = real, after, reason

    def __getattr__(self, name: str) -> Any:
        return getattr(self._real, name)

    def _judge(self, statement: str) -> None:
        if statement.split()[0] in ("INSERT", "UPDATE", "DELETE", "COMMIT", "CREATE", "BEGIN"):
            self._after[0] -= 1
            if self._after[0] < 0:
                error = sqlite3.OperationalError("database or disk is full")
                error.sqlite_errorname = self._reason  # type: ignore[misc]
                raise error

    def execute(self, statement: str, *rest: Any) -> Any:
        self._judge(statement)
        return self._real.execute(statement, *rest)

    def executemany(self, statement: str, *rest: Any) -> Any:
        self._judge(statement)
        return self._real.executemany(statement, *rest)


@pytest.mark.parametrize("reason", ["SQLITE_FULL", "SQLITE_IOERR_WRITE", "SQLITE_READONLY"])
@pytest.mark.parametrize("after", [0, 1, 9, 26])
def test_a_disk_that_becomes_full(
    board: Board, monkeypatch: pytest.MonkeyPatch, after: int, reason: str
) -> None:
    real = sqlite3.connect
    left = [after]
    monkeypatch.setattr(
        schema.sqlite3, "connect", lambda *a, **k: _Full(real(*a, **k), left, reason)
    )
    assert is_one_sentence(board.must_be_same())
    left[0] = 1 << 30
    assert board.must_be_same() == ""


@contextmanager
def held(board: Board) -> Iterator[sqlite3.Connection]:
    """Another program writes to the index, and does not come to an end."""
    with closing(
        sqlite3.connect(board.file, isolation_level=None, check_same_thread=False)
    ) as other:
        other.execute("BEGIN IMMEDIATE")
        other.execute("UPDATE meta SET value = value")
        yield other


def test_an_index_that_another_program_holds(board: Board, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(transactions, "WAIT_S", 0.2)
    board.put(board.built())
    board.doubted()
    with held(board):
        told = board.must_be_same()
    assert is_one_sentence(told)
    assert "locked" in told


def test_who_has_nothing_to_put_away_waits_for_nobody(
    board: Board, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(transactions, "WAIT_S", 0.0)
    board.put(board.built())
    with held(board):
        assert board.must_be_same() == ""


def test_an_index_that_another_program_holds_for_a_moment(board: Board) -> None:
    """It is waited for."""
    board.put(board.built())
    board.doubted()
    with held(board) as other:
        ends = threading.Timer(0.5, other.close)
        ends.start()
        assert board.must_be_same() == ""
        ends.join()


# -- nothing is kept where nothing is wanted -----------------------------------------------


def _all_files(*tops: Path) -> dict[Path, tuple[int, int]]:
    return {
        file: (file.stat().st_size, file.stat().st_mtime_ns)
        for top in tops
        for file in top.rglob("*")
        if file.is_file()
    }


@pytest.mark.parametrize("none", ["none", "NONE", "None"])
def test_none_writes_nothing_anywhere(
    board: Board, kept: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, none: str
) -> None:
    board.without()  # the grammar is kept
    opened: list[object] = []
    monkeypatch.setattr(schema.sqlite3, "connect", lambda *a, **k: opened.append(a))
    monkeypatch.chdir(tmp_path)
    before = _all_files(kept, board.logs, tmp_path)
    for (command,) in COMMANDS:
        assert board.told(command, none).out == board.without(command).out
    assert opened == []
    assert _all_files(kept, board.logs, tmp_path) == before


def test_an_index_is_kept_in_the_cache_folder_and_nowhere_near_the_logs(
    run: Run, logs: Path, kept: Path
) -> None:
    before = _all_files(logs)
    told = run("board", str(logs), "--at", AT, "--json", now=LATER)
    assert told.code == 0
    assert told.err == ""
    assert [f for f in kept.rglob("index-*.sqlite") if f.stat().st_size]
    assert _all_files(logs) == before


def test_an_index_that_goes_while_it_is_used(board: Board, monkeypatch: pytest.MonkeyPatch) -> None:
    board.put(board.built())
    settle = indexes.Index.settle

    def gone(index: indexes.Index, *rest: Any) -> None:
        shutil.rmtree(board.file.parent)
        settle(index, *rest)

    monkeypatch.setattr(indexes.Index, "settle", gone)
    told = board.must_be_same()
    assert told == "" or is_one_sentence(told)
    monkeypatch.undo()
    assert board.must_be_same() == ""
