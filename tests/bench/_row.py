"""A row of the benchmark's table: what is measured, what must be reached, and what was."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from tests.bench._place import Place


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A figure that must be reached: at most the bound, or at least."""

    figure: str
    bound: float
    unit: str
    at_least: bool = False

    def met(self, figures: Mapping[str, float]) -> bool:
        """Whether a row's figures reach it."""
        value = figures[self.figure]
        return value >= self.bound if self.at_least else value <= self.bound

    def words(self) -> str:
        """The target in words, say ``p95 at most 50 ms``."""
        name = f"{self.figure} " if self.figure else ""
        return f"{name}{'at least' if self.at_least else 'at most'} {amount(self.bound, self.unit)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """What was measured. ``figures`` by the names of the targets, ``more`` beside them.

    ``ratio`` to the yardstick ``against``: how often as fast, or as long, in the row's own sense.
    """

    figures: Mapping[str, float]
    units: Mapping[str, str]
    against: str = ""
    ratio: float | None = None
    peak_mib: float | None = None
    more: str = ""

    def words(self) -> str:
        """The figures in words."""
        told = [
            f"{name} {amount(value, self.units[name])}".strip()
            for name, value in self.figures.items()
        ]
        return ", ".join([*told, *([self.more] if self.more else [])])


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A row: ``at`` is the size that its targets are for; one that ``grows`` is told at each size.

    One that is ``indexed`` needs the index of the copy.
    """

    key: str
    what: str
    targets: tuple[Target, ...]
    measure: Callable[[Place], Reached]
    at: str = "1m"
    grows: bool = False
    indexed: bool = False

    def target(self) -> str:
        """All targets in words."""
        return ", ".join(target.words() for target in self.targets)


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """What became of one row at one size. ``why`` tells why nothing was measured."""

    row: Row
    size: str
    reached: Reached | None = None
    why: str = ""
    peak_mib: float = field(default=0.0)

    def met(self) -> str:
        """``yes``, ``no``, or nothing where the target is for another size."""
        if self.reached is None or self.size != self.row.at:
            return ""
        return "yes" if all(t.met(self.reached.figures) for t in self.row.targets) else "NO"


def amount(value: float, unit: str) -> str:
    """A figure with its unit, as many digits as it deserves."""
    if unit == "x":
        return f"{value:.2g} x" if value < 10 else f"{value:,.0f} x"
    if value >= 100 or value == int(value):
        return f"{value:,.0f} {unit}".rstrip()
    return f"{value:.3g} {unit}".rstrip()
