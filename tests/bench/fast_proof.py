"""A million damaged lines, each read fast and by Lark alone, and every word of both compared.

    nice python -m tests.bench.fast_proof [--lines 1000000] [--seed 1]

The lines are those of the tests and of the example, with slips of the pen, characters changed for
others of their kind, clauses of other lines behind them, and damaged whole files between. Several
mills in turn. A line that the fast path leaves to Lark is read by Lark either way, so most lines
are first put to the fast path alone, and what it took is compared; one text in so many is compared
whole, with all complaints. Prints how many were read, fast and by Lark; exits with 1 at the first
difference.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from random import Random
from time import monotonic

from board.mill import Mill
from board.record.register import read_register
from grammar.diagnostics import Code, Diagnostic, LineRefused
from grammar.entries import Span
from grammar.reader import LastLine, Reader
from grammar.vocabulary import Vocabulary
from tests.grammar.fast_same import differs, everything, first_difference, readers, same_kind
from tests.grammar.lines import LINES, slips
from tests.grammar.mills import HEADING
from tests.grammar.test_fast import LINES_OF, MILLS
from tests.robust.mutations import damaged

FOLDER = Path(__file__).parents[2] / "logs_example"
_BATCH = 40  # lines of a text
_WHOLE = 10  # one text in so many is compared whole
HEADINGS = (HEADING, "day 2026-11-24 early", "day 2026-10-25 night by RB", "day 2026-03-29 night")


def damaged_line(lines: Sequence[str], random: Random) -> str:
    """One line, changed in one way or several, or as it was."""
    line = random.choice(lines)
    if random.random() < 0.15:
        line += "; " + random.choice(lines).partition(" ")[2].partition(" ")[2]
    match random.randrange(10):
        case 0:
            return line
        case 1 | 2 | 3:
            return slips(line, random).replace("\n", " ")
        case _:
            return same_kind(line, random).replace("\n", " ")


def example() -> tuple[Vocabulary, list[str], list[bytes]]:
    """The words, lines and files of the example."""
    register = read_register((FOLDER / "shed.toml").read_bytes())
    assert isinstance(register, Mill)
    files = [path.read_bytes() for path in sorted(FOLDER.rglob("*.log"))]
    lines = [line for file in files for line in file.decode("utf-8", "replace").split("\n")]
    return register.vocabulary, lines, files


class _Left(Reader):
    """A reader that leaves out every line that Lark would have to read."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        super().__init__(vocabulary)
        self.derive()
        self._lark = self  # type: ignore[assignment]

    def parse(self, *_: object, **__: object) -> None:
        """What Lark is asked, unanswered."""
        raise LineRefused(_ANY)

    def _refuse(self, *_: object) -> None:
        pass

    def _complain(self, *_: object) -> None:
        pass


_ANY = Diagnostic(
    code=Code.NOT_UNDERSTOOD, message="left to Lark", line=0, span=Span(0, 1), text=""
)


def taken(left: Reader, lines: list[str], heading: str) -> list[str]:
    """The lines with a comment in the place of each that the fast path did not take."""
    reading = left.read("\n".join([heading, *lines, ""]))
    assert not reading.notices, reading.notices
    kept = {entry.line for entry in reading.entries} | {found.line for found in reading.headings}
    return [line if number in kept else "#" for number, line in enumerate(lines, start=2)]


def compared(
    pair: tuple[Reader, Reader], left: Reader, lines: Sequence[str], count: int, random: Random
) -> None:
    """Reads so many lines with both. Raises AssertionError at the first difference."""
    for number in range(count // _BATCH):
        batch = [damaged_line(lines, random) for _ in range(_BATCH)]
        heading = random.choice(HEADINGS) if random.random() < 0.3 else HEADINGS[0]
        if number % _WHOLE:
            batch = taken(left, batch, heading)
        found = first_difference(*pair, batch, heading)
        assert found is None, (heading, found, pair[0].alone)


def main() -> int:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    random, begun = Random(options.seed), monotonic()
    words, lines, files = example()
    mills = [(words, lines), *((MILLS[name], LINES_OF.get(name, LINES)) for name in MILLS)]
    read, fast, whole, rounds = 0, 0, 0, 0
    while read < options.lines:
        vocabulary, own = mills[rounds % len(mills)]
        rounds += 1
        pair = readers(vocabulary)
        compared(pair, _Left(vocabulary), own, 20_000, random)
        read += 20_000
        fast += pair[0].read_fast
        if vocabulary is words:
            for _ in range(5):
                data = damaged(random, random.choice(files))
                for last in LastLine:
                    assert not differs(*pair, data, last), data
                whole += data.count(b"\n")
            if rounds == 1:
                for file in files:
                    assert everything(pair[0].read(file)) == everything(pair[1].read(file))
        print(f"{read:>9,} lines, {monotonic() - begun:.0f} s", file=sys.stderr, flush=True)
    print(
        f"{read:,} damaged lines and {whole:,} of damaged files: no difference;"
        f" {fast:,} entries read fast; {rounds} readers; seed {options.seed};"
        f" {monotonic() - begun:.0f} s"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
