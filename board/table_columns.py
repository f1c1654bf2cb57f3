"""The columns of the tables for other tools: names, types, and what each holds with its unit.

The one source of what the files carry in their metadata; filling them is left to ``tables``.
"""

from __future__ import annotations

from collections.abc import Mapping

from grammar.frozen import dataclass

TEXT, WHOLE, NUMBER, YES, TIME = "string", "Int64", "Float64", "boolean", "time"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column: its name, its type and what it holds, with the unit."""

    name: str
    kind: str
    holds: str


def _columns(*listed: tuple[str, str, str]) -> tuple[Column, ...]:
    return tuple(Column(name=n, kind=k, holds=h) for n, k, h in listed)


_SOURCE = (("path", TEXT, "log file"), ("line", WHOLE, "line of it, from 1"))
_PLACE = (
    ("loom", TEXT, "loom"),
    ("part", TEXT, "part, the register's name"),
    ("side", TEXT, "side"),
)
_NUMBERED = (*_PLACE, ("number", WHOLE, "which of several"))

COLUMNS: Mapping[str, tuple[Column, ...]] = {
    "entries": _columns(
        *_SOURCE,
        ("when", TIME, "time of the entry [UTC]; null: not read"),
        ("place", TEXT, "loom, range, section or shed"),
        ("place_kind", TEXT, "which of these it is"),
        ("looms", TEXT, "the looms it speaks of, blank between"),
        ("by", TEXT, "writer"),
        ("shift_day", TEXT, "day its shift began on, ISO 8601"),
        ("shift", TEXT, "shift"),
        ("kinds", TEXT, "kinds of its clauses, blank between"),
        ("standing", TEXT, "counts, struck, not understood, refused in part, later than now"),
        ("struck_by", TEXT, "path:line of the line that strikes it"),
        ("text", TEXT, "the line as written"),
    ),
    "spells": _columns(
        ("loom", TEXT, "loom"),
        ("motion", TEXT, "RUNNING, STOPPED or UNKNOWN"),
        ("start", TIME, "start [UTC]"),
        ("end", TIME, "end, or the moment looked at where it goes on [UTC]"),
        ("hours", NUMBER, "length by the clock [h]"),
        ("reason", TEXT, "why it was stopped"),
        ("style", TEXT, "style on the loom"),
        ("open", YES, "whether it goes on"),
    ),
    "readings": _columns(
        *_NUMBERED,
        ("quantity", TEXT, "what was measured"),
        ("when", TIME, "time [UTC]"),
        ("value", NUMBER, "value in `unit`; the gauge's size for a gauge verdict"),
        ("unit", TEXT, "unit of the value"),
        ("bound", TEXT, "exact; at least or at most for a gauge verdict"),
        ("level", WHOLE, "adjustments and repairs since fitting"),
        ("counts", YES, "false while an implausible value waits for a second one"),
        ("use_h", NUMBER, "use since fitting or first reading [running h]; null: unknown"),
        ("by", TEXT, "writer"),
        ("written", TEXT, "the reading as written"),
        *_SOURCE,
    ),
    "lives": _columns(
        *_NUMBERED,
        ("fitted", TIME, "fitting [UTC]; null: before the log"),
        ("ended", TIME, "removal [UTC]; null: in service"),
        ("ending", TEXT, "how it ended"),
        ("why", TEXT, "worn, broken or early, as the job says"),
        ("batch", TEXT, "delivery"),
        ("style", TEXT, "style woven when it was fitted"),
        ("hours", NUMBER, "use on record [running h]; null: unknown"),
        ("stays", TEXT, "looms it was on, blank between"),
        ("fault_at_end", YES, "a fault of it was open or cleared when it was removed"),
        ("by", TEXT, "writer of the fitting"),
        ("verdict", TEXT, "what its end counts as: failed, unfinished or undecided"),
        ("verdict_why", TEXT, "what that rests on"),
        ("age_h", NUMBER, "age at its end, or now [running h]; null: unknown"),
        ("age_h_unknown", TEXT, "why that is not known"),
        ("age_picks", NUMBER, "the same [picks]; null: unknown"),
        ("age_picks_unknown", TEXT, "why that is not known"),
    ),
    "faults": _columns(
        *_PLACE,
        ("symptom", TEXT, "symptom, by the register's words where they fit"),
        ("text", TEXT, "the fault as written"),
        ("since", TIME, "opened [UTC]"),
        ("cleared", TIME, "cleared [UTC]; null: open"),
        ("cleared_text", TEXT, "what was written on clearing"),
        ("by", TEXT, "writer"),
        *_SOURCE,
    ),
    "actions": _columns(
        ("place", TEXT, "loom, range, section or shed"),
        ("number", WHOLE, "number in the shed"),
        ("text", TEXT, "the action as written"),
        ("opened", TIME, "opened [UTC]"),
        ("closed", TIME, "closed [UTC]; null: open"),
        ("due", TEXT, "due as written"),
        ("due_at", TIME, "due [UTC]; null: none, or by use"),
        ("dropped", YES, "closed undone"),
        ("result", TEXT, "what was written on closing"),
        ("by", TEXT, "who opened it"),
        ("whom", TEXT, "for whom"),
        *_SOURCE,
    ),
}
