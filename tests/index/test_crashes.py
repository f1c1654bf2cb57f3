"""Programs that are killed in the middle, and two at once: the index is right for whoever comes next.

Real files, a real index, real processes. ``LOOMSLATE_KILLS`` sets how often a program is killed.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
import traceback
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from board.index import standing, transactions
from board.index.index import Index
from board.index.picture import picture
from board.indexed import looked, snapshot_of
from board.record.shelf import Shelf
from board.snapshot import snapshot
from grammar.reader import Reader
from tests.index.agreeing import must_agree, rows_of
from tests.index.disk import TOP, Counting
from tests.index.doing import START, some_lines
from tests.index.test_laws import Story
from tests.state.shed import REGISTER, mill

pytestmark = pytest.mark.usefixtures("short_stretches")
KILLS = int(os.environ.get("LOOMSLATE_KILLS", "20"))
OTHER = REGISTER.replace('words = ["band"]', 'words = ["ribbon"]')
NAMES = ("a.log", "b.log", "c.log", "wide.log")
AT_ONCE_S = 3.0


@pytest.fixture(scope="module")
def readers() -> dict[str, Reader]:
    return {text: Reader(mill(text).vocabulary) for text in (REGISTER, OTHER)}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "logs"
    place.mkdir()
    dice = random.Random(3)
    for name in NAMES:
        change(place / name, dice, 12)
    return place


def clock() -> datetime:
    """The clock of the machine, but never before the last entry."""
    return max(datetime.now(UTC), START)


def change(file: Path, dice: random.Random, times: int = 1) -> None:
    """Somebody writes to a log."""
    lines = b"".join(some_lines(dice, file.name) for _ in range(times))
    if dice.random() < 0.15 and file.exists():
        file.unlink()
    elif dice.random() < 0.2:
        beside = file.with_name(".beside")
        beside.write_bytes(lines)
        beside.replace(file)
    else:
        with file.open("ab") as log:
            log.write(lines)


def must_be_right(folder: Path, file: Path, reader: Reader) -> None:
    """What the next program sees is what a fresh reading sees."""
    index = Index(file, folder, mill(), reader)
    _must_agree(folder, index, looked(folder, reader, index, clock()), reader)
    index.close()


def _must_agree(folder: Path, index: Index, shelf: Shelf, reader: Reader) -> None:
    now = clock()
    kept = snapshot_of(index, shelf, now, now)
    fresh = Shelf(folder, reader)
    fresh.look(now)
    must_agree(kept, snapshot(fresh.readings, mill(), now, fresh.notices))


def _as_child(work: Callable[[], None]) -> int:
    """Another process that does this; its number."""
    child = os.fork()
    if child == 0:
        code = 1
        try:
            work()
            code = 0
        except BaseException:
            traceback.print_exc(file=sys.__stderr__)
        finally:
            os._exit(code)
    return child


# -- killed --------------------------------------------------------------------------------


@pytest.mark.parametrize("part", range(4))
def test_killed_at_any_moment(
    folder: Path,
    tmp_path: Path,
    readers: dict[str, Reader],
    part: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """While it builds, adds to, voids, folds, or gives up an index for one of another register."""
    file = tmp_path / "index.sqlite"
    dice = random.Random(part)
    if part % 2:
        monkeypatch.setattr(transactions, "LONGEST_COMMIT_S", 0.0)  # each file is a transaction

    def work() -> None:
        for turn in range(10_000):
            text = OTHER if part > 1 and turn % 3 == 2 else REGISTER
            index = Index(file, folder, mill(text), readers[text])
            shelf = looked(folder, readers[text], index, clock())
            snapshot_of(index, shelf, clock(), clock())
            change(folder / dice.choice(NAMES), dice)
            shelf.look(clock())
            index.close()

    for _ in range(max(KILLS // 4, 1)):
        child = _as_child(work)
        time.sleep(dice.random() * 0.12)
        change(folder / dice.choice(NAMES), dice)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        must_be_right(folder, file, readers[REGISTER])
        dice.random()


def test_a_build_that_is_killed_is_gone_on_with(
    folder: Path, tmp_path: Path, readers: dict[str, Reader], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was put away before is not read again."""
    monkeypatch.setattr(transactions, "LONGEST_COMMIT_S", 0.0)
    file = tmp_path / "index.sqlite"
    later = clock() + timedelta(hours=1)
    index = Index(file, folder, mill(), readers[REGISTER])
    reader = Counting(readers[REGISTER])

    def stop(done: int, _: int) -> None:
        if done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        Shelf(folder, reader, index).look(later, stop)
    assert len(reader.taken()) == 2
    index.close()
    index = Index(file, folder, mill(), readers[REGISTER])
    looked(folder, reader, index, later)
    assert len(reader.taken()) == len(NAMES) - 2
    index.close()
    must_be_right(folder, file, readers[REGISTER])


# -- two at once ---------------------------------------------------------------------------


def test_two_programs_at_once_and_somebody_saves(
    folder: Path, tmp_path: Path, readers: dict[str, Reader]
) -> None:
    """One that stays open, and one that is started again and again: both right at the end."""
    file, ended = tmp_path / "index.sqlite", tmp_path / "ended"
    reader = readers[REGISTER]

    def stays() -> None:
        index = Index(file, folder, mill(), reader)
        shelf = looked(folder, reader, index, clock())
        while not ended.exists():
            shelf.settle(clock())
            shelf.look(clock())
            tuple(snapshot_of(index, shelf, clock(), clock()).entries)
        shelf.settle(clock())
        shelf.look(clock())
        _must_agree(folder, index, shelf, reader)

    def comes_and_goes() -> None:
        while not ended.exists():
            index = Index(file, folder, mill(), reader)
            shelf = looked(folder, reader, index, clock())
            tuple(snapshot_of(index, shelf, clock(), clock()).fleet.history.jobs)
            index.close()
        must_be_right(folder, file, reader)

    children = [_as_child(stays), _as_child(comes_and_goes), _as_child(comes_and_goes)]
    dice = random.Random(9)
    until = time.monotonic() + AT_ONCE_S
    while time.monotonic() < until:
        change(folder / dice.choice(NAMES), dice)
        time.sleep(dice.random() * 0.03)
    ended.touch()
    codes = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
    assert codes == [0, 0, 0]
    must_be_right(folder, file, reader)


@pytest.fixture
def story(tmp_path: Path) -> Story:
    return Story(tmp_path / "index.sqlite")


LOCKED, ALSO = "2026-10-20T05:00 A01 isolated by KM\n", "2026-10-20T06:00 A02 isolated by RB\n"


def another_looks(story: Story) -> None:
    """Another program looks at the folder, puts away what it saw, and ends."""
    index = Index(story.index.file, TOP, mill(), Counting(story.reader.reader))
    with story.disk.mounted():
        shelf = Shelf(TOP, Counting(story.reader.reader), index)
        shelf.look(story.now)
    index.settle(story.now, story.now)
    index.close()


def told(story: Story, *paths: str) -> set[str]:
    """The program that stays is told of these saves; what it shows, and which looms are locked."""
    story.now += timedelta(seconds=5)
    with story.disk.mounted():
        story.shelf.settle(story.now)
        story.shelf.look_at(
            {TOP.absolute() / path: story.disk.stamp(path) for path in paths}, story.now
        )
        fresh = Shelf(TOP, Counting(story.reader.reader))
        fresh.look(story.now)
    story.index.settle(story.now, story.now)
    kept = picture(story.index, story.now)
    must_agree(kept, snapshot(fresh.readings, mill(), story.now))
    return {name for name, state in kept.fleet.looms.items() if state.locks}


def test_a_log_that_grew_was_read_by_another_first(story: Story) -> None:
    """The new lines are there once, with their own numbers."""
    story.save(LOCKED)
    story.disk.put("a.log", (LOCKED + ALSO).encode(), story.now)
    story.now += timedelta(seconds=5)
    another_looks(story)
    assert told(story, "a.log") == {"A01", "A02"}


def test_a_log_grew_between_two_looks_of_ours_and_another_came_in_between(story: Story) -> None:
    """Without any sign of it but in the index itself."""
    story.save(LOCKED)
    story.disk.put("a.log", (LOCKED + ALSO).encode(), story.now)
    with story.disk.mounted():
        known = dict(story.shelf._kept)
        another_looks(story)
        story.index.others()
        story.shelf._kept = known
    assert told(story, "a.log") == {"A01", "A02"}


def test_a_log_was_away_just_when_another_looked(story: Story) -> None:
    """As while an editor saves: its isolation must not be lost for the program that stays."""
    story.save(LOCKED)
    story.save(ALSO, "b.log")
    away = story.disk.files.pop("a.log")
    another_looks(story)
    story.disk.files["a.log"] = away
    assert told(story) == {"A01", "A02"}


def test_a_log_was_away_just_when_another_looked_and_that_was_not_noticed(story: Story) -> None:
    story.save(LOCKED)
    away = story.disk.files.pop("a.log")
    with story.disk.mounted():
        known = dict(story.shelf._kept)
        another_looks(story)
        story.index.others()
        story.shelf._kept = known
    story.disk.files["a.log"] = away
    assert told(story, "a.log") == {"A01"}


@pytest.mark.parametrize("paths", [(), ("b.log",), ("a.log",)])
def test_a_log_that_only_another_saw_and_that_is_gone(story: Story, paths: tuple[str, ...]) -> None:
    story.save(LOCKED)
    story.disk.put("b.log", ALSO.encode(), story.now)
    another_looks(story)
    del story.disk.files["b.log"]
    assert told(story, *paths) == {"A01"}


def test_a_log_changed_and_changed_back(story: Story) -> None:
    story.save(LOCKED)
    story.disk.put("a.log", LOCKED.replace("A01", "A03").encode(), story.now)
    story.now += timedelta(seconds=5)
    another_looks(story)
    story.disk.put("a.log", LOCKED.encode(), story.now)
    story.now += timedelta(seconds=70)
    assert told(story, "a.log") == {"A01"}


def test_a_log_changed_and_changed_back_and_that_was_not_noticed(story: Story) -> None:
    story.save(LOCKED)
    story.disk.put("a.log", LOCKED.replace("A01", "A03").encode(), story.now)
    story.now += timedelta(seconds=5)
    with story.disk.mounted():
        known = dict(story.shelf._kept)
        another_looks(story)
        story.index.others()
        story.shelf._kept = known
    story.disk.put("a.log", LOCKED.encode(), story.now)
    story.now += timedelta(seconds=70)
    assert told(story, "a.log") == {"A01"}


def test_what_was_put_away_and_lost_is_put_away_again(
    story: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A fault that is none of the index's own undoes what was not yet made last."""
    story.save(LOCKED)
    story.disk.put("b.log", ALSO.encode(), story.now)
    story.now += timedelta(seconds=5)
    with story.disk.mounted():
        story.shelf.look(story.now)

    def fails(*_: object, **__: object) -> None:
        raise MemoryError

    with monkeypatch.context() as broken:
        broken.setattr(standing, "begun", fails)
        with pytest.raises(MemoryError):
            story.index.settle(story.now, story.now)
    assert told(story) == {"A01", "A02"}


def test_two_indexes_that_were_filled_in_other_ways_hold_the_same(
    folder: Path, tmp_path: Path, readers: dict[str, Reader]
) -> None:
    """Row by row: one that saw every save, and one built from nothing."""
    reader, dice = readers[REGISTER], random.Random(4)
    index = Index(tmp_path / "one.sqlite", folder, mill(), reader)
    shelf = looked(folder, reader, index, clock())
    for _ in range(30):
        change(folder / dice.choice(NAMES), dice)
        shelf.look(clock())
        index.settle(clock(), clock())
    new = Index(tmp_path / "new.sqlite", folder, mill(), reader)
    looked(folder, reader, new, clock())
    new.settle(clock(), clock())
    with index.reads() as one, new.reads() as other:
        assert rows_of(one.connection) == rows_of(other.connection)
    index.close()
    new.close()
