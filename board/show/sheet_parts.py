"""The sections of the handover sheet, row by row, the same for plain text and for HTML.

Every text is cleaned here; where it is put on paper is left to ``sheet`` and ``sheet_html``.
"""

from __future__ import annotations

from dataclasses import replace

from board.reckon.conformity import WearWord
from board.reckon.handing_over import (
    ActionOnSheet,
    HalfDone,
    LockLine,
    Sheet,
    unfinished,
)
from board.reckon.margins import WearLine
from board.reckon.pressing import Pressing
from board.reckon.summary import LoomLine
from board.show.may_rows import label, may_words
from board.show.measures import plain
from board.show.moments import counted
from board.show.rows import ahead_words, due_words, margin_words, value_words
from board.show.sheet_questions import question_words
from board.show.sheet_rows import Box, Part, Row, by, clock_of
from board.show.text import clean
from board.state.fleet import Motion, Proof, ProofFault
from board.state.history import Bound
from grammar.entries import Reason

NAMED = 4  # parts not yet at their limit that get their own words
_LOOMS_NAMED = 12  # of the rest the looms, where there are no more than these


def parts(sheet: Sheet) -> tuple[Part, ...]:
    """Every section with its rows, in the order of the sheet; what must be seen comes first."""
    found = [
        _isolations(sheet),
        _conflicts(sheet),
        Part(
            title="TO ASK",
            count=len(sheet.questions),
            hint="tick when answered",
            rows=tuple(Row("", question_words(sheet, q), Box.TICK) for q in sheet.questions)
            or _none("nothing by the record"),
            first=True,
        ),
        _looms("DOWN", "stopped for maintenance", sheet.down, sheet),
        _looms("RUNNING WITH OPEN FAULT", "", sheet.running_with_faults, sheet),
        _looms("WAITING", "stopped for others", sheet.waiting, sheet),
        _looms("LAID UP", "", sheet.laid_up, sheet),
        *_worn(sheet),
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
                Row(clean(n.place), clean(f"{clock_of(sheet, n.when)} {n.text}{by(n.by)}"))
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


# -- isolations ----------------------------------------------------------------------------


def _isolations(sheet: Sheet) -> Part:
    rows = [Row(x.loom.loom, _lock(sheet, x), Box.SEEN) for x in sheet.locks]
    rows += [
        Row("?", f"{label(sheet.summary, m)}{may_words(sheet.summary, m)}", Box.SEEN)
        for m in sheet.may_isolate
    ]
    count = sheet.summary.counts.isolated
    if not rows:
        rows = [Row("", "none recorded, which is no proof of anything")]
    rows += [
        Row(
            x.loom,
            clean(
                f"lock of {x.removal.owner} was removed by {x.removal.by}"
                f" {clock_of(sheet, x.removal.when)}"
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
        look = f"seen by {lock.seen.by} {clock_of(sheet, lock.seen.when)}"
        seen = look if line.seen_this_shift else f"{seen}, last {look}"
    text = f", {lock.text}" if lock.text else ""
    conflict = " CONFLICT," if line.loom.state.conflict_since else ""
    return clean(f"{conflict} {lock.by} since {clock_of(sheet, lock.since)}{text}; {seen}".strip())


def _conflicts(sheet: Sheet) -> Part:
    rows = []
    for line in sheet.conflicts:
        since = line.state.conflict_since
        assert since is not None
        owners = ", ".join(lock.by for lock in line.state.locks)
        written = f"written as running {clock_of(sheet, since)}{by(line.state.motion_by)}"
        told = f"{written} while the lock of {owners} is on record"
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
        since = clock_of(sheet, state.motion_since) if state.motion_since else "no time on record"
        told = state.stopped_for not in (None, Reason.LAID_UP)  # its heading says laid up
        reason = f" for {state.stopped_for.value}" if state.stopped_for and told else ""
        words.append(f"since {since}{reason}{by(state.motion_by)}")
    elif state.motion is Motion.UNKNOWN:
        words.append("motion unknown")
    words += [
        f"fault {f.text} ({f'{f.by} ' if f.by else ''}{clock_of(sheet, f.since)})"
        for f in state.faults
    ]
    return clean("; ".join(words))


# -- wear ----------------------------------------------------------------------------------


def _worn(sheet: Sheet) -> tuple[Part, ...]:
    """Past their limit, at it, expected to pass it: the word stands in the title of each page."""
    at = tuple(w for w in sheet.worn if w.word is WearWord.AT_LIMIT)
    past = tuple(w for w in sheet.worn if w not in at)
    named, rest = sheet.passing[:NAMED], sheet.passing[NAMED:]
    found = [
        Part(
            title="WORN PAST LIMIT",
            count=len(past),
            hint="reading of limit; when read",
            rows=_wear_rows(sheet, past) or _none(),
        )
    ]
    if at:
        found.append(Part(title="WORN AT LIMIT", count=len(at), rows=_wear_rows(sheet, at)))
    if sheet.passing:
        rows = list(_wear_rows(sheet, named))
        rows += [Row("", clean(f"{len(rest)} more{_looms_of(rest)}"))] if rest else []
        title = "EXPECTED TO PASS LIMIT IN THE COMING SHIFT"
        found.append(Part(title=title, count=len(sheet.passing), rows=tuple(rows)))
    if sheet.near:
        found[-1] = replace(found[-1], rows=(*found[-1].rows, Row("", _near(sheet))))
    return tuple(found)


def _wear_rows(sheet: Sheet, wear: tuple[WearLine, ...]) -> tuple[Row, ...]:
    return tuple(Row(w.loom, clean(_wear(sheet, w))) for w in wear)


def _near(sheet: Sheet) -> str:
    # with a forecast the surest stand above; without one the farthest gone are named
    named = () if sheet.passing else sheet.near[:NAMED]
    rest = sheet.near[len(named) :]
    told = [f"{w.loom} {w.name} {margin_words(w)}" for w in named]
    told += [f"{len(rest)} more{_looms_of(rest)}"] if named and rest else []
    head = f"{'other parts ' if sheet.passing else ''}near limit {len(sheet.near)}"
    return clean(f"{head}: {'; '.join(told)}" if told else f"{head}{_looms_of(rest)}")


def _looms_of(wear: tuple[WearLine, ...]) -> str:
    names = list(dict.fromkeys(line.loom for line in wear))
    if len(names) > _LOOMS_NAMED:
        return f" on {len(names)} looms: loomslate board --all"
    return f" on {' '.join(names)}"


def _wear(sheet: Sheet, wear: WearLine) -> str:
    """``left tape thickness 2.47 mm of 2.45, 0 to 3 shifts; 23:31``."""
    reading = wear.reading
    limit = f" of {plain(wear.limit)}" if wear.limit is not None else ""
    told = [f"{wear.name} {value_words(wear)}{limit}"]
    told += [] if reading.bound is Bound.EXACT else ["by gauge"]
    told += ["old reading"] if wear.old else []
    told += [ahead_words(wear)] if ahead_words(wear) else []
    read = clock_of(sheet, reading.when)
    day = read.rpartition(" ")[0] or read
    return f"{', '.join(told)}; {day}"


# -- work ----------------------------------------------------------------------------------


def _job(sheet: Sheet, job: HalfDone) -> str:
    first = job.first
    part = first.at.words() if first.at else "no part named"
    told = ", ".join(_proof(p) for p in job.proofs)
    return clean(f"{part}: {told}; job of {clock_of(sheet, first.since)}{by(first.by)}")


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
    number, opened = f"no {action.number} ", action.by or "somebody"
    if action.number is None:
        # without a number it is closed by its time
        number, opened = "", f"{opened} {clock_of(sheet, action.opened)}"
    whom = f", for {action.whom}" if action.whom else ""
    due = f"{_PRESSING.get(on_sheet.pressing, '')}{due_words(sheet.summary, line)}"
    text = f"{number}{action.text}; {due}{whom} ({opened}, {counted(line.age_shifts, 'shift')})"
    return Row(clean(action.place.name), clean(text))


# -- what happened -------------------------------------------------------------------------


def _changed(sheet: Sheet) -> Part:
    words = sheet.since_words
    if not words:
        words = "THE LAST TAKING OVER" if sheet.taken_before else "THE SHIFT BEGAN"
    return Part(
        title=clean(f"CHANGED SINCE {words} {clock_of(sheet, sheet.since)}:"),
        count=len(sheet.changed),
        hint="newest first",
        rows=tuple(
            Row(clean(c.loom), clean(f"{clock_of(sheet, c.when)} {c.words}{by(c.by)}"))
            for c in sheet.changed
        )
        or _none(),
    )


def _unread(sheet: Sheet) -> Part:
    snapshot = sheet.summary.snapshot
    rows = [
        Row(
            "",
            clean(f"{c.diagnostic.text} ({c.path}:{c.diagnostic.line}, {c.diagnostic.message})"),
            Box.TICK,
        )
        for c in sheet.unread
    ]
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
