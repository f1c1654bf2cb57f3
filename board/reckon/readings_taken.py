"""The readings that were taken on each loom, part by part, in the order of time.

A part that was moved takes its readings along with its life; here each stands once, on the loom
where it was taken. Put together for a part of a loom when it is first asked for: readings are most
of what is on record, and a question about one loom or one part needs few of them.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from board.state.history import PartLife, ReadingAt, Stay
from grammar.entries import PartAt
from grammar.frozen import dataclass
from grammar.making import maker


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingOf:
    """A reading with the part and quantity it is of, on the loom where it was taken."""

    loom: str
    at: PartAt
    quantity: str
    reading: ReadingAt


_reading_of = maker(ReadingOf)


class ReadingsTaken:
    """The readings of part lives, by the loom where they were taken."""

    def __init__(self, lives: Iterable[PartLife]) -> None:
        self._lives: dict[tuple[str, str], list[PartLife]] = defaultdict(list)
        for life in lives:
            for loom in {stay.loom for stay in life.stays}:
                self._lives[loom, life.at.part].append(life)
        self._of_part: dict[tuple[str, str], list[ReadingOf]] = {}
        self._of_side: dict[tuple[str, str, str | None], _InTime] = {}
        self._last: dict[tuple[str, str, str | None], Mapping[str, datetime]] = {}

    def between(
        self, loom: str, part: str, side: str | None, start: datetime, end: datetime | None
    ) -> Sequence[ReadingOf]:
        """Those of a part after a start and before an end (None: up to now), in time order.

        Of a side they may tell of it: those without a side stand among them. No side: all.
        """
        found = self._of_side.get((loom, part, side))
        if found is None:
            own = self._on(loom, part)
            if side is not None:
                own = [r for r in own if r.at.side in (None, side)]
            found = _InTime(own)
            self._of_side[loom, part, side] = found
        return found.between(start, end)

    def last(self, loom: str, part: str, side: str | None) -> Mapping[str, datetime]:
        """When each quantity of a part was read last on this very side; no side: on any."""
        found = self._last.get((loom, part, side))
        if found is None:
            own = self._on(loom, part)
            found = {r.quantity: r.reading.when for r in own if side is None or r.at.side == side}
            self._last[loom, part, side] = found
        return found

    def _on(self, loom: str, part: str) -> list[ReadingOf]:
        found = self._of_part.get((loom, part))
        if found is None:
            found = _taken_on(loom, self._lives.get((loom, part), ()))
            self._of_part[loom, part] = found
        return found


class _InTime:
    """Readings in time order, of which those between two moments are asked for."""

    __slots__ = ("_readings", "_times")

    def __init__(self, readings: Sequence[ReadingOf]) -> None:
        self._readings = readings
        self._times = [r.reading.when for r in readings]

    def between(self, start: datetime, end: datetime | None) -> Sequence[ReadingOf]:
        last = len(self._times) if end is None else bisect_left(self._times, end)
        return self._readings[bisect_right(self._times, start) : last]


def _taken_on(loom: str, lives: Iterable[PartLife]) -> list[ReadingOf]:
    """The readings of one part's lives that were taken on a loom, each once, in time order."""
    found: dict[tuple[PartAt, str], dict[tuple[str, int, datetime], ReadingOf]] = {}
    for life in lives:
        for quantity, series in life.readings.items():
            own = found.setdefault((life.at, quantity), {})
            for reading in series:
                if _loom_of(life.stays, reading.when) == loom:
                    source = reading.source
                    own[source.path, source.line, reading.when] = _reading_of(
                        loom=loom, at=life.at, quantity=quantity, reading=reading
                    )
    return sorted(
        (r for own in found.values() for r in own.values()),
        key=lambda r: (r.reading.when, r.at.words(), r.quantity),
    )


def _loom_of(stays: Sequence[Stay], when: datetime) -> str | None:
    """The loom that a part was on at a moment; None: it was on none yet."""
    for stay in reversed(stays):
        if stay.start is None or stay.start <= when:
            return stay.loom
    return None
