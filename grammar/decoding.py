"""Bytes of a log file to its physical lines. Only LF ends a line; nothing is dropped.

A file that was saved with CR alone is turned to LF before (``with_line_feeds``): in any other file
a CR in the middle of a line is a character that somebody pasted, and makes no second line of it.
"""

from __future__ import annotations

import re
from typing import NamedTuple

LONGEST_LINE = 4096  # [bytes], without the line's end

_BOM = b"\xef\xbb\xbf"
_WIDEST = 4  # [bytes] that a character takes at most
_LONE = re.compile(rb"(?<!\r)\r++(?![\n\0])")  # no LF behind it, nor a NUL, as UTF-16 has it


class RawLine(NamedTuple):
    """One physical line: its number from 1, its text, and what was odd about its bytes."""

    number: int
    text: str
    odd_encoding: bool = False
    too_long: bool = False
    ended: bool = True  # its newline is there


def with_line_feeds(data: bytes) -> bytes:
    """The bytes of a whole file, with LF for each lone CR where the first line ends with one.

    As many bytes as before. A CR at the very end is left: an LF may be about to follow it.
    """
    first = data.find(b"\n")
    if data.find(b"\r", 0, first if first >= 0 else len(data)) < 0:
        return data
    lone = _LONE.search(data)
    if lone is None or 0 <= first < lone.start():
        return data
    turned = _LONE.sub(lambda match: b"\n" * len(match[0]), data)
    return turned[:-1] + data[-1:]


def texts_of(data: bytes, first: int = 1) -> list[str] | None:
    """The texts of a file's lines, numbered from ``first``, or None where one is no UTF-8."""
    try:
        text = _without_mark(data, first).decode("utf-8")
    except UnicodeDecodeError:
        return None
    lines = text.split("\n")
    if not lines[-1]:
        lines.pop()  # what stands behind the last newline is no line
    if "\r" in text:
        return [line[:-1] if line.endswith("\r") else line for line in lines]
    return lines


def lines_of(data: bytes, first: int = 1) -> list[RawLine]:
    """The lines of a file's bytes, numbered from ``first``. Never raises."""
    texts = texts_of(data, first)
    if texts is not None:
        lines = [raw_line(n, text) for n, text in enumerate(texts, start=first)]
    else:
        pieces = _without_mark(data, first).split(b"\n")
        lines = [_of_bytes(n, piece) for n, piece in enumerate(pieces, start=first)]
        if data.endswith(b"\n"):
            lines.pop()
    if lines and not data.endswith(b"\n"):
        lines.append(lines.pop()._replace(ended=False))
    return lines


def _without_mark(data: bytes, first: int) -> bytes:
    return data[len(_BOM) :] if first == 1 and data.startswith(_BOM) else data


def raw_line(number: int, text: str) -> RawLine:
    """A line of a file that is UTF-8, without its end."""
    if len(text) * _WIDEST <= LONGEST_LINE:
        return RawLine(number, text)
    return RawLine(number, text, too_long=len(text.encode("utf-8")) > LONGEST_LINE)


def _of_bytes(number: int, piece: bytes) -> RawLine:
    piece = piece[:-1] if piece.endswith(b"\r") else piece
    odd = False
    try:
        text = piece.decode("utf-8")
    except UnicodeDecodeError:
        text, odd = piece.decode("cp1252", errors="replace"), True
    return RawLine(number, text, odd_encoding=odd, too_long=len(piece) > LONGEST_LINE)
