"""One clause happens to one loom: the pure step from one state to the next.

A refused clause leaves the state as it was. What one loom's clause means for another loom (a
moved part, an action closed elsewhere) is routed by ``fold``, and so is the time of the last
entry, which a refused clause moves too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from typing import Any

from board.mill import Mill
from board.state import actions, faults, locks, made, moves, parts, proofs
from board.state.fleet import Lock, Look, LoomState, Motion
from board.state.happening import Happening, Stepped
from board.state.history import CounterReading, Spell, StyleChange
from grammar import entries as e
from grammar.diagnostics import Code, Diagnostic
from grammar.folding import fold_word
from grammar.making import changed

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
    return _STEPS[type(happening.clause)](state, happening, mill)


# -- motion --------------------------------------------------------------------------------


def _moving(state: LoomState, happening: Happening) -> tuple[LoomState, tuple[Spell, ...]]:
    """The loom in the motion that a clause makes: a new reason is a new spell of the same stop."""
    clause = happening.clause
    after = MOTION_AFTER.get((type(clause), state.motion))
    if after is None:
        return state, ()
    reason = clause.reason if isinstance(clause, e.Stopped) else None
    since, spell_since = state.motion_since, state.spell_since
    facts: tuple[Spell, ...] = ()
    if after is not state.motion or reason is not state.stopped_for:
        if spell_since is not None:
            facts = (_spell_until(state, happening),)
        spell_since = happening.when
    if after is not state.motion:
        since = happening.when
    moved = changed(
        state,
        motion=after,
        motion_since=since,
        spell_since=spell_since,
        stopped_for=reason,
        motion_text=clause.text if isinstance(clause, e.Running) else "",
        motion_by=happening.by,
        motion_source=happening.source,
    )
    return moved, facts


def _spell_until(state: LoomState, happening: Happening) -> Spell:
    assert state.spell_since is not None, "a motion that is known has begun"
    return Spell(
        loom=state.loom,
        motion=state.motion,
        start=state.spell_since,
        end=happening.when,
        reason=state.stopped_for,
        style=state.style,
    )


def _stopped(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    moved, facts = _moving(state, happening)
    if moved.conflict_since is not None:
        moved = changed(moved, conflict_since=None, conflict_source=None)
    return made.Stepped(state=moved, facts=facts)


def _running(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    if not state.locks:
        moved, facts = _moving(state, happening)
        return made.Stepped(state=moved, facts=facts)
    if happening.of_group:
        left = left_isolated(happening, (state.loom,))
        return made.Stepped(state=state, complaints=(left,))
    moved, facts = _moving(state, happening)
    locks = "the lock of " + state.locks[0].by
    if len(state.locks) > 1:
        locks = "the locks of " + " and ".join(lock.by for lock in state.locks)
    complaint = happening.complaint(
        Code.RUNNING_WHILE_ISOLATED,
        f"{state.loom} was written as running under {locks}",
        help="look at the machine; then write stopped, or lock removed by WHO",
    )
    conflict = changed(
        moved,
        conflict_since=state.conflict_since or happening.when,
        conflict_source=state.conflict_source or happening.source,
    )
    return made.Stepped(state=conflict, complaints=(complaint,), facts=facts)


def left_isolated(happening: Happening, looms: Iterable[str]) -> Diagnostic:
    """What is said where a group's ``running`` meets looms that are isolated on record."""
    named = sorted(looms)
    was = "is isolated on record and was left as it was"
    were = "are isolated on record and were left as they were"
    return happening.complaint(
        Code.RUNNING_WHILE_ISOLATED,
        f"{', '.join(named)} {was if len(named) == 1 else were}",
        help="write the loom's own line when its locks are off",
    )


# -- locks ---------------------------------------------------------------------------------


def _isolated(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    clause = happening.clause
    assert isinstance(clause, e.Isolated)
    moved, facts = _moving(state, happening)
    own = locks.lock_of(moved, clause.by)
    doubt: tuple[tuple[str, datetime], ...] = ()
    if happening.latest > happening.when:
        doubt = ((happening.source.path, happening.latest),)
    if own is None:
        new = Lock(
            by=clause.by,
            text=clause.text,
            since=happening.when,
            latest=happening.latest,
            source=happening.source,
            lowest=locks.lowest((), happening),
            doubts=doubt,
        )
    else:  # one lock a person: the first since, the later latest, all that was said
        text = locks.both_texts(own.text, clause.text)
        new = changed(
            own,
            text=text,
            latest=max(own.latest, happening.latest),
            source=happening.source if text != own.text else own.source,
            lowest=locks.lowest(own.lowest, happening),
            doubts=own.doubts + doubt,
        )
    others = tuple(lock for lock in moved.locks if lock is not own)
    every = tuple(sorted((*others, new), key=lambda lock: (lock.since, fold_word(lock.by))))
    return made.Stepped(state=changed(moved, locks=every), facts=facts)


def _lock_seen(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    clause = happening.clause
    assert isinstance(clause, e.LockSeen)
    if not state.locks:
        complaint = happening.complaint(
            Code.NO_LOCK,
            f"a lock was seen on {state.loom} and none is on record",
            label=UNRECORDED_LOCK,
            help="ask whose it is, and write: isolated by WHO; if there is none, strike this line",
        )
        return made.Stepped(state=state, complaints=(complaint,))
    look = Look(by=clause.by, when=happening.when)
    return made.Stepped(
        state=changed(state, locks=tuple(changed(k, seen=look) for k in state.locks))
    )


# -- the rest ------------------------------------------------------------------------------


def _counter(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    """``counter``: the meter's value; one that fell is flagged and counts, for either may be wrong.

    Which of the two the usage clock goes by is decided in ``usage``.
    """
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
    last = dict(state.counters)
    before = last.get(reading.unit)
    complaints: tuple[Diagnostic, ...] = ()
    if before is not None and reading.value < before and not reading.new_meter:
        backwards = happening.complaint(
            Code.COUNTER_BACKWARDS,
            f"the meter of {state.loom} showed {_plain(before)} {reading.unit} before",
            help="read it again; a new meter is written: counter 0 h new",
        )
        complaints = (backwards,)
    counters = tuple(sorted({**last, reading.unit: reading.value}.items()))
    moved_on = changed(state, counters=counters)
    return made.Stepped(state=moved_on, complaints=complaints, facts=(reading,))


def _plain(value: float) -> str:
    """A meter's value without exponent and without zeros that were not read."""
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _style(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    """``style``: said again it changes nothing; a new one ends the spell, so each has one speed."""
    clause = happening.clause
    assert isinstance(clause, e.StyleSet)
    if state.style is not None and fold_word(state.style) == fold_word(clause.word):
        return made.Stepped(state=state)
    change = StyleChange(loom=state.loom, when=happening.when, style=clause.word)
    facts: tuple[StyleChange | Spell, ...] = (change,)
    spell_since = state.spell_since
    if spell_since is not None:
        facts = (change, _spell_until(state, happening))
        spell_since = happening.when
    woven = changed(state, style=clause.word, style_since=happening.when, spell_since=spell_since)
    return made.Stepped(state=woven, facts=facts)


def _kept(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    return made.Stepped(state=state)


_STEPS: Mapping[type[Any], Callable[[LoomState, Happening, Mill], Stepped]] = {
    e.Stopped: _stopped,
    e.Running: _running,
    e.Isolated: _isolated,
    e.LockSeen: _lock_seen,
    e.LockRemoved: locks.removed,
    e.FaultOpened: faults.opened,
    e.FaultCleared: faults.cleared,
    e.Measured: parts.measured,
    e.Gauged: parts.gauged,
    e.Worked: parts.worked,
    e.Moved: moves.moved,
    e.Torqued: proofs.proved,
    e.ThreadLocked: proofs.proved,
    e.Checked: proofs.proved,
    e.Batch: proofs.batched,
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
