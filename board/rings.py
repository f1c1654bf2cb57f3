"""When a program that runs for weeks looks for values that hold each other in a ring.

Python looks through all that it keeps whenever there is a quarter more of it: with years of a shed
in memory a third of a second, in which nothing is read, committed or drawn. What is made here
seldom holds a ring, so all of it is looked through only now and then, when nothing else is to do.
"""

from __future__ import annotations

import gc
import time

EVERY_S = 600.0  # [s]
_NEVER = 1 << 30  # so many looks through what is younger come before one through all


class Rings:
    """Looks for rings of values seldom; a context manager."""

    def __init__(self) -> None:
        self._before = gc.isenabled(), gc.get_threshold()
        self._due = time.monotonic() + EVERY_S

    def __enter__(self) -> Rings:
        youngest, younger, _ = self._before[1]
        gc.set_threshold(youngest, younger, _NEVER)
        gc.enable()
        return self

    def __exit__(self, *_: object) -> None:
        enabled, thresholds = self._before
        gc.set_threshold(*thresholds)
        if not enabled:
            gc.disable()

    def at_rest(self) -> None:
        """Nothing else is to do: look through everything, if it is time."""
        if time.monotonic() >= self._due:
            gc.collect()
            self._due = time.monotonic() + EVERY_S
