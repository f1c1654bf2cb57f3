"""The record as tables for other tools: a Parquet file each of what was written and what was.

Times are UTC with their zone in the type; numbers stand in the unit that a column or the ``unit``
beside it names. Text is stored as it was written but for control characters, each replaced by a
visible mark; a text that begins with ``=``, ``+``, ``-`` or ``@`` is data and stays as it is: a
spreadsheet that is given it must take it as text. Every column with its unit:

entries   path, line; when [UTC]; place and place_kind; looms (those it speaks of, blank between);
          by; shift_day, shift; kinds (blank between); standing; struck_by (path:line); text
spells    loom; motion; start, end [UTC]; hours [h]; reason; style; open (it goes on)
readings  loom, part, side, number, quantity; when [UTC]; value in unit; bound (exact, at least,
          at most); level (adjustments since fitting); counts; use_h [running h since fitting or
          first reading]; by; written; path, line
lives     loom, part, side, number; fitted, ended [UTC]; ending; why; batch; style; hours [running
          h], null where the use is unknown; stays (looms, blank between); fault_at_end; by; then
          what ``lives`` reckons with: verdict, verdict_why; age_h [running h], age_picks
          [picks], each with why it is not known in age_h_unknown, age_picks_unknown
faults    loom, part, side; symptom; text; since, cleared [UTC]; cleared_text; by; path, line
actions   place; number; text; opened, closed [UTC]; due (as written); due_at [UTC]; dropped;
          result; by; whom; path, line

The same words stand in each file's metadata, under ``columns``. Pandas and pyarrow are loaded
here alone, by the function that needs them; writing to the disk is left to the command.
"""

from __future__ import annotations

import io
import json
from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any

from board.reckon.life_record import LifeOnRecord, lives_on_record
from board.reckon.refusal import Refusal
from board.reckon.wear_record import use_of
from board.searched import Found, lines_in, lines_of
from board.show.text import clean
from board.snapshot import Snapshot
from board.state.fleet import Action, Fault, Motion, Source
from board.state.history import ClearedFault, ClosedAction, Ending, PartLife
from board.state.shifts import ShiftCalendar
from board.state.usage import UsageClock, clocks
from board.table_columns import COLUMNS, TEXT, TIME, Column
from grammar.entries import DueAt

Row = dict[str, Any]


def parquet_files(tables: Mapping[str, list[Row]], snapshot: Snapshot) -> dict[str, bytes]:
    """Each table as the bytes of a Parquet file, by the table's name. Raises ImportError."""
    shed = {"shed": snapshot.mill.name, "as_of": snapshot.fleet.as_of.isoformat()}
    return {name: parquet_of(COLUMNS[name], rows, shed) for name, rows in tables.items()}


def table_rows(snapshot: Snapshot) -> dict[str, list[Row]]:
    """The rows of every table, in the order of time."""
    lines = lines_of(lines_in(snapshot))
    return {"entries": [entry_row(found) for found in lines], **state_rows(snapshot)}


def state_rows(snapshot: Snapshot) -> dict[str, list[Row]]:
    """The rows of every table but the entries."""
    usage = clocks(snapshot.fleet, snapshot.mill)
    lives = _lives(snapshot)
    judged = _judged(snapshot, usage)
    return {
        "spells": _spells(snapshot),
        "readings": [row for life in lives for row in _readings(life, usage)],
        "lives": [_life(life, snapshot, usage, judged.get(id(life), ())) for life in lives],
        "faults": _faults(snapshot),
        "actions": _actions(snapshot),
    }


def parquet_of(columns: Sequence[Column], rows: Sequence[Row], about: Mapping[str, str]) -> bytes:
    """Rows as the bytes of a Parquet file that tells its columns, and what it is about.

    Raises ImportError.
    """
    import pandas as pd
    import pyarrow as pa
    import pyarrow.parquet as pq

    data: dict[str, Any] = {}
    for column in columns:
        values = [row[column.name] for row in rows]
        if column.kind == TIME:
            data[column.name] = pd.to_datetime(pd.Series(values, dtype=object), utc=True).astype(
                "datetime64[us, UTC]"
            )
        elif column.kind == TEXT:
            cleaned = [clean(v) if isinstance(v, str) else None for v in values]
            data[column.name] = pd.array(cleaned, dtype="string")
        else:
            kind: Any = column.kind
            data[column.name] = pd.array(values, dtype=kind)
    table = pa.Table.from_pandas(pd.DataFrame(data), preserve_index=False, nthreads=1)
    told = {c.name: c.holds for c in columns}
    own = {**about, "columns": json.dumps(told), "text": "data, never a formula"}
    metadata: dict[Any, Any] = {**(table.schema.metadata or {}), **own}
    fields = [table.schema.field(c.name).with_metadata({"holds": c.holds}) for c in columns]
    schema = pa.schema(fields, metadata=metadata)
    buffer = io.BytesIO()
    pq.write_table(table.cast(schema), buffer)
    return buffer.getvalue()


# -- rows ----------------------------------------------------------------------------------


def entry_row(found: Found) -> Row:
    """A line of the record as a row of the entries."""
    struck = found.struck_by
    place = found.place
    return {
        "path": found.path,
        "line": found.line,
        "when": found.when,
        "place": found.loom,
        "place_kind": place.kind.value if place else None,
        "looms": " ".join(place.looms) if place else None,
        "by": found.by,
        "shift_day": found.shift.day.isoformat() if found.shift else None,
        "shift": found.shift.name if found.shift else None,
        "kinds": " ".join(found.kinds),
        "standing": found.standing.value or "counts",
        "struck_by": f"{struck.path}:{struck.line}" if struck else None,
        "text": found.text,
    }


def _spells(snapshot: Snapshot) -> list[Row]:
    fleet = snapshot.fleet
    spells = [(s.loom, s.motion, s.start, s.end, s.reason, s.style) for s in fleet.history.spells]
    spells += [
        (s.loom, s.motion, s.spell_since, None, s.stopped_for, s.style)
        for s in fleet.looms.values()
        if s.motion is not Motion.UNKNOWN and s.spell_since is not None
    ]
    return [
        {
            "loom": loom,
            "motion": motion.value,
            "start": start,
            "end": end or fleet.as_of,
            "hours": ((end or fleet.as_of) - start) / timedelta(hours=1),
            "reason": reason.value if reason else None,
            "style": style,
            "open": end is None,
        }
        for loom, motion, start, end, reason, style in sorted(
            spells, key=lambda s: (s[2].timestamp(), s[0])
        )
    ]


def _lives(snapshot: Snapshot) -> list[PartLife]:
    """Every part's life, ended or in service; an empty place is none."""
    fleet = snapshot.fleet
    lives = [
        *fleet.history.lives,
        *(life for state in fleet.looms.values() for life in state.parts.values()),
    ]
    lives = [life for life in lives if life.ending is not Ending.ABSENT]
    return sorted(lives, key=lambda x: (x.loom, x.at.words(), x.fitted is not None, x.fitted))


def _judged(
    snapshot: Snapshot, usage: Mapping[str, UsageClock]
) -> dict[int, tuple[LifeOnRecord, ...]]:
    """What the reckoning makes of each life, in hours and in picks, by the life's identity."""
    fleet, mill = snapshot.fleet, snapshot.mill
    calendar = ShiftCalendar(mill.shifts, mill.zone)
    hours, picks = (lives_on_record(fleet, mill, usage, calendar, u) for u in ("h", "picks"))
    return {id(h.life): (h, p) for h, p in zip(hours, picks, strict=True)}


def _life(
    life: PartLife,
    snapshot: Snapshot,
    usage: Mapping[str, UsageClock],
    judged: Sequence[LifeOnRecord],
) -> Row:
    use = use_of(life, life.ended or snapshot.fleet.as_of, usage)
    return {
        **_part(life),
        "fitted": life.fitted,
        "ended": life.ended,
        "ending": life.ending.value,
        "why": life.why.value if life.why else None,
        "batch": life.batch,
        "style": life.style,
        "hours": None if isinstance(use, Refusal) else use,
        "stays": " ".join(stay.loom for stay in life.stays),
        "fault_at_end": life.fault_at_end,
        "by": life.by,
        "verdict": judged[0].verdict.value if judged else None,
        "verdict_why": judged[0].why if judged else None,
        **_age("age_h", judged[:1]),
        **_age("age_picks", judged[1:]),
    }


def _age(name: str, judged: Sequence[LifeOnRecord]) -> Row:
    """An age, or why it is not known."""
    for record in judged:
        if isinstance(record.age, Refusal):
            return {name: None, f"{name}_unknown": record.age.reason}
        return {name: record.age, f"{name}_unknown": None}
    return {name: None, f"{name}_unknown": None}


def _part(life: PartLife) -> Row:
    at = life.at
    return {"loom": life.loom, "part": at.part, "side": at.side, "number": at.number}


def _readings(life: PartLife, usage: Mapping[str, UsageClock]) -> list[Row]:
    rows = []
    for quantity, series in life.readings.items():
        for reading in series:
            use = use_of(life, reading.when, usage)
            on = [s for s in life.stays if s.start is None or s.start <= reading.when]
            rows.append(
                {
                    **_part(life),
                    "loom": on[-1].loom if on else life.loom,
                    "quantity": quantity,
                    "when": reading.when,
                    "value": reading.value,
                    "unit": reading.unit,
                    "bound": reading.bound.value,
                    "level": reading.level,
                    "counts": reading.counts,
                    "use_h": None if isinstance(use, Refusal) else use,
                    "by": reading.by,
                    "written": reading.written,
                    **_source(reading.source),
                }
            )
    return rows


def _source(source: Source | None) -> Row:
    return {"path": source.path if source else None, "line": source.line if source else None}


def _faults(snapshot: Snapshot) -> list[Row]:
    fleet = snapshot.fleet
    faults: list[tuple[str, Fault, ClearedFault | None]] = [
        (c.loom, c.fault, c) for c in fleet.history.cleared
    ]
    faults += [(s.loom, fault, None) for s in fleet.looms.values() for fault in s.faults]
    return [
        {
            "loom": loom,
            "part": fault.part,
            "side": fault.side,
            "symptom": fault.symptom,
            "text": fault.text,
            "since": fault.since,
            "cleared": cleared.cleared if cleared else None,
            "cleared_text": cleared.text if cleared else None,
            "by": fault.by,
            **_source(fault.source),
        }
        for loom, fault, cleared in sorted(faults, key=lambda f: (f[1].since, f[0], f[1].text))
    ]


def _actions(snapshot: Snapshot) -> list[Row]:
    fleet = snapshot.fleet
    actions: list[tuple[Action, ClosedAction | None]] = [
        (c.action, c) for c in fleet.history.closed
    ]
    actions += [(a, None) for a in fleet.shed.actions]
    actions += [(a, None) for state in fleet.looms.values() for a in state.actions]
    return [
        {
            "place": action.place.name,
            "number": action.number,
            "text": action.text,
            "opened": action.opened,
            "closed": closed.when if closed else None,
            "due": action.due.written if action.due else None,
            "due_at": action.due.moment if isinstance(action.due, DueAt) else None,
            "dropped": closed.dropped if closed else False,
            "result": closed.text if closed else None,
            "by": action.by,
            "whom": action.whom,
            **_source(action.source),
        }
        for action, closed in sorted(
            actions, key=lambda a: (a[0].opened, a[0].place.name, a[0].text)
        )
    ]
