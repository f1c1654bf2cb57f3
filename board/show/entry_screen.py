"""An entry on the screen: what was understood, what speaks against it, and what became of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from board.judging import Judged
from board.show.cautions import cautions, remarks
from board.show.doubts import doubts
from board.show.lines import Bit, Line, Tone, line
from board.show.problems import drawn
from board.show.text import clean, width
from board.show.understood import headline, isolated_by, recorded_until, understood
from board.state.fleet import Complaint
from board.state.locks import same_person
from grammar.diagnostics import Code, Severity
from grammar.entries import Isolated, Standing

NO_ISOLATION = "NO ISOLATION IS ON RECORD from this line"
NOT_REMOVED = "NO LOCK WAS TAKEN OFF by this line"
HELP = (
    "an entry is LOOM clause; clause   like: A07 left tape 2.35 mm; note frays at the joint",
    "the time is put in by itself; an earlier one stands first: 22:40 A07 stopped for warp",
    "Tab completes, Up brings back what was written, Ctrl-D ends",
)
CAME_WITH = "came with it, to be asked after it, each by itself"
NOT_YET = "not on record yet; it would say:"
ALREADY = "the same line is written already, and says:"

_LOUD = ("PAST LIMIT", "ISOLATED", "NOT PROVED", "BAD")


def looked_lines(judged: Judged, cells: int) -> list[Line]:
    """What an entry was understood to say and do, and the complaints about it."""
    shown = [line(Bit(headline(judged), Tone.STRONG))]
    sentences = understood(judged)
    if sentences and judged.refused and not judged.draft.kept_anyway:
        shown += folded(ALREADY if stands_already(judged) else NOT_YET, cells, Tone.ABNORMAL)
    for sentence in sentences:
        loud = any(word in sentence for word in _LOUD)
        shown += folded(sentence, cells, Tone.ABNORMAL if loud else Tone.PLAIN)
    for doubt in doubts(judged):
        shown += folded(f"look again: {doubt}", cells, Tone.ABNORMAL)
    for remark in remarks(judged):
        shown += folded(remark, cells, Tone.ABNORMAL)
    for caution in cautions(judged):
        shown += folded(f"caution: {caution}", cells, Tone.MANDATORY)
    for complaint in judged.own:
        shown += complaint_lines(complaint, cells)
    for complaint in judged.elsewhere:
        head, *rest = drawn(complaint, cells).split("\n")
        shown += folded(f"with it: {head}", cells, Tone.ABNORMAL, indent="")
        shown += [Line((Bit(r),)) for r in rest]
    return shown


def complaint_lines(complaint: Complaint, cells: int) -> list[Line]:
    """A complaint about the entry itself with its caret; it stands in no log yet, so no place."""
    head, *rest = drawn(replace(complaint, path=""), cells).split("\n")
    told = head.partition(": ")[2]
    shown = folded(told, cells, Tone.ABNORMAL, indent="")
    for row in rest:
        shown += folded(row.strip(), cells) if row.startswith("  help: ") else [Line((Bit(row),))]
    return shown


def put_lines(judged: Judged, number: int, cells: int) -> list[Line]:
    """Where the line stands now: its log, and its ``number`` there."""
    told = f"written: {judged.draft.path} line {number}"
    shown = [*folded(told, cells, Tone.STRONG, indent="")]
    if judged.refused:
        alone = isolations_alone(judged)
        for sentence in alone:
            shown += folded(sentence, cells, Tone.ABNORMAL)
        counts = all(c.diagnostic.severity is Severity.FLAGGED for c in judged.refused)
        end = "it counts when its time comes" if counts else "what was refused of it does not count"
        if alone:
            end = "its isolation counts, and nothing else of it"
        elif judged.draft.entry is None and judged.may_isolate:
            end = "the board shows it as a line that may be an isolation"
        if stands_already(judged):
            end = "with its mark it is another line, and counts"
        if judged.conflicts:
            end = "it shows as a CONFLICT"
        shown += folded(f"kept anyway, and marked so in the line; {end}", cells)
    return shown


def isolations_alone(judged: Judged) -> tuple[str, ...]:
    """What a refused line puts on record all the same, once it stands in a log."""
    return tuple(
        f"{isolated_by(entry.place.name, clause)}: {recorded_until(clause)}"
        for entry in judged.draft.reading.entries
        if entry.standing is Standing.ISOLATIONS_ONLY
        for clause in entry.clauses
        if isinstance(clause, Isolated)
    )


def held_lines(judged: Judged, cells: int) -> list[Line]:
    """That nothing was written, and what that means where an isolation was meant."""
    shown = folded("nothing was written", cells, Tone.STRONG, indent="")
    if judged.conflicts:
        told = "a loom running under a lock is a CONFLICT; to record it as one: --anyway"
        shown += folded(told, cells)
    unremoved = judged.unremoved
    if unremoved:
        told = f"{NOT_REMOVED}: {unremoved}"
        shown = [*folded(told, cells, Tone.DANGER, indent=""), *shown]
    if stands_already(judged):
        shown = [*_isolations_already(judged, cells), *shown]
    elif judged.isolates or (judged.may_isolate and not unremoved):
        told = f"{NO_ISOLATION}: correct it and write it again"
        shown = [*folded(told, cells, Tone.DANGER, indent=""), *shown]
    return shown


def _isolations_already(judged: Judged, cells: int) -> list[Line]:
    """What became of the isolations of a line that stands already."""
    entry = judged.draft.entry
    clauses = entry.clauses if entry is not None else ()
    shown: list[Line] = []
    for clause in clauses:
        if entry is None or not isinstance(clause, Isolated):
            continue
        locks = (judged.before.looms[loom].locks for loom in entry.place.looms)
        if all(any(same_person(lock.by, clause.by) for lock in there) for there in locks):
            told = f"the lock of {clause.by} on {entry.place.name} is on record"
            shown += folded(told, cells, Tone.ABNORMAL, indent="")
        else:
            where = f"NO LOCK OF {clause.by} IS ON RECORD on {entry.place.name} any more"
            told = f"{where}: to record a new one, write it with its own time"
            shown += folded(told, cells, Tone.DANGER, indent="")
    return shown


def lost_lines(judged: Judged, cells: int) -> list[Line]:
    """The line that could not be put on the disk, whole and by itself, so that it can be copied."""
    return unwritten_lines([judged.draft.line], cells, judged.isolates)


def unwritten_lines(texts: Iterable[str], cells: int, isolates: bool) -> list[Line]:
    """Lines that stand nowhere else."""
    shown = folded("NOT WRITTEN, and it stands nowhere else:", cells, Tone.DANGER, indent="")
    shown += [Line((Bit(clean(text)),)) for text in texts]
    return [*shown, *folded(NO_ISOLATION, cells, Tone.DANGER, indent="")] if isolates else shown


def not_tried_lines(text: str, cells: int, isolates: bool, *, first: bool) -> list[Line]:
    """A line that comes behind one that could not be written; ``first`` of those that do."""
    head = folded("NOT WRITTEN either, and they stand nowhere else:", cells, Tone.DANGER, indent="")
    return [*(head if first else ()), *unwritten_lines([text], cells, isolates)[1:]]


def stands_already(judged: Judged) -> bool:
    """Whether nothing speaks against the line but that the same one stands in a log."""
    return {c.diagnostic.code for c in judged.refused} == {Code.LINE_TWICE}


def folded(text: str, cells: int, tone: Tone = Tone.PLAIN, indent: str = "  ") -> list[Line]:
    """A sentence over as many lines as it takes, the later ones set in."""
    room = max(cells - 1, 20)
    rows: list[str] = []
    row = indent
    for word in clean(text).split(" "):
        if row.strip() and width(row) + 1 + width(word) > room:
            rows.append(row)
            row = f"{indent}  {word}"
        else:
            row = f"{row} {word}" if row.strip() else f"{row}{word}"
    return [line(Bit(r, tone)) for r in (*rows, row)]
