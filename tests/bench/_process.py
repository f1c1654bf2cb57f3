"""Programs run as processes of their own: how long they took and the most memory they held.

Linux only where memory of worker processes is told: that is read from /proc (proc(5): status).
"""

from __future__ import annotations

import os
import resource
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from time import perf_counter

ROOT = Path(__file__).parents[2]
_LOOK_S = 0.01  # [s] between two looks at the memory


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """How a process went. ``peak_mib`` [MiB] is the sum over it and its workers.

    ``processor_s`` [s] is what it computed, whatever else the machine had to do.
    """

    seconds: float
    processor_s: float
    peak_mib: float
    code: int
    out: str
    err: str


class Failed(Exception):
    """A program did not do what it was to be measured at."""


def run(
    arguments: Sequence[str],
    environ: dict[str, str],
    *,
    cores: int = 0,
    fine: Sequence[int] = (0,),
    longest_s: float = 0.0,
) -> Ran:
    """Runs a program to its end; ``cores``: on so many at most. Raises Failed for other codes.

    With ``longest_s`` it is ended after so long, with all that it has started.
    """
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        begun = perf_counter()
        process = subprocess.Popen(
            [*_on(cores), *arguments],
            cwd=ROOT, env={**os.environ, **environ}, stdin=subprocess.DEVNULL, stdout=out,
            stderr=err, start_new_session=longest_s > 0,
        )  # fmt: skip
        peak = _Peak(process.pid)
        ender = threading.Timer(longest_s, os.killpg, (process.pid, signal.SIGKILL))
        if longest_s:
            ender.start()
        try:
            _, status, used = os.wait4(process.pid, 0)
        except KeyboardInterrupt:
            if longest_s:  # it is in a session of its own and was not told
                os.killpg(process.pid, signal.SIGKILL)
            raise
        finally:
            ender.cancel()
        seconds = perf_counter() - begun
        process.returncode = os.waitstatus_to_exitcode(status)
        texts = []
        for stream in (out, err):
            stream.seek(0)
            texts.append(stream.read().decode("utf-8", "replace"))
    ran = Ran(
        seconds=seconds,
        processor_s=used.ru_utime + used.ru_stime,
        peak_mib=max(used.ru_maxrss / 1024, peak.end()),
        code=process.returncode,
        out=texts[0],
        err=texts[1],
    )
    if longest_s and ran.code == -signal.SIGKILL:
        raise Failed(f"it took longer than {longest_s:.0f} s")
    if ran.code not in fine:
        told = ran.err.strip().splitlines() or [""]
        raise Failed(f"{' '.join(arguments[:6])} ended with {ran.code}: {told[-1]}")
    return ran


def loomslate(
    arguments: Sequence[str],
    environ: dict[str, str],
    *,
    cores: int = 0,
    fine: Sequence[int] = (0,),
) -> Ran:
    """Runs a command of the program."""
    return run([sys.executable, "-m", "board", *arguments], environ, cores=cores, fine=fine)


def middle(runs: Sequence[Ran]) -> float:
    """The median of the times [s]."""
    return median(ran.seconds for ran in runs)


def computed(runs: Sequence[Ran]) -> str:
    """The median processor time, in words."""
    return f"processor {median(ran.processor_s for ran in runs):.2f} s"


def most(runs: Sequence[Ran]) -> float:
    """The greatest peak memory [MiB]."""
    return max(ran.peak_mib for ran in runs)


def own_peak_mib() -> float:
    """The most memory that this process has held so far [MiB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _on(cores: int) -> list[str]:
    """What is put in front of a command to keep it on the first so many cores."""
    if not cores or not hasattr(os, "sched_getaffinity"):
        return []
    chosen = sorted(os.sched_getaffinity(0))[:cores]
    return ["taskset", "-c", ",".join(map(str, chosen))]


class _Peak:
    """Looks at the memory of a process and its workers until it ends."""

    def __init__(self, pid: int) -> None:
        self._pid = pid
        self._most = 0.0
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)
        self._thread.start()

    def end(self) -> float:
        """The greatest sum of resident memory that was seen [MiB]."""
        self._done.set()
        self._thread.join()
        return self._most

    def _look(self) -> None:
        while not self._done.wait(_LOOK_S):
            found = [_resident_kib(pid) for pid in _family(self._pid)]
            self._most = max(self._most, sum(found) / 1024)


def _family(pid: int) -> Iterator[int]:
    yield pid
    try:
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except OSError:
        return
    for child in children:
        yield from _family(int(child))


def _resident_kib(pid: int) -> int:
    try:
        status = Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return 0
    found = [line.split()[1] for line in status.splitlines() if line.startswith("VmRSS")]
    return int(found[0]) if found else 0
