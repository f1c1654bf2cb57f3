"""The entries of an index: what is asked of them is told from its tables, with few logs read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime, time, tzinfo
from functools import partial

from board.index import shifts, words
from board.index.index import Index
from board.index.readings import Readings
from board.index.rows import MINUTE_US, minute_of
from board.index.schema import moment
from board.index.standing import counted_between
from board.index.words import both, exactly
from board.snapshot import struck_marked
from board.state import made
from board.state.counting import Counted
from board.state.later import Later
from board.state.logged import Logged, in_time_order
from board.state.spells import micros
from board.state.written import ABOUT_OTHERS, Knowing, OfLoom, is_of, speaks_of
from grammar.entries import KINDS, Entry, Shift

_DAY_US = 24 * 60 * MINUTE_US
_OTHERS = " OR ".join(exactly(words.kind_mark(KINDS[kind])) for kind in ABOUT_OTHERS)


class Entries(Later[Logged], Knowing):
    """Every entry of an index as of a moment (UTC), the struck ones with what strikes them."""

    def __init__(self, index: Index, as_of: datetime) -> None:
        super().__init__(self._since)
        self._index = index
        self._as_of = as_of

    def _since(self, since: datetime | None) -> Sequence[Logged]:
        begin = None if since is None else minute_of(micros(since))
        with self._index.reads() as readings:
            logged = readings.logged_between(begin, None)
            counting = counted_between(readings, begin, None, self._as_of, self._index.mill.zone)
        logged.sort(key=lambda x: (x.path, x.entry.line))
        return struck_marked(logged, counting)

    def extent(self, until: datetime) -> tuple[datetime, datetime] | None:
        """The first and the last moment of what was written up to a moment."""
        end = micros(until)
        with self._index.reads() as readings:
            asked = readings.connection.execute
            (first,) = asked("SELECT min(first) FROM file").fetchone()
            if first is None or first > end:
                return None
            (last,) = asked("SELECT max(last) FROM file WHERE last <= ?", (end,)).fetchone()
            across = asked("SELECT id FROM file WHERE first <= ? AND last > ?", (end, end))
            times = [
                entry.when
                for (id,) in across.fetchall()
                for entry in readings.of(id).entries
                if entry.when <= until
            ]
        return moment(first), max([*times, *([moment(last)] if last is not None else [])])

    def number(self, start: datetime, end: datetime) -> int:
        """How many there are from a moment to another, both included."""
        first, last = micros(start), micros(end)
        if last < first:
            return 0
        with self._index.reads() as readings:
            asked = readings.connection.execute
            (number,) = asked(
                "SELECT coalesce(sum(entries + parts), 0) FROM file WHERE first >= ? AND last <= ?",
                (first, last),
            ).fetchone()
            across = asked(
                "SELECT id FROM file WHERE last >= ? AND first <= ? AND (first < ? OR last > ?)",
                (first, last, first, last),
            )
            for (id,) in across.fetchall():
                number += sum(start <= entry.when <= end for entry in readings.of(id).entries)
        return int(number)

    def by_log(self, shift: Shift) -> Mapping[str, int]:
        """How many are of a shift in each log, by its path."""
        day = micros(datetime.combine(shift.day, time(), UTC))
        with self._index.reads() as readings:
            # of a shift is what is filed under it, and else what was written while it lasted
            logs = shifts.logs_of(readings.connection, shift)
            logs |= set(
                readings.connection.execute(
                    "SELECT id, path FROM file WHERE last >= ? AND first < ?",
                    (day - _DAY_US, day + 3 * _DAY_US),
                )
            )
            return Counter(
                path
                for id, path in logs
                for entry in readings.of(id).entries
                if is_of(entry, shift)
            )

    def of_loom(self, loom: str, until: datetime, most: int) -> OfLoom:
        """Those that speak of a loom, up to a moment; logs are read from the newest on."""
        end = micros(until)
        number, newest = 0, list[Logged]()
        with self._index.reads() as readings:
            for path, last, lines, entries in self._lines_of(readings, loom, end):
                enough = 0 < most <= len(newest)
                full = most <= 0 or (enough and micros(newest[-most].entry.when) > last)
                if full and last <= end:
                    number += len(lines)
                    continue
                own = [
                    made.Logged(path=path, entry=entry, struck_for=frozenset())
                    for entry in entries()
                    if entry.when <= until
                ]
                own = [x for x in own if speaks_of(x, loom)]
                number += len(own)
                newest = in_time_order([*newest, *own])
            shown = newest[-most:] if most > 0 else []
            newest = marked(readings, shown, self._as_of, self._index.mill.zone)
            return OfLoom(number=number, newest=tuple(newest))

    def _lines_of(
        self, readings: Readings, loom: str, end: int
    ) -> Iterator[tuple[str, int, Collection[int], Callable[[], Sequence[Entry]]]]:
        """The logs with lines that speak of a loom, those with the latest entry first.

        Of each its path, its last entry [us], the numbers of these lines, and what reads them; none
        that begins after ``end`` [us].
        """
        connection = readings.connection
        mark = self._index.mill.looms.index(loom)
        others = both([exactly(words.about_mark(mark)), f"({_OTHERS})"])
        lines = words.lines_with(connection, f"({others}) OR ({words.read_of_loom(mark)})")
        logs = connection.execute("SELECT last, id, path FROM file WHERE first <= ?", (end,))
        for last, id, path in sorted(logs, reverse=True):
            if id in lines:
                yield path, last, lines[id], partial(readings.entries_at, id, lines[id])


def marked(
    readings: Readings, entries: Iterable[Logged], as_of: datetime, zone: tzinfo
) -> list[Logged]:
    """Entries of an index in their order, the struck ones with what strikes them."""
    minutes = {m for (m,) in readings.connection.execute("SELECT minute FROM strike")}
    counted: dict[int, Counted] = {}
    found = []
    for logged in entries:
        minute = minute_of(micros(logged.entry.when))
        if minute in minutes:
            if minute not in counted:
                end = minute + MINUTE_US
                counted[minute] = counted_between(readings, minute, end, as_of, zone)
            (logged,) = struck_marked([logged], counted[minute])
        found.append(logged)
    return found
