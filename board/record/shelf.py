"""The logs of a folder as they were last read, so that a save costs only the file it changed.

Holds readings by path; which files to look at again is told from outside (``watch``) or found by
a whole look. What the readings mean together is left to ``board.snapshot``.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from pathlib import Path

from board.record.files import (
    FolderEmpty,
    FolderMissing,
    LogFile,
    LogName,
    Skipped,
    list_logs,
    read_file,
)
from board.snapshot import FileReading
from grammar.reader import Reader


class Shelf:
    """Readings of every log of a folder, by path. For one thread."""

    def __init__(self, folder: Path, reader: Reader) -> None:
        self._folder = folder
        self._reader = reader
        self._readings: dict[str, FileReading] = {}
        self._settles: dict[str, datetime] = {}
        self._passed_over: dict[str, str] = {}
        self._missing = ""
        self._empty = ""

    @property
    def readings(self) -> tuple[FileReading, ...]:
        """What was read, by path."""
        return tuple(self._readings[path] for path in sorted(self._readings))

    @property
    def notices(self) -> tuple[str, ...]:
        """Why files were passed over, one sentence each."""
        first = [self._empty] if self._empty else []
        return (*first, *(self._passed_over[path] for path in sorted(self._passed_over)))

    @property
    def missing(self) -> str:
        """Why the folder itself cannot be read, or empty. The last readings are kept."""
        return self._missing

    def speak(self, reader: Reader) -> None:
        """Read in other words from now on: the register changed. The next ``look`` applies them."""
        self._reader = reader

    def look(self, now: datetime) -> None:
        """Read every log of the folder; ``now`` is the machine's clock."""
        listing = list_logs(self._folder)
        if isinstance(listing, FolderMissing):
            self._missing = listing.sentence
            return
        self._missing = ""
        self._empty = listing.sentence if isinstance(listing, FolderEmpty) else ""
        self._passed_over = {skipped.path: skipped.sentence for skipped in listing.skipped}
        logs = () if isinstance(listing, FolderEmpty) else listing.logs
        here = {log.path for log in logs}
        for gone in set(self._readings) - here:
            self._forget(gone)
        for log in logs:
            self._read(log, now)

    def look_at(self, files: Iterable[Path], now: datetime) -> None:
        """Read these files again, and forget those that are no longer there."""
        for file in files:
            try:
                path = file.relative_to(self._folder.absolute()).as_posix()
            except ValueError:
                continue
            log = LogName(path=path, file=file)
            if file.is_symlink() or not file.exists():
                self._forget(path)
            else:
                self._read(log, now)

    def settle(self, now: datetime) -> bool:
        """Read files whose unfinished last line has been quiet long enough; whether any was."""
        due = [path for path, when in self._settles.items() if when <= now]
        for path in due:
            self._read(LogName(path=path, file=self._folder / path), now)
        return bool(due)

    def _forget(self, path: str) -> None:
        for kept in (self._readings, self._settles, self._passed_over):
            kept.pop(path, None)

    def _read(self, log: LogName, now: datetime) -> None:
        file = read_file(log, now)
        if isinstance(file, Skipped):
            self._forget(log.path)
            self._passed_over[log.path] = file.sentence
            return
        self._passed_over.pop(log.path, None)
        self._keep(file)

    def _keep(self, file: LogFile) -> None:
        settles = file.settles_at
        if settles is not None:
            self._settles[file.path] = settles
        else:
            self._settles.pop(file.path, None)
        reading = self._reader.read(file.data, file.last_line)
        self._readings[file.path] = FileReading(path=file.path, reading=reading)
