"""Lark as the judge of a line that was read fast."""

from __future__ import annotations

from lark import Lark
from lark.exceptions import UnexpectedInput

from grammar.clock import Moment
from grammar.diagnostics import LineRefused
from grammar.entries import Entry, Heading
from grammar.folding import fold
from grammar.line import Line
from grammar.transform import ToEntry


class Disagreed(Exception):
    """Carries out of a reading that a line was read fast otherwise than Lark reads it."""


def judge(lark: Lark, to_entry: ToEntry, line: Line, entry: Entry) -> None:
    """Reads a line by Lark, with the transformer that it was read fast with.

    Raises Disagreed where anything differs: the entry, its spans, what was flagged, or what its
    time tells of a repeated hour.
    """
    told = _told(to_entry.moment)
    again = Line(fold(line.folded.line), line.number)
    to_entry.begin(again, to_entry.second_pass_on)
    try:
        read = to_entry.entry(lark.parse(again.folded.text, start="entry"))
    except (UnexpectedInput, LineRefused):
        read = None
    same = read is not None and _everything(read) == _everything(entry)
    if not same or again.flags != line.flags or _told(to_entry.moment) != told:
        raise _disagreed(line)


def judge_heading(lark: Lark, line: Line, heading: Heading) -> None:
    """Reads a heading by Lark. Raises Disagreed where it says another thing."""
    try:
        read: object = lark.parse(line.folded.text, start="heading")
    except (UnexpectedInput, LineRefused):
        read = None
    if not isinstance(read, Heading) or (read, read.line) != (heading, heading.line):
        raise _disagreed(line)


def _disagreed(line: Line) -> Disagreed:
    return Disagreed(
        f"line {line.number} was read in two ways, so every line is read the slow and sure way"
        f" from now on: {line.folded.line}"
    )


def _everything(entry: Entry) -> tuple[object, ...]:
    """All that an entry holds, with what is left out of comparing."""
    return entry, entry.stamp, entry.line, entry.text, [clause.span for clause in entry.clauses]


def _told(moment: Moment | None) -> tuple[object, object]:
    return (moment.bare, moment.second_on) if moment is not None else (None, None)
