"""How fast logs are read, in lines a second on one core.

Reads every log of a folder, in its files, as often as asked; the best pass counts, as all else
that the machine does only slows a pass down. By Lark alone, by a new reader whose fast path is
derived already, and by one that met every clause before. Beside it, for scale, `orjson.loads`
(else `json.loads`) on the same number of lines with the same entries as objects. Prints a table;
judges nothing.

    python -m tests.bench.reading [FOLDER] [--passes 5] [--from 0] [--files 500]

With ``--from`` a reader has read the files before those that are measured, as in the middle of a
long log.
"""

from __future__ import annotations

import argparse
import gc
import json
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

from board.mill import Mill
from board.record.register import read_register
from grammar.reader import Reader
from grammar.vocabulary import Vocabulary

FOLDER = Path(__file__).parents[2] / "logs_example"


def best(work: Callable[[], object], passes: int) -> float:
    """The shortest of so many runs [s]."""
    times = []
    gc.disable()
    for _ in range(passes):
        gc.collect()
        begun = perf_counter()
        work()
        times.append(perf_counter() - begun)
    gc.enable()
    return min(times)


def objects(reader: Reader, texts: list[bytes]) -> list[bytes]:
    """Each line as a JSON object: its entry's fields, or its text where it is no entry."""
    lines = []
    for text in texts:
        reading = reader.read(text)
        entries = {entry.line: entry for entry in reading.entries}
        for number, line in enumerate(text.decode("utf-8", "replace").splitlines(), start=1):
            entry = entries.get(number)
            fields: dict[str, object] = {"line": number, "text": line}
            if entry is not None:
                fields |= {
                    "when": entry.when.isoformat(),
                    "loom": entry.place.name,
                    "by": entry.by,
                    "clauses": [clause.as_text() for clause in entry.clauses],
                }
            lines.append(json.dumps(fields).encode())
    return lines


def loads() -> tuple[str, Callable[[bytes], object]]:
    """The fastest reader of JSON that is installed, and its name."""
    try:
        orjson = import_module("orjson")
    except ImportError:
        return "json.loads", json.loads
    return "orjson.loads", orjson.loads


def start(vocabulary: Vocabulary) -> tuple[float, float, float]:
    """What a new reader takes [s]: built, from the grammar kept, and to derive the fast path."""
    begun = perf_counter()
    Reader(vocabulary)
    built = perf_counter()
    with TemporaryDirectory() as folder:  # the board keeps its grammar between runs
        cache = str(Path(folder) / "grammar.cache")
        Reader(vocabulary, cache=cache)
        again = perf_counter()
        reader = Reader(vocabulary, cache=cache)
        kept = perf_counter()
        reader.derive()
        derived = perf_counter()
    return built - begun, kept - again, derived - kept


def passes_of(
    vocabulary: Vocabulary, before: list[bytes], texts: list[bytes], passes: int
) -> tuple[float, float, float]:
    """The shortest times [s] of reading: by Lark alone, by a new reader, by the same again.

    Taken file by file in turn, so that all three meet the same load of the machine.
    """
    alone = Reader(vocabulary)
    alone.alone = "for measuring"
    alone.read(texts[0])
    least = [[float("inf")] * len(texts) for _ in range(3)]
    gc.disable()
    for _ in range(passes):
        reader = Reader(vocabulary)
        reader.derive()
        for text in before:
            reader.read(text)
        gc.collect()
        for n, text in enumerate(texts):
            for taken, each in zip(least, (alone, reader, reader), strict=True):
                begun = perf_counter()
                each.read(text)
                taken[n] = min(taken[n], perf_counter() - begun)
    gc.enable()
    by_lark, new, again = map(sum, least)
    return by_lark, new, again


def main(folder: Path, passes: int, first: int, files: int) -> None:
    """Measures and prints."""
    begun = perf_counter()
    mill = read_register((folder / "shed.toml").read_bytes())
    assert isinstance(mill, Mill), mill
    print(f"{'register':36} {(perf_counter() - begun) * 1e3:10.1f} ms")
    built, kept, derived = start(mill.vocabulary)
    print(f"{'grammar, built':36} {built * 1e3:10.1f} ms")
    print(f"{'grammar, kept':36} {kept * 1e3:10.1f} ms")
    print(f"{'fast path, derived':36} {derived * 1e3:10.1f} ms")
    every = [path.read_bytes() for path in sorted(folder.rglob("*.log"))[: first + files]]
    before, texts = every[:first], every[first:]
    lines = sum(text.count(b"\n") for text in texts)
    print(f"{'lines':36} {lines:10,}, {sum(map(len, texts)) / 1e6:.2f} MB")
    by_lark, new, again = passes_of(mill.vocabulary, before, texts, passes)
    reader = Reader(mill.vocabulary)
    reader.derive()
    documents = objects(reader, texts)
    name, load = loads()
    baseline = best(lambda: [load(document) for document in documents], passes)
    rows = (
        ("Lark alone", by_lark),
        ("fast, a new reader", new),
        ("fast, every clause met before", again),
        (f"{name}, as many objects", baseline),
    )
    for row, taken in rows:
        print(
            f"{row:36} {lines / taken:10,.0f} lines/s {by_lark / taken:6.1f} x Lark"
            f" {baseline / taken:6.2f} x {name}"
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path, nargs="?", default=FOLDER)
    parser.add_argument("--passes", type=int, default=5)
    parser.add_argument("--from", type=int, default=0, dest="first")
    parser.add_argument("--files", type=int, default=500)
    options = parser.parse_args()
    main(options.folder, options.passes, options.first, options.files)
