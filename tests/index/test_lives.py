"""The lives that wear is learned from are the same by an index, that reads only the newest of them."""

from __future__ import annotations

import numpy as np
import pytest

from board.index import standing
from board.index.entries import Entries
from board.loading import Loaded, load, read_mill
from board.mill import Mill
from board.reckon import ended
from board.reckon.ended import EndedLives, made_of, newest
from board.shell import Shell
from board.state.later import columns
from tests.conftest import EXAMPLE, NOW

FEW = 3


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory, shell: Shell) -> tuple[Loaded, Loaded]:
    """The example shed without an index, and with one that was folded in many stretches."""
    mill = read_mill(EXAMPLE)
    assert isinstance(mill, Mill)
    index = str(tmp_path_factory.mktemp("index") / "lives.sqlite")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(standing, "AT_ONCE", 200)
        patch.setattr(standing, "AT_A_TIME", 200)
        patch.setattr(standing, "LONGEST_TAIL", 100)
        return load(EXAMPLE, mill, NOW, shell, "none"), load(EXAMPLE, mill, NOW, shell, index)


def told(lives: EndedLives) -> list[tuple[str, ...]]:
    """Each life with its group and place and all that is told of it, group by group."""
    found = []
    for i, (group, place) in enumerate(
        zip(lives.group.tolist(), lives.place.tolist(), strict=True)
    ):
        own = lives.told.rows(np.array([i], dtype=np.int64))
        arrays = (own.begin, own.until, own.fitted, own.readings, own.when, own.value, own.step,
                  own.kind, own.level, own.stays, own.start, own.end)  # fmt: skip
        looms = [own.looms[loom] for loom in own.loom.tolist()]
        found.append((repr(lives.groups[group]), *lives.places[place], repr(looms),
                      *(repr(array.tolist()) for array in arrays)))  # fmt: skip
    return sorted(found, key=lambda row: row[0])  # of one group in the order they came


@pytest.mark.parametrize("most", [1, FEW, ended.MOST])
def test_the_newest_lives_are_those_of_the_whole_record(
    both: tuple[Loaded, Loaded], most: int
) -> None:
    plain, indexed = (each.snapshot.fleet.history.lives for each in both)
    mill = both[0].mill
    found = newest(indexed, mill, most)
    assert len(found.group) > 10 * min(most, 3)
    assert told(found) == told(newest(plain, mill, most))


def test_no_more_is_read_than_needed(
    both: tuple[Loaded, Loaded], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ended, "MOST", FEW)
    entries, lives = both[1].snapshot.entries, both[1].snapshot.fleet.history.lives
    assert isinstance(entries, Entries)
    index = entries._index
    index._old.clear()
    kept = index.columns(index.tail(NOW), type(lives[0]))
    assert isinstance(kept, EndedLives)
    assert len(kept.group) < len(made_of(lives).group) / 2
    few = newest([*lives], both[0].mill, FEW)
    assert told(few) == told(newest(both[0].snapshot.fleet.history.lives, both[0].mill, FEW))
    assert columns(lives) is not None
