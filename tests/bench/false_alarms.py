"""How often the list of looms above the fleet names a loom in fleets without a culprit.

Run as `python -m tests.bench.false_alarms [FLEETS]`: prints, for each size of fleet, mean count,
spread and form of spread, the share of simulated fleets that show a loom, and then how often one
loom at two and three times the fleet's rate is found.
"""

import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from board.reckon.above import AboveFleet, looms_above
from board.reckon.counts import LoomCount
from board.reckon.spread import Spread

Numbers = NDArray[np.float64]

SIZES = (12, 30, 100, 300)
MEANS = (0.5, 2.0, 10.0)
DISPERSIONS = (0.1, 0.25, 0.5, 1.0, 2.0)
Q = 0.10


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A kind of fleet: its size, the mean count a loom, and how the looms' own rates differ.

    Dispersion 0 is Poisson. Exposures are log-normal, the largest of 30 about ten times the least.
    """

    looms: int
    mean: float
    dispersion: float
    spread: Spread

    def draw(self, random: np.random.Generator) -> tuple[Numbers, Numbers, Numbers]:
        """Exposure, relative rate and name-blind count of each loom of one fleet."""
        exposure = np.exp(random.normal(0.0, 0.6, self.looms))
        exposure /= exposure.mean()
        rate = self._rates(exposure, random)
        return exposure, rate, random.poisson(self.mean * rate * exposure).astype(np.float64)

    def _rates(self, exposure: Numbers, random: np.random.Generator) -> Numbers:
        if self.dispersion == 0.0:
            return np.ones(self.looms)
        match self.spread:
            case Spread.GAMMA:
                return random.gamma(1.0 / self.dispersion, self.dispersion, self.looms)
            case Spread.BURSTS:
                shape = exposure / self.dispersion
                return random.gamma(shape, 1.0 / shape)
            case Spread.LOG_NORMAL:
                sigma = float(np.sqrt(np.log1p(self.dispersion)))
                return np.exp(random.normal(-(sigma**2) / 2.0, sigma, self.looms))


def cases() -> Iterator[Case]:
    """Every kind of fleet simulated; Poisson fleets once for each size and mean."""
    for looms, mean in product(SIZES, MEANS):
        yield Case(looms=looms, mean=mean, dispersion=0.0, spread=Spread.GAMMA)
        for dispersion, spread in product(DISPERSIONS, Spread):
            yield Case(looms=looms, mean=mean, dispersion=dispersion, spread=spread)


def named(exposure: Numbers, count: Numbers) -> tuple[str, ...]:
    """The looms that the product's own list names; none where it refuses."""
    looms = [
        LoomCount(name=str(place), count=int(count[place]), exposure=float(exposure[place]))
        for place in range(count.size)
    ]
    answer = looms_above(looms, q=Q)
    return tuple(loom.name for loom in answer.above) if isinstance(answer, AboveFleet) else ()


def false_alarms(case: Case, fleets: int, random: np.random.Generator) -> int:
    """How many of this number of fleets without a culprit show a loom."""
    alarms = 0
    for _ in range(fleets):
        exposure, _, count = case.draw(random)
        alarms += bool(named(exposure, count))
    return alarms


def found(case: Case, factor: float, fleets: int, random: np.random.Generator) -> int:
    """In how many fleets one loom of mean exposure, at a multiple of the fleet's rate, is named."""
    hits = 0
    for _ in range(fleets):
        exposure, _, count = case.draw(random)
        exposure[0] = 1.0
        # The culprit itself has the fleet's rate times the factor, without a spread of its own.
        count[0] = random.poisson(case.mean * factor)
        hits += "0" in named(exposure, count)
    return hits


def _table(head: str, lines: Iterable[str]) -> None:
    print(head)
    for line in lines:
        print(line, flush=True)


def main(fleets: int) -> None:
    """Print both tables."""
    random = np.random.default_rng(20240501)
    alarms: list[tuple[Case, int]] = []

    def alarm_lines() -> Iterator[str]:
        for case in cases():
            alarms.append((case, false_alarms(case, fleets, random)))
            yield (
                f"{case.looms:5d} {case.mean:6.1f} {case.dispersion:8.2f}  {case.spread.name:10s} "
                f"{alarms[-1][1] / fleets:7.3f}"
            )

    _table(f"{'looms':>5s} {'mean':>6s} {'spread':>8s}  {'form':10s}  alarms", alarm_lines())
    total = sum(count for _, count in alarms)
    worst, count = max(alarms, key=lambda pair: pair[1])
    print(
        f"all: {total} of {fleets * len(alarms)} fleets ({total / fleets / len(alarms):.1%}); "
        f"worst: {count} of {fleets}, {worst}"
    )

    def power_lines() -> Iterator[str]:
        for looms, mean, dispersion in product(SIZES, (2.0, 5.0, 10.0, 20.0), (0.0, 0.1, 0.25)):
            case = Case(looms=looms, mean=mean, dispersion=dispersion, spread=Spread.GAMMA)
            two, three = (found(case, factor, fleets // 2, random) for factor in (2.0, 3.0))
            yield (
                f"{looms:5d} {mean:6.1f} {dispersion:8.2f} {two / (fleets // 2):7.2f} "
                f"{three / (fleets // 2):7.2f}"
            )

    _table(f"\n{'looms':>5s} {'mean':>6s} {'spread':>8s} at 2x    at 3x", power_lines())


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
