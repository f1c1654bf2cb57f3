"""Folds that begin alike come to what each of them comes to alone."""

from __future__ import annotations

import random
from datetime import timedelta

import pytest

from board.state import folds as module
from board.state.counting import counted
from board.state.fold import Folding, fold
from board.state.folds import folds
from board.state.logged import Logged
from grammar.reader import Reader
from tests.state.shed import at, mill
from tests.state.writing import (
    GROUPS,
    LOOMS,
    WORDS_OF_A_GROUP,
    WORDS_OF_A_HANDOVER,
    WORDS_OF_A_LOOM,
)

READER = Reader(mill().vocabulary)
MINUTES = [f"22:{m:02}" for m in range(10, 30)]


def some_logs(dice: random.Random) -> list[Logged]:
    """Entries of three nights in two files, many of one minute."""
    logged = []
    for path in ("a.log", "b.log"):
        lines = []
        for day in (22, 23, 24):
            lines.append(f"day 2026-11-{day} night by {dice.choice(('KM', 'RB'))}\n")
            for stamp in sorted(dice.choices(MINUTES, k=12)):
                roll = dice.random()
                if roll < 0.1:
                    said = f"shed {dice.choice(WORDS_OF_A_HANDOVER)}"
                elif roll < 0.25:
                    said = f"{dice.choice(GROUPS)} {dice.choice(WORDS_OF_A_GROUP)}"
                else:
                    said = f"{dice.choice(LOOMS)} {'; '.join(dice.sample(WORDS_OF_A_LOOM, 2))}"
                lines.append(f"{stamp} {said}\n")
        reading = READER.read("".join(lines))
        logged += [Logged(path=path, entry=entry) for entry in reading.entries]
    return logged


@pytest.mark.parametrize("seed", range(60))
def test_with_a_line_and_without_it_and_as_of_its_minute(seed: int) -> None:
    dice = random.Random(seed)
    everything = some_logs(dice)
    one = dice.choice(everything)
    others = [x for x in everything if x is not one]
    now = dice.choice([at("2026-11-25 06:00"), at("2026-11-24 22:20"), one.entry.when])
    earlier = [x for x in others if x.entry.when <= one.entry.when]
    zone = mill().zone
    start = None
    if dice.random() < 0.5:
        begin = Folding(mill=mill(), as_of=now)
        begin.take(
            [x for x in counted(others, now, zone).entries if x.entry.when < at("2026-11-23 06:00")]
        )
        start = begin.folded()
        others, earlier, everything = (
            [x for x in some if x.entry.when >= at("2026-11-23 06:00")]
            for some in (others, earlier, [*others, one])
        )
    several = [
        counted(others, now, zone),
        counted(everything, now, zone),
        counted(earlier, one.entry.when, zone),
    ]
    alone = [fold(each, mill(), each.as_of, start) for each in several]
    assert folds(several, mill(), start) == alone


def test_what_is_alike_is_folded_once(monkeypatch: pytest.MonkeyPatch) -> None:
    everything = some_logs(random.Random(7))
    last = max(everything, key=lambda x: (x.entry.when, x.path, x.entry.line))
    others = [x for x in everything if x is not last]
    now = last.entry.when + timedelta(hours=1)
    taken = []
    real = Folding.minute

    def minute(folding: Folding, entries: list[Logged]) -> None:
        taken.extend(entries)
        real(folding, entries)

    monkeypatch.setattr(module.Folding, "minute", minute)
    folds([counted(some, now, mill().zone) for some in (others, everything)], mill())
    assert len(taken) < len(everything) + 12


def test_nothing_to_fold() -> None:
    nothing = counted([], at("2026-11-25 06:00"))
    assert folds([nothing, nothing], mill()) == [fold([], mill(), nothing.as_of)] * 2
