"""What the first words of a line that was not understood tell: its time, and the looms it names."""

from __future__ import annotations

import re
from datetime import datetime
from itertools import islice

from board.mill import Mill
from grammar import times
from grammar.entries import Shift
from grammar.folding import fold_word

_HEAD = 3  # words: a time, the place, or a date before both
_LONGEST = 40  # characters of a time
_LONGEST_HEAD = 2000  # characters that a list of looms may have
_MOST_LOOMS = 200
_WORD = re.compile(r"[^\s,;+&/]+")
_RUN_IN = re.compile(r"(?i)(?<=.)isol.*\Z")
_JOINS = frozenset(("and", "und", "u", "plus", "also", "auch", "loom", "looms"))


def own_time(text: str, shift: Shift | None, mill: Mill) -> datetime | None:
    """The time that a line begins with, where that is one and its day is known (UTC)."""
    first = next(iter(text.split(None, 1)), "")
    stamp = fold_word(first[:_LONGEST]).rstrip(".,")
    own = next((s for s in mill.shifts if shift and s.name == shift.name), None)
    try:
        wall = times.read_full(stamp)
        if wall is None and shift is not None and own is not None:
            local, _ = times.place_in_shift(times.read_clock(stamp), shift.day, own)
            wall = times.Wall(local)
        return times.resolve(wall, mill.zone, second_pass=False).when if wall else None
    except (times.NoTime, times.NoSuchTime):
        return None


def looms_at_head(text: str, mill: Mill) -> tuple[str, ...]:
    """The looms that a line names at its head, those of a group or section too; or none known.

    All that stand behind each other there: ``A07, A08 and A09``; also one that runs into the word
    behind it (``A07isolated``).
    """
    found: list[str] = []
    before = 0
    for match in islice(_WORD.finditer(text[:_LONGEST_HEAD]), _MOST_LOOMS):
        word = match[0].strip(".:")
        place = mill.vocabulary.place(word) or mill.vocabulary.place(_RUN_IN.sub("", word))
        if place is not None:
            found += place.looms
        elif found and fold_word(word) not in _JOINS:
            break
        elif not found:
            before += 1
            if before == _HEAD:
                break
    return tuple(dict.fromkeys(found))
