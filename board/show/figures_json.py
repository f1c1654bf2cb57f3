"""The shed's figures as JSON; ``board/JSON.md`` lists its keys."""

from __future__ import annotations

import math
from typing import Any

from board.reckon.durations import NoFailures, TimeBetweenFailures
from board.reckon.figures_record import LEVEL, AvailabilityOf, Figures
from board.reckon.limits import Limits
from board.reckon.proportion import Proportion
from board.reckon.refusal import Refusal
from board.reckon.summary import Summary
from board.show.records import iso

Record = dict[str, Any]


def figures_document(summary: Summary, figures: Figures) -> Record:
    """The whole answer."""
    sections = [_available(one) for one in (figures.shed, *figures.sections)]
    return {
        "as_of": iso(summary, summary.as_of),
        "from": iso(summary, figures.start),
        "to": iso(summary, figures.end),
        "level": LEVEL,
        "figures": [
            *sections,
            *_restoration(figures),
            _failures(figures),
            _repeats(figures),
            _checks(figures),
            *_backlog(figures),
        ],
        "lines": {
            "entries": figures.lines.entries,
            "not_understood": figures.lines.not_understood,
            "of_no_shift": figures.lines.of_no_shift,
            "partly_refused": figures.lines.partly_refused,
        },
    }


def _record(
    name: str,
    unit: str,
    value: float | Refusal,
    limits: Limits | Refusal | None,
    counts: Record,
    of: str = "shed",
) -> Record:
    reasons = [x.reason for x in (value, limits) if isinstance(x, Refusal)]
    known = limits if isinstance(limits, Limits) else None
    high = known.high if known is not None and math.isfinite(known.high) else None
    return {
        "figure": name,
        "of": of,
        "value": None if isinstance(value, Refusal) else round(value, 6),
        "unit": unit,
        "low": round(known.low, 6) if known is not None else None,
        "high": round(high, 6) if high is not None else None,
        "reason": reasons[0] if reasons else None,
        "counts": counts,
    }


def _available(one: AvailabilityOf) -> Record:
    counts: Record = {"looms": one.looms, "not_told_h": round(one.not_told, 2)}
    if isinstance(one.pooled, Refusal):
        return _record("availability", "share", one.pooled, None, counts, one.name)
    pooled = one.pooled
    counts |= {
        "down_h": round(pooled.down, 3),
        "required_h": round(pooled.required, 3),
        "stops": pooled.stops,
        "still_open": one.still_open,
    }
    return _record("availability", "share", pooled.share, pooled.limits, counts, one.name)


def _proportion(name: str, answer: Proportion | Refusal, counts: Record) -> Record:
    if isinstance(answer, Refusal):
        return _record(name, "share", answer, None, counts)
    return _record(name, "share", answer.share, answer.limits, counts)


def _restoration(figures: Figures) -> list[Record]:
    restored, pairs = figures.restoration, figures.pairs
    counts: Record = {
        "stops": 0 if isinstance(pairs, Refusal) else pairs.of,
        "completed": 0 if isinstance(pairs, Refusal) else pairs.count,
    }
    complete = _proportion("pairs_complete", pairs, counts)
    if isinstance(restored, Refusal):
        names = ("restoration_median", "restoration_mean")
        return [*(_record(name, "h", restored, None, counts) for name in names), complete]
    return [
        _record("restoration_median", "h", restored.median, restored.median_limits, counts),
        _record("restoration_mean", "h", restored.mean, restored.mean_limits, counts),
        complete,
    ]


def _failures(figures: Figures) -> Record:
    failures = figures.failures
    counts: Record = {
        "stops_for_a_fault": failures.failures,
        "running_h": round(failures.operating, 2),
        "looms_of_unknown_use": failures.use_unknown,
    }
    match failures.between:
        case TimeBetweenFailures(mean=mean, limits=limits):
            return _record("between_failures", "running h", mean, limits, counts)
        case NoFailures(operating=operating, bound=bound):
            none = Refusal(reason=f"none in {operating:.0f} h; low is a one-sided bound")
            return _record("between_failures", "running h", none, bound, counts)
        case Refusal() as refused:
            return _record("between_failures", "running h", refused, None, counts)


def _repeats(figures: Figures) -> Record:
    repeats = figures.repeats
    counts: Record = {"chains": repeats.chains, "window": repeats.window.words()}
    if isinstance(repeats.share, Proportion):
        counts |= {"repeats": repeats.share.count, "faults": repeats.share.of}
    return _proportion("repeat_ratio", repeats.share, counts)


def _checks(figures: Figures) -> Record:
    checks = figures.checks
    counts: Record = {
        "due": checks.due,
        "in_time": checks.in_time,
        "late": checks.late,
        "little_late": checks.little_late,
        "not_done": checks.not_done,
        "unknown": checks.unknown,
    }
    return _proportion("checks_in_time", figures.checks_in_time, counts)


def _backlog(figures: Figures) -> list[Record]:
    backlog = figures.backlog
    counts: Record = {
        "open": backlog.open,
        "overdue": backlog.overdue,
        "due_by_unknown_use": backlog.use_unknown,
        "oldest_shifts": None if isinstance(backlog.oldest, Refusal) else backlog.oldest,
        "done": backlog.done,
        "dropped": backlog.dropped,
    }
    return [
        _record("actions_open", "actions", float(backlog.open), None, counts),
        _record("action_age", "shifts", backlog.median_age, None, counts),
        _record("days_to_done", "days", backlog.median_days, None, counts),
    ]
