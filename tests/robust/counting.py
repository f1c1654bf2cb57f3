"""Every physical line is counted once: the exact identity, reckoned from the bytes and the reading.

    lines = blank or comment + headings + entries + not understood + unfinished

`headings` were understood, `entries` read whole, `not understood` are lines of which nothing or no
more than an isolation counts (refused headings among them), `unfinished` is a last line without its
newline in a file that is still growing. Lines, blank ones and comments are counted here from the
bytes, by a rule of their own: only LF ends a line, and no empty line follows the last LF.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

from grammar.diagnostics import Severity
from grammar.entries import Standing
from grammar.reader import LastLine, Reading


@dataclass(frozen=True)
class Count:
    """How the lines of one file or of several come to their number."""

    lines: int = 0
    blank_or_comment: int = 0
    headings: int = 0
    entries: int = 0
    not_understood: int = 0
    unfinished: int = 0

    def __add__(self, other: Count) -> Count:
        return Count(
            **{f.name: getattr(self, f.name) + getattr(other, f.name) for f in fields(self)}
        )

    @property
    def right_side(self) -> int:
        """What the lines are made up of."""
        return sum(getattr(self, f.name) for f in fields(self)) - self.lines


def lines_by_bytes(data: bytes) -> list[str]:
    """The lines of a file."""
    pieces = data.removeprefix(b"\xef\xbb\xbf").split(b"\n")
    texts = [_text(piece) for piece in pieces]
    return texts if texts[-1] else texts[:-1]


def _text(piece: bytes) -> str:
    """A line in UTF-8, else in Windows-1252, whose blank A0 makes a blank line."""
    try:
        return piece.decode("utf-8")
    except UnicodeDecodeError:
        return piece.decode("cp1252", "replace")


def count_of(data: bytes, reading: Reading, last_line: LastLine) -> Count:
    """The count of one file as it was read."""
    texts = lines_by_bytes(data)
    passed = {n for n, text in enumerate(texts, 1) if not text.strip() or text.startswith("#")}
    growing = last_line is LastLine.GROWING and not data.endswith(b"\n")
    unfinished = {len(texts)} - passed if growing and texts else set()
    headings = {heading.line for heading in reading.headings}
    entries = [e.line for e in reading.entries if e.standing is Standing.WHOLE]
    refused = {d.line for d in reading.diagnostics if d.severity is Severity.REFUSED}
    assert len(entries) == len(set(entries)), "an entry was read twice"
    for one, other in ((passed, headings), (passed, set(entries)), (headings, set(entries))):
        assert not one & other, "a line was counted as two kinds"
    return Count(
        lines=len(texts),
        blank_or_comment=len(passed),
        headings=len(headings),
        entries=len(entries),
        not_understood=len(refused - set(entries) - headings - passed),
        unfinished=len(unfinished),
    )
