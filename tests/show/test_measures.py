"""Measured values in figures: none past its limit looks like the limit, no margin reads 0.00."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from board.reckon.margins import WearLine
from board.reckon.summary import summarise
from board.show.measures import plain
from board.show.rows import margin_words, signed_margin, value_words
from board.show.text import width
from tests.conftest import SMALL_REGISTER, Run
from tests.state.shed import REGISTER, night

MORE = """
[part.knife]
[part.knife.play]
unit = "in"
new = 0.0020
replace_above = 0.0100
[part.cam.gap]
unit = "mm"
replace_above = 0.025
tool_uncertainty = 0.001
[part.jet.gap]
unit = "mm"
replace_above = 0.025
[part.hose.pressure]
unit = "kPa"
replace_above = 100
[part.roll.force]
unit = "kgf"
replace_below = 2.0
tool_uncertainty = 0.02
[part.shaft.gap]
unit = "mm"
replace_above = 30
tool_uncertainty = 0.0001
"""


def worn(reading: str) -> WearLine:
    summary = summarise(
        night("22:05 A07 running", f"22:10 A07 {reading}", register=REGISTER + MORE)
    )
    (wear,) = summary.loom("A07").wear
    return wear


@pytest.mark.parametrize(
    ("reading", "value", "words"),
    [
        ("knife play 0.0140 in", "0.0140 in", "PAST LIMIT by 0.0040 in"),
        ("knife play 0.0101 in", "0.0101 in", "PAST LIMIT by 0.0001 in"),
        ("knife play 0.0099 in", "0.0099 in", "0.0001 in to limit"),
        ("knife play 0.01 in", "0.010 in", "AT LIMIT, 0.000 in inside"),
        ("knife play 0.2413 mm", "0.009500 in", "0.000500 in to limit"),
        ("jet gap 0.026 mm", "0.026 mm", "PAST LIMIT by 0.001 mm"),
        ("jet gap 26 um", "0.026 mm", "PAST LIMIT by 0.001 mm"),
        ("jet gap 0.02 mm", "0.020 mm", "0.005 mm to limit"),
        ("hose pressure 99 kPa", "99 kPa", "1 kPa to limit"),
        ("hose pressure 1.0001 bar", "100.01 kPa", "PAST LIMIT by 0.01 kPa"),
        # the digits that were written are too few for the margin
        ("hose pressure 14.5038 psi", "100.0002 kPa", "PAST LIMIT by 0.0002 kPa"),
        # the tool tells fewer decimals than such a margin needs
        ("cam gap 0.0252 mm", "0.0252 mm", "AT LIMIT, 0.0002 mm beyond"),
        ("shaft gap 30.0002 mm", "30.0002 mm", "PAST LIMIT by 0.0002 mm"),
        ("shaft gap 29.9998 mm", "29.9998 mm", "0.0002 mm to limit"),
        # neither the tool nor what was written can tell it
        ("cam gap 0.001 in", "0.025 mm", "AT LIMIT, under 0.001 mm beyond"),
        ("roll force 19.61 N", "2.00 kgf", "AT LIMIT, under 0.01 kgf beyond"),
        ("cam gap 0.025 mm", "0.025 mm", "AT LIMIT, 0.000 mm inside"),
    ],
)
def test_value_and_margin_in_figures(reading: str, value: str, words: str) -> None:
    wear = worn(reading)
    assert (value_words(wear), margin_words(wear)) == (value, words)


def test_a_short_margin_that_cannot_be_told_has_its_sign() -> None:
    assert signed_margin(worn("cam gap 0.001 in")) == "AT LIMIT under -0.001 mm"
    assert signed_margin(worn("knife play 0.0101 in")) == "PAST LIMIT -0.0001 in"


@pytest.mark.parametrize(
    ("value", "text"),
    [(2.4, "2.4"), (100.0, "100"), (0.01, "0.01"), (1e-5, "0.00001"), (1234567.5, "1234567.5")],
)
def test_a_number_of_the_register(value: float, text: str) -> None:
    assert plain(value) == text


LOG = (
    "day 2026-11-24 night by KM\n22:05 A07 running\n22:06 A06 running\n"
    "22:10 A07 knife play 0.0101 in\n22:11 A06 knife play 0.0099 in\n22:12 A06 jet gap 0.026 mm\n"
    "22:13 A06 hose pressure 14.5037738 psi\n"
)
AT = ("--at", "2026-11-25T05:30")


@pytest.mark.parametrize("command", ["wear", "board", "loom", "handover"])
def test_no_screen_cuts_such_a_number(command: str, shed: Callable[..., Path], run: Run) -> None:
    folder = ("--folder", str(shed({"a.log": LOG}, SMALL_REGISTER + MORE)))
    for cells in (60, 80, 120):
        asked = [("loom", "A06"), ("loom", "A07")] if command == "loom" else [(command,)]
        out = "".join(run(*each, *folder, *AT, "--width", str(cells)).out for each in asked)
        rows = [row for row in out.splitlines() if re.search(r"knife|jet|hose", row)]
        assert rows
        assert not [row for row in rows if "~" in row or width(row) > cells]
        assert not re.search(r"(by|,) 0\.?0* (in|mm|kPa)", out)
        if cells >= 80:
            assert "0.0101 in" in out or "PAST LIMIT by 0.0001 in" in out
            assert "0.026 mm" in out or "PAST LIMIT by 0.001 mm" in out


def test_the_round_tells_the_last_reading_as_fine(shed: Callable[..., Path], run: Run) -> None:
    folder = str(shed({"a.log": LOG}, SMALL_REGISTER + MORE))
    assert "was 0.0099, replace above 0.01 " in run("round", folder, *AT).out
    record = json.loads(run("round", folder, *AT, "--json").out)
    assert 0.0099 in [item["last"] for item in record["lines"]]
