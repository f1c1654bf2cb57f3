"""Motion scaled to meters, many looms at once: what it makes of one after another, to the last bit."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np
import pytest

from board.state import motion_columns
from board.state.fleet import LoomState, Motion, Source
from board.state.history import CounterReading, Spell
from board.state.lines_abreast import at_each, reached
from board.state.meters import counters_made_of, meter_runs, of_each_meter
from board.state.motion_columns import LoomUse, Motions, ShedUse
from board.state.spells import SpellPieces, joined, made_of
from board.state.use_line import UseLine, motion_line, pieces_of
from tests.state.shed import mill
from tests.state.test_spells import LOOMS, START, some_spells

NOW = START + timedelta(days=40)


def _anchored_plainly(motion: UseLine, readings: list[CounterReading]) -> UseLine:
    """One line after the other, one step after the other."""
    stretches = [
        (before.when.timestamp(), after.when.timestamp(), after.value - before.value)
        for run in meter_runs(readings)
        for before, after in pairwise(run)
        if after.when > before.when
    ]
    if not stretches:
        return motion

    def moved(start: float, end: float) -> float:
        return motion.at(end) - motion.at(start) if len(motion.times) else 0.0

    edges = sorted({*map(float, motion.times), *(t for each in stretches for t in each[:2])})
    values, dark = [0.0], []
    for start, end in pairwise(edges):
        own = [each for each in stretches if each[0] <= start and end <= each[1]]
        step = moved(start, end)
        if own:
            ((first, last, shown),) = own
            even = moved(first, last) <= 0.0 or not motion.reaches(first, last)
            share = (end - start) / (last - first) if even else step / moved(first, last)
            step = shown * share
        elif not motion.reaches(start, end):
            dark.append([start, end])
        values.append(values[-1] + step)
    for before, after in list(pairwise(dark)):
        if before[1] == after[0]:
            after[0] = before[0]
            dark.remove(before)
    return UseLine(
        times=edges, values=values, dark_from=[d[0] for d in dark], dark_to=[d[1] for d in dark]
    )


def _by_hours_plainly(
    picks: UseLine, hours: UseLine, unbroken: UseLine, readings: list[CounterReading]
) -> UseLine:
    """Picks between readings of an hour meter, one step after the other."""
    stretches = [
        (before.when.timestamp(), after.when.timestamp(), after.value - before.value)
        for run in meter_runs(readings)
        for before, after in pairwise(run)
        if after.when > before.when
    ]
    stretches = [each for each in stretches if hours.reaches(*each[:2]) and len(picks.times)]
    if not stretches:
        return picks
    edges = sorted({*map(float, picks.times), *(t for each in stretches for t in each[:2])})
    values = [0.0]
    for start, end in pairwise(edges):
        step = picks.at(end) - picks.at(start)
        for first, last, shown in stretches:
            if first <= start and end <= last:
                ran = hours.at(last) - hours.at(first)
                if ran > 0.0:
                    step *= shown / ran
                else:
                    whole = unbroken.at(end) - unbroken.at(start) if len(unbroken.times) else 0.0
                    step = whole * (shown * 3600.0 / (last - first))
        values.append(values[-1] + step)
    return UseLine(times=edges, values=values, dark_from=picks.dark_from, dark_to=picks.dark_to)


def _some_readings(dice: random.Random) -> list[CounterReading]:
    """Meters that are read now and then, misread, and changed; some of them never."""
    readings = []
    for loom in dice.sample(LOOMS, dice.randrange(len(LOOMS) + 1)):
        for unit in dice.choice((("h",), ("picks",), ("h", "picks"))):
            when, value = START - timedelta(days=dice.choice((-1, 2))), 0.0
            for _ in range(dice.randrange(12)):
                when += timedelta(minutes=dice.choice((0, 1, 61, 3000)))
                value += dice.choice((0.0, 0.5, 30.25, 4000.0))
                new = dice.random() < 0.15
                value = 0.0 if new else value
                shown = value + dice.choice((0.0, 0.0, 0.0, -17.0, 900.0))
                readings.append(
                    CounterReading(
                        loom=loom, when=when, value=shown, unit=unit, new_meter=new,
                        source=Source(path="a.log", line=1, text=""),
                    )
                )  # fmt: skip
    return sorted(readings, key=lambda r: r.when)


def _shed(seed: int) -> tuple[list[Spell], list[CounterReading], dict[str, LoomState], ShedUse]:
    dice = random.Random(seed)
    spells = [s for s in some_spells(dice, 90) if dice.random() < 0.95]
    spells = [s for s in spells if s.loom != "A02"]  # it has a meter at most
    readings = _some_readings(dice)
    states = {
        loom: LoomState(
            loom=loom, motion=dice.choice(list(Motion)), style=dice.choice((None, "Twill")),
            spell_since=dice.choice((None, _end(spells, loom))),
        ) for loom in LOOMS
    }  # fmt: skip
    pieces = SpellPieces((joined([made_of(spells[:40])]), made_of(spells[40:])))
    meters = of_each_meter(counters_made_of(readings))
    return spells, readings, states, ShedUse(Motions(pieces, mill()), meters, states, NOW)


def _end(spells: list[Spell], loom: str) -> datetime | None:
    return max((s.end for s in spells if s.loom == loom and s.end), default=None)


@pytest.mark.parametrize("seed", range(60))
@pytest.mark.parametrize("unit", ["h", "picks"])
def test_many_lines_at_once_are_those_made_one_after_another(
    monkeypatch: pytest.MonkeyPatch, seed: int, unit: str
) -> None:
    # of so many spells two or three looms at once, or one, or all of them
    monkeypatch.setattr(motion_columns, "SPELLS_ABREAST", (1, 60, 65_536)[seed % 3])
    spells, readings, states, shed = _shed(seed)
    for loom in LOOMS:
        own = [s for s in spells if s.loom == loom]
        pieces = pieces_of(own, states[loom], mill(), NOW)
        motion = motion_line(pieces, unit)
        if unit == "picks":
            motion = _by_hours_plainly(
                motion,
                motion_line(pieces, "h"),
                _unbroken(own, states[loom]),
                [r for r in readings if r.loom == loom and r.unit == "h"],
            )
        meter = [r for r in readings if r.loom == loom and r.unit == unit]
        right = _anchored_plainly(motion, meter)
        line = LoomUse(shed, loom).line(unit)
        for name in ("times", "values", "dark_from", "dark_to"):
            assert list(getattr(line, name)) == list(getattr(right, name)), (loom, name)


def _unbroken(spells: list[Spell], state: LoomState) -> UseLine:
    """The picks of a loom, had it never stood."""
    running = [replace(spell, motion=Motion.RUNNING) for spell in spells]
    pieces = pieces_of(running, replace(state, motion=Motion.RUNNING), mill(), NOW)
    return motion_line(pieces, "picks")


@pytest.mark.parametrize("seed", range(20))
def test_many_lines_are_asked_as_each_alone(seed: int) -> None:
    _, _, _, shed = _shed(seed)
    dice = random.Random(seed)
    lines = [shed.line(loom, "h") for loom in LOOMS]
    asked = [
        [t + dice.choice((-90.0, 0.0, 33.0)) for t in dice.choices([*line.times, 0.0, 9e9], k=n)]
        for line, n in zip(lines, (0, 1, 7, 40), strict=True)
    ]
    bounds = [0, *np.cumsum([len(own) for own in asked]).tolist()]
    moments = np.array([t for own in asked for t in own])
    ends = moments + 5000.0
    at, told = at_each(lines, bounds, moments).tolist(), reached(lines, bounds, moments, ends)
    assert at == [
        line.at(t) if len(line.times) else 0.0
        for line, own in zip(lines, asked, strict=True)
        for t in own
    ]
    assert told.tolist() == [
        line.reaches(t, t + 5000.0) for line, own in zip(lines, asked, strict=True) for t in own
    ]
