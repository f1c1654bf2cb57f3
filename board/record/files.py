"""The log folder: which files are logs, and what stands in them.

Opens nothing but regular files and follows no link: one that leaves the folder sends no signal when
it changes, one that stays inside would count its entries twice. Whatever cannot be read is told in
one sentence and never stops the rest. What a log says is left to ``grammar``, when to look to
``watch``, the names of logs to ``sweep``.
"""

from __future__ import annotations

import os
import stat
from dataclasses import field
from datetime import UTC, datetime, timedelta
from enum import Enum
from pathlib import Path

from board.record.sweep import REGISTER_NAME, reason_of
from grammar.decoding import with_line_feeds
from grammar.frozen import dataclass
from grammar.making import maker
from grammar.readings import LastLine

QUIET = timedelta(seconds=60)  # after which a last line without its newline counts
LARGEST = 256 * 1024 * 1024  # [bytes] of one log; a runaway file must not fill the memory

_READ_AT_ONCE = 1024 * 1024
_TRIES = 3  # of a file that changes while it is read
_OPEN_FLAGS = (
    os.O_RDONLY
    | getattr(os, "O_NONBLOCK", 0)
    | getattr(os, "O_NOFOLLOW", 0)
    | getattr(os, "O_CLOEXEC", 0)
    | getattr(os, "O_BINARY", 0)
)
_KINDS = (
    (stat.S_ISLNK, "a link, and links are not followed"),
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LogName:
    """A log: its path in the folder as it is shown, and where the file is.

    ``path`` is relative, with ``/`` on every system; what cannot be shown in a name is written
    as ``\\xNN``, so that no two logs share a path. ``where`` is for the system to open. ``stamp``
    is as the folder told it: size [bytes], last change of the bytes and of anything else about the
    file [ns since 1970].
    """

    path: str
    where: str
    stamp: tuple[int, int, int] | None = field(default=None, compare=False)

    @property
    def file(self) -> Path:
        """Where the file is."""
        return Path(self.where)


log_name = maker(LogName)


class Lack(Enum):
    """Why something was not read: whether it may hold lines all the same."""

    ABSENT = "not there"
    NO_LOG = "no log"  # a link, a pipe, a name that is not quite that of a log
    UNREADABLE = "cannot be read"


@dataclass(frozen=True, slots=True, kw_only=True)
class Skipped:
    """A file or sub-folder that was not read, and why in one sentence."""

    path: str
    sentence: str
    lack: Lack = field(default=Lack.NO_LOG, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Listing:
    """The logs of a folder, sorted by path, and what was passed over."""

    logs: tuple[LogName, ...]
    skipped: tuple[Skipped, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderMissing:
    """There is no such folder, or it cannot be listed."""

    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderEmpty:
    """No log stands in the folder; whether its register does tells it from an empty place."""

    sentence: str
    skipped: tuple[Skipped, ...] = ()
    register: bool = field(default=True, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class LogFile:
    """A log as it stood when it was read; one that was saved with CR alone has LF here.

    ``size`` [bytes] is that of ``data``; ``mtime_ns`` and ``ctime_ns`` [ns since 1970] were taken
    before reading, so that a change meanwhile shows as a difference at the next look.
    """

    path: str
    data: bytes
    mtime_ns: int
    size: int
    last_line: LastLine
    ctime_ns: int = 0

    @property
    def settles_at(self) -> datetime | None:
        """When an unfinished last line will count if nobody writes, or None without one."""
        if self.last_line is LastLine.SETTLED or not self.data or self.data.endswith(b"\n"):
            return None
        return moment_of_ns(self.mtime_ns + QUIET // timedelta(microseconds=1) * 1000)


Listed = Listing | FolderMissing | FolderEmpty


def not_regular(path: str, mode: int) -> Skipped:
    """What is told of something with a log's name that is no ordinary file."""
    kind = next((words for is_kind, words in _KINDS if is_kind(mode)), "no ordinary file")
    return Skipped(path=path, sentence=f"{path} was not read: it is {kind}")


# -- reading -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Raw:
    """The bytes of a file and when it had been changed last."""

    data: bytes
    mtime_ns: int
    ctime_ns: int


@dataclass(frozen=True, slots=True)
class _Unsteady:
    """The file became shorter while it was read."""


def read_file(log: LogName, now: datetime) -> LogFile | Skipped:
    """The bytes of a log; ``now`` is the machine's own clock, not a moment asked for."""
    raw = _read(log)
    if isinstance(raw, Skipped):
        return raw
    return LogFile(
        path=log.path,
        data=with_line_feeds(raw.data),
        mtime_ns=raw.mtime_ns,
        size=len(raw.data),
        last_line=last_line(raw.mtime_ns, now),
        ctime_ns=raw.ctime_ns,
    )


def read_register_file(folder: Path) -> bytes | Skipped:
    """The bytes of the folder's register, or why there are none."""
    raw = _read(LogName(path=REGISTER_NAME, where=str(folder / REGISTER_NAME)))
    if isinstance(raw, Skipped):
        return raw
    return raw.data


def _read(log: LogName) -> _Raw | Skipped:
    for _ in range(_TRIES):
        read = _read_once(log)
        if not isinstance(read, _Unsteady):
            return read
    sentence = f"{log.path} was not read: it became shorter while it was read"
    return Skipped(path=log.path, sentence=sentence, lack=Lack.UNREADABLE)


def _read_once(log: LogName) -> _Raw | Skipped | _Unsteady:
    try:
        before = os.lstat(log.where)
        if not stat.S_ISREG(before.st_mode):
            return not_regular(log.path, before.st_mode)
        descriptor = os.open(log.where, _OPEN_FLAGS)
    except FileNotFoundError:
        told = f"{log.path} was not read: it is not there"
        return Skipped(path=log.path, sentence=told, lack=Lack.ABSENT)
    except (OSError, ValueError) as error:
        return _unreadable(log, error)
    try:
        opened = os.fstat(descriptor)
        if not stat.S_ISREG(opened.st_mode):
            return not_regular(log.path, opened.st_mode)
        if opened.st_size > LARGEST:
            told = f"{log.path} was not read: it is larger than {LARGEST >> 20} MiB"
            return Skipped(path=log.path, sentence=told, lack=Lack.UNREADABLE)
        data = _read_up_to(descriptor, LARGEST)
    except OSError as error:
        return _unreadable(log, error)
    finally:
        os.close(descriptor)
    if len(data) < opened.st_size:
        return _Unsteady()
    return _Raw(data, opened.st_mtime_ns, opened.st_ctime_ns)


def _read_up_to(descriptor: int, most: int) -> bytes:
    # A mebibyte asked for leaves a hole behind every log that is kept, and a board grows by them.
    at_once = min(os.fstat(descriptor).st_size + 1, _READ_AT_ONCE)
    pieces: list[bytes] = []
    left = most
    while left > 0 and (piece := os.read(descriptor, min(at_once, left))):
        pieces.append(piece)
        left -= len(piece)
    return b"".join(pieces)


def _unreadable(log: LogName, error: OSError | ValueError) -> Skipped:
    reason = reason_of(error) if isinstance(error, OSError) else "its name cannot be opened"
    told = f"{log.path} was not read: {reason}"
    return Skipped(path=log.path, sentence=told, lack=Lack.UNREADABLE)


def last_line(mtime_ns: int, now: datetime) -> LastLine:
    """Whether a file was quiet long enough for its last line to count without a newline.

    A file changed in the future, by its own clock, is taken as still growing.
    """
    quiet = now - moment_of_ns(mtime_ns)
    return LastLine.SETTLED if quiet >= QUIET else LastLine.GROWING


def moment_of_ns(mtime_ns: int) -> datetime:
    """A file's time; one outside the calendar is as far off as the calendar goes."""
    try:
        return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=mtime_ns // 1000)
    except OverflowError:
        far = datetime.max if mtime_ns > 0 else datetime.min
        return far.replace(tzinfo=UTC)
