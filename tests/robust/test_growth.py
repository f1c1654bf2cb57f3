"""Text that leads patterns astray costs time in proportion to its length, wherever it is looked at.

The terminals of the grammar are timed one by one in `tests/grammar/test_hostile.py`; here it is
what is done with lines that no terminal ever sees, as they are too long, or the register is wrong.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from time import process_time

import pytest

from board.raw_isolations import raw_isolations
from board.search import Question, search
from board.searched import lines_in
from board.show.find_screen import piped_lines
from board.show.problems import drawn_all
from board.show.text import clean, to_ascii
from grammar.reader import LastLine
from tests.grammar.mills import HEADING, READER
from tests.grammar.test_hostile import BITS
from tests.robust.any_text import Judge

LONG, LONGER = 8_192, 32_768  # [characters]
CHEAP = 0.020  # [s] that no one minds
MORE_BITS = (
    "lock removed by a ",
    "isolated by a for b ",
    "isolated  ",
    "is",
    "isola ",
    "lock\t",
    "\x1b[",
    "=",
)


def grows_in_proportion(
    work: Callable[[str], object], start: str, bit: str, sizes: tuple[int, int] = (LONG, LONGER)
) -> None:
    """Four times the text may take eight times as long, not sixteen."""

    def spent(size: int) -> float:
        text = start + bit * ((size - len(start)) // len(bit))
        begun = process_time()
        work(text)
        return process_time() - begun

    if spent(sizes[1]) < CHEAP:
        return
    long, longer = (min(spent(size) for _ in range(3)) for size in sizes)
    assert longer < max(long * 8, CHEAP), (start, bit, long, longer)


@pytest.mark.parametrize("bit", [*BITS[::2], *MORE_BITS], ids=ascii)
def test_lines_too_long_for_any_reader(bit: str, tmp_path: Path) -> None:
    log = tmp_path / "a.log"

    def raw(line: str) -> object:
        log.write_text(f"{line}\n", encoding="utf-8")
        return raw_isolations(tmp_path)

    def read(line: str) -> object:
        return READER.read(f"{HEADING}\n{line}", LastLine.GROWING)

    for start in ("", "22:40 A07 isolated by KM "):
        for work in (read, raw, clean, to_ascii):
            grows_in_proportion(work, start, bit)


@pytest.fixture(scope="module")
def judge(tmp_path_factory: pytest.TempPathFactory) -> Judge:
    return Judge(tmp_path_factory.mktemp("cache"))


@pytest.mark.parametrize(
    "bit", ["22:40 A07 nonsense ", "x\n", "22:40 A07 stopped\n", "\n"], ids=ascii
)
def test_logs_of_many_lines(judge: Judge, bit: str) -> None:
    def all_of_it(text: str) -> object:
        shed = judge.is_folded(text.encode(), judge.is_read(text.encode())[1])
        answer = search(lines_in(shed), Question(words=("nonsense",)))
        return drawn_all(shed.complaints), piped_lines(answer, shed.mill.zone, 0)

    grows_in_proportion(all_of_it, "", bit, (1_024, 4_096))
