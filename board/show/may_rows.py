"""Lines that may hide an isolation as rows of a screen: never cut short, with day and writer.

A line of thousands of characters is shown by its beginning and what stands around its words of
isolation. Which lines these are is told by ``board.state``; when and of which loom each was
written, by ``board.reckon.may_isolate``.
"""

from __future__ import annotations

from datetime import timedelta
from itertools import groupby

from board.reckon.may_isolate import about_when, is_to_come, looms_named
from board.reckon.summary import Summary
from board.show.lines import Bit, Line, Tone, flowed, line
from board.show.moments import clock, day_of
from board.show.records import Record, iso
from board.show.text import on_one_line, width
from board.state.fleet import MayIsolate
from grammar.folding import fold
from grammar.isolation_words import IsolationWords

MOST_FULL = 6  # more are written several a line
LONGEST = 400  # [cells] of a line that is shown whole
_INDENT = "     "
_BEGINNING = 60  # characters of a longer line that are shown in any case
_PIECE, _BESIDE = 120, 40  # characters that are looked at together, and shown to each side
_RECENT = timedelta(hours=18)  # as ``moments.clock`` has it


def may_rows(
    summary: Summary, lines: tuple[MayIsolate, ...], cells: int, *, short: bool
) -> list[Line]:
    """Each of these lines whole; ``short``: where they are many, several in a row."""
    if short and len(lines) > MOST_FULL:
        return _several(summary, lines, cells)
    return [row for may in lines for row in _rows(summary, may, cells)]


def _rows(summary: Summary, may: MayIsolate, cells: int) -> list[Line]:
    bits = [
        Bit(label(summary, may), Tone.ABNORMAL),
        Bit(may_text(summary, may), Tone.STRONG),
        Bit(f"   ({written_words(summary, may)})"),
    ]
    return flowed(bits, cells, _INDENT)


def label(summary: Summary, may: MayIsolate) -> str:
    """What is said before the text of a line: why it stands with the isolations."""
    if may.understood:
        return "may be an isolation: "
    if may.gone is None:
        return "not understood, may be an isolation: "
    since = clock(may.gone, summary.as_of, summary.snapshot.mill.zone)
    return f"line gone since {since} and no lock removed, may be an isolation: "


def _several(summary: Summary, lines: tuple[MayIsolate, ...], cells: int) -> list[Line]:
    """Lines of one heading behind each other, below what they have in common."""
    rows: list[Line] = []
    for told, group in groupby(lines, key=lambda may: _heading(summary, may)):
        rows += flowed([Bit(told, Tone.ABNORMAL)], cells, _INDENT)
        texts = [Bit(may_text(summary, may), Tone.STRONG) for may in group]
        rows += [line("  ", *row.bits) for row in flowed(texts, cells - 2, "", apart=True)]
    return rows


def _heading(summary: Summary, may: MayIsolate) -> str:
    return f"{label(summary, may)}{written_words(summary, may)}"


def written_words(summary: Summary, may: MayIsolate) -> str:
    """When and by whom a line was written: ``night of 17 Nov by KM``; without a day where recent.

    Where nobody is known, its place in the logs.
    """
    when = about_when(summary, may)
    zone = summary.snapshot.mill.zone
    recent = when is not None and timedelta(0) <= summary.as_of - when < _RECENT
    told = []
    if may.shift is not None:
        told.append(on_one_line(may.shift.name))
        told += [] if recent else [f"of {day_of(may.shift.day, summary.as_of, zone)}"]
    elif when is None:
        told.append("day not known,")
    elif not recent:
        told.append(day_of(when.astimezone(zone).date(), summary.as_of, zone))
    told.append(f"by {on_one_line(may.by)}" if may.by else f"{on_one_line(may.path)}:{may.line}")
    return " ".join(told) + (", a time still to come" if is_to_come(summary, may) else "")


def may_words(summary: Summary, may: MayIsolate) -> str:
    """A line with when, by whom and where it was written: for paper."""
    place = on_one_line(f"{may.path}:{may.line}")
    told = written_words(summary, may)
    where = "" if told.find(place) >= 0 else f"; {place}"
    return f"{may_text(summary, may)} ({told}{where})"


def may_record(summary: Summary, may: MayIsolate) -> Record:
    """A line that may hide an isolation in a JSON document."""
    return {
        "path": may.path,
        "line": may.line,
        "text": may.text,
        "when": iso(summary, about_when(summary, may)),
        "still_to_come": is_to_come(summary, may),
        "day": may.shift.day.isoformat() if may.shift is not None else None,
        "shift": may.shift.name if may.shift is not None else None,
        "by": may.by,
        "gone_since": iso(summary, may.gone),
        "looms": list(looms_named(may, summary.snapshot.mill)),
    }


# -- lines of any length -------------------------------------------------------------------


def may_text(summary: Summary, may: MayIsolate) -> str:
    """The text of a line, cleaned: whole, or its beginning and what may be an isolation in it."""
    text = on_one_line(may.text)
    if width(text) <= LONGEST:
        return text
    return summary.once(("may text", may.path, may.line), lambda: _shortened(summary, may))


def _shortened(summary: Summary, may: MayIsolate) -> str:
    words = summary.once(
        "isolation words", lambda: IsolationWords(summary.snapshot.mill.vocabulary)
    )
    text = " ".join(may.text.split())
    spans = [(0, _BEGINNING)]
    shown = _BEGINNING
    for at in range(0, len(text), _PIECE // 2):
        if shown < LONGEST and words.near(fold(text[at : at + _PIECE]).text):
            start, end = _to_blanks(text, max(at - _BESIDE, 0), at + _PIECE + _BESIDE)
            if start <= spans[-1][1]:
                start, _ = spans.pop()
            spans.append((start, end))
            shown = sum(end - start for start, end in spans)
    pieces = [on_one_line(text[start:end]) for start, end in spans]
    left = len(text) - shown
    return f"{' ~ '.join(pieces)} ~ ({left:,} characters more: {may.path} line {may.line})"


def _to_blanks(text: str, start: int, end: int) -> tuple[int, int]:
    """A stretch of a text, widened to whole words where these are not too long."""
    before = text.rfind(" ", max(start - _BESIDE, 0), start + 1)
    behind = text.find(" ", end, end + _BESIDE)
    return (before + 1 if before >= 0 else start), (behind if behind >= 0 else end)
