"""A program that has much to write to an index lets another one write in between."""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import timedelta
from pathlib import Path

import pytest

from board.index import joining, readings, segments, settling, standing, transactions
from board.index.index import Index
from board.index.readings import Readings
from board.index.schema import Unusable
from board.record.shelf import Shelf
from tests.index.disk import TOP, Counting
from tests.index.doing import make_cold
from tests.index.test_laws import PADDING, Story
from tests.state.shed import mill

pytestmark = pytest.mark.usefixtures("short_stretches")
LATE = "2026-10-16T05:00 A03 isolated by RB\n"
FACTS = PADDING.replace(" stopped", " stopped for warp; running")  # a fold leaves spells of them


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
    story.disk.put("a.log", FACTS.encode(), story.now)
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


@contextmanager
def nobody_waits_for(
    patch: pytest.MonkeyPatch, story: Story, where: object, name: str
) -> Iterator[list[str]]:
    """While this is done, another program that wants to write comes to its turn at once."""
    done: list[str] = []
    real: Callable[..., object] = getattr(where, name)

    def asked(*arguments: object, **named: object) -> object:
        with closing(sqlite3.connect(story.index.file, timeout=0, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            other.execute("ROLLBACK")
        done.append(name)
        return real(*arguments, **named)

    with patch.context() as patched:
        patched.setattr(where, name, asked)
        yield done


LONG = {
    "a stretch is folded": (standing, "_bake_one"),
    "a checkpoint is packed": (standing, "pack"),
    "spells are joined": (joining, "pack"),
    "readings are packed": (readings, "pack"),
}


@pytest.mark.parametrize(("where", "name"), LONG.values(), ids=LONG)
def test_nobody_waits_while(
    story: Story, monkeypatch: pytest.MonkeyPatch, where: object, name: str
) -> None:
    facts = FACTS + story.now.strftime("%Y-%m-%dT%H:%MZ A01 running\n")
    with story.disk.mounted():
        story.disk.put("a.log", facts.encode(), story.now)
        story.shelf.look(story.now)
        make_cold(story.index)
        with nobody_waits_for(monkeypatch, story, where, name) as done:
            assert story.index.settle(story.now, story.now)
    assert done
    assert story.seen().tally.files == 1


def test_nobody_waits_while_many_entries_that_came_are_folded(
    story: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(settling, "BAKED_AT", 20)
    with nobody_waits_for(monkeypatch, story, standing, "_bake_one") as done:
        story.disk.put("a.log", PADDING.encode(), story.now)
        with story.disk.mounted():
            story.shelf.look(story.now)
    assert len(done) > 10
    story.seen()


def test_nobody_waits_while_an_old_log_is_read_anew(
    story: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A change in the middle of it, and lines added behind it that are of today."""
    monkeypatch.setattr(transactions, "LONGEST_COMMIT_S", 60.0)
    monkeypatch.setattr(story.index, "_longest_s", 60.0)
    story.save(PADDING)
    today = story.now.strftime("%Y-%m-%dT%H:%MZ")
    for data in (f"{PADDING}{today} A01 running\n", PADDING.replace("A04", "A05", 1)):
        story.disk.put("a.log", data.encode(), story.now)
        story.disk.put("z.log", b"2026-10-30T12:00 A01 note saved before it\n", story.now)
        story.now += timedelta(seconds=70)
        with story.disk.mounted():
            story.shelf.look_at({TOP.absolute() / "z.log": story.disk.stamp("z.log")}, story.now)
        make_cold(story.index)
        with nobody_waits_for(monkeypatch, story, Readings, "_read") as done:
            marks = {TOP.absolute() / "a.log": story.disk.stamp("a.log")}
            with story.disk.mounted():
                story.shelf.look_at(marks, story.now)
        assert done
        story.seen()


def test_what_counts_no_longer_is_taken_away_a_little_at_a_time(
    story: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another program writes in between; one that is killed there leaves nothing that counts."""
    story.save(FACTS)
    monkeypatch.setattr(segments, "SWEPT_AT_ONCE", 1)
    with story.disk.mounted():
        story.disk.put("b.log", LATE.encode(), story.now)
        story.shelf.look(story.now)
    left: list[int] = []

    def turn() -> None:
        with closing(sqlite3.connect(story.index.file, timeout=0)) as other, other:
            other.execute("BEGIN IMMEDIATE")
            left.append(other.execute("SELECT count(*) FROM segment").fetchone()[0])
        if len(left) == 5:
            raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(story.index, "let_others", turn)
        with pytest.raises(KeyboardInterrupt):
            story.index.settle(story.now, story.now)
    assert left == sorted(left, reverse=True)
    assert left[0] > left[-1] > 0
    assert story.seen().fleet.looms["A03"].locks
    with story.index.reads() as held:
        assert not segments.has_rest(held.connection)
