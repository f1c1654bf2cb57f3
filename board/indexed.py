"""Which index belongs to a log folder, and a folder's snapshot by way of it or without."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path

from board.index.index import Index
from board.index.picture import picture
from board.mill import Mill
from board.record.cache_folder import default_cache_folder
from board.record.shelf import Reads, Shelf
from board.snapshot import Snapshot

NONE = "none"  # the name that asks for no index

Progress = Callable[[int, int], None]  # logs looked at so far, of how many


def index_file(folder: Path, named: str | None, environ: Mapping[str, str]) -> Path | None:
    """Where a folder's index is kept, or None for no index."""
    if named is not None:
        return None if named.casefold() == NONE else Path(named)
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
    folder: Path, reader: Reads, index: Index, now: datetime, progress: Progress | None = None
) -> Shelf:
    """The logs of a folder, read as far as they changed since the index saw them last."""
    shelf = Shelf(folder, reader, index)
    shelf.look(now, progress)
    return shelf


def snapshot_of(index: Index, shelf: Shelf, as_of: datetime, now: datetime) -> Snapshot:
    """The shed as of a moment; ``now`` is the clock's. Raises Unusable."""
    index.settle(min(as_of, now), now)
    return picture(index, as_of, shelf.notices)
