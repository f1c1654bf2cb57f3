"""Text for a terminal: cleaned of what it could obey, measured in cells, cut and padded.

A control character is replaced by a visible mark, never deleted: an unterminated sequence could
otherwise swallow what follows it.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

from rich.cells import cell_len, chop_cells

_BIDI = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_JOINERS = frozenset("\u200b\u200c\u200d\u2060\ufeff\ufe0e\ufe0f")
MARK = "\N{REPLACEMENT CHARACTER}"


def clean(text: str) -> str:
    """Text with every control, bidi and format character replaced by a visible mark."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(_visible(character) for character in text)


def _visible(character: str) -> str:
    if character == "\t":
        return " "
    code = ord(character)
    if code < 0x20:
        return chr(0x2400 + code)
    if code == 0x7F:
        return "\N{SYMBOL FOR DELETE}"
    if character in _BIDI or character in _JOINERS:
        return MARK
    if unicodedata.category(character) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"):
        return MARK
    return character


def to_ascii(text: str) -> str:
    """Text in ASCII: letters without their accents, everything else as ``?``. It may grow."""
    if text.isascii():
        return text
    for mark, plain in _PLAIN.items():
        text = text.replace(mark, plain)
    decomposed = unicodedata.normalize("NFKD", text)
    stripped = "".join(c for c in decomposed if not unicodedata.combining(c))
    return stripped.encode("ascii", "replace").decode("ascii")


_PLAIN = {"°": "deg", "·": ".", "–": "-", "—": "-", "…": "...", "’": "'", "ß": "ss", "µ": "u"}
# the frames of charts
_PLAIN |= {"─": "-", "│": "|"} | dict.fromkeys("┌┐└┘├┤┬┴┼", "+")


def to_ascii_in_place(text: str) -> str:
    """Cleaned text in ASCII, each character in the cells that it took: for a full line."""
    if text.isascii():
        return text
    return "".join(_in_place(c) for c in text)


def _in_place(character: str) -> str:
    if character.isascii():
        return character
    cells = width(character)
    return to_ascii(character)[:cells].ljust(cells, "?")


def width(text: str) -> int:
    """How many cells of a terminal a cleaned text takes."""
    return len(text) if text.isascii() else cell_len(text)


def cut(text: str, cells: int) -> str:
    """A cleaned text in at most so many cells, ``~`` at its end where something is missing."""
    if cells <= 0:
        return ""
    if width(text) <= cells:
        return text
    if cells == 1:
        return "~"
    head = text[: cells - 1] if text.isascii() else _head(text, cells - 1)
    return head.rstrip() + "~"


def _head(text: str, cells: int) -> str:
    """The longest beginning of a text that takes at most so many cells."""
    pieces = chop_cells(text, cells)
    return pieces[0] if pieces and width(pieces[0]) <= cells else ""


def pad(text: str, cells: int) -> str:
    """A cleaned text cut or filled with blanks to exactly so many cells."""
    return fill(cut(text, cells), cells)


def fill(text: str, cells: int) -> str:
    """A cleaned text filled with blanks to at least so many cells, never cut: for names."""
    return text + " " * max(cells - width(text), 0)


def on_one_line(text: str) -> str:
    """A text cleaned, its runs of blanks made one: nothing is pushed off by blanks before it."""
    return " ".join(clean(text).split())


def broken(words: Iterable[str], cells: int) -> list[str]:
    """Words, those that are longer than so many cells in pieces: none is cut off."""
    return [
        piece
        for word in words
        for piece in ([word] if width(word) <= cells else chop_cells(word, max(cells, 2)))
    ]


def wrapped(words: list[str], cells: int, gap: str = "  ") -> list[str]:
    """Pieces laid out in lines of at most so many cells, never dropping one."""
    lines: list[str] = []
    line = ""
    for piece in words:
        piece = cut(piece, cells)
        if line and width(line) + width(gap) + width(piece) > cells:
            lines.append(line)
            line = piece
        else:
            line = f"{line}{gap}{piece}" if line else piece
    return [*lines, line] if line else lines
