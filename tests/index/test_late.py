"""Who reads of a picture what was put off, after logs were saved: it is told, or not yet."""

from __future__ import annotations

import threading
import time
from argparse import Namespace
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import fields
from pathlib import Path
from typing import Any, cast

import pytest

from board.index import index as indexes
from board.index.index import Index, MovedOn
from board.index.picture import picture
from board.index.schema import Unusable
from board.index.tails import Tails
from board.keeping import Keeping
from board.live import _Live
from board.loading import read_mill
from board.mill import Mill
from board.reckon.summary import Summary
from board.record.watch import Manner
from board.show.lines import Line
from board.show.live_view import Looking, Page
from board.show.loom_screen import loom_lines
from board.terminal import TerminalFacts
from tests.index.test_laws import PADDING, Story
from tests.robust.saves import CANARIES, Saver
from tests.robust.watching import SETTLED_S, clock, history, without_logs

pytestmark = pytest.mark.usefixtures("short_stretches")
FACTS = PADDING.replace(" stopped", " stopped for warp; running")
NOT_YET = "the page asked for comes with the next picture of the logs"


@pytest.fixture
def story(tmp_path: Path) -> Story:
    story = Story(tmp_path / "index.sqlite")
    story.save(FACTS)
    return story


@pytest.fixture(autouse=True)
def everything_is_much(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(indexes, "LONGEST_LATE", 0)


def put_away(story: Story, text: str, path: str) -> None:
    story.disk.put(path, text.encode(), story.now)
    with story.disk.mounted():
        story.shelf.look(story.now)


def late(at: str) -> str:
    return f"2026-10-{at}:00 A03 stopped for weft; running\n"


@pytest.fixture
def no_fold(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """From when it is called, nothing may be folded."""

    def folds(*_: object) -> None:
        raise AssertionError("it was folded anew")

    return lambda: monkeypatch.setattr(Tails, "at", folds)


def test_what_was_saved_at_the_end_since_leaves_a_picture_as_it_was(
    story: Story, no_fold: Callable[[], None]
) -> None:
    known = picture(story.index, story.now)
    spells = list(picture(story.index, story.now).fleet.history.spells)
    assert len(spells) > 10
    put_away(story, f"{story.now:%Y-%m-%dT%H:%MZ} A03 stopped for weft; running\n", "b.log")
    no_fold()
    assert list(known.fleet.history.spells) == spells


def test_what_was_saved_of_old_days_is_told_by_the_next_picture(
    story: Story, no_fold: Callable[[], None]
) -> None:
    known = picture(story.index, story.now)
    before = len(list(picture(story.index, story.now).fleet.history.spells))
    put_away(story, late("19T03") + late("19T04"), "b.log")
    story.index.may_fold = lambda: False
    with pytest.raises(MovedOn):
        list(known.fleet.history.spells)
    assert not story.index._connection.in_transaction  # and nobody waits for what comes next
    story.index.settle(story.now, story.now)
    after = picture(story.index, story.now)
    no_fold()
    assert len(list(after.fleet.history.spells)) > before


def test_who_may_fold_is_told_at_once(story: Story) -> None:
    known = picture(story.index, story.now)
    before = len(list(picture(story.index, story.now).fleet.history.spells))
    put_away(story, late("19T03"), "b.log")
    assert len(list(known.fleet.history.spells)) > before


def test_a_little_is_folded_at_once(story: Story, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(indexes, "LONGEST_LATE", 10_000)
    known = picture(story.index, story.now)
    before = len(list(picture(story.index, story.now).fleet.history.spells))
    put_away(story, late("19T03"), "b.log")
    story.index.may_fold = lambda: False
    assert len(list(known.fleet.history.spells)) > before


# -- a live board --------------------------------------------------------------------------


class Drawn:
    """A live board whose terminal is a list of rows."""

    size = (80, 24)

    def __init__(self, keeping: Keeping) -> None:
        self.rows: list[str] = []
        facts = TerminalFacts(width=80, height=24, interactive=True, colour=False, unicode=True)
        options = Namespace(ascii=False, wall=False)
        self.live = _Live(cast(Any, self), keeping, facts, options, {})

    def paint(self, rows: list[str]) -> None:
        self.rows = rows

    def page_of(self, loom: str) -> str:
        self.live._looking = Looking(page=Page.LOOM, loom=loom)
        self.live._draw()
        assert self.live._looking.loom == loom  # whatever is shown, this is looked at
        shown = "\n".join(self.rows)
        assert all(f"{canary} " in shown for canary in CANARIES)
        return shown


@contextmanager
def drawn(folder: Path, index: Path) -> Iterator[Drawn]:
    mill = read_mill(folder)
    assert isinstance(mill, Mill)
    keeping = Keeping(
        folder, mill, environ={}, clock=clock, manner=Manner.AUTOMATIC, on_new=lambda: None,
        index=str(index),
    )  # fmt: skip
    with keeping:
        yield Drawn(keeping)


def until(wanted: Callable[[], bool]) -> None:
    limit = time.monotonic() + SETTLED_S
    while not wanted():
        assert time.monotonic() < limit
        time.sleep(0.02)


def test_a_page_opened_while_years_are_folded_comes_with_the_next_picture(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = without_logs(tmp_path)
    Saver(folder, history(10), 3).finish()
    held, goes_on = threading.Event(), threading.Event()
    with drawn(folder, tmp_path / "index.sqlite") as board:

        def waits(index: Index) -> None:
            with index.reads() as readings:
                if readings.connection.execute("SELECT 1 FROM checkpoint").fetchone():
                    return  # the old line is not put away yet
            held.set()
            goes_on.wait(SETTLED_S)

        folding: list[str] = []
        real = Tails.at

        def at(tails: Tails, *arguments: Any) -> Any:
            folding.append(threading.current_thread().name)
            return real(tails, *arguments)

        def asks_much(summary: Summary, *arguments: Any, **named: Any) -> list[Line]:
            """A page that asks for what is long over, as one does where parts are old."""
            history = summary.snapshot.fleet.history
            assert [tuple(getattr(history, kind.name)) for kind in fields(history)]
            return loom_lines(summary, *arguments, **named)

        monkeypatch.setattr("board.show.live_view.loom_lines", asks_much)
        monkeypatch.setattr(Index, "let_others", waits)
        monkeypatch.setattr(Tails, "at", at)
        (folder / "old.log").write_bytes(b"2020-01-01T06:00 B03 note found late\n")
        assert held.wait(SETTLED_S)
        assert NOT_YET in board.page_of("B03")
        assert folding == []
        goes_on.set()
        files = len(list(folder.rglob("*.log")))
        until(lambda: board.live._picture.summary.snapshot.tally.files == files)
        until(lambda: NOT_YET not in board.page_of("B03"))


@pytest.mark.parametrize("error", [MovedOn(), Unusable("the index is gone")])
def test_a_page_that_cannot_be_told_leaves_the_board_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    folder = without_logs(tmp_path)
    Saver(folder, history(3), 3).finish()
    with drawn(folder, tmp_path / "index.sqlite") as board:

        def fails(*_: object, **__: object) -> None:
            raise error

        with monkeypatch.context() as patched:
            patched.setattr("board.show.live_view.loom_lines", fails)
            assert NOT_YET in board.page_of("B03")
        assert NOT_YET not in board.page_of("B03")
