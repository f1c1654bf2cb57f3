"""The tables of an archive: those of one mill, and one of past forecasts and how they turned out.

Which of a row's times says in what year it stands is told here too.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime

from board.table_columns import COLUMNS, NUMBER, TEXT, TIME, WHOLE, Column
from board.tables import Row

FORECASTS = "forecasts"

_FORECASTS = tuple(
    Column(name=name, kind=kind, holds=holds)
    for name, kind, holds in (
        ("part", TEXT, "part, the register's name"),
        ("side", TEXT, "side"),
        ("quantity", TEXT, "what was measured"),
        ("limit", NUMBER, "the limit it wears to, in `unit`"),
        ("toward", TEXT, "replace above or replace below it"),
        ("unit", TEXT, "unit of the limit"),
        ("place", WHOLE, "which life of its part, side and quantity, by the ends of lives"),
        ("ended", TIME, "end of the life [UTC]"),
        ("outcome", TEXT, "held, missed, replaced before judgement, no forecast, no reading"),
        ("readings", WHOLE, "readings known when it was made"),
        ("left", NUMBER, "use that was left then [running h]; null: not known"),
        ("error", NUMBER, "error of the median [% of what was left]; null: none"),
        ("ignoring", NUMBER, "the same where readings are ignored; null: none"),
        ("own_line", NUMBER, "the same by the part's own line; infinite: it never gets there"),
    )
)

ALL_COLUMNS: Mapping[str, tuple[Column, ...]] = {**COLUMNS, FORECASTS: _FORECASTS}

# the time by which a row stands in a year; what has none yet stands in the year looked at
_DATED = {
    "entries": "when",
    "spells": "start",
    "readings": "when",
    "lives": "ended",
    "faults": "since",
    "actions": "opened",
    FORECASTS: "ended",
}


def time_of(table: str, row: Row) -> datetime | None:
    """The time that says in which year a row stands, in UTC."""
    when: datetime | None = row[_DATED[table]]
    return None if when is None else when.astimezone(UTC)


def span_of(table: str, rows: list[Row]) -> tuple[str | None, str | None]:
    """The first and the last time of rows, ISO 8601."""
    times = [when for row in rows if (when := time_of(table, row)) is not None]
    if not times:
        return None, None
    return min(times).isoformat(), max(times).isoformat()
