"""Parts that go from one loom to another with their life, readings, missing proofs and recheck.

``fold`` tells which loom gives and which takes; within one minute every part moves as its loom's
own lines leave it, so that two mutual moves are a swap whichever line comes first. Faults stay
with the loom they were written for.
"""

from __future__ import annotations

from datetime import datetime

from board.mill import Mill
from board.state import made
from board.state.actions import in_order, without_rechecks
from board.state.fleet import LoomState
from board.state.happening import Arrival, Happening, Stepped
from board.state.history import Ending, Job, PartLife
from board.state.parts import ended, life_of, with_part
from board.state.proofs import without
from grammar import entries as e
from grammar.diagnostics import Code, Diagnostic
from grammar.making import changed


def moved(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    """``moved PART from LOOM``: the part arrives with its life; the one that was here gives way.

    The proofs that the part misses come along, and its open recheck as it was opened: a move puts
    nothing off.
    """
    clause, arriving = happening.clause, happening.arriving
    assert isinstance(clause, e.Moved)
    at, when = clause.at, happening.when
    if arriving is None:
        return made.Stepped(state=state, complaints=(_not_there(state, happening, clause),))
    job = Job(
        loom=state.loom,
        at=at,
        verb=None,
        when=when,
        by=happening.by,
        text=f"moved from {clause.origin}",
        source=happening.source,
        style=state.style,
        origin=clause.origin,
        shift=happening.shift,
    )
    old = ended(state, at, happening, Ending.GAVE_WAY)
    here = made.Stay(loom=state.loom, start=when)
    life = changed(
        arriving.life,
        stays=(*arriving.life.stays, here),
        ending=Ending.IN_SERVICE,
        ended=None,
        last_work=when,
    )
    reason = f"the part gave way to that of {clause.origin}"
    actions, closed = without_rechecks(state, at, happening, reason)
    rechecks = (changed(a, place=happening.place) for a in arriving.rechecks)
    actions = in_order((*actions, *rechecks))
    fresh = changed(
        with_part(state, life),
        proofs=(*without(state.proofs, at), *arriving.proofs),
        actions=actions,
    )
    return made.Stepped(state=fresh, facts=(*old, *closed, job))


def _not_there(state: LoomState, happening: Happening, clause: e.Moved) -> Diagnostic:
    message = f"the {clause.at.words()} of {clause.origin} was moved away before"
    if clause.origin == state.loom:
        message = f"the {clause.at.words()} cannot come to {state.loom} from {state.loom} itself"
    return happening.complaint(
        Code.WHICH_PART, message, help="write from which loom it came, or: replaced"
    )


def leaving(state: LoomState, at: e.PartAt, when: datetime) -> Arrival | None:
    """What a part takes along when it leaves its loom, or None where its place is empty."""
    life = life_of(state, at)
    if life.ending is Ending.ABSENT:
        return None
    stays = (*life.stays[:-1], changed(life.stays[-1], end=when))
    return Arrival(
        life=changed(life, stays=stays),
        proofs=tuple(p for p in state.proofs if p.at == at),
        rechecks=tuple(a for a in state.actions if a.recheck_of == at),
    )


def emptied(state: LoomState, at: e.PartAt, when: datetime) -> LoomState:
    """A loom whose part was moved away: the place is empty until it is replaced."""
    empty = PartLife(
        at=at, stays=(made.Stay(loom=state.loom, start=when),), ending=Ending.ABSENT, ended=when
    )
    return changed(
        with_part(state, empty),
        proofs=without(state.proofs, at),
        actions=tuple(a for a in state.actions if a.recheck_of != at),
    )
