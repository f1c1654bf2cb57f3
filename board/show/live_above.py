"""What stands above the body of each page of the live board, as it fits a screen of any size.

The head, shorter where there is little room, and every isolation; where these are taller than the
screen they turn by themselves, below the names of who is in which loom, which stay where there is
room for them. What no longer fits the head turns too: the caution is whole at any size, and so is
why the board is not current.
"""

from __future__ import annotations

from board.reckon.summary import Summary
from board.show.lines import Bit, Line, Tone, in_ascii, line
from board.show.must_see import (
    View,
    head_lines,
    isolation_lines,
    lasting_lines,
    short_heads,
    turning_lines,
)
from board.show.text import width
from grammar.frozen import dataclass

_MUST_TURN_S = 5  # [s] a part of the isolations stays, where they are taller than the screen
_LEAST_TURNING = 4  # rows that turn below the names of who is in which loom
_LEAST_BODY = 3  # rows kept below the isolations
_SMALL = 16  # rows; a smaller screen keeps one
_TINY = 7  # rows; a smaller screen may have no room for the clock
_BARE = 4  # rows; such a screen keeps none


@dataclass(frozen=True, slots=True, kw_only=True)
class Above:
    """The head as it fits, and the isolations in parts.

    ``words`` tell which part is shown, where there are several.
    """

    head: list[Line]
    parts: list[list[Line]]
    words: bool

    def rows(self, tick: float, cells: int) -> list[Line]:
        """What is shown at a moment ``tick`` [s]."""
        now = int(tick // _MUST_TURN_S) % len(self.parts)
        words = [_part_words(now + 1, len(self.parts), cells)] if self.words else []
        return [*self.head, *words, *self.parts[now]]


def above_of(summary: Summary, view: View) -> Above:
    """Head and isolations for a size: a shorter head, then isolations that turn.

    Why the board is not current is never left out, but for a screen of a single row, and the
    clock only on one of a few rows.
    """
    height = max(view.height or 24, 1)
    least = _LEAST_BODY if height >= _SMALL else 1 if height > _BARE else 0
    room = max(height - 1 - least, 1)
    as_shown = in_ascii if view.plain else list[Line]
    head, isolations = as_shown(head_lines(summary, view)), as_shown(isolation_lines(summary, view))
    heads = [(as_shown(rows), n, as_shown(owed)) for rows, n, owed in short_heads(summary, view)]
    if height >= _TINY:
        heads.pop()
    for rows, below, owed in ((head, 0, []), *heads):
        if not owed and len(rows) + len(isolations) + max(below - least, 0) <= room:
            return Above(head=rows, parts=[isolations], words=False)
    lasting = as_shown(lasting_lines(summary, view))
    turning = as_shown(turning_lines(summary, view))
    for rows, below, owed in ((head, 0, []), *heads) if len(lasting) > 1 and turning else ():
        each = room - len(rows) - len(lasting) - 1
        if rows and not owed and each - max(below - least, 0) >= _LEAST_TURNING:
            return Above(head=[*rows, *lasting], parts=_parts(turning, each), words=True)
    for rows, below, owed in ((head, 0, []), *heads):
        each = room - len(rows) - 1
        if rows and each - max(below - least, 0) >= (2 if len(rows) > 1 else 1):
            return Above(head=rows, parts=_parts([*isolations, *owed], each), words=True)
    # a screen of a few rows
    kept, _, owed = heads[-1]
    if not view.not_current:
        kept = []
    if height == 1:
        kept, isolations = [], [*kept, *isolations]
    parts = _parts([*isolations, *owed], max(height - 2, 1))
    return Above(head=kept, parts=parts, words=height > 1 and not kept)


def _parts(rows: list[Line], each: int) -> list[list[Line]]:
    """Rows in parts of so many; a row and what it goes on with stay together where they fit."""
    parts: list[list[Line]] = []
    for block in _blocks(rows):
        if parts and len(parts[-1]) + len(block) <= each:
            parts[-1] += block
        else:
            parts += [block[i : i + each] for i in range(0, len(block), each)]
    return parts


def _blocks(rows: list[Line]) -> list[list[Line]]:
    """Each row with the indented ones that it goes on with."""
    blocks: list[list[Line]] = []
    for row in rows:
        if blocks and row.plain.startswith("  "):
            blocks[-1].append(row)
        else:
            blocks.append([row])
    return blocks


def _part_words(number: int, total: int, cells: int) -> Line:
    told = f"part {number} of {total}, turning by itself"
    long = f"isolations, {told}: the screen is too small"
    return line(Bit(long if width(long) <= cells else told, Tone.DANGER))
