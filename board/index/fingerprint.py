"""What an index was made for: another folder, register, program or Python makes it anew."""

from __future__ import annotations

import hashlib
import sys
from functools import cache
from pathlib import Path

from board.mill import Mill


def fingerprint(folder: Path, mill: Mill) -> str:
    """What an index must have been made for: this folder, register, program and Python."""
    told = repr((str(folder.absolute()), mill.digest, _program(), sys.version_info[:3]))
    return hashlib.sha256(told.encode("utf-8", "surrogatepass")).hexdigest()


@cache
def _program() -> str:
    """The stamps of the modules that decide what is read and what it means."""
    top = Path(__file__).resolve().parents[2]
    digest = hashlib.sha256()
    for room in ("grammar", "board/state", "board/index", "board/record", "board"):
        for file in sorted((top / room).glob("*.py")) + sorted((top / room).glob("*.lark")):
            stat = file.stat()
            digest.update(repr((file.name, stat.st_size, stat.st_mtime_ns)).encode())
    return digest.hexdigest()
