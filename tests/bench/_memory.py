"""How much memory processes hold, read from /proc while they run. Linux only.

What the system tells at the end of a process (``ru_maxrss``) is not used: a new process starts out
with that of the one that started it. Where there are several processes their proportional sizes
are added, so that what they share counts once.

Source: proc(5), status and smaps_rollup; getrusage(2), bugs.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from pathlib import Path

_LOOK_S = 0.01  # [s] between two looks


class Peak:
    """Looks at the memory of a process and of those it started, until ``end``."""

    def __init__(self, pid: int) -> None:
        self._pid = pid
        self._most_kib = 0
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)
        self._thread.start()

    def end(self) -> float:
        """The most that was seen [MiB]."""
        self._done.set()
        self._thread.join()
        return self._most_kib / 1024

    def _look(self) -> None:
        while not self._done.wait(_LOOK_S):
            family = list(_family(self._pid))
            held = _kib(self._pid, "status", "VmHWM")
            if len(family) > 1:
                held = max(held, sum(_kib(pid, "smaps_rollup", "Pss") for pid in family))
            self._most_kib = max(self._most_kib, held)


def peak_mib(pid: int) -> float:
    """The most memory that a process has held so far [MiB]."""
    return _kib(pid, "status", "VmHWM") / 1024


def own_peak_mib() -> float:
    """The same of this process."""
    return peak_mib(os.getpid())


def _family(pid: int) -> Iterator[int]:
    yield pid
    try:
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except OSError:
        return
    for child in children:
        yield from _family(int(child))


def _kib(pid: int, file: str, name: str) -> int:
    """A size [KiB] of a process that may be gone by now."""
    try:
        lines = Path(f"/proc/{pid}/{file}").read_text().splitlines()
    except OSError:
        return 0
    found = [line.split()[1] for line in lines if line.startswith(f"{name}:")]
    return int(found[0]) if found else 0
