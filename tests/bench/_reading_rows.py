"""Rows of reading and folding, measured in this process: lines to entries, entries to state.

Times of reading and folding are processor times.
"""

from __future__ import annotations

import gc
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from time import process_time

from board.loading import read_mill, reader_for
from board.mill import Mill
from board.state.fold import fold
from board.state.logged import Logged
from grammar.reader import Reader
from tests.bench._memory import own_peak_mib
from tests.bench._place import NotMeasured, Place
from tests.bench._readers import derived_reader, lark_reader, own_loop_reader
from tests.bench._row import Reached
from tests.bench._yardsticks import best, orjson_lines_a_second
from tests.bench.wear_speed import measure as forecasts_of

SAMPLE = 100_000  # lines
WARMED = 10  # logs, in which a reader derives what it reads by
AS_OF = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)


def mill_of(place: Place) -> Mill:
    """The register of the logs."""
    mill = read_mill(place.folder)
    assert isinstance(mill, Mill), mill
    return mill


def newest(folder: Path, lines: int) -> list[bytes]:
    """The newest logs, about so many lines of them."""
    found: list[bytes] = []
    count = 0
    for path in sorted(folder.rglob("*.log"), reverse=True):
        if count >= lines:
            break
        found.append(path.read_bytes())
        count += found[-1].count(b"\n")
    return found


def reading_lark(place: Place) -> Reached:
    """Lines a second through Lark's tables alone, and through them by Lark's own loop."""
    vocabulary = mill_of(place).vocabulary
    reached = _reading(place, lark_reader(vocabulary, place.environ))
    own = _rate(own_loop_reader(vocabulary, place.environ), newest(place.folder, SAMPLE), 1)
    return replace(reached, more=f"in one loop; by Lark's own {own:,.0f} lines/s")


def reading_derived(place: Place) -> Reached:
    """Lines a second through the expressions derived from the grammar, and how often Lark alone."""
    vocabulary = mill_of(place).vocabulary
    reader = derived_reader(vocabulary, place.environ)
    if reader is None:
        raise NotMeasured("not measured: the reader has no derived expressions")
    fast = _reading(place, reader)
    if reader.alone:
        raise NotMeasured(f"not measured: {reader.alone}")
    alone = _rate(lark_reader(vocabulary, place.environ), newest(place.folder, SAMPLE), 1)
    ratio = fast.ratio or 0.0
    return Reached(
        figures={"": fast.figures[""], "of Lark": fast.figures[""] / alone, "of orjson": ratio},
        units={"": "lines/s", "of Lark": "x", "of orjson": "x"},
        against=fast.against,
        ratio=fast.ratio,
        peak_mib=fast.peak_mib,
    )


def _reading(place: Place, reader: Reader) -> Reached:
    texts = newest(place.folder, SAMPLE)
    rate = _rate(reader, texts, place.passes)
    peak = own_peak_mib()
    yardstick = orjson_lines_a_second(reader, texts, place.passes)
    return Reached(
        figures={"": rate},
        units={"": "lines/s"},
        against="orjson.loads of as many lines",
        ratio=rate / yardstick,
        peak_mib=peak,
    )


def _rate(reader: Reader, texts: list[bytes], passes: int) -> float:
    lines = sum(text.count(b"\n") for text in texts)
    for text in texts[:WARMED]:
        reader.read(text)

    def read_all() -> None:
        for text in texts:
            reader.read(text)

    return lines / best(read_all, passes)


def folding(place: Place) -> Reached:
    """All entries to the state of the shed. Reading them is not counted.

    As the program does it where there are many: without looking for rings of values.
    """
    mill = mill_of(place)
    reader = derived_reader(mill.vocabulary, place.environ) or reader_for(
        mill.vocabulary, place.environ
    )
    gc.disable()
    logged = [
        Logged(path=path.relative_to(place.folder).as_posix(), entry=entry)
        for path in sorted(place.folder.rglob("*.log"))
        for entry in reader.read(path.read_bytes()).entries
    ]
    begun = process_time()
    fold(logged, mill, AS_OF)
    took = process_time() - begun
    peak = own_peak_mib()
    texts = newest(place.folder, SAMPLE)
    rate = orjson_lines_a_second(reader, texts, 1)
    return Reached(
        figures={"": took},
        units={"": "s"},
        against="orjson.loads of as many lines",
        ratio=took / (len(logged) / rate),
        peak_mib=peak,
        more=f"{len(logged):,} entries, {took / len(logged) * 1e6:.1f} us each",
    )


def forecasting(place: Place) -> Reached:
    """Study of past lives, forecasts and chances of 300 looms x 12 parts, invented wear."""
    worst = 0.0
    for past, noise in ((10, 0.0), (40, 0.04)):
        runs = (sum(forecasts_of(past, noise)[:3]) for _ in range(place.passes))
        worst = max(worst, min(runs))
    return Reached(figures={"": worst}, units={"": "s"}, more="300 looms x 12 parts")
