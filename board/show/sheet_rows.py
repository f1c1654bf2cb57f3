"""The handover sheet in words: sections of rows, the same for plain text and for HTML.

Every text is cleaned here; where it is put on paper is left to ``sheet`` and ``sheet_html``.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import Enum

from board.conformity import WearWord
from board.reckon.handing_over import (
    ActionOnSheet,
    HalfDone,
    LockLine,
    Pressing,
    Sheet,
    unfinished,
)
from board.reckon.margins import WearLine
from board.reckon.summary import LoomLine
from board.show.moments import clock, counted, long_clock
from board.show.rows import ahead_words, due_words, margin_words
from board.show.screens import CAUTION
from board.show.sheet_questions import question_rows
from board.show.text import clean
from board.state.fleet import Motion, Proof, ProofFault
from grammar.entries import Shift

NEAR_NAMED = 6  # parts near their limit that are named with their margin; of the rest the looms


class Box(Enum):
    """What is ticked by hand at a row."""

    NONE = ""
    TICK = "[ ]"
    SEEN = "[ ] seen at the machine"


@dataclass(frozen=True, slots=True)
class Row:
    """One row: the loom or place, what is said of it, and its box. The texts are clean."""

    where: str
    text: str
    box: Box = Box.NONE


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A section of the sheet. ``count`` is the length of what it lists; ``hint`` says how."""

    title: str
    rows: tuple[Row, ...]
    count: int | None = None
    hint: str = ""
    first: bool = False  # must be seen before everything else

    @property
    def heading(self) -> str:
        """The title and its count."""
        return self.title if self.count is None else f"{self.title} {self.count}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What stands on every page: which shed and change of shift, and the standing caution."""

    shed: str
    change: str
    as_of: str
    read: str
    counts: str
    caution: str


def head(sheet: Sheet) -> Head:
    """The head of every page."""
    summary = sheet.summary
    fleet, mill = summary.snapshot.fleet, summary.snapshot.mill
    tally, counts = summary.snapshot.tally, summary.counts
    last = "no entries"
    if fleet.last_entry is not None:
        last = f"entries to {clock(fleet.last_entry, sheet.as_of, mill.zone)}"
    year = sheet.as_of.astimezone(mill.zone).year
    conflict = f"CONFLICT {counts.conflict}   " if counts.conflict else ""
    return Head(
        shed=clean(f"{mill.name.upper()} shed"),
        change=clean(f"{_shift(sheet.outgoing.shift)} -> {_shift(sheet.incoming.shift)}"),
        as_of=f"as of {long_clock(sheet.as_of, mill.zone)} {year}",
        read=f"{len(summary.looms)} looms, {last}; read {counted(tally.files, 'file')},"
        f" {counted(tally.lines, 'line')}; not understood {counts.not_understood}",
        counts=f"{conflict}isolated {counts.isolated}   stopped {counts.stopped}"
        f"   past or at limit {counts.past_limit + counts.at_limit}"
        f"   proofs missing {counts.proofs_missing}   silent {counts.silent}",
        caution=CAUTION,
    )


def _shift(shift: Shift) -> str:
    return f"{shift.name} {shift.day.isoformat()}"


def parts(sheet: Sheet) -> tuple[Part, ...]:
    """Every section with its rows, in the order of the sheet; what must be seen comes first."""
    found = [
        _isolations(sheet),
        _conflicts(sheet),
        Part(
            title="TO ASK",
            count=len(sheet.questions),
            hint="tick when answered",
            rows=tuple(Row(w, t, Box.TICK) for w, t in question_rows(sheet)) or _none(),
            first=True,
        ),
        _looms("DOWN", "stopped for maintenance", sheet.down, sheet),
        _looms("RUNNING WITH OPEN FAULT", "", sheet.running_with_faults, sheet),
        _looms("WAITING", "stopped for others", sheet.waiting, sheet),
        _looms("LAID UP", "", sheet.laid_up, sheet),
        _worn(sheet),
        Part(
            title="HALF DONE: PROOFS MISSING",
            count=sum(len(job.proofs) for job in sheet.half_done),
            rows=tuple(Row(job.loom, _job(sheet, job)) for job in sheet.half_done) or _none(),
        ),
        Part(
            title="OPEN ACTIONS",
            count=len(sheet.actions),
            hint="overdue first",
            rows=tuple(_action(sheet, action) for action in sheet.actions) or _none(),
        ),
        _changed(sheet),
        Part(
            title="NOTES",
            count=len(sheet.notes),
            hint="since then",
            rows=tuple(
                Row(clean(n.place), clean(f"{_clock(sheet, n.when)} {n.text}{_by(n.by)}"))
                for n in sheet.notes
            )
            or _none(),
        ),
        _unread(sheet),
    ]
    # a conflict, a fault or an idle loom that is not there needs no heading on paper
    kept = ("CONFLICTS", "RUNNING WITH OPEN FAULT", "WAITING", "LAID UP", "NOTES")
    return tuple(p for p in found if p.count or p.title not in kept)


def _none(words: str = "none on record") -> tuple[Row, ...]:
    return (Row("", words),)


def _clock(sheet: Sheet, when: datetime) -> str:
    return clock(when, sheet.as_of, sheet.summary.snapshot.mill.zone)


def _by(who: str | None) -> str:
    return f" ({who})" if who else ""


# -- isolations ----------------------------------------------------------------------------


def _isolations(sheet: Sheet) -> Part:
    rows = [Row(x.loom.loom, _lock(sheet, x), Box.SEEN) for x in sheet.locks]
    rows += [
        Row("?", clean(f"not understood, may be an isolation: {m.text} ({m.path}:{m.line})"),
            Box.SEEN)
        for m in sheet.may_isolate
    ]  # fmt: skip
    count = sheet.summary.counts.isolated
    if not rows:
        rows = [Row("", "none recorded, which is no proof of anything")]
    rows += [
        Row(
            x.loom,
            clean(
                f"lock of {x.removal.owner} was removed by {x.removal.by}"
                f" {_clock(sheet, x.removal.when)}"
            ),
        )
        for x in sheet.removed
    ]
    doubt = f" AND {len(sheet.may_isolate)} TO ASK ABOUT" if sheet.may_isolate else ""
    return Part(
        title=f"ISOLATED ON RECORD {count}{doubt}",
        rows=tuple(rows),
        hint="do not start",
        first=True,
    )


def _lock(sheet: Sheet, line: LockLine) -> str:
    lock = line.lock
    seen = "not yet seen this shift"
    if lock.seen is not None:
        look = f"seen by {lock.seen.by} {_clock(sheet, lock.seen.when)}"
        seen = look if line.seen_this_shift else f"{seen}, last {look}"
    text = f", {lock.text}" if lock.text else ""
    conflict = " CONFLICT," if line.loom.state.conflict_since else ""
    return clean(f"{conflict} {lock.by} since {_clock(sheet, lock.since)}{text}; {seen}".strip())


def _conflicts(sheet: Sheet) -> Part:
    rows = []
    for line in sheet.conflicts:
        since, by = line.state.conflict_since, _by(line.state.motion_by)
        assert since is not None
        owners = ", ".join(lock.by for lock in line.state.locks)
        told = (
            f"written as running {_clock(sheet, since)}{by} while the lock of {owners} is on record"
        )
        rows.append(Row(line.loom, clean(told), Box.SEEN))
    return Part(
        title="CONFLICTS", count=len(rows), hint="ask at the machine", rows=tuple(rows), first=True
    )


# -- looms ---------------------------------------------------------------------------------


def _looms(title: str, hint: str, looms: tuple[LoomLine, ...], sheet: Sheet) -> Part:
    rows = tuple(Row(line.loom, _loom(sheet, line)) for line in looms)
    return Part(title=title, count=len(rows), hint=hint, rows=rows or _none())


def _loom(sheet: Sheet, line: LoomLine) -> str:
    state = line.state
    words = []
    if state.locks:
        words.append("ISOLATED")
    if state.motion is Motion.STOPPED:
        since = _clock(sheet, state.motion_since) if state.motion_since else "no time on record"
        reason = f" for {state.stopped_for.value}" if state.stopped_for else ""
        words.append(f"since {since}{reason}{_by(state.motion_by)}")
    elif state.motion is Motion.UNKNOWN:
        words.append("motion unknown")
    words += [f"{_clock(sheet, f.since)} {f.text}{_by(f.by)}" for f in state.faults]
    return clean("; ".join(words))


# -- wear ----------------------------------------------------------------------------------


def _worn(sheet: Sheet) -> Part:
    rows = [Row(wear.loom, clean(_wear(sheet, wear))) for wear in sheet.worn]
    if sheet.near:
        named = [f"{w.loom} {w.name} {margin_words(w)}" for w in sheet.near[:NEAR_NAMED]]
        rest = list(dict.fromkeys(w.loom for w in sheet.near[NEAR_NAMED:]))
        more = f"; {len(sheet.near) - NEAR_NAMED} more on {' '.join(rest)}" if rest else ""
        told = f"near limit {len(sheet.near)}, farthest gone first: {'; '.join(named)}{more}"
        rows.append(Row("", clean(told)))
    return Part(
        title="WORN: PAST OR AT LIMIT", count=len(sheet.worn), rows=tuple(rows) or _none()
    )  # fmt: skip


def _wear(sheet: Sheet, wear: WearLine) -> str:
    reading = wear.reading
    limit = f", limit {wear.limit:g}" if wear.limit is not None else ""
    margin = margin_words(wear)
    if wear.word is WearWord.GAUGE_PAST:
        margin = wear.word.value
    ahead = f", {ahead_words(wear)}" if ahead_words(wear) else ""
    old = ", old reading" if wear.old else ""
    return (
        f"{wear.name}: {margin}{ahead}{old}; read {reading.written}"
        f" {_clock(sheet, reading.when)}{_by(reading.by)}{limit} {reading.unit}".rstrip()
    )


# -- work ----------------------------------------------------------------------------------


def _job(sheet: Sheet, job: HalfDone) -> str:
    first = job.first
    part = first.at.words() if first.at else "no part named"
    told = ", ".join(_proof(p) for p in job.proofs)
    return clean(f"{part}: {told}; job of {_clock(sheet, first.since)}{_by(first.by)}")


def _proof(proof: Proof) -> str:
    why = f" ({proof.why})" if proof.why else ""
    if proof.fault is ProofFault.FAILED:
        return f"{proof.what} FAILED{why}"
    return f"{proof.what} not written{why}"


_PRESSING = {
    Pressing.COMING: "COMING SHIFT, ",
    Pressing.MAY_COME: "MAY FALL IN COMING SHIFT, ",
}


def _action(sheet: Sheet, on_sheet: ActionOnSheet) -> Row:
    line = on_sheet.line
    action = line.action
    number = f"no {action.number} " if action.number is not None else ""
    whom = f", for {action.whom}" if action.whom else ""
    opened = f"opened {_clock(sheet, action.opened)}{_by(action.by)}"
    due = f"{_PRESSING.get(on_sheet.pressing, '')}{due_words(sheet.summary, line)}"
    text = f"{number}{action.text}; {due}{whom}; {opened}, {counted(line.age_shifts, 'shift')}"
    return Row(clean(action.place.name), clean(text))


# -- what happened -------------------------------------------------------------------------


def _changed(sheet: Sheet) -> Part:
    words = sheet.since_words
    if not words:
        words = "THE LAST TAKING OVER" if sheet.taken_before else "THE SHIFT BEGAN"
    return Part(
        title=clean(f"CHANGED SINCE {words} {_clock(sheet, sheet.since)}:"),
        count=len(sheet.changed),
        hint="newest first",
        rows=tuple(
            Row(clean(c.loom), clean(f"{_clock(sheet, c.when)} {c.words}{_by(c.by)}"))
            for c in sheet.changed
        )
        or _none(),
    )


def _unread(sheet: Sheet) -> Part:
    snapshot = sheet.summary.snapshot
    rows = [
        Row("", clean(f"{c.diagnostic.text} ({c.path}:{c.diagnostic.line}, {c.diagnostic.message})"),
            Box.TICK)
        for c in sheet.unread
    ]  # fmt: skip
    rows += [
        Row("", clean(f"still being written: {u.text} ({u.path}:{u.line})"), Box.TICK)
        for u in unfinished(sheet)
    ]
    rows += [Row("", clean(f"not read: {notice}"), Box.TICK) for notice in snapshot.notices]
    if sheet.may_isolate:
        told = counted(len(sheet.may_isolate), "line")
        rows.append(Row("", f"{told} that may be an isolation: under ISOLATED above"))
    if sheet.older_unread:
        rows.append(Row("", f"{counted(sheet.older_unread, 'older line')}: loomslate check"))
    return Part(
        title="LINES NOT UNDERSTOOD",
        count=snapshot.tally.refused,
        hint="what was meant?",
        rows=tuple(rows) or _none(),
    )


# -- what is done together -----------------------------------------------------------------


def steps(sheet: Sheet) -> tuple[str, ...]:
    """What both do with the sheet, in order; each is ticked."""
    logs = ", ".join(f"{log.path.rpartition('/')[2]} ({log.entries})" for log in sheet.logs)
    return (
        "prepared by the outgoing lead before the shift ended",
        "gone through together, face to face; the incoming lead asked, and repeated back"
        " isolations and open work",
        clean(f"log of the shift read by the incoming lead: {logs or 'no entry in this shift'}"),
        "walk-round: isolations, conflicts and stops seen at the machines  from ______ to ______",
        "away for longer: read back to your own last taking over, loomslate handover --since WHO",
        "both lines are in the log: shed handed over WHO to WHO; shed taken over by WHO",
    )


def signers(sheet: Sheet) -> tuple[tuple[str, str], ...]:
    """The two who sign, each with what the log says of them so far."""
    said, taken = "not in the log yet", "not in the log yet"
    for handover in sheet.handovers:
        what = "" if handover.what == "shed" else f"{handover.what} "
        if handover.said is not None and (said[0] == "n" or not what):
            said = f"log: {what}{handover.by} to {handover.to}, {_clock(sheet, handover.said)}"
        if handover.taken is not None and (taken[0] == "n" or not what):
            taken = f"log: {what}{handover.taken_by}, {_clock(sheet, handover.taken)}"
    return ("OUTGOING", clean(said)), ("INCOMING", clean(taken))


FOOT = (
    "Isolation, permits and proving dead follow local law, the site's own procedure and licensed"
    " people; this sheet replaces none of them."
)
