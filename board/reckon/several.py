"""Corrections for asking many questions of the same record.

Of twenty comparisons without anything in them, one comes out at 0.05: Holm's method keeps the
chance of any such find, Benjamini and Hochberg's the share of such finds among those named.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray


def holm(p_values: Sequence[float]) -> tuple[float, ...]:
    """P-values adjusted for several comparisons, in the order given.

    The smallest is multiplied by their number m, the next by m - 1 and so on, never falling and
    never above 1.

    Source: Holm 1979, Scandinavian Journal of Statistics 6:65-70.
    """
    adjusted = [0.0] * len(p_values)
    running = 0.0
    ascending = sorted(range(len(p_values)), key=lambda index: p_values[index])
    for rank, index in enumerate(ascending):
        running = max(running, min(1.0, (len(p_values) - rank) * p_values[index]))
        adjusted[index] = running
    return tuple(adjusted)


def benjamini_hochberg(chance: NDArray[np.float64]) -> NDArray[np.float64]:
    """The q at which each of several tests would just be named, in the order given.

    The i-th smallest of m becomes `min over j >= i of m p_j / j`, at most 1.

    Source: Benjamini and Hochberg 1995, JRSS B 57:289-300.
    """
    ascending = np.argsort(chance, kind="stable")
    steps = chance[ascending] * chance.size / np.arange(1, chance.size + 1)
    adjusted = np.empty_like(steps)
    adjusted[ascending] = np.minimum(np.minimum.accumulate(steps[::-1])[::-1], 1.0)
    return adjusted
