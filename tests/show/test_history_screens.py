"""Golden screens of what looks back: find, repeats, and a loom's charts in ASCII."""

from __future__ import annotations

import os

import pytest

from board.show.text import width
from tests.conftest import EXAMPLE, Run
from tests.show.test_screens import GOLDEN

AT = ("--folder", str(EXAMPLE), "--at", "2026-11-25T06:00")

SCREENS = {
    "find-80": ("find", "drops", "weft", "--loom", "B03", *AT, "--width", "80"),
    "find-around-120": (
        "find", "verliert", "den", "schuss", "--from", "2026-11-18", "--around", "2", *AT,
        "--width", "120",
    ),
    "find-piped": ("find", "--part", "cutter", "--kind", "replaced", "--from", "2026-11-20", *AT),
    "find-refused": ("find", "isolatd", *AT, "--width", "80"),
    "repeats-80": ("repeats", *AT, "--width", "80"),
    "repeats-120": ("repeats", *AT, "--part", "gripper", "--most", "2", "--width", "120"),
    "repeats-loom": ("repeats", *AT, "--loom", "a9", "--width", "80", "--ascii"),
    "loom-a09-charts-ascii": (
        "loom", "A09", *AT, "--width", "80", "--charts", "4", "--most", "5", "--ascii",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", SCREENS)
def test_golden_screen(name: str, run: Run) -> None:
    outcome = run(*SCREENS[name])
    golden = GOLDEN / f"{name}.txt"
    if os.environ.get("BLESS"):
        golden.write_text(outcome.out, encoding="utf-8")
    assert outcome.out == golden.read_text(encoding="utf-8")
    assert outcome.err == ""


@pytest.mark.parametrize("cells", [40, 80, 120, 200])
@pytest.mark.parametrize("command", [("find", "drops", "weft"), ("repeats",), ("loom", "B03")])
def test_screens_keep_to_their_width(command: tuple[str, ...], cells: int, run: Run) -> None:
    out = run(*command, *AT, "--width", str(cells)).out
    assert max(map(width, out.splitlines())) <= cells


def test_the_word_safe_is_on_no_screen(run: Run) -> None:
    for arguments in SCREENS.values():
        assert "safe" not in run(*arguments).out.casefold()


@pytest.mark.parametrize("name", ["repeats-loom", "loom-a09-charts-ascii"])
def test_ascii_is_ascii(name: str, run: Run) -> None:
    assert run(*SCREENS[name]).out.isascii()


def test_the_repeat_of_b03_and_its_new_head_stand_first(run: Run) -> None:
    out = run(*SCREENS["repeats-80"]).out
    first = out[: out.index("\nA09 ")]
    assert "B03 right head: drops weft   3 times in 6 days, OPEN" in first
    assert "came again although the right head was replaced" in first


def test_the_fault_that_went_along_with_its_head_is_told_with_its_counts(run: Run) -> None:
    out = " ".join(run(*SCREENS["repeats-80"]).out.split())
    assert "drops weft went along with the part: left head of A09 to A16" in out
    assert "with it on A09 before; 1 fault in" in out


def test_nobody_is_counted_or_named_in_repeats(run: Run) -> None:
    import re

    out = run(*SCREENS["repeats-80"]).out
    assert not re.search(r"\b(KM|RB|TN|JO|DW|EP|HS|UB)\b", out)
