"""Which logs stand in a folder, each with its stamp; nothing is opened.

No link is followed: one that leaves the folder sends no signal when it changes, one that stays
inside would count its entries twice. How the files are read is left to ``files``.
"""

from __future__ import annotations

import os
import stat
from operator import attrgetter
from pathlib import Path

from board.record.files import (
    FolderEmpty,
    FolderMissing,
    Lack,
    Listed,
    Listing,
    LogName,
    Skipped,
    log_name,
    not_regular,
)
from board.record.shown_names import shown_name, shown_path
from board.record.sweep import (
    LOG_SUFFIX,
    REGISTER_NAME,
    TRIES,
    is_log_name,
    is_nearly_a_log,
    reason_of,
)


def list_logs(folder: Path) -> Listed:
    """Every log below a folder, in all its sub-folders but hidden ones.

    Where something vanishes meanwhile it is all listed again: the folder itself may be going away.
    """
    for _ in range(TRIES):
        listed, vanished = _listed_once(folder)
        if not vanished:
            break
    return listed


def logs_in(listed: Listed) -> tuple[LogName, ...]:
    """The logs of a listing; none where the folder is empty or missing."""
    return listed.logs if isinstance(listed, Listing) else ()


def _listed_once(folder: Path) -> tuple[Listed, bool]:
    """The logs of a folder, and whether something vanished before it could be asked."""
    logs: list[LogName] = []
    skipped: list[Skipped] = []
    waiting: list[tuple[Path, str]] = [(folder, "")]
    vanished = register = False
    while waiting:
        here, above = waiting.pop()
        try:
            with os.scandir(here) as found:
                entries = list(found)
        except OSError as error:
            if not above:
                return FolderMissing(sentence=_folder_sentence(folder, error)), False
            if isinstance(error, FileNotFoundError):
                vanished = True
            else:
                told = f"the folder {above} cannot be listed: {reason_of(error)}"
                skipped.append(Skipped(path=above, sentence=told, lack=Lack.UNREADABLE))
            continue
        before = f"{above}/" if above else ""
        register = register or (not above and any(e.name == REGISTER_NAME for e in entries))
        for entry in entries:
            try:
                _sort_out(entry, before + shown_name(entry.name), waiting, logs, skipped)
            except FileNotFoundError:
                vanished = True
    logs.sort(key=attrgetter("path"))
    skipped.sort(key=attrgetter("path"))
    if not logs:
        sentence = f"no {LOG_SUFFIX} file stands in {shown_path(folder)}"
        empty = FolderEmpty(sentence=sentence, skipped=tuple(skipped), register=register)
        return empty, vanished
    return Listing(logs=tuple(logs), skipped=tuple(skipped)), vanished


def _sort_out(
    entry: os.DirEntry[str],
    path: str,
    waiting: list[tuple[Path, str]],
    logs: list[LogName],
    skipped: list[Skipped],
) -> None:
    name = entry.name
    try:
        told = entry.stat(follow_symlinks=False)
    except FileNotFoundError:
        raise
    except OSError as error:
        if is_log_name(name) or (not name.startswith(".") and _is_folder(entry)):
            sentence = f"{path} was not read: {reason_of(error)}"
            skipped.append(Skipped(path=path, sentence=sentence, lack=Lack.UNREADABLE))
        return
    mode = told.st_mode
    if stat.S_ISDIR(mode) and not name.startswith("."):
        if is_log_name(name):
            sentence = f"{path} is a folder with the name of a log; the logs in it are read"
            skipped.append(Skipped(path=path, sentence=sentence))
        waiting.append((Path(entry.path), path))
    elif is_log_name(name):
        if stat.S_ISREG(mode):
            stamp = (told.st_size, told.st_mtime_ns, told.st_ctime_ns)
            logs.append(log_name(path=path, where=entry.path, stamp=stamp))
        else:
            skipped.append(not_regular(path, mode))
    elif _linked_folder(entry, mode):
        sentence = f"{path} is a link to a folder, and links are not followed"
        skipped.append(Skipped(path=path, sentence=sentence))
    elif stat.S_ISREG(mode) and is_nearly_a_log(name):
        skipped.append(Skipped(path=path, sentence=_misnamed(path, name)))


def _misnamed(path: str, name: str) -> str:
    if is_log_name(name.lower()):
        return f"{path} was not read: only names ending in {LOG_SUFFIX} in small letters are logs"
    ending = os.path.splitext(path)[1]
    return f"{path} was not read: its name must end in {LOG_SUFFIX}, not in {ending}"


def _linked_folder(entry: os.DirEntry[str], mode: int) -> bool:
    return stat.S_ISLNK(mode) and not entry.name.startswith(".") and _is_folder(entry)


def _is_folder(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_dir()
    except OSError:  # a loop of links, or no leave to look
        return False


def _folder_sentence(folder: Path, error: OSError) -> str:
    shown = shown_path(folder)
    match error:
        case FileNotFoundError():
            return f"there is no folder {shown}"
        case NotADirectoryError():
            return f"{shown} is no folder"
        case _:
            return f"the folder {shown} cannot be listed: {reason_of(error)}"
