"""No text of a log is taken for what the index notes of a line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from board import cli
from board.commands import find as find_command
from board.index import words
from board.index.finding import find
from board.index.index import Index
from board.loading import Loaded, ReaderWhenNeeded, load, read_mill
from board.mill import Mill
from board.search import search
from board.searched import lines_in
from board.shell import Shell
from board.writing import numbers_given
from grammar.entries import Verb
from tests.conftest import NOW
from tests.index.agreeing import answers_must_agree

SIGNS = ("", "@", "x0", "@x0", "＠", "@ ", '"@"')
MARKS = (
    words.own_mark(0),
    words.own_mark(3),
    words.about_mark(3),
    words.read_of_loom(3),
    words.kind_mark("stopped"),
    words.verb_mark(Verb.REPLACED),
    words.writer_mark("KM"),
    words.part_mark("tape"),
    words.side_mark("left"),
    words.number_mark(700),
    words.number_mark(1) + "s",
    "@unread",
)
NOTES = [sign + mark.strip("@") for sign in SIGNS for mark in MARKS]
LOG = (
    "day 2026-11-20 early by TN\n07:00 A12 open no 4 look\n07:05 A04 stopped\n"
    + "".join(f"08:{i // 2:02} A0{1 + i % 3} note {note}\n" for i, note in enumerate(NOTES))
    + "".join(f"09:{i // 2:02} A02 {note}\n" for i, note in enumerate(NOTES))
)
QUESTIONS = [
    ["--loom", "A04"],
    ["--kind", "stopped"],
    ["--kind", "replaced"],
    ["--by", "KM"],
    ["--part", "tape"],
    ["A04"],
    ["own3"],
    ["@own3"],
    ["number70"],
    ["x0number700"],
    ["unraed"],
]


@pytest.fixture
def both(shed: Callable[..., Path], tmp_path: Path, shell: Shell) -> tuple[Loaded, Loaded, Index]:
    """A shed whose notes look like marks, read without an index and with one."""
    folder = shed({"a.log": LOG})
    mill = read_mill(folder)
    assert isinstance(mill, Mill), mill
    file = tmp_path / "i.sqlite"
    plain, indexed = (load(folder, mill, NOW, shell, at) for at in ("none", str(file)))
    return plain, indexed, Index(file, folder, mill, ReaderWhenNeeded(mill.vocabulary, {}))


def test_the_numbers_given_are_those_of_actions(both: tuple[Loaded, Loaded, Index]) -> None:
    plain, _, index = both
    with index.reads() as readings:
        given = words.numbers_given(readings.connection)
    assert given == numbers_given(x.entry for x in plain.snapshot.entries) == {4}


def test_what_is_asked_of_a_loom_is_told_alike(both: tuple[Loaded, Loaded, Index]) -> None:
    plain, indexed, _ = both
    answers_must_agree(indexed.snapshot, plain.snapshot)


@pytest.mark.parametrize("asked", QUESTIONS, ids=" ".join)
def test_a_search_finds_alike(asked: list[str], both: tuple[Loaded, Loaded, Index]) -> None:
    plain, _, index = both
    question = find_command.question_of(cli.parser("find").parse_args(["find", *asked]), plain.mill)
    assert find(index, NOW, question) == search(lines_in(plain.snapshot), question)


def test_no_word_of_a_text_is_a_mark() -> None:
    own = {word for mark in (*MARKS, *NOTES) for word in words.words_in(mark)}
    assert own
    assert own.isdisjoint(mark for mark in MARKS if " " not in mark)
    assert not any("@" in word for word in own)
