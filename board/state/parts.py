"""Parts of a loom: readings, gauges, work, moves and the proofs of a job."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime

from board.mill import Mill, Quantity, Worse
from board.state import proofs as prove
from board.state.actions import due_from, in_order
from board.state.fleet import Action, LoomState, Proof
from board.state.happening import Happening, Stepped
from board.state.history import (
    Bound,
    Ending,
    GivenProof,
    Job,
    PartLife,
    ProofGiven,
    ReadingAt,
    Stay,
)
from grammar import entries as e
from grammar.diagnostics import Code, Diagnostic

_CONFIRMING_SHARE = 0.05  # how near a second implausible reading must be, where no U is given


def life_of(state: LoomState, at: e.PartAt) -> PartLife:
    """The life of the part that is there, begun before the log if it is not known."""
    known = state.parts.get(at)
    if known is not None:
        return known
    return PartLife(at=at, stays=(Stay(loom=state.loom, start=None),))


def _with_part(state: LoomState, life: PartLife) -> LoomState:
    return replace(state, parts={**state.parts, life.at: life})


# -- readings ------------------------------------------------------------------------------


def measured(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    """A reading joins the series of its part."""
    clause = happening.clause
    assert isinstance(clause, e.Measured)
    return _read(state, happening, mill, clause, Bound.EXACT)


def gauged(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    """A gauge verdict bounds the value.

    In a gap or a play (``replace_above``) a gauge that enters bounds it from below; a thickness
    in a slot (``replace_below``) that enters is at most the gauge.
    """
    clause = happening.clause
    assert isinstance(clause, e.Gauged)
    quantity = mill.quantity(clause.at.part, clause.quantity)
    falling = quantity is not None and quantity.limits.worse is Worse.FALLING
    bound = Bound.AT_LEAST if clause.enters is not falling else Bound.AT_MOST
    return _read(state, happening, mill, clause, bound)


def _read(
    state: LoomState,
    happening: Happening,
    mill: Mill,
    clause: e.Measured | e.Gauged,
    bound: Bound,
) -> Stepped:
    life = life_of(state, clause.at)
    if life.ending is Ending.ABSENT:
        life = PartLife(at=clause.at, stays=(Stay(loom=state.loom, start=happening.when),))
    series = life.readings.get(clause.quantity, ())
    reading = ReadingAt(
        when=happening.when,
        value=clause.amount.value,
        unit=clause.amount.unit,
        bound=bound,
        written=clause.amount.written,
        level=life.level,
        by=happening.by,
        source=happening.source,
        counts=clause.amount.plausible,
    )
    quantity = mill.quantity(clause.at.part, clause.quantity)
    complaints: tuple[Diagnostic, ...] = ()
    if not reading.counts and series and _confirms(reading, series[-1], quantity):
        reading = replace(reading, counts=True)
        series = (*series[:-1], replace(series[-1], counts=True))
    elif reading.counts and bound is Bound.EXACT and not life.worked:
        complaints = _better(happening, reading, series, quantity)
    grown = replace(
        life, readings={**life.readings, clause.quantity: (*series, reading)}, worked=False
    )
    return Stepped(state=_with_part(state, grown), complaints=complaints)


def _confirms(reading: ReadingAt, before: ReadingAt, quantity: Quantity | None) -> bool:
    if before.counts or before.bound is not reading.bound or before.level != reading.level:
        return False
    u = quantity.tool_uncertainty if quantity else None
    near = u * math.sqrt(2) if u else _CONFIRMING_SHARE * abs(before.value)
    return abs(reading.value - before.value) <= near * (1 + 1e-9)


def _better(
    happening: Happening,
    reading: ReadingAt,
    series: tuple[ReadingAt, ...],
    quantity: Quantity | None,
) -> tuple[Diagnostic, ...]:
    """Flags a reading that improves by more than two readings of that tool may differ."""
    same = [r for r in series if r.counts and r.bound is Bound.EXACT and r.level == reading.level]
    if not same or quantity is None:
        return ()
    gain = reading.value - same[-1].value
    match quantity.limits.worse:
        case Worse.RISING:
            gain = -gain
        case Worse.FALLING:
            pass
        case Worse.EITHER | Worse.NO_LIMIT:
            return ()
    # the difference of two readings has sqrt(2) times the expanded uncertainty of one
    noise = (quantity.tool_uncertainty or 0.0) * math.sqrt(2)
    if gain <= noise + 1e-9:
        return ()
    return (
        happening.complaint(
            Code.BETTER_WITHOUT_WORK,
            f"{reading.written} is better than {same[-1].written} before it, and no work is"
            " on record between them",
            help="measure again, or write the work that was done",
        ),
    )


# -- work ----------------------------------------------------------------------------------


def worked(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    """``VERB part``: a replacement begins a life; ``adjusted`` and ``repaired`` a new level."""
    clause = happening.clause
    assert isinstance(clause, e.Worked)
    job = Job(
        loom=state.loom,
        at=clause.at,
        verb=clause.verb,
        when=happening.when,
        by=happening.by,
        text=clause.text,
        source=happening.source,
        style=state.style,
        shift=happening.shift,
    )
    life = life_of(state, clause.at)
    match clause.verb:
        case e.Verb.REPLACED:
            fresh, old = _replaced(state, happening, clause, mill)
            return Stepped(state=fresh, facts=(*old, job))
        case e.Verb.ADJUSTED | e.Verb.REPAIRED:
            life = replace(life, level=life.level + 1, worked=True)
        case e.Verb.CLEANED | e.Verb.GREASED | e.Verb.TIGHTENED:
            life = replace(life, worked=True)
    return Stepped(state=_with_part(state, life), facts=(job,))


def _replaced(
    state: LoomState, happening: Happening, clause: e.Worked, mill: Mill
) -> tuple[LoomState, tuple[PartLife, ...]]:
    known = state.parts.get(clause.at)
    old = () if known is None else _ended(known, happening, Ending.REPLACED, state)
    old = tuple(replace(life, why=clause.why, end_text=clause.text) for life in old)
    life = PartLife(
        at=clause.at,
        stays=(Stay(loom=state.loom, start=happening.when),),
        fitted=happening.when,
        style=state.style,
        by=happening.by,
        source=happening.source,
    )
    fresh = _with_part(state, life)
    part = mill.part[clause.at.part]
    blank = Proof(
        at=clause.at, what="", since=happening.when, by=happening.by, source=happening.source
    )
    missing = (*prove.without(state.proofs, clause), *prove.asked_after(part, blank))
    actions = tuple(a for a in state.actions if a.recheck_of != clause.at)
    if part.after.recheck:
        actions = (*actions, _recheck(happening, clause.at, part.after.recheck, mill))
    return replace(fresh, proofs=missing, actions=in_order(actions)), old


def _recheck(happening: Happening, at: e.PartAt, due: str, mill: Mill) -> Action:
    return Action(
        text=f"recheck {at.words()} after it was replaced",
        opened=happening.when,
        place=happening.place,
        source=happening.source,
        due=due_from(due, happening.when, mill),
        by=happening.by,
        recheck_of=at,
    )


def _ended(
    life: PartLife, happening: Happening, ending: Ending, state: LoomState
) -> tuple[PartLife, ...]:
    """The life that ends here, unless the place was empty."""
    if life.ending is Ending.ABSENT:
        return ()
    faulty = any(f.part == life.at.part and f.side in (None, life.at.side) for f in state.faults)
    stays = (*life.stays[:-1], replace(life.stays[-1], end=happening.when))
    return (replace(life, stays=stays, ended=happening.when, ending=ending, fault_at_end=faulty),)


def moved(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    """``moved PART from LOOM``: the part arrives with its life; the one that was here gives way."""
    clause, arriving = happening.clause, happening.arriving
    assert isinstance(clause, e.Moved)
    job = Job(
        loom=state.loom,
        at=clause.at,
        verb=None,
        when=happening.when,
        by=happening.by,
        text=f"moved from {clause.origin}",
        source=happening.source,
        style=state.style,
        origin=clause.origin,
        shift=happening.shift,
    )
    if arriving is None or arriving.ending is Ending.ABSENT:
        complaint = happening.complaint(
            Code.WHICH_PART,
            f"the {clause.at.words()} of {clause.origin} was moved away before",
            help="write from which loom it came, or: replaced",
        )
        return Stepped(state=state, complaints=(complaint,))
    here = Stay(loom=state.loom, start=happening.when)
    life = replace(arriving, stays=(*arriving.stays, here), ending=Ending.IN_SERVICE, ended=None)
    return Stepped(state=_with_part(state, life), facts=(job,))


def gave_way(state: LoomState, happening: Happening, at: e.PartAt) -> tuple[PartLife, ...]:
    """The life of the part that a moved one pushes out of service."""
    known = state.parts.get(at)
    return () if known is None else _ended(known, happening, Ending.GAVE_WAY, state)


def left(life: PartLife, when: datetime) -> PartLife:
    """A life as it leaves its loom: its stay there ends."""
    return replace(life, stays=(*life.stays[:-1], replace(life.stays[-1], end=when)))


def emptied(state: LoomState, at: e.PartAt, when: datetime) -> LoomState:
    """A loom whose part was moved away: the place is empty until it is replaced."""
    empty = PartLife(
        at=at, stays=(Stay(loom=state.loom, start=when),), ending=Ending.ABSENT, ended=when
    )
    proofs = tuple(p for p in state.proofs if p.at != at)
    actions = tuple(a for a in state.actions if a.recheck_of != at)
    return replace(_with_part(state, empty), proofs=proofs, actions=actions)


# -- proofs --------------------------------------------------------------------------------


def proved(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    """``torque``, ``thread-locked`` or ``checked``: a proof or finding joins its job."""
    clause = happening.clause
    assert isinstance(clause, e.Torqued | e.ThreadLocked | e.Checked)
    meant = prove.part_meant(state, clause, happening.job, mill)
    if isinstance(meant, prove.SeveralParts):
        several = ", ".join(meant.parts)
        complaint = happening.complaint(
            Code.WHICH_PART,
            f"the {prove.kind_of(clause)} may belong to: {several}",
            help="name the part, or write it in the entry of the job",
        )
        return Stepped(state=state, complaints=(complaint,))
    blank = Proof(at=meant, what="", since=happening.when, by=happening.by, source=happening.source)
    left_over = prove.given(state.proofs, clause, meant, blank, mill)
    what = prove.kind_of(clause)
    good = True
    written = clause.as_text()
    if isinstance(clause, e.Checked):
        what, good = f"checked {clause.text}", clause.good
    fact = ProofGiven(
        loom=state.loom,
        at=meant,
        proof=GivenProof(what=what, written=written, good=good, when=happening.when),
        by=happening.by,
    )
    return Stepped(state=replace(state, proofs=left_over), facts=(fact,))


def batched(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    """``batch WORD``: the delivery that the part of the job came from."""
    clause = happening.clause
    assert isinstance(clause, e.Batch)
    at = happening.job
    if at is None:
        waiting = {p.at for p in state.proofs if p.at is not None}
        if len(waiting) != 1:
            complaint = happening.complaint(
                Code.WHICH_PART,
                f"no single job on {state.loom} waits for its batch",
                help="write it in the entry of the job",
            )
            return Stepped(state=state, complaints=(complaint,))
        at = next(iter(waiting))
    life = replace(life_of(state, at), batch=clause.word)
    fact = ProofGiven(
        loom=state.loom,
        at=at,
        proof=GivenProof(what="batch", written=clause.as_text(), good=True, when=happening.when),
        by=happening.by,
    )
    return Stepped(state=_with_part(state, life), facts=(fact,))
