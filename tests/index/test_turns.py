"""A program that has much to write to an index lets another one write in between."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from board.index import standing, transactions
from board.index.index import Index
from board.index.schema import Unusable
from board.record.shelf import Shelf
from tests.index.disk import TOP, Counting
from tests.index.test_laws import PADDING, Story
from tests.state.shed import mill

pytestmark = pytest.mark.usefixtures("short_stretches")
LATE = "2026-10-16T05:00 A03 isolated by RB\n"


@pytest.fixture
def story(tmp_path: Path) -> Story:
    return Story(tmp_path / "index.sqlite")


def slowly(monkeypatch: pytest.MonkeyPatch, seconds: float) -> list[float]:
    """Let each stretch that is folded take so long; when each of them ended."""
    ended: list[float] = []
    real: Callable[..., object] = standing._bake_one

    def slow(*arguments: object) -> object:
        time.sleep(seconds)
        done = real(*arguments)
        ended.append(time.monotonic())
        return done

    monkeypatch.setattr(standing, "_bake_one", slow)
    return ended


def test_a_line_of_another_program_does_not_wait_for_years_to_be_folded(
    story: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    story.disk.put("a.log", PADDING.encode(), story.now)
    with story.disk.mounted():
        story.shelf.look(story.now)
    ended = slowly(monkeypatch, 0.05)
    waited: list[float] = []

    def write() -> None:
        while len(ended) < 2:
            time.sleep(0.001)
        with closing(Index(story.index.file, TOP, mill(), Counting(story.reader.reader))) as other:
            shelf = Shelf(TOP, Counting(story.reader.reader), other)
            begun = time.monotonic()
            shelf.look(story.now)
            other.commit()
            waited.append(time.monotonic() - begun)

    writer = threading.Thread(target=write)
    with story.disk.mounted():
        story.disk.put("b.log", LATE.encode(), story.now)
        writer.start()
        story.index.settle(story.now, story.now)
        writer.join()
    assert len(ended) > 15
    assert waited[0] < 0.5
    assert story.seen().fleet.looms["A03"].locks


def test_who_holds_an_index_too_long_is_not_waited_for_for_ever(
    story: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(transactions, "WAIT_S", 0.2)
    with closing(Index(story.index.file, TOP, mill(), Counting(story.reader.reader))) as other:
        with other._writing():
            begun = time.monotonic()
            with pytest.raises(Unusable, match="cannot be written: database is locked"):
                story.save(PADDING)
            assert 0.2 <= time.monotonic() - begun < 3.0
        other.commit()
    story.save(PADDING)


@pytest.mark.parametrize(("lines", "commits"), [(100, 3), (1_000_000, 0)])
def test_years_are_put_away_in_fewer_transactions(
    story: Story, monkeypatch: pytest.MonkeyPatch, lines: int, commits: int
) -> None:
    now = [1_000.0]
    monkeypatch.setattr(transactions.time, "monotonic", lambda: now[0])
    done = []
    monkeypatch.setattr(Index, "commit", lambda index: done.append(index))
    monkeypatch.setattr(transactions, "_TURN_S", 0.0)
    with story.index.many(lines):
        for _ in range(3):
            story.index._began = now[0]
            with story.index._writing():
                story.index._began = now[0]
                now[0] += 0.2
    assert len(done) == commits
    assert story.index._longest_s == transactions.LONGEST_COMMIT_S


def test_what_is_done_in_one_piece_is_committed_in_one_piece(story: Story) -> None:
    story.index._longest_s = -1.0
    with story.index._writing():
        with story.index._writing():
            pass
        assert story.index._connection.in_transaction
    assert not story.index._connection.in_transaction


def test_another_program_folds_the_same_years_whenever_it_can(
    story: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The other one writes at each moment that one lets it, and folds from the same place on."""
    facts = PADDING.replace(" stopped", " stopped for warp; running")
    assert facts != PADDING
    story.disk.put("a.log", facts.encode(), story.now)
    monkeypatch.setattr(transactions, "LONGEST_COMMIT_S", -1.0)
    with story.disk.mounted():
        story.shelf.look(story.now)
    told: list[bool] = []

    def other_folds() -> None:
        with closing(Index(story.index.file, TOP, mill(), Counting(story.reader.reader))) as other:
            monkeypatch.setattr(other, "let_others", lambda: None)
            told.append(other.settle(story.now, story.now, lambda: True))

    monkeypatch.setattr(story.index, "let_others", other_folds)
    with story.disk.mounted():
        story.disk.put("b.log", LATE.encode(), story.now)
        story.shelf.look(story.now)
        assert story.index.settle(story.now, story.now)
    assert len(told) > 3
    assert story.seen().fleet.looms["A03"].locks
