"""Append one entry to a log: whole, locked against other writers, and on the disk when it is told.

The lock is a hidden file in the log folder. It has to stand there and not on the writer's own
machine: on a network drive several machines append to one folder, and what they share is the
folder. The lock is the operating system's own (``flock`` on the file), so that of a process that
died falls with it; the file itself stays, for taking it away would split those who wait. Its name
begins with a dot, which readers and watchers of the folder pass over. Editors know nothing of the
lock; an exchange or a change of the log under our hands is noticed, and the entry written anew.

What is appended is decided in ``filing``; whether an entry makes sense is asked before.
"""

from __future__ import annotations

import errno
import os
import stat
import warnings
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import field
from pathlib import Path

from filelock import FileLock, Timeout

from board.record.filing import addition, line_fault, path_fault
from board.record.shown_names import shown_path
from board.record.sweep import reason_of
from grammar.decoding import with_line_feeds
from grammar.frozen import dataclass

LOCK_NAME = ".loomslate.lock"

_LOCK_MODE = 0o666  # whoever may write to the folder may wait for its lock
_LOCK_POLL_S = 0.01
_TRIES = 5  # against other programs that change the log meanwhile
_READ_AT_ONCE = 1024 * 1024
_WRITE_FLAGS = (
    os.O_RDWR
    | os.O_APPEND
    | getattr(os, "O_NONBLOCK", 0)
    | getattr(os, "O_NOFOLLOW", 0)
    | getattr(os, "O_CLOEXEC", 0)
    | getattr(os, "O_BINARY", 0)
)
_REASONS: Mapping[int, str] = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "your share of the disk is used up",
    errno.EROFS: "the disk cannot be written to",
    errno.EIO: "the disk reports an error",
    errno.EFBIG: "the file may not grow any further",
    errno.EACCES: "you have no leave to write there",
    errno.EPERM: "you have no leave to write there",
    errno.ELOOP: "it is a link, and links are not followed",
}
# What a drive answers that cannot sync a folder; the file itself was synced.
_NO_FOLDER_SYNC = (errno.EINVAL, errno.ENOTSUP, errno.EACCES, errno.EBADF, errno.EPERM)


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """The entry is on the disk: in which log (relative path) and in which line of it."""

    path: str
    line: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NotWritten:
    """The entry does not stand in the log, and why in one sentence."""

    sentence: str


@dataclass(frozen=True, slots=True)
class _Changed:
    """Another program changed the log meanwhile, and what we wrote was taken back."""


def append_entry(
    folder: Path,
    path: str,
    heading: str,
    line: str,
    *,
    day_words: tuple[str, ...] = ("day",),
    patience: float = 10.0,
) -> Written | NotWritten:
    """Appends an entry under its heading to a log of the folder, made where it is new.

    ``path`` is relative, as ``filing.log_path`` gives it; ``patience`` [s] is how long the lock
    is waited for. Returns when the entry is synced to the disk. What could not be written whole
    is taken back, or the sentence says that it could not be.
    """
    fault = path_fault(path) or line_fault(line) or line_fault(heading)
    if fault:
        return _not_written(path, fault)
    if not folder.is_dir():
        return _not_written(path, f"there is no folder {shown_path(folder)}")
    lock = FileLock(
        str(folder / LOCK_NAME), timeout=patience, mode=_LOCK_MODE, poll_interval=_LOCK_POLL_S
    )
    try:
        with warnings.catch_warnings():
            # where a drive has no flock a file with the holder's name stands in for it
            warnings.filterwarnings("ignore", message="flock not supported")
            lock.acquire()
    except Timeout:
        return _not_written(path, _others_write(folder / LOCK_NAME, patience))
    except NotImplementedError:
        return _not_written(path, "the drive knows no locks, and others may be writing")
    except OSError as error:
        return _not_written(path, _reason(error))
    try:
        return _append(_Target(folder=folder, path=path), heading, line, day_words)
    except OSError as error:
        return _not_written(path, _reason(error))
    finally:
        with suppress(OSError):  # it falls with this process at the latest
            lock.release()


def _others_write(lock: Path, patience: float) -> str:
    told = f"others have been writing for {patience:g} s; try again"
    with suppress(OSError):
        if lock.stat().st_size:  # a holder's name: no lock of the system, which falls with it
            told += f", and remove {lock.name} if the program that made it has died"
    return told


def _not_written(path: str, why: str) -> NotWritten:
    return NotWritten(sentence=f"nothing was written to {path}: {why}")


def _reason(error: OSError) -> str:
    return _REASONS.get(error.errno or 0, reason_of(error))


# -- under the lock ------------------------------------------------------------------------


@dataclass(slots=True, kw_only=True)
class _Target:
    """The log that is written to, and what had to be made for it."""

    folder: Path
    path: str
    folders_made: list[Path] = field(default_factory=list)
    made: tuple[int, int] | None = None  # device and inode of the file, if it is new

    @property
    def file(self) -> Path:
        return self.folder.joinpath(*self.path.split("/"))

    def open(self) -> int | NotWritten:
        """A descriptor for reading and appending. Raises OSError."""
        here = self.folder
        for part in self.path.split("/")[:-1]:
            here = here / part
            with suppress(FileExistsError):
                here.mkdir()
                self.folders_made.append(here)
            if not stat.S_ISDIR(here.lstat().st_mode):
                # A linked folder is never read, so that the entry would be lost to all.
                return _not_written(self.path, f"{part} is no folder of its own")
        try:
            descriptor = os.open(self.file, _WRITE_FLAGS | os.O_CREAT | os.O_EXCL, 0o666)
            own = os.fstat(descriptor)
            self.made = (own.st_dev, own.st_ino)
        except FileExistsError:
            if not stat.S_ISREG(os.lstat(self.file).st_mode):
                return _not_written(self.path, "it is no ordinary file")
            descriptor = os.open(self.file, _WRITE_FLAGS)
        return descriptor

    def is_still(self, descriptor: int) -> bool:
        """Whether the open file still bears the name, and no editor has put another there."""
        try:
            now = os.lstat(self.file)
        except FileNotFoundError:
            return False
        own = os.fstat(descriptor)
        return (now.st_dev, now.st_ino) == (own.st_dev, own.st_ino)

    def sync_folders(self) -> None:
        """Puts what was made on the disk. Raises OSError."""
        if self.made:
            for made in (self.file, *reversed(self.folders_made)):
                _sync_folder(made.parent)

    def clear_away(self) -> None:
        """Removes what was made in vain: an empty file, empty folders."""
        with suppress(OSError):
            there = os.lstat(self.file)
            if (there.st_dev, there.st_ino) == self.made and there.st_size == 0:
                self.file.unlink()
        for made in reversed(self.folders_made):
            with suppress(OSError):
                made.rmdir()
        self.folders_made.clear()
        self.made = None


def _append(
    target: _Target, heading: str, line: str, day_words: tuple[str, ...]
) -> Written | NotWritten:
    for _ in range(_TRIES):
        try:
            descriptor = target.open()
        except OSError:
            target.clear_away()
            raise
        if isinstance(descriptor, NotWritten):
            target.clear_away()
            return descriptor
        try:
            outcome = _append_to(target, descriptor, heading, line, day_words)
        finally:
            with suppress(OSError):  # the bytes are synced or taken back already
                os.close(descriptor)
        if not isinstance(outcome, Written):
            target.clear_away()
        if not isinstance(outcome, _Changed):
            return outcome
    return _not_written(target.path, "other programs keep changing it")


def _append_to(
    target: _Target, descriptor: int, heading: str, line: str, day_words: tuple[str, ...]
) -> Written | NotWritten | _Changed:
    before = _contents(descriptor)
    data = addition(before, heading, line, day_words)
    start = len(before)
    try:
        count = os.write(descriptor, data)
        if count < len(data):
            why = f"only {count} of {len(data)} bytes could be written, the disk may be full"
            return _taken_back(target, descriptor, start, data, why)
        start = os.lseek(descriptor, 0, os.SEEK_CUR) - len(data)
        os.fsync(descriptor)
        target.sync_folders()
    except OSError as error:
        return _taken_back(target, descriptor, start, data, _reason(error))
    if not target.is_still(descriptor):
        # Our bytes went into a file that bears the name no longer, but perhaps that of a log.
        _take_back(descriptor, start, data)
        return _Changed()
    if start != len(before):
        if _take_back(descriptor, start, data):
            return _Changed()
        why = "another program wrote to it at once"
        return NotWritten(
            sentence=f"look at the end of {target.path}: {why}, perhaps into the line"
        )
    return Written(path=target.path, line=with_line_feeds(before + data).count(b"\n"))


def _contents(descriptor: int) -> bytes:
    os.lseek(descriptor, 0, os.SEEK_SET)
    pieces: list[bytes] = []
    while piece := os.read(descriptor, _READ_AT_ONCE):
        pieces.append(piece)
    return b"".join(pieces)


def _taken_back(target: _Target, descriptor: int, start: int, data: bytes, why: str) -> NotWritten:
    if _take_back(descriptor, start, data):
        return _not_written(target.path, why)
    return NotWritten(
        sentence=f"the entry was not written whole, look at the end of {target.path}: {why}"
    )


def _take_back(descriptor: int, start: int, data: bytes) -> bool:
    """Cuts our own bytes off the end of the file; whether none of them is left.

    Where anything else stands behind ``start``, another program's, nothing is cut.
    """
    try:
        tail = _contents(descriptor)[start:]
        if not data.startswith(tail):
            return False
        os.ftruncate(descriptor, start)
        os.fsync(descriptor)
    except OSError:
        return False
    return True


def _sync_folder(folder: Path) -> None:
    if os.name == "nt":
        return  # Windows opens no folder; its journal keeps names
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in _NO_FOLDER_SYNC:
            raise
    finally:
        os.close(descriptor)
