"""A reading or gauge verdict that tells a better part than one before it, without work between.

Parts do not mend themselves: one of the two may be wrong, or a job is not on record. A band has no
better side.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from board.mill import Mill, Quantity, Worse
from board.state.happening import Happening
from board.state.history import Bound, PartLife, ReadingAt
from grammar import entries as e
from grammar.diagnostics import Code, Diagnostic

_ROUNDING = 1e-9
# as what is read grows worse: the sign that makes it grow, and what bounds it from above
_WAYS = {Worse.RISING: (1.0, Bound.AT_MOST), Worse.FALLING: (-1.0, Bound.AT_LEAST)}


def better(
    happening: Happening,
    reading: ReadingAt,
    life: PartLife,
    earlier: Iterable[ReadingAt],
    mill: Mill,
) -> tuple[Diagnostic, ...]:
    """Flags a reading that is better than one before it, from the newest on, by what can be told.

    Only the newest value of this level, and the verdicts since, are looked at.
    """
    clause = happening.clause
    assert isinstance(clause, e.Measured | e.Gauged)
    quantity = mill.quantity(clause.at.part, clause.quantity)
    if quantity is None or quantity.limits.worse not in _WAYS:
        return ()
    if reading.bound not in (Bound.EXACT, _WAYS[quantity.limits.worse][1]):
        return ()  # it says how bad the part is at least
    before = _worse_before(reading, life, earlier, quantity)
    if before is None:
        return ()
    now, then = _words(reading, quantity), _words(before, quantity)
    said = f"{now} is better than {then}"
    if reading.bound is not Bound.EXACT or before.bound is not Bound.EXACT:
        said = f"{now} tells a better {quantity.name} than {then}"
    return (
        happening.complaint(
            Code.BETTER_WITHOUT_WORK,
            f"{said} before it, and no work is on record between them",
            help="measure again, or write the work that was done",
        ),
    )


def _worse_before(
    reading: ReadingAt, life: PartLife, earlier: Iterable[ReadingAt], quantity: Quantity
) -> ReadingAt | None:
    """The newest reading since the last work that told a clearly worse part, or None."""
    sign, at_most = _WAYS[quantity.limits.worse]
    for before in earlier:
        if not before.counts or before.level != reading.level:
            continue
        if life.last_work is not None and life.last_work >= before.when:
            return None
        if before.bound is not at_most and _is_clearly_worse(before, reading, quantity, sign):
            return before
        if before.bound is Bound.EXACT:
            return None
        # a verdict that is no better than the last one says nothing that was not flagged there
        if before.bound is reading.bound and sign * (before.value - reading.value) <= _ROUNDING:
            return None
    return None


def _is_clearly_worse(
    before: ReadingAt, reading: ReadingAt, quantity: Quantity, sign: float
) -> bool:
    """Whether the wear that one tells at least is more than what the other tells at most.

    Two values may differ by sqrt(2) times the expanded uncertainty of one. A gauge adds none that
    is known; of two verdicts, past the limit and then within it, one must be wrong in any case.
    """
    gain = sign * (before.value - reading.value)
    exact = (before.bound, reading.bound).count(Bound.EXACT)
    noise = (quantity.tool_uncertainty or 0.0) * (math.sqrt(2) if exact == 2 else 1.0)
    if gain > noise + _ROUNDING:
        return True
    limit = quantity.limits.high if sign > 0 else quantity.limits.low
    assert limit is not None
    past, within = (sign * (r.value - limit) for r in (before, reading))
    return exact == 0 and past >= -_ROUNDING and within <= _ROUNDING


def _words(reading: ReadingAt, quantity: Quantity) -> str:
    """A reading as it was written, a verdict with what the gauge did."""
    if reading.bound is Bound.EXACT:
        return reading.written
    stays_out = (reading.bound is Bound.AT_MOST) is (quantity.limits.worse is Worse.RISING)
    return f"gauge {reading.written} {'stays out' if stays_out else 'enters'}"
