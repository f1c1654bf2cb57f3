"""A million damaged lines, read, counted, reckoned and shown; what must hold of every one of them.

    nice python -m tests.bench.fuzz_lines [--lines 1000000] [--seed 1] [--each 200]

Exits with 1 at the first text that does not hold, and writes it beside its seed to be tried again:

    python -m tests.bench.fuzz_lines --text FILE
"""

from __future__ import annotations

import argparse
import resource
import sys
import tempfile
import time
from pathlib import Path

from tests.robust.any_text import Judge
from tests.robust.counting import Count
from tests.robust.mutated_lines import Mutator

PROGRESS = 100_000  # lines


def tried(judge: Judge, mutator: Mutator, each: int, lines: int, found: Path) -> Count:
    """The count of so many lines. A text that does not hold is left at ``found``."""
    total = Count()
    slowest, told = 0.0, 0
    for text in mutator.texts(each):
        begun = time.process_time()
        try:
            total += judge.must_hold(text)
        except Exception:
            found.write_bytes(text)
            print(f"this text does not hold: {found}", file=sys.stderr)
            raise
        slowest = max(slowest, time.process_time() - begun)
        if mutator.made // PROGRESS > told:
            told = mutator.made // PROGRESS
            print(f"{mutator.made} lines held", flush=True)
        if mutator.made >= lines:
            break
    print(f"the slowest text took {slowest:.2f} s")
    return total


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lines", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--each", type=int, default=200)
    parser.add_argument("--text", type=Path)
    options = parser.parse_args()
    begun = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="loomslate-fuzz-") as cache:
        judge = Judge(Path(cache))
        if options.text is not None:
            text = options.text.read_bytes()
            judge.is_read_alone(text)
            judge.is_shown(judge.is_folded(text, judge.is_read(text)[1]))
            print("it holds")
            return
        mutator = Mutator(options.seed)
        found = Path(f"fuzz-lines-seed-{options.seed}.log")
        total = tried(judge, mutator, options.each, options.lines, found)
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{mutator.made} damaged lines; with the headings and good lines between them"
        f" {total.lines} lines = {total.blank_or_comment} blank or comment + {total.headings}"
        f" headings + {total.entries} entries + {total.not_understood} not understood; seed"
        f" {options.seed}, {time.monotonic() - begun:.0f} s, {most:.0f} MiB at most"
    )


if __name__ == "__main__":
    main()
