"""How the example's parts wear, and what the fitters' tools read of it.

Each place of a part (loom, side, number) carries one or two wearing quantities; a quantity wears
with the loom's true running hours, each fitted part at its own rate. It leaves when to measure and
when to replace to `rounds` and `jobs`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random

from .shed import Quantity, quantities

QUANTITIES = quantities()

# Typical life new-to-limit [running h], spread of lives (log), and exponent of the wear curve:
# above 1 it accelerates, below 1 it runs in and flattens.
_LIVES: dict[tuple[str, str], tuple[float, float, float]] = {
    ("tape", "thickness"): (410.0, 0.20, 1.05),
    ("head", "force"): (700.0, 0.25, 0.90),
    ("guide", "gap"): (3200.0, 0.40, 1.00),
    ("cutter", "play"): (385.0, 0.22, 1.35),
    ("brake", "angle"): (760.0, 0.20, 1.00),
    ("brake", "lining"): (1500.0, 0.20, 1.00),
    ("belt", "tension"): (900.0, 0.20, 0.80),
    ("leno", "play"): (1150.0, 0.28, 1.10),
    ("filter", "pressure"): (840.0, 0.18, 1.50),
}

# One delivery of tapes was poor: its lives are shorter by this factor.
POOR_BATCH = "7F"
_POOR = 0.66
_GIVER = 0.86  # lives on the giver's side are shorter: it starts and stops the weft


@dataclass(slots=True)
class Wear:
    """One wearing quantity of a fitted part; `worn` is effective hours, `life` hours to limit."""

    quantity: Quantity
    fresh: float
    life: float
    shape: float
    worn: float = 0.0
    worst: float | None = None  # the worst reading since work restarted its level

    def value(self) -> float:
        """The true value now, in the quantity's unit."""
        span = abs(self.quantity.limit - self.quantity.new)
        gone: float = span * (self.worn / self.life) ** self.shape
        return max(self.fresh + self.quantity.sense * gone, 0.0)

    def used(self) -> float:
        """The share of the way from new to limit that is used up: 1 at the limit."""
        span = self.quantity.limit - self.quantity.new
        return (self.value() - self.quantity.new) / span

    def read(self, rng: Random) -> float:
        """What the tool shows: the true value with noise, rounded as it is written down.

        A fitter who sees a part better than last time, beyond what the tool can do, measures
        again; so no reading improves on the worst one by more than half the tool's uncertainty.
        """
        q = self.quantity
        for _ in range(12):
            shown = round(self.value() + rng.gauss(0.0, q.tool / 3), q.places)
            if self.worst is None or q.sense * (shown - self.worst) >= -0.5 * q.tool:
                return self.saw(shown)
        return self.saw(round(self.worst or 0.0, q.places))

    def saw(self, shown: float) -> float:
        """Remember a reading as seen and give it back."""
        q = self.quantity
        if self.worst is None or q.sense * (shown - self.worst) > 0:
            self.worst = shown
        return shown


@dataclass(slots=True)
class Place:
    """A part's place on a loom and what is fitted there."""

    part: str
    side: str = ""
    number: int = 0
    wears: dict[str, Wear] = field(default_factory=dict)
    held: bool = False  # the story decides when it is replaced, not the round
    empty: bool = False
    fitted: int = -1  # the minute of the entry that replaced it, if the log has it

    @property
    def label(self) -> str:
        """The place as a fitter writes it: ``left guide 3``."""
        return " ".join(w for w in (self.side, self.part, str(self.number or "")) if w)

    def fit(self, rng: Random, *, giver: str, batch: str = "") -> None:
        """Put a new part in; its quantities start afresh, each at its own rate."""
        self.empty = False
        for (part, name), (typical, spread, shape) in _LIVES.items():
            if part != self.part:
                continue
            q = QUANTITIES[part, name]
            life = typical * rng.lognormvariate(0.0, spread)
            life *= _GIVER if self.side == giver else 1.0
            life *= _POOR if batch == POOR_BATCH and part == "tape" else 1.0
            fresh = q.new + rng.gauss(0.0, q.tool / 2)
            self.wears[name] = Wear(quantity=q, fresh=fresh, life=life, shape=shape)

    def level(self, rng: Random, name: str, *, left: float) -> None:
        """Adjust or repair: the quantity's level restarts with `left` of its wear still on it."""
        wear = self.wears[name]
        wear.fresh = wear.quantity.new + rng.gauss(0.0, wear.quantity.tool / 2)
        wear.worn *= left
        wear.worst = None

    def run(self, hours: float) -> None:
        """Wear through some effective running hours."""
        if not self.empty:
            for wear in self.wears.values():
                wear.worn += hours


def places_of_loom(rng: Random, *, giver: str) -> list[Place]:
    """All measured places of one loom, each part somewhere in its life."""
    places: list[Place] = []
    for part in ("tape", "head", "leno"):
        places += [Place(part, side) for side in ("left", "right")]
    places += [Place("guide", "left" if n <= 3 else "right", n) for n in range(1, 7)]
    places += [Place(part) for part in ("cutter", "brake", "belt", "filter")]
    for place in places:
        place.fit(rng, giver=giver)
        for wear in place.wears.values():
            wear.worn = wear.life * rng.uniform(0.0, 0.85)
    return places
