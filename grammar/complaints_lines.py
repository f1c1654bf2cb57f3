"""What is wrong with a line as a whole: its encoding and its length."""

from __future__ import annotations

from grammar.decoding import LONGEST_LINE, RawLine
from grammar.diagnostics import Code, Diagnostic
from grammar.entries import Span

_SHOWN = 200  # [characters] of a line that is too long


def odd_encoding(raw: RawLine) -> Diagnostic:
    """A line that is not UTF-8."""
    odd = next(i for i, character in enumerate(raw.text) if not character.isascii())
    odd = min(odd, LONGEST_LINE - 1)  # no more of the line is shown
    return Diagnostic(
        code=Code.ODD_ENCODING,
        message="the line is not UTF-8 and was read as Windows-1252",
        line=raw.number,
        span=Span(odd, odd + 1),
        text=raw.text[:LONGEST_LINE],
        help="set the editor to UTF-8",
    )


def too_long(raw: RawLine) -> Diagnostic:
    """A line that is refused for its length, with its beginning."""
    return Diagnostic(
        code=Code.LINE_TOO_LONG,
        message="the line is longer than 4,096 bytes and is refused whole",
        line=raw.number,
        span=Span(0, 1),
        text=raw.text[:_SHOWN],
        help="write it as several lines",
    )
