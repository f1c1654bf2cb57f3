"""Which years each log of a mill speaks of, and whether a year's lines are as they were before.

A year's lines need not be read again where its mark is the same: it tells every log that speaks
of the year, and every line of them that was refused. A strike speaks of the year that it names too.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from contextlib import AbstractContextManager
from datetime import UTC, datetime, timedelta
from pathlib import Path

from board.archive.catalogue import replace_whole
from board.index.index import Index
from board.record.cabinet import Known
from board.record.files import LogFile
from board.snapshot import Snapshot
from grammar.entries import Struck
from grammar.readings import Carried, Reading

NAME = "years.json"
_Kept = dict[str, tuple[str, tuple[int, ...]]]  # by path: what the log is told by, and its years


class YearsNoted:
    """A cabinet that is an index, and notes of what years each log speaks while it is put away."""

    def __init__(self, index: Index, file: Path) -> None:
        self._index = index
        self._file = file
        self._noted = _read(file)

    def of(self) -> _Kept:
        """Every log that is kept, by its path: what it is told by, and its years."""
        found: _Kept = {}
        for path, known in self._index.known().items():
            told = _told(known)
            noted = self._noted.get(path)
            if noted is None or noted[0] != told:
                noted = told, _years(self._index.reading(path))
            found[path] = noted
        self._noted = found
        return found

    def save(self) -> None:
        """Keep what was noted. Raises OSError."""
        text = json.dumps(self._noted, separators=(",", ":"), sort_keys=True)
        replace_whole(self._file, text.encode())

    # -- the cabinet -----------------------------------------------------------------------

    def known(self) -> Mapping[str, Known]:
        """What is known already of each log."""
        return self._index.known()

    def others(self) -> Mapping[str, Known] | None:
        """What another program put away meanwhile."""
        return self._index.others()

    def keep(self, file: LogFile, reading: Reading, now: datetime, over: Known | None) -> Known:
        """Put a log's reading away, and note its years. Raises Overtaken."""
        known = self._index.keep(file, reading, now, over)
        self._noted[file.path] = _told(known), _years(reading)
        return known

    def many(self, lines: int) -> AbstractContextManager[None]:
        """While about so many lines are put away."""
        return self._index.many(lines)

    def extend(
        self, file: LogFile, read: Callable[[Carried], Reading], now: datetime, over: Known
    ) -> None:
        """Never: the years are those of the whole log."""

    def restamp(self, file: LogFile, now: datetime) -> Known | None:
        """The same bytes, with another stamp."""
        return self._index.restamp(file, now)

    def drop(self, path: str, over: Known | None) -> None:
        """Forget a log. Raises Overtaken."""
        self._index.drop(path, over)
        self._noted.pop(path, None)

    def reading(self, path: str) -> Reading:
        """The reading of a log that is kept."""
        return self._index.reading(path)

    def before(self, path: str, known: Known) -> Reading | None:
        """The reading of a log, if it is still the one that was known."""
        return self._index.before(path, known)

    def files(self) -> Iterable[LogFile]:
        """Every log that is kept, as it was read."""
        return self._index.files()


def _told(known: Known) -> str:
    return f"{known.digest.hex()} {known.last_line.value}"


def _years(reading: Reading) -> tuple[int, ...]:
    found = {entry.when.astimezone(UTC).year for entry in reading.entries}
    for entry in reading.entries:
        for clause in entry.clauses:
            if isinstance(clause, Struck):
                found.add(clause.name.moment.astimezone(UTC).year)
    return tuple(sorted(found))


def _read(file: Path) -> _Kept:
    """What was noted before; nothing where that is missing or no good, for it can be made anew."""
    try:
        found = json.loads(file.read_bytes())
        return {path: (str(told), tuple(map(int, years))) for path, (told, years) in found.items()}
    except (OSError, ValueError, TypeError, AttributeError):
        return {}


def marks(kept: _Kept, snapshot: Snapshot, made_by: str) -> dict[str, str]:
    """What each year was made from, by the year; ``made_by`` tells the program and the register.

    0 stands for lines of which no time is known. A year that is not over by the moment looked at
    is told with that moment: what was written for later counts once it has come.
    """
    of_year: dict[int, set[tuple[str, str]]] = defaultdict(set)
    refused: dict[str, list[tuple[int, str]]] = defaultdict(list)
    years = {path: set(own) for path, (_, own) in kept.items()}
    for complaint in snapshot.refused:
        refused[complaint.path].append((complaint.diagnostic.line, complaint.diagnostic.code.value))
        own = years.setdefault(complaint.path, set())
        if complaint.shift is not None:
            # a line that was not read lies by the start of its shift, in the shed's own zone
            day = complaint.shift.day
            own |= {(day + timedelta(days=n)).year for n in (-1, 0, 1)}
        own.add(0)
    for source in snapshot.unfinished:
        years.setdefault(source.path, set()).add(0)
    now = snapshot.fleet.as_of.astimezone(UTC)
    for path, own in years.items():
        told = kept[path][0] if path in kept else ""
        if len(own - {0}) > 1 and max(own) >= now.year:
            told += now.isoformat()  # a strike of another year's line counts once it has come
        for year in own:
            of_year[year].add((path, f"{told} {sorted(refused[path])}"))
    return {
        str(year): _mark(made_by, sorted(of_year[year]), now if year >= now.year else None)
        for year in sorted(of_year)
    }


def _mark(made_by: str, logs: list[tuple[str, str]], now: datetime | None) -> str:
    told = repr((made_by, logs, now.isoformat() if now else None))
    return hashlib.sha256(told.encode("utf-8", "surrogatepass")).hexdigest()[:32]
