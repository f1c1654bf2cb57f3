"""A forecast of wear, its band, and the reason that stands in its place.

What it does: the types that the forecast answers with, the chance that a limit passes within a
horizon, and the choice between the two ends of a band.
What it leaves to others: making forecasts (`wear`) and wording them.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum

import numpy as np

from board.reckon.crossing import Crossing
from board.reckon.refusal import Refusal
from board.reckon.series import Array
from grammar.frozen import dataclass


class Method(Enum):
    """The way a forecast was made."""

    LINE = "line shrunk toward the fleet"
    CURVE = "effective age on the fleet's mean curve"
    OWN = "own straight line"


class NoForecast(Refusal):
    """There is no honest forecast, and this is why."""

    __slots__ = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Unbounded:
    """A bound that does not exist, and why; it stands where a number would."""

    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Approach:
    """One line on its way to its limit; the fields are those of `Crossing`."""

    margin: float
    rate: float
    var_margin: float
    cov: float
    var_rate: float
    process: float
    df: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """Use left to the limit [running h]: `median`, and `low` to `high` with chance `level`.

    `readings` since the fitting (plain and bounds) and `past_lives` are what it rests on, `basis`
    says it in words, `approach` is the line behind it.
    """

    median: float
    low: float
    high: float | Unbounded
    level: float
    method: Method
    basis: str
    readings: int
    past_lives: int
    approach: Approach

    def p_before(self, horizon: float) -> float:
        """Chance that the limit has passed within `horizon` [running h] from now."""
        return float(p_before([self], np.array([[horizon]]))[0, 0])


def p_before(several: Sequence[Forecast], horizons: Array) -> Array:
    """Chance that each limit has passed within each horizon [running h] from now.

    `horizons` of shape (forecasts, asked) or (asked,); returns (forecasts, asked).
    """
    ways = [forecast.approach for forecast in several]
    asked = np.atleast_2d(np.asarray(horizons, dtype=float))
    asked = np.broadcast_to(asked, (len(ways), asked.shape[1]))
    crossing = Crossing(
        margin=np.array([way.margin for way in ways]),
        rate=np.array([way.rate for way in ways]),
        var_margin=np.array([way.var_margin for way in ways]),
        cov=np.array([way.cov for way in ways]),
        var_rate=np.array([way.var_rate for way in ways]),
        process=np.array([way.process for way in ways]),
        df=np.array([way.df for way in ways], dtype=np.int64),
    )
    if not ways:
        return np.zeros(asked.shape)
    told = np.stack([crossing.p_before(asked[:, j]) for j in range(asked.shape[1])], axis=1)
    return np.maximum(told, 0.0) + 0.0  # rounding leaves some a little less than none


def soonest(one: Forecast | NoForecast, other: Forecast | NoForecast) -> Forecast | NoForecast:
    """Of two forecasts of one part, toward either end of a band, the one that ends first."""
    if isinstance(one, NoForecast):
        return other
    if isinstance(other, NoForecast):
        return one
    return one if one.median <= other.median else other
