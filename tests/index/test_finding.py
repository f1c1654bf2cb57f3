"""A search by way of the index finds what a search of the whole record finds, in fewer logs."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pytest

from board import cli
from board.commands import find as find_command
from board.index import readings
from board.index.finding import find
from board.index.index import Index
from board.index.tails import Tail
from board.loading import Loaded, ReaderWhenNeeded, load, read_mill
from board.mill import Mill
from board.search import Answer, search
from board.searched import lines_in
from board.shell import Shell
from board.state.written import of_loom
from grammar.entries import Entry
from grammar.readings import Reading
from tests.conftest import EXAMPLE, NOW, Run
from tests.index.agreeing import answers_must_agree

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
    ["isolated"],
    ["isolated", "--around", "1"],
    ["gesperrt"],
    ["lock"],
    ["removed"],
    ["seen", "KM"],
    ["cleared"],
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
    ["--loom", "B17", "--kind", "moved"],
    ["--loom", "B17", "--around", "2"],
    ["--kind", "moved", "--around", "2"],
    ["--loom", "A07", "--from", "2026-11-10", "--to", "2026-11-12"],
    ["--from", "2026-11-24", "--to", "2026-11-24"],
    ["handed"],
    ["struck"],
    ["x0own3"],
    ["e"],
    ["§"],
]


@dataclass(frozen=True)
class Searched:
    """The example shed, read without an index and with one."""

    plain: Loaded
    indexed: Loaded
    index: Index

    def answers(self, args: list[str]) -> tuple[Answer, Answer]:
        asked = cli.parser("find").parse_args(["find", *args])
        question = find_command.question_of(asked, self.plain.mill)
        return (
            search(lines_in(self.plain.snapshot), question, around=asked.around),
            find(self.index, NOW, question, around=asked.around),
        )


@pytest.fixture(scope="module")
def searched(tmp_path_factory: pytest.TempPathFactory, shell: Shell) -> Searched:
    mill = read_mill(EXAMPLE)
    assert isinstance(mill, Mill)
    index = str(tmp_path_factory.mktemp("index") / "finding.sqlite")
    return Searched(
        plain=load(EXAMPLE, mill, NOW, shell, "none"),
        indexed=load(EXAMPLE, mill, NOW, shell, index),
        index=Index(Path(index), EXAMPLE, mill, ReaderWhenNeeded(mill.vocabulary, {})),
    )


@pytest.mark.parametrize("asked", QUESTIONS, ids=" ".join)
def test_the_answer_is_that_of_the_whole_record(searched: Searched, asked: list[str]) -> None:
    whole, found = searched.answers(asked)
    assert found == whole


def test_the_questions_find_something(searched: Searched) -> None:
    assert sum(len(searched.answers(asked)[0].hits) > 0 for asked in QUESTIONS) > 20


def test_random_pieces_of_lines_are_found_alike(searched: Searched) -> None:
    dice = random.Random(4)
    lines = [
        text
        for file in sorted(EXAMPLE.rglob("*.log"))
        for text in file.read_text(encoding="utf-8", errors="replace").splitlines()
        if text.strip()
    ]
    for _ in range(40):
        text = dice.choice(lines)
        at = dice.randrange(len(text))
        piece = text[at : at + dice.randint(3, 12)].strip()
        if not piece or piece.startswith("-"):
            continue
        whole, found = searched.answers(
            [piece, *(["--around", "1"] if dice.random() < 0.5 else [])]
        )
        assert found == whole, piece


def test_what_is_asked_of_all_entries_is_told_from_the_index(searched: Searched) -> None:
    answers_must_agree(searched.indexed.snapshot, searched.plain.snapshot)


def test_the_history_of_a_loom_opens_no_log_that_need_not_be_read(
    searched: Searched, monkeypatch: pytest.MonkeyPatch
) -> None:
    read: list[int] = []
    real = readings.Readings.entries_at

    def entries_at(self: readings.Readings, id: int, lines: Iterable[int]) -> Sequence[Entry]:
        read.append(id)
        return real(self, id, lines)

    monkeypatch.setattr(readings.Readings, "entries_at", entries_at)
    told = of_loom(searched.indexed.snapshot.entries, "B03", NOW, 5)
    assert len(told.newest) == 5
    assert told.number > 40
    assert len(read) < 12


def test_a_rare_word_opens_few_logs(searched: Searched, monkeypatch: pytest.MonkeyPatch) -> None:
    opened: set[int] = set()
    real = readings.Readings.of

    def of(self: readings.Readings, id: int) -> Reading:
        opened.add(id)
        return real(self, id)

    monkeypatch.setattr(readings.Readings, "of", of)
    _, found = searched.answers(["isolatd"])
    assert len(found.hits) >= 1
    assert len(opened) < 30


def test_the_end_of_the_record_is_folded_only_where_it_bears_on_what_is_found(
    searched: Searched, monkeypatch: pytest.MonkeyPatch
) -> None:
    folded: list[datetime] = []
    real = Index.tail

    def tail(self: Index, as_of: datetime) -> Tail:
        folded.append(as_of)
        return real(self, as_of)

    monkeypatch.setattr(Index, "tail", tail)
    whole, found = searched.answers(["--loom", "B03", "--to", "2026-11-12"])
    assert found == whole
    assert found.hits
    assert not folded
    for asked in (["b03"], ["--style", "S7", "--to", "2026-11-12"]):
        whole, found = searched.answers(asked)
        assert found == whole
        assert folded
        folded.clear()


DAYS = {
    f"{day:02}.log": f"day 2026-11-{day:02} early by KM\n07:00 A07 note number{day}\n"
    for day in range(1, 25)
}


def found_in(
    logs: dict[str, str], asked: Sequence[str], shed: Callable[..., Path], run: Run
) -> list[str]:
    """What a search prints without an index, which it must print with one, too."""
    folder = shed({**DAYS, **logs})
    options = ("find", *asked, "--folder", str(folder), "--index")
    whole = run(*options, "none")
    index = str(folder.parent / "odd.sqlite")
    run("board", str(folder), "--index", index)
    assert run(*options, index) == whole
    assert whole.code == 0
    return re.findall(r"number(\d+)|zzyx", whole.out)


def test_around_a_line_without_a_time_are_the_last_lines_before_the_moment_asked_for(
    shed: Callable[..., Path], run: Run
) -> None:
    logs = {"odd.log": "25:99 A07 zzyx gibberish\n"}
    around = ["zzyx", "--around", "2"]
    assert "10" in found_in(logs, [*around, "--at", "2026-11-10T12:00"], shed, run)
    assert "24" in found_in(logs, around, shed, run)


def test_a_line_that_tells_no_time_is_as_late_as_the_entry_above_it(
    shed: Callable[..., Path], run: Run
) -> None:
    late = "day 2026-10-05 early by TN\n07:00 A07 note x\n2026-10-07T10:00 A07 note late\n"
    logs = {"odd.log": f"{late}25:99 A07 zzyx gibberish\n"}
    assert found_in(logs, ["zzyx", "--from", "2026-10-06"], shed, run)


def test_a_line_that_was_not_read_is_as_late_as_it_says(
    shed: Callable[..., Path], run: Run
) -> None:
    """The entry above it was written for the end of the shift, the line for its middle."""
    logs = {
        "odd.log": "day 2026-11-09 early by TN\n13:00 A07 note number91\n07:30 A07 zzyx gibberish\n"
    }
    until = ["A07", "--from", "2026-11-09", "--to", "2026-11-09T12:00"]
    assert found_in(logs, until, shed, run) == ["9", ""]
    assert found_in(logs, ["zzyx", "--around", "1"], shed, run) == ["9", "", "91"]


def test_lines_of_which_no_time_is_known_are_not_counted_as_neighbours(
    shed: Callable[..., Path], run: Run
) -> None:
    """Two lines stand in the log before the hit's and are ten days later."""
    later = "day 2026-11-19 early by TN\n07:10 A07 gibberish\n07:20 A07 gibberish\n"
    logs = {
        "09.log": f"day 2026-11-09 early by TN\n07:00 A08 note y\n{later}",
        "10.log": "day 2026-11-10 early by KM\n07:00 A07 note zzyx\n",
    }
    assert "7" in found_in(logs, ["zzyx", "--around", "2"], shed, run)


def test_the_command_prints_the_same_with_an_index(run: Run, tmp_path: Path) -> None:
    asked = ("find", "knock", "--around", "1", "--folder", str(EXAMPLE), "--json", "--index")
    assert run(*asked, str(tmp_path / "x.sqlite")) == run(*asked, "none")
