"""Bytes of a log file to its physical lines. Only LF ends a line; nothing is dropped."""

from __future__ import annotations

from dataclasses import dataclass

LONGEST_LINE = 4096  # [bytes], without the line's end

_BOM = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True)
class RawLine:
    """One physical line: its number from 1, its text, and what was odd about its bytes."""

    number: int
    text: str
    odd_encoding: bool = False
    too_long: bool = False
    ended: bool = True  # its newline is there


def lines_of(data: bytes, first: int = 1) -> list[RawLine]:
    """The lines of a file's bytes, numbered from ``first``. Never raises."""
    if first == 1 and data.startswith(_BOM):
        data = data[len(_BOM) :]
    pieces = data.split(b"\n")
    last = pieces.pop()
    lines = [_line(number, piece, ended=True) for number, piece in enumerate(pieces, start=first)]
    if last:
        lines.append(_line(first + len(pieces), last, ended=False))
    return lines


def _line(number: int, piece: bytes, *, ended: bool) -> RawLine:
    piece = piece[:-1] if piece.endswith(b"\r") else piece
    odd = False
    try:
        text = piece.decode("utf-8")
    except UnicodeDecodeError:
        text, odd = piece.decode("cp1252", errors="replace"), True
    too_long = len(piece) > LONGEST_LINE
    return RawLine(number, text, odd_encoding=odd, too_long=too_long, ended=ended)
