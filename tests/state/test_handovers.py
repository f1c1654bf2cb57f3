"""Handovers of the shed and of sections, their seals, and what changed after them."""

from __future__ import annotations

from datetime import date

import pytest

from board.state.fleet import Handover
from board.state.seals import seal_of
from grammar.entries import Shift
from tests.state.shed import at, codes, read

LATE = Shift(day=date(2026, 11, 24), name="late")
NIGHT = Shift(day=date(2026, 11, 24), name="night")
EARLY = Shift(day=date(2026, 11, 24), name="early")

SAID = "21:55 shed handed over KM to RB"
TAKEN = "22:05 shed taken over by RB"


def _shed(late: str, night: str = "") -> Handover:
    files = {"a.log": f"day 2026-11-24 late by KM\n{late}\n"}
    if night:
        files["b.log"] = f"day 2026-11-24 night by RB\n{night}\n"
    return read(files).fleet.shed.handovers["shed"]


def test_a_handover_stands_when_both_lines_are_there() -> None:
    said = _shed(SAID)
    assert (said.by, said.to, said.said, said.taken) == ("KM", "RB", at("2026-11-24 21:55"), None)
    assert not said.stands
    both = _shed(SAID, TAKEN)
    assert both.stands
    assert (both.taken_by, both.taken) == ("RB", at("2026-11-24 22:05"))
    assert not _shed("21:00 A07 note x", TAKEN).stands


def test_sections_are_handed_over_for_themselves() -> None:
    shed = read(
        {
            "a.log": "day 2026-11-24 late by KM\n21:55 A handed over KM to RB\n22:01 B taken over by TN\n"
        }
    ).fleet.shed
    assert {what: h.stands for what, h in shed.handovers.items()} == {"A": False, "B": False}


def test_two_who_take_over_one_shift_take_over_one_handover() -> None:
    both = _shed(SAID, f"{TAKEN}\n22:10 shed taken over by TN")
    assert (both.said, both.taken_by, both.stands) == (at("2026-11-24 21:55"), "TN", True)


def test_the_next_shift_s_taking_over_is_another_handover() -> None:
    shed = read(
        {
            "a.log": f"day 2026-11-24 late by KM\n{SAID}\n",
            "b.log": f"day 2026-11-24 night by RB\n{TAKEN}\n",
            "c.log": "day 2026-11-25 early by JO\n05:55 shed taken over by JO\n",
        }
    ).fleet.shed
    assert [(h.said, h.shift) for h in shed.taken] == [
        (at("2026-11-24 21:55"), LATE), (None, NIGHT),
    ]  # fmt: skip


@pytest.mark.parametrize(("first", "second"), [("a.log", "b.log"), ("b.log", "a.log")])
def test_both_words_in_one_minute_whatever_the_files_are_called(first: str, second: str) -> None:
    shed = read(
        {
            first: "day 2026-11-24 late by KM\n22:00 shed handed over KM to RB\n",
            second: "day 2026-11-24 night by RB\n22:00 shed taken over by RB\n",
        }
    ).fleet.shed
    assert shed.handovers["shed"].stands


# heading, line, shift given over
OUTGOING = [
    ("late", "21:55 shed handed over KM to RB", LATE),
    ("late", "22:10 shed handed over KM to RB", LATE),
    ("late", "01:30 shed handed over KM to RB", LATE),
    ("late", "18:00 shed handed over KM to RB", LATE),
    ("night", "22:02 shed handed over KM to RB", LATE),  # in the incoming lead's file
    ("night", "21:50 shed handed over KM to RB", LATE),
    ("night", "05:50 shed handed over KM to RB", NIGHT),
    ("late", "14:10 shed handed over KM to RB", EARLY),
    ("late", "2026-11-24T22:10 shed handed over KM to RB", LATE),
]
INCOMING = [
    ("night", "22:05 shed taken over by RB", LATE),
    ("night", "21:50 shed taken over by RB", LATE),
    ("night", "02:00 shed taken over by RB", LATE),
    ("late", "21:58 shed taken over by RB", LATE),  # in the outgoing lead's file
    ("late", "22:20 shed taken over by RB", LATE),
    ("late", "13:55 shed taken over by RB", EARLY),
]


@pytest.mark.parametrize(("heading", "line", "given"), OUTGOING + INCOMING)
def test_which_shift_is_given_over(heading: str, line: str, given: Shift) -> None:
    shed = read({"a.log": f"day 2026-11-24 {heading} by KM\n{line}\n"}, "2026-11-25 12:00")
    assert shed.fleet.shed.handovers["shed"].shift == given


# -- seals ---------------------------------------------------------------------------------

LINES = ["20:10 A07 left tape 2.90 mm", "20:30 A08 stopped for warp", "20:40 A09 gibberish"]


def _sealed(lines: list[str], more: str = "", seal_on: list[str] = LINES) -> list[str]:
    seal = seal_of(seal_on)
    taken = f"22:05 shed taken over by RB; sealed {seal.lines} {seal.digest}"
    files = {
        "a.log": "day 2026-11-24 late by KM\n" + "\n".join([*lines, SAID]) + "\n",
        "b.log": f"day 2026-11-24 night by RB\n{taken}\n22:30 A07 running\n",
    }
    if more:
        files["c.log"] = f"day 2026-11-24 late by TN\n{more}\n"
    return [c for c in codes(read(files)) if c != "not-understood"]


def test_a_seal_agrees_whatever_the_order_and_with_refused_lines() -> None:
    assert _sealed(LINES) == []
    assert _sealed(LINES[::-1]) == []


def test_a_line_more_less_or_changed_is_told() -> None:
    assert _sealed(LINES[:2]) == ["changed-after-handover"]
    assert _sealed([*LINES, "20:50 A07 note late"]) == ["changed-after-handover"]
    assert _sealed([LINES[0].replace("2.90", "2.80"), *LINES[1:]]) == ["changed-after-handover"]


def test_two_files_of_one_shift_make_one_seal() -> None:
    own = "20:50 B01 running"
    assert _sealed(LINES, own) == ["changed-after-handover"]
    assert _sealed(LINES, own, [*LINES, own]) == []
    assert _sealed(LINES[:2], LINES[2]) == []  # a line may stand in either file


def test_a_seal_of_the_lines_by_hand() -> None:
    # the first six digits of: printf 'a\nb' | sha256sum
    seal = seal_of(["b", "a "])
    assert (seal.lines, seal.digest) == (2, "7e18f7")
