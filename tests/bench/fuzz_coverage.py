"""Texts that libFuzzer finds by the coverage of the program; what must hold of every one of them.

    pip install atheris        # for this alone; the program and its tests do without
    nice python -m tests.bench.fuzz_coverage bytes [--seconds 600] [--keep FOLDER]
    nice python -m tests.bench.fuzz_coverage lines [--seconds 600] [--keep FOLDER]

`bytes` changes bytes as libFuzzer does, from logs of the example on; `lines` makes slips of the
pen, puts words and hostile text in, and leaves lines lines. Ends with 0 when the time is over and
every text held; else the text is in FOLDER (a new one), and is tried again with

    python -m tests.bench.fuzz_lines --text FILE
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

try:
    import atheris
except ImportError:
    sys.exit("this one needs atheris: pip install atheris")

with atheris.instrument_imports(include=["grammar", "board"], enable_loader_override=False):
    from tests.robust.any_text import Judge
from tests.robust.mutated_lines import Mutator, lines_to_vary

MOST_BYTES = 2_000
SEEDS = 400

Mutate = Callable[[bytes, int, int], bytes]


def corpus(folder: Path) -> None:
    """What is changed at first: a line a file, and some files of several lines."""
    dice = random.Random(1)
    lines = lines_to_vary()
    for number in range(SEEDS):
        chosen = [dice.choice(lines) for _ in range(1 if number % 4 else 12)]
        text = "\n".join(chosen).encode("utf-8", "surrogatepass")
        (folder / f"seed-{number}").write_bytes(text[:MOST_BYTES])


def lines_changed(data: bytes, most: int, seed: int) -> bytes:
    """The data with one line damaged, put in or taken out."""
    dice = random.Random(seed)
    lines = data.split(b"\n")
    at = dice.randrange(len(lines))
    mutator = Mutator(seed, lines_to_vary() if dice.random() < 0.2 else (_text(lines[at]),))
    match dice.randrange(6):
        case 0:
            lines.insert(at, mutator.line())
        case 1 if len(lines) > 1:
            del lines[at]
        case _:
            lines[at] = mutator.line()
    return b"\n".join(lines)[:most]


def _text(line: bytes) -> str:
    return line.decode("utf-8", "replace")


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("over", choices=("bytes", "lines"))
    parser.add_argument("--seconds", type=int, default=600)
    parser.add_argument("--keep", type=Path)
    options = parser.parse_args()
    keep = options.keep or Path(tempfile.mkdtemp(prefix="loomslate-fuzz-kept-"))
    keep.mkdir(parents=True, exist_ok=True)
    seeds = Path(tempfile.mkdtemp(prefix="loomslate-fuzz-seeds-"))
    corpus(seeds)
    judge = Judge(Path(tempfile.mkdtemp(prefix="loomslate-fuzz-cache-")))
    mutate: dict[str, Mutate] = {"custom_mutator": lines_changed} if options.over == "lines" else {}
    arguments = [
        sys.argv[0], f"-max_total_time={options.seconds}", f"-max_len={MOST_BYTES}", "-timeout=20",
        "-rss_limit_mb=2048", f"-artifact_prefix={keep}/", "-seed=1", "-print_final_stats=1",
        str(seeds),
    ]  # fmt: skip

    def one(data: bytes) -> None:
        judge.must_hold(data)

    atheris.Setup(arguments, one, **mutate)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
