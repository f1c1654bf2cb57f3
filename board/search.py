"""A question to the history: words and filters in, hits in the order of time out.

A word matches anywhere in a line, folded; a word of the language, of the mill or of the register
stands for every other way to write it, whichever is asked for. Lines that were refused are
searched too. Pure; printing is left to ``board.show.find_screen``.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import Enum
from functools import cached_property

from board.mill import Mill
from board.snapshot import Snapshot
from board.state.fleet import Complaint, Source
from board.state.logged import in_time_order
from board.state.shifts import ShiftCalendar
from board.state.strikes import struck
from grammar import entries as e
from grammar.folding import fold, fold_word
from grammar.nearest import allowed_slips, distance, nearest
from grammar.vocabulary import Vocabulary, alternatives


class Standing(Enum):
    """How far a line counts, as a hit tells it; the value is what is shown."""

    COUNTS = ""
    STRUCK = "struck"
    NOT_UNDERSTOOD = "not understood"
    IN_PART = "refused in part"
    UNFINISHED = "still being written"
    LATER = "later than now"


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked for; None and empty ask for nothing.

    ``since`` is included, ``until`` is not. ``kinds`` are names of ``grammar.entries.KINDS``,
    ``verbs`` narrow ``work`` to what was done.
    """

    words: tuple[str, ...] = ()
    loom: str | None = None
    part: str | None = None
    side: str | None = None
    kind: str | None = None
    verb: e.Verb | None = None
    by: str | None = None
    style: str | None = None
    since: datetime | None = None
    until: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One line of the history. ``when`` None: a refused line whose time was not read."""

    path: str
    line: int
    text: str
    when: datetime | None
    place: e.Place | None
    by: str | None
    clauses: tuple[e.Clause, ...]
    standing: Standing
    order: tuple[datetime, str, int]
    struck_by: Source | None = None
    shift: e.Shift | None = None

    @property
    def loom(self) -> str | None:
        """The loom, section, range or shed that the line speaks of."""
        return self.place.name if self.place else None

    @property
    def kinds(self) -> tuple[str, ...]:
        """The kinds of its clauses, each once, in the order of the line."""
        return tuple(dict.fromkeys(e.KINDS[type(clause)] for clause in self.clauses))

    @cached_property
    def _never(self) -> None:  # pragma: no cover
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """A line that answers the question, with its neighbours on the same loom."""

    found: Found
    before: tuple[Found, ...] = ()
    after: tuple[Found, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """How often each loom, part and symptom is among the hits, the most frequent first."""

    looms: tuple[tuple[str, int], ...] = ()
    parts: tuple[tuple[str, int], ...] = ()
    symptoms: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Hits in time order, how many there are in all, and near spellings where there is none."""

    hits: tuple[Hit, ...]
    total: int
    totals: Totals
    near: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
