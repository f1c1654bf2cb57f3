"""Every line of the record as it can be found again: entries, refused lines, unfinished ones.

One line, one ``Found``, whether it counts or not; a struck or refused one says so. Which of them
answer a question is left to ``search``.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from enum import Enum

from board.mill import Mill
from board.snapshot import Snapshot
from board.state.fleet import Complaint, Source
from board.state.history import StyleChange
from board.state.logged import Logged, in_time_order
from board.state.shifts import ShiftCalendar
from grammar import entries as e
from grammar import times
from grammar.folding import fold_word
from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """What a search goes through: what was read as of a moment (UTC), and what was not understood.

    Struck entries are marked with what strikes them. ``styles`` are asked for by a search for a
    style alone.
    """

    mill: Mill
    as_of: datetime
    entries: Sequence[Logged]
    refused: Sequence[Complaint]
    unfinished: Sequence[Source]
    styles: Sequence[StyleChange]


def lines_in(snapshot: Snapshot) -> Lines:
    """All lines of a snapshot."""
    return Lines(
        mill=snapshot.mill,
        as_of=snapshot.fleet.as_of,
        entries=snapshot.entries,
        refused=snapshot.refused,
        unfinished=snapshot.unfinished,
        styles=snapshot.fleet.history.styles,
    )


class Standing(Enum):
    """How far a line counts; the value is what is shown of it."""

    COUNTS = ""
    STRUCK = "struck"
    NOT_UNDERSTOOD = "not understood"
    IN_PART = "refused in part"
    UNFINISHED = "still being written"
    LATER = "later than now"


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One line of the history.

    ``when`` is None for a refused line, which counts for no time; ``near`` orders it all the same,
    by ``written``, the time that it begins with, else by the entry before it in its file or the
    start of its shift.
    """

    path: str
    line: int
    text: str
    near: datetime | None
    when: datetime | None = None
    written: datetime | None = None
    place: e.Place | None = None
    by: str | None = None
    clauses: tuple[e.Clause, ...] = ()
    standing: Standing = Standing.COUNTS
    struck_by: Source | None = None
    shift: e.Shift | None = None

    @property
    def loom(self) -> str | None:
        """The loom, section, range or shed that the line speaks of; None: not read."""
        return self.place.name if self.place else None

    @property
    def kinds(self) -> tuple[str, ...]:
        """The kinds of its clauses, each once, in the order of the line."""
        return tuple(dict.fromkeys(e.KINDS[type(clause)] for clause in self.clauses))

    @property
    def words(self) -> str:
        """The line as it was written, less its time and place as far as they were read."""
        if self.when is None and self.written is None:
            return self.text.strip()
        return behind(self.text, 1 if self.place is None else 2)


def behind(text: str, words: int) -> str:
    """What a line holds behind its first ``words`` words; all of it where it has no more."""
    pieces = text.strip().split(None, words)
    return pieces[words] if len(pieces) > words else text.strip()


def lines_of(lines: Lines, *, until: datetime | None = None) -> list[Found]:
    """Every line of them in the order of time; ``until``: none that was written later."""
    mill, now = lines.mill, lines.as_of
    entries = in_time_order(lines.entries)
    refused = _first_of_each_line(lines.refused)
    found = {
        (x.path, x.entry.line): _of_entry(x, now, (x.path, x.entry.line) in refused)
        for x in entries
    }
    before = _times_by_file(entries)
    calendar = ShiftCalendar(mill.shifts, mill.zone)
    for key, complaint in refused.items():
        if key not in found:
            about = _near(key, complaint.shift, before, calendar)
            found[key] = _of_refused(complaint, mill, about)
    for source in lines.unfinished:
        key = (source.path, source.line)
        found[key] = Found(
            path=source.path,
            line=source.line,
            text=source.text,
            near=_near(key, None, before, calendar),
            place=place_in(source.text, mill),
            standing=Standing.UNFINISHED,
        )
    kept = (f for f in found.values() if until is None or f.near is None or f.near <= until)
    return sorted(kept, key=_order)


def _order(found: Found) -> tuple[float, str, int]:
    near = found.near.timestamp() if found.near is not None else float("inf")
    return near, found.path, found.line


def _of_entry(logged: Logged, now: datetime, refused: bool) -> Found:
    entry = logged.entry
    standing = Standing.COUNTS
    if logged.struck_by is not None:
        standing = Standing.STRUCK
    elif entry.standing is e.Standing.UNFINISHED:
        standing = Standing.UNFINISHED
    elif entry.standing is e.Standing.ISOLATIONS_ONLY:
        standing = Standing.NOT_UNDERSTOOD
    elif entry.when > now:
        standing = Standing.LATER
    elif refused:
        standing = Standing.IN_PART
    return Found(
        path=logged.path,
        line=entry.line,
        text=entry.text,
        near=entry.when,
        when=entry.when,
        place=entry.place,
        by=entry.by,
        clauses=entry.clauses,
        standing=standing,
        struck_by=logged.struck_by,
        shift=entry.shift,
    )


def _first_of_each_line(complaints: Iterable[Complaint]) -> dict[tuple[str, int], Complaint]:
    first: dict[tuple[str, int], Complaint] = {}
    for complaint in complaints:
        first.setdefault((complaint.path, complaint.diagnostic.line), complaint)
    return first


def _of_refused(complaint: Complaint, mill: Mill, about: datetime | None) -> Found:
    d = complaint.diagnostic
    written = time_in(d.text, complaint.shift, mill)
    return Found(
        path=complaint.path,
        line=d.line,
        text=d.text,
        near=about if written is None else written,
        written=written,
        place=place_in(d.text, mill),
        standing=Standing.NOT_UNDERSTOOD,
        shift=complaint.shift,
    )


def time_in(text: str, shift: e.Shift | None, mill: Mill) -> datetime | None:
    """The time (UTC) that a line that was not read begins with; None where it tells none for sure.

    Only one in or around the shift that the line is filed under, and none that came twice.
    """
    first = re.match(r"[^\S\n]*([^\s;]{1,40})", text)
    own = next((s for s in mill.shifts if shift is not None and s.name == shift.name), None)
    if first is None or own is None or shift is None:
        return None
    stamp = fold_word(first[1]).rstrip(".,")
    try:
        wall = times.read_full(stamp)
        if wall is None:
            local, _ = times.place_in_shift(times.read_clock(stamp), shift.day, own)
            wall = times.Wall(local)
        instant = times.resolve(wall, mill.zone, second_pass=False)
    except (times.NoTime, times.NoSuchTime):
        return None
    start, end = times.shift_bounds(shift.day, own)
    shown = times.wall_in(wall, mill.zone)
    around = start - times.EARLY_LEAVE <= shown <= end + times.LATE_LEAVE
    return instant.when if around and not instant.twice else None


def place_in(text: str, mill: Mill) -> e.Place | None:
    """The place that a line that was not read names behind its time."""
    words = text.split(None, 2)
    return mill.vocabulary.place(words[1]) if len(words) > 1 else None


def looms_of_place(place: e.Place, clauses: Sequence[e.Clause]) -> tuple[str, ...]:
    """The looms that a line of a place is about: a group's too, but for its handovers.

    A part that came from another loom was taken off there: the line is about that loom too.
    """
    looms = own_looms(place, clauses)
    origins = [c.origin for c in clauses if isinstance(c, e.Moved)]
    return tuple(dict.fromkeys((*looms, *origins))) if origins else looms


def own_looms(place: e.Place, clauses: Iterable[e.Clause]) -> tuple[str, ...]:
    """The looms that a line is written of."""
    shared = (e.HandedOver, e.TakenOver)
    if place.kind is not e.PlaceKind.LOOM and all(isinstance(c, shared) for c in clauses):
        return ()
    return place.looms


def _times_by_file(entries: Iterable[Logged]) -> dict[str, list[tuple[int, datetime]]]:
    times: dict[str, list[tuple[int, datetime]]] = defaultdict(list)
    for logged in entries:
        times[logged.path].append((logged.entry.line, logged.entry.when))
    for known in times.values():
        known.sort()
    return times


def _near(
    key: tuple[str, int],
    shift: e.Shift | None,
    before: dict[str, list[tuple[int, datetime]]],
    calendar: ShiftCalendar,
) -> datetime | None:
    """About when a line was written: with the entry above it, else at the start of its shift."""
    path, number = key
    known = before.get(path, [])
    index = bisect_left(known, number, key=lambda entry: entry[0])
    above = known[index - 1][1] if index else None
    start = calendar.span(shift).start if shift is not None else None
    if above is not None and (start is None or above >= start - timedelta(hours=4)):
        return above
    return start
