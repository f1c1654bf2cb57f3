"""When a line that may hide an isolation was written, and of which looms.

The line was not understood: both are told as far as its first words and its heading go. Its words
on a screen are left to ``board.show.may_rows``.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from board.mill import Mill
from board.reckon.summary import Summary
from board.state.fleet import MayIsolate
from grammar import times
from grammar.folding import fold_word
from grammar.lock_beside import looms_behind

_HEAD = 3  # words: a time, the place, or a date before both


def about_when(summary: Summary, may: MayIsolate) -> datetime | None:
    """About when a line was written (UTC): by its own time, else at the start of its shift."""
    own = may.when or _own_time(may, summary.snapshot.mill)
    if own is not None or may.shift is None:
        return own
    return summary.calendar.span(may.shift).start


def is_to_come(summary: Summary, may: MayIsolate) -> bool:
    """Whether a line was written for a time that is still to come."""
    when = about_when(summary, may)
    return when is not None and when > summary.as_of


def looms_named(may: MayIsolate, mill: Mill) -> tuple[str, ...]:
    """The looms that a line names at its head, those of a group or section too; or none known.

    And where there is one, those that it names behind a word of isolation: same on N08.
    """
    words = [word.strip(".,:;") for word in may.text.split(None, _HEAD)[:_HEAD]]
    places = [found for word in words if (found := mill.vocabulary.place(word)) is not None]
    named = [loom for place in places for loom in place.looms]
    behind = looms_behind(mill.vocabulary, may.text) if named else ()
    return tuple(dict.fromkeys((*named, *behind)))


def may_be_isolated(summary: Summary) -> Mapping[str, tuple[MayIsolate, ...]]:
    """Of each loom that is named by lines that may hide an isolation, these lines."""
    return summary.once("may be isolated", lambda: _by_loom(summary))


def _by_loom(summary: Summary) -> Mapping[str, tuple[MayIsolate, ...]]:
    found: dict[str, tuple[MayIsolate, ...]] = {}
    for may in summary.may_isolate:
        for loom in looms_named(may, summary.snapshot.mill):
            found[loom] = (*found.get(loom, ()), may)
    return found


def _own_time(may: MayIsolate, mill: Mill) -> datetime | None:
    """The time that a line begins with, where that is one and its day is known (UTC)."""
    first = next(iter(may.text.split(None, 1)), "")
    stamp = fold_word(first[:_LONGEST]).rstrip(".,")
    own = next((s for s in mill.shifts if may.shift and s.name == may.shift.name), None)
    try:
        wall = times.read_full(stamp)
        if wall is None and may.shift is not None and own is not None:
            local, _ = times.place_in_shift(times.read_clock(stamp), may.shift.day, own)
            wall = times.Wall(local)
        return times.resolve(wall, mill.zone, second_pass=False).when if wall else None
    except (times.NoTime, times.NoSuchTime):
        return None


_LONGEST = 40  # characters of a time
