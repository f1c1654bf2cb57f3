"""Where an entry is filed, and the bytes that file it. Pure: ``writer`` does the writing."""

from __future__ import annotations

import re
import unicodedata
from datetime import date

from board.record.sweep import LOG_SUFFIX, is_log_name
from grammar.decoding import LONGEST_LINE, lines_of, with_line_feeds
from grammar.folding import fold, fold_word
from grammar.vocabulary import alternatives

_LONGEST_NAME = 80  # [bytes] of the shift and of the writer in a file's name; 255 is the most


def log_path(day: date, shift: str, who: str) -> str:
    """The log of one writer and shift: ``2026/11/2026-11-24-night-KM.log``.

    Relative to the log folder, with ``/`` on every system. Two writers whose names differ only in
    signs that a file name cannot hold share a file: the headings in it tell them apart.
    """
    month = f"{day.year:04d}/{day.month:02d}"
    return f"{month}/{day.isoformat()}-{_in_file_name(shift)}-{_in_file_name(who)}{LOG_SUFFIX}"


def _in_file_name(name: str) -> str:
    plain = re.sub(r"[^\w]+", "_", unicodedata.normalize("NFC", name)).strip("_") or "x"
    return plain.encode("utf-8")[:_LONGEST_NAME].decode("utf-8", errors="ignore")


def heading_text(day: date, shift: str, who: str) -> str:
    """The heading that stands above a writer's entries of a shift."""
    return f"day {day.isoformat()} {shift} by {who}"


def line_fault(line: str) -> str | None:
    """Why a text cannot be filed as one line, or None."""
    if not line.strip():
        return "the line is empty"
    if "\n" in line or "\r" in line:
        return "an entry is one line"
    if line.startswith("#"):
        return "a line beginning with # is skipped by every reader"
    try:
        size = len(line.encode("utf-8"))
    except UnicodeEncodeError:
        return "the line holds a character that is no UTF-8"
    return f"the line is longer than {LONGEST_LINE:,} bytes" if size > LONGEST_LINE else None


def path_fault(path: str) -> str | None:
    """Why no reader would ever look at a log of that relative path, or None."""
    *above, name = path.split("/")
    outside = any(part in ("", ".", "..") or "\\" in part or ":" in part for part in (*above, name))
    if outside:
        return "the path leads out of the log folder"
    hidden = any(part.startswith(".") for part in above)
    return "the name is not that of a log" if hidden or not is_log_name(name) else None


def last_heading(data: bytes, day_words: tuple[str, ...] = ("day",)) -> str | None:
    """The last heading of a log's bytes, good or refused, or None.

    ``day_words`` are the folded words that begin a heading. What is a heading is decided as
    ``grammar.reader`` decides it: no comment, no line that is too long.
    """
    begins = re.compile(rf"\s*(?:{alternatives(day_words)})(?![\w-])")
    for raw in reversed(lines_of(with_line_feeds(data))):
        if raw.too_long or raw.text.startswith("#"):
            continue
        if begins.match(fold(raw.text).text):
            return raw.text
    return None


def addition(data: bytes, heading: str, line: str, day_words: tuple[str, ...] = ("day",)) -> bytes:
    """What to append to a log's bytes so that an entry stands whole under its heading.

    A last line without its newline is completed first, so that nothing is written into it.
    """
    in_force = last_heading(data, day_words)
    needed = in_force is None or fold_word(in_force) != fold_word(heading)
    begun = bool(data) and not data.endswith(b"\n")
    lines = ([heading] if needed else []) + [line]
    return (b"\n" if begun else b"") + "".join(f"{one}\n" for one in lines).encode("utf-8")
