"""Text for a terminal: cleaned of what it could obey, measured in cells, cut and padded.

A control character is replaced by a visible mark, never deleted: an unterminated sequence could
otherwise swallow what follows it.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable

from rich.cells import cell_len, chop_cells

from board.show.plain_letters import SIGNS, spelled

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


Letters = Callable[[str], str]  # how a cleaned text is written: ``as_written`` or ``to_ascii``


def as_written(text: str) -> str:
    """A text as it is, for an output that takes every letter."""
    return text


def to_ascii(text: str) -> str:
    """Text in ASCII, names that differ still differing, controls as ``?``. It may grow."""
    return text if text.isascii() else spelled(text)


def to_ascii_in_place(text: str) -> str:
    """Cleaned text in ASCII for a full line: signs in the cells that they took, letters whole."""
    if text.isascii():
        return text
    return to_ascii("".join(_in_place(c) for c in text))


def _in_place(character: str) -> str:
    cells = width(character)
    return SIGNS[character][:cells].ljust(cells) if character in SIGNS else character


def caret_moved(row: str, above: str) -> str:
    """A row of carets under a cleaned text, moved to where that text stands in ASCII."""
    found = _CARETS.match(row)
    if found is None or above.isascii():
        return row
    start, end = (_at_cell(above, cells) for cells in found.span(1))
    before, marked = len(to_ascii(above[:start])), len(to_ascii(above[start:end]))
    return f"{' ' * before}{'^' * max(marked, 1)}{row[found.end(1) :]}"


_CARETS = re.compile(r" +(\^+)(?= |$)")


def _at_cell(text: str, cells: int) -> int:
    """Where in a text the character stands that begins after so many cells."""
    at = 0
    while at < len(text) and width(text[:at]) < cells:
        at += 1
    return at


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
