"""The rows of an archive's tables, year by year, from one mill's index."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

from board import reckon
from board.archive.columns import time_of
from board.index.finding import find
from board.index.index import Index
from board.mill import Mill
from board.reckon.audit import Audit, Scored
from board.reckon.past_forecasts import SEED, GroupAudit, audits
from board.reckon.refusal import Refusal
from board.reckon.study_record import digest
from board.reckon.wear_record import PastLives, past_lives, wearing
from board.search import Question
from board.searched import lines_in, lines_of
from board.snapshot import Snapshot
from board.state.logged import Logged
from board.state.usage import clocks
from board.tables import Row, entry_row

UNDATED = 0  # the year of lines of which no time is known


def entries_of(snapshot: Snapshot, index: Index, year: int) -> list[Row]:
    """The lines of a year in the order of time, from the logs that speak of it alone."""
    if year == UNDATED:
        return _undated(snapshot, index)
    since = datetime(year, 1, 1, tzinfo=UTC)
    until = datetime(year + 1, 1, 1, tzinfo=UTC) if year < 9999 else None
    answer = find(index, snapshot.fleet.as_of, Question(since=since, until=until))
    return [entry_row(hit.found) for hit in answer.hits]


def _undated(snapshot: Snapshot, index: Index) -> list[Row]:
    """Refused and unfinished lines before which no entry and no heading tells a time."""
    paths = {c.path for c in snapshot.refused} | {u.path for u in snapshot.unfinished}
    entries = [
        Logged(path=path, entry=entry)
        for path in sorted(paths)
        for entry in index.reading(path).entries
    ]
    found = lines_of(lines_in(replace(snapshot, entries=entries)))
    return [entry_row(each) for each in found if each.near is None]


def past_of(snapshot: Snapshot) -> PastLives:
    """The past lives by which forecasts are judged."""
    usage = clocks(snapshot.fleet, snapshot.mill)
    return past_lives(snapshot.fleet.history, snapshot.mill, usage)


def forecasts_mark(past: PastLives, mill: Mill) -> str:
    """What past forecasts are made from: the lives, their limits, and the reckoning itself."""
    found = hashlib.sha256(_reckoning().encode())
    for group in sorted(past, key=repr):
        quantity = mill.quantity(group.part, group.quantity)
        for toward in wearing(quantity) if quantity else ():
            found.update(repr((group, toward)).encode())
            found.update(digest([dated.life for dated in past[group]], toward).encode())
        for dated in past[group]:
            found.update(dated.read_at.tobytes() + repr(dated.ended_at).encode())
    return found.hexdigest()[:32]


@cache
def _reckoning() -> str:
    """The text of the modules that reckon."""
    found = hashlib.sha256(str(SEED).encode())
    for file in sorted(Path(reckon.__path__[0]).glob("*.py")):
        found.update(file.read_bytes())
    return found.hexdigest()


def by_year(
    tables: Mapping[str, Iterable[Row]], now: datetime
) -> Iterator[tuple[str, int, list[Row]]]:
    """Rows of tables, year by year; what has no time yet stands in the year of ``now``."""
    for table, rows in tables.items():
        years: dict[int, list[Row]] = defaultdict(list)
        for row in rows:
            years[(time_of(table, row) or now.astimezone(UTC)).year].append(row)
        yield from ((table, year, years[year]) for year in sorted(years))


# -- past forecasts ------------------------------------------------------------------------


def forecasts_of(past: PastLives, mill: Mill) -> list[Row]:
    """A row for each past life of each group and limit, with what its forecast came to."""
    return list(_forecasts(past, mill))


def _forecasts(past: PastLives, mill: Mill) -> Iterator[Row]:
    for one in audits(past, mill):
        if not isinstance(one.audit, Audit):
            continue  # of a group without a past life
        quantity = mill.quantity(one.group.part, one.group.quantity)
        toward = {t.limit: t.toward.value for t in (wearing(quantity) if quantity else ())}
        dated = past[one.group]
        for place, (scored, life) in enumerate(zip(one.audit.lives, dated, strict=True)):
            yield {
                **_group(one),
                "toward": toward[one.limit],
                "unit": quantity.unit if quantity else None,
                "place": place,
                "ended": datetime.fromtimestamp(life.ended_at, UTC),
                **_scored(scored),
            }


def _group(one: GroupAudit) -> Row:
    group = one.group
    return {
        "part": group.part,
        "side": group.side,
        "quantity": group.quantity,
        "limit": one.limit,
    }


def _scored(scored: Scored) -> Row:
    return {
        "outcome": scored.outcome.value,
        "readings": scored.readings,
        "left": _number(scored.left),
        "error": _number(scored.error),
        "ignoring": _number(scored.ignoring),
        "own_line": _number(scored.own_line),
    }


def _number(value: float | Refusal) -> float | None:
    return None if isinstance(value, Refusal) else value
