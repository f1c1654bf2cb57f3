"""What every figure is held against, measured in the same minute on the same machine."""

from __future__ import annotations

import gc
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from time import process_time

from grammar.reader import Reader
from tests.bench._process import run
from tests.bench.reading import objects


def best(work: Callable[[], object], passes: int) -> float:
    """The least processor time of so many runs [s], without the collector of garbage.

    For what one thread computes in this process: other work on the machine hardly counts.
    """
    times = []
    gc.disable()
    for _ in range(passes):
        gc.collect()
        begun = process_time()
        work()
        times.append(process_time() - begun)
    gc.enable()
    return min(times)


def orjson_lines_a_second(reader: Reader, texts: list[bytes], passes: int) -> float:
    """``orjson.loads`` of the same number of lines, each with its entry's fields as an object."""
    import orjson

    documents = objects(reader, texts)
    return len(documents) / best(lambda: [orjson.loads(text) for text in documents], passes)


def grep_s(folder: Path, word: str, passes: int) -> float:
    """``grep -rn WORD FOLDER``, the best of so many [s]."""
    return _best(["grep", "-rn", word, str(folder)], passes)


def import_rich_s(passes: int) -> float:
    """``python -c "import rich"``, the best of so many [s]."""
    return _best([sys.executable, "-c", "import rich"], passes)


def _best(arguments: Sequence[str], passes: int) -> float:
    return min(run(arguments, {}, fine=(0, 1)).seconds for _ in range(passes))
