"""What a summary costs must not grow with the history: no object a spell, no look a spell."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from board.reckon.ended import made_of as lives_made_of
from board.reckon.summary import summarise
from board.snapshot import Snapshot
from board.state import anchoring, history, lines_abreast
from board.state.later import Later
from board.state.meters import counters_made_of
from board.state.spells import SpellPieces, made_of
from board.state.use_line import UseLine
from tests.state.shed import at, read


def _shed(days: int) -> Snapshot:
    """A loom that runs twelve hours of each day, measured each day."""
    lines = []
    for day in range(days):
        date = at("2026-11-24 06:00").toordinal() - days + day
        text = at("2026-11-24 06:00").fromordinal(date).strftime("%Y-%m-%d")
        lines.append(
            f"day {text} early by KM\n06:00 A07 running\n07:00 A07 left tape 2.90 mm\n"
            f"day {text} late by KM\n18:00 A07 stopped\n"
        )
    shed = read({"a.log": "".join(lines)}, "2026-11-24 06:00")
    past = shed.fleet.history
    spells, counters, lives = (
        SpellPieces((made_of(past.spells),)), counters_made_of(past.counters), lives_made_of(past.lives)
    )  # fmt: skip

    def never(since: object) -> tuple[()]:
        raise AssertionError("all of the history is read")

    later = replace(
        past,
        spells=Later(never, columns=lambda: spells),
        counters=Later(never, columns=lambda: counters),
        lives=Later(never, columns=lambda: lives),
    )
    return replace(shed, fleet=replace(shed.fleet, history=later))


def _calls(days: int, monkeypatch: pytest.MonkeyPatch) -> tuple[int, int]:
    shed = _shed(days)
    count = {"at": 0, "spell": 0}
    look, look_all, look_each = UseLine.at, UseLine.at_all, lines_abreast.at_each
    make = history.Spell.__init__

    def at_counted(self: UseLine, when: float) -> float:
        count["at"] += 1
        return look(self, when)

    def all_counted(self: UseLine, moments: Any) -> Any:
        count["at"] += 1
        return look_all(self, moments)

    def each_counted(*asked: Any) -> Any:
        count["at"] += 1
        return look_each(*asked)

    def spell_counted(self: history.Spell, **fields: object) -> None:
        count["spell"] += 1
        make(self, **fields)  # type: ignore[arg-type]

    with monkeypatch.context() as patched:
        patched.setattr(UseLine, "at", at_counted)
        patched.setattr(UseLine, "at_all", all_counted)
        for where in (lines_abreast, anchoring):
            patched.setattr(where, "at_each", each_counted)
        patched.setattr(history.Spell, "__init__", spell_counted)
        summarise(shed)
    return count["at"], count["spell"]


def test_a_longer_history_costs_no_more_looks_and_no_spells(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    short, long = _calls(40, monkeypatch), _calls(400, monkeypatch)
    assert short == long
    assert long[1] == 0
    assert 0 < long[0] < 20
