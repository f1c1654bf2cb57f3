"""Writing a whole file that is asked for: it is there complete, or not at all."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from board.shell import CannotRun
from board.show.text import clean


def save_whole(path: Path, text: str) -> None:
    """Write a text file by way of a temporary one beside it. Raises CannotRun with a sentence."""
    shown = clean(str(path))
    if path.is_dir():
        raise CannotRun(f"cannot write {shown}: it is a folder")
    if path.exists() and not path.is_file():
        # a device or a pipe must not be replaced by a file of its name
        raise CannotRun(f"cannot write {shown}: it is no ordinary file")
    beside = path.with_name(f".{path.name}.{os.getpid()}.tmp")
    try:
        with beside.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except (OSError, ValueError) as error:
        with suppress(OSError, ValueError):
            beside.unlink(missing_ok=True)
        reason = getattr(error, "strerror", None) or str(error)
        raise CannotRun(f"cannot write {shown}: {reason.lower()}") from None
