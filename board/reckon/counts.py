"""Faults counted on each loom, and whether they scatter more than alike looms would.

Looms run unequal hours, so every count goes with its exposure. Which looms stand out is asked in
`above`; the rate of a single loom and its limits are in `recurrence`.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from board.reckon.refusal import Refusal
from grammar.frozen import dataclass

Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoomCount:
    """The faults counted on one loom, and the running hours (or picks) in which they were."""

    name: str
    count: int
    exposure: float

    def __post_init__(self) -> None:
        """Raise ValueError for a negative count or exposure."""
        if self.count < 0 or not 0.0 <= self.exposure < float("inf"):
            raise ValueError(f"{self.name}: count and exposure are not negative")


@dataclass(frozen=True, slots=True, kw_only=True)
class Dispersion:
    """How far counts scatter beyond Poisson: `index` is 1 where looms are alike.

    `chi_square` with `degrees` gives `p_value` for alike looms; the approximation is rough where
    `smallest_expected` is below about 5.
    """

    index: float
    chi_square: float
    degrees: int
    p_value: float
    looms: int
    count: int
    exposure: float
    smallest_expected: float


def dispersion(looms: Sequence[LoomCount]) -> Dispersion | Refusal:
    """Whether counts scatter more than Poisson: Pearson's chi-square over its degrees of freedom.

    `sum (n - rate t)**2 / (rate t)`, rate the total count over the total exposure, degrees one less
    than looms. Refuses below two looms with exposure, and without any fault.

    Source: Fisher's index of dispersion, as in McCullagh and Nelder 1989, Generalized Linear
    Models, section 4.5 (section number from memory).
    """
    from scipy.special import gammaincc

    _, count, exposure = columns(looms)
    if count.size < 2 or not count.sum():
        return Refusal(
            reason=f"{count.sum():.0f} faults on {count.size} looms with running time on record, a "
            "spread needs 2 looms and a fault"
        )
    expected = count.sum() / exposure.sum() * exposure
    chi_square = float(((count - expected) ** 2 / expected).sum())
    degrees = count.size - 1
    return Dispersion(
        index=chi_square / degrees,
        chi_square=chi_square,
        degrees=degrees,
        p_value=float(gammaincc(degrees / 2.0, chi_square / 2.0)),
        looms=int(count.size),
        count=int(count.sum()),
        exposure=float(exposure.sum()),
        smallest_expected=float(expected.min()),
    )


def columns(looms: Sequence[LoomCount]) -> tuple[list[str], Numbers, Numbers]:
    """Name, count and exposure of the looms that have exposure."""
    kept = [loom for loom in looms if loom.exposure > 0.0]
    count = np.array([loom.count for loom in kept], dtype=np.float64)
    exposure = np.array([loom.exposure for loom in kept], dtype=np.float64)
    return [loom.name for loom in kept], count, exposure


def moment_dispersion(count: Numbers, exposure: Numbers) -> float:
    """The dispersion of the looms' rates by moments: their variance over their squared mean.

    0 where counts scatter no more than Poisson.
    """
    expected = count.sum() / exposure.sum() * exposure
    excess = ((count - expected) ** 2 - expected).sum() / (expected**2).sum()
    return max(float(excess), 0.0)
