"""Names of files as they may be shown: on one line, nothing hidden, no two alike."""

from __future__ import annotations

from pathlib import Path


def shown_path(path: Path) -> str:
    """A path as it may be shown: ``/`` between its parts, no odd character in it."""
    return "/".join(shown_name(part) for part in path.as_posix().split("/"))


def shown_name(name: str) -> str:
    """A file's name with whatever cannot be shown written as ``\\xNN`` or ``\\uNNNN``."""
    plain = name.isprintable() and "\\" not in name
    return name if plain else "".join(map(_shown_character, name))


def _shown_character(character: str) -> str:
    code = ord(character)
    if 0xDC80 <= code <= 0xDCFF:  # a byte that is no UTF-8, as Python keeps it
        return f"\\x{code - 0xDC00:02x}"
    if character.isprintable() and character != "\\":
        return character
    return f"\\x{code:02x}" if code < 0x80 else f"\\u{code:04x}"
