"""The real live board while it may not read any more: it says so, and what it knew stays."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.robust.leave import as_anybody
from tests.robust.on_terminal import Board
from tests.robust.watching import SETTLED_S

OWNERS = ("ZARAH", "QUENT")


@pytest.fixture
def folder(shed: Callable[..., Path]) -> Path:
    lines = [f"2026-11-24T22:4{n} A0{n + 7} isolated by {who}\n" for n, who in enumerate(OWNERS)]
    return shed({"2026/a.log": lines[0], "b.log": lines[1]})


@pytest.fixture
def board(folder: Path, tmp_path: Path) -> Iterator[Board]:
    board = Board(folder, tmp_path / "cache", always=OWNERS, before=as_anybody)
    until(board, lambda shown: all(who in shown for who in OWNERS))
    yield board
    if board.process.poll() is None:
        board.end()


def until(board: Board, wanted: Callable[[str], bool]) -> str:
    """The screen as soon as it is as wanted."""
    limit = time.monotonic() + SETTLED_S
    while not wanted(shown := "\n".join(board.lines)):
        assert time.monotonic() < limit, shown
        time.sleep(0.05)
    return shown


def test_a_log_and_then_the_folder_without_leave(board: Board, folder: Path) -> None:
    log = folder / "2026" / "a.log"
    log.chmod(0)
    with log.open("a") as more:  # root may
        more.write("2026-11-24T22:50 B01 isolated by LATER\n")
    shown = until(board, lambda shown: "permission denied" in shown)
    assert "board not current since" in shown
    assert "2026/a.log was not read" in shown
    assert "its lines are shown as they were last read" in shown
    log.chmod(0o644)
    with log.open("a") as more:
        more.write("2026-11-24T22:51 B01 note again\n")
    shown = until(board, lambda shown: "LATER" in shown)
    until(board, lambda shown: "not current" not in shown)
    folder.chmod(0)
    until(board, lambda shown: "board not current since" in shown)
    folder.chmod(0o755)
    with (folder / "b.log").open("a") as more:
        more.write("2026-11-24T22:52 B02 isolated by ATEND\n")
    until(board, lambda shown: "ATEND" in shown and "not current" not in shown)
    assert board.frames > 4
    assert board.lacking == []
    code, said = board.end()
    assert (code, said) == (143, "")
