"""The line that is being written in the benchmark's shed, and what is still to come of it.

Time is counted in minutes since the epoch. Whatever follows from an entry waits in a heap until
its minute comes.
"""

from __future__ import annotations

from collections.abc import Callable
from heapq import heappush
from itertools import count
from random import Random
from typing import Any

from tests.bench._calendar import ShiftTime
from tests.bench._looms import Loom
from tests.bench._shed import loom_names, places
from tests.bench._voices import voices

DAY = 24 * 60


class Pen:
    """The looms, the lines of the shift that is being written, and the heap of what follows."""

    when: ShiftTime
    left: int  # entries still to write in this shift

    def __init__(self, looms: int, parts: int, seed: int) -> None:
        self.random = Random(seed)
        kinds = places(parts)
        self.rows = {
            row: [Loom(name, row, kinds, self.random) for name in names]
            for row, names in loom_names(looms)
        }
        self.looms = [loom for row in self.rows.values() for loom in row]
        self.voices = voices()
        self.voice = self.voices[0]
        self.heap: list[tuple[int, int, Callable[..., None], tuple[Any, ...]]] = []
        self.order = count()
        self.long: dict[Loom, None] = {}
        self.lines: list[str] = []
        self.written: tuple[Loom, int, str] | None = None  # a line of readings of this shift
        self.now = 0

    def minute(self, minute: int) -> int:
        """This minute, or the next that may be written: never back, never in a repeated hour."""
        minute = max(minute, self.now)
        first, last = self.when.barred
        self.now = last if first <= minute < last else minute
        return self.now

    def later(self, minute: int, happens: Callable[..., None], *what: Any) -> None:
        """Something follows."""
        heappush(self.heap, (minute, next(self.order), happens, what))

    def line(self, minute: int, loom: Loom, text: str) -> None:
        """An entry of a loom; now and then by somebody else than the shift's lead."""
        loom.last = minute
        voice = self.voice
        if self.random.random() < 0.12:
            text += f"; by {self.random.choice(self.voices).name}"
        self.add(minute, f"{voice.loom(loom.name)} {text}")

    def add(self, minute: int, text: str) -> None:
        """An entry."""
        self.lines.append(f"{self.voice.times[self.when.clock(minute)]} {text}")
        self.left -= 1

    def waits_for(self, minute: int, loom: Loom, happens: Callable[..., None], *what: Any) -> bool:
        """Whether a loom has an entry in this minute already: then this one comes a minute later."""
        if loom.last < minute:
            return False
        self.later(minute + 1, happens, loom, *what)
        return True

    def any_loom(self, minute: int) -> tuple[int, Loom]:
        """A loom without an entry in this minute, or in the next that has one."""
        for _ in range(20):
            loom = self.random.choice(self.looms)
            if loom.last < minute:
                return minute, loom
        for loom in self.looms:
            if loom.last < minute:
                return minute, loom
        return self.any_loom(self.minute(minute + 1))
