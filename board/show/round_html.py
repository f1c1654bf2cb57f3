"""The round as one HTML file, in the form of the handover sheet: a line to write each value on.

The words are those of ``round_sheet``; the form, and that nothing is fetched, come from
``sheet_html``.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from board.reckon.rounds import Round, RoundLine
from board.reckon.summary import Summary
from board.show.moments import long_clock
from board.show.must_see import shed_name
from board.show.round_sheet import (
    ALSO_DUE,
    NOTHING,
    WRITE,
    also_due_words,
    closing_words,
    count_words,
    isolated_words,
    last_words,
    opening_words,
    why_words,
)
from board.show.screens import CAUTION
from board.show.sheet_html import page_of
from board.show.sheet_rows import Box, Head, Part, Row
from board.show.text import clean


def round_html(summary: Summary, found: Round) -> str:
    """The whole file, in ASCII: every other letter is a character reference."""
    return page_of("round", _head(summary, found), _parts(summary, found), _end())


def _head(summary: Summary, found: Round) -> Head:
    mill, shift = summary.snapshot.mill, found.shift
    ends = f"{shift.end.astimezone(mill.zone):%H:%M}"
    return Head(
        shed=shed_name(mill),
        change=clean(shift.shift.name),
        as_of=f"{long_clock(shift.start, mill.zone)} to {ends}",
        read=f"as of {long_clock(summary.as_of, mill.zone)}",
        counts=count_words(found),
        caution=CAUTION,
    )


def _parts(summary: Summary, found: Round) -> Iterable[Part]:
    opening = tuple(Row("", clean(text)) for text in opening_words(summary, found))
    yield Part(title="BEFORE THE FIRST LOOM", rows=opening, first=True)
    for section in dict.fromkeys(item.loom.section for item in found.lines):
        own = [item for item in found.lines if item.loom.section == section]
        rows = tuple(_row(summary, item) for item in own)
        yield Part(title=clean(f"SECTION {section}"), count=len(own), rows=rows)
    if not found.lines:
        yield Part(title="TO MEASURE", count=0, rows=(Row("", NOTHING),))
    if found.also_due:
        yield Part(
            title=ALSO_DUE,
            count=len(found.also_due),
            rows=tuple(
                Row(
                    clean(item.line.action.place.name),
                    _with_isolation(
                        also_due_words(summary, item),
                        isolated_words(item.loom) if item.loom is not None else "",
                    ),
                    Box.TICK,
                )
                for item in found.also_due
            ),
        )
    closing = closing_words(found)
    if closing:
        yield Part(title="NOT ON THIS ROUND", rows=tuple(Row("", clean(text)) for text in closing))


def _row(summary: Summary, item: RoundLine) -> Row:
    told = f"{item.name} {last_words(item)}; {why_words(summary, item)}"
    text = _with_isolation(told, isolated_words(item.loom))
    return Row(clean(item.loom.loom), text, unit=clean(item.quantity.unit))


def _with_isolation(text: str, isolated: str) -> str:
    return clean(f"{isolated}. {text}" if isolated else text)


def _end() -> str:
    return (
        f'<div class="end"><p class="foot">{escape(WRITE)}</p>'
        '<div class="sign"><b>MEASURED BY</b><span></span><em>date, time</em><span></span></div>\n'
        "</div>\n"
    )
