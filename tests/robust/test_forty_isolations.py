"""Forty isolations in a shed of three hundred looms: all named on the first screen, come what may."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import timedelta

import pytest

from board.mill import Mill
from board.reckon.summary import Summary, summarise
from board.record.register import read_register
from board.show.live_view import Looking, Page, frame
from board.show.screens import View, board_lines
from board.snapshot import FileReading, snapshot
from grammar.reader import LastLine, Reader
from tests.conftest import BIG_REGISTER
from tests.robust.running import NOW

HEADING = "day 2026-11-24 night by KM"
LOCKED = tuple(f"A{n * 7:03}" for n in range(1, 41))
SCREEN = View(width=80, height=24)


def isolations(owner: str) -> list[str]:
    return [f"23:{n:02} {loom} isolated by {owner}{n} lock {n}" for n, loom in enumerate(LOCKED)]


def troubles(count: int) -> list[str]:
    """Stopped looms, faults, work left open and lines that cannot be read, as many as there may be."""
    lines = []
    for n in range(count):
        loom = f"A{n % 300 + 1:03}"
        said = ("stopped for fault", "fault squeaks", "open look again; due early", "gibberish")
        lines.append(f"22:{n % 60:02} {loom} {said[n % 4]}")
    return lines


@pytest.fixture(scope="module")
def mill() -> Mill:
    mill = read_register(BIG_REGISTER)
    assert isinstance(mill, Mill)
    return mill


@pytest.fixture(scope="module")
def told(mill: Mill) -> Callable[[dict[str, str]], Summary]:
    """The shed that some logs tell of."""
    reader = Reader(mill.vocabulary)

    def summary(logs: dict[str, str]) -> Summary:
        files = [
            FileReading(path=path, reading=reader.read(text, LastLine.SETTLED))
            for path, text in logs.items()
        ]
        return summarise(snapshot(files, mill, NOW))

    return summary


def names_all(summary: Summary, owner: str) -> None:
    """Every isolation stands on the first screen of the board and on each page of the live one."""
    wanted = [f"{loom} {owner}{n}" for n, loom in enumerate(LOCKED)]
    first = "\n".join(line.plain for line in board_lines(summary, SCREEN)[:24])
    assert [one for one in wanted if one not in first] == []
    for page in (Page.OVERVIEW, Page.FULL, Page.HELP):
        made = frame(summary, Looking(page=page), SCREEN, tick=0.0)
        assert len(made.lines) == 24
        assert not made.turning
        shown = "\n".join(line.plain for line in made.lines)
        assert [one for one in wanted if one not in shown] == []


def log(lines: list[str]) -> str:
    return "\n".join([HEADING, *lines, ""])


@pytest.mark.parametrize("owner", ["K", "OWNERNAME"])
@pytest.mark.parametrize("count", [0, 1_000], ids=["alone", "beside a thousand lines"])
def test_they_stand_beside_whatever_else(
    told: Callable[[dict[str, str]], Summary], owner: str, count: int
) -> None:
    names_all(told({"a.log": log([*troubles(count), *isolations(owner)])}), owner)


def test_they_stand_in_any_order_and_any_files(
    told: Callable[[dict[str, str]], Summary],
) -> None:
    dice = random.Random(1)
    for _ in range(4):
        lines = [*troubles(200), *isolations("K")]
        dice.shuffle(lines)
        files: dict[str, list[str]] = {"a.log": [], "2026/b.log": [], "z.log": []}
        for line in lines:
            files[dice.choice(sorted(files))].append(line)
        names_all(told({path: log(found) for path, found in files.items()}), "K")


def test_they_stand_as_conflicts_struck_unfinished_and_to_come(
    told: Callable[[dict[str, str]], Summary],
) -> None:
    lines = isolations("K")
    later = NOW + timedelta(days=2)
    lines[3] = f"{later:%Y-%m-%dT%H:%M} {LOCKED[3]} isolated by K3"
    lines += [f"23:50 {LOCKED[0]} running", f"23:51 {LOCKED[1]} struck 23:01 wrong loom"]
    lines[2] += "; gibberish behind it"
    names_all(told({"a.log": log(lines)}), "K")


def test_more_than_fit_are_all_there_where_the_board_is_printed(
    told: Callable[[dict[str, str]], Summary],
) -> None:
    """On as many lines as it takes; the live board turns them, and says so."""
    lines = [f"23:{n % 60:02} A{n:03} isolated by OWNERNAME{n}" for n in range(1, 201)]
    summary = told({"a.log": log(lines)})
    shown = "\n".join(line.plain for line in board_lines(summary, SCREEN))
    assert all(f"A{n:03} OWNERNAME{n}" in shown for n in range(1, 201))
    parts = set()
    for tick in range(0, 200, 5):
        made = frame(summary, Looking(), SCREEN, tick=float(tick))
        assert made.turning
        text = "\n".join(line.plain for line in made.lines)
        assert "turning by itself" in text
        parts |= {n for n in range(1, 201) if f"A{n:03} OWNERNAME{n}" in text}
    assert parts == set(range(1, 201))
