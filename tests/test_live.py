"""The live board in a pseudo-terminal: saves are on it soon, isolations never leave it."""

from __future__ import annotations

import fcntl
import os
import pty
import shutil
import signal
import struct
import subprocess
import sys
import termios
import threading
import time
from argparse import Namespace
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, cast

import pyte
import pytest

from board import live as live_board
from board.keeping import Picture
from board.reckon.summary import Summary, summarise
from board.show.live_view import Looking, Page
from board.show.plain_letters import spelled
from board.terminal import TerminalFacts
from tests.conftest import ROOT, SMALL_REGISTER
from tests.state.shed import night

DEADLINE = 15.0  # [s] for things that have no target of their own


class Screen:
    """A live board in a pseudo-terminal, and what stands on its screen."""

    def __init__(self, folder: Path, columns: int, rows: int, *options: str) -> None:
        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.slave = slave
        self._screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self._screen)
        self.raw = b""
        self._lock = threading.Lock()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "board", "watch", str(folder), *options],
            cwd=ROOT,
            stdin=slave,
            stdout=slave,
            stderr=subprocess.PIPE,
            env={**os.environ, "TERM": "xterm-256color", "XDG_CACHE_HOME": str(folder.parent)},
            start_new_session=True,
        )
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        while True:
            try:
                data = os.read(self.master, 65536)
            except OSError:
                return
            if not data:
                return
            with self._lock:
                self.raw += data
                self._stream.feed(data)

    @property
    def lines(self) -> list[str]:
        with self._lock:
            return [line.rstrip() for line in self._screen.display]

    @property
    def text(self) -> str:
        return "\n".join(self.lines)

    def keys(self, typed: str) -> None:
        os.write(self.master, typed.encode())

    def until(self, found: Callable[[str], bool], seconds: float = DEADLINE) -> float:
        """Wait until the screen is as told; how long it took [s]."""
        begun = time.monotonic()
        while not found(self.text):
            assert time.monotonic() - begun < seconds, self.text
            time.sleep(0.005)
        return time.monotonic() - begun

    def resize(self, columns: int, rows: int) -> None:
        with self._lock:
            self._screen.resize(rows, columns)
        fcntl.ioctl(self.slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        os.killpg(self.process.pid, signal.SIGWINCH)


@contextmanager
def live(folder: Path, columns: int = 80, rows: int = 24, *options: str) -> Iterator[Screen]:
    screen = Screen(folder, columns, rows, *options)
    try:
        screen.until(lambda text: "Record only, not a permit" in text)
        yield screen
    finally:
        if screen.process.poll() is None:
            screen.process.kill()
        screen.process.wait(10)
        assert screen.process.stderr is not None
        screen.process.stderr.close()
        os.close(screen.slave)
        os.close(screen.master)


@pytest.fixture
def folder(shed: Callable[..., Path]) -> Path:
    now = datetime.now(UTC)
    log = f"{now:%Y-%m-%dT%H:%M}+00:00 A07 isolated by KM lock 14\n"
    return shed({"2026/first.log": log})


def line_now(words: str) -> str:
    return f"{datetime.now(UTC):%Y-%m-%dT%H:%M}+00:00 {words}\n"


def test_a_save_is_on_the_screen_within_300_ms(folder: Path) -> None:
    with live(folder) as screen:
        screen.until(lambda text: "A07  KM since" in text)
        time.sleep(1.0)
        took = []
        for n in range(1, 11):
            with (folder / "2026" / "first.log").open("a") as log:
                log.write(line_now(f"B0{n % 4 + 1} isolated by P{n}"))
            took.append(screen.until(lambda text, n=n: f"P{n}" in text))
            time.sleep(0.3)
        took.sort()
        assert took[-2] < 0.3, took  # the 95th percentile, at least, of ten


def test_a_new_folder_with_a_log_is_seen(folder: Path) -> None:
    with live(folder) as screen:
        screen.until(lambda text: "A07  KM since" in text)
        (folder / "2027" / "01").mkdir(parents=True)
        (folder / "2027" / "01" / "new.log").write_text(line_now("B02 isolated by QQ"))
        screen.until(lambda text: "B02  QQ since" in text)
        (folder / "2027" / "01" / "new.log").unlink()
        screen.until(lambda text: "B02  QQ" not in text)


@pytest.mark.skipif(shutil.which("git") is None, reason="git is not installed")
def test_a_git_pull_is_seen(folder: Path) -> None:
    def git(*words: str, where: Path) -> None:
        me = ("-c", "user.name=x", "-c", "user.email=x@example.org")
        subprocess.run(["git", *me, *words], cwd=where, check=True, capture_output=True)

    git("init", "-q", where=folder)
    git("add", "-A", where=folder)
    git("commit", "-qm", "first", where=folder)
    other = folder.parent / "other"
    git("clone", "-q", str(folder), str(other), where=folder.parent)
    with live(other) as screen:
        screen.until(lambda text: "A07  KM since" in text)
        for n in range(1, 5):
            log = folder / f"pulled-{n}" / "new.log"
            log.parent.mkdir()
            log.write_text(line_now(f"B0{n} isolated by P{n}"))
        git("add", "-A", where=folder)
        git("commit", "-qm", "more", where=folder)
        git("pull", "-q", where=other)
        screen.until(lambda text: all(f"B0{n}  P{n} since" in text for n in range(1, 5)))


def test_a_broken_register_is_told_and_the_last_good_one_stays(folder: Path) -> None:
    register = folder / "shed.toml"
    with live(folder) as screen:
        screen.until(lambda text: "A07  KM since" in text)
        register.write_text(SMALL_REGISTER.replace("replace_below", "replace_bellow"))
        screen.until(lambda text: "board not current since" in text)
        assert "A07  KM since" in screen.text
        assert "replace_bellow" in screen.text
        with (folder / "2026" / "first.log").open("a") as log:
            log.write(line_now("B03 isolated by RB"))
        screen.until(lambda text: "B03  RB since" in text)
        register.write_text(SMALL_REGISTER.replace("Smallshed", "Newname"))
        screen.until(lambda text: "not current" not in text and "NEWNAME" in text)


def test_a_lost_folder_is_told_and_recovered_from(folder: Path) -> None:
    with live(folder) as screen:
        screen.until(lambda text: "A07  KM since" in text)
        away = folder.parent / "away"
        folder.rename(away)
        screen.until(lambda text: "board not current since" in text)
        assert "A07  KM since" in screen.text
        away.rename(folder)
        screen.until(lambda text: "not current" not in text, 30)
        assert "A07  KM since" in screen.text


def test_isolations_stand_on_every_page(folder: Path) -> None:
    with live(folder) as screen:
        screen.until(lambda text: "A07  KM since" in text)
        for typed, found in (
            ("?", "HELP"),
            ("a7\r", "HISTORY"),
            ("\x1b[6~", "A07"),
            ("\x1b", "LOOK AT FIRST"),
            ("\x1b[F", "CHANGED SINCE"),
            ("\x1b[F", "EVERY LOOM"),
            ("zz\r", "no loom zz"),
        ):
            screen.keys(typed)
            screen.until(lambda text, found=found: found in text)
            assert "A07  KM since" in screen.text
            assert "Record only, not a permit" in screen.text
        screen.keys("q")
        assert screen.process.wait(10) == 0


@pytest.mark.parametrize(("columns", "rows"), [(80, 24), (120, 40), (200, 60)])
def test_sizes_and_resizing(folder: Path, columns: int, rows: int) -> None:
    with live(folder, columns, rows) as screen:
        screen.until(lambda text: "A07  KM since" in text)
        screen.until(lambda text: "? help" in screen.lines[rows - 1])
        screen.resize(90, 30)
        screen.until(lambda text: "? help" in screen.lines[29] and "A07  KM since" in text)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_the_terminal_is_left_clean(folder: Path, number: signal.Signals) -> None:
    with live(folder) as screen:
        screen.until(lambda text: "A07  KM since" in text)
        before = termios.tcgetattr(screen.slave)[3] & termios.ICANON
        assert not before  # keys come unbuffered while it is live
        screen.process.send_signal(number)
        assert screen.process.wait(10) in (128 + number, 130)
        time.sleep(0.1)
        assert b"\x1b[?1049l" in screen.raw  # back from the alternate screen
        assert b"\x1b[?25h" in screen.raw  # the cursor is shown again
        assert termios.tcgetattr(screen.slave)[3] & termios.ICANON


def test_more_isolations_than_the_screen_holds_turn_by_themselves(
    shed: Callable[..., Path],
) -> None:
    register = SMALL_REGISTER.replace("A01-A12", "A001-A300")
    lines = "".join(line_now(f"A{n:03} isolated by WORKER{n:03}") for n in range(1, 201))
    with live(shed({"a.log": lines}, register)) as screen:
        screen.until(lambda text: "part 1 of" in text or "part 2 of" in text)
        seen: set[str] = set()
        begun = time.monotonic()
        while len(seen) < 200:
            seen |= {w.rstrip("*") for w in screen.text.split() if w.startswith("WORKER")}
            assert time.monotonic() - begun < 60, len(seen)
            time.sleep(0.2)


def test_a_moment_asked_for_is_kept(folder: Path) -> None:
    with live(folder, 80, 24, "--at", "2026-11-25T06:00") as screen:
        screen.until(lambda text: "Wed 25 Nov 06:00" in text)


def test_wall_turns_its_pages(folder: Path) -> None:
    with live(folder, 80, 24, "--wall") as screen:
        screen.until(lambda text: "LOOK AT FIRST" in text)
        screen.until(lambda text: "EVERY LOOM" in text, 30)
        assert "A07  KM since" in screen.text


def test_without_a_terminal_it_prints_once_and_says_so(folder: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "board", "watch", str(folder)],
        cwd=ROOT, capture_output=True, text=True, timeout=60, stdin=subprocess.DEVNULL, check=False,
    )  # fmt: skip
    assert done.returncode == 0
    assert "A07  KM since" in done.stdout
    assert "printed once" in done.stderr


# -- what is told for a while --------------------------------------------------------------


class Minutes:
    """A live board on a terminal that is a list of rows, with a clock that is set by hand."""

    size = (80, 24)

    def __init__(self, monkeypatch: pytest.MonkeyPatch, *notices: str) -> None:
        self.now = 1000.0
        monkeypatch.setattr(live_board.time, "monotonic", lambda: self.now)
        self.rows: list[str] = []
        self.picture = Picture(summary=summarise(night()), notices=notices)
        facts = TerminalFacts(width=80, height=24, interactive=True, colour=False, unicode=True)
        options = Namespace(ascii=False, wall=False)
        self.live = live_board._Live(cast(Any, self), cast(Any, self), facts, options, {})

    def paint(self, rows: list[str]) -> None:
        self.rows = rows

    def show(self, summary: Summary, *, plain: bool, height: int) -> list[str]:
        """What a screen of so many rows shows of it, in ASCII if ``plain``."""
        self.picture, self.size = Picture(summary=summary), (80, height)
        self.live._plain = plain
        self.live._draw()
        return self.rows

    def last_row(self, seconds: float) -> str:
        self.now += seconds
        self.live._draw()
        return self.rows[-1].rstrip()


def test_a_wrong_name_is_told_for_some_seconds(monkeypatch: pytest.MonkeyPatch) -> None:
    board = Minutes(monkeypatch)
    for _ in range(2):  # the same name again is told again
        board.live._looking = Looking(wrong="zz9")
        assert board.last_row(1) == "no loom zz9 is on this board"
        assert 0 < board.live._patience_s() <= 10  # it goes by itself
        assert board.last_row(3) == "no loom zz9 is on this board"
        assert "? help" in board.last_row(10)
        assert board.live._patience_s() > 30


@pytest.mark.parametrize("height", range(4, 25))
def test_no_lock_falls_off_where_letters_are_spelled_out(
    monkeypatch: pytest.MonkeyPatch, height: int
) -> None:
    owners = ["Äärgö", "Cöödü", "Eüüfä", "Gåäöh", "Ïéëój", "Kñüäl"]
    text = "rot an der Tür, äußere Größe übel"  # so long that its row needs two in ASCII
    locks = [f"22:{n}0 A0{n + 1} isolated by {who} {text}" for n, who in enumerate(owners)]
    board, summary = Minutes(monkeypatch), summarise(night(*locks))
    seen: set[str] = set()
    for _ in range(60):
        board.now += 5
        rows = board.show(summary, plain=True, height=height)
        assert len(rows) <= height
        assert all(row.isascii() for row in rows)
        assert height < 8 or "? help" in rows[-1]
        seen |= {who for who in owners if spelled(who) in "\n".join(rows)}
        assert len(seen) == 6 or height < 8 or "isolations, part " in "\n".join(rows)
    assert seen == set(owners)


def test_a_loom_that_is_gone_is_told_for_some_seconds(monkeypatch: pytest.MonkeyPatch) -> None:
    board = Minutes(monkeypatch)
    assert "? help" in board.last_row(100)
    board.live._looking = Looking(page=Page.LOOM, loom="C99")
    assert board.last_row(100) == "no loom C99 is on this board"
    assert board.last_row(3) == "no loom C99 is on this board"
    assert "? help" in board.last_row(10)


def test_a_notice_gives_way_to_the_keys(monkeypatch: pytest.MonkeyPatch) -> None:
    board = Minutes(monkeypatch, "signals are missing")
    assert board.last_row(1) == "notice: signals are missing"
    assert board.live._patience_s() <= 30
    assert "? help" in board.last_row(31)
    board.picture = replace(board.picture, notices=("an index is missing",))
    assert board.last_row(1) == "notice: an index is missing"
    board.live._looking = Looking(page=Page.HELP)
    board.last_row(60)
    assert "notice: an index is missing" in [row.rstrip() for row in board.rows]


@pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed")
def test_in_tmux(folder: Path) -> None:
    socket = f"loomslate-test-{os.getpid()}"
    tmux = ["tmux", "-L", socket, "-f", "/dev/null"]
    command = f"{sys.executable} -m board watch {folder}"
    subprocess.run(
        [*tmux, "new-session", "-d", "-x", "80", "-y", "24", command], cwd=ROOT, check=True
    )
    try:
        begun, text = time.monotonic(), ""
        while "A07  KM since" not in text:
            assert time.monotonic() - begun < DEADLINE, text
            time.sleep(0.2)
            text = subprocess.run(
                [*tmux, "capture-pane", "-p"], capture_output=True, text=True, check=False
            ).stdout
        assert max(map(len, text.splitlines())) <= 80
        assert "? help" in text
    finally:
        subprocess.run([*tmux, "kill-server"], check=False)
