"""Repeat faults for the supervisor: chains first, then counts, rates, trend and the looms compared.

Every number stands with its counts; what a comparison could not have found stands beside it. Text
that is long is wrapped, not cut. No person is counted. What is shown is reckoned in
``repeat_report``; how often a fault comes stands in ``repeats_figures``.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from board.reckon.chains import Link
from board.reckon.repair_record import Exposed, JobRecord, MovedPart, Repair
from board.reckon.repeat_report import RepeatReport, ToldChain
from board.reckon.symptoms import How
from board.show.figures_screen import duration
from board.show.lines import Bit, Line, Tone, line, title
from board.show.moments import MONTHS, clock, counted
from board.show.repeats_figures import figure_lines
from board.show.text import clean, wrapped

_MOST_JOBS = 3


def repeats_lines(report: RepeatReport, cells: int, zone: ZoneInfo, most: int) -> list[Line]:
    """The whole report; the first ``most`` chains in full, the others one line each."""
    now = report.span.end
    rows = _head(report, cells, zone)
    for told in report.chains[:most]:
        rows += _chain(told, cells, zone, now)
    rest = report.chains[most:]
    if rest:
        rows.append(
            line(f"{counted(len(rest), 'chain')} more, --most {len(report.chains)} for all:")
        )
        rows += [_short(told, zone, now) for told in rest]
    rows += _moved(report, cells, zone, now)
    rows += figure_lines(report, cells, zone)
    return [row.fitted(cells) for row in rows]


def _head(report: RepeatReport, cells: int, zone: ZoneInfo) -> list[Line]:
    window = report.window.words()
    asked = report.asked
    of = " ".join(word for word in (asked.loom, asked.part) if word)
    of = f" of {of}" if of else ""
    start = f"{report.span.start.astimezone(zone):%Y-%m-%d}"
    end = f"{report.span.end.astimezone(zone):%Y-%m-%d %H:%M}"
    text = (
        f"{counted(report.faults, 'fault')}{of} on record from {start} to {end}. A repeat: the same"
        f" loom, part, side and symptom again within {window}, after it was cleared or its part"
        f" was worked on. Not written: proofs that the register asks of the part after it is"
        f" replaced."
    )
    count = len(report.chains)
    rows = [title(f"REPEAT FAULTS {counted(count, 'chain')}", "the longest first", cells)]
    rows += _paragraph(text, cells)
    return rows if count else [*rows, line(), line("no fault came again on record")]


# -- one chain -----------------------------------------------------------------------------


def _short(told: ToldChain, zone: ZoneInfo, now: datetime) -> Line:
    return line(Bit(_name(told), Tone.STRONG), f"  {_times(told, zone, now)}")


def _name(told: ToldChain) -> str:
    first = told.chain.first
    place = f"{first.place}: " if first.place else ""
    return f"{first.loom} {place}{first.symptom or 'no symptom told'}"


def _times(told: ToldChain, zone: ZoneInfo, now: datetime) -> str:
    chain = told.chain
    days = (chain.last.since - chain.first.since) / timedelta(days=1)
    over = f"in {days:.0f} days" if days >= 1.5 else f"in {days * 24:.0f} h"
    cleared = day_and_time(chain.last.cleared or now, now, zone)
    state = "OPEN" if chain.is_open else f"cleared {cleared}"
    return f"{len(chain.links)} times {over}, {state}"


def _chain(told: ToldChain, cells: int, zone: ZoneInfo, now: datetime) -> list[Line]:
    tone = Tone.ABNORMAL if told.chain.is_open else Tone.STRONG
    rows = [line(), line(Bit(_name(told), tone), f"   {_times(told, zone, now)}")]
    links = told.chain.links
    for number, (link, repair) in enumerate(zip(links, told.repairs, strict=True), start=1):
        fault = link.fault
        again = f" (written {fault.again + 1} times)" if fault.again else ""
        head = f" {number}  {day_and_time(fault.since, now, zone)}  "
        rows += _paragraph(f"{quoted(fault.text)}{again}", cells, head)
        last = number == len(links)
        rows += _repair(repair, link, cells, zone, now, last=last)
        if link.time is not None:
            rows.append(line(Bit(f"    again after {_between(link, link.time)}", Tone.STRONG)))
    rows += _conclusions(told, cells, zone, now)
    return rows


def _between(link: Link, time: timedelta) -> str:
    """How long a fault was away: the use of the loom, and the time that went by."""
    use = "use unknown"
    if link.hours is not None:
        minutes = link.hours < 2
        use = f"{link.hours * 60:.0f} running min" if minutes else f"{link.hours:.0f} running h"
    days = time / timedelta(days=1)
    return f"{use}, in all {duration(24 * days)}" if days < 1 else f"{use}, {days:.1f} days"


def day_and_time(when: datetime, now: datetime, zone: ZoneInfo) -> str:
    """A moment with its date, of today too: what is looked back on is compared by days."""
    local = when.astimezone(zone)
    if abs(now - when) >= timedelta(days=300):
        return clock(when, now, zone)
    return f"{local:%d} {MONTHS[local.month - 1]} {local:%H:%M}"


def quoted(text: str) -> str:
    """A writer's own words, told from ours by their marks."""
    return f'"{text}"'


def _repair(
    repair: Repair, link: Link, cells: int, zone: ZoneInfo, now: datetime, *, last: bool
) -> list[Line]:
    rows: list[Line] = []
    for record in repair.jobs[:_MOST_JOBS]:
        when = f"{day_and_time(record.job.when, now, zone)}  "
        rows += _paragraph(_job(record), cells, f"    {when}")
        told = []
        if record.failed:
            told.append(f"bad: {', '.join(record.failed)}")
        if record.not_proved:
            told.append(f"not written: {', '.join(record.not_proved)}")
        if told:
            rows += _paragraph("; ".join(told), cells, "      ")
    if len(repair.jobs) > _MOST_JOBS:
        rows.append(line(f"    and {counted(len(repair.jobs) - _MOST_JOBS, 'job')} more on it"))
    if not repair.jobs:
        rows.append(line("    no job on it written yet" if last else "    no job on it written"))
    measured = _measured(repair)
    if link.fault.cleared is not None:
        words = f" {quoted(link.fault.cleared_text)}" if link.fault.cleared_text else ""
        when = day_and_time(link.fault.cleared, now, zone)
        measured = [f"cleared {when}{words}", *measured]
    if measured:
        rows += _paragraph("; ".join(measured), cells, "    ")
    return rows


def _job(record: JobRecord) -> str:
    job = record.job
    verb = job.verb.value if job.verb else ""
    words = f" {quoted(job.text)}" if job.text else ""
    # what a move says in its text is ours: from which loom it came
    what = f"{verb} {job.at.words()}{words}" if verb else f"{job.at.words()} {job.text}"
    parts = [what.strip(), *record.proofs]
    if record.batch:
        parts.append(f"batch {record.batch}")
    if job.style:
        parts.append(f"style {job.style}")
    return "; ".join(parts)


def _measured(repair: Repair) -> list[str]:
    found = []
    for quantity in dict.fromkeys(r.quantity for r in repair.measured):
        own = [r for r in repair.measured if r.quantity == quantity]
        count = f" ({len(own)} readings)" if len(own) > 1 else ""
        found.append(f"{quantity} {own[-1].reading.written}{count}")
    told = [f"measured: {', '.join(found)}"] if found else []
    if repair.not_measured:
        told.append(f"not measured: {', '.join(repair.not_measured)}")
    return told


def _conclusions(told: ToldChain, cells: int, zone: ZoneInfo, now: datetime) -> list[Line]:
    rows = _put_together(told, cells)
    first = told.chain.first
    if told.again_with_new_part:
        text = (
            f"came again although the {first.place} was replaced: it may lie elsewhere on"
            f" {first.loom}"
        )
        rows += _paragraph(text, cells, "  > ", Tone.ABNORMAL)
    for moved in told.moved:
        rows += _paragraph(_moved_words(moved, zone, now), cells, "  > ", Tone.ABNORMAL)
    if told.not_measured_beside:
        since = "the last fault" if told.chain.is_open else "the first fault"
        text = f"beside it, not measured since {since}: {', '.join(told.not_measured_beside)}"
        rows += _paragraph(text, cells, "  > ")
    return rows


def _put_together(told: ToldChain, cells: int) -> list[Line]:
    """Which faults of the chain were put to its symptom by likeness, not by the register."""
    faults = [link.fault for link in told.chain.links]
    rows: list[Line] = []
    for how in (How.LIKE, How.NEAR):
        texts = dict.fromkeys(quoted(f.text) for f in faults if f.how is how)
        if texts:
            text = f"put to this symptom by {how.value}, not by the register: {', '.join(texts)}"
            rows += _paragraph(text, cells, "  > ")
    return rows


# -- moved parts ---------------------------------------------------------------------------


def _moved(report: RepeatReport, cells: int, zone: ZoneInfo, now: datetime) -> list[Line]:
    if not report.moved:
        return []
    rows = [line(), title(f"MOVED PARTS {len(report.moved)}", "counts, not proof", cells)]
    for moved in report.moved:
        rows += _paragraph(_moved_words(moved, zone, now), cells)
    return rows


def _moved_words(moved: MovedPart, zone: ZoneInfo, now: datetime) -> str:
    job = moved.job
    when = day_and_time(job.when, now, zone)
    return (
        f"{moved.symptom} {moved.follows.value}: {job.at.words()} of {job.origin} to {job.loom}"
        f" {when}. {_exposed(moved.before)} with it on {job.origin} before;"
        f" {_exposed(moved.went)} with it on {job.loom} since; {_exposed(moved.left)} on"
        f" {job.origin} without it since"
    )


def _exposed(exposed: Exposed) -> str:
    hours = f"{exposed.hours:.0f} h" if exposed.hours is not None else "hours unknown"
    return f"{counted(exposed.faults, 'fault') if exposed.faults else 'no fault'} in {hours}"


def _paragraph(text: str, cells: int, head: str = "", tone: Tone = Tone.PLAIN) -> list[Line]:
    """A text wrapped behind its head, further lines under its own beginning."""
    room = max(cells - len(head), 20)
    pieces = wrapped(clean(text).split(" "), room, gap=" ") or [""]
    return [
        line(Bit(f"{head if i == 0 else ' ' * len(head)}{piece}", tone))
        for i, piece in enumerate(pieces)
    ]
