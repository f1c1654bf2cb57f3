"""A search by way of the index finds what a search of the whole record finds, in fewer logs."""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest

from tests.conftest import EXAMPLE

QUESTIONS = [
    ["drops", "weft"],
    ["weft", "--loom", "B03"],
    ["b03"],
    ["B3"],
    ["tape"],
    ["band"],
    ["left", "tape", "--part", "tape"],
    ["2.3"],
    ["no", "such", "word"],
    ["isolatd"],
    ["-"],
    ["knock", "--around", "2"],
    ["brake", "--around", "3", "--loom", "B19"],
    ["--kind", "isolated"],
    ["--kind", "replaced"],
    ["--kind", "lock-removed", "--around", "1"],
    ["--by", "km"],
    ["--by", "KM", "--kind", "note"],
    ["--part", "guide", "--side", "left"],
    ["--side", "right", "drop"],
    ["--style", "S7"],
    ["--loom", "A7"],
    ["--loom", "A07", "--from", "2026-11-10", "--to", "2026-11-12"],
    ["--from", "2026-11-24", "--to", "2026-11-24"],
    ["handed"],
    ["struck"],
    ["x0own3"],
    ["e"],
    ["§"],
]


def answers(run, args: list[str], index: str) -> tuple[int, object]:
    command = ["find", *args, "--folder", str(EXAMPLE), "--at", "2026-11-25T06:00", "--json"]
    done = run(*command, "--index", index)
    return done.code, json.loads(done.out) if done.out else done.err


@pytest.mark.parametrize("asked", QUESTIONS, ids=" ".join)
def test_the_answer_is_that_of_the_whole_record(run, tmp_path_factory, asked: list[str]) -> None:
    index = tmp_path_factory.getbasetemp() / "finding.sqlite"
    assert answers(run, asked, str(index)) == answers(run, asked, "none")


def test_random_pieces_of_lines_are_found_alike(run, tmp_path_factory) -> None:
    index = tmp_path_factory.getbasetemp() / "finding.sqlite"
    dice = random.Random(4)
    lines = [
        text
        for file in sorted(EXAMPLE.rglob("*.log"))
        for text in file.read_text(encoding="utf-8", errors="replace").splitlines()
        if text.strip()
    ]
    for _ in range(12):
        text = dice.choice(lines)
        at = dice.randrange(len(text))
        piece = text[at : at + dice.randint(3, 12)].strip()
        if not piece or piece.startswith("-"):
            continue
        around = ["--around", "1"] if dice.random() < 0.5 else []
        asked = [piece, *around]
        assert answers(run, asked, str(index)) == answers(run, asked, "none"), piece


def test_a_rare_word_opens_few_logs(run, tmp_path: Path, monkeypatch) -> None:
    from board.index import readings

    index = str(tmp_path / "few.sqlite")
    answers(run, ["isolatd"], index)
    opened: list[int] = []
    real = readings.Readings.of

    def of(self: readings.Readings, id: int):  # type: ignore[no-untyped-def]
        opened.append(id)
        return real(self, id)

    monkeypatch.setattr(readings.Readings, "of", of)
    code, found = answers(run, ["isolatd"], index)
    assert code == 0
    assert isinstance(found, dict)
    assert found["total"] >= 1
    assert len(set(opened)) < 30
