"""Repeat faults of many mills: each mill's own report, and all chains in one order.

A job answers plain values: reports and chains as JSON text, each behind what orders it.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from heapq import merge as merged_in_order
from pathlib import Path

from board.archive.asking import Task, of_each
from board.archive.opening import MillAsked, Opened, opened
from board.commands.find import between, loom_named, part_named
from board.commands.repeats import window_named
from board.reckon.recurrence import poisson_rate
from board.reckon.refusal import Refusal
from board.reckon.repeat_rates import LEVEL
from board.reckon.repeat_report import Asked, RepeatReport, repeat_report
from board.shell import CannotRun
from board.show.repeats_json import repeats_document

# one chain: less its length, less its last time [s since 1970], its mill, its place in that mill's
# report, and the chain as JSON; in this order the one that asks for most attention comes first
ChainFound = tuple[int, float, str, int, str]
# a mill: its name, its zone, its looms, its report less the chains as JSON, and why the question
# means nothing there
MillReport = tuple[str, str, int, str, str]
Repeats = tuple[tuple[ChainFound, ...], tuple[MillReport, ...], tuple[tuple[str, str], ...]]


def repeats_in(task: Task) -> Repeats:
    """The repeats of some mills of an archive."""
    out, pairs, _, environ = task
    asked = {name: None if value is None else str(value) for name, value in pairs}

    def one(mill: MillAsked) -> Repeats:
        with opened(Path(out), mill, environ) as there:
            return _in_one(there, asked.get)

    return of_each(task, one, lambda name, reason: ((), (), ((name, reason),)), merge)


def _in_one(there: Opened, asked: Callable[[str], str | None]) -> Repeats:
    name, mill = there.name, there.mill
    try:
        since, until = between(asked("since"), asked("until"), mill)
        question = Asked(
            window=window_named(asked("window")),
            since=since,
            until=until,
            part=part_named(asked("part"), mill),
            loom=loom_named(asked("loom"), mill),
        )
    except CannotRun as error:
        return (), ((name, mill.zone.key, len(mill.looms), "", error.sentence),), ()
    report = repeat_report(there.snapshot, question)
    document = repeats_document(report, mill.zone)
    records = document.pop("chains")
    chains = tuple(
        (
            -len(told.chain.links),
            -told.chain.last.since.timestamp(),
            name,
            place,
            json.dumps({"mill": name, **record}),
        )
        for place, (told, record) in enumerate(zip(report.chains, records, strict=True))
    )
    whole = json.dumps({**_rates(report), "report": document})
    return chains, ((name, mill.zone.key, len(report.hours), whole, ""),), ()


def _rates(report: RepeatReport) -> dict[str, object]:
    """Faults and repeats of a mill, and how often they come [1,000 running h]."""
    hours = sum(report.hours.values())
    repeats = sum(len(told.chain.links) - 1 for told in report.chains)
    return {
        "chains": len(report.chains),
        "running_h": round(hours, 2),
        "days": round((report.span.end - report.span.start) / timedelta(days=1), 2),
        "faults": report.faults,
        "repeats": repeats,
        "faults_per_1000_h": _rate(report.faults, hours),
        "repeats_per_1000_h": _rate(repeats, hours),
    }


def _rate(count: int, hours: float) -> dict[str, object] | None:
    found = poisson_rate(count, hours, level=LEVEL)
    if isinstance(found, Refusal):
        return None
    return {
        "rate": round(found.rate * 1000, 6),
        "low": round(found.limits.low * 1000, 6),
        "high": round(found.limits.high * 1000, 6),
        "level": found.limits.level,
        "method": found.limits.method.value,
    }


def merge(a: Repeats, b: Repeats) -> Repeats:
    """Two answers as one: associative, and the same either way round."""
    return (
        tuple(merged_in_order(a[0], b[0], key=lambda chain: chain[:4])),
        tuple(sorted((*a[1], *b[1]))),
        tuple(sorted((*a[2], *b[2]))),
    )
