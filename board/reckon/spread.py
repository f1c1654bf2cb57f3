"""How likely a loom's count is, judged from the other looms, when looms differ by nature.

What `above` asks of each loom. Looms are never quite alike, so their counts scatter more than
Poisson; by how much has to be learned from a few dozen of the same counts. Plugging in an estimate
gives false alarms where it came out low by luck, so the chance here is averaged over all spreads
and fleet rates that the *other* looms leave likely: a loom that stands out neither hides itself nor
accuses itself. How looms differ is not known either; three forms are offered.

Source: leave-one-out predictive checks, Gelfand, Dey and Chang 1992, Bayesian Statistics 4; the
dispersion's prior, flat in the coefficient of variation between looms, after Gelman 2006, Bayesian
Analysis 1:515-534 (both from memory). That the false-alarm rate holds is not taken from a book but
simulated: `tests/bench/false_alarms.py`.
"""

import math
from enum import Enum, auto
from typing import assert_never

import numpy as np
from numpy.typing import NDArray

from board.reckon.counts import Numbers

Places = NDArray[np.intp]

# Dispersions (variance over squared mean of the looms' rates) from alike to wildly different.
_ALL_DISPERSIONS = np.concatenate([[0.0], np.geomspace(0.003, 10.0, 40)])
# Grid points: 1.1 to 1.4 standard errors apart in the log rate, which the trapezium rule takes for
# exact on a bell shape; reaching further down since leaving a loom out lowers the rate.
_DISPERSIONS, _RATES = 20, 11
_FEWER_DISPERSIONS, _FEWER_RATES = 14, 9
_LOWEST, _HIGHEST = -6.0, 5.0
# A dispersion is left out where no loom's absence makes it likelier than exp(-14) of the best.
_NEGLIGIBLE = -14.0
_NODES = np.linspace(-4.5, 4.5, 43)
_WEIGHTS = np.exp(-(_NODES**2) / 2.0) / np.exp(-(_NODES**2) / 2.0).sum()


class Spread(Enum):
    """How the looms' own rates are spread about the fleet's, the dispersion being d.

    GAMMA: gamma with variance `d` times the squared mean, whatever the exposure. BURSTS: the same,
    but `d` falls as the loom's exposure grows, as when faults come in bursts: the count's variance
    is then one multiple of its mean. LOG_NORMAL: log-normal, with more of its mass far above.
    """

    GAMMA = auto()
    BURSTS = auto()
    LOG_NORMAL = auto()


def chances(count: Numbers, exposure: Numbers, spread: Spread, which: Places) -> Numbers:
    """For each loom of `which`, the chance of its count or more, given all other looms.

    `count` and `exposure` have one element a loom, exposures above 0 and some count above 0.
    """
    relative = exposure / exposure.mean() if spread is Spread.BURSTS else np.ones_like(exposure)
    dispersion, weight = _likely_dispersions(count, exposure, relative, spread)
    rate, error = _centre(count, exposure, relative, dispersion)
    rates = _RATES if spread is not Spread.LOG_NORMAL else _FEWER_RATES
    rate = rate[:, None] * np.exp(error[:, None] * np.linspace(_LOWEST, _HIGHEST, rates))
    mean = rate[:, :, None] * exposure
    own = _log_likelihood(count, mean, dispersion, relative, spread)
    every = own.sum(axis=2) + np.log(weight * error)[:, None]
    belief = every[:, :, None] - own[:, :, which]
    belief = np.exp(belief - belief.max(axis=(0, 1)))
    tail = _tail(count[which], mean[:, :, which], dispersion, relative[which], spread)
    return np.asarray((belief * tail).sum(axis=(0, 1)) / belief.sum(axis=(0, 1)))


def least_chances(count: Numbers, expected: Numbers) -> Numbers:
    """The chance of each count or more if the looms were all alike, a quick lower guide."""
    from scipy.special import gammainc

    return np.where(count > 0.0, gammainc(np.maximum(count, 1.0), expected), 1.0)


def _likely_dispersions(
    count: Numbers, exposure: Numbers, relative: Numbers, spread: Spread
) -> tuple[Numbers, Numbers]:
    """A grid of the dispersions worth considering, with the prior weight of each."""
    rate, error = _centre(count, exposure, relative, _ALL_DISPERSIONS)
    mean = rate[:, None, None] * exposure
    # The log-normal's own likelihood is costly, and close enough to the gamma's to choose a range.
    like = Spread.GAMMA if spread is Spread.LOG_NORMAL else spread
    own = _log_likelihood(count, mean, _ALL_DISPERSIONS, relative, like)[:, 0, :]
    left_out = (own.sum(axis=1) + np.log(error))[:, None] - own
    likely = (left_out - left_out.max(axis=0)).max(axis=1) > _NEGLIGIBLE
    first, last = np.flatnonzero(likely)[[0, -1]]
    margin = 3 if spread is Spread.LOG_NORMAL else 1
    low = _ALL_DISPERSIONS[max(first - 1, 0)]
    high = _ALL_DISPERSIONS[min(max(last + margin, 2), _ALL_DISPERSIONS.size - 1)]
    points = _DISPERSIONS if spread is not Spread.LOG_NORMAL else _FEWER_DISPERSIONS
    if low <= _ALL_DISPERSIONS[1]:
        above = np.geomspace(_ALL_DISPERSIONS[1], high, points - 1)
        grid = np.concatenate([[0.0], above])
        between = np.concatenate([[above[0] / 2.0], np.sqrt(above[1:] * above[:-1])])
    else:
        grid = np.geomspace(low, high, points)
        between = np.sqrt(grid[1:] * grid[:-1])
    edges = np.concatenate([grid[:1], between, grid[-1:]])
    return grid, np.diff(np.sqrt(edges))


def _centre(
    count: Numbers, exposure: Numbers, relative: Numbers, dispersion: Numbers
) -> tuple[Numbers, Numbers]:
    """The fleet's rate and the standard error of its logarithm, for each dispersion."""
    excess = dispersion[:, None] / relative
    weight = 1.0 / (1.0 + excess * (count.sum() / exposure.sum()) * exposure)
    rate = (count * weight).sum(axis=1) / (exposure * weight).sum(axis=1)
    mean = rate[:, None] * exposure
    return rate, 1.0 / np.sqrt((mean / (1.0 + excess * mean)).sum(axis=1))


def _log_likelihood(
    count: Numbers, mean: Numbers, dispersion: Numbers, relative: Numbers, spread: Spread
) -> Numbers:
    """Each loom's log-likelihood, without the factorial; dispersion x rate x loom."""
    from scipy.special import gammaln

    log_mean = np.log(mean)
    result = count * log_mean - mean
    some = dispersion > 0.0
    match spread:
        case Spread.GAMMA | Spread.BURSTS:
            size = relative / dispersion[some, None, None]
            share = np.log1p(mean[some] / size)
            result[some] = (
                (gammaln(count + size) - gammaln(size) - count * np.log(size))
                + count * (log_mean[some] - share)
                - size * share
            )
        case Spread.LOG_NORMAL:
            for place in np.flatnonzero(some):
                shift = _log_shifts(float(dispersion[place]))
                # rate x loom x node, in one array throughout
                at = mean[place][:, :, None] * np.exp(shift)
                np.subtract(count[:, None] * shift, at, out=at)
                top = at.max(axis=2, keepdims=True)
                np.exp(np.subtract(at, top, out=at), out=at)
                result[place] = count * log_mean[place] + top[..., 0] + np.log(at @ _WEIGHTS)
        case _:
            assert_never(spread)
    return result


def _tail(
    count: Numbers, mean: Numbers, dispersion: Numbers, relative: Numbers, spread: Spread
) -> Numbers:
    """Each loom's chance of its count, above 0, or more; dispersion x rate x loom."""
    from scipy.special import betainc, gammainc

    result = np.empty_like(mean)
    some = dispersion > 0.0
    result[~some] = gammainc(count, mean[~some])
    match spread:
        case Spread.GAMMA | Spread.BURSTS:
            size = relative / dispersion[some, None, None]
            result[some] = betainc(count, size, mean[some] / (mean[some] + size))
        case Spread.LOG_NORMAL:
            for place in np.flatnonzero(some):
                factor = np.exp(_log_shifts(float(dispersion[place])))
                at = gammainc(count[:, None], mean[place][:, :, None] * factor)
                result[place] = at @ _WEIGHTS
        case _:
            assert_never(spread)
    return result


def _log_shifts(dispersion: float) -> Numbers:
    """Log rates, less the log of their mean, at the nodes of a log-normal of this dispersion."""
    sigma = math.sqrt(math.log1p(dispersion))
    return sigma * _NODES - sigma**2 / 2.0
