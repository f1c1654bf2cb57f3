"""Folding old lines anew stops for what is saved meanwhile, and comes to the same in the end."""

from __future__ import annotations

from pathlib import Path

import pytest

from board.index import standing
from board.index.picture import picture
from board.snapshot import Snapshot
from tests.index.agreeing import must_agree
from tests.index.test_laws import PADDING, Story

pytestmark = pytest.mark.usefixtures("short_stretches")
OLD = "2026-10-17T05:00 A01 isolated by KM\n"


@pytest.fixture
def story(tmp_path: Path) -> Story:
    story = Story(tmp_path / "index.sqlite")
    story.save(PADDING)
    return story


def test_it_stops_behind_a_stretch_and_goes_on_from_there(
    story: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An isolation written late, before everything that was folded."""
    stretches = []
    real = standing._bake_one

    def counted(*arguments: object) -> object:
        stretches.append(arguments[3])
        return real(*arguments)  # type: ignore[arg-type]

    story.disk.put("old.log", OLD.encode(), story.now)
    with story.disk.mounted():
        story.shelf.look(story.now)
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
    story.disk.put("old.log", OLD.encode(), story.now)
    with story.disk.mounted():
        story.shelf.look(story.now)
    assert not story.index.settle(story.now, story.now, lambda: True)
    between: Snapshot = picture(story.index, story.now)
    assert between.fleet.looms["A01"].locks
    assert story.index.settle(story.now, story.now)
    must_agree(picture(story.index, story.now), between)
