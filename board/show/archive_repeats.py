"""Repeat faults of many mills: a table of mills, then all chains in one order; and as JSON.

Counts and facts only; no person is counted. What a mill's own report holds more stands in the
document.
"""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from board.archive.asking import Archive
from board.archive.repeating import Repeats
from board.show.archive_screen import (
    Missing,
    caution_lines,
    missing_lines,
    missing_records,
    widest,
)
from board.show.archive_tables import moments_of
from board.show.lines import Bit, Line, Tone, line, title
from board.show.moments import counted
from board.show.prose import prose
from board.show.records import Record
from board.show.repeats_screen import day_and_time, quoted
from board.show.text import clean, fill, wrapped


def archive_repeats_lines(
    found: Repeats, missing: Missing, cells: int, now: datetime, most: int
) -> list[Line]:
    """The mills with how often faults and repeats come; the first ``most`` chains in full."""
    mills = [(name, json.loads(text)) for name, _, _, text, _ in found[1] if text]
    zones = {name: ZoneInfo(zone) for name, zone, _, _, _ in found[1]}
    head = f"REPEAT FAULTS {counted(len(found[0]), 'chain')} of {counted(len(mills), 'mill')}"
    rows = [title(head, "the longest first", cells)]
    rows += _mills(mills, cells)
    chains = [json.loads(text) for *_, text in found[0]]
    for chain in chains[:most]:
        rows += _chain(chain, zones[chain["mill"]], now, cells)
    rest = chains[most:]
    if rest:
        more = f"{counted(len(rest), 'chain')} more, --most {len(chains)} for all:"
        rows += [line(), line(more)]
        rows += [
            line(Bit(_name(chain), Tone.STRONG), f"  {_times(chain, zones[chain['mill']], now)}")
            for chain in rest
        ]
    for name, _, _, _, reason in found[1]:
        if reason:
            rows += prose(clean(f"{name}: {reason}"), cells)
    every = (*rows, *missing_lines(missing, cells), *caution_lines(cells))
    return [row.fitted(cells) for row in every]


def _mills(mills: list[tuple[str, Record]], cells: int) -> list[Line]:
    text = (
        "Faults and repeats per 1,000 running h, with exact 90 % limits. A repeat: the same loom,"
        " part, side and symptom again within the window of its mill's register. Mills write and"
        " weave differently: a higher rate may be the fuller log."
    )
    rows = prose(text, cells)
    wide = max(widest(name for name, _ in mills), 4)
    rows.append(
        line(f"{'mill':<{wide}} {'running h':>11} {'faults':>7} {'rate':<18} {'repeats':>7} rate")
    )
    for name, told in mills:
        rows.append(
            line(
                Bit(fill(name, wide), Tone.STRONG),
                f" {told['running_h']:>11,.0f} {told['faults']:>7}"
                f" {_rate(told['faults_per_1000_h']):<18} {told['repeats']:>7}"
                f" {_rate(told['repeats_per_1000_h'])}",
            )
        )
    return rows


def _rate(rate: Record | None) -> str:
    if rate is None:
        return "not known"
    return f"{rate['rate']:.2f} ({rate['low']:.2f} to {rate['high']:.2f})"


# -- chains --------------------------------------------------------------------------------


def _name(chain: Record) -> str:
    place = " ".join(word for word in (chain["side"], chain["part"]) if word)
    symptom = chain["symptom"] or "no symptom told"
    return f"{chain['mill']} {chain['loom']} {place}{': ' if place else ''}{symptom}"


def _times(chain: Record, zone: ZoneInfo, now: datetime) -> str:
    times = chain["times"]
    first, last = (datetime.fromisoformat(times[n]["when"]) for n in (0, -1))
    days = (last - first) / timedelta(days=1)
    over = f"in {days:.0f} days" if days >= 1.5 else f"in {days * 24:.0f} h"
    cleared = times[-1]["cleared"]
    state = "OPEN" if chain["open"] else f"cleared {_at(cleared, zone, now)}"
    return f"{len(times)} times {over}, {state}"


def _at(when: str, zone: ZoneInfo, now: datetime) -> str:
    return day_and_time(datetime.fromisoformat(when), now, zone)


def _chain(chain: Record, zone: ZoneInfo, now: datetime, cells: int) -> list[Line]:
    tone = Tone.ABNORMAL if chain["open"] else Tone.STRONG
    rows = [line(), line(Bit(_name(chain), tone), f"   {_times(chain, zone, now)}")]
    between = [*chain["between"], chain["since"]]
    for number, (each, after) in enumerate(zip(chain["times"], between, strict=True), start=1):
        again = f" (written {each['written_again'] + 1} times)" if each["written_again"] else ""
        head = f" {number}  {_at(each['when'], zone, now)}  "
        rows += _paragraph(f"{quoted(each['text'])}{again}", cells, head)
        for job in after["jobs"]:
            rows += _paragraph(_job(job), cells, f"    {_at(job['when'], zone, now)}  ")
        if not after["jobs"]:
            rows.append(line("    no job on it written"))
        if after["days"] is not None:
            hours = f"{after['hours']:.0f} running h" if after["hours"] is not None else (
                "use unknown"
            )  # fmt: skip
            rows.append(
                line(Bit(f"    again after {hours}, {after['days']:.1f} days", Tone.STRONG))
            )
    return rows


def _job(job: Record) -> str:
    pieces = [f"{job['work']} {quoted(job['text'])}" if job["text"] else str(job["work"])]
    pieces += job["proofs"]
    if job["batch"]:
        pieces.append(f"batch {job['batch']}")
    told = [f"bad: {', '.join(job['failed'])}"] if job["failed"] else []
    if job["not_written"]:
        told.append(f"not written: {', '.join(job['not_written'])}")
    return "; ".join([*pieces, *told])


def _paragraph(text: str, cells: int, head: str) -> list[Line]:
    """A text wrapped behind its head, further lines under its own beginning."""
    room = max(cells - len(head), 20)
    pieces = wrapped(clean(text).split(" "), room, gap=" ") or [""]
    return [line(f"{head if i == 0 else ' ' * len(head)}{piece}") for i, piece in enumerate(pieces)]


def archive_repeats_document(found: Repeats, missing: Missing, archive: Archive) -> Record:
    """The same as JSON, with each mill's own report."""
    moments = moments_of(archive)
    return {
        "archive": str(archive.out),
        "mills": [
            {"mill": name, "as_of": moments[name], "looms": looms, **json.loads(text)}
            for name, _, looms, text, _ in found[1]
            if text
        ],
        "chains": [json.loads(text) for *_, text in found[0]],
        "unknown_in": [
            {"mill": name, "reason": reason} for name, _, _, _, reason in found[1] if reason
        ],
        "missing": missing_records(missing),
    }
