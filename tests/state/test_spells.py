"""Spells in columns: in however many pieces, they make the same lines, to the last bit."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from board.state.fleet import LoomState, Motion
from board.state.history import Spell
from board.state.later import Later
from board.state.motion_columns import Motions
from board.state.spells import SpellPieces, backwards, joined, made_of, of_each_loom
from board.state.use_line import motion_line, pieces_of
from grammar.entries import Reason
from tests.state.shed import mill

START = datetime(2026, 1, 5, 6, tzinfo=UTC)
LOOMS = ("A01", "A02", "A07", "B01")
STYLES = (None, "Twill", "plain", "unheard of")


def some_spells(dice: random.Random, count: int) -> list[Spell]:
    """Spells as a fold leaves them: of a loom one after the other, with gaps, in order of end."""
    ends = {loom: START + timedelta(minutes=dice.randrange(600)) for loom in LOOMS}
    spells = []
    for _ in range(count):
        loom = dice.choice(LOOMS)
        start = ends[loom] + timedelta(minutes=dice.choice((0, 0, 0, 45)))
        ends[loom] = start + timedelta(
            minutes=dice.choice((0, 1, 7, 240)), microseconds=dice.choice((0, 1))
        )
        spells.append(
            Spell(
                loom=loom, motion=dice.choice(list(Motion)), start=start, end=ends[loom],
                reason=dice.choice((None, *Reason)), style=dice.choice(STYLES),
            )
        )  # fmt: skip
    return sorted(spells, key=lambda s: s.end or START)


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("unit", ["h", "picks"])
def test_in_however_many_pieces_the_same_lines(seed: int, unit: str) -> None:
    dice = random.Random(seed)
    spells = some_spells(dice, 120)
    cuts = sorted(dice.sample(range(len(spells)), 3))
    parts = [spells[a:b] for a, b in zip([0, *cuts], [*cuts, len(spells)], strict=True)]
    old = joined([made_of(part) for part in parts[:-1]])
    several = SpellPieces((old, made_of(parts[-1])))
    now = (spells[-1].end or START) + timedelta(hours=3)
    motions = Motions(several, mill())
    for loom in LOOMS:
        own = [s for s in spells if s.loom == loom]
        state = LoomState(loom=loom, motion=Motion.RUNNING, style="Twill", spell_since=own[-1].end)
        line = motions.line(state, now, unit)
        right = motion_line(pieces_of(own, state, mill(), now), unit)
        for name in ("times", "values", "dark_from", "dark_to"):
            assert list(getattr(line, name)) == list(getattr(right, name)), name


def test_years_made_one_stand_loom_by_loom() -> None:
    dice = random.Random(3)
    spells = some_spells(dice, 200)
    one = joined([made_of(spells[:90]), made_of(spells[90:91]), made_of(spells[91:])])
    rows = of_each_loom(one)
    assert all(isinstance(each, slice) for each in rows.values())
    assert one.loom.dtype == np.int16
    for loom in LOOMS:
        ends = [s.end for s in spells if s.loom == loom]
        told = one.end[rows[loom]].tolist()
        assert told == [
            (e - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1) for e in ends if e
        ]


def test_the_spells_of_a_loom_backwards_through_all_pieces() -> None:
    spells = some_spells(random.Random(4), 60)
    pieces = SpellPieces(
        (joined([made_of(spells[:20]), made_of(spells[20:50])]), made_of(spells[50:]))
    )

    def never(_: object) -> tuple[()]:
        raise AssertionError("the spells themselves are read")

    kept: Later[Spell] = Later(never, columns=lambda: pieces)
    for loom in (*LOOMS, "B03"):
        assert list(backwards(kept, loom)) == [s for s in spells if s.loom == loom][::-1]
