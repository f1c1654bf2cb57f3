"""What the live board shows while something is wrong: the last it knew, and since when that is old."""

from __future__ import annotations

import errno
import os
import socket
import threading
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from board import keeping as keeping_module
from board.loading import read_mill, reader_for
from board.mill import Mill
from board.reckon.summary import Summary
from board.record import files as reading_files
from board.record import shelf as shelves
from board.record.shelf import Shelf
from tests.robust.running import LOCK
from tests.robust.watching import SETTLED_S, Watching, clock, watching


@pytest.fixture
def folder(shed: Callable[..., Path]) -> Path:
    return shed({"2026/good.log": LOCK, "b.log": LOCK.replace("A07", "A09")})


def until(wanted: Callable[[], bool]) -> None:
    limit = time.monotonic() + SETTLED_S
    while not wanted():
        assert time.monotonic() < limit
        time.sleep(0.02)


def isolated(keeper: Watching) -> list[str]:
    return [name for name, loom in keeper.now.fleet.looms.items() if loom.locks]


def trouble(keeper: Watching) -> str:
    assert keeper.keeping is not None
    return keeper.keeping.picture.trouble


def settle_soon(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the keeping look again within half a second, where it waits up to half a minute."""
    monkeypatch.setattr(keeping_module, "_LONGEST_WAIT", 0.3)


def test_a_log_that_cannot_be_read_any_more_keeps_its_isolations(
    folder: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settle_soon(monkeypatch)
    opening, broken = os.open, [False]

    def failing(path: object, flags: int, *rest: int, **more: int) -> int:
        if broken[0] and str(path).endswith("good.log"):
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return opening(path, flags, *rest, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(reading_files.os, "open", failing)
    with watching(folder, cache) as keeper:
        until(lambda: isolated(keeper) == ["A07", "A09"])
        broken[0] = True
        os.utime(folder / "2026" / "good.log")
        until(lambda: "not read: input/output error" in trouble(keeper))
        assert "its lines are shown as they were last read" in trouble(keeper)
        assert isolated(keeper) == ["A07", "A09"]
        broken[0] = False  # no signal tells of this
        until(lambda: trouble(keeper) == "")
        keeper.must_agree()
    assert all(
        len([x for x in p.fleet.looms.values() if x.locks]) == 2 for _, p, _ in keeper.pictures
    )


def test_a_drive_that_does_not_answer_is_told_although_the_reader_hangs(
    folder: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(keeping_module, "PATIENCE_S", 0.3)
    answers = threading.Event()
    read = shelves.read_file

    with watching(folder, cache) as keeper:
        keeper.must_agree()

        def hanging(log: shelves.LogName, now: object) -> object:
            answers.wait(SETTLED_S)
            return read(log, now)  # type: ignore[arg-type]

        monkeypatch.setattr(shelves, "read_file", hanging)
        with (folder / "b.log").open("a") as log:
            log.write("2026-11-24T22:50 B01 isolated by RB\n")
        until(lambda: "still being read" in trouble(keeper))
        assert isolated(keeper) == ["A07", "A09"]
        answers.set()
        until(lambda: isolated(keeper) == ["A07", "A09", "B01"])
        until(lambda: trouble(keeper) == "")


def test_what_failed_halfway_is_read_again(
    folder: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settle_soon(monkeypatch)
    read = shelves.read_file
    failures: list[str] = []

    with watching(folder, cache) as keeper:
        keeper.must_agree()

        def failing(log: shelves.LogName, now: object) -> object:
            if len(failures) < 3:
                failures.append(log.path)
                raise MemoryError
            return read(log, now)  # type: ignore[arg-type]

        monkeypatch.setattr(shelves, "read_file", failing)
        for name, loom in (("b.log", "B01"), ("2026/good.log", "B02")):
            with (folder / name).open("a") as log:
                log.write(f"2026-11-24T22:50 {loom} isolated by RB\n")
        until(lambda: isolated(keeper) == ["A07", "A09", "B01", "B02"])
        assert trouble(keeper) == ""
    told = [trouble for _, _, trouble in keeper.pictures if trouble]
    assert told
    assert all("rebuilding failed: MemoryError" in trouble for trouble in told)


def test_the_folder_named_by_a_way_round(folder: Path, cache: Path) -> None:
    round_about = folder / "2026" / ".." / ".." / folder.name
    with watching(round_about, cache) as keeper:
        until(lambda: bool(keeper.pictures))  # the first look of the watching is over
        assert isolated(keeper) == ["A07", "A09"]
        with (folder / "b.log").open("a") as log:
            log.write("2026-11-24T22:50 B01 isolated by RB\n")
        until(lambda: isolated(keeper) == ["A07", "A09", "B01"])


def test_the_folder_named_by_a_link(folder: Path, cache: Path, tmp_path: Path) -> None:
    (tmp_path / "by-link").symlink_to(folder)
    with watching(tmp_path / "by-link", cache) as keeper:
        until(lambda: bool(keeper.pictures))  # the first look of the watching is over
        assert isolated(keeper) == ["A07", "A09"]
        with (folder / "b.log").open("a") as log:
            log.write("2026-11-24T22:50 B01 isolated by RB\n")
        until(lambda: isolated(keeper) == ["A07", "A09", "B01"])


@pytest.mark.parametrize("name", ["a\nb.log", "\udcff.log", "a\\b.log", "2026/\x1b.log"])
def test_an_odd_name_is_one_file_to_every_look(
    folder: Path, cache: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    settle_soon(monkeypatch)
    shift = timedelta(0)
    file = folder / os.fsdecode(os.fsencode(name))
    with watching(folder, cache, lambda: clock() + shift) as keeper:
        file.write_text("2026-11-24T22:50 B01 isolated by RB\n2026-11-24T22:51 B02 stopped")
        until(lambda: len(keeper.now.unfinished) == 1 and keeper.now.tally.files == 3)
        shift = timedelta(seconds=90)  # the last line counts now, without any signal
        until(lambda: not keeper.now.unfinished)
        assert isolated(keeper) == ["A07", "A09", "B01"]
        assert keeper.now.tally.files == 3
        assert keeper.now.tally.entries == 4
        file.unlink()
        until(lambda: isolated(keeper) == ["A07", "A09"])


def test_what_is_no_log_is_told_when_it_comes_and_forgotten_when_it_goes(folder: Path) -> None:
    mill = read_mill(folder)
    assert isinstance(mill, Mill)
    shelf = Shelf(folder, reader_for(mill.vocabulary, {}))
    shelf.look(clock())
    assert shelf.notices == ()
    os.mkfifo(folder / "pipe.log")
    with socket.socket(socket.AF_UNIX) as listening:
        here = os.open(folder, os.O_RDONLY)
        listening.bind(f"/proc/self/fd/{here}/socket.log")
        os.close(here)
    (folder / "link.log").symlink_to("/etc/hostname")
    assert shelf.look_round()
    assert len(shelf.notices) == 3
    assert not shelf.look_round()
    for name in ("pipe.log", "socket.log", "link.log"):
        (folder / name).unlink()
    assert shelf.look_round()
    assert shelf.notices == ()


def test_a_register_that_is_back_as_it_was_is_taken_up_though_nothing_signals_it(
    folder: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken = [False]

    def reading(where: Path) -> Mill | str:
        return "the register cannot be read" if broken[0] else read_mill(where)

    monkeypatch.setattr(keeping_module, "read_mill", reading)
    with watching(folder, cache) as keeper:
        until(lambda: isolated(keeper) == ["A07", "A09"])
        broken[0] = True
        os.utime(folder / "shed.toml")
        until(lambda: "the last good register stays in force" in trouble(keeper))
        broken[0] = False
        until(lambda: trouble(keeper) == "")
        assert isolated(keeper) == ["A07", "A09"]


def test_a_drive_that_is_away_leaves_an_empty_place_and_the_isolations_stay(
    folder: Path, cache: Path, tmp_path: Path
) -> None:
    with watching(folder, cache) as keeper:
        until(lambda: isolated(keeper) == ["A07", "A09"])
        away = folder.rename(tmp_path / "away")
        folder.mkdir()
        until(lambda: "neither a register nor a log" in trouble(keeper))
        time.sleep(1.5)
        assert isolated(keeper) == ["A07", "A09"]
        folder.rmdir()
        (away / "c.log").write_text(LOCK.replace("A07", "A11"))
        away.rename(folder)
        until(lambda: isolated(keeper) == ["A07", "A09", "A11"])
        until(lambda: trouble(keeper) == "")


def test_the_first_log_of_an_empty_folder_ends_the_notice(
    shed: Callable[..., Path], cache: Path
) -> None:
    folder = shed({})
    with watching(folder, cache) as keeper:
        until(lambda: "no .log file stands in" in " ".join(keeper.now.notices))
        (folder / "first.log").write_text(LOCK)
        until(lambda: isolated(keeper) == ["A07"])
        assert keeper.now.notices == ()
        keeper.must_agree()


def test_what_goes_before_the_watching_begins_is_not_kept(folder: Path, cache: Path) -> None:
    keeper = Watching(folder, cache)
    mill = read_mill(folder)
    assert isinstance(mill, Mill)
    made = keeping_module.Keeping(
        folder,
        mill,
        environ=keeper.environ,
        clock=clock,
        manner=keeping_module.Manner.AUTOMATIC,
        on_new=lambda: None,
    )
    keeper.keeping = made
    assert isolated(keeper) == ["A07", "A09"]
    (folder / "b.log").unlink()
    (folder / "shed.toml").unlink()
    with made:
        until(lambda: isolated(keeper) == ["A07"])
        until(lambda: "the last good register stays in force" in trouble(keeper))


def test_a_clock_that_is_set_while_a_picture_is_made_is_seen_at_the_next_look(
    folder: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settle_soon(monkeypatch)
    ahead = [timedelta(0)]
    is_to_be_set = threading.Event()
    real = keeping_module.summarise

    def summarise(*arguments: Any, **named: Any) -> Summary:
        made = real(*arguments, **named)
        if is_to_be_set.is_set():
            is_to_be_set.clear()
            now = clock()  # a minute begins with it, so that the next one is far
            ahead[0] = timedelta(days=30) + now.replace(second=0, microsecond=0) - now
        return made

    monkeypatch.setattr(keeping_module, "summarise", summarise)
    with watching(folder, cache, lambda: clock() + ahead[0]) as keeper:
        is_to_be_set.set()
        with (folder / "b.log").open("a") as log:
            log.write(LOCK.replace("A07", "A11"))
        until(lambda: ahead[0] > timedelta(0))
        until(lambda: keeper.now.fleet.as_of - clock() > timedelta(days=29))
        assert isolated(keeper) == ["A07", "A09", "A11"]
