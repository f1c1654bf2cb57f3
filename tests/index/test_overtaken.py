"""A reading made before the last save is never put in the place of one made after it.

One program reads a log; then somebody saves, and another program reads that and puts it away;
only then comes the first to putting away what it read. What an index tells after that is what it
told before: an isolation just saved is not lost, not even until the next look. The folder is in
memory, the index on the disk.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any
from unittest import mock

import pytest

from board.index.index import Index
from board.index.picture import picture
from board.record import shelf as shelves
from board.record.shelf import Shelf
from board.snapshot import snapshot
from grammar.reader import Reader
from tests.index.agreeing import must_agree
from tests.index.disk import TOP, Counting
from tests.index.test_laws import Story
from tests.state.shed import REGISTER, mill

pytestmark = pytest.mark.usefixtures("short_stretches")
WORK = "2026-10-20T05:00 A01 adjusted brake\n"
LOCKED = "2026-10-20T06:00 A02 isolated by RB\n"
ALSO = "2026-10-20T07:00 A03 isolated by KM\n"


@pytest.fixture
def story(tmp_path: Path) -> Story:
    return Story(tmp_path / "index.sqlite")


def another(story: Story) -> set[str]:
    """A program that looks, puts away what it saw, and shows the locked looms."""
    index = Index(story.index.file, TOP, mill(), Counting(story.reader.reader))
    shelf = Shelf(TOP, Counting(story.reader.reader), index)
    shelf.look(story.now)
    shown = _locked(index, story)
    index.close()
    return shown


def _locked(index: Index, story: Story) -> set[str]:
    index.settle(story.now, story.now)
    return {name for name, one in picture(index, story.now).fleet.looms.items() if one.locks}


@contextmanager
def after(name: str, story: Story, meanwhile: Callable[[], Any]) -> Iterator[None]:
    """Once, between the shelf's looking so at the disk and what it makes of it."""
    looks = getattr(story.disk, name)
    done: list[bool] = []

    def looks_slowly(*given: Any) -> Any:
        seen = looks(*given)
        if not done:
            done.append(True)
            meanwhile()
        return seen

    with story.disk.mounted(), mock.patch.object(shelves, name, looks_slowly):
        yield
    assert done


def must_still_show(story: Story, looms: set[str]) -> None:
    """What the index tells by itself, without another look; and all of it after one."""
    assert _locked(story.index, story) == looms
    with story.disk.mounted():
        assert another(story) == looms
        fresh = Shelf(TOP, Counting(story.reader.reader))
        fresh.look(story.now)
    must_agree(picture(story.index, story.now), snapshot(fresh.readings, mill(), story.now))


def saved_and_seen(story: Story, text: str) -> Callable[[], None]:
    """Somebody saves this, and another program sees it."""

    def meanwhile() -> None:
        story.disk.put("a.log", text.encode(), story.now)
        assert "A02" in another(story)

    return meanwhile


@pytest.mark.parametrize("before", ["", WORK])
def test_of_a_log_that_grew(story: Story, before: str) -> None:
    """Whether the first program knew it already or not."""
    if before:
        story.save(before)
    story.disk.put("a.log", (WORK + "2026-10-20T05:30 A01 note: dust\n").encode(), story.now)
    with after("read_file", story, saved_and_seen(story, WORK + LOCKED)):
        story.shelf.look(story.now)
    must_still_show(story, {"A02"})


def test_of_a_log_that_the_watcher_told_of(story: Story) -> None:
    story.save(WORK)
    story.disk.put("a.log", (WORK + LOCKED).encode(), story.now)
    told = {TOP.absolute() / "a.log": story.disk.stamp("a.log")}
    with after("read_file", story, saved_and_seen(story, WORK + LOCKED + ALSO)):
        story.shelf.look_at(told, story.now)
    must_still_show(story, {"A02", "A03"})


def test_of_a_log_read_with_a_new_stamp_only(story: Story) -> None:
    """The same bytes as before, but another program has seen more since."""
    story.save(WORK)
    story.disk.put("a.log", WORK.encode(), story.now)
    with after("read_file", story, saved_and_seen(story, WORK + LOCKED)):
        story.shelf.look(story.now)
    must_still_show(story, {"A02"})


def test_of_a_log_that_was_away_while_the_folder_was_listed(story: Story) -> None:
    """As while an editor saves it; another program saw it back before it was forgotten."""
    story.save(WORK)
    story.save(ALSO, "b.log")
    del story.disk.files["a.log"]
    with after("list_logs", story, saved_and_seen(story, WORK + LOCKED)):
        story.shelf.look(story.now)
    must_still_show(story, {"A02", "A03"})


def test_of_a_log_that_was_away_while_it_was_read(story: Story) -> None:
    story.save(WORK)
    story.save(ALSO, "b.log")
    del story.disk.files["a.log"]
    with after("read_file", story, saved_and_seen(story, WORK + LOCKED)):
        story.shelf.look_at({TOP.absolute() / "a.log": None}, story.now)
    must_still_show(story, {"A02", "A03"})


def test_of_a_log_that_another_saw_go(story: Story) -> None:
    """What was struck out of the folder does not come back either."""
    story.save(WORK)
    story.disk.put("a.log", (WORK + ALSO).encode(), story.now)

    def gone() -> None:
        del story.disk.files["a.log"]
        story.disk.put("b.log", LOCKED.encode(), story.now)
        assert another(story) == {"A02"}

    with after("read_file", story, gone):
        story.shelf.look(story.now)
    must_still_show(story, {"A02"})


def test_of_what_is_taken_over_when_the_register_changes(story: Story) -> None:
    """Another program has read the logs in the new words already, and later."""
    story.save(WORK)
    story.disk.put("a.log", (WORK + LOCKED).encode(), story.now)
    words = mill(REGISTER.replace('words = ["band"]', 'words = ["ribbon"]'))
    reader = Counting(Reader(words.vocabulary))

    def anew() -> Index:
        file = story.index.file
        story.index.close()
        with story.disk.mounted():
            new = Index(file, TOP, words, reader)
            shelf = Shelf(TOP, reader, new)
            shelf.look(story.now)
            new.settle(story.now, story.now)
            new.close()
        story.index = Index(file, TOP, words, reader)
        return story.index

    story.now += timedelta(seconds=5)
    with story.disk.mounted():
        story.shelf.speak(reader, story.now, anew)
    assert _locked(story.index, story) == {"A02"}
    with story.index.reads() as kept:
        assert kept.connection.execute("SELECT count(*) FROM file").fetchone() == (1,)


def test_a_log_that_another_program_put_into_the_new_index_and_that_is_gone_since(
    story: Story, tmp_path: Path
) -> None:
    """The register changed; what the other one knows beside our logs is looked at."""
    story.save(LOCKED)
    new = tmp_path / "new.sqlite"
    story.disk.put("b.log", ALSO.encode(), story.now)
    del story.disk.files["a.log"]
    other = Index(new, TOP, mill(), Counting(story.reader.reader))
    story.now += timedelta(seconds=70)
    with story.disk.mounted():
        Shelf(TOP, Counting(story.reader.reader), other).look(story.now)
        other.commit()
        other.close()
        del story.disk.files["b.log"]
        story.disk.put("a.log", LOCKED.encode(), story.now)
        ours = Index(new, TOP, mill(), Counting(story.reader.reader))
        story.shelf.speak(story.reader, story.now, lambda: ours)
    assert _locked(ours, story) == {"A02"}
    ours.close()
