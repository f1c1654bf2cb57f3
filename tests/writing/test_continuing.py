"""What Tab offers: only what the grammar takes there, in the mill's words."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from board.mill import Mill
from board.record.register import read_register
from grammar.continuing import Continuations
from grammar.reader import Reader
from tests.writing.conftest import REGISTER


@pytest.fixture(scope="module")
def mill() -> Mill:
    found = read_register(REGISTER.encode())
    assert isinstance(found, Mill), found
    return found


@pytest.fixture(scope="module")
def words(mill: Mill) -> Continuations:
    return Continuations(mill.vocabulary)


@pytest.mark.parametrize(
    ("typed", "offered"),
    [
        ("a0", [f"A0{i}" for i in range(1, 10)]),
        ("a7", ["A07"]),
        ("A1", ["A10", "A11", "A12"]),  # not A01 as well: what was typed would be taken away
        ("22:40 b", ["B", "B01", "B02", "B03", "B04"]),
        ("A07 lo", ["lock removed by", "lock seen by"]),
        ("A07 lock s", ["seen by"]),
        ("A07 lock seen by ", ["KM", "RB"]),
        ("A07 isolated by k", ["KM"]),
        ("A07 left ", ["guide", "tape"]),
        ("A07 left b", ["band"]),
        ("A07 left tape ", ["gauge", "thickness"]),
        ("A07 brake ", ["angle", "gauge", "lining"]),
        ("A07 brake li", ["lining"]),
        ("A07 brake lining 3.1 ", ["mm"]),
        ("A07 brake angle 31", ["31 deg"]),
        ("A07 left tape 2.35m", ["2.35mm"]),
        ("A07 torque clamp screws 0.8 ", ["N.m", "cN.m", "kgf.cm", "lbf.in"]),
        ("A07 torque 0.8 c", ["cN.m"]),
        ("A07 counter 12 ", ["h", "picks"]),
        ("A07 stopped for w", ["warp", "weft"]),
        ("A07 stopped; isol", ["isolated by"]),
        ("A07 getau", ["getauscht"]),
        ("A07 getauscht links ", ["guide", "tape"]),
        ("A07 moved left tape from b", ["B01", "B02", "B03", "B04"]),
        ("A07 open look; d", ["done", "dropped", "due"]),
        ("A07 stopped; d", ["done", "dropped"]),  # due belongs to an action
        ("A07 open look; due ", ["before start", "early", "in", "late", "night"]),
        ("A07 open look; due before ", ["start"]),
        ("A07 done ", ["no 5", "no 31"]),
        ("A07 done no 3", ["31"]),
        ("A07 left guide 2 gap gauge 0.3 mm ", ["enters", "stays out"]),
        ("A07 left guide 2 gap gauge 0.3 mm stays ", ["out"]),
        ("A07 note noisy ", []),
        ("A07 nonsense ", []),
        ("", None),
        ("nonsense nonsense nonsense", []),
    ],
)
def test_offered(typed: str, offered: list[str] | None, words: Continuations) -> None:
    found = words.of(typed, ["KM", "RB"], lambda: [5, 31])
    if offered is None:
        assert {"A01", "B04", "A", "B", "shed"} == set(found) - {f"A{i:02}" for i in range(2, 13)} - {
            "B01", "B02", "B03",
        }  # fmt: skip
    else:
        assert sorted(found) == sorted(offered)


def test_numbers_are_asked_for_only_where_an_action_is_named(words: Continuations) -> None:
    def never() -> Iterable[int]:
        raise AssertionError("looked for open actions")

    assert words.of("A07 sto", [], never)
    with pytest.raises(AssertionError):
        words.of("A07 done ", [], never)


@pytest.mark.parametrize(
    "line",
    [
        "A07 stopped for warp; isolated by KM lock 14",
        "A07 left tape thickness 2.35 mm",
        "A07 brake lining 3.1 mm; note looks dry",
        "A07 lock removed by RB for KM; running",
        "A07 open look again; due before start; for RB",
        "shed handed over KM to RB",
    ],
)
def test_every_word_of_a_good_line_is_offered_from_its_beginning(
    line: str, mill: Mill, words: Continuations
) -> None:
    """Typed letter by letter, each key word, part, loom and name is among what Tab offers."""
    assert len(Reader(mill.vocabulary).read(f"day 2026-11-24 night\n22:40 {line}\n").entries) == 1
    free = {"lock", "14", "look", "again", "2.35", "3.1", "mm", "looks", "dry", "14;"}
    missed = []
    typed = ""
    for word in line.replace(";", " ;").split():
        if word == ";":
            typed = typed.rstrip() + "; "
            continue
        offered = words.of(typed + word[:1], ["KM", "RB"])
        if word not in free and not any(x.split()[0] == word for x in offered):
            missed.append(word)
        typed += word + " "
    assert missed == []
