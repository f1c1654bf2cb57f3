"""A program that runs for weeks looks through all of its memory seldom, and leaves Python as it was."""

from __future__ import annotations

import gc
from collections.abc import Iterator

import pytest

from board import rings
from board.reckon.summary import summarise
from board.rings import Rings
from board.show.screens import View, board_lines
from tests.state.shed import read


class Ring:
    """A value that holds itself."""

    gone = 0

    def __init__(self) -> None:
        self.itself = self

    def __del__(self) -> None:
        Ring.gone += 1


@pytest.fixture(autouse=True)
def as_it_was() -> Iterator[None]:
    gc.collect()
    Ring.gone = 0
    enabled, thresholds = gc.isenabled(), gc.get_threshold()
    yield
    gc.set_threshold(*thresholds)
    if enabled:
        gc.enable()


@pytest.mark.parametrize("enabled", [True, False])
def test_python_is_left_as_it_was(enabled: bool) -> None:
    (gc.enable if enabled else gc.disable)()
    before = gc.get_threshold()
    with Rings():
        assert gc.isenabled()
        assert gc.get_threshold()[:2] == before[:2]
        assert gc.get_threshold()[2] > 1_000_000
    assert gc.isenabled() is enabled
    assert gc.get_threshold() == before


def test_all_is_looked_through_at_rest_when_it_is_time(monkeypatch: pytest.MonkeyPatch) -> None:
    now = [1_000.0]
    monkeypatch.setattr(rings.time, "monotonic", lambda: now[0])
    with Rings() as looking:
        old = Ring()
        gc.collect()  # it is among what is old now
        del old
        gc.collect(1)
        looking.at_rest()
        assert Ring.gone == 0
        now[0] += rings.EVERY_S
        looking.at_rest()
        assert Ring.gone == 1
        another = Ring()
        gc.collect()
        del another
        looking.at_rest()  # it was only just looked through
        assert Ring.gone == 1


def test_young_rings_go_at_once() -> None:
    with Rings():
        for _ in range(20_000):
            Ring()
    assert Ring.gone > 10_000


def test_a_picture_leaves_no_ring_behind() -> None:
    """What is let go of with a picture goes at once, though nobody looks for rings."""
    text = "day 2026-11-24 night by KM\n22:10 A01 stopped; left tape 2.90 mm; open no 1 look due early\n"
    text += "22:20 A01 running; counter 100 h\n22:30 A02 isolated by KM\n"

    def picture() -> None:
        summary = summarise(read({"a.log": text}, "2026-11-25 06:00"))
        board_lines(summary, View(width=80, height=24))

    picture()  # what is made once for all
    gc.collect()
    gc.disable()
    picture()
    assert gc.collect() == 0
