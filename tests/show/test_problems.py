"""Complaints as text: the caret stands under its place, whatever stands before it."""

from __future__ import annotations

import pytest

from board.show.problems import complaint_record, drawn, drawn_all
from board.show.text import width
from board.state.fleet import Complaint
from grammar.diagnostics import Code, Diagnostic
from grammar.entries import Span


def complaint(text: str, word: str, label: str = "", help: str = "") -> Complaint:
    start = text.index(word)
    diagnostic = Diagnostic(
        code=Code.UNKNOWN_PART, message="there is no part tpae", line=7,
        span=Span(start, start + len(word)), text=text, label=label, help=help,
    )  # fmt: skip
    return Complaint(path="2026/a.log", diagnostic=diagnostic)


def test_four_lines() -> None:
    made = complaint("22:40 A07 left tpae 2.35 mm", "tpae", "no such part", "did you mean tape?")
    assert drawn(made) == (
        "2026/a.log:7:16: refused unknown-part: there is no part tpae\n"
        "  22:40 A07 left tpae 2.35 mm\n"
        "                 ^^^^ no such part\n"
        "  help: did you mean tape?"
    )


@pytest.mark.parametrize(
    ("before", "cells"),
    [
        ("22:40 A07 ", 10),
        ("22:40 A07 müde ", 15),
        ("22:40 A07 疲れ ", 15),  # two cells each
        ("22:40 A07 e\u0301 ", 12),  # a combining accent takes none
        ("22:40\tA07 ", 10),
        ("22:40 \x1b[31m ", 12),
    ],
)
def test_the_caret_counts_cells(before: str, cells: int) -> None:
    _, shown, caret, *_ = drawn(complaint(f"{before}tpae 2 mm", "tpae")).split("\n")
    assert caret.index("^") == 2 + cells
    assert caret.count("^") == 4
    assert not any(ord(c) < 0x20 for c in shown)


@pytest.mark.parametrize("columns", [22, 40, 80])
@pytest.mark.parametrize("filling", ["abcd ", "疲れた "])
@pytest.mark.parametrize("after", ["", " more" * 60])
def test_of_a_long_line_the_place_is_shown(columns: int, filling: str, after: str) -> None:
    made = complaint(f"{filling * 40}tpae{after}", "tpae")
    _, shown, caret, *_ = drawn(made, columns).split("\n")
    assert width(shown) <= columns
    assert width(caret) <= columns
    at = caret.index("^")
    cells = "".join(c + ("\0" if width(c) == 2 else "") for c in shown)
    assert cells[at : at + 4] == "tpae"


def test_a_line_that_is_cut_at_its_end_says_so() -> None:
    _, shown, *_ = drawn(complaint("22:40 A07 tpae" + " more" * 60, "tpae")).split("\n")
    assert shown.endswith("~")
    assert width(shown) <= 80


def test_a_place_behind_the_end_of_the_line_has_its_caret() -> None:
    diagnostic = Diagnostic(
        code=Code.UNIT_MISSING, message="m", line=1, span=Span(14, 14), text="22:40 A07 27.5"
    )
    _, _, caret, *_ = drawn(Complaint(path="a", diagnostic=diagnostic)).split("\n")
    assert caret == "  " + " " * 14 + "^"


def test_several_stand_apart_and_the_record_counts_characters_from_one() -> None:
    made = complaint("22:40 A07 疲れ tpae", "tpae")
    assert drawn_all([made, made]).count("\n\n") == 1
    record = complaint_record(made)
    assert record["text"][record["column"] - 1 : record["end_column"] - 1] == "tpae"
    assert (record["path"], record["line"], record["severity"]) == ("2026/a.log", 7, "refused")
