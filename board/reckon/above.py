"""Looms with more faults than the rest of the fleet explains, and how sure such a list can be.

Allows for unequal running hours and for looms that differ by nature; names a loom only where three
forms of such differences all leave it out of line, so that at most one fleet in ten without any
culprit shows one. Several culprits in a small fleet widen its spread and can hide one another.
People are not ranked here, and no loom is called bad: it is above the fleet or it is not shown.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from board.reckon.counts import LoomCount, Numbers, columns, moment_dispersion
from board.reckon.limits import check_level
from board.reckon.proportion import Proportion, proportion
from board.reckon.refusal import Refusal
from board.reckon.several import benjamini_hochberg
from board.reckon.spread import Spread, chances, least_chances
from grammar.frozen import dataclass

FEWEST_LOOMS = 5
FEWEST_FAULTS = 5
# A chance above this can be on no list; whatever the spread, it is not below this by much.
_IDLE = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class LoomAbove:
    """A loom above the fleet; `expected` is what the other looms' rate gives for its exposure.

    `chance` is that of so many faults or more on such a loom, the largest of the three forms of
    spread; `adjusted` is the q at which it would just be on the list.
    """

    name: str
    count: int
    exposure: float
    expected: float
    chance: float
    adjusted: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AboveFleet:
    """The looms above the fleet, the least likely first, out of all those compared.

    `q` is the share of such lists, made in fleets without a culprit, that may name a loom all the
    same. `left_out` names looms without exposure.
    """

    above: tuple[LoomAbove, ...]
    looms: int
    count: int
    exposure: float
    q: float
    left_out: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Power:
    """How often one loom at `factor` times the fleet's rate would be named.

    `found` counts the simulated fleets in which it was, of all simulated; `seed` repeats them.
    """

    factor: float
    found: Proportion
    seed: int


def looms_above(looms: Sequence[LoomCount], *, q: float = 0.10) -> AboveFleet | Refusal:
    """The looms whose faults the rest of the fleet does not explain.

    Each loom's chance is judged from the others by `spread.chances` under a gamma spread; the list
    is drawn by Benjamini and Hochberg's step-up rule over all looms, and kept only as far as it
    stands under two further forms of spread. Refuses below five looms with exposure and below five
    faults. Raises ValueError for q outside 0 to 1.

    Source: Benjamini and Hochberg 1995, JRSS B 57:289-300.
    """
    check_level(q)
    names, count, exposure = columns(looms)
    left_out = tuple(loom.name for loom in looms if loom.exposure == 0.0)
    if count.size < FEWEST_LOOMS or count.sum() < FEWEST_FAULTS:
        return Refusal(
            reason=f"{count.sum():.0f} faults on {count.size} looms with running time on record, a "
            f"comparison needs {FEWEST_FAULTS} faults on {FEWEST_LOOMS} looms"
        )
    chance = _chances(count, exposure, q)
    adjusted = benjamini_hochberg(chance)
    expected = _expected(count, exposure)
    ascending = np.argsort(chance, kind="stable")
    return AboveFleet(
        above=tuple(
            LoomAbove(
                name=names[place],
                count=int(count[place]),
                exposure=float(exposure[place]),
                expected=float(expected[place]),
                chance=float(chance[place]),
                adjusted=float(adjusted[place]),
            )
            for place in ascending
            if adjusted[place] <= q
        ),
        looms=int(count.size),
        count=int(count.sum()),
        exposure=float(exposure.sum()),
        q=q,
        left_out=left_out,
    )


def power_above(
    looms: Sequence[LoomCount], *, factor: float, runs: int = 200, seed: int = 0, q: float = 0.10
) -> Power | Refusal:
    """How often `looms_above` would name one loom at `factor` times the fleet's rate.

    By simulation: the fleet keeps its exposures, its rate and its spread (gamma, by moments); the
    loom is that of the middle exposure. The limits of the share, at level 0.90, are for
    the number of runs alone. Refuses as `looms_above` does.
    """
    _, count, exposure = columns(looms)
    answer = looms_above(looms, q=q)
    if isinstance(answer, Refusal):
        return answer
    random = np.random.default_rng(seed)
    rate = count.sum() / exposure.sum()
    excess = moment_dispersion(count, exposure)
    suspect = int(np.argsort(exposure)[exposure.size // 2])
    hits = 0
    for _ in range(runs):
        rates = np.full(exposure.size, rate)
        if excess > 0.0:
            rates = random.gamma(1.0 / excess, rate * excess, exposure.size)
        rates[suspect] *= factor
        drawn = random.poisson(rates * exposure).astype(np.float64)
        if drawn.sum() >= FEWEST_FAULTS:
            # a loom that one form leaves out comes on the list by no other: there it ends
            hits += all(
                bool(benjamini_hochberg(chance)[suspect] <= q)
                for chance in _form_by_form(drawn, exposure, q)
            )
    found = proportion(hits, runs)
    if isinstance(found, Refusal):
        return found
    return Power(
        factor=factor,
        found=found,
        seed=seed,
    )


def _expected(count: Numbers, exposure: Numbers) -> Numbers:
    """What the other looms' rate gives for each loom's exposure."""
    return np.asarray((count.sum() - count) / (exposure.sum() - exposure) * exposure)


def _chances(count: Numbers, exposure: Numbers, q: float) -> Numbers:
    """Each loom's chance of its count or more; 1 where it is too large for any list."""
    *_, last = _form_by_form(count, exposure, q)
    return last


def _form_by_form(count: Numbers, exposure: Numbers, q: float) -> Iterator[Numbers]:
    """The chances as they stand after each form of spread; from form to form none gets smaller."""
    chance = np.ones_like(count)
    asked = np.flatnonzero(least_chances(count, _expected(count, exposure)) <= max(_IDLE, q))
    if asked.size:
        chance[asked] = chances(count, exposure, Spread.GAMMA, asked)
    yield chance
    for spread in (Spread.BURSTS, Spread.LOG_NORMAL):
        named = np.flatnonzero(benjamini_hochberg(chance) <= q)
        if named.size:
            chance[named] = np.maximum(chance[named], chances(count, exposure, spread, named))
        yield chance
