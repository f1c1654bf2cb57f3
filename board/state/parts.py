"""Parts of a loom: their readings, gauge verdicts and the work on them.

A part written with a number (``guide 3``) and one written without (``guide``) are two places. A
part that comes from another loom is left to ``moves``, the proofs of a job to ``proofs``.
"""

from __future__ import annotations

import math
from itertools import chain

from board.mill import Mill, Worse
from board.state import made
from board.state import proofs as prove
from board.state.actions import in_order, recheck, without_rechecks
from board.state.bettering import better
from board.state.fleet import LoomState, Proof
from board.state.happening import Happening, Stepped
from board.state.history import Bound, Ending, Fact, Job, PartLife, ReadingAt
from board.state.kept_readings import newest_first, with_last
from grammar import entries as e
from grammar.diagnostics import Diagnostic
from grammar.making import changed

_CONFIRMING_SHARE = 0.05  # how near a second implausible reading must be, where no U is given


def life_of(state: LoomState, at: e.PartAt) -> PartLife:
    """The life of the part that is there, begun before the log if it is not known."""
    known = state.parts.get(at)
    if known is not None:
        return known
    return PartLife(at=at, stays=(made.Stay(loom=state.loom, start=None),))


def present(state: LoomState, at: e.PartAt, happening: Happening) -> PartLife:
    """The life of a part that is spoken of as being there; in an empty place one is found anew."""
    life = life_of(state, at)
    if life.ending is Ending.ABSENT:
        return PartLife(at=at, stays=(made.Stay(loom=state.loom, start=happening.when),))
    return life


def with_part(state: LoomState, life: PartLife) -> LoomState:
    """A loom with this life in its place."""
    return changed(state, parts={**state.parts, life.at: life})


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
    life = present(state, clause.at, happening)
    earlier = newest_first(life.readings, clause.quantity)
    last = next(earlier, None)
    entry, amount = happening.entry, clause.amount
    reading = made.ReadingAt(
        when=entry.when,
        value=amount.value,
        unit=amount.unit,
        bound=bound,
        written=amount.written,
        level=life.level,
        by=entry.by,
        source=happening.source,
        counts=not amount.implausible,
    )
    complaints: tuple[Diagnostic, ...] = ()
    instead: tuple[ReadingAt, ...] = ()
    if last is not None and not last.counts and _confirms(reading, last, clause, mill):
        reading, last = changed(reading, counts=True), changed(last, counts=True)
        instead = (last,)
    if last is not None and reading.counts:
        others = earlier if instead else chain([last], earlier)
        complaints = better(happening, reading, life, others, mill)
    readings = with_last(life.readings, clause.quantity, (*instead, reading), len(instead))
    grown = changed(life, readings=readings)
    return made.Stepped(state=with_part(state, grown), complaints=complaints)


def _confirms(
    reading: ReadingAt, before: ReadingAt, clause: e.Measured | e.Gauged, mill: Mill
) -> bool:
    """Whether a reading bears out an implausible one just before it, and so each the other."""
    if before.bound is not reading.bound or before.level != reading.level:
        return False
    quantity = mill.quantity(clause.at.part, clause.quantity)
    u = quantity.tool_uncertainty if quantity else None
    near = u * math.sqrt(2) if u else _CONFIRMING_SHARE * abs(before.value)
    return abs(reading.value - before.value) <= near * (1 + 1e-9)


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
    if clause.verb is e.Verb.REPLACED:
        return _replaced(state, happening, clause, mill, job)
    life = present(state, clause.at, happening)
    level = life.level
    if clause.verb in (e.Verb.ADJUSTED, e.Verb.REPAIRED):
        level += 1
    life = changed(life, level=level, last_work=happening.when)
    return made.Stepped(state=with_part(state, life), facts=(job,))


def _replaced(
    state: LoomState, happening: Happening, clause: e.Worked, mill: Mill, job: Job
) -> Stepped:
    """A new life begins; what was asked for or open after the one before it falls away."""
    at, when = clause.at, happening.when
    facts: list[Fact] = []
    for old in ended(state, at, happening, Ending.REPLACED):
        facts.append(changed(old, why=clause.why, end_text=clause.text))
    life = PartLife(
        at=at,
        stays=(made.Stay(loom=state.loom, start=when),),
        fitted=when,
        style=state.style,
        by=happening.by,
        source=happening.source,
    )
    part = mill.part[at.part]
    blank = Proof(at=at, what="", since=when, by=happening.by, source=happening.source)
    actions, closed = without_rechecks(state, at, happening, "replaced again")
    if part.after.recheck:
        actions = in_order((*actions, recheck(happening, at, part.after.recheck, mill)))
    fresh = changed(
        state,
        parts={**state.parts, at: life},
        proofs=(*prove.without(state.proofs, at), *prove.asked_after(part, blank)),
        actions=actions,
    )
    return made.Stepped(state=fresh, facts=(*facts, *closed, job))


def ended(
    state: LoomState, at: e.PartAt, happening: Happening, ending: Ending
) -> tuple[PartLife, ...]:
    """The life on record of a part that ends here; none for an empty place, or one never told of.

    ``fault_at_end`` tells that a fault of the part was open, or was cleared in this very entry.
    """
    life = state.parts.get(at)
    if life is None or life.ending is Ending.ABSENT:
        return ()
    stays = (*life.stays[:-1], changed(life.stays[-1], end=happening.when))
    own = (e.FaultCleared, e.FaultOpened)
    told = [(f.part, f.side) for f in state.faults]
    told += [(c.at.part, c.side) for c in happening.entry.clauses if isinstance(c, own) and c.at]
    faulty = any(part == at.part and side in (None, at.side) for part, side in told)
    over = changed(life, stays=stays, ended=happening.when, ending=ending, fault_at_end=faulty)
    return (over,)
