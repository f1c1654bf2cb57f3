"""What is saved while a picture is made is read first; a picture is never put off for long."""

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from board import keeping as keeping_module
from board.reckon.summary import Summary
from board.snapshot import Snapshot
from tests.robust.watching import SETTLED_S, Watching, history, watching, without_logs

FIRST, SECOND = (
    f"2026-11-23T15:0{n} A01 note the {nth} save\n" for n, nth in ((1, "first"), (2, "second"))
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = without_logs(tmp_path)
    for path, data in history(2).items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(data)
    return folder


def texts(snapshot: Snapshot) -> set[str]:
    return {e.entry.text.partition("note ")[2] for e in snapshot.entries}


def shows(board: Watching, wanted: str) -> Callable[[], bool]:
    return lambda: any(wanted in texts(picture) for _, picture, _ in board.pictures)


def until(wanted: Callable[[], bool]) -> None:
    limit = time.monotonic() + SETTLED_S
    while not wanted():
        assert time.monotonic() < limit
        time.sleep(0.01)


def slowed(monkeypatch: pytest.MonkeyPatch, between: Callable[[], None]) -> list[str]:
    """Do something at every question of the reckoning; how each reckoning ended."""
    ended: list[str] = []
    real = keeping_module.summarise

    def slow(*arguments: Any, meanwhile: Callable[[], None], **others: Any) -> Summary:
        def asked() -> None:
            between()
            meanwhile()

        try:
            found = real(*arguments, meanwhile=asked, **others)
        except BaseException as error:
            ended.append(type(error).__name__)
            raise
        ended.append("made")
        return found

    monkeypatch.setattr(keeping_module, "summarise", slow)
    return ended


def test_a_save_in_the_middle_of_a_picture_is_read_first(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log = folder / "new.log"
    with watching(folder, tmp_path) as board:
        assert board.keeping is not None
        watch = board.keeping._watch
        until(lambda: bool(board.pictures))  # the first look is over
        time.sleep(0.3)

        def second_save() -> None:
            if SECOND not in log.read_text(encoding="utf-8"):
                with log.open("a", encoding="utf-8") as opened:
                    opened.write(SECOND)
                until(watch.has_news)

        monkeypatch.setattr(keeping_module, "_LONGEST_OWED_S", SETTLED_S)
        ended = slowed(monkeypatch, second_save)
        board.pictures.clear()
        log.write_text(FIRST, encoding="utf-8")
        until(shows(board, "the second save"))
        assert (ended[0], ended[-1]) == ("_SavedMeanwhile", "made")
        assert all("the second save" in texts(picture) for _, picture, _ in board.pictures)
        assert all(trouble == "" for _, _, trouble in board.pictures)
        board.must_agree()


def test_a_picture_is_made_though_there_is_no_end_of_saves(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with watching(folder, tmp_path) as board:
        assert board.keeping is not None
        until(lambda: bool(board.pictures))
        monkeypatch.setattr(board.keeping._watch, "has_news", lambda: True)
        monkeypatch.setattr(keeping_module, "_LONGEST_OWED_S", 0.3)
        (folder / "new.log").write_text(FIRST, encoding="utf-8")
        begun = time.monotonic()
        until(shows(board, "the first save"))
        assert 0.3 < time.monotonic() - begun < 3.0  # it was put off, but not for long
        begun = time.monotonic()
    assert time.monotonic() - begun < 1.0  # who leaves the board does not wait either


def test_a_picture_that_fails_is_not_tried_again_without_a_pause(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried: list[float] = []

    def fails(*_: object, **__: object) -> Summary:
        tried.append(time.monotonic())
        raise ValueError("on purpose")

    with watching(folder, tmp_path) as board:
        until(lambda: bool(board.pictures))
        monkeypatch.setattr(keeping_module, "summarise", fails)
        (folder / "new.log").write_text(FIRST, encoding="utf-8")
        until(lambda: "on purpose" in board.pictures[-1][2])
        time.sleep(1.5)
        assert 1 <= len(tried) < 6
