"""Which index belongs to a log folder, and a folder's snapshot by way of it or without."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from board.index.index import Index
from board.index.picture import picture
from board.index.schema import Unusable
from board.loading import NO_INDEX, Progress, ReaderWhenNeeded, stop_if_missing
from board.mill import Mill
from board.record.cache_folder import default_cache_folder
from board.record.reads import Reads
from board.record.shelf import Shelf
from board.shell import Shell
from board.snapshot import Snapshot

T = TypeVar("T")


def index_file(folder: Path, named: str | None, environ: Mapping[str, str]) -> Path | None:
    """Where a folder's index is kept, or None for no index."""
    if named is not None:
        return None if named.casefold() == NO_INDEX else Path(named)
    kept = default_cache_folder(environ)
    if kept is None:
        return None
    mark = hashlib.sha256(str(folder.absolute()).encode("utf-8", "surrogateescape")).hexdigest()
    return kept / f"index-{mark[:20]}.sqlite"


def open_index(
    folder: Path, mill: Mill, reader: Reads, named: str | None, environ: Mapping[str, str]
) -> Index | None:
    """The index of a folder, or None where none is wanted or possible. Raises Unusable."""
    file = index_file(folder, named, environ)
    return Index(file, folder, mill, reader) if file is not None else None


def looked(
    folder: Path,
    reader: Reads,
    index: Index,
    now: datetime,
    progress: Callable[[int, int], None] | None = None,
) -> Shelf:
    """The logs of a folder, read as far as they changed since the index saw them last."""
    shelf = Shelf(folder, reader, index)
    shelf.look(now, progress)
    return shelf


def snapshot_of(index: Index, shelf: Shelf, as_of: datetime, now: datetime) -> Snapshot:
    """The shed as of a moment; ``now`` is the clock's. Raises Unusable."""
    index.settle(min(as_of, now), now)
    return picture(index, as_of, shelf.notices)


def by_index(
    folder: Path,
    mill: Mill,
    made: Callable[[Index, Shelf], T],
    now: datetime,
    shell: Shell,
    named: str | None,
    tries: int = 2,
) -> T | None:
    """What is made of an index that knows all logs; None where there is none that is any good.

    ``made`` may raise Unusable; ``now`` is the clock's. The index stays open until the command is
    over. Raises CannotRun where no log can be read.
    """
    reader = ReaderWhenNeeded(mill.vocabulary, shell.environ)
    progress = Progress(shell)
    try:
        index = open_index(folder, mill, reader, named, shell.environ)
        if index is None:
            return None
        shell.at_end.callback(index.close)
        shelf = looked(folder, reader, index, now, progress)
        progress.ends()
        stop_if_missing(shelf)
        return made(index, shelf)
    except Unusable as error:
        progress.ends()
        if error.mended and tries > 1:
            shell.warn(str(error))
            return by_index(folder, mill, made, now, shell, named, tries - 1)
        shell.warn(f"{error}; the logs are read without it")
        return None
