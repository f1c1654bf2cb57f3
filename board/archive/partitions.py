"""The partitions of an archive: Parquet files by table, mill and year, each whole or not there.

A new one is written hidden; once the catalogue names it, it takes the place of the one before it.
Whoever reads by the catalogue finds it in either place, and knows it by its digest.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from board.archive.catalogue import MillKept, Partition
from board.archive.columns import ALL_COLUMNS, span_of
from board.record.sweep import reason_of
from board.tables import Row, parquet_of

_HIDDEN = re.compile(r"\.part-[0-9a-f]{16}\.parquet(\.[0-9]+\.tmp)?")


class Damaged(Exception):
    """A partition is not what was written; ``sentence`` says which."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def put(
    out: Path, mill: str, table: str, year: int, rows: list[Row], before: MillKept | None
) -> Partition:
    """Write a partition, unless the one that is kept holds the same. Raises OSError."""
    data = parquet_of(ALL_COLUMNS[table], rows, {"mill": mill, "year": str(year)})
    digest = hashlib.sha256(data).hexdigest()
    first, last = span_of(table, rows)
    made = Partition(
        table=table,
        year=year,
        rows=len(rows),
        bytes=len(data),
        first=first,
        last=last,
        digest=digest,
    )
    if before is not None and made in before.partitions and is_there(made, out, mill):
        return made
    made.folder(out, mill).mkdir(parents=True, exist_ok=True)
    hidden = made.hidden(out, mill)
    beside = hidden.with_name(f"{hidden.name}.{os.getpid()}.tmp")
    with beside.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    beside.replace(hidden)
    return made


def is_there(partition: Partition, out: Path, mill: str) -> bool:
    """Whether a partition stands where the catalogue says, whole."""
    try:
        content(partition, out, mill)
    except Damaged:
        return False
    return True


def content(partition: Partition, out: Path, mill: str) -> bytes:
    """The bytes of a partition. Raises Damaged."""
    told = f"the table {partition.table} of {partition.year}"
    reason = f"{told} is not what was written"
    # hidden at first; in between it may have taken its place
    for file in (partition.hidden(out, mill), partition.file(out, mill)) * 2:
        try:
            data = file.read_bytes()
        except FileNotFoundError:
            continue
        except OSError as error:
            reason = f"{told} cannot be read: {reason_of(error)}"
            continue
        if hashlib.sha256(data).hexdigest() == partition.digest:
            return data
    raise Damaged(reason)


def place(partition: Partition, out: Path, mill: str) -> Path:
    """The file of a partition that was found whole."""
    hidden = partition.hidden(out, mill)
    return hidden if hidden.exists() else partition.file(out, mill)


def publish(out: Path, mill: MillKept) -> None:
    """Put what the catalogue names of a mill in its place, and clear away what it does not.

    Raises OSError.
    """
    there = {p.folder(out, mill.name): p for p in mill.partitions}
    for partition in there.values():
        with suppress(FileNotFoundError):
            partition.hidden(out, mill.name).replace(partition.file(out, mill.name))
    for folder in _folders(out, mill.name):
        if folder not in there:
            shutil.rmtree(folder)
            continue
        for file in folder.iterdir():
            if _HIDDEN.fullmatch(file.name):
                file.unlink(missing_ok=True)


def _folders(out: Path, mill: str) -> Iterable[Path]:
    for table in ALL_COLUMNS:
        yield from (out / "tables" / table / f"mill={mill}").glob("year=*")
