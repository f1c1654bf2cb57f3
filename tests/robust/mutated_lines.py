"""Lines of the language, damaged: slips of the pen, what copies and machines do, and hostile text."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from functools import cache

from tests.conftest import EXAMPLE
from tests.grammar.lines import LINES, slip, slips
from tests.robust.hostile import HEADING, ODD_TIMES, PAYLOADS, PLACES
from tests.robust.mutations import damaged


@cache
def lines_to_vary() -> tuple[str, ...]:
    """Every line of the example's logs, one of every kind, and hostile ones."""
    real = [line for f in sorted(EXAMPLE.rglob("*.log")) for line in f.read_text().splitlines()]
    hostile = [place.replace("{m:02}", "07") for place in PLACES]
    return (*real, *LINES * 20, *ODD_TIMES * 10, *hostile * 10)


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
        if way < 0.4:
            line = slip(line, dice)
        elif way < 0.65:
            line = slips(line, dice)
        data = line.encode("utf-8", "surrogatepass")
        if way >= 0.65:
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
