"""What an incoming lead has to ask: where the record contradicts itself or is silent.

Each question is told as data; its words are left to ``board.show``.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from enum import Enum

from board.reckon.may_isolate import about_when, looms_named
from board.reckon.summary import LoomLine, Summary
from board.state.fleet import Complaint, Handover, Isolation, Motion
from board.state.shifts import ShiftSpan
from grammar.diagnostics import Code
from grammar.frozen import dataclass

STILL_ASKED = timedelta(days=14)  # how long a complaint about counters or a seal is asked about


class About(Enum):
    """What a question is about; the order is the order of the list."""

    CONFLICT = "conflict"
    MAY_BE_ISOLATED = "may be an isolation"
    LOCK_NOT_SEEN = "lock not seen"
    LOCK_REMOVED = "lock removed by another"
    NOT_TAKEN_OVER = "handover not taken over"
    TAKEN_BY_ANOTHER = "taken over by another"
    NOT_SAID = "handover not said"
    CHANGED_AFTER = "changed after handover"
    PROOFS = "proofs missing"
    SILENCE = "silence"
    MOTION = "motion unknown"
    COUNTERS = "counters disagree"
    FLAGGED = "doubtful line"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One loom in a question, with whom or what it is about: ``A07``, ``KM``."""

    loom: str
    detail: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Something to ask: about which looms, of whom, since when, and where it is written."""

    about: About
    looms: tuple[Asked, ...] = ()
    what: str = ""  # the shed or section of a handover, or the text of a line
    by: str | None = None
    to: str | None = None
    taken_by: str | None = None  # where it was another
    when: datetime | None = None
    message: str = ""  # what is told of a line
    path: str = ""
    line: int = 0


_DOUBTFUL = frozenset(
    {
        Code.IMPLAUSIBLE,
        Code.IN_THE_FUTURE,
        Code.SAME_MINUTE,
        Code.NUMBER_TAKEN,
        Code.BETTER_WITHOUT_WORK,
    }
)
_COUNTERS = frozenset({Code.COUNTER_DISAGREES, Code.COUNTER_BACKWARDS})


def questions(
    summary: Summary,
    outgoing: ShiftSpan,
    handovers: tuple[Handover, ...],
    since: datetime,
) -> tuple[Question, ...]:
    """Everything to ask at this change of shift; ``handovers`` are those of this change."""
    order = list(About)
    found = [
        *_about_isolation(summary, since),
        *_about_handovers(summary, outgoing, handovers),
        *_about_looms(summary),
        *_about_lines(summary, since),
    ]
    return tuple(sorted(found, key=lambda q: order.index(q.about)))


def _about_isolation(summary: Summary, since: datetime) -> Iterator[Question]:
    for line in summary.looms:
        state = line.state
        if state.isolation is Isolation.CONFLICT:
            yield Question(
                about=About.CONFLICT,
                looms=(Asked(loom=line.loom, detail=_owners(line)),),
                by=state.motion_by,
                when=state.conflict_since,
            )
        for removal in state.removed_for_others:
            if removal.when >= since:
                yield Question(
                    about=About.LOCK_REMOVED,
                    looms=(Asked(loom=line.loom, detail=removal.owner),),
                    by=removal.by,
                    to=removal.owner,
                    when=removal.when,
                )
    for doubtful in summary.may_isolate:
        yield Question(
            about=About.MAY_BE_ISOLATED,
            looms=tuple(
                Asked(loom=loom, detail="") for loom in looms_named(doubtful, summary.snapshot.mill)
            ),
            what=doubtful.text,
            by=doubtful.by,
            when=about_when(summary, doubtful),
            path=doubtful.path,
            line=doubtful.line,
        )
    unseen = tuple(
        Asked(loom=line.loom, detail=lock.by)
        for line in summary.looms
        for lock in line.state.locks
        if not summary.seen_this_shift(lock)
    )
    if unseen:
        yield Question(about=About.LOCK_NOT_SEEN, looms=unseen)


def _owners(line: LoomLine) -> str:
    return ", ".join(lock.by for lock in line.state.locks)


def _about_handovers(
    summary: Summary, outgoing: ShiftSpan, handovers: tuple[Handover, ...]
) -> Iterator[Question]:
    for handover in summary.handovers_open:
        yield Question(
            about=About.NOT_TAKEN_OVER,
            what=handover.what,
            by=handover.by,
            to=handover.to,
            when=handover.said,
        )
    for handover in handovers:
        if handover.went_to_another:
            yield Question(
                about=About.TAKEN_BY_ANOTHER,
                what=handover.what,
                by=handover.by,
                to=handover.to,
                taken_by=handover.taken_by,
                when=handover.taken,
            )
    if not any(handover.said for handover in handovers):
        yield Question(about=About.NOT_SAID, what=outgoing.shift.name)


def _about_looms(summary: Summary) -> Iterator[Question]:
    proofs = tuple(
        Asked(loom=line.loom, detail=", ".join(sorted({p.by for p in line.state.proofs if p.by})))
        for line in summary.looms
        if line.state.proofs
    )
    if proofs:
        yield Question(about=About.PROOFS, looms=proofs)
    silent = tuple(
        Asked(
            loom=line.loom,
            detail="no entry at all"
            if line.silent_shifts is None
            else f"no entry for {line.silent_shifts} shifts",
        )
        for line in summary.looms
        if line.is_silent
    )
    if silent:
        yield Question(about=About.SILENCE, looms=silent)
    unknown = tuple(
        Asked(loom=line.loom, detail="")
        for line in summary.looms
        if line.state.motion is Motion.UNKNOWN and not line.is_silent
    )
    if unknown:
        yield Question(about=About.MOTION, looms=unknown)


def changed_after_handover(summary: Summary) -> tuple[Complaint, ...]:
    """Each taking over of late whose shift is no longer what was sealed, the newest first."""
    long_ago = summary.as_of - STILL_ASKED
    return tuple(
        complaint
        for complaint in reversed(summary.snapshot.complaints)
        if complaint.diagnostic.code is Code.CHANGED_AFTER_HANDOVER
        and _ends_after(summary, complaint, long_ago)
    )


def _about_lines(summary: Summary, since: datetime) -> Iterator[Question]:
    long_ago = summary.as_of - STILL_ASKED
    for complaint in reversed(changed_after_handover(summary)):
        yield _of_line(About.CHANGED_AFTER, complaint)
    for complaint in summary.snapshot.complaints:
        code = complaint.diagnostic.code
        if code in _COUNTERS and _ends_after(summary, complaint, long_ago):
            yield _of_line(About.COUNTERS, complaint)
        elif code in _DOUBTFUL and _ends_after(summary, complaint, since):
            yield _of_line(About.FLAGGED, complaint)


def _ends_after(summary: Summary, complaint: Complaint, moment: datetime) -> bool:
    """Whether a line's shift ends after a moment; a line without shift is always asked about."""
    return complaint.shift is None or summary.calendar.span(complaint.shift).end > moment


def _of_line(about: About, complaint: Complaint) -> Question:
    d = complaint.diagnostic
    return Question(
        about=about, what=d.text, message=d.message, path=complaint.path, line=d.line
    )  # fmt: skip
