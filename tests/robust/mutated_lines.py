"""Lines of the language, damaged: slips of the pen, what copies and machines do, and hostile text."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator, Sequence
from functools import cache

from tests.conftest import EXAMPLE
from tests.grammar.lines import LINES, slip, slips
from tests.robust.hostile import HEADING, ODD_TIMES, PAYLOADS, PLACES
from tests.robust.mutations import damaged

LOOMS = tuple(f"{section}{number:02}" for section in "AB" for number in range(1, 25))
CLAUSES = (
    "stopped for fault", "running", "fault cleared all", "isolated by RB", "lock removed by RB",
    "left tape 2.60 mm", "replaced left head", "note seen", "checked joint ok", "struck 22:40 wrong",
    "torque 1.4 N.m", "open look again; due early", "done no 3", "counter 100 h new", "by KM",
)  # fmt: skip


@cache
def lines_to_vary() -> tuple[str, ...]:
    """Every line of the example's logs, one of every kind, and hostile ones."""
    real = [line for f in sorted(EXAMPLE.rglob("*.log")) for line in f.read_text().splitlines()]
    hostile = [place.replace("{m:02}", "07") for place in PLACES]
    return (*real, *LINES * 20, *ODD_TIMES * 10, *hostile * 10)


def altered(line: str, dice: random.Random) -> str:
    """The line with something else in it that most often can be read: it then means another thing."""
    match dice.randrange(6):
        case 0 | 1:
            return "".join(
                str(dice.randrange(10)) if c in "0123456789" and dice.random() < 0.2 else c
                for c in line
            )
        case 2:
            return re.sub(r"\b[AB][0-9]{2}\b", lambda _: dice.choice(LOOMS), line)
        case 3:
            return line.replace(" ", dice.choice(("  ", "\t", " \u00a0")))
        case 4:
            return dice.choice((line.upper, line.casefold))()
        case _:
            head, _, last = line.rpartition("; ")
            return f"{head or line}; {dice.choice(CLAUSES)}; {last}".rstrip("; ")


class Mutator:
    """Damaged lines by a seeded generator; ``made`` counts them."""

    def __init__(self, seed: int, lines: Sequence[str] | None = None) -> None:
        self._dice = random.Random(seed)
        self._lines = lines_to_vary() if lines is None else lines
        self._payloads = sorted(PAYLOADS.values())
        self.made = 0

    def line(self) -> bytes:
        """A damaged line, or what the damage has made of it: perhaps several."""
        dice = self._dice
        line = dice.choice(self._lines).replace("{}", dice.choice(self._payloads))
        way = dice.random()
        if way < 0.5:
            line = altered(line, dice)
        elif way < 0.7:
            line = slip(line, dice)
        elif way < 0.8:
            line = slips(line, dice)
        data = line.encode("utf-8", "surrogatepass")
        if way >= 0.8:
            data = damaged(dice, data, most=2)
        self.made += data.count(b"\n") + 1
        return data

    def texts(self, lines_each: int) -> Iterator[bytes]:
        """Texts of so many damaged lines, without end, a good heading above every eighth of them.

        In half of them the last line has no newline.
        """
        while True:
            lines = [HEADING if n % 8 == 0 else self.line() for n in range(lines_each * 9 // 8)]
            joined = b"\n".join(lines)
            yield joined if self._dice.random() < 0.5 else joined + b"\n"
