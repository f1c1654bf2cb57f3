"""Jobs for tests: one whose process dies, one that fails, one that answers what it was given."""

from __future__ import annotations

import os
import signal


def answer(task: str) -> tuple[str, ...]:
    """The task, unless it says that the process is to die or to fail."""
    if task.startswith("dies"):
        os.kill(os.getpid(), signal.SIGKILL)
    if task.startswith("fails"):
        raise ValueError(f"no\x1b[31m {task}")
    return (task,)


def both(a: tuple[str, ...], b: tuple[str, ...]) -> tuple[str, ...]:
    """One answer after the other."""
    return a + b
