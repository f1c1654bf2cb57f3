"""The real `loomslate watch` as a process at a pseudo-terminal, and what a fresh reading would show.

Every frame that the board draws is looked at when it is complete, not only the one that stands
when somebody looks: a frame in which an isolation is missing is kept with the time it was drawn.

Linux only: memory and time are read from /proc (proc(5): status, stat, fd).
"""

from __future__ import annotations

import os
import pty
import signal
import struct
import subprocess
import sys
import termios
import threading
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from fcntl import ioctl
from pathlib import Path

import pyte

from board.keys import Key, Name
from board.loading import read_mill, reader_for
from board.mill import Mill
from board.reckon.summary import Summary, summarise
from board.record.shelf import Shelf
from board.remembered import held_so_far
from board.show.live_view import Looking, Page, frame, pressed
from board.show.screens import View
from board.snapshot import snapshot
from tests.conftest import ROOT

COLUMNS, ROWS = 160, 60
FRAME_END = b"\x1b[?2026l"  # "end synchronized update": what stands now is meant to be seen


@dataclass
class Board:
    """The live board as a process, its screen, and the frames in which a text was missing."""

    folder: Path
    cache: Path
    always: tuple[str, ...] = ()  # texts that every frame must show
    before: Callable[[], None] | None = None  # what the process does first
    frames: int = 0
    lacking: list[tuple[float, list[str]]] = field(default_factory=list)  # when [s, monotonic]

    def __post_init__(self) -> None:
        self._lock = threading.Lock()
        self._master, self._slave = pty.openpty()
        ioctl(self._slave, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
        self._screen = pyte.Screen(COLUMNS, ROWS)
        self._stream = pyte.ByteStream(self._screen)
        self.process = subprocess.Popen(
            [sys.executable, "-m", "board", "watch", str(self.folder)],
            cwd=ROOT, stdin=self._slave, stdout=self._slave, stderr=subprocess.PIPE,
            env={**os.environ, "TERM": "xterm-256color", "XDG_CACHE_HOME": str(self.cache)},
            start_new_session=True, preexec_fn=self.before,
        )  # fmt: skip
        self._reading = threading.Thread(target=self._read, daemon=True)
        self._reading.start()

    def _read(self) -> None:
        waiting = b""
        while True:
            try:
                waiting += os.read(self._master, 65536)
            except OSError:
                return
            while (end := waiting.find(FRAME_END)) >= 0:
                end += len(FRAME_END)
                self._drawn(waiting[:end])
                waiting = waiting[end:]

    def _drawn(self, data: bytes) -> None:
        with self._lock:
            self._stream.feed(data)
            self.frames += 1
            shown = "\n".join(self._screen.display)
        if missing := [text for text in self.always if text not in shown]:
            self.lacking.append((time.monotonic(), missing))

    @property
    def lines(self) -> list[str]:
        """The screen as the last complete frame left it."""
        with self._lock:
            return [line.rstrip() for line in self._screen.display]

    def send(self, keys: bytes) -> None:
        """Press keys."""
        os.write(self._master, keys)

    @property
    def memory_mib(self) -> float:
        """The resident memory [MiB] that belongs to the process alone, files not counted."""
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        (kib,) = (line.split()[1] for line in status.splitlines() if line.startswith("RssAnon"))
        return int(kib) / 1024

    @property
    def descriptors(self) -> int:
        return len(os.listdir(f"/proc/{self.process.pid}/fd"))

    @property
    def threads(self) -> int:
        return len(os.listdir(f"/proc/{self.process.pid}/task"))

    @property
    def used_s(self) -> float:
        """Processor time [s] so far."""
        after_name = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
        return (int(after_name[11]) + int(after_name[12])) / os.sysconf("SC_CLK_TCK")

    def end(self) -> tuple[int, str]:
        """Ask it to end; its code, and what it said on standard error."""
        self.process.send_signal(signal.SIGTERM)
        code = self.process.wait(20)
        assert self.process.stderr is not None
        with self.process.stderr as errors:
            said = errors.read().decode()
        os.close(self._slave)  # which ends the reading thread
        self._reading.join()
        os.close(self._master)
        return code, said


@dataclass
class Fresh:
    """A folder read from nothing, once; what it looks like at any moment after."""

    folder: Path
    cache: Path

    def __post_init__(self) -> None:
        self._environ = {"XDG_CACHE_HOME": str(self.cache)}
        mill = read_mill(self.folder)
        assert isinstance(mill, Mill), mill
        self.mill = mill
        self._shelf = Shelf(self.folder, reader_for(mill.vocabulary, self._environ))
        self._shelf.look(datetime.now(UTC))

    def summary(self) -> Summary:
        """As of now."""
        now = datetime.now(UTC)
        whole = snapshot(self._shelf.readings, self.mill, now, self._shelf.notices)
        return summarise(whole, turned_out=lambda past, of: held_so_far(past, of, self._environ))

    def screen(self, looking: Looking, summary: Summary | None = None) -> list[str]:
        """The lines of the live board's screen."""
        view = View(width=COLUMNS, height=ROWS)
        made = frame(summary or self.summary(), looking, view, tick=0.0)
        return [line.plain.rstrip() for line in made.lines]


def agreed_after(board: Board, looks: Iterable[Looking], within_s: float) -> float | None:
    """How long [s] until the screen is that of a fresh reading; None: not in time.

    ``looks`` are what the board may be looking at: one of them, while keys are on their way.
    """
    begun = time.monotonic()
    looks = tuple(looks)
    while (took := time.monotonic() - begun) < within_s:
        fresh = Fresh(board.folder, board.cache)
        if any(board.lines == fresh.screen(looking) for looking in looks):
            return took
        time.sleep(0.2)
    return None


def walked_through(board: Board, within_s: float) -> tuple[int, list[str]]:
    """Go through every page of the board and the page of every loom, each against a fresh reading.

    How many pages were looked at, and the names of those that were not the same in time. Nothing
    may be saved meanwhile. The board is at its overview before and after.
    """
    fresh = Fresh(board.folder, board.cache)
    pages, wrong = 0, []

    def compare(name: str, looking: Looking) -> None:
        nonlocal pages
        pages += 1
        until = time.monotonic() + within_s
        while board.lines != fresh.screen(looking):
            if time.monotonic() > until:
                wrong.append(name)
                return
            time.sleep(0.1)

    summary = fresh.summary()
    view = View(width=COLUMNS, height=ROWS)
    looking, rows, before = Looking(), 1, None
    while looking != before:
        before = looking
        compare(f"{looking.page.value} {looking.offset}", looking)
        board.send(b"\x1b[6~")
        looking, _ = pressed(looking, Key(name=Name.PAGE_DOWN), summary, rows)
        made = frame(summary, looking, view, tick=0.0)
        looking, rows = made.looking, made.rows
    for loom in fresh.mill.looms:
        board.send(f"{loom.lower()}\r".encode())
        compare(loom, Looking(page=Page.LOOM, loom=loom))
    board.send(b"\x1b")
    compare("overview again", Looking())
    return pages, wrong
