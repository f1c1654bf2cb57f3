"""`kill -9` before every single step of writing an entry: the log stays whole, the next one writes.

The steps are the calls to the system, one after the other; at each of them a process of its own is
killed. What it had said to be written must stand, once and whole; what it had not said may stand
once or not at all; and whoever writes next must neither wait nor be written into.
"""

from __future__ import annotations

import fcntl
import os
import signal
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from board.record.files import LogFile, read_file
from board.record.listing import list_logs
from board.record.turns import turn
from board.record.writer import Written, append_entry
from tests.robust.running import NOW

HEADING = "day 2026-11-24 night by KM"
PATH = "2026/11/2026-11-24-night-KM.log"
LINE, NEXT = "22:40 A07 isolated by KM lock 14", "22:50 A07 note next"
STEPS = (
    "open", "mkdir", "lstat", "stat", "fstat", "lseek", "read", "write", "fsync", "ftruncate", "close",
)  # fmt: skip
MOST_STEPS = 200

# Python 3.12 warns of a fork beside threads, which the child here never needs.
pytestmark = pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning")


def killed_at(step: int, work: Callable[[], None], half_a_write: bool = False) -> bool:
    """Do the work in a process that is killed before so many steps; whether it was."""
    child = os.fork()
    if child:
        _, status = os.waitpid(child, 0)
        if os.WIFSIGNALED(status):
            assert os.WTERMSIG(status) == signal.SIGKILL
            return True
        assert os.WEXITSTATUS(status) == 0
        return False
    try:
        _kill_before(step, half_a_write)
        work()
    except BaseException:
        os._exit(1)
    os._exit(0)


def _kill_before(step: int, half_a_write: bool) -> None:
    """In this process, which is the child: end it at a step."""
    done, write = 0, os.write

    def counted(real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*arguments: Any, **named: Any) -> Any:
            nonlocal done
            done += 1
            if done == step:
                if half_a_write and real is write:
                    write(arguments[0], arguments[1][: len(arguments[1]) // 2])
                os.kill(os.getpid(), signal.SIGKILL)
            return real(*arguments, **named)

        return call

    for name in STEPS:
        setattr(os, name, counted(getattr(os, name)))
    fcntl.flock = counted(fcntl.flock)


def writing(folder: Path, told: int) -> Callable[[], None]:
    """One entry written in its turn, and then said to be written, as the commands do."""
    say = os.write

    def work() -> None:
        with turn(folder):
            outcome = append_entry(folder, PATH, HEADING, LINE)
        assert isinstance(outcome, Written)
        say(told, b"written")

    return work


@pytest.mark.parametrize("half_a_write", [False, True], ids=["between", "within a write"])
@pytest.mark.parametrize("standing", ["", f"{HEADING}\n22:30 A01 stopped\n"], ids=["new", "old"])
def test_killed_before_every_step(tmp_path: Path, standing: str, half_a_write: bool) -> None:
    there = torn = 0
    for step in range(1, MOST_STEPS):
        folder = tmp_path / str(step)
        (folder / PATH).parent.mkdir(parents=True)
        if standing:
            (folder / PATH).write_text(standing)
        else:
            (folder / PATH).parent.rmdir()
        acknowledged, told = os.pipe()
        killed = killed_at(step, writing(folder, told), half_a_write)
        os.close(told)
        said = os.read(acknowledged, 100) == b"written"
        os.close(acknowledged)
        text = (folder / PATH).read_text() if (folder / PATH).exists() else ""
        assert text.startswith(standing)
        assert text.count(f"{LINE}\n") in ((1,) if said else (0, 1))
        there += text.count(f"{LINE}\n")
        begun = time.monotonic()
        with turn(folder, patience=2.0):
            outcome = append_entry(folder, PATH, HEADING, NEXT, patience=2.0)
        assert isinstance(outcome, Written), outcome
        assert time.monotonic() - begun < 2.0
        torn += holds_together(folder, standing, text)
        if not killed:
            assert said
            assert 15 < step < MOST_STEPS - 1, "the steps are not those of the program any more"
            assert there > 3
            assert (torn > 0) == half_a_write
            return
    raise AssertionError("it never came to its end")


def holds_together(folder: Path, standing: str, text: str) -> int:
    """Checks the log as it stands after the next entry; how many lines of it are torn."""
    listing = list_logs(folder)
    (log,) = getattr(listing, "logs", ())
    file = read_file(log, NOW)
    assert isinstance(file, LogFile)
    lines = file.data.decode().split("\n")
    assert lines.pop() == ""
    assert lines.pop() == NEXT
    good = {HEADING, LINE, NEXT, *standing.splitlines()}
    torn = [line for line in lines if line not in good]
    assert len(torn) <= 1
    assert all(text.endswith(line) for line in torn)  # the one that was at it when it was killed
    assert all(HEADING.startswith(line) or LINE.startswith(line) for line in torn)
    return len(torn)
