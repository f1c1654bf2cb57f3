"""How fast it is and how it grows: every row of the table with its target, and what was reached.

    nice python -m tests.bench.run [--rows KEY,...] [--sizes 10k,100k,1m,5m] [--markdown]

The logs are invented by ``generate``, once for each size. Each row runs in a process of its own;
what a row is held against is measured beside it. Prints tables; judges nothing: a machine with much
else to do is slow for reasons of its own.
"""

from __future__ import annotations

import argparse
import json
import signal
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from tests.bench._machine import machine
from tests.bench._measuring import PREPARE
from tests.bench._place import Place
from tests.bench._process import Failed, Ran, run
from tests.bench._row import Reached, Result, Row
from tests.bench._rows import BY_KEY, ROWS
from tests.bench._table import growth_table, main_table, markdown, plain, size_of
from tests.bench.generate import SIZES

DEFAULT_SIZES = "10k,100k,1m"
SHEDS = Path(tempfile.gettempdir()) / "loomslate-bench"


def measured(row: Row, place: Place, longest_s: float) -> Result:
    """What became of a row at one size, given up after so long."""
    try:
        ran = _in_own_process(row.key, place, longest_s)
    except Failed as why:
        return Result(row=row, size=place.name, why=f"not measured: {why}")
    told = json.loads(ran.out.splitlines()[-1])
    if "why" in told:
        return Result(row=row, size=place.name, why=told["why"])
    reached = Reached(**told)
    peak = reached.peak_mib if reached.peak_mib is not None else ran.peak_mib
    return Result(row=row, size=place.name, reached=reached, peak_mib=peak)


def _in_own_process(key: str, place: Place, longest_s: float) -> Ran:
    arguments = [key, place.name, str(place.sheds), str(place.scratch), str(place.passes)]
    return run(
        [sys.executable, "-m", "tests.bench._measuring", *arguments],
        place.environ,
        longest_s=longest_s,
    )


def _prepare(place: Place, longest_s: float) -> None:
    """Builds the index that rows need, so that none of them is charged for it."""
    try:
        _in_own_process(PREPARE, place, longest_s)
    except Failed as why:
        place.cannot_be_indexed(f"not measured: the index was not built, {why}")


def measure_all(
    rows: Sequence[Row], sizes: Sequence[str], sheds: Path, passes: int, longest_s: float
) -> dict[tuple[str, str], Result]:
    """Every row at the sizes that it is told at."""
    results: dict[tuple[str, str], Result] = {}
    known: dict[object, Result] = {}  # two rows may tell of one measurement
    sheds.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="loomslate-scratch-") as scratch:
        for size in sizes:
            place = Place(sheds=sheds, scratch=Path(scratch), name=size, passes=passes)
            asked = [row for row in rows if row.grows or size_of(row, sizes) == size]
            if asked:
                place.make()
            if any(row.indexed for row in asked):
                _say(f"{size}: the index")
                _prepare(place, longest_s)
            for row in asked:
                _say(f"{size}: {row.what}")
                same = row.measure, size
                known[same] = known.get(same) or measured(row, place, longest_s)
                results[row.key, size] = replace(known[same], row=row)
    _say("")
    return results


def _say(text: str) -> None:
    """Which row is at work, on a terminal."""
    if sys.stderr.isatty():
        print(f"\r\x1b[K{text}", end="", file=sys.stderr, flush=True)


def _chosen(names: str, known: Sequence[str], parser: argparse.ArgumentParser) -> list[str]:
    """Names of a list in the order of the known ones."""
    asked = [name.strip() for name in names.split(",") if name.strip()]
    for name in asked:
        if name not in known:
            parser.error(f"there is no {name}; known are {', '.join(known)}")
    return [name for name in known if name in asked]


def main(arguments: Sequence[str] | None = None) -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    keys = ",".join(BY_KEY)
    parser.add_argument("--rows", default=keys, metavar="KEY,...", help=f"of {keys}")
    parser.add_argument("--sizes", default=DEFAULT_SIZES, help=f"of {','.join(SIZES)}")
    parser.add_argument("--markdown", action="store_true")
    parser.add_argument("--sheds", type=Path, default=SHEDS, help="where the logs are kept")
    parser.add_argument("--passes", type=int, default=3, help="how often each thing is repeated")
    parser.add_argument("--longest", type=float, default=900.0, help="for one row at one size [s]")
    options = parser.parse_args(arguments)
    sizes = _chosen(options.sizes, list(SIZES), parser)
    rows = [BY_KEY[key] for key in _chosen(options.rows, list(BY_KEY), parser)]
    if not sizes:
        parser.error("no size to measure at")
    on = machine()
    results = measure_all(rows, sizes, options.sheds, options.passes, options.longest)
    drawn = markdown if options.markdown else plain
    print(on)
    print(", ".join(f"{size}: {SIZES[size].entries:,} entries in {SIZES[size].files:,} files"
                    f" of {SIZES[size].looms} looms" for size in sizes))  # fmt: skip
    print()
    print(drawn(main_table(ROWS, results, sizes)))
    growth = growth_table(ROWS, results, sizes)
    if len(sizes) > 1 and len(growth) > 1:
        print()
        print(drawn(growth))


if __name__ == "__main__":
    signal.signal(
        signal.SIGTERM, lambda *_: sys.exit(128 + signal.SIGTERM)
    )  # what it started is ended too
    main()
