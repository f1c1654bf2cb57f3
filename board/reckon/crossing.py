"""When does an uncertain line reach its limit: quantiles and chances for many lines at once.

What it does: a line that starts `margin` before the limit and runs toward it at `rate`, both
uncertain and correlated, with process noise that grows with use. The chance that the limit has
passed at a horizon, and the horizon at a given chance (Fieller's equation), in closed form.
What it leaves to others: where margin, rate and their variances come from.

The chance is that of the line lying beyond the limit *at* the horizon, not of a random walk having
touched it on the way: wear does not heal, so a dip back inside would be noise. For a rate toward
the limit the first-passage chance of a Wiener process is at most twice this one (reflection).
"""

from __future__ import annotations

import numpy as np

from board.reckon.series import Array, Codes
from board.reckon.student import student_cdf, student_quantile
from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """Lines on their way to a limit, one an entry; every array has the shape (lines,).

    At horizon h [h] a line is expected at `rate * h - margin` beyond the limit, with variance
    `var_margin + 2 * cov * h + var_rate * h**2 + process * h`, where `cov` is the covariance of
    where the line is now with its rate; the error over its root is Student's t with `df`.
    Any one unit of wear serves.
    """

    margin: Array
    rate: Array
    var_margin: Array
    cov: Array
    var_rate: Array
    process: Array
    df: Codes

    def p_before(self, horizon: float | Array) -> Array:
        """Chance that the limit has passed within `horizon` [h], a number or (lines,)."""
        h = np.broadcast_to(np.asarray(horizon, dtype=float), self.margin.shape)
        lead = self.rate * h - self.margin
        spread = np.sqrt(np.maximum(self._variance(h), 0.0))
        sure = spread <= 0.0
        score = lead / np.where(sure, 1.0, spread)
        chance = np.where(lead >= 0.0, 1.0, 0.0)
        for df in set(self.df[~sure].tolist()):
            picked = ~sure & (self.df == df)
            chance[picked] = student_cdf(score[picked], df)
        return chance

    def quantile(self, p: float) -> Array:
        """Use left [h] at which the limit has passed with chance p; inf where it never gets there.

        Zero where that chance is reached already. Raises ValueError for p outside 0 to 1.

        Source: Fieller 1954, J. R. Stat. Soc. B 16:175, the quadratic for a ratio's limits.
        """
        if not 0.0 < p < 1.0:
            raise ValueError(f"a probability strictly between 0 and 1 is needed, not {p}")
        if p == 0.5:
            with np.errstate(divide="ignore", invalid="ignore"):
                middle = np.where(self.rate > 0.0, self.margin / self.rate, np.inf)
            return np.where(self.margin <= 0.0, 0.0, middle)
        score = np.zeros(self.margin.shape)
        for df in set(self.df.tolist()):
            score[self.df == df] = student_quantile(p, df)
        a = self.rate**2 - score**2 * self.var_rate
        b = -2.0 * self.rate * self.margin - score**2 * (2.0 * self.cov + self.process)
        c = self.margin**2 - score**2 * self.var_margin
        inside = np.sqrt(np.maximum(b * b - 4.0 * a * c, 0.0))
        # The stable pair of roots: no difference of nearly equal numbers.
        q = -0.5 * (b + np.where(b >= 0.0, inside, -inside))
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            one, two = q / a, c / q
        roots = np.sort(np.stack([one, two]), axis=0)
        if p < 0.5:
            # Early end: the first root after now; none at all means the chance stays under p.
            after = np.where(np.isfinite(roots) & (roots > 0.0), roots, np.inf).min(axis=0)
            after = np.where(b * b - 4.0 * a * c < 0.0, np.inf, after)
        else:
            bounded = (a > 0.0) & (self.rate > 0.0) & np.isfinite(roots[1])
            after = np.where(bounded, roots[1], np.inf)
        reached = self.p_before(0.0) >= p
        return np.where(reached, 0.0, np.maximum(after, 0.0))

    def _variance(self, h: Array) -> Array:
        return np.asarray(
            self.var_margin + 2.0 * self.cov * h + self.var_rate * h**2 + self.process * h
        )
