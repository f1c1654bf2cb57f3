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
    """The modules that decide what is read and what it means, told by their text.

    Not by their times: the same program installed anew, or on another machine, goes on with what
    was kept.
    """
    top = Path(__file__).resolve().parents[2]
    digest = hashlib.blake2b(digest_size=16)
    for room in ("grammar", "board/state", "board/index", "board/record", "board"):
        for file in sorted((top / room).glob("*.py")) + sorted((top / room).glob("*.lark")):
            text = file.read_bytes()
            digest.update(repr((room, file.name, len(text))).encode())
            digest.update(text)
    return digest.hexdigest()
