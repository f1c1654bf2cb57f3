"""The real live board in a pseudo-terminal for an hour of random saves.

    nice python -m tests.bench.soak [--minutes 60] [--seed 1] [--report FILE]

A history is saved into a folder in every manner, emptied and saved anew, while `loomslate watch`
shows it. Whenever the folder is whole the screen must come to be that of a fresh reading, cell by
cell, and the memory, the descriptors and the threads of the process are noted. At the end nothing
happens for a minute, and the time that the process uses meanwhile is measured. Exits with 1 where a
target is missed.

Linux only: memory and time are read from /proc (proc(5): status, stat, fd).
"""

from __future__ import annotations

import argparse
import os
import pty
import random
import shutil
import signal
import struct
import subprocess
import sys
import tempfile
import termios
import threading
import time
from dataclasses import dataclass, field
from datetime import UTC, datetime
from fcntl import ioctl
from pathlib import Path

import pyte

from board.loading import read_mill, reader_for
from board.mill import Mill
from board.reckon.summary import summarise
from board.record.shelf import Shelf
from board.remembered import held_so_far
from board.show.live_view import Looking, frame
from board.show.screens import View
from board.snapshot import snapshot
from tests.conftest import EXAMPLE, ROOT
from tests.robust.saves import CANARIES, Saver

COLUMNS, ROWS = 160, 60
FILES = 40  # the newest of the example's logs, about a thousand lines
SETTLED_S = 90.0  # [s] for a screen to be that of a fresh reading
GROWTH_MIB, IDLE_SHARE = 5.0, 0.01


@dataclass
class Board:
    """The live board as a process, and its screen."""

    folder: Path
    cache: Path
    lock: threading.Lock = field(default_factory=threading.Lock)

    def __post_init__(self) -> None:
        self.master, self.slave = pty.openpty()
        ioctl(self.slave, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
        self._screen = pyte.Screen(COLUMNS, ROWS)
        self._stream = pyte.ByteStream(self._screen)
        self.frames = 0
        self.process = subprocess.Popen(
            [sys.executable, "-m", "board", "watch", str(self.folder)],
            cwd=ROOT, stdin=self.slave, stdout=self.slave, stderr=subprocess.PIPE,
            env={**os.environ, "TERM": "xterm-256color", "XDG_CACHE_HOME": str(self.cache)},
            start_new_session=True,
        )  # fmt: skip
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        while True:
            try:
                data = os.read(self.master, 65536)
            except OSError:
                return
            with self.lock:
                self._stream.feed(data)
                self.frames += 1

    @property
    def lines(self) -> list[str]:
        with self.lock:
            return [line.rstrip() for line in self._screen.display]

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
        self.process.send_signal(signal.SIGTERM)
        code = self.process.wait(20)
        assert self.process.stderr is not None
        return code, self.process.stderr.read().decode()


def expected(folder: Path, cache: Path) -> list[str]:
    """The screen of a fresh reading at this moment."""
    environ = {"XDG_CACHE_HOME": str(cache)}
    mill = read_mill(folder)
    assert isinstance(mill, Mill), mill
    shelf = Shelf(folder, reader_for(mill.vocabulary, environ))
    now = datetime.now(UTC)
    shelf.look(now)
    whole = snapshot(shelf.readings, mill, now, shelf.notices)
    summary = summarise(whole, turned_out=lambda past, of: held_so_far(past, of, environ))
    made = frame(summary, Looking(), View(width=COLUMNS, height=ROWS), tick=0.0)
    return [line.plain.rstrip() for line in made.lines]


def agreed_after(board: Board) -> float | None:
    """How long [s] until the screen is that of a fresh reading; None: not in time."""
    begun = time.monotonic()
    while (took := time.monotonic() - begun) < SETTLED_S:
        if board.lines == expected(board.folder, board.cache):
            return took
        time.sleep(0.2)
    return None


@dataclass
class Noted:
    """What was seen at one time when the folder was whole."""

    at_s: float
    saves: int
    memory_mib: float
    descriptors: int
    threads: int
    agreed_s: float | None


def soak(minutes: float, seed: int, say: Path | None) -> bool:
    """Run the whole, print a table, and answer whether every target was met."""
    top = Path(tempfile.mkdtemp(prefix="loomslate-soak-"))
    folder = top / "logs"
    folder.mkdir()
    shutil.copy(EXAMPLE / "shed.toml", folder)
    files = sorted(EXAMPLE.rglob("*.log"))[-FILES:]
    history = {f.relative_to(EXAMPLE).as_posix(): f.read_bytes() for f in files}
    saver = Saver(folder, history, seed)
    dice = random.Random(seed)
    board = Board(folder, top / "cache")
    noted: list[Noted] = []
    blinks = 0
    begun = time.monotonic()
    while time.monotonic() - begun < minutes * 60:
        for _ in range(150):
            saver.save()
            time.sleep(dice.choice((0.0, 0.0, 0.05, 0.3)))
            shown = "\n".join(board.lines)
            if "ISOLATED" in shown and not all(loom in shown for loom in CANARIES):
                blinks += time.monotonic() > saver.slow_until
        saver.finish()
        agreed = agreed_after(board)
        noted.append(
            Noted(
                time.monotonic() - begun, saver.saves, board.memory_mib,
                board.descriptors, board.threads, agreed,
            )
        )  # fmt: skip
        _say(say, f"{noted[-1]}")
        saver.start_over()
    saver.finish()
    last = agreed_after(board)
    time.sleep(5)
    used, from_s = board.used_s, time.monotonic()
    time.sleep(60)
    idle = (board.used_s - used) / (time.monotonic() - from_s)
    alive = board.process.poll() is None
    code, errors = board.end()
    shutil.rmtree(top)
    return _judged(noted, last, idle, blinks, saver, alive and not errors, code, say)


def _judged(
    noted: list[Noted], last: float | None, idle: float, blinks: int, saver: Saver,
    well: bool, code: int, say: Path | None,
) -> bool:  # fmt: skip
    warm = [n for n in noted if n.at_s > 120] or noted
    third = max(len(warm) // 3, 1)
    first, end = warm[:third], warm[-third:]
    growth = sum(n.memory_mib for n in end) / third - sum(n.memory_mib for n in first) / third
    descriptors = {n.descriptors for n in warm}
    threads = {n.threads for n in warm}
    agreed = [n.agreed_s for n in noted]
    waits = sorted(a for a in agreed if a is not None)
    rows = [
        ("saves", f"{saver.saves}", True),
        ("of each kind", ", ".join(f"{k} {v}" for k, v in sorted(saver.by_kind.items())), True),
        ("rebuilds compared", f"{len(agreed)}", None not in agreed),
        ("longest wait for one [s]", f"{waits[-1]:.1f}" if waits else "-", bool(waits)),
        ("screen at the end that of a rebuild", "yes" if last is not None else "NO", last is not None),
        ("isolation missing from a screen", f"{blinks}", blinks == 0),
        ("memory after warm-up [MiB]", f"{warm[0].memory_mib:.1f} to {max(n.memory_mib for n in warm):.1f}", True),
        ("growth, last third less first [MiB]", f"{growth:+.2f}", growth < GROWTH_MIB),
        ("descriptors", f"{sorted(descriptors)}", len(descriptors) == 1),
        ("threads", f"{sorted(threads)}", len(threads) == 1),
        ("share of a core over 60 idle s", f"{idle:.3%}", idle < IDLE_SHARE),
        ("ended by SIGTERM, nothing on stderr", f"{code}", well and code == 128 + signal.SIGTERM),
    ]  # fmt: skip
    _say(say, f"\n| soak of {noted[-1].at_s / 60:.0f} min | seen | target met |\n|---|---|---|")
    for name, seen, met in rows:
        _say(say, f"| {name} | {seen} | {'yes' if met else 'NO'} |")
    return all(met for *_, met in rows)


def _say(report: Path | None, text: str) -> None:
    print(text, flush=True)
    if report is not None:
        with report.open("a") as file:
            file.write(text + "\n")


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--report", type=Path)
    options = parser.parse_args()
    sys.exit(0 if soak(options.minutes, options.seed, options.report) else 1)


if __name__ == "__main__":
    main()
