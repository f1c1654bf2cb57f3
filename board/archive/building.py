"""One mill of an archive brought up to date: a job for any process that sees the folders.

Takes and returns plain values alone. The mill's one index goes on from where it stood and reads
only the logs that changed; the tables are written year by year, and only what is other than
before. What counts is decided by the catalogue, which whoever gave out the job writes.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

from board.archive.catalogue import MillKept, Partition, replace_whole
from board.archive.columns import FORECASTS
from board.archive.partitions import is_there, put
from board.archive.rows import by_year, entries_of, forecasts_mark, forecasts_of, past_of
from board.archive.years import NAME as YEARS
from board.archive.years import YearsNoted, marks
from board.index.fingerprint import fingerprint
from board.index.index import Index
from board.index.schema import Unusable
from board.indexed import snapshot_of
from board.loading import ReaderWhenNeeded, moment_of, read_mill
from board.mill import Mill
from board.record.files import Skipped, read_register_file
from board.record.shelf import Shelf
from board.record.sweep import REGISTER_NAME, reason_of
from board.shell import CannotRun
from board.tables import state_rows

INDEX = "index.sqlite"

# what is asked of the job: the archive, mill, folder, --at or "", the clock's now, the mill as it
# was kept or "", and what of the environment says where a cache may be
Task = tuple[str, str, str, str, str, str, tuple[tuple[str, str], ...]]
# what it answers: the mill, the mill as it is kept now or "", why not, and what is to be told
Built = tuple[str, str, str, tuple[str, ...]]


def bring_up_to_date(task: Task) -> tuple[Built, ...]:
    """Bring one mill up to date, or tell in one sentence why it could not be."""
    return (_answer(task),)


def _answer(task: Task) -> Built:
    out, name, folder, at, now, before, environ = task
    try:
        kept = kept_of(before) if before else None
        mill, told = _built(
            Path(out), name, Path(folder), at, datetime.fromisoformat(now), kept,
            dict(environ) or os.environ,
        )  # fmt: skip
    except CannotRun as error:
        return name, "", error.sentence, ()
    except Unusable as error:
        return name, "", str(error), ()
    except OSError as error:
        return name, "", reason_of(error), ()
    except ImportError as error:
        return name, "", f"{error.name} cannot be loaded on this machine", ()
    return name, json.dumps(asdict(mill)), "", told


def kept_of(text: str) -> MillKept:
    """A mill as a job has written it."""
    found = json.loads(text)
    partitions = tuple(Partition(**each) for each in found.pop("partitions"))
    notices = tuple(found.pop("notices"))
    return MillKept(**found, partitions=partitions, notices=notices)


def _built(
    out: Path,
    name: str,
    folder: Path,
    at: str,
    now: datetime,
    before: MillKept | None,
    environ: Mapping[str, str],
) -> tuple[MillKept, tuple[str, ...]]:
    found = read_mill(folder)
    if isinstance(found, str):
        raise CannotRun(found)
    register = read_register_file(folder)
    if isinstance(register, Skipped):
        raise CannotRun(register.sentence)
    as_of = moment_of(at, found, "--at") if at else now
    own = out / name
    own.mkdir(parents=True, exist_ok=True)
    try:
        mill = _from_index(out, name, folder, found, as_of, now, before, environ)
        told: tuple[str, ...] = ()
    except Unusable as error:
        if not error.mended:
            raise
        mill = _from_index(out, name, folder, found, as_of, now, before, environ)
        told = (str(error),)
    # the archive answers when the mill's folder is away
    if not (own / REGISTER_NAME).exists() or (own / REGISTER_NAME).read_bytes() != register:
        replace_whole(own / REGISTER_NAME, register)
    return mill, told


def _from_index(
    out: Path,
    name: str,
    folder: Path,
    mill: Mill,
    as_of: datetime,
    now: datetime,
    before: MillKept | None,
    environ: Mapping[str, str],
) -> MillKept:
    reader = ReaderWhenNeeded(mill.vocabulary, environ)
    index = Index(out / name / INDEX, folder, mill, reader)
    try:
        noted = YearsNoted(index, out / name / YEARS)
        shelf = Shelf(folder, reader, noted)
        shelf.look(now)
        if shelf.missing:
            raise CannotRun(shelf.missing)
        snapshot = snapshot_of(index, shelf, as_of, now)
        made_from = marks(noted.of(), snapshot, fingerprint(folder, mill))
        noted.save()
        partitions: list[Partition] = []
        for year, mark in made_from.items():
            same = _unchanged(out, before, year, mark, "entries", int(year))
            if same is not None:
                partitions += same
                continue
            rows = entries_of(snapshot, index, int(year))
            if rows:
                partitions.append(put(out, name, "entries", int(year), rows, before))
        tables = state_rows(snapshot)
        past = past_of(snapshot)
        made_from[FORECASTS] = forecasts_mark(past, mill)
        same = _unchanged(out, before, FORECASTS, made_from[FORECASTS], FORECASTS)
        if same is None:
            tables[FORECASTS] = forecasts_of(past, mill)
        partitions += same or ()
        for table, number, rows in by_year(tables, as_of):
            partitions.append(put(out, name, table, number, rows, before))
    finally:
        index.close()
    return MillKept(
        name=name,
        folder=str(folder),
        shed=mill.name,
        zone=mill.zone.key,
        as_of=as_of.astimezone(UTC).isoformat(),
        entries=snapshot.tally.entries,
        lines=snapshot.tally.lines,
        refused=snapshot.tally.refused,
        notices=(*snapshot.notices, *(held.sentence for held in shelf.held)),
        partitions=tuple(sorted(partitions, key=lambda p: (p.table, p.year))),
        marks=made_from,
    )


def _unchanged(
    out: Path, before: MillKept | None, key: str, mark: str, table: str, year: int | None = None
) -> tuple[Partition, ...] | None:
    """The partitions that are still what would be made, none for a year without a line.

    None where they have to be made anew.
    """
    if before is None or before.marks.get(key) != mark:
        return None
    kept = tuple(p for p in before.of(table) if year in (None, p.year))
    return kept if all(is_there(p, out, before.name) for p in kept) else None
