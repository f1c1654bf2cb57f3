"""Folding old lines anew stops for what is saved meanwhile, and comes to the same in the end."""

from __future__ import annotations

from pathlib import Path

import pytest

from board.index import standing
from board.index.index import Index
from board.index.picture import picture
from board.record.shelf import Shelf
from board.snapshot import Snapshot
from tests.index.agreeing import must_agree
from tests.index.disk import TOP, Counting
from tests.index.test_laws import PADDING, Story
from tests.state.shed import mill

pytestmark = pytest.mark.usefixtures("short_stretches")
OLD = "2026-10-17T05:00 A01 isolated by KM\n"
MOTION = "".join(
    f"2026-10-{day}T13:00 A02 {'stopped' if day % 2 else 'running'}\n" for day in range(18, 31)
)


@pytest.fixture
def story(tmp_path: Path) -> Story:
    story = Story(tmp_path / "index.sqlite")
    story.save(PADDING)
    return story


def _saved_late(story: Story) -> None:
    """An isolation written late, before everything that was folded."""
    story.disk.put("old.log", OLD.encode(), story.now)
    with story.disk.mounted():
        story.shelf.look(story.now)


def test_it_stops_behind_a_stretch_and_goes_on_from_there(
    story: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    stretches = []
    real = standing._bake_one

    def counted(*arguments: object) -> object:
        stretches.append(arguments[3])
        return real(*arguments)  # type: ignore[arg-type]

    _saved_late(story)
    monkeypatch.setattr(standing, "_bake_one", counted)
    assert not story.index.settle(story.now, story.now, lambda: True)
    assert len(stretches) == 1
    assert not story.index.settle(story.now, story.now, lambda: len(stretches) == 3)
    assert len(stretches) == 3
    assert story.index.settle(story.now, story.now, lambda: False)
    assert sorted(set(stretches)) == stretches  # none twice
    assert len(stretches) > 5


def test_a_picture_in_between_is_whole(story: Story) -> None:
    """Whatever is not folded once for all is folded for the picture."""
    _saved_late(story)
    assert not story.index.settle(story.now, story.now, lambda: True)
    between: Snapshot = picture(story.index, story.now)
    assert between.fleet.looms["A01"].locks
    assert story.index.settle(story.now, story.now)
    must_agree(picture(story.index, story.now), between)


@pytest.fixture
def no_checkpoint_between(short_stretches: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Many transactions from one checkpoint to the next."""
    monkeypatch.setattr(standing, "AT_ONCE", 1_000)


def _beyond_the_last_checkpoint(story: Story) -> int:
    with story.index.reads() as readings:
        (count,) = readings.connection.execute(
            "SELECT count(*) FROM segment WHERE start >= (SELECT max(upto) FROM checkpoint)"
            " OR NOT EXISTS (SELECT 1 FROM checkpoint)"
        ).fetchone()
    return int(count)


@pytest.mark.usefixtures("no_checkpoint_between")
def test_a_fold_that_ends_in_the_middle_leaves_nothing_that_counts(
    story: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    stretches = []
    real = standing._bake_one

    def dies(*arguments: object) -> object:
        if len(stretches) == 12:
            raise MemoryError
        stretches.append(arguments)
        return real(*arguments)  # type: ignore[arg-type]

    story.save(MOTION, "motion.log")
    _saved_late(story)
    with monkeypatch.context() as patch:
        patch.setattr(standing, "_bake_one", dies)
        with pytest.raises(MemoryError):
            story.index.settle(story.now, story.now)
    assert _beyond_the_last_checkpoint(story) > 0  # they were made last, one by one
    story.seen()
    assert _beyond_the_last_checkpoint(story) == 0
    story.save("2026-10-19T12:30 A01 lock removed by KM\n", "b.log")


@pytest.mark.usefixtures("no_checkpoint_between")
@pytest.mark.parametrize("day", [16, 18, 30])
def test_another_program_writes_between_two_stretches(
    story: Story, monkeypatch: pytest.MonkeyPatch, day: int
) -> None:
    """Before what is folded so far, into it, and behind it; nobody waits for the whole fold."""
    commits = []
    real = Index.commit

    def commit(index: Index) -> None:
        real(index)
        commits.append(index)
        if len(commits) == 3:
            text = f"2026-10-{day}T06:00 A02 isolated by RB\n"
            story.disk.put("c.log", text.encode(), story.now)
            other = Index(index.file, TOP, mill(), Counting(story.reader.reader))
            with story.disk.mounted():
                Shelf(TOP, Counting(story.reader.reader), other).look(story.now)
            real(other)
            other.close()

    _saved_late(story)
    with monkeypatch.context() as patch:
        patch.setattr(Index, "commit", commit)
        assert story.index.settle(story.now, story.now)
    assert len(commits) > 5
    assert {"A01", "A02"} <= {
        name for name, one in picture(story.index, story.now).fleet.looms.items() if one.locks
    }
    story.seen()
