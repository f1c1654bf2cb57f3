"""A line that was typed and not written when the terminal went away, kept until the next prompt.

One small file in the cache folder of the user; it holds the last such line, and those that waited
behind it. Nothing is read from it but to be shown.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from board.record.cache_folder import default_cache_folder
from grammar.frozen import dataclass

_NAME = "unwritten-entry.json"
_LARGEST = 1024 * 1024  # [bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unwritten:
    """Lines, when they were left and for which log folder."""

    lines: tuple[str, ...]
    when: datetime
    folder: str


def keep_unwritten(
    lines: Sequence[str], when: datetime, folder: Path, environ: Mapping[str, str]
) -> bool:
    """Keeps lines for the next prompt; whether that could be done."""
    where = default_cache_folder(environ)
    if where is None:
        return False
    kept = {"lines": list(lines), "when": when.isoformat(), "folder": str(folder.resolve())}
    try:
        file = where / _NAME
        file.touch(mode=0o600)
        file.write_text(json.dumps(kept), encoding="utf-8")
    except (OSError, ValueError):
        return False
    return True


def take_unwritten(folder: Path, environ: Mapping[str, str]) -> Unwritten | None:
    """The lines that were kept for a log folder, once: they are not kept any longer."""
    where = default_cache_folder(environ)
    if where is None:
        return None
    file = where / _NAME
    try:
        if file.stat().st_size > _LARGEST:
            return None
        kept = json.loads(file.read_text(encoding="utf-8"))
        found = Unwritten(
            lines=tuple(map(str, kept["lines"] if "lines" in kept else [kept["line"]])),
            when=datetime.fromisoformat(kept["when"]),
            folder=str(kept["folder"]),
        )
    except (OSError, ValueError, KeyError, TypeError):
        return None
    if found.folder != str(folder.resolve()):
        return None
    with suppress(OSError):
        file.unlink()
    return found
