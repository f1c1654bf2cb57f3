"""How fast logs are read, in lines a second on one core.

Reads every log of the example, in its files, as often as asked; the best pass counts, as all else
that the machine does only slows a pass down. Beside it, for scale, `json.loads` on the same
number of lines with the same entries as objects. Prints a table; judges nothing.

    python -m tests.bench.reading [PASSES]
"""

from __future__ import annotations

import gc
import json
import sys
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

from board.mill import Mill
from board.record.register import read_register
from grammar.reader import Reader

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


def main(passes: int) -> None:
    """Measures and prints."""
    begun = perf_counter()
    mill = read_register((FOLDER / "shed.toml").read_bytes())
    assert isinstance(mill, Mill), mill
    registered = perf_counter()
    Reader(mill.vocabulary)
    built = perf_counter()
    with TemporaryDirectory() as folder:  # the board keeps its grammar between runs
        cache = str(Path(folder) / "grammar.cache")
        Reader(mill.vocabulary, cache=cache)
        again = perf_counter()
        reader = Reader(mill.vocabulary, cache=cache)
        ready = perf_counter()
    texts = [path.read_bytes() for path in sorted(FOLDER.rglob("*.log"))]
    lines = sum(text.count(b"\n") for text in texts)
    size = sum(map(len, texts))
    reading = best(lambda: [reader.read(text) for text in texts], passes)
    documents = objects(reader, texts)
    baseline = best(lambda: [json.loads(document) for document in documents], passes)
    print(f"{'register':28} {(registered - begun) * 1e3:10.1f} ms")
    print(f"{'grammar, built':28} {(built - registered) * 1e3:10.1f} ms")
    print(f"{'grammar, kept':28} {(ready - again) * 1e3:10.1f} ms")
    print(f"{'lines':28} {lines:10,}")
    print(f"{'reading, Lark alone':28} {lines / reading:10,.0f} lines/s")
    print(f"{'':28} {size / reading / 1e6:10.2f} MB/s")
    print(f"{'json.loads, as many objects':28} {lines / baseline:10,.0f} lines/s")
    print(f"{'ratio':28} {reading / baseline:10.1f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
