"""What bears on an entry among years of logs: a checkpoint of the index and what came since.

Where the logs are few, the lines that can bear on an entry are picked out and read (``sifting``).
Parts go from loom to loom, so that over years every loom's lines bear on every other's; then only
a checkpoint before the entry spares reading them all. Without an index that is there already, or
with one that is no good, nothing is known here and the lines are read.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path

from board.index import segments, standing
from board.index.index import Index
from board.index.schema import Unusable
from board.indexed import index_file, looked
from board.mill import Mill
from board.record.files import FolderEmpty, FolderMissing, list_logs
from board.record.reads import Reads
from board.state.folded import Folded
from board.state.logged import Logged
from board.state.spells import micros
from grammar.entries import Entry, Struck
from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """Where the shed stood before the entry, and the entries of all looms from then on."""

    start: Folded
    entries: tuple[Logged, ...]


MOST_UNREAD = 500_000  # [bytes] of logs that the index does not know


class Bearing:
    """Looks into the index of a log folder for whoever writes into it."""

    def __init__(
        self,
        folder: Path,
        mill: Mill,
        reader: Reads,
        named: str | None,
        environ: Mapping[str, str],
        clock: Callable[[], datetime],
    ) -> None:
        self._folder = folder
        self._mill = mill
        self._reader = reader
        self._file = index_file(folder, named, environ)
        self._clock = clock
        self._index: Index | None = None

    def on(self, entry: Entry, now: datetime) -> Basis | None:
        """What bears on an entry that would be written now; None where the index does not tell."""
        if self._file is None or not self._file.exists():
            return None
        try:
            return self._basis(entry, now)
        except Unusable:
            self.close()
            return None  # whoever shows the shed tells of it

    def close(self) -> None:
        """Let go of the index."""
        if self._index is not None:
            self._index.close()
            self._index = None

    def _basis(self, entry: Entry, now: datetime) -> Basis | None:
        if self._index is None:
            assert self._file is not None
            self._index = Index(self._file, self._folder, self._mill, self._reader)
        index, clock = self._index, self._clock()
        if _unread(self._folder, index) > MOST_UNREAD:
            return None  # it was made for another program, or never finished: left to the board
        shelf = looked(self._folder, self._reader, index, clock)
        index.commit()
        if shelf.missing or shelf.held:
            return None
        struck = [c.name.moment for c in entry.clauses if isinstance(c, Struck)]
        first = min(entry.when, now, *struck).replace(second=0, microsecond=0)
        with index.reads() as readings:
            connection = readings.connection
            bounds = [standing.base_for(connection, moment) for moment in (now, entry.when)]
            if None in bounds:
                return None
            known = min(bound for bound in bounds if bound is not None)
            base = segments.latest(connection, min(known, micros(first)))
            if base is None:
                return None
            return Basis(
                start=segments.folded_at(connection, base),
                entries=tuple(readings.logged_between(base, None)),
            )


def _unread(folder: Path, index: Index) -> int:
    """How much of a folder an index does not know, by the size of the logs [bytes]."""
    listing = list_logs(folder)
    if isinstance(listing, FolderMissing | FolderEmpty):
        return 0
    known = index.known()
    return sum(
        log.stamp[0]
        for log in listing.logs
        if log.stamp is not None and (log.path not in known or known[log.path].size != log.stamp[0])
    )
