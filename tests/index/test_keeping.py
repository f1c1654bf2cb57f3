"""The live board with an index: whatever becomes of the index, the board goes on, and loses nothing."""

from __future__ import annotations

import os
import random
import shutil
import signal
import sqlite3
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from board import holding
from board import keeping as keeping_module
from board.index import transactions
from board.index.index import Index
from board.index.tails import Tail
from board.indexed import looked, open_index, snapshot_of
from board.keeping import Keeping
from board.loading import read_mill, reader_for
from board.mill import Mill
from board.record.reads import Reads
from board.record.watch import Manner
from board.show.live_view import Looking, Page, frame
from board.show.must_see import View
from board.state.logged import Logged
from grammar.reader import LastLine, Reader
from tests.index.agreeing import must_agree
from tests.robust.saves import CANARIES, Saver
from tests.robust.watching import SETTLED_S, Watching, clock, history, standing, without_logs

pytestmark = pytest.mark.usefixtures("short_stretches")
AWAY_S = 0.7  # [s] that a log folder is away


class Board(Watching):
    """A keeping with an index, and every picture that it made."""

    def agrees(self) -> None:
        """Wait until the picture is that of a fresh reading, in every part of it."""
        until = time.monotonic() + SETTLED_S
        while True:
            kept = self.now
            try:
                return must_agree(kept, self.fresh(kept.fleet.as_of))
            except AssertionError:
                if time.monotonic() > until:
                    raise
            time.sleep(0.05)

    @property
    def told(self) -> str:
        """Everything that is said beside the board."""
        assert self.keeping is not None
        picture = self.keeping.picture
        return " ".join((picture.trouble, *picture.notices))

    def until(self, wanted: Callable[[], bool]) -> None:
        """Wait for something."""
        limit = time.monotonic() + SETTLED_S
        while not wanted():
            assert time.monotonic() < limit, self.told
            time.sleep(0.02)

    def never_lost(self) -> None:
        """Every picture names every canary."""
        for _, picture, _ in self.pictures:
            assert standing(picture) == set(CANARIES)


@contextmanager
def kept_by(folder: Path, cache: Path, index: str | None) -> Iterator[Board]:
    mill = read_mill(folder)
    assert isinstance(mill, Mill)
    board = Board(folder, cache)
    board.keeping = Keeping(
        folder, mill, environ=board.environ, clock=clock, manner=Manner.AUTOMATIC,
        on_new=board.seen, index=index,
    )  # fmt: skip
    with board.keeping:
        yield board


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("cache")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return without_logs(tmp_path)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "index.sqlite"


@pytest.fixture(autouse=True)
def looks_soon(monkeypatch: pytest.MonkeyPatch) -> None:
    """The keeping looks again within half a second, where it waits up to half a minute."""
    monkeypatch.setattr(keeping_module, "_LONGEST_WAIT", 0.3)


def some_saves(saver: Saver, count: int, dice: random.Random) -> None:
    for _ in range(count):
        saver.save()
        time.sleep(dice.choice((0.0, 0.0, 0.02, 0.1)))


@pytest.mark.parametrize("seed", [1])
def test_the_picture_is_that_of_a_fresh_reading(
    folder: Path, cache: Path, file: Path, seed: int
) -> None:
    saver, dice = Saver(folder, history(10), seed), random.Random(seed)
    for _ in range(2):  # the second time, the index is there already
        with kept_by(folder, cache, str(file)) as board:
            for _ in range(2):
                some_saves(saver, 10, dice)
                board.agrees()
            assert board.told == ""
    with kept_by(folder, cache, str(file)) as board:
        saver.finish()
        board.agrees()


def test_an_index_in_the_cache_folder(folder: Path, cache: Path) -> None:
    saver = Saver(folder, history(3), 3)
    with kept_by(folder, cache, None) as board:
        saver.finish()
        board.agrees()
        assert board.told == ""
    assert list(cache.rglob("index-*.sqlite"))


def test_the_register_changed_broken_and_mended(folder: Path, cache: Path, file: Path) -> None:
    register = folder / "shed.toml"
    text = register.read_text()
    saver, dice = Saver(folder, history(6), 4), random.Random(4)
    others = (
        text.replace('name = "Quillbank"', 'name = "Q"'), text.replace("Europe/London", "Asia/Tokyo"),
        text.replace('"band", "rapier tape"', '"rapier tape"'), text,
    )  # fmt: skip
    with kept_by(folder, cache, str(file)) as board:
        for other in others:
            some_saves(saver, 3, dice)
            register.write_text("[[[ nonsense")
            board.until(lambda: "the last good register stays in force" in board.told)
            assert standing(board.now) == set(CANARIES)
            some_saves(saver, 2, dice)
            register.write_text(other)
            board.until(lambda: board.told == "")
            board.agrees()
        saver.finish()
        board.agrees()
        assert board.told == ""


def _overwritten(file: Path) -> None:
    dice = random.Random(1)
    with file.open("r+b") as opened:
        for at in range(100, file.stat().st_size - 64, 1_000):
            opened.seek(at)
            opened.write(dice.randbytes(64))


def _emptied_by_sql(file: Path) -> None:
    with closing(sqlite3.connect(file)) as connection, connection:
        for table in ("file", "segment", "meta"):
            connection.execute(f"DELETE FROM {table}")
    connection.close()


def _dropped_by_sql(file: Path) -> None:
    with closing(sqlite3.connect(file)) as connection, connection:
        connection.execute("DROP TABLE file")
    connection.close()


def _another_made(file: Path) -> None:
    """Another program, of another time, made it anew for itself."""
    with closing(sqlite3.connect(file)) as connection, connection:
        connection.execute("UPDATE meta SET value = 'other'")
    connection.close()


def _removed(file: Path) -> None:
    for one in file.parent.glob(f"{file.name}*"):
        one.unlink()


def _exchanged(file: Path) -> None:
    _removed(file)
    file.write_text("22:10 A01 note what is this\n" * 500)


def _made_a_folder(file: Path) -> None:
    _removed(file)
    file.mkdir()


DAMAGES = {
    "removed": _removed, "exchanged": _exchanged, "a folder": _made_a_folder,
    "cut to nothing": lambda file: os.truncate(file, 0),
    "cut short": lambda file: os.truncate(file, 5_000), "overwritten": _overwritten,
    "emptied": _emptied_by_sql, "a table dropped": _dropped_by_sql, "another's": _another_made,
    "its last writes cut": lambda file: os.truncate(f"{file}-wal", 0),
}  # fmt: skip


@pytest.mark.parametrize("damage", DAMAGES.values(), ids=DAMAGES)
def test_an_index_that_is_damaged_while_it_is_watched(
    folder: Path, cache: Path, file: Path, damage: Callable[[Path], None]
) -> None:
    """Also of a process that has it open: nothing of the file is mapped into memory."""
    saver, dice = Saver(folder, history(2), 6), random.Random(6)
    saver.finish()
    with kept_by(folder, cache, str(file)) as board:
        board.agrees()
        damage(file)
        for _ in range(2):
            some_saves(saver, 3, dice)
            with saver.canary.open("ab") as log:
                log.write(b"2026-11-02T07:00 A01 note seen\n")
            board.agrees()
        assert "rebuilding failed" not in board.told
        others_now = damage in (_another_made, _emptied_by_sql)  # whose it is by now is not known
        assert board.keeping is not None
        assert (board.keeping._holding.index is None) == others_now
        board.never_lost()
    with kept_by(folder, cache, str(file)) as board:
        board.agrees()
        assert standing(board.now) == set(CANARIES)


@pytest.mark.parametrize(
    "damage", ["a table dropped", "another's", "overwritten", "cut to nothing"]
)
def test_an_index_that_is_damaged_while_the_logs_are_away(
    folder: Path, cache: Path, file: Path, damage: str
) -> None:
    """What was read last stays, though it can be had neither from the index nor from the logs."""
    saver = Saver(folder, {}, 7)
    away = folder.with_name("away")
    with kept_by(folder, cache, str(file)) as board:
        board.agrees()
        folder.rename(away)
        time.sleep(AWAY_S / 2)
        DAMAGES[damage](file)
        time.sleep(AWAY_S)
        assert standing(board.now) == set(CANARIES)
        assert board.keeping is not None
        board.until(lambda: "logs" in board.told)  # the folder is gone, or the index is
        away.rename(folder)
        with saver.canary.open("ab") as log:
            log.write(b"2026-11-02T07:00 A01 note seen\n")
        lines = saver.canary.read_bytes().count(b"\n")
        board.until(lambda: board.now.tally.lines == lines)
        board.agrees()
        board.never_lost()


def test_an_empty_folder_in_the_place_of_the_logs_takes_nothing_out_of_the_index(
    folder: Path, cache: Path, file: Path
) -> None:
    """As where a drive is away: for the live board, and for a program that looks meanwhile."""
    Saver(folder, {}, 8)
    away = folder.with_name("away")
    with kept_by(folder, cache, str(file)) as board:
        board.agrees()
        mill = read_mill(folder)
        assert isinstance(mill, Mill)
        folder.rename(away)
        folder.mkdir()
        reader = Reader(mill.vocabulary)
        index = open_index(folder, mill, reader, str(file), {})
        assert index is not None
        assert looked(folder, reader, index, clock()).missing
        index.close()
        time.sleep(AWAY_S)
        assert standing(board.now) == set(CANARIES)
        folder.rmdir()
        away.rename(folder)
        board.agrees()
        board.never_lost()


def test_a_log_that_cannot_be_read_any_more_keeps_its_isolations(
    folder: Path, cache: Path, file: Path
) -> None:
    saver = Saver(folder, {}, 8)
    with kept_by(folder, cache, str(file)) as board:
        board.agrees()
        saver.canary.unlink()
        saver.canary.mkdir()  # told as a folder with the name of a log: it is gone, and told
        board.until(lambda: standing(board.now) == set())
        saver.canary.rmdir()
        Saver(folder, {}, 8)
        board.until(lambda: standing(board.now) == set(CANARIES))
        board.agrees()


def test_two_live_boards_of_one_folder(folder: Path, cache: Path, file: Path) -> None:
    saver, dice = Saver(folder, history(6), 9), random.Random(9)
    with kept_by(folder, cache, str(file)) as one, kept_by(folder, cache, str(file)) as other:
        for _ in range(3):
            some_saves(saver, 6, dice)
            one.agrees()
            other.agrees()
        saver.finish()
        one.agrees()
        other.agrees()
        assert one.told == other.told == ""
        assert standing(one.now) == standing(other.now) == set(CANARIES)


def test_a_live_board_and_commands_that_come_and_go(folder: Path, cache: Path, file: Path) -> None:
    saver, dice = Saver(folder, history(6), 10), random.Random(10)
    mill = read_mill(folder)
    assert isinstance(mill, Mill)
    reader = reader_for(mill.vocabulary, {"XDG_CACHE_HOME": str(cache)})
    with kept_by(folder, cache, str(file)) as board:
        for number in range(24):
            saver.save()
            index = Index(file, folder, mill, reader)
            shelf = looked(folder, reader, index, clock())
            snapshot_of(index, shelf, clock(), clock())
            index.close()
            time.sleep(dice.random() * 0.05)
            if number % 8 == 7:
                board.agrees()
        assert board.told == ""
        saver.finish()
        board.agrees()
        assert standing(board.now) == set(CANARIES)


def test_an_overview_is_drawn_without_a_question_to_the_index(
    folder: Path, cache: Path, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While the keeping has years to fold anew, nobody who draws folds them too."""
    Saver(folder, history(10), 3).finish()
    with kept_by(folder, cache, str(file)) as board:
        assert board.keeping is not None
        summary = board.keeping.picture.summary
        asked: list[str] = []
        real = Index._telling

        @contextmanager
        def telling(index: Index) -> Iterator[None]:
            if threading.current_thread() is threading.main_thread():
                asked.append("asked")
            with real(index):
                yield

        monkeypatch.setattr(Index, "_telling", telling)
        for width, height in ((80, 24), (132, 43)):
            drawn = frame(summary, Looking(), View(width=width, height=height), tick=0.0)
            assert any("CHANGED SINCE" in row.plain for row in drawn.lines)
        assert asked == []
        frame(summary, Looking(page=Page.LOOM, loom="B03"), View(width=80, height=24), tick=0.0)
        assert asked  # the test sees a question where there is one


def test_who_reads_late_what_has_changed_since_keeps_no_other_program_waiting(
    folder: Path, cache: Path, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Saver(folder, history(10), 3).finish()
    mill = read_mill(folder)
    assert isinstance(mill, Mill)
    reader = reader_for(mill.vocabulary, {"XDG_CACHE_HOME": str(cache)})
    index = open_index(folder, mill, reader, str(file), {})
    assert index is not None
    with closing(index):
        shelf = looked(folder, reader, index, clock())
        before = snapshot_of(index, shelf, clock(), clock())
        log = max(folder.rglob("*.log"))
        with log.open("ab") as opened:
            opened.write(b"2026-11-24T06:00 A01 note saved since\n")
        shelf.look(clock())
        assert index._connection.in_transaction  # what was put away is not committed yet
        waited: list[bool] = []
        real = index._tails.at

        def at(as_of: datetime) -> Tail:
            with closing(sqlite3.connect(file, timeout=0, isolation_level=None)) as other:
                other.execute("BEGIN IMMEDIATE")
                other.execute("ROLLBACK")
            waited.append(False)
            return real(as_of)

        monkeypatch.setattr(index._tails, "at", at)
        tuple(before.fleet.history.jobs)
        assert waited == [False]


def test_lists_read_late_by_another_thread_while_logs_are_read(
    folder: Path, cache: Path, file: Path
) -> None:
    """Who draws reads what was put off, while the keeping reads what was saved: one reader, two."""
    before = sys.getswitchinterval()
    sys.setswitchinterval(1e-5)
    saver = Saver(folder, history(5), 11)
    saver.finish()
    wrong: list[BaseException] = []
    drawn: list[tuple[Logged, ...]] = []
    ended = threading.Event()

    def draws(board: Board) -> None:
        try:
            while not ended.is_set():
                shown = board.now
                drawn.append(tuple(shown.entries))
                tuple(shown.fleet.history.jobs)
        except BaseException as error:
            wrong.append(error)

    try:
        with kept_by(folder, cache, str(file)) as board:
            thread = threading.Thread(target=draws, args=(board,))
            thread.start()
            for number in range(12):
                for path in sorted(history(5)):
                    with (folder / path).open("ab") as log:
                        log.write(f"2026-11-24T06:{number:02} A01 note {number}\n".encode())
                time.sleep(0.01)
            ended.set()
            thread.join()
            assert wrong == []
            board.agrees()
            true = {(x.path, x.entry.line): x.entry for x in board.fresh(clock()).entries}
            assert len(drawn) > 3
            for entry in (x for each in drawn[-20:] for x in each if x.path != "canary.log"):
                assert entry.entry == true[entry.path, entry.entry.line]
            board.never_lost()
    finally:
        ended.set()
        sys.setswitchinterval(before)


def test_a_reader_of_the_keeping_reads_for_one_thread_after_the_other(
    folder: Path, cache: Path, file: Path
) -> None:
    """The one that reads saves, and the one that reads again what the index kept as bytes."""
    logs = list(history(8).values())
    with kept_by(folder, cache, str(file)) as board:
        assert board.keeping is not None
        shelf, index = board.keeping._holding.shelf, board.keeping._holding.index
        assert index is not None
        own, others = shelf._reader, index._readings._reader
        right = [own.read(data, LastLine.SETTLED) for data in logs]
        wrong: list[int] = []
        before = sys.getswitchinterval()
        sys.setswitchinterval(1e-5)

        def reads(reader: Reads, first: int) -> None:
            for turn in range(first, first + 16):
                at = turn % len(logs)
                if reader.read(logs[at], LastLine.SETTLED) != right[at]:
                    wrong.append(at)

        try:
            threads = [
                threading.Thread(target=reads, args=(reader, first))
                for reader, first in ((own, 0), (others, 3))
            ]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
        finally:
            sys.setswitchinterval(before)
        assert wrong == []


def test_the_index_is_whole_when_the_board_is_left_by_force(
    folder: Path, cache: Path, file: Path
) -> None:
    saver = Saver(folder, history(4), 12)
    for _ in range(3):
        child = os.fork()
        if child == 0:
            try:
                with kept_by(folder, cache, str(file)):
                    time.sleep(30)
            finally:
                os._exit(1)
        for _ in range(6):
            saver.save()
            time.sleep(0.05)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
    with kept_by(folder, cache, str(file)) as board:
        board.agrees()
        assert board.told == ""
        assert standing(board.now) == set(CANARIES)


@pytest.fixture
def tried_soon(monkeypatch: pytest.MonkeyPatch) -> None:
    """An index that another program holds is given up, and tried again, within a second."""
    monkeypatch.setattr(transactions, "WAIT_S", 0.1)
    monkeypatch.setattr(holding, "AGAIN_S", 0.8)


@contextmanager
def held_by_another(file: Path) -> Iterator[None]:
    """Another program writes to the index, and does not come to an end."""
    with closing(sqlite3.connect(file, isolation_level=None)) as connection:
        connection.execute("PRAGMA busy_timeout = 5000")
        connection.execute("BEGIN IMMEDIATE")
        yield
        connection.execute("ROLLBACK")


@pytest.mark.usefixtures("tried_soon")
def test_an_index_that_another_program_held_is_taken_up_again(
    folder: Path, cache: Path, file: Path
) -> None:
    saver = Saver(folder, history(3), 15)
    saver.finish()
    with kept_by(folder, cache, str(file)) as board:
        assert board.keeping is not None
        board.agrees()
        with held_by_another(file):
            with saver.canary.open("ab") as log:
                log.write(b"2026-11-02T07:00 A01 note seen\n")
            board.until(lambda: "database is locked; the logs are read without it" in board.told)
            board.agrees()
        board.until(lambda: board.told == "")
        assert board.keeping._holding.index is not None
        board.agrees()
        with saver.canary.open("ab") as log:
            log.write(b"2026-11-02T07:01 A01 note seen again\n")
        board.agrees()
        assert board.told == ""
        board.never_lost()
    with kept_by(folder, cache, str(file)) as board:
        board.agrees()


@pytest.mark.usefixtures("tried_soon")
def test_what_was_saved_since_an_index_was_left_is_not_given_up_for_what_it_tells(
    folder: Path, cache: Path, file: Path
) -> None:
    """An isolation of which the index knows nothing, in a log that cannot be read any more."""
    saver = Saver(folder, {}, 16)
    new = folder / "new.log"
    new.write_text("2026-11-02T06:00 A05 note begun\n")
    with kept_by(folder, cache, str(file)) as board:
        assert board.keeping is not None
        board.agrees()
        with held_by_another(file):
            new.write_text("2026-11-02T06:00 A05 note begun\n2026-11-02T07:00 A05 isolated by KM\n")
            board.until(lambda: bool(board.now.fleet.looms["A05"].locks))
            board.until(lambda: "the logs are read without it" in board.told)
            folder.rename(folder.with_name("away"))
        time.sleep(2.0)
        assert board.now.fleet.looms["A05"].locks
        assert board.keeping._holding.index is None
        folder.with_name("away").rename(folder)
        board.until(lambda: board.told == "")
        assert board.keeping._holding.index is not None
        board.agrees()
        assert board.now.fleet.looms["A05"].locks
    assert saver.canary.exists()


def test_an_index_that_can_never_be_had(folder: Path, cache: Path, tmp_path: Path) -> None:
    (tmp_path / "a file").touch()
    saver = Saver(folder, history(3), 13)
    with kept_by(folder, cache, str(tmp_path / "a file" / "index.sqlite")) as board:
        assert "the logs are read without it" in board.told
        saver.finish()
        board.agrees()
        assert "the logs are read without it" in board.told
    shutil.rmtree(folder)


def test_a_clock_that_is_set(folder: Path, cache: Path, file: Path) -> None:
    saver = Saver(folder, history(4), 14)
    saver.finish()
    shift = timedelta(0)
    mill = read_mill(folder)
    assert isinstance(mill, Mill)
    board = Board(folder, cache)
    board.keeping = Keeping(
        folder, mill, environ=board.environ, clock=lambda: clock() + shift,
        manner=Manner.AUTOMATIC, on_new=board.seen, index=str(file),
    )  # fmt: skip
    with board.keeping:
        board.agrees()
        for days in (-3_650, 3_650, -7, 0):
            shift = timedelta(days=days)
            saver.save()
            saver.finish()
            limit = timedelta(minutes=2)
            board.until(lambda: abs(board.now.fleet.as_of - clock() - shift) < limit)  # noqa: B023
            board.agrees()
            assert standing(board.now) == set(CANARIES)
