"""One clause happens to one loom: the pure step from one state to the next.

A refused clause leaves the state as it was. What one loom's clause means for another loom (a
moved part, an action closed elsewhere) is routed by ``fold``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from board.mill import Mill
from board.state import actions, faults, parts
from board.state.fleet import Lock, Look, LoomState, Motion, RemovedForOther
from board.state.happening import Happening, Stepped
from board.state.history import CounterReading, Spell, StyleChange
from grammar import entries as e
from grammar.diagnostics import Code
from grammar.folding import fold_word

# What a clause makes of the motion. A pair that is not here leaves the motion as it was.
MOTION_AFTER: Mapping[tuple[type, Motion], Motion] = {
    (e.Stopped, Motion.RUNNING): Motion.STOPPED,
    (e.Stopped, Motion.STOPPED): Motion.STOPPED,
    (e.Stopped, Motion.UNKNOWN): Motion.STOPPED,
    (e.Running, Motion.RUNNING): Motion.RUNNING,
    (e.Running, Motion.STOPPED): Motion.RUNNING,
    (e.Running, Motion.UNKNOWN): Motion.RUNNING,
    (e.Isolated, Motion.RUNNING): Motion.STOPPED,
    (e.Isolated, Motion.UNKNOWN): Motion.STOPPED,
}

UNRECORDED_LOCK = "a lock that nobody recorded"


def step(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    """The loom after one clause. Never raises on what a log may hold."""
    stepped = _STEPS[type(happening.clause)](state, happening, mill)
    last = max(filter(None, (stepped.state.last_entry, happening.when)))
    return replace(stepped, state=replace(stepped.state, last_entry=last))


# -- motion --------------------------------------------------------------------------------


def _moving(state: LoomState, happening: Happening) -> tuple[LoomState, tuple[Spell, ...]]:
    clause = happening.clause
    after = MOTION_AFTER.get((type(clause), state.motion))
    if after is None:
        return state, ()
    reason = clause.reason if isinstance(clause, e.Stopped) else None
    facts: tuple[Spell, ...] = ()
    since = state.motion_since
    if after is not state.motion or reason is not state.stopped_for:
        if since is not None:
            facts = (_spell_until(state, happening),)
        since = happening.when
        state = replace(state, spell_since=since)
    moved = replace(
        state,
        motion=after,
        motion_since=since,
        stopped_for=reason,
        motion_text=clause.text if isinstance(clause, e.Running) else "",
        motion_by=happening.by,
        motion_source=happening.source,
    )
    return moved, facts


def _spell_until(state: LoomState, happening: Happening) -> Spell:
    start = state.spell_since or state.motion_since
    assert start is not None, "a motion that is known has begun"
    return Spell(
        loom=state.loom,
        motion=state.motion,
        start=start,
        end=happening.when,
        reason=state.stopped_for,
        style=state.style,
    )


def _stopped(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    moved, facts = _moving(state, happening)
    return Stepped(state=replace(moved, conflict_since=None, conflict_source=None), facts=facts)


def _running(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    if not state.locks:
        moved, facts = _moving(state, happening)
        return Stepped(state=moved, facts=facts)
    if happening.of_group:
        left = happening.complaint(
            Code.RUNNING_WHILE_ISOLATED,
            f"{state.loom} is isolated on record and was left as it was",
            help="write the loom's own line when its locks are off",
        )
        return Stepped(state=state, complaints=(left,))
    moved, facts = _moving(state, happening)
    owners = ", ".join(lock.by for lock in state.locks)
    complaint = happening.complaint(
        Code.RUNNING_WHILE_ISOLATED,
        f"{state.loom} was written as running while the lock of {owners} is on record",
        help="look at the machine; then write stopped, or lock removed by WHO",
    )
    conflict = replace(
        moved,
        conflict_since=state.conflict_since or happening.when,
        conflict_source=state.conflict_source or happening.source,
    )
    return Stepped(state=conflict, complaints=(complaint,), facts=facts)


# -- locks ---------------------------------------------------------------------------------


def same_person(one: str, other: str) -> bool:
    """Whether two names are the same but for case and Unicode form."""
    return fold_word(one) == fold_word(other)


def _isolated(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    clause = happening.clause
    assert isinstance(clause, e.Isolated)
    moved, facts = _moving(state, happening)
    own = next((lock for lock in moved.locks if same_person(lock.by, clause.by)), None)
    if own is None:
        new = Lock(
            by=clause.by,
            text=clause.text,
            since=happening.when,
            latest=happening.latest,
            source=happening.source,
        )
    else:  # one lock a person: the first since, the later latest, what was said last
        new = replace(
            own,
            text=clause.text or own.text,
            latest=max(own.latest, happening.latest),
            source=happening.source if clause.text else own.source,
        )
    others = tuple(lock for lock in moved.locks if lock is not own)
    locks = tuple(sorted((*others, new), key=lambda lock: (lock.since, fold_word(lock.by))))
    return Stepped(state=replace(moved, locks=locks), facts=facts)


def _lock_seen(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    clause = happening.clause
    assert isinstance(clause, e.LockSeen)
    if not state.locks:
        complaint = happening.complaint(
            Code.NO_LOCK,
            f"a lock was seen on {state.loom} and none is on record",
            label=UNRECORDED_LOCK,
            help="ask whose it is, and write: isolated by WHO",
        )
        return Stepped(state=state, complaints=(complaint,))
    look = Look(by=clause.by, when=happening.when)
    return Stepped(state=replace(state, locks=tuple(replace(k, seen=look) for k in state.locks)))


def _lock_removed(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    clause = happening.clause
    assert isinstance(clause, e.LockRemoved)
    own = next((lock for lock in state.locks if same_person(lock.by, clause.owner)), None)
    if own is None:
        there = ", ".join(lock.by for lock in state.locks)
        complaint = happening.complaint(
            Code.NO_LOCK,
            f"no lock of {clause.owner} is on record on {state.loom}",
            help=f"on record: {there}" if there else "no lock is on record there",
        )
        return Stepped(state=state, complaints=(complaint,))
    if happening.when < own.latest and happening.source.path != own.source.path:
        complaint = happening.complaint(
            Code.HOUR_TWICE,
            f"this may have been written before {own.by} isolated {state.loom}: the hour came"
            " twice, and the isolation stands",
            help="write both times in full with their offset",
        )
        return Stepped(state=state, complaints=(complaint,))
    locks = tuple(lock for lock in state.locks if lock is not own)
    freed = replace(state, locks=locks)
    if not locks:
        freed = replace(freed, conflict_since=None, conflict_source=None)
    if not same_person(clause.by, own.by):
        removal = RemovedForOther(
            by=clause.by, owner=own.by, when=happening.when, source=happening.source
        )
        freed = replace(freed, removed_for_others=(*state.removed_for_others, removal))
    return Stepped(state=freed)


# -- the rest ------------------------------------------------------------------------------


def _counter(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    clause = happening.clause
    assert isinstance(clause, e.Counter)
    reading = CounterReading(
        loom=state.loom,
        when=happening.when,
        value=clause.amount.value,
        unit=clause.amount.unit,
        new_meter=clause.new_meter,
        source=happening.source,
    )
    before = dict(state.counters).get(reading.unit)
    if before is not None and reading.value < before and not reading.new_meter:
        backwards = happening.complaint(
            Code.COUNTER_BACKWARDS,
            f"the meter of {state.loom} showed {before:g} {reading.unit} before",
            help="read it again; a new meter is written: counter 0 h new",
        )
        return Stepped(state=state, complaints=(backwards,))
    counters = tuple(sorted({**dict(state.counters), reading.unit: reading.value}.items()))
    return Stepped(state=replace(state, counters=counters), facts=(reading,))


def _style(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    clause = happening.clause
    assert isinstance(clause, e.StyleSet)
    change = StyleChange(loom=state.loom, when=happening.when, style=clause.word)
    facts: tuple[StyleChange | Spell, ...] = (change,)
    since = state.motion_since
    if since is not None and clause.word != state.style:
        # a spell ends where the style changes, so that each spell has one speed
        facts = (change, _spell_until(state, happening))
        state = replace(state, spell_since=happening.when)
    return Stepped(state=replace(state, style=clause.word, style_since=happening.when), facts=facts)


def _kept(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    return Stepped(state=state)


_STEPS: Mapping[type[Any], Callable[[LoomState, Happening, Mill], Stepped]] = {
    e.Stopped: _stopped,
    e.Running: _running,
    e.Isolated: _isolated,
    e.LockSeen: _lock_seen,
    e.LockRemoved: _lock_removed,
    e.FaultOpened: faults.opened,
    e.FaultCleared: faults.cleared,
    e.Measured: parts.measured,
    e.Gauged: parts.gauged,
    e.Worked: parts.worked,
    e.Moved: parts.moved,
    e.Torqued: parts.proved,
    e.ThreadLocked: parts.proved,
    e.Checked: parts.proved,
    e.Batch: parts.batched,
    e.Counter: _counter,
    e.StyleSet: _style,
    e.Opened: actions.opened,
    e.Done: actions.closed,
    e.Dropped: actions.closed,
    e.Note: _kept,
    e.HandedOver: _kept,
    e.TakenOver: _kept,
    e.Struck: _kept,
}
