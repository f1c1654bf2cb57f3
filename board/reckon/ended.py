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


def made_of(lives: Iterable[PartLife]) -> EndedLives:
    """Columns of the ended ones among part lives, made anew."""
    groups: dict[Group, int] = {}
    places: dict[tuple[str, str], int] = {}
    group: list[int] = []
    place: list[int] = []
    telling = Telling()
    for life in lives:
        if life.ended is None or life.ending is Ending.ABSENT:
            continue
        for quantity in life.readings:
            own = Group(part=life.at.part, side=life.at.side, quantity=quantity)
            group.append(groups.setdefault(own, len(groups)))
            place.append(places.setdefault((life.loom, life.at.words()), len(places)))
            telling.add(life, quantity, life.ended)
    return EndedLives(
        groups=tuple(groups),
        group=np.array(group, dtype=np.int64),
        places=tuple(places),
        place=np.array(place, dtype=np.int64),
        told=telling.told(),
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
        ends, places = kept.told.until[rows].tolist(), kept.place[rows].tolist()
        order = sorted(range(len(rows)), key=lambda i: (ends[i], kept.places[places[i]]))
        picked += rows[order[-most:]].tolist()
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
