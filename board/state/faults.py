"""Faults of a loom: opened by a text, closed by the side and part that a text names."""

from __future__ import annotations

from board.mill import Mill
from board.state import made
from board.state.fleet import Fault, LoomState
from board.state.happening import Happening, Stepped
from board.state.history import ClearedFault
from grammar import entries as e
from grammar.diagnostics import Code
from grammar.making import changed

_NONE_OPEN = "nothing to do if it was cleared before; else write first: fault TEXT"


def opened(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    """``fault TEXT``: a fault opens."""
    clause = happening.clause
    assert isinstance(clause, e.FaultOpened)
    fault = Fault(
        since=happening.when,
        text=clause.text,
        at=clause.at,
        side=clause.side,
        symptom=clause.symptom,
        by=happening.by,
        source=happening.source,
    )
    ordered = tuple(sorted((*state.faults, fault), key=lambda f: (f.since, f.text, f.source.text)))
    return made.Stepped(state=changed(state, faults=ordered))


def cleared(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    """``fault cleared``: the one open fault, or those of the side and part that are named."""
    clause = happening.clause
    assert isinstance(clause, e.FaultCleared)
    if not state.faults:
        return _refused(state, happening, f"no fault is open on {state.loom}", _NONE_OPEN)
    chosen = state.faults if clause.every or len(state.faults) == 1 else _named(state, clause)
    if not chosen:
        open_ones = "; ".join(fault.text for fault in state.faults)
        return _refused(
            state,
            happening,
            f"{state.loom} has {len(state.faults)} open faults and the text names none of them",
            f"open: {open_ones}; name side and part, or write: fault cleared all",
        )
    facts = tuple(
        ClearedFault(
            loom=state.loom,
            fault=fault,
            cleared=happening.when,
            by=happening.by,
            text=clause.text,
            source=happening.source,
        )
        for fault in chosen
    )
    rest = tuple(fault for fault in state.faults if fault not in chosen)
    return made.Stepped(state=changed(state, faults=rest), facts=facts)


def _named(state: LoomState, clause: e.FaultCleared) -> tuple[Fault, ...]:
    if clause.at is None and clause.side is None:
        return ()
    chosen = tuple(fault for fault in state.faults if _matches(fault, clause))
    number = clause.at.number if clause.at else None
    if number is not None:  # a fault of that very number comes before one that tells none
        chosen = tuple(f for f in chosen if f.at and f.at.number == number) or chosen
    kinds = {(fault.part, fault.side) for fault in chosen}
    return chosen if len(kinds) == 1 else ()


def _matches(fault: Fault, clause: e.FaultCleared) -> bool:
    if clause.side is not None and fault.side != clause.side:
        return False
    if clause.at is None:
        return True
    if fault.part != clause.at.part:
        return False
    number = fault.at.number if fault.at else None
    return clause.at.number is None or number in (None, clause.at.number)


def _refused(state: LoomState, happening: Happening, message: str, help: str) -> Stepped:
    return made.Stepped(
        state=state, complaints=(happening.complaint(Code.WHICH_FAULT, message, help=help),)
    )
