"""What is left of a worn part, as the board's lines carry it; ``ahead`` reckons it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from board.reckon.refusal import Refusal
from grammar.frozen import dataclass
from grammar.making import maker

if TYPE_CHECKING:
    from board.reckon.forecast import Forecast


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A median with the two ends of its 90 % band; ``high`` None: unbounded."""

    median: float
    low: float
    high: float | None

    def times(self, factor: float) -> Band:
        """The band in another unit."""
        high = self.high * factor if self.high is not None else None
        return _band(median=self.median * factor, low=self.low * factor, high=high)


_band = maker(Band)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """What is left of a part until its limit, of a band the end that it goes to.

    ``hours`` [running h]; ``shifts`` and ``picks`` at the loom's recent use and present speed, or
    a refusal; chances that the limit passes before this shift ends and before the next check.
    """

    limit: float  # in the unit of the readings
    hours: Band
    shifts: Band | Refusal
    picks: Band | Refusal
    p_before_shift_end: float | Refusal
    p_before_check: float | Refusal
    used: float  # [running h] since fitting, or since the first reading
    basis: str
    readings: int
    past_lives: int
    forecast: Forecast  # for the chance over any other stretch of running hours
