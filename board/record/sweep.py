"""Look at the whole log folder and say which logs differ from what is remembered.

This module decides which names are logs, takes a stamp of each, and compares. It never
opens a log, keeps no state and starts nothing: `watch` says when to look, the index says
what the changed text means. A link is never followed, neither to a file nor to a folder,
because a save behind a link that leaves the folder sends no signal and a link that stays
inside would count every entry twice; each one is reported instead.
"""

import os
import stat
from collections.abc import Mapping
from dataclasses import field
from pathlib import Path

from grammar.frozen import dataclass

LOG_SUFFIX = ".log"
REGISTER_NAME = "shed.toml"
# Names that editors give to backup, lock and half-written copies: ".x.log.swp", ".#x.log",
# "#x.log#", "~$x.log". The suffix alone would let ".#x.log" and "~$x.log" through.
_TEMPORARY_STARTS = (".", "#", "~")
# What programs for letters hang behind a name that somebody typed: "x.log.txt", "x.log.txt.txt".
_HUNG_BEHIND = (".txt", ".text", ".rtf", ".doc", ".docx", ".odt")
# More links than this are counted, not listed: a folder full of links must not fill memory.
_LINKS_KEPT = 100
TRIES = 3  # of a look in which something vanished: the folder itself may be going away


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """What the file system tells of a log without opening it.

    `size` [bytes]; `modified_ns` and `changed_ns` [nanoseconds since 1970], the second being
    the time of the last change of anything about the file, which a copy that keeps the old
    modification time, or a new permission to read, cannot hide.
    """

    size: int
    modified_ns: int
    inode: int
    changed_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Unread:
    """A folder that could not be listed or a log that could not be asked for its stamp."""

    path: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweep:
    """One look at the whole folder: every log found, and what could not be looked at.

    `links` lists links with a log's name, and linked folders, that were not followed (the
    first hundred); `link_count` counts them all.
    """

    seen: Mapping[str, Stamp]
    unread: tuple[Unread, ...]
    links: tuple[str, ...]
    link_count: int


def is_log_name(name: str) -> bool:
    """Say whether a bare file name is that of a log and not of an editor's temporary copy."""
    return name.endswith(LOG_SUFFIX) and not name.startswith(_TEMPORARY_STARTS)


def is_nearly_a_log(name: str) -> bool:
    """Say whether a name was meant for a log's: in capitals, or with a program's own ending.

    Backup copies (``x.log.bak``, ``x.log~``) were not.
    """
    meant = name.lower()
    while (bare := _without_ending(meant)) != meant:
        meant = bare
    return is_log_name(meant) and not is_log_name(name)


def _without_ending(name: str) -> str:
    ending = next((each for each in _HUNG_BEHIND if name.endswith(each)), "")
    return name.removesuffix(ending)


def is_watched(path: str, folder: str) -> bool:
    """Say whether a path is a log below `folder`, or the folder's own register.

    Anything below a hidden folder is not; a path outside `folder` is not.
    """
    if not path.startswith(folder.rstrip(os.sep) + os.sep):
        return False
    *above, name = path[len(folder.rstrip(os.sep)) + 1 :].split(os.sep)
    if any(part.startswith(".") for part in above):
        return False
    return is_log_name(name) or (not above and name == REGISTER_NAME)


def log_paths(folder: Path) -> list[str]:
    """The paths of all logs below a folder, in order; no file is asked for anything.

    A folder that cannot be listed has none.
    """
    found: list[str] = []
    waiting = [str(folder)]
    while waiting:
        try:
            with os.scandir(waiting.pop()) as entries:
                for entry in entries:
                    if not entry.is_dir(follow_symlinks=False):
                        if is_log_name(entry.name):
                            found.append(entry.path)
                    elif not entry.name.startswith("."):
                        waiting.append(entry.path)
        except OSError:
            continue
    return sorted(found)


def writer_of(path: str) -> str:
    """Who writes into a log, by its name: ``write`` names a log by day, shift and writer."""
    return path.rpartition("-")[2].removesuffix(LOG_SUFFIX)


def stamp(path: str) -> Stamp | None:
    """Take the stamp of one log; None when no such regular file is there.

    Raises OSError for every other failure, so that a drive that does not answer is never
    mistaken for a deleted log.
    """
    try:
        status = os.lstat(path)
    except (FileNotFoundError, NotADirectoryError):
        return None
    return _stamp_of(status) if stat.S_ISREG(status.st_mode) else None


def sweep(folder: Path) -> Sweep:
    """List every log below `folder`, and its register, with their stamps.

    Raises OSError when `folder` itself cannot be listed; a sub-folder that cannot be listed
    is put down under `unread`. Where something vanishes meanwhile it is all looked at again: a
    folder that is moved away just then has not lost its logs.
    """
    for _ in range(TRIES):
        found = _swept(str(folder))
        if not found.vanished:
            break
    return Sweep(
        seen=found.seen,
        unread=tuple(found.unread),
        links=tuple(sorted(found.links)),
        link_count=found.link_count,
    )


def _swept(top: str) -> "_Found":
    found = _Found(register=os.path.join(top, REGISTER_NAME))
    waiting = [top]
    while waiting:
        here = waiting.pop()
        try:
            with os.scandir(here) as entries:
                for entry in entries:
                    _look_at(entry, waiting, found)
        except OSError as error:
            if here == top:
                raise
            if isinstance(error, (FileNotFoundError, NotADirectoryError)):
                found.vanished = True
            else:
                found.unread.append(Unread(path=here, reason=reason_of(error)))
    return found


def differences(known: Mapping[str, Stamp | None], found: Sweep) -> dict[str, Stamp | None]:
    """Compare a sweep with what is remembered; the answer holds only what differs.

    A path mapped to None is gone. What lies at or below a place that could not be read is
    left as remembered: not seen is not the same as deleted. A remembered path without a stamp
    differs from whatever is found there.
    """
    changed: dict[str, Stamp | None] = {
        path: mark for path, mark in found.seen.items() if known.get(path) != mark
    }
    for path in known.keys() - found.seen.keys():
        if not any(
            path == place.path or path.startswith(place.path + os.sep) for place in found.unread
        ):
            changed[path] = None
    return changed


def reason_of(error: OSError) -> str:
    """Put the system's reason for a refusal into a few words."""
    return (error.strerror or type(error).__name__).lower()


@dataclass(slots=True)
class _Found:
    """What a sweep in progress has gathered."""

    register: str
    seen: dict[str, Stamp] = field(default_factory=dict)
    unread: list[Unread] = field(default_factory=list)
    links: list[str] = field(default_factory=list)
    link_count: int = 0
    vanished: bool = False


def _look_at(entry: os.DirEntry[str], waiting: list[str], found: _Found) -> None:
    name = entry.name
    if entry.is_symlink():
        if is_log_name(name) or (not name.startswith(".") and os.path.isdir(entry.path)):
            found.link_count += 1
            if len(found.links) < _LINKS_KEPT:
                found.links.append(entry.path)
        return
    if entry.is_dir(follow_symlinks=False):
        if not name.startswith("."):
            waiting.append(entry.path)
        return
    if not is_log_name(name) and entry.path != found.register:
        return
    try:
        status = entry.stat(follow_symlinks=False)
    except FileNotFoundError:
        found.vanished = True
        return
    except OSError as error:
        found.unread.append(Unread(path=entry.path, reason=reason_of(error)))
        return
    if stat.S_ISREG(status.st_mode):
        found.seen[entry.path] = _stamp_of(status)


def _stamp_of(status: os.stat_result) -> Stamp:
    return Stamp(
        size=status.st_size,
        modified_ns=status.st_mtime_ns,
        inode=status.st_ino,
        changed_ns=status.st_ctime_ns,
    )
