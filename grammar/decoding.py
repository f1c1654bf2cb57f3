"""Bytes of a log file to its physical lines. Only LF ends a line; nothing is dropped."""

from __future__ import annotations

from typing import NamedTuple

LONGEST_LINE = 4096  # [bytes], without the line's end

_BOM = b"\xef\xbb\xbf"
_WIDEST = 4  # [bytes] that a character takes at most


class RawLine(NamedTuple):
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
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        lines = [_of_bytes(n, piece) for n, piece in enumerate(data.split(b"\n"), start=first)]
    else:
        lines = [_of_text(n, piece) for n, piece in enumerate(text.split("\n"), start=first)]
    last = lines.pop()
    if not data.endswith(b"\n") and data:
        lines.append(last._replace(ended=False))
    return lines


def _of_text(number: int, piece: str) -> RawLine:
    if piece.endswith("\r"):
        piece = piece[:-1]
    if len(piece) * _WIDEST <= LONGEST_LINE:
        return RawLine(number, piece)
    return RawLine(number, piece, too_long=len(piece.encode("utf-8")) > LONGEST_LINE)


def _of_bytes(number: int, piece: bytes) -> RawLine:
    piece = piece[:-1] if piece.endswith(b"\r") else piece
    odd = False
    try:
        text = piece.decode("utf-8")
    except UnicodeDecodeError:
        text, odd = piece.decode("cp1252", errors="replace"), True
    return RawLine(number, text, odd_encoding=odd, too_long=len(piece) > LONGEST_LINE)
