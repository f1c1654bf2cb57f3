"""The prompt on a pseudo-terminal of 80 by 24: typed, completed, cut short; left as it was found."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from pathlib import Path

import pyte
import pytest

from tests.conftest import ROOT
from tests.writing.conftest import LOG

pytest.importorskip("readline")
DEADLINE_S = 20.0
BEGIN = "from board.__main__ import main; main()"
SLOW_TO_BEGIN_A_THREAD = """
import threading, time
begin = threading.Thread.start
threading.Thread.start = lambda thread: (begin(thread), time.sleep(0.3))
"""
NIGHT = "day 2026-11-24 night by KM\n"


class Terminal:
    """The command running with a pseudo-terminal as its own."""

    def __init__(self, folder: Path, *arguments: str, before: str = "") -> None:
        self.folder = folder
        self.near, far = pty.openpty()
        fcntl.ioctl(far, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self.far = far
        self.before = termios.tcgetattr(far)
        self.screen = pyte.Screen(80, 24)
        self._stream = pyte.ByteStream(self.screen)
        environ = {
            **os.environ, "TERM": "xterm-256color", "LANG": "C.UTF-8", "INPUTRC": "/dev/null",
            "XDG_CACHE_HOME": str(folder.parent / "cache"), "NO_COLOR": "1",
        }  # fmt: skip
        self.process = subprocess.Popen(
            [sys.executable, "-c", before + BEGIN, "write", "--folder", str(folder),
             "--at", "2026-11-25T02:40", *arguments],
            cwd=ROOT, env=environ, stdin=far, stdout=far, stderr=far, start_new_session=True,
            preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
        )  # fmt: skip

    def type(self, keys: str) -> None:
        """Sends keys; where a question was asked before, ``until`` it is shown: a Ctrl-D that
        comes while nothing is asked is the kernel's, and is lost."""
        os.write(self.near, keys.encode())

    def until(self, text: str) -> str:
        """Waits until the screen shows a text, and returns the screen."""
        end = time.monotonic() + DEADLINE_S
        while time.monotonic() < end:
            shown = "\n".join(line.rstrip() for line in self.screen.display).rstrip()
            if text in " ".join(shown.split()):
                return shown
            self._read(0.2)
        raise AssertionError(f"{text!r} did not come:\n{shown}")

    def _read(self, wait: float) -> bool:
        ready, _, _ = select.select([self.near], [], [], wait)
        if not ready:
            return False
        try:
            data = os.read(self.near, 65536)
        except OSError:
            return False
        self._stream.feed(data)
        return bool(data)

    def ended(self) -> int:
        """The exit code, once the process is gone."""
        end = time.monotonic() + DEADLINE_S
        while self.process.poll() is None and time.monotonic() < end:
            self._read(0.1)
        while self._read(0.1):
            pass
        return self.process.wait(1)

    @property
    def shown(self) -> str:
        return " ".join(" ".join(self.screen.display).split())

    @property
    def logs(self) -> dict[str, str]:
        found = sorted(self.folder.rglob("*.log"))
        return {f.relative_to(self.folder).as_posix(): f.read_text("utf-8") for f in found}

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        for end in (self.near, self.far):
            with suppress(OSError):
                os.close(end)


Start = Callable[..., Terminal]


@pytest.fixture
def start(folder: Callable[[Mapping[str, str]], Path]) -> Iterator[Start]:
    begun: list[Terminal] = []

    def run(*arguments: str, before: str = "") -> Terminal:
        begun.append(Terminal(folder({}), *arguments, before=before))
        return begun[-1]

    yield run
    for terminal in begun:
        terminal.close()


def test_typed_completed_shown_and_written(start: Start) -> None:
    at = start()
    at.until("who writes (initials)?")
    at.type("KM\r")
    at.until("night KM>")
    at.type("a7 sto\tfor w\x7fpar\t; isol\tKM lock 14\r")
    at.until("Enter writes it; e edits, x drops:")
    assert "ISOLATED by KM, lock 14" in at.shown
    assert at.logs == {}
    at.type("\r")
    at.until("written: 2026/11/2026-11-24-night-KM.log line 2 night KM>")
    at.type("\x04")
    assert at.ended() == 0
    assert at.logs == {LOG: NIGHT + "02:40 a7 stopped for part ; isolated by KM lock 14\n"}
    assert termios.tcgetattr(at.far) == at.before


def test_a_refused_line_comes_back_with_the_cursor_behind_it(start: Start) -> None:
    at = start("--by", "KM")
    at.until("night KM>")
    at.type("A07 left tape 2.3\r")
    shown = at.until("x drops:")
    assert "^^^" in shown
    at.type("\r")
    at.until("x drops: night KM> A07 left tape 2.3")
    at.type("5 mm\r")
    at.until("Enter writes it")
    at.type("\r")
    at.until("KM.log line 2 night KM>")
    at.type("\x1b[A")  # Up: the line again
    at.until("night KM> A07 left tape 2.35 mm")
    at.type("\x15")
    at.until("KM.log line 2 night KM>")
    time.sleep(0.1)
    at.type("\x04")
    assert at.ended() == 0
    assert at.logs == {LOG: NIGHT + "02:40 A07 left tape 2.35 mm\n"}


@pytest.mark.parametrize("where", ["typing", "asked"])
def test_ctrl_c_shows_the_line_and_leaves_the_terminal_clean(where: str, start: Start) -> None:
    at = start("--by", "KM")
    at.until("night KM>")
    at.type("A07 isolated by KM lock 14")
    at.until("lock 14")
    if where == "asked":
        at.type("\r")
        at.until("Enter writes it")
    at.type("\x03")
    assert at.ended() == 130
    assert "NOT WRITTEN, and it stands nowhere else: A07 isolated by KM lock 14" in at.shown
    assert "NO ISOLATION IS ON RECORD" in at.shown
    assert at.logs == {}
    assert termios.tcgetattr(at.far) == at.before


@pytest.mark.parametrize("number", [signal.SIGHUP, signal.SIGTERM])
def test_a_signal_leaves_it_clean_and_the_line_comes_back(
    number: signal.Signals, start: Start
) -> None:
    at = start("--by", "KM")
    at.until("night KM>")
    at.type("A07 isolated by KM")
    at.until("isolated by KM")
    at.process.send_signal(number)
    assert at.ended() == 128 + number
    assert "NOT WRITTEN" in at.shown
    assert termios.tcgetattr(at.far) == at.before
    again = start("--by", "KM")
    again.until("NOT WRITTEN when the line broke")
    again.until("night KM>")
    again.type("\x1b[A")
    again.until("night KM> A07 isolated by KM")


@pytest.mark.parametrize("before", ["", SLOW_TO_BEGIN_A_THREAD], ids=["plain", "slow"])
def test_the_line_survives_a_terminal_that_goes_away(before: str, start: Start) -> None:
    at = start("--by", "KM", before=before)
    at.until("night KM>")
    at.type("A07 stopped for warp")
    at.until("for warp")
    os.close(at.far)
    os.close(at.near)  # the connection is gone: the kernel sends SIGHUP
    at.process.wait(DEADLINE_S)
    again = start("--by", "KM")
    again.until("A07 stopped for warp")
    assert again.logs == {}


@pytest.mark.parametrize("pause", [0.0, 0.01, 0.1])
def test_the_line_survives_a_terminal_that_goes_away_behind_its_enter(
    pause: float, start: Start
) -> None:
    """Whatever was to be shown just then; and a second time, when nobody has taken it up."""
    for text in ("A07 stopped for warp", "A08 isolated by KM"):
        at = start("--by", "KM")
        at.until("night KM>")
        at.type(text)
        at.until(text)
        at.type("\r")
        time.sleep(pause)
        os.close(at.far)
        os.close(at.near)
        at.process.wait(DEADLINE_S)
    again = start("--by", "KM")
    again.until("A07 stopped for warp A08 isolated by KM night KM>")
    assert again.logs == {}


def test_tab_lists_what_may_follow(start: Start) -> None:
    at = start("--by", "KM")
    at.until("night KM>")
    at.type("A07 left \t")
    at.until("guide tape night KM> A07 left")
    at.type("t\t2.5\t\r")
    at.until("2.5 mm, 0.10 mm inside the limit of 2.40")


def test_pasted_lines_are_asked_one_by_one(start: Start) -> None:
    at = start("--by", "KM")
    at.until("night KM>")
    at.type("\x1b[200~A07 stopped\rA08 stopped\x1b[201~\r")
    at.until("A07 stopped: maintenance down time Enter writes it; e edits, x drops:")
    at.type("\r")
    at.until("A08 stopped: maintenance down time Enter writes it; e edits, x drops:")
    at.type("x\r")
    at.until("not written: A08 stopped night KM>")
    at.type("\x04")
    assert at.ended() == 0
    assert at.logs == {LOG: NIGHT + "02:40 A07 stopped\n"}


PASTED = "B01 left tape 2.7 mm\r\rB02 isolated by KM lock 2\r\r"


@pytest.mark.parametrize("refused", [False, True])
def test_a_plain_paste_with_blank_lines_answers_no_question(refused: bool, start: Start) -> None:
    at = start("--by", "KM")
    at.until("night KM>")
    at.type(PASTED.replace("tape", "taep") if refused else PASTED)
    at.until("x drops:")
    time.sleep(0.3)
    assert at.logs == {}
    if refused:
        at.until("a keeps it anyway, x drops:")
        at.type("s\r")
        at.until("night KM> B01 left tape 2.7 mm")
        at.type("\r")
    at.until("within limit Enter writes it; e edits, x drops:")
    at.type("\r")
    at.until("line 2 night KM> B02 isolated by KM lock 2")
    at.until("prove dead at the machine Enter writes it; e edits, x drops:")
    time.sleep(0.3)
    assert len(at.logs[LOG].splitlines()) == 2
    at.type("x\r")
    at.until("not written: B02 isolated by KM lock 2 NO ISOLATION IS ON RECORD")
    at.until("from this line night KM>")
    at.type("\x04")
    assert at.ended() == 0


def test_a_long_plain_paste_is_asked_line_by_line(start: Start) -> None:
    at = start("--by", "KM")
    at.until("night KM>")
    lines = [f"A{1 + n % 12:02d} note line {n} {'x' * 60}" for n in range(150)]
    at.type("".join(f"{line}\r\r" for line in lines))
    at.until("lines came with it, to be asked after it, each by itself")
    at.until("Enter writes it; e edits, x drops:")
    assert at.logs == {}
    at.type("\x03")
    assert at.ended() == 130
    assert "A06 note line 149" in at.shown


def test_a_paste_without_its_last_enter_waits_for_it(start: Start) -> None:
    at = start("--by", "KM")
    at.until("night KM>")
    at.type("A07 stopped\rA08 isolated by KM")
    at.until("A08 isolated by KM")
    time.sleep(0.3)
    at.type(" lock 3\r")
    at.until("x drops:")
    time.sleep(0.3)
    assert at.logs == {}
    at.type("\x03")
    assert at.ended() == 130
    assert "A07 stopped A08 isolated by KM lock 3" in at.shown.split("NOT WRITTEN")[1]


def test_a_pasted_byte_of_another_encoding_is_taken_as_a_log_would_be_read(
    start: Start, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PYTHONIOENCODING", "utf-8:strict")
    at = start("--by", "KM")
    at.until("night KM>")
    os.write(at.near, b"\x1b[200~A07 note x\xfcy\x1b[201~\r")
    at.until("was read as Windows-1252")
    at.until("Enter writes it; e edits, x drops:")
    at.type("\r")
    at.until("KM.log line 2 night KM>")
    at.type("\x04")
    assert at.ended() == 0
    assert at.logs == {LOG: NIGHT + "02:40 A07 note x\u00fcy\n"}
