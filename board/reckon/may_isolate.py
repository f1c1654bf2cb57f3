"""When a line that may hide an isolation was written, and of which looms.

The line was not understood: both are told as far as its first words and its heading go. Its words
on a screen are left to ``board.show.may_rows``.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from board.mill import Mill
from board.reckon.summary import Summary
from board.state.first_words import looms_at_head, own_time
from board.state.fleet import MayIsolate
from grammar.lock_beside import looms_behind


def about_when(summary: Summary, may: MayIsolate) -> datetime | None:
    """About when a line was written (UTC): by its own time, else at the start of its shift."""
    own = may.when or own_time(may.text, may.shift, summary.snapshot.mill)
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
    named = looms_at_head(may.text, mill)
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
