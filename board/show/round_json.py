"""The round as JSON; ``board/JSON.md`` lists its keys."""

from __future__ import annotations

from typing import Any

from board.reckon.refusal import Refusal
from board.reckon.rounds import Round, RoundLine
from board.reckon.summary import Summary
from board.show.may_rows import may_record
from board.show.measures import value_of
from board.show.records import iso, part_record
from board.show.rows import due_words
from board.state.fleet import Isolation

Record = dict[str, Any]


def round_document(summary: Summary, found: Round) -> Record:
    """The whole round."""
    return {
        "as_of": iso(summary, summary.as_of),
        "shift": found.shift.shift.name,
        "day": found.shift.shift.day.isoformat(),
        "starts": iso(summary, found.shift.start),
        "ends": iso(summary, found.shift.end),
        "until": iso(summary, found.until),
        "lines": [_line(summary, item) for item in found.lines],
        "left_off": [_line(summary, item) for item in found.left_off],
        "also_due": [
            {
                "place": x.line.action.place.name,
                "number": x.line.action.number,
                "text": x.line.action.text,
                "by": x.line.action.by,
                "for": x.line.action.whom,
                "opened": iso(summary, x.line.action.opened),
                "due": due_words(summary, x.line),
                "pressing": x.pressing.value,
                "isolated": x.loom is not None
                and x.loom.state.isolation is not Isolation.NONE_RECORDED,
            }
            for x in found.also_due
        ],
        "past_limit": [
            {"loom": w.loom, **part_record(w.at), "quantity": w.quantity} for w in found.past
        ],
        "laid_up": list(found.laid_up),
        "never_told": [
            {"part": n.part, "side": n.side, "looms": list(n.looms)} for n in found.never_told
        ],
        "may_be_isolation": [may_record(summary, m) for m in summary.may_isolate],
    }


def _line(summary: Summary, item: RoundLine) -> Record:
    limits, state = item.quantity.limits, item.loom.state
    last, stands = item.last, item.stands
    every = item.quantity.check_every
    none = "no interval is given" if every is None else None
    return {
        "section": item.loom.section,
        "loom": item.loom.loom,
        **part_record(item.at),
        "quantity": item.quantity.name,
        "unit": item.quantity.unit,
        "why": item.why.value,
        "last": float(value_of(last, item.quantity)) if last else None,
        "bound": last.bound.value if last else None,
        "read_at": iso(summary, last.when) if last else None,
        "stands": float(value_of(stands, item.quantity)) if stands else None,
        "stands_bound": stands.bound.value if stands else None,
        "since": iso(summary, item.since),
        "check_every": str(every) if every else None,
        "overdue_by": round(item.over, 3) if isinstance(item.over, float) else None,
        "overdue_reason": item.over.reason if isinstance(item.over, Refusal) else none,
        "limit_low": limits.low,
        "limit_high": limits.high,
        "p": None if isinstance(item.chance, Refusal) else round(item.chance, 4),
        "p_reason": item.chance.reason if isinstance(item.chance, Refusal) else None,
        "isolated": state.isolation is not Isolation.NONE_RECORDED,
        "locks_by": [lock.by for lock in state.locks],
        "caution": summary.snapshot.mill.part[item.at.part].caution or None,
    }
