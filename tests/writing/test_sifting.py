"""Judging by the lines that can bear on an entry is judging by all of them."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path

import pytest

from board.desk import Desk
from board.judging import judge
from board.loading import read_mill
from board.mill import Mill
from board.record.files import FolderEmpty, FolderMissing
from board.record.listing import list_logs
from board.record.register import read_register
from board.show.cautions import cautions
from board.show.doubts import doubts
from board.show.understood import understood
from board.sifting import OfOthers, Sifter
from board.state.logged import Logged
from grammar.diagnostics import Code
from grammar.reader import Reader
from tests.conftest import EXAMPLE, NOW
from tests.writing.conftest import REGISTER


@pytest.fixture(scope="module")
def example(tmp_path_factory: pytest.TempPathFactory) -> tuple[Desk, list[Logged]]:
    """A copy of the example, and all its entries."""
    where = tmp_path_factory.mktemp("example") / "logs"
    shutil.copytree(EXAMPLE, where)
    mill = read_mill(where)
    assert isinstance(mill, Mill), mill
    reader = Reader(mill.vocabulary)
    listing = list_logs(where)
    assert not isinstance(listing, FolderMissing | FolderEmpty)
    everything = [
        Logged(path=log.path, entry=entry)
        for log in listing.logs
        for entry in reader.read(log.file.read_bytes()).entries
    ]
    return Desk(where, mill, reader, lambda: NOW), everything


ENTRIES = [
    "A07 left tape 2.35 mm",
    "B03 fault cleared",
    "A12 running",
    "A07 running; done no 1",
    "B11 lock removed by JO",
    "A02 moved left head from A09; thread-locked",
    "A19 replaced right head worn",
    "B05 open no 40 look; due early",
    "shed running",
    "shed taken over by RB",
    "B09 counter 100 h",
    "2026-10-25T01:20 A05 stopped",
]


@pytest.mark.parametrize("typed", ENTRIES)
def test_judged_by_all_lines_it_is_the_same(typed: str, example: tuple[Desk, list[Logged]]) -> None:
    desk, everything = example
    sifted = desk.look(typed, "KM", NOW)
    whole = judge(sifted.draft, sifted.line, everything, desk.mill, NOW)
    assert sifted.own == whole.own
    assert sifted.elsewhere == whole.elsewhere
    assert understood(sifted) == understood(whole)
    assert cautions(sifted) == cautions(whole)
    for loom in sifted.draft.entry.place.looms if sifted.draft.entry else ():
        if sifted.draft.entry and sifted.draft.entry.place.kind.value == "loom":
            assert sifted.after.looms[loom] == whole.after.looms[loom]


def test_every_loom_of_the_example_is_the_same_when_sifted(
    example: tuple[Desk, list[Logged]],
) -> None:
    desk, everything = example
    for loom in ("A03", "A09", "A21", "B10", "B18"):
        sifted = desk.look(f"{loom} note x", "KM", NOW)
        whole = judge(sifted.draft, sifted.line, everything, desk.mill, NOW)
        assert sifted.after.looms[loom] == whole.after.looms[loom]
        assert sifted.after.shed.actions == whole.after.shed.actions


OF_A_GROUP = {
    "actions.log": "day 2026-11-24 late by KM\n14:30 A01-A06 open no 50 oil; due before start\n"
    "14:31 A02-A06 open no 51 lint\n14:40 A01 done no 50 oiled\n14:50 A03 open no 50 look\n",
}


@pytest.mark.parametrize(
    "typed",
    [
        "A02 done no 50 oiled",
        "A02 dropped no 50 not needed",
        "A02-A04 done no 50 oiled",
        "A02 done 2026-11-24T14:30 oiled",
        "A02 done no 51 swept",
        "A02 running",
        "A01 struck 2026-11-24T14:40 not yet",
    ],
)
def test_whether_an_action_of_a_group_is_open_is_told_by_all_its_looms(
    typed: str, folder: Callable[[Mapping[str, str]], Path]
) -> None:
    where = folder(OF_A_GROUP)
    mill = read_mill(where)
    assert isinstance(mill, Mill), mill
    reader = Reader(mill.vocabulary)
    log = (where / "actions.log").read_bytes()
    everything = [Logged(path="actions.log", entry=x) for x in reader.read(log).entries]
    sifted = Desk(where, mill, reader, lambda: NOW).look(typed, "KM", NOW)
    whole = judge(sifted.draft, sifted.line, everything, mill, NOW)
    assert (sifted.own, sifted.elsewhere) == (whole.own, whole.elsewhere)
    assert understood(sifted) == understood(whole)
    assert list(doubts(sifted)) == list(doubts(whole))


NUMBERS = {"A01": (), "A02": (51,), "A03": (50, 51), "A06": (51,), "A": (50, 51), "B": ()}


@pytest.mark.parametrize("place", NUMBERS)
def test_what_another_loom_has_closed_is_not_offered(
    place: str, folder: Callable[[Mapping[str, str]], Path]
) -> None:
    where = folder(OF_A_GROUP)
    mill = read_mill(where)
    assert isinstance(mill, Mill), mill
    desk = Desk(where, mill, Reader(mill.vocabulary), lambda: NOW)
    assert desk.open_numbers([place, "done", "no"]) == NUMBERS[place]


def test_which_of_two_equal_lines_counts_is_no_news(
    folder: Callable[[Mapping[str, str]], Path],
) -> None:
    twice = "day 2026-11-24 early by KM\n07:00 A note x\n"
    own = "2026/11/2026-11-24-early-KM.log"
    where = folder({own: twice, "b.log": twice})
    mill = read_mill(where)
    assert isinstance(mill, Mill), mill
    desk = Desk(where, mill, Reader(mill.vocabulary), lambda: NOW)
    moved = desk.look("2026-11-24T07:00 A02 stopped", "KM", NOW)
    before, after = (
        {c.path for c in fleet.complaints if c.diagnostic.code is Code.LINE_TWICE}
        for fleet in (moved.before, moved.after)
    )
    assert before != after
    assert (moved.own, moved.elsewhere) == ((), ())
    once_more = desk.look("07:00 A note x", "KM", datetime(2026, 11, 24, 7, 30, tzinfo=UTC))
    assert [c.diagnostic.code for c in once_more.own] == [Code.LINE_TWICE]


@pytest.fixture(scope="module")
def sifter() -> Sifter:
    mill = read_register(REGISTER.encode())
    assert isinstance(mill, Mill), mill
    return Sifter(mill.vocabulary)


LOG = b"""day 2026-11-24 night by KM
22:10 A07 running
22:11 A08 running
2212 a8 open no 5 look
22:13 a7 moved left tape from A09
22:14 A09 replaced left tape
22:15 shed note quiet
22:16 X08 running
22:17 A08; running
# 22:18 A08 running
nonsense
22:19 A1-A9 running
"""


def kept(sifted: bytes | None) -> list[int]:
    assert sifted is not None
    lines = sifted.split(b"\n")
    assert len(lines) == len(LOG.split(b"\n"))
    return [i for i, line in enumerate(lines, start=1) if line]


def test_what_is_kept(sifter: Sifter) -> None:
    assert kept(sifter.sifted(LOG, frozenset({"A07"}))) == [1, 2, 5, 7, 8, 9, 10, 11, 12]
    assert kept(sifter.sifted(LOG, frozenset({"A07"}), OfOthers.ACTIONS)) == [
        1, 2, 4, 5, 7, 8, 9, 10, 11, 12,
    ]  # fmt: skip
    assert sifter.sifted(LOG.split(b"2212")[0], frozenset({"B01"})) is None


def test_looms_that_changed_parts_belong_together(sifter: Sifter) -> None:
    assert sifter.kin([LOG], ["A09"]) == {"A07", "A09"}
    more = [LOG, b"22:20 A11 moved left tape from A07\n"]
    assert sifter.kin(more, ["A09"]) == {"A07", "A09", "A11"}
    assert sifter.kin(more, ["A01"]) == {"A01"}


def test_the_repeated_hour_is_kept_whole(sifter: Sifter) -> None:
    """Only the other loom's line tells that A07's second 01:20 is the second pass."""
    log = (
        b"day 2026-10-24 night by KM\n00:50 A08 running\n01:40 A08 running\n0120 A07 stopped\n"
        b"02:20 A08 stopped\n"
    )
    sifted = sifter.sifted(log, frozenset({"A07"}))
    assert sifted is not None
    assert re.findall(rb"[0-9:]+ A0.", sifted) == [b"01:40 A08", b"0120 A07"]
    mill = read_register(REGISTER.encode())
    assert isinstance(mill, Mill)
    (entry,) = [e for e in Reader(mill.vocabulary).read(sifted).entries if e.place.name == "A07"]
    assert entry.when == datetime(2026, 10, 25, 1, 20, tzinfo=UTC)


def test_a_heading_is_never_blanked() -> None:
    plain = REGISTER.replace('["A01-A12"]', '["1-24"]')
    mill = read_register(plain.encode())
    assert isinstance(mill, Mill), mill
    log = b"day 2026-11-24 night by KM\n22:10 7 running\nday 14 nonsense\n22:11 7 stopped\n"
    assert Sifter(mill.vocabulary).sifted(log, frozenset({"7"})) == log
