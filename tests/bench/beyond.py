"""Many mills at once: what an archive costs to build and to ask, by processes and by a cluster.

    nice python -m tests.bench.beyond [--mills 4] [--entries 50000] [--markdown]

The mills' logs are invented by ``generate``, each from a seed of its own. Every figure is the time
of a whole program from its start to its end; the cluster is one of this machine, started before.
Beside them, once and in one process: the share of judging past forecasts, which is what a build
costs most. Prints tables; judges nothing: a machine with much else to do is slow for reasons of its
own.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from time import perf_counter, process_time

from tests.bench._machine import machine
from tests.bench._process import run
from tests.bench._table import markdown, plain
from tests.bench.generate import AS_OF, SEED, Size, write_folder

QUESTIONS = (
    ("find, a word of every day", ("find", "running", "--most", "200")),
    ("find, a phrase and a part", ("find", "frays", "--part", "tape", "--most", "200")),
    ("repeats", ("repeats",)),
    ("lives, mills compared", ("lives", "--by", "mill")),
    ("wear --audit", ("wear", "--audit")),
)
Where = tuple[str, ...]  # the options that say where the work is done


class Bench:
    """Mills on the disk, and an archive of them for each way of working."""

    def __init__(self, top: Path, mills: int, size: Size) -> None:
        self.top = top
        self.folders = {f"mill{n}": top / "logs" / f"mill{n}" for n in range(mills)}
        for n, folder in enumerate(self.folders.values()):
            write_folder(folder, size, SEED + n)

    def program(self, *words: str) -> float:
        """How long a command takes, as a whole program [s]."""
        environ = {"XDG_CACHE_HOME": str(self.top / "cache")}
        return run([sys.executable, "-m", "board", *words], environ, fine=(0, 1)).seconds

    def build(self, out: Path, where: Where) -> float:
        """How long it takes to bring an archive up to date [s]."""
        named = [f"--mill={name}={folder}" for name, folder in self.folders.items()]
        return self.program("archive", str(out), *named, "--at", AS_OF, *where)

    def column(self, name: str, where: Where) -> list[str]:
        """Every figure of one way of working."""
        out = self.top / name
        found = [self.build(out, where), self.build(out, where)]
        log = max(self.folders["mill0"].rglob("*.log"))
        before = log.read_bytes()
        log.write_bytes(before + b"# a remark\n")
        found.append(self.build(out, where))
        log.write_bytes(before)
        for _, question in QUESTIONS:
            found.append(self.program(*question, "--archive", str(out), *where))
        told = [f"{seconds:.1f} s" for seconds in found]
        print(f"{name}: {', '.join(told)}", file=sys.stderr, flush=True)
        return told


@contextmanager
def cluster(workers: int) -> Iterator[str]:
    """The address of a cluster of processes of this machine."""
    import distributed

    with distributed.LocalCluster(
        n_workers=workers, threads_per_worker=1, processes=True, dashboard_address=":0",
        host="127.0.0.1",
    ) as found:  # fmt: skip
        yield found.scheduler_address


def stages(bench: Bench) -> list[list[str]]:
    """What one mill costs in this process, stage by stage [s of processor time]."""
    from datetime import UTC, datetime

    from board.archive.columns import ALL_COLUMNS
    from board.archive.rows import by_year, entries_of, forecasts_of, past_of
    from board.index.index import Index
    from board.indexed import looked, snapshot_of
    from board.loading import moment_of, read_mill, reader_for
    from board.mill import Mill
    from board.tables import parquet_of, state_rows

    folder = bench.folders["mill0"]
    mill = read_mill(folder)
    assert isinstance(mill, Mill)
    now = datetime.now(UTC)
    as_of = moment_of(AS_OF, mill, "--at")
    reader = reader_for(mill.vocabulary, {"XDG_CACHE_HOME": str(bench.top / "cache")})
    file = bench.top / "stages.sqlite"
    index = Index(file, folder, mill, reader)
    rows: list[list[str]] = []

    def timed(what: str, done: Callable[[], object]) -> object:
        begun = process_time()
        found = done()
        rows.append([what, f"{process_time() - begun:.1f} s"])
        return found

    def index_made() -> object:
        shelf = looked(folder, reader, index, now)
        return snapshot_of(index, shelf, as_of, now)

    snapshot = timed("read, indexed, folded", index_made)
    years = range(2000, as_of.year + 1)
    entries = timed(
        "rows of the entries",
        lambda: [row for year in years for row in entries_of(snapshot, index, year)],  # type: ignore[arg-type]
    )
    tables = timed("rows of the other tables", lambda: state_rows(snapshot))  # type: ignore[arg-type]
    timed("past forecasts judged", lambda: forecasts_of(past_of(snapshot), mill))  # type: ignore[arg-type]

    def encoded() -> list[bytes]:
        every = {**tables, "entries": [r for r in entries if r["when"] is not None]}  # type: ignore[dict-item,attr-defined]
        return [parquet_of(ALL_COLUMNS[table], own, {}) for table, _, own in by_year(every, as_of)]

    parts = timed("Parquet", encoded)
    index.close()
    rows.append(["index on the disk", f"{file.stat().st_size / 1e6:.1f} MB"])
    rows.append(["Parquet on the disk", f"{sum(map(len, parts)) / 1e6:.1f} MB"])  # type: ignore[arg-type]
    logs = sum(f.stat().st_size for f in folder.rglob("*.log"))
    return [*rows, ["logs", f"{logs / 1e6:.1f} MB"]]


def measured(bench: Bench) -> list[list[str]]:
    """The table of every way of working."""
    columns = {}
    for workers in (1, 2):
        where = ("--workers", str(workers))
        columns[f"processes, {workers}"] = bench.column(f"processes{workers}", where)
        with cluster(workers) as address:
            name = f"cluster{workers}"
            columns[f"cluster, {workers}"] = bench.column(name, ("--scheduler", address))
    labels = ["build", "build again, nothing changed", "build again, one log changed"]
    labels += [label for label, _ in QUESTIONS]
    rows = [[label, *values] for label, *values in zip(labels, *columns.values(), strict=True)]
    return [["whole program", *columns], *rows]


def main(arguments: Sequence[str] | None = None) -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--mills", type=int, default=4)
    parser.add_argument("--entries", type=int, default=50_000, help="of each mill")
    parser.add_argument("--files", type=int, default=0, help="of each mill; else one a shift")
    parser.add_argument("--looms", type=int, default=100)
    parser.add_argument("--parts", type=int, default=8)
    parser.add_argument("--markdown", action="store_true")
    options = parser.parse_args(arguments)
    files = options.files or max(options.entries // 85, 3)
    size = Size(entries=options.entries, files=files, looms=options.looms, parts=options.parts)
    told = markdown if options.markdown else plain
    top = Path(tempfile.mkdtemp(prefix="loomslate-beyond-"))
    print(machine(), f"priority {os.nice(0)}")
    begun = perf_counter()
    try:
        bench = Bench(top, options.mills, size)
        print(f"{options.mills} mills of {size.entries:,} entries in {size.files:,} files,"
              f" {size.looms} looms, {size.parts} parts\n")  # fmt: skip
        print(told([["one mill, processor time", ""], *stages(bench)]), flush=True)
        print(f"\n{told(measured(bench))}\n\n{perf_counter() - begun:.0f} s in all")
    finally:
        shutil.rmtree(top, ignore_errors=True)


if __name__ == "__main__":
    main()
