"""How a lock comes off on record."""

from __future__ import annotations

from datetime import timedelta

from board.mill import Mill
from board.state import made
from board.state.fleet import Lock, LoomState, RemovedForOther, Said
from board.state.happening import Happening, Stepped
from board.state.history import EndedLock
from grammar import entries as e
from grammar.diagnostics import Code, Diagnostic
from grammar.folding import fold_word
from grammar.making import changed
from grammar.times import read_full

TEXTS_KEPT = 4  # of one lock
_APART = "; "  # no text holds it: it ends a clause
REMOVALS_KEPT = timedelta(days=400)  # before the last: a state must not grow with the years


def same_person(one: str, other: str) -> bool:
    """Whether two names are the same but for case and Unicode form."""
    return fold_word(one) == fold_word(other)


def lock_of(state: LoomState, who: str) -> Lock | None:
    """The lock of a person on a loom."""
    return next((lock for lock in state.locks if same_person(lock.by, who)), None)


def both_texts(before: str, said: str) -> str:
    """What is kept of a lock that its owner told of once more: it may be a second padlock.

    Of many texts the first and the newest ones: a state must not grow with the shifts.
    """
    told = before.split(_APART) if before else []
    if not said or fold_word(said) in map(fold_word, told):
        return before
    told.append(said)
    return _APART.join([*told[:1], *told[1:][1 - TEXTS_KEPT :]])


def removed(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    """``lock removed``: the lock of its owner comes off, whoever took it off."""
    clause = happening.clause
    assert isinstance(clause, e.LockRemoved)
    own = lock_of(state, clause.owner)
    if own is None:
        there = ", ".join(lock.by for lock in state.locks)
        complaint = happening.complaint(
            Code.NO_LOCK,
            f"no lock of {clause.owner} is on record on {state.loom}",
            help=f"on record: {there}" if there else "no lock is on record there",
        )
        return made.Stepped(state=state, complaints=(complaint,))
    if _may_be_before(happening, own):
        complaint = happening.complaint(
            Code.HOUR_TWICE,
            f"this may have been written before {own.by} isolated {state.loom}: the hour came"
            " twice, and the isolation stands",
            help="write both times in full with their offset",
        )
        return made.Stepped(state=state, complaints=(complaint,))
    locks = tuple(lock for lock in state.locks if lock is not own)
    freed = changed(state, locks=locks)
    if not locks:
        freed = changed(freed, conflict_since=None, conflict_source=None)
    if not same_person(clause.by, own.by):
        removal = RemovedForOther(
            by=clause.by, owner=own.by, when=happening.when, source=happening.source
        )
        known = state.removed_for_others
        if known and removal.when - known[0].when > REMOVALS_KEPT:
            known = tuple(r for r in known if removal.when - r.when <= REMOVALS_KEPT)
        freed = changed(freed, removed_for_others=(*known, removal))
    below = _below(own, happening)
    ended = EndedLock(
        loom=state.loom,
        owner=own.by,
        since=own.since,
        ended=happening.when,
        by=clause.by,
        below=below,
    )
    told = (_written_below(state.loom, own, below, happening),) if below is not None else ()
    return made.Stepped(state=freed, complaints=told, facts=(ended,))


def lowest(before: tuple[Said, ...], happening: Happening) -> tuple[Said, ...]:
    """Of each file the lowest line that said a lock, with one that says it now."""
    said = Said(source=happening.source, by=happening.by)
    same = next((s for s in before if s.source.path == said.source.path), None)
    if same is not None and same.source.line >= said.source.line:
        return before
    return (*(s for s in before if s is not same), said)


def _below(lock: Lock, happening: Happening) -> Said | None:
    """A line that said a lock, and stands below the one that takes it off."""
    removal = happening.source
    return next(
        (
            said
            for said in lock.lowest
            if said.source.path == removal.path and said.source.line > removal.line
        ),
        None,
    )


def _written_below(loom: str, lock: Lock, said: Said, happening: Happening) -> Diagnostic:
    """What is said of a lock whose line stands below the one that takes it off."""
    line = said.source
    return Diagnostic(
        code=Code.ISOLATED_BELOW,
        message=f"this lock of {lock.by} on {loom} counts as taken off by line"
        f" {happening.source.line}, which stands above it and has a later time",
        line=line.line,
        span=e.Span(0, len(line.text)),
        text=line.text,
        help="where the heading of a new shift is missing, write it above this line; else write"
        " the removal below it",
    )


def _may_be_before(happening: Happening, lock: Lock) -> bool:
    """Whether a removal may have been written before a lock was put on, as an hour came twice.

    In one file the order of the lines tells, unless its times stepped back to the removal: it is
    taken for the second pass then, and may be a line of the first that was written late.
    """
    if not lock.doubts:
        return False
    path, entry = happening.source.path, happening.entry
    wall = read_full(fold_word(entry.stamp))
    stepped_back = entry.latest == entry.when and (wall is None or wall.offset is None)
    return any(
        entry.when < latest and (path != other or stepped_back) for other, latest in lock.doubts
    )
