"""Rows of an archive's tables: from its partitions, or where another moment is asked by the index.

With pyarrow alone, or by a cluster with dask's dataframe: the rows are the same. A partition that
is not what was written takes its mill out of the answer, which is told.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib import import_module
from pathlib import Path
from typing import Any

from board.archive.asking import Archive, Task, ask, of_each
from board.archive.catalogue import MillKept, NoCatalogue, Partition, read_catalogue
from board.archive.columns import FORECASTS
from board.archive.opening import MillAsked, opened
from board.archive.partitions import Damaged, content, place
from board.archive.rows import forecasts_of, past_of
from board.archive.spreading import Lost, Spread
from board.shell import CannotRun
from board.tables import state_rows

Plain = tuple[object, ...]  # a mill, and then the values of the columns asked for
_Answer = tuple[tuple[Plain, ...], Lost]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """Rows of a table, each with its mill, in an order of their own; and the mills without."""

    rows: tuple[Plain, ...]
    missing: Lost


def rows_of(
    where: Spread,
    archive: Archive,
    table: str,
    columns: Sequence[str],
    parts: dict[str, tuple[str, ...]],
) -> Rows:
    """The rows of a table about the parts that each mill is asked for. Raises CannotRun.

    Mills that are asked for no part give no row.
    """
    kept: list[MillKept] = []
    others: list[MillKept] = []
    for mill, moment in zip(archive.mills, archive.moments, strict=True):
        if parts.get(mill.name):
            (kept if moment == mill.moment else others).append(mill)
    rows, missing = _from_partitions(where, archive.out, kept, table, columns, parts)
    if others:
        names = {mill.name for mill in others}
        pairs = [
            (mill, at)
            for mill, at in zip(archive.mills, archive.moments, strict=True)
            if mill.name in names
        ]
        some = Archive(
            out=archive.out, mills=tuple(m for m, _ in pairs), moments=tuple(at for _, at in pairs)
        )
        question = (
            ("table", table),
            ("columns", tuple(columns)),
            ("parts", tuple((m.name, parts[m.name]) for m in others)),
        )
        outcome = ask(where, some, rows_as_of, question, merge)
        found: _Answer = outcome.answer if outcome.answer is not None else ((), ())
        rows, missing = [*rows, *found[0]], [*missing, *found[1], *outcome.lost]
    return Rows(rows=tuple(sorted(rows, key=_order)), missing=tuple(sorted(missing)))


def _order(row: Plain) -> tuple[tuple[bool, str], ...]:
    """One order for rows from whatever source: by all that they hold."""
    return tuple((value is None, _text(value)) for value in row)


def _text(value: object) -> str:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    return f"{value:020.6f}" if isinstance(value, int | float) else str(value)


# -- as of another moment ------------------------------------------------------------------


def rows_as_of(task: Task) -> _Answer:
    """The rows of a table of some mills as of the moment that each is asked for."""
    out, pairs, _, environ = task
    asked: dict[str, Any] = dict(pairs)
    parts = dict(asked["parts"])

    def one(mill: MillAsked) -> _Answer:
        with opened(Path(out), mill, environ) as there:
            if asked["table"] == FORECASTS:
                rows = forecasts_of(past_of(there.snapshot), there.mill)
            else:
                rows = state_rows(there.snapshot)[asked["table"]]
            return tuple(
                (mill[0], *(row[column] for column in asked["columns"]))
                for row in rows
                if row["part"] in parts[mill[0]]
            ), ()

    return of_each(task, one, lambda name, reason: ((), ((name, reason),)), merge)


def merge(a: _Answer, b: _Answer) -> _Answer:
    """Two answers as one: associative."""
    return a[0] + b[0], a[1] + b[1]


# -- from the partitions -------------------------------------------------------------------


def _from_partitions(
    where: Spread,
    out: Path,
    mills: Sequence[MillKept],
    table: str,
    columns: Sequence[str],
    parts: dict[str, tuple[str, ...]],
) -> tuple[list[Plain], list[tuple[str, str]]]:
    rows: list[Plain] = []
    missing: list[tuple[str, str]] = []
    whole: list[tuple[MillKept, list[bytes]]] = []
    for mill in mills:
        try:
            mill, data = _whole(out, mill, table)
        except Damaged as error:
            missing.append((mill.name, f"{error.sentence}; bring the archive up to date"))
            continue
        whole.append((mill, data))
    try:
        if where.scheduler:
            return _by_dask(where, out, [mill for mill, _ in whole], table, columns, parts), missing
        for mill, data in whole:
            rows += _by_pyarrow(mill.name, data, columns, parts[mill.name])
    except ImportError as error:
        raise CannotRun(f"no tables: {error.name} cannot be loaded on this machine") from None
    return rows, missing


def _whole(out: Path, mill: MillKept, table: str) -> tuple[MillKept, list[bytes]]:
    """The partitions of a mill, each as it was written. Raises Damaged.

    Where they were brought up to date meanwhile, the mill as it is now.
    """
    try:
        return mill, [content(p, out, mill.name) for p in mill.of(table)]
    except Damaged:
        try:
            now = read_catalogue(out).mill(mill.name)
        except NoCatalogue:
            now = None
        if now is None or now == mill:
            raise
        return now, [content(p, out, now.name) for p in now.of(table)]


def _filter(parts: Sequence[str]) -> Any:
    return [("part", "in", list(parts))]


def _by_pyarrow(
    mill: str, data: Sequence[bytes], columns: Sequence[str], parts: Sequence[str]
) -> list[Plain]:
    import pyarrow as pa
    import pyarrow.compute as pc
    import pyarrow.parquet as pq

    wanted = pa.array(parts, pa.string())
    found: list[Plain] = []
    for each in data:
        # in this thread alone: one that still runs when the program ends makes it end by SIGABRT
        file = pq.ParquetFile(io.BytesIO(each), pre_buffer=False)
        table = file.read(columns=[*dict.fromkeys((*columns, "part"))], use_threads=False)
        found += _plain(mill, table.filter(pc.is_in(table["part"], value_set=wanted)), columns)
    return found


def _plain(mill: str, table: Any, columns: Sequence[str]) -> list[Plain]:
    lists = [table.column(column).to_pylist() for column in columns]
    return [(mill, *values) for values in zip(*lists, strict=True)]


def _by_dask(
    where: Spread,
    out: Path,
    mills: Sequence[MillKept],
    table: str,
    columns: Sequence[str],
    parts: dict[str, tuple[str, ...]],
) -> list[Plain]:
    """The same rows, read by the workers of the cluster."""
    import pyarrow as pa

    dataframe: Any = import_module("dask.dataframe")
    lazy, named = [], []
    for mill in mills:
        files = [str(place(p, out, mill.name).absolute()) for p in _read(mill.of(table))]
        if files:
            lazy.append(
                dataframe.read_parquet(
                    files, columns=list(columns), filters=_filter(parts[mill.name])
                )
            )
            named.append(mill.name)
    rows: list[Plain] = []
    for name, frame in zip(named, where.compute(lazy), strict=True):
        rows += _plain(name, pa.Table.from_pandas(frame, preserve_index=False, nthreads=1), columns)
    return rows


def _read(partitions: Sequence[Partition]) -> list[Partition]:
    return [p for p in partitions if p.rows]
