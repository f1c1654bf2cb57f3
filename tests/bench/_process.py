"""Programs run as processes of their own: how long they took and the most memory they held."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from time import perf_counter

from tests.bench._memory import Peak

ROOT = Path(__file__).parents[2]
ENOUGH_S = 20.0  # [s] of runs, after which no further one is needed


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """How a process went. ``peak_mib`` [MiB] is the most that it held, its workers' with it.

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
        peak = Peak(process.pid)
        ender = threading.Timer(longest_s, os.killpg, (process.pid, signal.SIGKILL))
        if longest_s:
            ender.start()
        try:
            _, status, used = os.wait4(process.pid, 0)
        except BaseException:
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
        peak_mib=peak.end(),
        code=process.returncode,
        out=texts[0],
        err=texts[1],
    )
    if longest_s and ran.code == -signal.SIGKILL:
        raise Failed(f"it took longer than {longest_s:.0f} s")
    if ran.code not in fine:
        told = ran.err.strip().splitlines() or [""]
        name = " ".join(arguments[1:4]).removeprefix("-m ")
        raise Failed(f"{name} ended with {ran.code}: {told[-1][:120]}")
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


def several(work: Callable[[int], Ran], passes: int) -> list[Ran]:
    """So many runs behind one that is not counted; fewer where they take long."""
    runs = [work(0)]
    spent = runs[0].seconds
    if spent < ENOUGH_S:
        runs.clear()
    for number in range(1, passes + 1):
        if spent >= ENOUGH_S and runs:
            break
        runs.append(work(number))
        spent += runs[-1].seconds
    return runs


def middle(runs: Sequence[Ran]) -> float:
    """The median of the times [s]."""
    return median(ran.seconds for ran in runs)


def computed(runs: Sequence[Ran]) -> str:
    """The median processor time, in words."""
    return f"processor {median(ran.processor_s for ran in runs):.2f} s"


def most(runs: Sequence[Ran]) -> float:
    """The greatest peak memory [MiB]."""
    return max(ran.peak_mib for ran in runs)


def _on(cores: int) -> list[str]:
    """What is put in front of a command to keep it on the first so many cores."""
    if not cores or not hasattr(os, "sched_getaffinity"):
        return []
    chosen = sorted(os.sched_getaffinity(0))[:cores]
    return ["taskset", "-c", ",".join(map(str, chosen))]
