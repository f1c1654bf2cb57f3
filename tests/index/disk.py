"""A log folder in memory, for the shelf: files with their bytes and the time they were changed."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from unittest import mock

from board.record import shelf as shelves
from board.record.files import (
    FolderEmpty,
    FolderMissing,
    Lack,
    Listing,
    LogFile,
    LogName,
    Skipped,
    last_line,
)
from board.record.sweep import Stamp
from grammar.decoding import with_line_feeds
from grammar.reader import Carried, LastLine, Reader, Reading

TOP = Path("/logs")
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def nanoseconds(moment: datetime) -> int:
    """A moment as files keep it [ns since 1970]."""
    return (moment - _EPOCH) // timedelta(microseconds=1) * 1000


@dataclass
class Disk:
    """What stands in the folder. Every change has a stamp of its own, as on a disk."""

    files: dict[str, tuple[bytes, int]] = field(default_factory=dict)
    away: bool = False
    _last: int = 0

    def put(self, path: str, data: bytes, now: datetime) -> None:
        """Save a file."""
        self._last = (
            max(nanoseconds(now), self._last + 1) if path in self.files else nanoseconds(now)
        )
        self.files[path] = data, self._last

    def data(self, path: str) -> bytes:
        """The bytes of a file, none where there is none."""
        return self.files[path][0] if path in self.files else b""

    def list_logs(self, folder: Path) -> Listing | FolderMissing | FolderEmpty:
        """As ``board.record.files`` has it."""
        if self.away:
            return FolderMissing(sentence=f"there is no folder {folder}")
        if not self.files:
            return FolderEmpty(sentence=f"no .log file stands in {folder}")
        logs = (
            LogName(path=path, where=str(TOP / path), stamp=(len(data), at, at))
            for path, (data, at) in sorted(self.files.items())
        )
        return Listing(logs=tuple(logs))

    def read_file(self, log: LogName, now: datetime) -> LogFile | Skipped:
        """As ``board.record.files`` has it."""
        if self.away or log.path not in self.files:
            told = f"{log.path} was not read: it is not there"
            return Skipped(path=log.path, sentence=told, lack=Lack.ABSENT)
        data, at = self.files[log.path]
        return LogFile(
            path=log.path,
            data=with_line_feeds(data),
            size=len(data),
            mtime_ns=at,
            ctime_ns=at,
            last_line=last_line(at, now),
        )

    def stamp(self, path: str) -> Stamp | None:
        """What a watcher would tell of a file."""
        if path not in self.files:
            return None
        data, at = self.files[path]
        return Stamp(size=len(data), modified_ns=at, changed_ns=at, inode=1)

    @contextmanager
    def mounted(self) -> Iterator[None]:
        """Let every shelf look here."""
        with (
            mock.patch.object(shelves, "list_logs", self.list_logs),
            mock.patch.object(shelves, "read_file", self.read_file),
        ):
            yield


@dataclass
class Counting:
    """A reader that remembers what it was given, and never reads the same twice."""

    reader: Reader
    given: list[tuple[bytes, bool]] = field(default_factory=list)  # bytes, and whether carried on
    _known: dict[tuple[bytes, LastLine, Carried | None], Reading] = field(default_factory=dict)

    def read(self, data: bytes, last_line: LastLine, carried: Carried | None = None) -> Reading:
        """As ``grammar.reader`` has it."""
        self.given.append((data, carried is not None))
        key = data, last_line, carried
        if key not in self._known:
            if len(self._known) > 5_000:
                self._known.clear()
            self._known[key] = self.reader.read(data, last_line, carried)
        return self._known[key]

    def expect(self, lines: int) -> None:
        """Make ready for so many lines: as ever."""

    def taken(self) -> list[tuple[bytes, bool]]:
        """What was given since the last time."""
        given, self.given = self.given, []
        return given
