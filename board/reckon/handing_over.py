"""What stands on the handover sheet: who hands what to whom, what is open, what must be asked.

Everything is taken from the summary that the board shows, so that the two agree. Words and layout
are left to ``board.show``.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from board.reckon.asking import Question, questions
from board.reckon.changes import Change, changed_since
from board.reckon.conformity import WearWord
from board.reckon.left import Ahead
from board.reckon.margins import WearLine
from board.reckon.open_actions import ActionLine
from board.reckon.pressing import Pressing, pressing
from board.reckon.shift_change import change_of_shift, last_taken, middle, of_this_change
from board.reckon.summary import MAINTENANCE, LoomLine, Summary
from board.state.counting import counted
from board.state.fleet import (
    Complaint,
    Handover,
    Lock,
    MayIsolate,
    Motion,
    Proof,
    RemovedForOther,
    Source,
)
from board.state.later import recent
from board.state.shifts import ShiftSpan
from board.state.written import by_log
from grammar.entries import Note, Reason
from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class LockLine:
    """One lock on record, and whether it has been seen since the present shift began."""

    loom: LoomLine
    lock: Lock
    seen_this_shift: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RemovedLine:
    """A lock that somebody else than its owner took off."""

    loom: str
    removal: RemovedForOther


@dataclass(frozen=True, slots=True, kw_only=True)
class HalfDone:
    """A job whose proofs are missing or failed: one part of one loom, one day's work."""

    loom: str
    proofs: tuple[Proof, ...]

    @property
    def first(self) -> Proof:
        """The proof that has been missing longest."""
        return min(self.proofs, key=lambda proof: proof.since)


@dataclass(frozen=True, slots=True, kw_only=True)
class ActionOnSheet:
    """An open action and how it stands to the coming shift."""

    line: ActionLine
    pressing: Pressing


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteLine:
    """A note of the time since the last taking over, in its writer's words."""

    when: datetime
    place: str
    text: str
    by: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LogFile:
    """A log of the shift that is handed over, and how many entries it holds of that shift."""

    path: str
    entries: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The handover sheet of one change of shift. Lists are in walking order unless said."""

    summary: Summary
    outgoing: ShiftSpan
    incoming: ShiftSpan
    since: datetime
    since_words: str  # empty: since the last taking over
    taken_before: bool  # whether ``since`` is a taking over on record
    locks: tuple[LockLine, ...]
    may_isolate: tuple[MayIsolate, ...]
    removed: tuple[RemovedLine, ...]
    conflicts: tuple[LoomLine, ...]
    questions: tuple[Question, ...]
    handovers: tuple[Handover, ...]  # of this change
    down: tuple[LoomLine, ...]
    waiting: tuple[LoomLine, ...]
    laid_up: tuple[LoomLine, ...]
    running_with_faults: tuple[LoomLine, ...]  # and looms with a fault whose motion is unknown
    worn: tuple[WearLine, ...]  # past or at their limit, the farthest gone first
    passing: tuple[WearLine, ...]  # expected to pass it in the coming shift, surest first
    near: tuple[WearLine, ...]  # near their limit for the rest, the farthest gone first
    half_done: tuple[HalfDone, ...]
    actions: tuple[ActionOnSheet, ...]  # overdue first
    changed: tuple[Change, ...]  # newest first
    notes: tuple[NoteLine, ...]  # oldest first
    unread: tuple[Complaint, ...]  # refused lines since then; those of ``may_isolate`` are there
    older_unread: int
    logs: tuple[LogFile, ...]

    @property
    def as_of(self) -> datetime:
        """Now, in UTC."""
        return self.summary.as_of


def sheet_of(summary: Summary, since: datetime | None = None, since_words: str = "") -> Sheet:
    """The sheet of the change of shift nearest to now; ``since`` replaces the last taking over."""
    outgoing, incoming = change_of_shift(summary)
    taken = last_taken(summary, middle(outgoing))
    begin = since or taken or outgoing.start
    states = [line.state for line in summary.looms]
    stopped = [line for line in summary.looms if line.state.motion is Motion.STOPPED]
    half_done = tuple(_half_done(summary.looms))
    handovers = of_this_change(summary, outgoing)
    passing = _passing(summary, incoming)
    unread, older = _unread(summary, min(begin, outgoing.start))
    # a lock taken off for somebody stays visible through the shift after it
    visible = min(begin, summary.calendar.before(outgoing.start).start)
    return Sheet(
        summary=summary,
        outgoing=outgoing,
        incoming=incoming,
        since=begin,
        since_words=since_words,
        taken_before=since is None and taken is not None,
        locks=tuple(
            LockLine(loom=line, lock=lock, seen_this_shift=summary.seen_this_shift(lock))
            for line in summary.looms
            for lock in line.state.locks
        ),
        may_isolate=summary.may_isolate,
        removed=_removed(summary, visible),
        conflicts=tuple(line for line in summary.looms if _is_conflict(line)),
        questions=questions(summary, outgoing, handovers, visible),
        handovers=handovers,
        down=tuple(x for x in stopped if x.state.stopped_for in MAINTENANCE),
        waiting=tuple(x for x in stopped if _is_waiting(x)),
        laid_up=tuple(x for x in stopped if x.state.stopped_for is Reason.LAID_UP),
        running_with_faults=tuple(
            line
            for line, state in zip(summary.looms, states, strict=True)
            if state.faults and state.motion is not Motion.STOPPED
        ),
        worn=_by_wear(summary, _WORN),
        passing=passing,
        near=tuple(w for w in _by_wear(summary, (WearWord.NEAR_LIMIT,)) if w not in passing),
        half_done=half_done,
        actions=tuple(
            ActionOnSheet(line=line, pressing=pressing(summary, line, incoming))
            for line in summary.actions
        ),
        changed=changed_since(summary, begin),
        notes=_notes(summary, begin),
        unread=unread,
        older_unread=older,
        logs=_logs(summary, outgoing),
    )


# -- the lists -----------------------------------------------------------------------------

_WORN = (WearWord.PAST_LIMIT, WearWord.GAUGE_PAST, WearWord.AT_LIMIT)


def _is_conflict(line: LoomLine) -> bool:
    return bool(line.state.locks) and line.state.conflict_since is not None


def _is_waiting(line: LoomLine) -> bool:
    reason = line.state.stopped_for
    return reason not in MAINTENANCE and reason is not Reason.LAID_UP


def _by_wear(summary: Summary, words: tuple[WearWord, ...]) -> tuple[WearLine, ...]:
    found = [wear for line in summary.looms for wear in line.wear if wear.word in words]
    # a gauge verdict has no share: it is taken as just at the limit; equals stay in walking order
    return tuple(
        sorted(found, key=lambda w: (words.index(w.word), -(w.worn if w.worn is not None else 1.0)))
    )


def _passing(summary: Summary, incoming: ShiftSpan) -> tuple[WearLine, ...]:
    """Parts inside their limit that more likely than not reach it before the coming shift ends.

    By the median of the forecast, the loom taken to run throughout; those whose band ends soonest
    come first.
    """
    hours = (incoming.end - summary.as_of) / timedelta(hours=1)
    found = []
    for line in summary.looms:
        for wear in line.wear:
            ahead = wear.ahead
            if isinstance(ahead, Ahead) and wear.word not in _WORN and ahead.hours.median <= hours:
                end = ahead.hours.high if ahead.hours.high is not None else float("inf")
                found.append((end, ahead.hours.median, wear))
    return tuple(wear for *_, wear in sorted(found, key=lambda x: x[:2]))


def _removed(summary: Summary, since: datetime) -> tuple[RemovedLine, ...]:
    return tuple(
        RemovedLine(loom=line.loom, removal=removal)
        for line in summary.looms
        for removal in line.state.removed_for_others
        if removal.when >= since
    )


def _half_done(looms: Iterable[LoomLine]) -> Iterable[HalfDone]:
    for line in looms:
        parts = list(dict.fromkeys(proof.at for proof in line.state.proofs))
        for at in parts:
            yield HalfDone(loom=line.loom, proofs=tuple(p for p in line.state.proofs if p.at == at))


def _notes(summary: Summary, since: datetime) -> tuple[NoteLine, ...]:
    """Notes since a moment, but for struck and doubled lines."""
    return tuple(
        NoteLine(
            when=logged.entry.when,
            place=logged.entry.place.name,
            text=clause.text,
            by=logged.entry.by,
        )
        for logged in counted(recent(summary.snapshot.entries, since), summary.as_of).entries
        if logged.entry.when >= since and not logged.struck_for
        for clause in logged.entry.clauses
        if isinstance(clause, Note)
    )


def _unread(summary: Summary, since: datetime) -> tuple[tuple[Complaint, ...], int]:
    """Refused lines of the shifts that end after a moment, one complaint a line; how many older."""
    shown = {(m.path, m.line) for m in summary.may_isolate}
    lines: dict[tuple[str, int], Complaint] = {}
    for complaint in summary.snapshot.refused:
        lines.setdefault((complaint.path, complaint.diagnostic.line), complaint)
    left = {where: c for where, c in lines.items() if where not in shown}
    newer = tuple(
        c
        for c in left.values()
        if c.shift is None or summary.calendar.span(c.shift).end > since
    )  # fmt: skip
    return newer, len(left) - len(newer)


def _logs(summary: Summary, outgoing: ShiftSpan) -> tuple[LogFile, ...]:
    counts = by_log(summary.snapshot.entries, outgoing.shift)
    return tuple(LogFile(path=path, entries=n) for path, n in sorted(counts.items()))


def unfinished(sheet: Sheet) -> tuple[Source, ...]:
    """Last lines without their end, not counted yet."""
    return sheet.summary.snapshot.unfinished
