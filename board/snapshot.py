"""The whole reading of a log folder at one moment: files, entries, fleet and every complaint.

Pure: what was read from the disk goes in, a snapshot comes out. Reading files is left to
``board.record``, pictures to ``board.show``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from board.mill import Mill
from board.state.counting import Counted, counted
from board.state.fleet import Complaint, Fleet, MayIsolate, Source
from board.state.fold import fold
from board.state.later import recent
from board.state.logged import Logged
from board.state.refused_strikes import ASKED_FOR, refused_strikes
from board.state.seals import changed_since_sealed, is_of_handover, seal_of
from board.state.step import UNRECORDED_LOCK
from board.state.usage import disagreements
from grammar.diagnostics import Code, Severity
from grammar.entries import Isolated, Shift, Standing
from grammar.frozen import dataclass
from grammar.readings import Reading

FORGOTTEN = timedelta(days=2)  # how long a heading that may be missing is asked for


@dataclass(frozen=True, slots=True, kw_only=True)
class FileReading:
    """A log file as it was read: its path inside the folder and what it holds."""

    path: str
    reading: Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """How much was read: nothing is dropped without being counted."""

    files: int
    lines: int
    entries: int
    refused: int
    flagged: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """A shed as of a moment, with all that was read and all that was not understood."""

    mill: Mill
    fleet: Fleet
    tally: Tally
    complaints: tuple[Complaint, ...]
    unfinished: tuple[Source, ...] = ()
    notices: tuple[str, ...] = ()  # files that were passed over, one sentence each
    entries: Sequence[Logged] = ()

    @property
    def refused(self) -> tuple[Complaint, ...]:
        """Complaints about what does not count."""
        return tuple(c for c in self.complaints if c.diagnostic.severity is Severity.REFUSED)

    @property
    def partly_refused(self) -> frozenset[tuple[str, int]]:
        """Path and line of entries that could be read, of which the state refused something."""
        return frozenset(
            (c.path, c.diagnostic.line)
            for c in self.fleet.complaints
            if c.diagnostic.severity is Severity.REFUSED
        )


def snapshot(
    files: Iterable[FileReading], mill: Mill, as_of: datetime, notices: Iterable[str] = ()
) -> Snapshot:
    """The shed as of a moment (UTC), from its files in any order."""
    files = sorted(files, key=lambda f: f.path)
    logged = [Logged(path=f.path, entry=entry) for f in files for entry in f.reading.entries]
    counting = counted(logged, as_of, mill.zone)
    fleet = fold(counting, mill, as_of)
    complaints = [
        Complaint(path=f.path, diagnostic=d) for f in files for d in f.reading.diagnostics
    ]
    complaints += fleet.complaints
    complaints += disagreements(fleet, mill)
    lines = lines_by_shift(files)
    complaints += changed_since_sealed(fleet, lambda shift: seal_of(lines.get(shift, ())))
    complaints = _with_shifts(complaints, files)
    ordered = tuple(sorted(complaints, key=where))
    doubtful = [each for f in files for each in doubtful_of(f.path, f.reading)]
    fleet = replace(fleet, may_isolate=may_isolate(doubtful, fleet, mill, ordered))
    whole = sum(e.entry.standing is Standing.WHOLE for e in logged)
    refused = {
        (c.path, c.diagnostic.line) for c in ordered if c.diagnostic.severity is Severity.REFUSED
    }
    flagged = sum(c.diagnostic.severity is Severity.FLAGGED for c in ordered)
    return Snapshot(
        mill=mill,
        fleet=fleet,
        tally=Tally(
            files=len(files),
            lines=sum(f.reading.lines for f in files),
            entries=whole,
            refused=len(refused),
            flagged=flagged,
        ),
        complaints=ordered,
        unfinished=tuple(
            Source(path=f.path, line=f.reading.unfinished.line, text=f.reading.unfinished.text)
            for f in files
            if f.reading.unfinished is not None
        ),
        notices=tuple(notices),
        entries=struck_marked(logged, counting),
    )


def struck_marked(logged: Iterable[Logged], counting: Counted) -> tuple[Logged, ...]:
    """Every entry, in the order of files and lines, the struck ones with what strikes them."""
    struck = {(x.path, x.entry.line): x for x in counting.entries if x.struck_by is not None}
    marked = []
    for entry in logged:
        mark = struck.get((entry.path, entry.entry.line))
        if mark is not None:
            entry = replace(entry, struck_by=mark.struck_by, struck_for=mark.struck_for)
        marked.append(entry)
    return tuple(marked)


def _with_shifts(complaints: Iterable[Complaint], files: Iterable[FileReading]) -> list[Complaint]:
    """Complaints with the shift that their line is filed under."""
    told = {(c.path, c.diagnostic.line) for c in complaints}
    paths = {path for path, _ in told}
    shifts = {
        (f.path, filed.line): filed.shift
        for f in files
        if f.path in paths
        for filed in f.reading.filed
        if (f.path, filed.line) in told
    }
    return [replace(c, shift=shifts.get((c.path, c.diagnostic.line))) for c in complaints]


def where(complaint: Complaint) -> tuple[str, int, int, str]:
    """The order that complaints are told in."""
    d = complaint.diagnostic
    return complaint.path, d.line, d.span.start, d.code.value


def lines_by_shift(files: Iterable[FileReading]) -> dict[Shift, list[str]]:
    """The lines that the seal of each shift is made of: all but those that hand or take it over."""
    lines: dict[Shift, list[str]] = defaultdict(list)
    for file in files:
        outside = {e.line for e in file.reading.entries if is_of_handover(e)}
        for filed in file.reading.filed:
            if filed.line not in outside:
                lines[filed.shift].append(filed.text)
    return lines


def doubtful_of(path: str, reading: Reading) -> tuple[tuple[MayIsolate, bool], ...]:
    """Lines of a log that may isolate, each with whether all that it may hide was read from it."""
    if not reading.may_isolate:
        return ()
    read = {e.line for e in reading.entries if any(isinstance(c, Isolated) for c in e.clauses)}
    whole = {e.line for e in reading.entries if e.standing is Standing.WHOLE}
    return tuple(
        (
            MayIsolate(
                path=path,
                line=u.line,
                text=u.text,
                shift=u.shift,
                by=u.by,
                understood=u.line in whole,
            ),
            u.line in read and not u.more,
        )
        for u in reading.may_isolate
    )


def may_isolate(
    doubtful: Iterable[tuple[MayIsolate, bool]],
    fleet: Fleet,
    mill: Mill,
    complaints: Iterable[Complaint],
) -> tuple[MayIsolate, ...]:
    """Refused lines that may hide an isolation, and locks seen where none is on record.

    ``complaints`` are all that there are, each with its shift.

    A line of which all isolations were read in spite of its refusal is named only while a lock of
    it stands; one that may hide another stays until it is corrected. A lock that is written below
    its removal stays for two days: the heading of a new shift may be missing between them. So does
    a strike that was refused, where it may be meant for a removal.
    """
    standing = {
        (lock.source.path, lock.source.line) for s in fleet.looms.values() for lock in s.locks
    }
    found = [m for m, all_read in doubtful if not all_read or (m.path, m.line) in standing]
    told = tuple(complaints)
    found += [_of_complaint(c) for c in told if c.diagnostic.label == UNRECORDED_LOCK]
    begin = fleet.as_of - FORGOTTEN
    below = {
        (lock.below.source.path, lock.below.source.line): lock.below.by
        for lock in recent(fleet.history.locks, begin)
        if lock.below is not None and lock.ended >= begin
    }
    found += [
        replace(_of_complaint(c), by=below[_line_of(c)])
        for c in told
        if _is_below(c) and _line_of(c) in below
    ]
    ended = recent(fleet.history.locks, begin - ASKED_FOR)
    found += map(_of_complaint, refused_strikes(told, ended, mill, fleet.as_of))
    return tuple(sorted({(m.path, m.line): m for m in reversed(found)}.values(), key=_place))


def _of_complaint(complaint: Complaint) -> MayIsolate:
    path, line = _line_of(complaint)
    text = complaint.diagnostic.text
    return MayIsolate(
        path=path,
        line=line,
        text=text,
        shift=complaint.shift,
        by=complaint.by,
        understood=_is_below(complaint),
    )


def _line_of(complaint: Complaint) -> tuple[str, int]:
    return complaint.path, complaint.diagnostic.line


def _is_below(complaint: Complaint) -> bool:
    return complaint.diagnostic.code is Code.ISOLATED_BELOW


def _place(may: MayIsolate) -> tuple[str, int]:
    return may.path, may.line
