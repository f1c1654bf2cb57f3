"""What the wear forecast reads: series of readings, past lives, and the limit they run to.

What it does: holds the readings of one part life against running hours, and lays many of them out
in padded arrays of *progress*, the signed distance beyond the limit (negative inside), so that
every later step works on all series at once.
What it leaves to others: where running hours come from, which readings count, and units; the
numbers of one quantity must share one unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field
from enum import Enum
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from grammar.frozen import dataclass

Array = NDArray[np.float64]
Codes = NDArray[np.int64]
Mask = NDArray[np.bool_]
T = TypeVar("T", Array, Codes)


class Toward(Enum):
    """The side on which the limit lies: a gap grows UP to it, a thickness goes DOWN to it."""

    UP = "replace above"
    DOWN = "replace below"


class Origin(Enum):
    """What use 0 of a series is: the fitting of the part, or only its first reading."""

    FITTED = "fitted"
    FIRST_READING = "first reading"


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One measured quantity of a part: its limit, the way it wears and how well it is measured.

    `limit`, `new` (typical reading of a new part, None where the register has none) and
    `uncertainty` (expanded, k = 2) in the part's unit.
    """

    limit: float
    toward: Toward
    uncertainty: float = 0.0
    new: float | None = None

    @property
    def sign(self) -> float:
        """1.0 where wear makes the value grow, -1.0 where it makes it fall."""
        return 1.0 if self.toward is Toward.UP else -1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """The readings of one part since it was fitted, in order of use.

    `use` [running h since use 0], `value` [the part's unit], `kind` (a `Kind` a reading) and
    `level` (0, 1, ...; one more after each job that sets the reading anew) are arrays of one
    length n; `now` [running h] is the use at the moment of asking, at least the last `use`.
    `step` [the part's unit] is that of the last digit each was written with, 0 where it is not
    known; empty: of none.
    """

    use: Array
    value: Array
    kind: Codes
    level: Codes
    now: float
    origin: Origin = Origin.FITTED
    step: Array = field(default_factory=lambda: np.zeros(0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """A part life that has ended: its readings, and `ended` [running h], its use at the end."""

    series: Series
    ended: float


def exact_series(
    use: Sequence[float] | Array,
    value: Sequence[float] | Array,
    now: float | None = None,
    origin: Origin = Origin.FITTED,
    step: float = 0.0,
) -> Series:
    """Make a series of plain readings on one level; `now` is the last use where left out.

    All were written to one `step` [the part's unit], 0: not known.

    Raises ValueError where `use` is empty and `now` is left out.
    """
    uses = np.asarray(use, dtype=float)
    if now is None:
        if uses.size == 0:
            raise ValueError("a series without readings needs its present use")
        now = float(uses[-1])
    zeros = np.zeros(uses.size, dtype=np.int64)
    return Series(
        use=uses,
        value=np.asarray(value, dtype=float),
        kind=zeros,
        level=zeros,
        now=now,
        origin=origin,
        step=np.full(uses.size, step) if step else np.zeros(0),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """Many series side by side: rows are series, columns readings, padded on the right.

    `use` [h], `progress` [the part's unit, beyond the limit positive], `kind` (turned so that
    ABOVE means further worn), `fresh` (first reading of a level other than the series' first),
    `there` (a reading, not padding), each of shape (series, longest); `count`, `now` [h] and
    `fitted` (use 0 is the fitting) of shape (series,). `rounding` (series,) is the standard
    uncertainty that readings have by being written to a step, 0 where the gauge's is given.
    """

    use: Array
    progress: Array
    kind: Codes
    fresh: Mask
    there: Mask
    count: Codes
    now: Array
    fitted: Mask
    rounding: Array

    def rows(self, index: Codes | Mask) -> Packed:
        """Only the rows named by an index or mask, in that order."""
        return Packed(
            use=self.use[index],
            progress=self.progress[index],
            kind=self.kind[index],
            fresh=self.fresh[index],
            there=self.there[index],
            count=self.count[index],
            now=self.now[index],
            fitted=self.fitted[index],
            rounding=self.rounding[index],
        )


def pack(series: Sequence[Series], quantity: Quantity) -> Packed:
    """Lay the series out side by side as progress toward the limit.

    Raises ValueError where lengths differ within a series, uses step back or lie after `now`,
    a number is not finite, or a kind is none of `Kind`.
    """
    count = np.array([len(one.use) for one in series], dtype=np.int64)
    for one, n in zip(series, count, strict=True):
        if not len(one.value) == len(one.kind) == len(one.level) == n:
            raise ValueError("use, value, kind and level of a series must have one length")
        if len(one.step) not in (0, n):
            raise ValueError("a series has a step for each reading, or none")
    none, codes = np.zeros(0), np.zeros(0, dtype=np.int64)
    return laid(
        quantity,
        count=count,
        use=np.concatenate([none, *(one.use for one in series)]),
        value=np.concatenate([none, *(one.value for one in series)]),
        step=np.concatenate(
            [none, *(s.step if len(s.step) else np.zeros(len(s.use)) for s in series)]
        ),
        kind=np.concatenate([codes, *(one.kind for one in series)]),
        level=np.concatenate([codes, *(one.level for one in series)]),
        now=np.array([one.now for one in series], dtype=float),
        fitted=np.array([one.origin is Origin.FITTED for one in series], dtype=bool),
    )


def laid(
    quantity: Quantity,
    *,
    count: Codes,
    use: Array,
    value: Array,
    step: Array,
    kind: Codes,
    level: Codes,
    now: Array,
    fitted: Mask,
) -> Packed:
    """The same of series that stand behind each other already, each with `count` readings.

    Raises ValueError as `pack` does.
    """
    widest = max(1, int(count.max(initial=0)))
    there = np.arange(widest) < count[:, None]
    given = use
    use, value = _spread(use, there), _spread(value, there)
    kind, level = _spread(kind, there), _spread(level, there)

    # Padding repeats the last reading's use, so that steps of use over padding are zero.
    use = np.maximum.accumulate(np.where(there, use, -np.inf), axis=1)
    use[count == 0] = 0.0
    if not (np.isfinite(use).all() and np.isfinite(value).all() and np.isfinite(now).all()):
        raise ValueError("uses and values must be finite numbers")
    if (use[there] != given).any() or (use[:, -1] > now).any():
        raise ValueError("uses must not step back, nor lie after the present use")
    if (np.abs(kind) > 1).any():
        raise ValueError("a kind must be BELOW, EXACT or ABOVE")

    fresh = np.zeros(there.shape, dtype=bool)
    fresh[:, 1:] = (level[:, 1:] != level[:, :-1]) & there[:, 1:]
    return Packed(
        use=use,
        progress=np.where(there, quantity.sign * (value - quantity.limit), 0.0),
        kind=np.where(there, kind * int(quantity.sign), 0),
        fresh=fresh,
        there=there,
        count=count,
        now=now,
        fitted=fitted,
        rounding=_rounding(quantity, _spread(step, there), there & (kind == 0)),
    )


def _rounding(quantity: Quantity, step: Array, plain: Mask) -> Array:
    """What the finest plain reading of each series is uncertain by, for being written to a step.

    Of no use where the register tells how well the gauge measures. A reading may lie anywhere
    within half a step: a rectangular distribution of the standard deviation `step / sqrt(12)`.

    Source: JCGM 100:2008 (GUM), 4.3.7 and F.2.2.1 (from memory).
    """
    if quantity.uncertainty > 0.0:
        return np.zeros(len(step))
    finest = np.where(plain & (step > 0.0), step, np.inf).min(axis=1)
    return np.asarray(np.where(np.isfinite(finest), finest, 0.0) / np.sqrt(12.0))


def _spread(column: T, there: Mask) -> T:
    """What stands behind each other side by side, zeros where nothing is there."""
    found = np.zeros(there.shape, dtype=column.dtype)
    found[there] = column
    return found
