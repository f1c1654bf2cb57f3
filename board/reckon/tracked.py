"""Where the wear of many parts stands after their last readings, parts of several fleets at once.

What it does: the filter of `tracking`, over all parts that have a reading left to take. The parts
with the most readings stand first, so that those at their end drop out behind.
What it leaves to others: the filter itself, and what lies between readings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from board.reckon.fleetcurve import Curves, abreast
from board.reckon.series import Array
from board.reckon.tracking import Fleet, Readings, begun, corrected, moved, told

Fleets = tuple[Readings, Fleet, Curves]  # a fleet of one row and a curve of one


def ends(several: Sequence[Fleets]) -> list[tuple[Array, Array]]:
    """For each fleet the state of its parts, (3, rows) and (3, 3, rows), after the last reading."""
    found: list[tuple[Array, Array]] = [(np.zeros((3, 0)), np.zeros((3, 3, 0)))] * len(several)
    for knots in {curves.knots.shape[1] for _, _, curves in several}:
        places = [i for i, asked in enumerate(several) if asked[2].knots.shape[1] == knots]
        counts = [len(several[i][0].fitted) for i in places]
        bounds = np.cumsum(counts)[:-1]
        mean, cov = _ends([several[i] for i in places], counts)
        made = zip(np.split(mean, bounds, axis=1), np.split(cov, bounds, axis=2), strict=True)
        for i, state in zip(places, made, strict=True):
            found[i] = state
    return found


def _ends(several: Sequence[Fleets], counts: Sequence[int]) -> tuple[Array, Array]:
    """The same of fleets whose curves have equally many knots, their parts behind each other."""
    there = [readings.there.sum(axis=1) for readings, _, _ in several]
    count = np.concatenate(there)
    order = np.argsort(-count, kind="stable")
    longest = int(count.max(initial=0))
    readings = {
        name: _laid([getattr(each, name) for each, _, _ in several], longest, order)
        for name in ("use", "wear", "noise", "kind", "fresh")
    }
    fitted = np.concatenate([each.fitted for each, _, _ in several])[order]
    whose = np.repeat(np.arange(len(several)), counts)[order]
    fleet = Fleet(
        **{
            f.name: np.concatenate([getattr(each, f.name) for _, each, _ in several])[whose]
            for f in fields(Fleet)
        }
    )
    curves = abreast([each for _, _, each in several], whose)
    state, spread = begun(fitted, fleet)
    going = (count[order][:, None] > np.arange(longest)).sum(axis=0).tolist()
    before = np.zeros(len(order))
    for j, some in enumerate(going):
        use, wear, noise, kind, fresh = (column[j, :some] for column in readings.values())
        own, shared, bent = state[:, :some], spread[:, :, :some], curves.rows(slice(some))
        moved(own, shared, use - before[:some], fleet.process[:some], fresh, fleet.start[:some])
        noise = noise + fleet.scatter[:some]
        corrected(own, shared, *told(wear, noise, kind, own, shared, bent))
        before = use
    back = np.argsort(order)
    return state[:, back], spread[:, :, back]


def _laid(columns: Sequence[NDArray[Any]], longest: int, order: NDArray[Any]) -> NDArray[Any]:
    """Columns of several fleets behind each other, each reading a row: (longest, rows)."""
    laid = np.zeros((longest, len(order)), dtype=columns[0].dtype)
    first = 0
    for column in columns:
        column = column[:, :longest]  # behind the last reading of all there is nothing
        laid[: column.shape[1], first : first + len(column)] = column.T
        first += len(column)
    return laid[:, order]
