"""Looms of the benchmark's shed as they are while their log is invented: motion, locks, wear."""

from __future__ import annotations

from random import Random

from tests.bench._shed import Kind
from tests.bench._voices import Voice

MINUTES = 60


class Place:
    """A place of a loom and the part in it: when it was fitted [running min], how long it lasts."""

    __slots__ = ("born", "due", "empty", "kind", "life", "number", "side")

    born: float  # less than 0: before the log begins
    life: float
    due: bool  # whether it is to be replaced soon
    empty: bool

    def __init__(self, kind: Kind, side: str, number: int, random: Random) -> None:
        self.kind, self.side, self.number = kind, side, number
        self.fit(0.0, random)
        self.born = -random.random() * self.life  # in the middle of a life
        self.empty = False

    def fit(self, ran: float, random: Random) -> None:
        """A new part is put in when the loom has run so long [min]."""
        self.born = ran
        self.life = self.kind.life_h * MINUTES * random.gammavariate(16.0, 1.0 / 16.0)
        self.empty = False
        self.due = False

    def worn(self, ran: float) -> float:
        """How far from new (0) to the limit (1)."""
        age = (ran - self.born) / self.life
        return float(age**self.kind.curve) if age > 0.0 else 0.0

    def read(self, ran: float, random: Random) -> float:
        """A reading: the curve of the kind, and scatter well inside of the tool's uncertainty."""
        kind = self.kind
        scatter = kind.uncertainty * 0.45 * (2.0 * random.random() - 1.0)
        value = kind.new + (kind.limit - kind.new) * min(self.worn(ran), 1.3) + scatter
        return max(value, 0.0)

    def told(self, voice: Voice) -> str:
        """The place in the writer's words."""
        return voice.place(self.kind, self.side, self.number)


class Loom:
    """A loom: its motion and running time [min], its locks, its places."""

    __slots__ = (
        "base_h", "busy", "cursor", "last", "locks", "name", "places", "ran_before", "row",
        "running", "since",
    )  # fmt: skip

    def __init__(self, name: str, row: str, kinds: list[tuple[Kind, str, int]], random: Random):
        self.name, self.row = name, row
        self.places = [Place(*kind, random) for kind in kinds]
        self.cursor = random.randrange(len(self.places))
        self.running, self.since, self.ran_before = False, 0, 0
        self.base_h = random.uniform(2000.0, 30000.0)
        self.locks: list[tuple[str, int]] = []
        self.busy = False
        self.last = -1  # the minute of its last entry

    def run(self, minute: int) -> None:
        """Sets it going, unless it is isolated."""
        if not self.running and not self.locks:
            self.running, self.since = True, minute

    def stop(self, minute: int) -> None:
        """Stops it."""
        if self.running:
            self.running = False
            self.ran_before += minute - self.since

    def ran(self, minute: int) -> int:
        """The running time so far [min]."""
        return self.ran_before + (minute - self.since if self.running else 0)
