"""Text for paper in rows of so many cells: wrapped between words, nothing cut."""

from __future__ import annotations

import re

from rich.cells import chop_cells

from board.show.text import width


def paper_rows(text: str, cells: int, first: str = "", later: str | None = None) -> list[str]:
    """A cleaned text in rows of at most so many cells, broken inside a word only where it must.

    ``first`` stands before the first row, ``later`` before each other one.
    """
    later = first if later is None else later
    rows: list[str] = []
    row, blanks, indent = "", "", first
    for piece in re.findall(r" +|[^ ]+", text):
        if piece[0] == " ":
            blanks = piece if row else ""
            continue
        room = cells - width(indent)
        if width(row) + len(blanks) + width(piece) <= room:
            row, blanks = row + blanks + piece, ""
            continue
        if width(piece) <= cells - width(later) and row:
            rows.append(indent + row)
            row, blanks, indent = piece, "", later
            continue
        # longer than a row: what fits goes here, the rest into rows of its own
        rest = piece
        while rest:
            left = cells - width(indent) - width(row) - len(blanks)
            head = _head(rest, left) if left > 0 else ""
            if not head and not row:
                head = rest[0]  # a row too narrow for one letter: it stands out
            row, rest = row + (blanks + head if head else ""), rest[len(head) :]
            blanks = ""
            if rest:
                rows.append(indent + row)
                row, indent = "", later
    if row:
        rows.append(indent + row)
    return rows or [first.rstrip()]


def _head(text: str, cells: int) -> str:
    """The longest beginning of a text that takes at most so many cells."""
    if text.isascii():
        return text[:cells]
    head = chop_cells(text, cells)[0]
    return head if width(head) <= cells else ""
