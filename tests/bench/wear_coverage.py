"""Does the 90 % band hold? Simulated fleets, their future known, a table of coverage and width.

Run: python -m tests.bench.wear_coverage [fleets a case]

Every simulated number is invented: lives of gamma-distributed length (mean 1000 h, coefficient of
variation 25 %), uneven wear (a gamma process), new parts that differ by 2 % of the way to the limit,
checks every 100 h give or take 30 %, read by a gauge with noise. A past life ends at the first reading
past the limit. The truth of a forecast is the use at which the noise-free wear reaches the limit.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from board.reckon.refusal import Refusal
from board.reckon.series import Life, Quantity, Series, Toward, exact_series
from board.reckon.wear import Forecast, Method, NoForecast, Unbounded, forecasts, study

Array = NDArray[np.float64]
HOURS = 1000.0
COUNTS = (2, 3, 4, 5, 6)
SHAPES: dict[str, Callable[[Array], Array]] = {
    "near-linear": lambda age: age,
    "accelerating": lambda age: age**1.8,
    "running-in": lambda age: age**0.6,
}
CASES = [(shape, noise, past) for shape in SHAPES for noise in (0.0, 0.04) for past in (4, 12, 40)]


@dataclass
class Cell:
    """What became of the forecasts of one case from one number of readings."""

    early: int = 0
    late: int = 0
    refused: int = 0
    widths: list[float] = field(default_factory=list)
    errors: list[float] = field(default_factory=list)
    # method -> (log of truth over median, log half width of the band or 1, median)
    others: dict[str, list[tuple[float, float, float]]] = field(default_factory=dict)

    @property
    def judged(self) -> int:
        return len(self.widths)

    @property
    def held(self) -> int:
        return self.judged - self.early - self.late

    def best_width(self) -> tuple[str, float]:
        """The narrowest method's median width, every band scaled to hold as often as ours."""
        share = self.held / self.judged
        widths = {}
        for name, rows in self.others.items():
            error, half, median = np.array(rows).T
            with np.errstate(over="ignore", invalid="ignore"):
                scale = float(np.quantile(np.abs(error) / half, share, method="higher"))
                spread = median * (np.exp(scale * half) - np.exp(-scale * half))
            widths[name] = float(np.median(np.nan_to_num(spread, nan=np.inf)))
        name = min(widths, key=lambda key: widths[key])
        return name, widths[name]


def simulate(
    rng: np.random.Generator, wear: Callable[[Array], Array], noise: float
) -> tuple[Array, Array, float]:
    """One life: uses [h] and readings on an open-ended row of checks, and the true crossing [h]."""
    life = rng.gamma(16.0, 1.0 / 16.0)
    fine = np.linspace(0.0, 4.0, 801)
    uneven = 0.02**2
    age = np.concatenate([[0.0], np.cumsum(rng.gamma(np.diff(fine) / life / uneven, uneven))])
    true = 0.02 * rng.standard_normal() + wear(age)
    crossing = float(np.interp(1.0, np.maximum.accumulate(true), fine))
    use = np.concatenate([[0.0], np.cumsum(0.1 * rng.uniform(0.7, 1.3, 30))])
    read = np.interp(use, fine, true) + noise * rng.standard_normal(use.size)
    return HOURS * use, read, HOURS * crossing


def run_case(shape: str, noise: float, past: int, fleets: int, seed: int = 20) -> dict[int, Cell]:
    """Simulate fleets of past lives, each with four lives to forecast from 2 to 6 readings."""
    rng = np.random.default_rng([seed, past, round(1000 * noise), list(SHAPES).index(shape)])
    quantity = Quantity(limit=1.0, toward=Toward.UP, new=0.0, uncertainty=2.0 * noise)
    cells = {count: Cell() for count in COUNTS}
    for _ in range(fleets):
        lives, ends, rates = [], [], []
        for _ in range(past):
            use, read, _crossing = simulate(rng, SHAPES[shape], noise)
            stop = int(np.argmax(read >= 1.0))
            lives.append(
                Life(series=exact_series(use[: stop + 1], read[: stop + 1]), ended=use[stop])
            )
            ends.append(float(np.interp(1.0, read[stop - 1 : stop + 1], use[stop - 1 : stop + 1])))
            rates.append((read[stop] - read[0]) / (use[stop] - use[0]))
        asked: list[Series] = []
        truth: list[tuple[int, float]] = []
        for _ in range(4):
            use, read, crossing = simulate(rng, SHAPES[shape], noise)
            for count in COUNTS:
                if use[count - 1] < crossing and (read[:count] < 1.0).all():
                    asked.append(exact_series(use[:count], read[:count]))
                    truth.append((count, crossing - use[count - 1]))
        known = study(lives, quantity)
        assert not isinstance(known, Refusal)
        ways = {
            "line": forecasts(asked, quantity, study(lives, quantity, (Method.LINE,))),
            "curve": forecasts(asked, quantity, study(lives, quantity, (Method.CURVE,))),
        }
        for i, (answer, (count, left)) in enumerate(
            zip(forecasts(asked, quantity, known), truth, strict=True)
        ):
            cell = cells[count]
            if isinstance(answer, NoForecast):
                cell.refused += 1
                continue
            high = np.inf if isinstance(answer.high, Unbounded) else answer.high
            cell.early += left < answer.low
            cell.late += left > high
            cell.widths.append(high - answer.low)
            cell.errors.append(abs(answer.median - left))
            for name, others in ways.items():
                _add(cell, name, others[i], left)
            use, read = asked[i].use, asked[i].value
            own = float(np.polyfit(use, read, 1)[0]) if count > 1 else 0.0
            _plain(cell, "readings ignored", float(np.median(ends)) - use[-1], left)
            _plain(cell, "fleet's mean rate", (1.0 - read[-1]) / float(np.mean(rates)), left)
            _plain(cell, "own line", (1.0 - read[-1]) / own if own > 0.0 else np.inf, left)
    return cells


def _add(cell: Cell, name: str, answer: Forecast | NoForecast, left: float) -> None:
    if isinstance(answer, NoForecast):
        return
    high = np.inf if isinstance(answer.high, Unbounded) else answer.high
    half = 0.5 * np.log(high / max(answer.low, 1e-3))
    middle = max(answer.median, 1.0)
    cell.others.setdefault(name, []).append((np.log(left / middle), half, middle))


def _plain(cell: Cell, name: str, median: float, left: float) -> None:
    """A method without a band of its own: the same relative width for all."""
    middle = min(max(median, 1.0), 1e9)
    cell.others.setdefault(name, []).append((np.log(left / middle), 1.0, middle))


def coverage(cells: dict[int, Cell]) -> float:
    """Share of all judged forecasts of a case whose band held."""
    return sum(cell.held for cell in cells.values()) / sum(cell.judged for cell in cells.values())


def main(fleets: int) -> None:
    print(
        f"{'shape':13} {'noise':>5} {'past':>4} {'lives':>5} {'held':>6}   by readings seen, k = 2..6:"
        " held % (early, late %), median width [h], median error [h], width / best at equal coverage"
    )
    for shape, noise, past in CASES:
        cells = run_case(shape, noise, past, fleets)
        parts = []
        for cell in cells.values():
            _, best = cell.best_width()
            parts.append(
                f"{100 * cell.held / cell.judged:5.1f} ({100 * cell.early / cell.judged:.1f},"
                f"{100 * cell.late / cell.judged:.1f}) {np.median(cell.widths):5.0f}"
                f" {np.median(cell.errors):4.0f} {np.median(cell.widths) / best:.2f}"
            )
        refused = sum(cell.refused for cell in cells.values())
        print(
            f"{shape:13} {noise:5.2f} {past:4d} {4 * fleets:5d} {100 * coverage(cells):6.2f}   "
            + " | ".join(parts)
            + (f"  refused {refused}" if refused else ""),
            flush=True,
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 250)
