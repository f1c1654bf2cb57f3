"""The logs of a folder as they were last read, so that a save costs only the file it changed.

Keeps the readings in a cabinet (``cabinet``); which files to look at again is told from outside
(``watch``) or found by a whole look. What was read once is given up only for what is known to have
taken its place: a file in the middle of being saved, or one that cannot be read any more, keeps
its last lines, and the second is told. What the readings mean together is left to
``board.snapshot``.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from operator import itemgetter
from pathlib import Path
from typing import assert_never

from board.record.cabinet import Cabinet, Drawers, Known, Overtaken, joined
from board.record.files import (
    FolderEmpty,
    FolderMissing,
    Lack,
    Listed,
    Listing,
    LogFile,
    LogName,
    Skipped,
    read_file,
)
from board.record.listing import list_logs
from board.record.reads import Reads, in_bulk
from board.record.shown_names import shown_path
from board.record.sweep import LOG_SUFFIX, Stamp
from board.snapshot import FileReading
from grammar.frozen import dataclass
from grammar.readings import Carried, Reading

_BYTES_OF_A_LINE = 40  # about
WAITED_S = 1.0  # [s] for a file between two states, until it is taken as it stands


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A log that cannot be read any more: since when its last lines are shown, and why."""

    since: datetime
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Unread:
    """A log that could never be read."""

    log: LogName
    sentence: str


class Shelf:
    """The logs of a folder, by path, read as often as they change. For one thread."""

    def __init__(self, folder: Path, reader: Reads, cabinet: Cabinet | None = None) -> None:
        self._folder = folder
        self._top = Path(os.path.abspath(folder))
        self._reader = reader
        self._cabinet = cabinet if cabinet is not None else Drawers()
        self._kept: dict[str, Known] = dict(self._cabinet.known())
        self._names: dict[str, LogName] = {}
        self._of_reader: tuple[str, ...] = ()
        self._passed_over: dict[str, str] = {}
        self._unread: dict[str, _Unread] = {}
        self._held: dict[str, Held] = {}
        self._waiting: dict[str, LogName] = {}
        self._missing = ""

    @property
    def readings(self) -> tuple[FileReading, ...]:
        """What was read, by path."""
        return tuple(
            FileReading(path=path, reading=self._cabinet.reading(path))
            for path in sorted(self._kept)
        )

    @property
    def files(self) -> tuple[Path, ...]:
        """Where the logs are that were read, by path."""
        return tuple(self._names[path].file for path in sorted(self._kept))

    @property
    def notices(self) -> tuple[str, ...]:
        """Why files were passed over, one sentence each."""
        told = self._passed_over | {path: one.sentence for path, one in self._unread.items()}
        some = self._kept or self._unread or self._missing
        first = () if some else (f"no {LOG_SUFFIX} file stands in {shown_path(self._folder)}",)
        return (*first, *self._of_reader, *(told[path] for path in sorted(told)))

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

    def speak(
        self, reader: Reads, now: datetime, anew: Callable[[], Cabinet] | None = None
    ) -> None:
        """Read what is kept in other words, for the register changed; into a cabinet made anew."""
        files = tuple(self._cabinet.files())
        cabinet = anew() if anew is not None else self._cabinet
        self._reader = reader
        self._cabinet = cabinet
        begun = False
        if anew is not None:
            self._kept = dict(cabinet.known())
            begun = bool(self._kept)  # by another program
        if not self.adopt(files, now) or begun:
            self.look(now)

    def adopt(self, files: Iterable[LogFile], now: datetime) -> bool:
        """Take logs as they were read before, without a look at the disk; whether all are ours.

        One that another program put into the cabinet before stays as it stands there: which of
        the two is newer is not known.
        """
        all_ours = True
        for file in files:
            self._names.setdefault(
                file.path, LogName(path=file.path, where=str(self._top / file.path))
            )
            reading = self._reader.read(file.data, file.last_line)
            try:
                self._kept[file.path] = self._cabinet.keep(file, reading, now, None)
            except Overtaken as by:
                all_ours = False
                self._yield_to(by, file.path)
        return all_ours

    def unknown(self, listing: Listed) -> int:
        """How much of what is listed was never read as long as it is now [bytes]."""
        if not isinstance(listing, Listing):
            return 0
        sizes = {path: known.size for path, known in self._kept.items()}
        stamps = ((log.path, log.stamp[0]) for log in listing.logs if log.stamp is not None)
        return sum(size for path, size in stamps if sizes.get(path) != size)

    def look(
        self,
        now: datetime,
        progress: Callable[[int, int], None] | None = None,
        listing: Listed | None = None,
    ) -> None:
        """Read every log of the folder that is not known as it stands; ``now`` is the clock's.

        ``progress`` is told how many of how many logs are done; ``listing`` is the folder's where
        it was listed just now.
        """
        self._see_others()
        if listing is None:
            listing = list_logs(self._folder)
        self._missing = self._away(listing)
        if self._missing or isinstance(listing, FolderMissing):
            return
        self._passed_over = {one.path: one.sentence for one in listing.skipped}
        logs = () if isinstance(listing, FolderEmpty) else listing.logs
        closed = [skipped for skipped in listing.skipped if skipped.lack is Lack.UNREADABLE]
        for gone in (self._kept.keys() | self._unread.keys()) - {log.path for log in logs}:
            if not any(gone == one.path or gone.startswith(f"{one.path}/") for one in closed):
                try:
                    self._forget(gone)
                except Overtaken as by:
                    self._yield_to(by, gone)
                    self.look(now, progress)  # it may be back
                    return
        self._names |= {log.path: log for log in logs}
        unread = [
            log
            for log in logs
            if (known := self._kept.get(log.path)) is None or not known.stands(log.stamp, now)
        ]
        lines = sum(log.stamp[0] for log in unread if log.stamp) // _BYTES_OF_A_LINE
        with in_bulk(self._reader, lines), self._cabinet.many(lines):
            for done, log in enumerate(unread):
                self._take(log, read_file(log, now), now)
                if progress is not None:
                    progress(done + 1, len(unread))

    def _away(self, listing: Listed) -> str:
        """Why the folder is taken to be away, or empty: then no log is forgotten.

        An empty folder in the place of one with logs and a register is where a drive was.
        """
        if isinstance(listing, FolderMissing):
            return listing.sentence
        if isinstance(listing, FolderEmpty) and self._kept and not listing.register:
            return f"{shown_path(self._folder)} holds neither a register nor a log any more"
        return ""

    def look_round(self) -> bool:
        """See what is no log in the folder; whether that is other than before. Reads no log."""
        listing = list_logs(self._folder)
        if isinstance(listing, FolderMissing):
            return False
        before = self._passed_over
        self._passed_over = {one.path: one.sentence for one in listing.skipped}
        return self._passed_over != before

    def look_at(self, marks: Mapping[Path, Stamp | None], now: datetime) -> None:
        """Read these files again, told with their stamps, and forget those told as gone.

        The last by name first: logs are mostly named by their days.
        """
        for file, mark in sorted(marks.items(), reverse=True, key=itemgetter(0)):
            try:
                log = LogName(path=shown_path(file.relative_to(self._top)), where=str(file))
            except ValueError:
                continue  # not of this folder
            self._names[log.path] = log
            found = read_file(log, now)
            if self._between_states(log, found, mark):
                self._waiting[log.path] = log
            else:
                self._take(log, found, now)

    def settle(self, now: datetime) -> bool:
        """Read once more what was not final; whether anything is other than before.

        That is files whose unfinished last line has been quiet long enough, those found between
        two states, and those that could not be read. Where another program has put something into
        the cabinet, the whole folder is looked at.
        """
        if self._see_others():
            self.look(now)
            return True
        again = [
            self._names[path]
            for path, known in self._kept.items()
            if (when := known.settles_at) is not None and when <= now
        ]
        again += self._waiting.values()
        again += [self._names[path] for path in self._held if path in self._kept]
        again += [one.log for one in self._unread.values()]
        if not again:
            return False
        before = (dict(self._kept), self.notices, self.held)
        for log in again:
            self._waiting.pop(log.path, None)
            found = read_file(log, now)
            if isinstance(found, Skipped) and found.lack is Lack.ABSENT:
                continue  # the whole folder may be away: that a log is gone is told from outside
            self._take(log, found, now)
        return before != (self._kept, self.notices, self.held)

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
        return not told and not kept.begins(found.data)

    def _take(self, log: LogName, found: LogFile | Skipped, now: datetime) -> None:
        while True:
            try:
                return self._put_away(log, found, now)
            except Overtaken as by:
                self._yield_to(by, log.path)
                found = read_file(log, now)

    def _yield_to(self, by: Overtaken, path: str) -> None:
        """Go by what another program put away."""
        if by.stands is None:
            self._kept.pop(path, None)
        else:
            self._kept[path] = by.stands

    def _put_away(self, log: LogName, found: LogFile | Skipped, now: datetime) -> None:
        kept = self._kept.get(log.path)
        if isinstance(found, LogFile):
            for troubles in (self._held, self._unread, self._passed_over, self._waiting):
                troubles.pop(log.path, None)
            same = kept is not None and kept.same(found)
            known = self._cabinet.restamp(found, now) if same else None
            if known is None:
                known = self._kept_anew(kept, found, now)
            self._kept[log.path] = known
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

    def _kept_anew(self, kept: Known | None, file: LogFile, now: datetime) -> Known:
        """Put a file away; of one that has only grown, only its new lines are read."""
        if kept is not None and kept.ended and kept.size and kept.begins(file.data):
            new = file.data[kept.size :]

            def read(carried: Carried) -> Reading:
                return self._told(self._reader.read(new, file.last_line, carried))

            known = self._cabinet.extend(file, read, now, kept)
            if known is not None:
                return known
            before = self._cabinet.before(file.path, kept)
            if before is not None:
                return self._cabinet.keep(file, joined(before, read(before.carried)), now, kept)
        reading = self._told(self._reader.read(file.data, file.last_line))
        return self._cabinet.keep(file, reading, now, kept)

    def _told(self, reading: Reading) -> Reading:
        """The reading; what the reader has to say of itself is a notice."""
        self._of_reader += reading.notices
        return reading

    def _see_others(self) -> bool:
        """Take up what another program has put into the cabinet; whether there was anything."""
        known = self._cabinet.others()
        if known is not None:
            self._kept = dict(known)
        return known is not None

    def _forget(self, path: str) -> None:
        self._cabinet.drop(path, self._kept.get(path))  # another program may know it
        self._kept.pop(path, None)
        for troubles in (self._held, self._unread, self._passed_over, self._waiting):
            troubles.pop(path, None)
