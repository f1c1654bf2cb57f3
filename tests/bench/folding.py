"""How fast entries are folded into the state of the shed, on one core.

Folds the entries of the example, and the same over again moved on in time, so that series, lives
and facts grow as they do over years. The best pass counts, as all else that the machine does only
slows a pass down. Prints a table; judges nothing.

    python -m tests.bench.folding [PASSES]
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from board.mill import Mill
from board.record.register import read_register
from board.state.fold import fold
from board.state.logged import Logged
from board.state.usage import clocks, disagreements
from grammar.reader import Reader
from tests.bench.reading import best

FOLDER = Path(__file__).parents[2] / "logs_example"
AS_OF = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
SPAN = timedelta(days=42)  # the example's weeks, so that a shift falls on the same day again
TIMES_OVER = (1, 8)


def example(mill: Mill) -> list[Logged]:
    """The entries of the example."""
    reader = Reader(mill.vocabulary)
    return [
        Logged(path=path.relative_to(FOLDER).as_posix(), entry=entry)
        for path in sorted(FOLDER.rglob("*.log"))
        for entry in reader.read(path.read_bytes()).entries
    ]


def over_again(entries: list[Logged], times: int) -> list[Logged]:
    """The same entries so many times, each time earlier by the example's weeks."""
    return [
        Logged(
            path=f"{n:03d}/{logged.path}",
            entry=replace(
                logged.entry,
                when=logged.entry.when - n * SPAN,
                latest=logged.entry.latest - n * SPAN,
            ),
        )
        for n in range(times)
        for logged in entries
    ]


def main(passes: int) -> None:
    """Measures and prints."""
    mill = read_register((FOLDER / "shed.toml").read_text("utf-8"))
    assert isinstance(mill, Mill)
    own = example(mill)
    print(f"{'entries':>9} {'clauses':>9} {'fold':>9} {'an entry':>9} {'clocks':>9} {'meters':>9}")
    for times in TIMES_OVER:
        entries = over_again(own, times)
        clauses = sum(len(x.entry.clauses) for x in entries)
        fleet = fold(entries, mill, AS_OF)
        work: list[Callable[[], object]] = [
            lambda entries=entries: fold(entries, mill, AS_OF),  # type: ignore[misc]
            lambda fleet=fleet: clocks(fleet, mill),  # type: ignore[misc]
            lambda fleet=fleet: disagreements(fleet, mill),  # type: ignore[misc]
        ]
        took, clocked, metered = (best(each, passes) for each in work)
        print(
            f"{len(entries):>9,} {clauses:>9,} {took * 1e3:>6.0f} ms"
            f" {took / len(entries) * 1e6:>6.1f} us {clocked * 1e3:>6.1f} ms {metered * 1e3:>6.1f} ms"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
