"""Part lives that are over, in columns: what the wear forecast learns from, without an object each.

What it does: groups ended lives by part, side and quantity, and picks the newest of each group;
made from the lives, or handed in by whoever keeps them so (``Later.columns``).
What it leaves to others: putting them on clocks (`told`), and learning from them (`wear`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime

import numpy as np

from board.mill import Mill
from board.reckon.series import Codes
from board.reckon.told import Telling, Told
from board.reckon.told import joined as joined_told
from board.state.history import Ending, PartLife
from board.state.later import columns, newest_first
from board.state.spells import micros
from grammar.frozen import dataclass

# Lives of a group that are learned from, the newest: they speak for the parts in the store today,
# and what a shed costs to reckon stops growing.
MOST = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """What wears alike: one quantity of one part and side, over the whole fleet."""

    part: str
    side: str | None
    quantity: str

    def words(self) -> str:
        """``left tape thickness``."""
        return f"{self.side} {self.part} {self.quantity}" if self.side else (
            f"{self.part} {self.quantity}"
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EndedLives:
    """Ended lives in the order of their ends, a row for each quantity that was read.

    ``group`` is a place in ``groups``; ``place`` in ``places``, the loom a part was on last and its
    words; ``told`` holds each up to its end.
    """

    groups: tuple[Group, ...]
    group: Codes
    places: tuple[tuple[str, str], ...]
    place: Codes
    told: Told

    def rows(self, index: Codes) -> EndedLives:
        """Only the rows named, in that order."""
        return EndedLives(
            groups=self.groups,
            group=self.group[index],
            places=self.places,
            place=self.place[index],
            told=self.told.rows(index),
        )


class _Gathering:
    """Lives that are over, collected one quantity after the other."""

    def __init__(self) -> None:
        self._groups: dict[Group, int] = {}
        self._places: dict[tuple[str, str], int] = {}
        self._group: list[int] = []
        self._place: list[int] = []
        self._telling = Telling()

    def add(self, own: Group, life: PartLife, ended: datetime) -> None:
        self._group.append(self._groups.setdefault(own, len(self._groups)))
        place = (life.loom, life.at.words())
        self._place.append(self._places.setdefault(place, len(self._places)))
        self._telling.add(life, own.quantity, micros(ended))

    def lives(self) -> EndedLives:
        return EndedLives(
            groups=tuple(self._groups),
            group=np.array(self._group, dtype=np.int64),
            places=tuple(self._places),
            place=np.array(self._place, dtype=np.int64),
            told=self._telling.told(),
        )


def made_of(lives: Iterable[PartLife]) -> EndedLives:
    """Columns of the ended ones among part lives, made anew."""
    gathering = _Gathering()
    for own, life, ended in _over(lives):
        gathering.add(own, life, ended)
    return gathering.lives()


def by_group(lives: Iterable[PartLife]) -> dict[Group, EndedLives]:
    """The same, for each group alone."""
    gatherings: dict[Group, _Gathering] = {}
    for own, life, ended in _over(lives):
        gatherings.setdefault(own, _Gathering()).add(own, life, ended)
    return {own: gathering.lives() for own, gathering in gatherings.items()}


def _over(lives: Iterable[PartLife]) -> Iterator[tuple[Group, PartLife, datetime]]:
    for life in lives:
        if life.ended is not None and life.ending is not Ending.ABSENT:
            for quantity in life.readings:
                yield (
                    Group(part=life.at.part, side=life.at.side, quantity=quantity),
                    life,
                    life.ended,
                )


def joined(several: Sequence[EndedLives]) -> EndedLives:
    """Columns behind each other as one, though each has its own names."""
    groups = {g: i for i, g in enumerate(dict.fromkeys(g for one in several for g in one.groups))}
    places = {p: i for i, p in enumerate(dict.fromkeys(p for one in several for p in one.places))}
    none = np.zeros(0, dtype=np.int64)
    group = [np.array([groups[g] for g in x.groups], dtype=np.int64)[x.group] for x in several]
    place = [np.array([places[p] for p in x.places], dtype=np.int64)[x.place] for x in several]
    return EndedLives(
        groups=tuple(groups),
        group=np.concatenate([none, *group]),
        places=tuple(places),
        place=np.concatenate([none, *place]),
        told=joined_told([x.told for x in several]),
    )


def enough(pieces: Iterator[EndedLives], most: int) -> list[EndedLives]:
    """Of a group's lives, in stretches of time from the newest on, as many as ``newest`` picks."""
    found: list[EndedLives] = []
    read = 0
    for piece in pieces:
        found.append(piece)
        read += int((piece.told.readings > 0).sum())
        if read >= most:
            break
    return found[::-1]


def newest(lives: Sequence[PartLife], mill: Mill, most: int = MOST) -> EndedLives:
    """The newest lives of each group that the register knows; group by group, by their ends."""
    kept = columns(lives)
    if not isinstance(kept, EndedLives):
        kept = made_of(reversed(list(_from_the_end(lives, mill, most))))
    picked: list[int] = []
    read = kept.told.readings > 0
    for code, group in enumerate(kept.groups):
        if mill.quantity(group.part, group.quantity) is None:
            continue
        rows = np.flatnonzero(read & (kept.group == code))
        ended = kept.told.until[rows]
        if (ended[1:] < ended[:-1]).any():
            rows = rows[np.argsort(ended, kind="stable")]
        if len(rows) > most:
            # those that end in one minute stay together until they are put in order
            rows = rows[kept.told.until[rows] >= kept.told.until[rows[-most]]]
        ended = kept.told.until[rows]
        if (ended[1:] == ended[:-1]).any():
            ends, places = ended.tolist(), kept.place[rows].tolist()
            rows = rows[sorted(range(len(rows)), key=lambda i: (ends[i], kept.places[places[i]]))]
        picked += rows[-most:].tolist()
    return kept.rows(np.array(picked, dtype=np.int64))


def _from_the_end(lives: Sequence[PartLife], mill: Mill, most: int) -> Iterator[PartLife]:
    """Lives from the newest on, until every group of the register has enough of them."""
    wanted = {
        (part.name, side, quantity.name)
        for part in mill.parts
        for side in part.sides or (None,)
        for quantity in part.quantities
    }
    counts: Counter[tuple[str, str | None, str]] = Counter()
    full: dict[tuple[str, str | None, str], datetime] = {}
    for life in newest_first(lives):
        if life.ended is None or life.ending is Ending.ABSENT:
            continue
        if wanted and wanted <= full.keys() and life.ended < min(full.values()):
            return
        read = [q for q, series in life.readings.items() if any(r.counts for r in series)]
        groups = [(life.at.part, life.at.side, quantity) for quantity in read]
        if any(group not in full or life.ended >= full[group] for group in groups):
            yield life
        for group in groups:
            counts[group] += 1
            if counts[group] == most:
                full[group] = life.ended
