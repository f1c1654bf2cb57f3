"""How often parts are wanted within a horizon, each and its successors, and all of them together.

What it does: the chances that each of many parts is wanted 0, 1, 2 times and so on under a law of
life, and the distribution of their sum, under several laws side by side.
What it leaves to others: which parts and laws these are, and what the sum is for (`stock`). Time is
in one unit of the caller's, pace in use per that unit.
"""

from collections.abc import Sequence

import numpy as np

from board.reckon.laws import LifeLaw, Numbers
from board.reckon.refusal import Refusal
from board.reckon.series import Codes

CELLS = 200
NEGLIGIBLE = 1e-12
# Above so many renewals of one part within the horizon, the horizon is no forecast.
MOST_RENEWALS = 60


class Ahead:
    """Parts looked at over one horizon [time], with all of it that no law changes.

    First those of an `age` [use], of whose lives the law tells, then those of which `gone`
    (parts, CELLS + 1) tells the chance that each is gone at even points from now to the horizon.
    `pace` (parts,) [use / time] is of all of them; from it comes the use that is left to
    successors in the middle of each cell.
    """

    def __init__(self, age: Numbers, pace: Numbers, gone: Numbers, horizon: float) -> None:
        self.age = age[:, None]
        self.pace = pace
        self.horizon = horizon
        self._use = (pace * horizon)[:, None]
        # parts of one pace leave their successors the same
        paces, of_pace = np.unique(pace, return_inverse=True)
        self._of_pace: Codes = of_pace.astype(np.int64)
        cell = (np.arange(CELLS) + 0.5) / CELLS
        self._rest = (paces * horizon)[:, None] * (1.0 - cell)
        self._longest = float(self._use.max(initial=0.0))
        self._point = np.linspace(0.0, self._longest, CELLS + 1)
        self._middle = self._longest * cell
        place = np.searchsorted(self._point, self._rest, side="right") - 1
        self._place = np.clip(place, 0, CELLS - 1)
        width = np.diff(self._point)[self._place]
        self._share = (self._rest - self._point[self._place]) / np.where(width > 0.0, width, 1.0)
        self._gone = gone
        self._rise = np.diff(gone)
        self._weights = self._on_points(self._rise, self._of_pace[len(age) :])

    def wanted(self, law: LifeLaw) -> Numbers | Refusal:
        """The chances that each part is wanted 0, 1, 2 times and so on; parts x times.

        A part of age a is wanted k + 1 times or more with the chance
        `integral F_k(use - x) dF_a(x)`, F_k the law of k lives in a row: Riemann-Stieltjes sums at
        midpoints, F_1 the law itself, the others interpolated between even points.
        """
        parts, aged = len(self.pace), len(self.age)
        if not parts:
            return np.ones((0, 1))
        edge = np.linspace(0.0, 1.0, CELLS + 1)
        own = law.failing(self.age, self._use[:aged] * edge)
        gone = np.vstack([own, self._gone])
        rise = np.diff(own)
        weights = np.vstack([self._on_points(rise, self._of_pace[:aged]), self._weights])
        life = law.failing(0.0, self._point)
        middle, new = law.failing(0.0, self._middle), np.diff(life)
        second = np.vstack([rise, self._rise]) * law.failing(0.0, self._rest)[self._of_pace]
        at_least = [np.ones(parts), gone[:, -1], second.sum(axis=1)]
        while at_least[-1].max() > NEGLIGIBLE:
            if len(at_least) > MOST_RENEWALS:
                return Refusal(
                    reason=f"a part may be renewed more than {MOST_RENEWALS} times within this "
                    "horizon"
                )
            life = np.concatenate([[0.0], np.convolve(middle, new)[:CELLS]])
            middle = (life[1:] + life[:-1]) / 2.0
            at_least.append(weights @ life)
        chances = np.column_stack([*at_least, np.zeros(parts)])
        return np.maximum(-np.diff(chances), 0.0)

    def _on_points(self, rise: Numbers, of_pace: Codes) -> Numbers:
        """What each even point of use weighs in the sum of a law, interpolated, over the cells.

        `rise` (parts, CELLS) and the place of the pace of each; (parts, CELLS + 1).
        """
        place, share = self._place[of_pace], self._share[of_pace]
        first = np.arange(len(rise))[:, None] * (CELLS + 1) + place
        size = len(rise) * (CELLS + 1)
        weights = np.bincount(first.ravel(), (rise * (1.0 - share)).ravel(), size)
        weights += np.bincount(first.ravel() + 1, (rise * share).ravel(), size)
        return np.asarray(weights, dtype=np.float64).reshape(len(rise), CELLS + 1)


def sums(several: Sequence[Numbers]) -> Numbers:
    """The distribution of the sum of independent counts, a negligible end cut off.

    Each of `several` (parts, times) has the chances of all parts under one law. One row a law,
    shorter ones filled up with zeros.
    """
    times = max(counts.shape[1] for counts in several)
    each = np.stack([np.pad(c, ((0, 0), (0, times - c.shape[1]))) for c in several], axis=1)
    total = np.ones((len(several), 1))
    for chances in each:
        size = total.shape[1]
        both = np.zeros((len(several), size + times - 1))
        for more in range(times):
            both[:, more : more + size] += total * chances[:, more, None]
        counts = np.logical_or.accumulate(both[:, ::-1] > NEGLIGIBLE, axis=1)[:, ::-1]
        total = (both * counts)[:, : int(counts.any(axis=0).sum())]
    return total
