"""The fleet's mean wear curve, and effective age on it.

What it does: brings past lives to one age scale, where every life reaches a common level at age 1,
and draws one rising curve through their readings; a reading is then worth an *effective age*, and
in effective age a curved fleet runs straight. One curve for each life left out, so that a life can
be judged by a curve that has not seen it.
What it leaves to others: whether a curve beats a straight line, which the fleet's past decides.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from board.reckon.series import Array, Codes
from grammar.frozen import dataclass

PIECES = 16
# Exponent of the knots' ages: 1 spaces them evenly, more puts them closer to the start.
SPACING = 1.5
# Stiffness of the curve, in readings: large draws a straight line, small follows every reading.
STIFFNESS = 0.1
# Flattest piece allowed, as a share of the chord: a flat piece would make every age equally likely.
FLATTEST = 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """Rising piecewise-linear curves wear = g(age), one a row, extended by their end pieces.

    `ages` (knots,): where the pieces meet, from 0; `knots` (rows, knots): the wear there [new 0,
    limit 1].
    """

    ages: Array
    knots: Array

    def wear(self, age: Array) -> Array:
        """Wear at an age, shape (rows,)."""
        return self.tangent(age)[0]

    def slope(self, age: Array) -> Array:
        """Wear a unit of age, shape (rows,)."""
        return self.tangent(age)[1]

    def tangent(self, age: Array) -> tuple[Array, Array]:
        """Wear at an age, and wear a unit of age there, each of shape (rows,)."""
        piece = np.searchsorted(self.ages[1:-1], age, side="right")
        row = np.arange(len(age))
        wear, at = self.knots[row, piece], self.ages[piece]
        slope = (self.knots[row, piece + 1] - wear) / (self.ages[piece + 1] - at)
        return wear + (age - at) * slope, slope

    def age(self, wear: Array) -> Array:
        """The age at which a curve has reached a wear, shape (rows,)."""
        piece = (wear[:, None] >= self.knots[:, 1:-1]).sum(axis=1)
        row = np.arange(len(wear))
        left, at = self.knots[row, piece], self.ages[piece]
        slope = (self.knots[row, piece + 1] - left) / (self.ages[piece + 1] - at)
        return np.asarray(at + (wear - left) / slope)

    def rows(self, index: Codes) -> Curves:
        """The curves of the rows named, in that order (a row may come more than once)."""
        return Curves(ages=self.ages, knots=self.knots[index])


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvesAbreast:
    """The same of parts of several fleets, the curves of each fleet with ages of its own.

    `ages`, `knots` and the `slopes` of the pieces, of shape (fleets, knots); `whose` (rows,) is the
    fleet of each part, and `inner` (knots - 2, rows) where the pieces of its curve meet.
    """

    ages: Array
    knots: Array
    slopes: Array
    whose: Codes
    inner: Array

    def tangent(self, age: Array) -> tuple[Array, Array]:
        """Wear at an age, and wear a unit of age there, each of shape (rows,)."""
        piece = (self.inner <= age).sum(axis=0, dtype=np.int8)
        at = self.whose * self.ages.shape[1] + piece
        slope = self.slopes.take(at)
        return self.knots.take(at) + (age - self.ages.take(at)) * slope, slope

    def slope(self, age: Array) -> Array:
        """Wear a unit of age, shape (rows,)."""
        return self.tangent(age)[1]

    def age(self, wear: Array) -> Array:
        """The age at which a curve has reached a wear, shape (rows,)."""
        piece = (wear[:, None] >= self.knots[self.whose, 1:-1]).sum(axis=1)
        at = self.whose * self.ages.shape[1] + piece
        return np.asarray(self.ages.take(at) + (wear - self.knots.take(at)) / self.slopes.take(at))

    def rows(self, index: Codes | slice) -> CurvesAbreast:
        """The curves of the rows named, in that order."""
        return CurvesAbreast(
            ages=self.ages,
            knots=self.knots,
            slopes=self.slopes,
            whose=self.whose[index],
            inner=self.inner[:, index],
        )


def abreast(several: Sequence[Curves], whose: Codes) -> CurvesAbreast:
    """The first curve of each of several, with equally many knots, for the parts of each."""
    ages = np.stack([curves.ages for curves in several])
    knots = np.stack([curves.knots[0] for curves in several])
    slopes = np.zeros(ages.shape)  # the last knot begins no piece
    slopes[:, :-1] = np.diff(knots, axis=1) / np.diff(ages, axis=1)
    inner = np.ascontiguousarray(ages[whose, 1:-1].T)
    return CurvesAbreast(ages=ages, knots=knots, slopes=slopes, whose=whose, inner=inner)


def straight(rows: int) -> Curves:
    """Curves under which age is wear itself, so that the same steps serve the straight line."""
    ages = np.linspace(0.0, 1.0, PIECES + 1)
    return Curves(ages=ages, knots=np.tile(ages, (rows, 1)))


def mean_curves(age: Array, wear: Array, life: Codes, lives: int) -> Curves:
    """Draw the mean curve without each life in turn: row i leaves life i out, the last row none.

    `age`, `wear` (readings,) and `life` (readings,), the number of the life that each belongs to.
    Least squares on linear pieces with a penalty on every bend, then made to rise.

    Source: Eilers and Marx 1996, Statistical Science 11:89 (penalised pieces).
    """
    top = max(1.0, float(np.quantile(age, 0.98)))
    # Pieces are shorter at the start, where running-in bends most.
    ages = top * np.linspace(0.0, 1.0, PIECES + 1) ** SPACING
    piece = np.searchsorted(ages[1:-1], age, side="right")
    part = np.clip((age - ages[piece]) / (ages[piece + 1] - ages[piece]), 0.0, 1.0)
    # Each reading lies on one piece: of its basis only the two knots beside it are not zero.
    knot = np.stack([piece, piece + 1], axis=1)
    basis = np.stack([1.0 - part, part], axis=1)
    knots = PIECES + 1
    at = life[:, None] * knots + knot
    square = _summed(
        at[:, :, None] * knots + knot[:, None, :],
        basis[:, :, None] * basis[:, None, :],
        (lives + 1, knots, knots),
    )
    target = _summed(at, basis * wear[:, None], (lives + 1, knots))
    square = square.sum(axis=0) - square
    target = target.sum(axis=0) - target

    widths = np.diff(ages)
    slopes = np.diff(np.eye(PIECES + 1), axis=0) / widths[:, None]
    bend = np.diff(slopes, axis=0) * (0.5 * (widths[1:] + widths[:-1]))[:, None]
    per_piece = len(age) / PIECES
    square += STIFFNESS * per_piece * (bend.T @ bend) + 1e-9 * np.eye(PIECES + 1)
    drawn = np.linalg.solve(square, target[:, :, None])[:, :, 0]

    chord = np.maximum(drawn[:, -1:] - drawn[:, :1], 1e-6) / top
    rises = np.maximum(np.diff(drawn, axis=1), FLATTEST * chord * widths)
    drawn = np.concatenate([drawn[:, :1], drawn[:, :1] + np.cumsum(rises, axis=1)], axis=1)
    ages, drawn = _beyond(ages, drawn)
    return Curves(ages=ages, knots=drawn)


def _summed(places: Codes, values: Array, shape: tuple[int, ...]) -> Array:
    """An array of this shape, the values added up at their places in its flat order."""
    total = np.bincount(places.ravel(), values.ravel(), math.prod(shape))
    return np.asarray(total.reshape(shape), dtype=np.float64)


def _beyond(ages: Array, knots: Array) -> tuple[Array, Array]:
    """Carry curves on past their last age as the power of age that their last quarter follows.

    A straight extension would end a life early on a fleet that flattens, and the last piece alone
    rests on few readings.
    """
    quarter = PIECES - PIECES // 4
    worn = np.maximum(knots[:, [quarter, -1]] - knots[:, :1], 1e-9)
    power = np.log(worn[:, 1] / worn[:, 0]) / np.log(ages[-1] / ages[quarter])
    power = np.clip(power, 0.2, 5.0)
    further = ages[-1] * np.array([1.15, 1.35, 1.6, 2.0, 2.5, 3.5])
    wear = knots[:, :1] + worn[:, 1:] * (further / ages[-1]) ** power[:, None]
    return np.concatenate([ages, further]), np.concatenate([knots, wear], axis=1)
