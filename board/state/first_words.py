"""What the first words of a line that was not understood tell: its time, and the looms it names."""

from __future__ import annotations

from datetime import datetime

from board.mill import Mill
from grammar import times
from grammar.entries import Shift
from grammar.folding import fold_word

_HEAD = 3  # words: a time, the place, or a date before both
_LONGEST = 40  # characters of a time


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
    """The looms that a line names at its head, those of a group or section too; or none known."""
    words = [word.strip(".,:;") for word in text.split(None, _HEAD)[:_HEAD]]
    places = [found for word in words if (found := mill.vocabulary.place(word)) is not None]
    return tuple(dict.fromkeys(loom for place in places for loom in place.looms))
