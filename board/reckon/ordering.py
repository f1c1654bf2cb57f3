"""When to order spare parts, so that the shelf is not empty before they come.

The demand itself is in `stock`; here it is asked again and again how it grows with time.
"""

import math
from collections.abc import Callable

from board.reckon.laws import Basis
from board.reckon.limits import check_level
from board.reckon.refusal import Refusal
from board.reckon.stock import Demand
from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderBy:
    """The latest time to order [time from now; below 0, that much too late already].

    A later order risks running out before it comes by more than `risk`. `runs_out` is that risk for
    an order placed now.
    """

    offset: float
    runs_out: float
    stock: int
    lead: float
    risk: float
    parts: int
    failures: int
    basis: Basis


@dataclass(frozen=True, slots=True, kw_only=True)
class NoOrderYet:
    """No order falls due within the time looked ahead [time]; `runs_out` is the risk over it."""

    looked: float
    runs_out: float
    stock: int
    lead: float
    risk: float
    parts: int
    failures: int
    basis: Basis


def order_by(
    demand_within: Callable[[float], Demand | Refusal],
    *,
    stock: int,
    lead: float,
    risk: float,
    looked: float,
) -> OrderBy | NoOrderYet | Refusal:
    """When to order at the latest, the parts taking `lead` [time] to come.

    `demand_within` gives the demand within a time from now. The order is due `lead` before the
    first time by which the stock has run out with a chance above `risk`, found by halving to a
    thousandth of the time looked ahead, rounded to the earlier side. Refuses where demand does.

    Raises ValueError for a risk outside 0 to 1, and unless 0 < lead <= looked.
    """
    check_level(risk)
    if not 0.0 < lead <= looked < math.inf:
        raise ValueError(f"the lead time is above 0 and looked ahead over, not {lead}, {looked}")
    now, far = demand_within(lead), demand_within(looked)
    if isinstance(now, Refusal):
        return now
    if isinstance(far, Refusal):
        return far
    if far.runs_out(stock) <= risk:
        return NoOrderYet(
            looked=looked,
            runs_out=far.runs_out(stock),
            stock=stock,
            lead=lead,
            risk=risk,
            parts=far.parts,
            failures=far.failures,
            basis=far.basis,
        )
    before, after = (lead, looked) if now.runs_out(stock) <= risk else (0.0, lead)
    while after - before > looked / 1000.0:
        middle = (before + after) / 2.0
        then = demand_within(middle)
        if isinstance(then, Refusal):
            return then
        before, after = (middle, after) if then.runs_out(stock) <= risk else (before, middle)
    return OrderBy(
        offset=before - lead,
        runs_out=now.runs_out(stock),
        stock=stock,
        lead=lead,
        risk=risk,
        parts=now.parts,
        failures=now.failures,
        basis=now.basis,
    )
