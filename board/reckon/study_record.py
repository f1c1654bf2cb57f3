"""What past lives taught, as plain numbers that can be kept, to the last bit.

A study changes only when a life ends or its record is changed; where it is kept is left to others.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from board.reckon.fleetcurve import Curves
from board.reckon.forecast import Method
from board.reckon.learning import Scale
from board.reckon.refusal import Refusal
from board.reckon.series import Life, Quantity
from board.reckon.tracking import Fleet
from board.reckon.wear import Study

VERSION = 2  # of the way of learning; another one learns anew


def digest(lives: Sequence[Life], quantity: Quantity) -> str:
    """What a study of these lives is known by: another life, reading or limit gives another."""
    found = hashlib.sha256(repr((VERSION, quantity, len(lives))).encode())
    series = [life.series for life in lives]
    plain = [
        (
            len(life.series.use),
            len(life.series.step),
            life.series.now,
            life.ended,
            life.series.origin.value,
        )
        for life in lives
    ]
    found.update(repr(plain).encode())
    for name in ("use", "value", "kind", "level", "step"):
        if series:
            found.update(np.concatenate([getattr(one, name) for one in series]).tobytes())
    return found.hexdigest()


def as_record(known: Study | Refusal) -> dict[str, Any]:
    """A study, or why there is none, as JSON values."""
    if isinstance(known, Refusal):
        return {"refused": known.reason}
    return {
        "method": known.method.name,
        "scale": [known.scale.reach, known.scale.typical, known.scale.noise],
        "fleet": {name: getattr(known.fleet, name).tolist() for name in Fleet.__slots__},
        "ages": known.curve.ages.tolist(),
        "knots": known.curve.knots.tolist(),
        "seen": known.seen,
        "widening": known.widening.tolist(),
        "df": known.df,
        "past_lives": known.past_lives,
        "errors": [[method.name, error] for method, error in known.errors],
    }


def from_record(record: Mapping[str, Any], quantity: Quantity) -> Study | Refusal:
    """The study of a record. Raises KeyError, TypeError or ValueError where it is damaged."""
    if "refused" in record:
        return Refusal(reason=str(record["refused"]))
    reach, typical, noise = map(float, record["scale"])
    return Study(
        quantity=quantity,
        method=Method[record["method"]],
        scale=Scale(reach=reach, typical=typical, noise=noise),
        fleet=Fleet(**{name: _numbers(record["fleet"][name], 1) for name in Fleet.__slots__}),
        curve=Curves(ages=_numbers(record["ages"], 1), knots=_numbers(record["knots"], 2)),
        seen=float(record["seen"]),
        widening=_numbers(record["widening"], 1),
        df=int(record["df"]),
        past_lives=int(record["past_lives"]),
        errors=tuple((Method[name], float(error)) for name, error in record["errors"]),
    )


def _numbers(values: object, axes: int) -> np.ndarray[Any, np.dtype[np.float64]]:
    found = np.array(values, dtype=float)
    if found.ndim != axes or not found.size or not np.isfinite(found).all():
        raise ValueError("a study is damaged")
    return found
