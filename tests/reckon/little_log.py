"""Little logs read as the program reads them: a folder to everything that is shown of it."""

from __future__ import annotations

import io
from datetime import datetime
from pathlib import Path

from board.loading import load, mill_or_stop
from board.reckon.summary import Summary, summarise
from board.shell import Shell


def summary_at(folder: Path, at: datetime) -> Summary:
    """The folder as of a moment, read without an index."""
    shell = Shell(
        stdin=None,
        stdout=io.StringIO(),
        stderr=io.StringIO(),
        environ={"XDG_CACHE_HOME": str(folder.parent / "cache")},
        clock=lambda: at,
    )
    return summarise(load(folder, mill_or_stop(folder), at, shell, "none").snapshot)
