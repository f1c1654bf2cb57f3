"""The logs of a folder as they were last read, so that a save costs only the file it changed.

Holds readings by path; which files to look at again is told from outside (``watch``) or found by
a whole look. What was read once is given up only for what is known to have taken its place: a file
in the middle of being saved, or one that cannot be read any more, keeps its last lines, and the
second is told. What the readings mean together is left to ``board.snapshot``.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import assert_never

from board.record.files import (
    FolderEmpty,
    FolderMissing,
    Lack,
    LogFile,
    LogName,
    Skipped,
    list_logs,
    read_file,
)
from board.record.shown_names import shown_path
from board.record.sweep import LOG_SUFFIX, Stamp
from board.snapshot import FileReading
from grammar.reader import Reader

WAITED_S = 1.0  # [s] for a file between two states, until it is taken as it stands


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A log that cannot be read any more: since when its last lines are shown, and why."""

    since: datetime
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kept:
    """A log as it was last read."""

    log: LogName
    file: LogFile
    reading: FileReading


@dataclass(frozen=True, slots=True, kw_only=True)
class _Unread:
    """A log that could never be read."""

    log: LogName
    sentence: str


class Shelf:
    """Readings of every log of a folder, by path. For one thread."""

    def __init__(self, folder: Path, reader: Reader) -> None:
        self._folder = folder
        self._top = Path(os.path.abspath(folder))
        self._reader = reader
        self._kept: dict[str, _Kept] = {}
        self._passed_over: dict[str, str] = {}
        self._unread: dict[str, _Unread] = {}
        self._held: dict[str, Held] = {}
        self._waiting: dict[str, LogName] = {}
        self._missing = ""

    @property
    def readings(self) -> tuple[FileReading, ...]:
        """What was read, by path."""
        return tuple(self._kept[path].reading for path in sorted(self._kept))

    @property
    def files(self) -> tuple[Path, ...]:
        """Where the logs are that were read, by path."""
        return tuple(self._kept[path].log.file for path in sorted(self._kept))

    @property
    def notices(self) -> tuple[str, ...]:
        """Why files were passed over, one sentence each."""
        told = self._passed_over | {path: one.sentence for path, one in self._unread.items()}
        some = self._kept or self._unread or self._missing
        first = () if some else (f"no {LOG_SUFFIX} file stands in {shown_path(self._folder)}",)
        return (*first, *(told[path] for path in sorted(told)))

    @property
    def missing(self) -> str:
        """Why the folder itself cannot be read, or empty. The last readings are kept."""
        return self._missing

    @property
    def held(self) -> tuple[Held, ...]:
        """The logs that cannot be read any more, by path."""
        return tuple(self._held[path] for path in sorted(self._held))

    @property
    def waiting(self) -> bool:
        """Whether a file was found between two states, to be looked at again soon."""
        return bool(self._waiting)

    def speak(self, reader: Reader) -> None:
        """Read everything that is kept in other words: the register changed."""
        self._reader = reader
        for path, kept in self._kept.items():
            self._kept[path] = self._understood(kept.log, kept.file)

    def look(self, now: datetime) -> None:
        """Read every log of the folder; ``now`` is the machine's clock."""
        listing = list_logs(self._folder)
        if isinstance(listing, FolderMissing):
            self._missing = listing.sentence
            return
        self._missing = ""
        self._passed_over = {one.path: one.sentence for one in listing.skipped}
        logs = () if isinstance(listing, FolderEmpty) else listing.logs
        closed = [skipped for skipped in listing.skipped if skipped.lack is Lack.UNREADABLE]
        for gone in (self._kept.keys() | self._unread.keys()) - {log.path for log in logs}:
            if not any(gone == one.path or gone.startswith(f"{one.path}/") for one in closed):
                self._forget(gone)
        for log in logs:
            self._take(log, read_file(log, now), now)

    def look_round(self) -> bool:
        """See what is no log in the folder; whether that is other than before. Reads no log."""
        listing = list_logs(self._folder)
        if isinstance(listing, FolderMissing):
            return False
        before = self._passed_over
        self._passed_over = {one.path: one.sentence for one in listing.skipped}
        return self._passed_over != before

    def look_at(self, marks: Mapping[Path, Stamp | None], now: datetime) -> None:
        """Read these files again, told with their stamps, and forget those told as gone."""
        for file, mark in marks.items():
            try:
                log = LogName(path=shown_path(file.relative_to(self._top)), file=file)
            except ValueError:
                continue  # not of this folder
            found = read_file(log, now)
            if self._between_states(log, found, mark):
                self._waiting[log.path] = log
            else:
                self._take(log, found, now)

    def settle(self, now: datetime) -> bool:
        """Read once more what was not final; whether anything is other than before.

        That is files whose unfinished last line has been quiet long enough, those found between
        two states, and those that could not be read.
        """
        again = [
            kept.log
            for kept in self._kept.values()
            if (when := kept.file.settles_at) is not None and when <= now
        ]
        again += self._waiting.values()
        again += [self._kept[path].log for path in self._held if path in self._kept]
        again += [one.log for one in self._unread.values()]
        if not again:
            return False
        before = (self.readings, self.notices, self.held)
        for log in again:
            self._waiting.pop(log.path, None)
            found = read_file(log, now)
            if isinstance(found, Skipped) and found.lack is Lack.ABSENT:
                continue  # the whole folder may be away: that a log is gone is told from outside
            self._take(log, found, now)
        return before != (self.readings, self.notices, self.held)

    def _between_states(self, log: LogName, found: LogFile | Skipped, mark: Stamp | None) -> bool:
        """Whether a file has changed again since it was told, and not by growing.

        It is then most likely being saved; the next signal tells what came of it.
        """
        kept = self._kept.get(log.path)
        if kept is None:
            return False
        if isinstance(found, Skipped):
            return found.lack is Lack.ABSENT and mark is not None
        told = mark is not None and (mark.size, mark.modified_ns) == (found.size, found.mtime_ns)
        return not told and not found.data.startswith(kept.file.data)

    def _take(self, log: LogName, found: LogFile | Skipped, now: datetime) -> None:
        kept = self._kept.get(log.path)
        if isinstance(found, LogFile):
            self._forget(log.path)
            if kept is not None and _same(kept.file, found):
                self._kept[log.path] = replace(kept, file=found)
            else:
                self._kept[log.path] = self._understood(log, found)
        elif found.lack is Lack.UNREADABLE and kept is not None:
            self._waiting.pop(log.path, None)
            since = self._held[log.path].since if log.path in self._held else now
            told = f"{found.sentence}; its lines are shown as they were last read"
            self._held[log.path] = Held(since=since, sentence=told)
        else:
            self._forget(log.path)
            match found.lack:
                case Lack.UNREADABLE:
                    self._unread[log.path] = _Unread(log=log, sentence=found.sentence)
                case Lack.NO_LOG:
                    self._passed_over[log.path] = found.sentence
                case Lack.ABSENT:
                    pass
                case _:
                    assert_never(found.lack)

    def _understood(self, log: LogName, file: LogFile) -> _Kept:
        reading = self._reader.read(file.data, file.last_line)
        return _Kept(log=log, file=file, reading=FileReading(path=file.path, reading=reading))

    def _forget(self, path: str) -> None:
        for known in (self._kept, self._held, self._unread, self._passed_over, self._waiting):
            known.pop(path, None)


def _same(one: LogFile, other: LogFile) -> bool:
    return one.data == other.data and one.last_line is other.last_line
