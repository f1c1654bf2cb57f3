"""Lines to vary: one of every kind, and a mutator that makes slips of the pen in them."""

from __future__ import annotations

from random import Random

from tests.grammar.test_entries import CLAUSES, OF_GROUPS, WRITERS

LINES: tuple[str, ...] = (
    *(f"22:40 A07 {clause}" for clause, _ in CLAUSES),
    *(f"22:40 {row[0]}" for row in OF_GROUPS),
    *(f"0905 b3 {row[0]}" for row in WRITERS),
    "2026-11-24T22:40+01:00 A01-A06 stopped for warp; note a; b; by RB",
    "day 2026-11-24 night by KM",
    "23:00 A07 stopped for part; isolated by KM lock 14; replaced left tape worn; batch 7F; "
    "torque clamp screws 0.80 N.m; thread-locked; checked joint ok; left tape 3.1 mm",
    "# a comment",
    "",
)

CLASSES = (
    "0123456789",
    "abcdefghijklmnopqrstuvwxyz",
    " \t\u00a0\u2003",
    ";,.:-+#/",
    "mMnNhH%°·²µ",
    "äÄßſİıŉﬁ①Ａ７\u0301\u0308\u1160\u11a8\u200b\u2028\u202e\ufeff張\U0001f9f5",
    "\x00\x07\x1b\x7f\x85\r\x1c",
)


def slip(line: str, random: Random) -> str:
    """The line with one slip: a character or word swapped, dropped, doubled or changed."""
    at = random.randrange(len(line) + 1)
    words = line.split(" ")
    word = random.randrange(len(words))
    match random.randrange(8):
        case 0:
            return line[:at] + line[at + 1 :]
        case 1:
            return line[:at] + line[at : at + 1] * 2 + line[at + 1 :]
        case 2:
            return line[:at] + line[at : at + 2][::-1] + line[at + 2 :]
        case 3:
            return line[:at] + random.choice(random.choice(CLASSES)) + line[at + 1 :]
        case 4:
            return line[:at] + random.choice(random.choice(CLASSES)) + line[at:]
        case 5:
            return " ".join(words[:word] + words[word + 1 :])
        case 6:
            return " ".join(words[: word + 1] + words[word:])
        case _:
            other = random.choice(LINES).split(" ")
            return " ".join([*words[:word], random.choice(other), *words[word + 1 :]])


def slips(line: str, random: Random) -> str:
    """The line with one to four slips."""
    for _ in range(random.randint(1, 4)):
        line = slip(line, random)
    return line
