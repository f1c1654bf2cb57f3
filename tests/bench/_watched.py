"""The live board at work on a folder, and its commits as another reader of the index sees them.

A commit is told by SQLite itself: ``PRAGMA data_version`` changes when another connection has
committed. Which save it holds is told by the size that the index has on record for a file.
"""

from __future__ import annotations

import os
import pty
import signal
import sqlite3
import struct
import subprocess
import sys
import termios
import threading
import time
from contextlib import suppress
from fcntl import ioctl
from pathlib import Path
from time import perf_counter
from types import TracebackType

from tests.bench._place import NotMeasured, Place
from tests.bench._process import ROOT
from tests.bench.generate import AS_OF

LONGEST_S = 60.0  # [s] for a commit to come
STEADY_S = 1.0  # [s] without a commit: nothing is left to do
_LOOK_S = 0.0002


class Watched:
    """`watch` in a pseudo-terminal, and a reader of its index; a context manager."""

    def __init__(self, place: Place) -> None:
        options = place.indexed()
        self._main, self._side = pty.openpty()
        ioctl(self._side, termios.TIOCSWINSZ, struct.pack("HHHH", 50, 120, 0, 0))
        self.process = subprocess.Popen(
            # as on the day itself: else every save would change what is long folded
            [sys.executable, "-m", "board", "watch", *options, "--at", AS_OF],
            cwd=ROOT, stdin=self._side, stdout=self._side, stderr=subprocess.DEVNULL,
            env={**os.environ, **place.environ, "TERM": "xterm-256color"},
        )  # fmt: skip
        self._drawn = threading.Event()
        threading.Thread(target=self._drain, daemon=True).start()
        self._sql = sqlite3.connect(f"file:{place.index}?mode=ro", uri=True, isolation_level=None)
        self._version = self._ask("PRAGMA data_version")
        self._sizes = self._table_of_sizes()

    def __enter__(self) -> Watched:
        if not self._drawn.wait(LONGEST_S):
            raise NotMeasured("not measured: the live board drew nothing")
        self.steady(2 * STEADY_S)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._sql.close()
        self.process.send_signal(signal.SIGTERM)
        with suppress(subprocess.TimeoutExpired):
            self.process.wait(20)
        if self.process.poll() is None:
            self.process.kill()
        os.close(self._side)

    def _drain(self) -> None:
        with suppress(OSError):
            while os.read(self._main, 65536):
                self._drawn.set()

    def _ask(self, question: str, *values: object) -> int:
        row = self._sql.execute(question, values).fetchone()
        return int(row[0]) if row else -1

    def _table_of_sizes(self) -> str:
        """The table that tells the size of each file by its path."""
        for (name,) in self._sql.execute("SELECT name FROM sqlite_master WHERE type = 'table'"):
            columns = {row[1] for row in self._sql.execute(f'PRAGMA table_info("{name}")')}
            if {"path", "size", "mtime_ns"} <= columns:
                return str(name)
        raise NotMeasured("not measured: the index tells no sizes of files")

    # -- commits -----------------------------------------------------------------------------

    def has_committed(self) -> bool:
        """Whether there was a commit since it was asked last."""
        version = self._ask("PRAGMA data_version")
        changed, self._version = version != self._version, version
        return changed

    def size(self, path: str) -> int:
        """The size of a file as the index has it, -1 for none."""
        return self._ask(f'SELECT size FROM "{self._sizes}" WHERE path = ?', path)

    def sizes(self) -> dict[str, int]:
        """The sizes of all files as the index has them."""
        return dict(self._sql.execute(f'SELECT path, size FROM "{self._sizes}"'))

    def steady(self, quiet_s: float = STEADY_S) -> None:
        """Waits until there was no commit for so long."""
        since = perf_counter()
        until = since + LONGEST_S
        while perf_counter() - since < quiet_s and perf_counter() < until:
            if self.has_committed():
                since = perf_counter()
            time.sleep(0.005)

    def committed_after(self, begun: float, path: str, size: int) -> float:
        """When the index holds a file in this size [s after ``begun``]. Raises NotMeasured."""
        while perf_counter() - begun < LONGEST_S:
            if self.has_committed():
                seen = perf_counter()
                if self.size(path) == size:
                    return seen - begun
            time.sleep(_LOOK_S)
        raise NotMeasured(f"not measured: {path} was not committed in {LONGEST_S:.0f} s")


class Waiting:
    """How long another program waits that wants to write to the index; a context manager.

    It asks each millisecond, as the program itself does.
    """

    def __init__(self, index: Path) -> None:
        self._index = index
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._ask, daemon=True)
        self.longest_s = 0.0

    def __enter__(self) -> Waiting:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stopped.set()
        self._thread.join()

    def _ask(self) -> None:
        sql = sqlite3.connect(self._index, timeout=0.0, isolation_level=None)
        while not self._stopped.is_set():
            begun = perf_counter()
            while not self._stopped.is_set():
                try:
                    sql.execute("BEGIN IMMEDIATE")
                    break
                except sqlite3.OperationalError:
                    time.sleep(0.001)
            self.longest_s = max(self.longest_s, perf_counter() - begun)
            if sql.in_transaction:
                sql.execute("ROLLBACK")
            time.sleep(0.02)
        sql.close()


def saved_by_appending(path: Path, line: bytes) -> float:
    """Adds a line, and tells when the system had it [s, perf_counter]."""
    with open(path, "ab", buffering=0) as log:
        begun = perf_counter()
        log.write(line)
    return begun


def saved_by_renaming(path: Path, line: bytes) -> float:
    """As an editor saves that writes a new file and puts it in the place of the old one."""
    new = path.with_name(f".{path.name}.tmp")
    new.write_bytes(path.read_bytes() + line)
    begun = perf_counter()
    os.replace(new, path)
    return begun


def saved_in_place(path: Path, line: bytes) -> float:
    """As an editor saves that empties the file and writes it anew."""
    data = path.read_bytes() + line
    begun = perf_counter()
    with open(path, "wb", buffering=0) as log:
        log.write(data)
    return begun
