"""Sentences of a screen, broken into lines: a number is never parted from its unit."""

from __future__ import annotations

import re

from board.show.lines import Line, line
from board.show.text import wrapped

_UNITS = re.compile(r"(?<=\d) (?=(?:%|h|min|days?|shifts?|mm|N)\b|%)")
_KEPT = "\x00"


def prose(text: str, cells: int, indent: str = "") -> list[Line]:
    """A text in lines of at most so many cells, each behind the indent."""
    words = _UNITS.sub(_KEPT, text).split()
    room = max(cells - len(indent), 1)
    rows = wrapped([word.replace(_KEPT, " ") for word in words], room, gap=" ")
    return [line(f"{indent}{row}") for row in rows]
