"""The end of the record folded on top of a checkpoint, with as little done twice as can be.

Between two looks at a shed little changes. What was folded the last time is kept with a mark every
few dozen entries; the next fold goes on from the last mark before which nothing is other than it
was. Nothing is taken on trust: the entries themselves are compared.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from datetime import datetime

from board.index import standing
from board.index.readings import Readings
from board.mill import Mill
from board.state.fleet import Complaint, Fleet, Handover
from board.state.fold import Folding
from board.state.folded import Folded
from board.state.history import Fact
from board.state.logged import Logged, begin_alike, by_minute, whole_minutes
from grammar.frozen import dataclass

APART = 48  # entries between two marks


@dataclass(frozen=True, slots=True, kw_only=True)
class Tail:
    """What was folded on top of a checkpoint ``base`` [us]; ``entries`` are those that count.

    ``facts`` and ``taken`` are of these entries alone, and so are the complaints of ``fleet``.
    """

    base: int
    as_of: datetime
    fleet: Fleet
    facts: tuple[Fact, ...]
    taken: tuple[Handover, ...]
    entries: tuple[Logged, ...]


@dataclass(frozen=True, slots=True)
class _Mark:
    """Where the fold stood behind so many entries, and how much it had left by then."""

    entries: int
    folded: Folded
    facts: int
    complaints: int
    taken: int


@dataclass(frozen=True, slots=True)
class _Last:
    """The last fold: what it went on from, what it went through, and what it left."""

    start: tuple[int, int] | None
    entries: tuple[Logged, ...]
    marks: tuple[_Mark, ...]
    facts: tuple[Fact, ...]
    complaints: tuple[Complaint, ...]
    taken: tuple[Handover, ...]


class Tails:
    """Folds the end of one index's record again and again. For one thread."""

    def __init__(self, readings: Readings, mill: Mill) -> None:
        self._readings = readings
        self._mill = mill
        self._last: _Last | None = None

    def at(self, as_of: datetime) -> Tail:
        """The state as of a moment (UTC); changes nothing in the index."""
        base = standing.base_for(self._readings.connection, as_of)
        key, start = (None, None) if base is None else self._readings.checkpoint(base)
        counted = standing.counted_between(self._readings, base, None, as_of, self._mill.zone)
        last, mark = self._kept_of(key, counted.entries)
        done = mark.entries if mark is not None else 0
        facts = list(last.facts[: mark.facts]) if last and mark else []
        complaints = list(last.complaints[: mark.complaints]) if last and mark else []
        taken = list(last.taken[: mark.taken]) if last and mark else []
        marks = [m for m in last.marks if m.entries <= done] if last and mark else []
        folding = Folding(mill=self._mill, as_of=as_of, start=mark.folded if mark else start)
        already = (len(facts), len(complaints), len(taken))
        for upto in _take_with_marks(folding, counted.entries, done):
            marks.append(
                _Mark(
                    upto,
                    folding.folded(),
                    already[0] + len(folding.facts),
                    already[1] + len(folding.complaints),
                    already[2] + len(folding.shed.taken),
                )
            )
        facts += folding.facts
        complaints += folding.complaints
        taken += folding.shed.taken
        self._last = _Last(
            key, counted.entries, tuple(marks), tuple(facts), tuple(complaints), tuple(taken)
        )
        return Tail(
            base=standing.BEGIN if base is None else base,
            as_of=as_of,
            fleet=folding.fleet((*counted.complaints, *complaints)),
            facts=self._last.facts,
            taken=self._last.taken,
            entries=counted.entries,
        )

    def _kept_of(
        self, key: tuple[int, int] | None, entries: Sequence[Logged]
    ) -> tuple[_Last | None, _Mark | None]:
        """The last fold and its last mark before which all is as it was."""
        last = self._last
        if last is None or last.start != key:
            return None, None
        # an entry of a mark's own minute may have come: only whole minutes are behind a mark
        same = whole_minutes(entries, begin_alike((last.entries, entries)))
        place = bisect_right(last.marks, same, key=lambda mark: mark.entries)
        return (last, last.marks[place - 1]) if place else (None, None)


def _take_with_marks(folding: Folding, entries: Sequence[Logged], done: int) -> Iterator[int]:
    """Fold what is left, minute by minute, and stop for a mark every so often."""
    upto = marked = done
    for minute in by_minute(entries[done:]):
        folding.minute(minute)
        upto += len(minute)
        if upto - marked >= APART:
            marked = upto
            yield upto
