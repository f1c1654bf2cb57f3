"""No line is dear to read: the time grows with the length, and the longest line is cheap.

Every terminal of the grammar, and whole lines that are read, refused and explained, on text made
to lead patterns astray. Times are of processor time, the best of several, so that a busy machine
does not fail the test.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from time import process_time

import pytest

from grammar.decoding import LONGEST_LINE
from tests.grammar.mills import HEADING, READER

SOON = 0.001  # [s] is not measured again
DEAREST = 0.060  # [s] for a line of 4,096 bytes, on a slow and busy machine

BITS = (
    "1", "1 ", "1.", "1,1 ", "1 mm ", "1 mm", "-", "- ", " ", "\t ", ";", "; ", ";by ", "; by a ",
    "; by a b", "a", "a ", "ok ", "ok;", "ok bad ", "no 1 ", "left ", "left tape ", "tape 1 ",
    "tape 1 gap ", "gauge 1 mm ", "gemessen ", "heute left ", "stopped for ", "isolated by ",
    "isolated by a;", "isolatde;", "siolated ", "detalosi ", "lock ", "replaced left ", "due in 1 ",
    "2026-11-24 ", "2026-11-24t22:40", "22:40 ", "by ", "for ", "note ;", "in ", "1 in ", "1/min ",
    "ö", "o\u0308", "\u0308", "ﬁ", "ﷺ", "İ", "\u1160", "\x00", "\u2028", ".", ",", ", .",
    "detaloise lock", "thread lock ", "thread-", "isol-", "x;isolated by",
)  # fmt: skip

STARTS = (
    "", "22:40 A07 ", "22:40 ", "day ", "day 2026-11-24 ", "22:40 A07 note ", "22:40 A07 fault ",
    "22:40 A07 torque ", "22:40 A07 checked ", "22:40 A07 left tape ", "22:40 A07 left guide 3 gap ",
    "22:40 A07 replaced left tape ", "22:40 A07 open no 31 x; due ", "22:40 A07 isolated by ",
    "22:40 A07 stopped for ", "22:40 A07 done ", "22:40 A07 counter ", "22:40 A07 nonsense; ",
)  # fmt: skip


def best(work: Callable[[], object], tries: int = 3, enough: float = DEAREST / 4) -> float:
    """The least processor time [s] of so many tries, ending early once it is cheap enough."""
    least = float("inf")
    for _ in range(tries):
        begun = process_time()
        work()
        least = min(least, process_time() - begun)
        if least < enough:
            break
    return least


def long_line(start: str, bit: str, size: int = LONGEST_LINE) -> str:
    room = size - len(start.encode())
    return start + bit * (room // len(bit.encode()))


@pytest.mark.parametrize("start", STARTS)
def test_the_longest_line_is_cheap(start: str) -> None:
    READER.read(f"{HEADING}\n22:40 A07 isolatd\n")  # the explainer is made for the first complaint
    for bit in BITS:
        for end in ("", "x", "; stoped"):
            line = long_line(start, bit, LONGEST_LINE - len(end)) + end
            assert len(line.encode()) <= LONGEST_LINE
            text = f"{HEADING}\n{line}\n"
            spent = best(lambda text=text: READER.read(text), 5)  # type: ignore[misc]
            assert spent < DEAREST, (start, bit, end, spent)


def test_a_file_of_one_endless_line() -> None:
    text = f"{HEADING}\n22:40 A07 note {'isolatde x ' * 200_000}"
    assert best(lambda: READER.read(text)) < 2.0


PATTERNS = {t.name: re.compile(t.pattern.to_regexp()) for t in READER._lark.terminals}


@pytest.mark.parametrize("name", sorted(PATTERNS))
def test_a_terminal_takes_time_in_proportion(name: str) -> None:
    """Four times the text may take eight times as long, not sixteen."""
    pattern = PATTERNS[name]
    for bit in BITS:
        for start in ("", "torque ", "left tape ", "replaced ", "isolated by "):
            short, long = (long_line(start, bit, size) for size in (4096, 16384))
            once = best(partial(pattern.match, short), 5, SOON)
            again = best(partial(pattern.match, long), 5, SOON)
            assert again < max(once * 8, 0.004), (name, start, bit, once, again)
