"""A snapshot from an index, as ``board.snapshot`` makes it from readings.

What is old and seldom looked at (facts, entries, takings-over) is read when it is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import TypeVar

from board.index import rows
from board.index.columns import has_columns
from board.index.entries import Entries
from board.index.index import Index, Reckoned
from board.index.tails import Tail
from board.snapshot import Snapshot, Tally, may_isolate, where
from board.state.fleet import Complaint, Fleet, Handover
from board.state.history import (
    ClearedFault,
    ClosedAction,
    CounterReading,
    EndedLock,
    History,
    Job,
    PartLife,
    ProofGiven,
    Spell,
    StyleChange,
)
from board.state.later import Later
from board.state.seals import changed_since_sealed
from board.state.usage import disagreements
from grammar.diagnostics import Severity

T = TypeVar("T")


def picture(index: Index, as_of: datetime, notices: Sequence[str] = ()) -> Snapshot:
    """The shed as of a moment (UTC), from what the index holds."""
    with index.reads():  # all of it as the index stands now, whatever others write meanwhile
        found, reckoned = _picture(index, as_of, notices)
    index.keep_seals(reckoned)
    return found


def _picture(index: Index, as_of: datetime, notices: Sequence[str]) -> tuple[Snapshot, Reckoned]:
    mill = index.mill
    tail = index.tail(as_of)
    fleet = _fleet(index, tail)
    with index.reads() as readings:
        connection = readings.connection
        told = list(rows.told(connection))
        files, lines, entries = connection.execute(
            "SELECT count(*), coalesce(sum(lines), 0), coalesce(sum(entries), 0) FROM file"
        ).fetchone()
    folded = index.complaints(tail)
    fleet = replace(fleet, complaints=tuple(folded))
    complaints = [c for each in told for c in each.complaints] + folded
    complaints += index.with_shifts(disagreements(fleet, mill))
    broken, reckoned = _seals_broken(index, fleet)
    complaints += index.with_shifts(broken)
    complaints.sort(key=where)
    refused = {
        (c.path, c.diagnostic.line) for c in complaints if c.diagnostic.severity is Severity.REFUSED
    }
    doubtful = [each for file in told for each in file.doubtful]
    snapshot = Snapshot(
        mill=mill,
        fleet=replace(fleet, may_isolate=may_isolate(doubtful, fleet, mill, complaints)),
        tally=Tally(
            files=files,
            lines=lines,
            entries=entries,
            refused=len(refused),
            flagged=sum(c.diagnostic.severity is Severity.FLAGGED for c in complaints),
        ),
        complaints=tuple(complaints),
        unfinished=tuple(each.unfinished for each in told if each.unfinished is not None),
        notices=tuple(notices),
        entries=Entries(index, as_of),
    )
    return snapshot, reckoned


def _fleet(index: Index, tail: Tail) -> Fleet:
    fleet = tail.fleet
    history = History(
        spells=_of_kind(index, tail, Spell),
        counters=_of_kind(index, tail, CounterReading),
        styles=_of_kind(index, tail, StyleChange),
        cleared=_of_kind(index, tail, ClearedFault),
        jobs=_of_kind(index, tail, Job),
        proofs=_of_kind(index, tail, ProofGiven),
        closed=_of_kind(index, tail, ClosedAction),
        locks=_of_kind(index, tail, EndedLock),
        lives=_of_kind(index, tail, PartLife),
    )
    taken: Later[Handover] = Later(lambda since: index.taken(tail, since))
    return replace(fleet, history=history, shed=replace(fleet.shed, taken=taken))


def _of_kind(index: Index, tail: Tail, kind: type[T]) -> Later[T]:
    return Later(
        lambda since: index.facts(tail, kind, since),
        backwards=lambda: index.backwards(tail, kind),
        columns=(lambda: index.columns(tail, kind)) if has_columns(kind) else None,
    )


def _seals_broken(index: Index, fleet: Fleet) -> tuple[Sequence[Complaint], Reckoned]:
    sealed = [h.shift for h in fleet.shed.taken if h.seal is not None and h.shift is not None]
    found, reckoned = index.seals(sealed)
    return changed_since_sealed(fleet, found.__getitem__, index.how_changed), reckoned
