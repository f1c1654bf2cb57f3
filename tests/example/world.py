"""The example's shed in motion: looms, the clock, and the book that the fitters write.

A small simulation: every activity is a process (a generator that yields how many minutes it
waits), and every line is written at the minute at which it happens, by whoever is on duty. What
the looms do follows from what is written of them, so log and simulated wear cannot disagree. What
goes on is left to `rounds`, `jobs` and `story`.
"""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass, field
from heapq import heappop, heappush
from itertools import count
from random import Random

from .diary import CLOSED, END, START, TWICE, Shift, closed, shift_at, wall
from .prose import STYLES
from .voices import VOICES, Voice
from .wear import Place, places_of_loom

Process = Generator[int, None, None]
PICKS_METERS = ("B12", "B13", "B14")
SPEEDS = {"A": 480, "B": 540}
_LOCKS = {"KM": 14, "TN": 21, "RB": 71, "HS": 27, "DW": 61, "JO": 32, "EP": 51, "UB": 41}


@dataclass(slots=True)
class Loom:
    """One loom: what is fitted, what is wanted, and how far it has run [h]."""

    name: str
    places: dict[str, Place]
    efficiency: float
    meter: float
    style: str = "4410"
    running: bool = False
    busy: bool = False
    hours: float = 0.0
    since: int = START
    last_entry: int = START
    lock: str = ""  # whose lock hangs there
    lock_number: int = 0
    wanted: dict[str, str] = field(default_factory=dict)
    checked: dict[str, float] = field(default_factory=dict)
    reserved: list[tuple[int, int]] = field(default_factory=list)

    @property
    def section(self) -> str:
        """The section the loom stands in."""
        return self.name[0]

    @property
    def giver(self) -> str:
        """The side that gives the weft."""
        return "left" if self.section == "A" else "right"

    def advance(self, now: int) -> None:
        """Let the parts wear up to now, if the loom ran."""
        if self.running:
            ran = (now - self.since) / 60 * self.efficiency
            self.hours += ran
            self.meter += ran
            for place in self.places.values():
                place.run(ran * STYLES[self.style])
        self.since = now


@dataclass(slots=True)
class Book:
    """The files written so far, and which minutes of which loom are taken."""

    files: dict[str, list[str]] = field(default_factory=dict)
    taken: set[tuple[str, int]] = field(default_factory=set)

    def add(self, shift: Shift, who: str, line: str) -> None:
        """Append a line to that writer's file of the shift, under its heading."""
        path = f"{shift.day:%Y/%m}/{shift.day}-{shift.name}-{who}.log"
        if path not in self.files:
            self.files[path] = [f"day {shift.day} {shift.name} by {who}"]
            self.files[path] += {"JO": [""], "HS": ["# Websaal, Reihe B"]}.get(who, [])
        self.files[path].append(line)


class World:
    """The shed while the example runs: one clock, one source of chance, forty-eight looms."""

    def __init__(self, seed: int) -> None:
        self.rng = Random(seed)
        self.now = START
        self.book = Book()
        self.number = 11
        self.looms: dict[str, Loom] = {}
        self._queue: list[tuple[int, int, Process]] = []
        self._spawned = 0
        for section in "AB":
            for n in range(1, 25):
                giver = "left" if section == "A" else "right"
                places = {p.label: p for p in places_of_loom(self.rng, giver=giver)}
                name = f"{section}{n:02}"
                self.looms[name] = Loom(
                    name=name,
                    places=places,
                    efficiency=self.rng.uniform(0.965, 0.995),
                    meter=round(self.rng.uniform(9000, 31000), 1),
                    style=self.rng.choice(list(STYLES)),
                )

    # ---- the clock ----------------------------------------------------------------------

    def spawn(self, process: Process, *, at: int | None = None) -> None:
        """Start a process now, or at a later minute."""
        self._spawned += 1
        heappush(self._queue, (self.now if at is None else at, self._spawned, process))

    def run(self) -> None:
        """Let everything happen until the example's end."""
        while self._queue and self._queue[0][0] < END:
            self.now, _, process = heappop(self._queue)
            try:
                wait = next(process)
            except StopIteration:
                continue
            self.spawn(process, at=self.now + max(wait, 1))

    def until(self, minute: int) -> Process:
        """Wait for a minute; none if it is past."""
        if minute > self.now:
            yield minute - self.now

    def room(self) -> int:
        """Minutes until the shed next stands still: at its closed day, or at the end."""
        return (CLOSED[0] if self.now < CLOSED[0] else END) - self.now

    # ---- who and where ------------------------------------------------------------------

    def writer(self, section: str) -> str:
        """Who writes for a section now."""
        return shift_at(self.now).crew()[0 if section == "A" else 1]

    def lock_of(self, who: str) -> int:
        """The number on the first of the fitter's own locks that hangs nowhere."""
        hanging = {loom.lock_number for loom in self.looms.values()}
        return next(n for n in count(_LOCKS[who]) if n not in hanging)

    def idle(self, loom: Loom) -> bool:
        """Whether chance may happen to the loom now."""
        reserved = any(start <= self.now < end for start, end in loom.reserved)
        still = CLOSED[0] - 20 <= self.now < CLOSED[1] + 60  # stopped and started by the row
        return not (loom.busy or reserved or still)

    def wait_idle(self, loom: Loom) -> Process:
        """Wait until chance may happen to the loom."""
        while not self.idle(loom):
            yield self.rng.randint(9, 25)

    # ---- writing ------------------------------------------------------------------------

    def pause(self, *names: str) -> Process:
        """Wait until a line about these looms may be written.

        Nothing is written while the shed is closed, nor by chance in the hour that the clocks
        repeat, and no loom gets two entries in one minute.
        """
        while True:
            if closed(self.now):
                yield CLOSED[1] - self.now + self.rng.randint(60, 120)
            elif TWICE[0] <= self.now < TWICE[1]:
                yield TWICE[1] - self.now + self.rng.randint(1, 25)
            elif any((name, self.now) in self.book.taken for name in names):
                yield 1
            else:
                return

    def say(self, loom: Loom, *clauses: str) -> Process:
        """Write one entry of a loom, as soon as it may be written."""
        yield from self.pause(loom.name)
        self.write(loom, *clauses)

    def write(self, loom: Loom, *clauses: str, time: str = "") -> None:
        """Write one entry of a loom at this minute, in the words of whoever is on duty."""
        voice = VOICES[self.writer(loom.section)]
        spoken = [voice.speak(c, self.rng) for c in clauses]
        if self.rng.random() < 0.02 and loom.section == "A" and not time:
            spoken.append(f"by {shift_at(self.now).crew()[1]}")
        self._line(voice, time, voice.name(loom.name), spoken, (loom,))
        for clause in clauses:
            self._follow(loom, clause)

    def write_group(self, place: str, looms: list[Loom], *clauses: str) -> None:
        """Write one entry of a section, a range or the shed at this minute; the lead writes it."""
        voice = VOICES[self.writer("A")]
        spoken = [voice.speak(c, self.rng) for c in clauses]
        self._line(voice, "", place, spoken, tuple(looms))
        for loom in looms:
            for clause in clauses:
                self._follow(loom, clause)

    def raw(self, section: str, line: str) -> None:
        """Write a line exactly as given, after the time of this minute."""
        self.book.add(shift_at(self.now), self.writer(section), f"{wall(self.now):%H:%M} {line}")

    def _line(
        self, voice: Voice, time: str, place: str, spoken: list[str], looms: tuple[Loom, ...]
    ) -> None:
        clock = time or voice.clock(f"{wall(self.now):%H:%M}")
        self.book.add(shift_at(self.now), voice.who, f"{clock} {place} {'; '.join(spoken)}")
        self.book.taken.update((loom.name, self.now) for loom in looms)
        self.book.taken.add((place, self.now))

    def _follow(self, loom: Loom, clause: str) -> None:
        """What a clause says of a loom's motion, style and lock is what the loom then does."""
        words = clause.split()
        loom.advance(self.now)
        loom.last_entry = self.now
        if words[0] == "running":
            loom.running = True
        elif words[0] == "stopped":
            loom.running = False
        elif words[0] == "isolated":
            loom.running, loom.lock, loom.lock_number = False, words[2], int(words[4])
        elif words[:2] == ["lock", "removed"]:
            loom.lock, loom.lock_number = "", 0
        elif words[0] == "style":
            loom.style = words[1]
