"""How long the whole shed's forecasts take: 300 looms x 12 parts, one core, no cache.

Run: python -m tests.bench.wear_speed

The target is 0.5 s for all of it: studying the past lives of every part, 3600 forecasts of 2 to 9
readings, and the chance of each limit passing within a shift and a week.
"""

from __future__ import annotations

from time import perf_counter

import numpy as np

from board.reckon.forecast import Forecast, p_before
from board.reckon.refusal import Refusal
from board.reckon.series import Life, Quantity, Toward, exact_series
from board.reckon.wear import forecasts, study
from tests.bench.wear_coverage import SHAPES, simulate

LOOMS, PARTS = 300, 12


def measure(past: int, noise: float) -> tuple[float, float, float, float, int]:
    """Seconds for study, forecasts, chances, and own lines instead; and the forecasts made."""
    rng = np.random.default_rng(past)
    quantity = Quantity(limit=1.0, toward=Toward.UP, new=0.0, uncertainty=2.0 * noise)
    shed = []
    for part in range(PARTS):
        wear = list(SHAPES.values())[part % len(SHAPES)]
        lives, service = [], []
        for _ in range(past):
            use, read, _ = simulate(rng, wear, noise)
            stop = int(np.argmax(read >= 1.0)) + 1
            lives.append(Life(series=exact_series(use[:stop], read[:stop]), ended=use[stop - 1]))
        for _ in range(LOOMS):
            use, read, _ = simulate(rng, wear, noise)
            count = int(rng.integers(2, 10))
            service.append(exact_series(use[:count], read[:count], now=use[count - 1] + 40.0))
        shed.append((lives, service))

    begun = perf_counter()
    known = [study(lives, quantity) for lives, _ in shed]
    studied = perf_counter()
    answers = [forecasts(s, quantity, k) for (_, s), k in zip(shed, known, strict=True)]
    forecast = perf_counter()
    made = [[a for a in part if isinstance(a, Forecast)] for part in answers]
    for part_made in made:
        p_before(part_made, np.array([8.0, 168.0]))
    chanced = perf_counter()
    young = Refusal(reason="asked for its own line")
    for _, service in shed:
        forecasts(service, quantity, young)
    own = perf_counter()
    return (
        studied - begun,
        forecast - studied,
        chanced - forecast,
        own - chanced,
        sum(len(part) for part in made),
    )


def main() -> None:
    print(
        f"{'past lives':>10} {'noise':>6} {'study':>7} {'forecast':>9} {'chances':>8} {'sum':>7}"
        f" {'own lines':>10}  [s]  forecasts"
    )
    for past in (10, 40):
        for noise in (0.0, 0.04):
            best = min((measure(past, noise) for _ in range(3)), key=lambda m: sum(m[:3]))
            total = sum(best[:3])
            print(
                f"{past:10d} {noise:6.2f} {best[0]:7.3f} {best[1]:9.3f} {best[2]:8.3f}"
                f" {total:7.3f} {best[3]:10.3f}       {best[4]}"
            )


if __name__ == "__main__":
    main()
