"""Complaints as text: path, line and column, the line with its caret, and what to do.

Wide characters and tabs are counted in cells, so that the caret stands under the right place.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from board.show.text import clean, cut, width, wrapped
from board.state.fleet import Complaint
from grammar.diagnostics import Diagnostic

_BEFORE = 30  # cells kept before the span where a line is too long to show whole


def drawn(complaint: Complaint, columns: int = 80) -> str:
    """A complaint as it is printed: four lines, or three without help."""
    d = complaint.diagnostic
    head = f"{clean(complaint.path)}:{d.line}:{d.span.start + 1}: {d.severity.value}"
    lines = [f"{head} {d.code.value}: {clean(d.message)}", *_pointed(d, columns)]
    lines += [f"  note: {clean(note)}" for note in d.notes]
    if d.help:
        lines.append(f"  help: {clean(d.help)}")
    return "\n".join(lines)


def _pointed(d: Diagnostic, columns: int) -> list[str]:
    room = max(columns - 2, 20)
    text, start, end = d.text, d.span.start, max(d.span.end, d.span.start + 1)
    first = 0
    if width(clean(text)) > room:
        first = _begin(text, start, min(_BEFORE, room // 2))
    shown = clean(text[first:])
    before = width(clean(text[first:start]))
    if first:
        shown, before = "..." + shown, before + 3
    under = max(width(clean(text[start:end])), 1)
    under = min(under, max(room - before, 1))
    label = f" {clean(d.label)}" if d.label else ""
    return [f"  {cut(shown, room)}", f"  {' ' * before}{'^' * under}{label}"]


def _begin(text: str, start: int, most: int) -> int:
    """Where a long line is shown from, so that at most so many cells stand before its span."""
    first, cells = start, 0
    while first > 0 and cells + width(clean(text[first - 1])) <= most:
        first -= 1
        cells += width(clean(text[first]))
    return first


def drawn_all(complaints: Iterable[Complaint], columns: int = 80) -> str:
    """Several complaints, a blank line between them."""
    return "\n\n".join(drawn(complaint, columns) for complaint in complaints)


def folded_all(complaints: Iterable[Complaint], columns: int) -> str:
    """Several complaints for a screen: what does not fit goes on below, broken between words."""
    return "\n\n".join("\n".join(_folded(complaint, columns)) for complaint in complaints)


def _folded(complaint: Complaint, columns: int) -> list[str]:
    head, text, caret, *told = drawn(complaint, columns).split("\n")
    rows = [*_broken(head, "", columns), text, caret]
    return [*rows, *(row for sentence in told for row in _broken(sentence, "  ", columns))]


def _broken(sentence: str, indent: str, columns: int) -> list[str]:
    """A sentence in rows behind an indent; a path that is wider than a row is never cut."""
    words = sentence.split()
    room = columns - len(indent) - 2
    if width(sentence) <= columns or max(map(width, words)) > room:
        return [sentence]
    first, *others = wrapped(words, room, gap=" ")
    return [f"{indent}{first}", *(f"{indent}  {row}" for row in others)]


def complaint_record(complaint: Complaint) -> dict[str, Any]:
    """One complaint; columns count characters from 1."""
    d = complaint.diagnostic
    return {
        "path": complaint.path,
        "line": d.line,
        "column": d.span.start + 1,
        "end_column": d.span.end + 1,
        "code": d.code.value,
        "severity": d.severity.value,
        "message": d.message,
        "help": d.help,
        "text": d.text,
    }
