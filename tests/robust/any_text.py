"""What must hold of whatever stands in a log: the one judge of every fuzzer.

The text under trial stands between two good lines of one file; alone it is read both ways a last line
can be taken; every physical line must be counted once; the good lines must come through with
their isolations; and what screens, sheets, pages and documents make of it must hold nothing that
could be obeyed.
"""

from __future__ import annotations

import json
import re
import unicodedata
import zlib
from collections.abc import Iterator
from html import unescape
from pathlib import Path

from board.loading import read_mill, reader_for
from board.mill import Mill
from board.reckon.handing_over import sheet_of
from board.reckon.summary import Summary, default_since, summarise
from board.search import Question, search
from board.searched import lines_in
from board.show.as_json import board_document
from board.show.find_screen import find_document, piped_lines
from board.show.lines import Line, in_ascii
from board.show.loom_screen import loom_table
from board.show.must_see import must_lines
from board.show.problems import complaint_record, drawn_all
from board.show.screens import View, board_lines
from board.show.sheet import text_pages
from board.show.sheet_html import html_page
from board.show.sheet_json import handover_document
from board.show.text import as_written, to_ascii
from board.snapshot import FileReading, Snapshot, snapshot
from grammar.entries import Standing
from grammar.reader import LastLine, Reading
from tests.conftest import EXAMPLE
from tests.robust.counting import Count, count_of
from tests.robust.obeyed import unseen
from tests.robust.running import NOW

HEADING = "day 2026-11-24 night by KM"
BEFORE, BEHIND = "22:05 A23 isolated by CANARY lock 1", "05:05 B23 isolated by CANARY lock 2"
SCREEN = View(width=80, height=24)
ONE_IN = 8  # so many texts are shown too, drawn by their own bytes: the same each time


class Judge:
    """Holds texts against what must hold of every text. Raises AssertionError."""

    def __init__(self, cache: Path) -> None:
        mill = read_mill(EXAMPLE)
        assert isinstance(mill, Mill)
        self._mill = mill
        self._reader = reader_for(mill.vocabulary, {"XDG_CACHE_HOME": str(cache)})

    def must_hold(self, text: bytes) -> Count:
        """Every check but the dearest; those where ``text`` draws them."""
        count, reading = self.is_read(text)
        shed = self.is_folded(text, reading)
        if zlib.crc32(text) % ONE_IN == 0:
            self.is_read_alone(text)
            self.is_shown(shed)
        return count

    def is_read_alone(self, text: bytes) -> None:
        """The text is a whole file, its last line taken both ways."""
        for last_line in LastLine:
            self._is_counted(text, self._reader.read(text, last_line), last_line)

    def is_read(self, text: bytes) -> tuple[Count, Reading]:
        """The text is read, its lines are counted, and its neighbours come through."""
        data = f"{HEADING}\n{BEFORE}\n".encode() + text + f"\n{HEADING}\n{BEHIND}\n".encode()
        reading = self._reader.read(data, LastLine.SETTLED)
        whole = {e.line: e.text for e in reading.entries if e.standing is Standing.WHOLE}
        assert whole.get(2) == BEFORE
        assert whole.get(reading.lines) == BEHIND
        return self._is_counted(data, reading, LastLine.SETTLED), reading

    def _is_counted(self, data: bytes, reading: Reading, last_line: LastLine) -> Count:
        count = count_of(data, reading, last_line)
        assert count.lines == count.right_side == reading.lines, (count, reading.lines)
        for d in reading.diagnostics:
            assert 0 <= d.span.start < d.span.end <= max(len(d.text), 1), d
        return count

    def is_folded(self, text: bytes, reading: Reading) -> Snapshot:
        """The shed is reckoned, and both good isolations stand."""
        shed = snapshot([FileReading(path="x.log", reading=reading)], self._mill, NOW)
        if not speaks_of_the_canary(text):
            for loom in ("A23", "B23"):
                assert "CANARY" in {lock.by for lock in shed.fleet.looms[loom].locks}, loom
        return shed

    def is_shown(self, shed: Snapshot) -> None:
        """Nothing that is made of the shed holds anything that could be obeyed."""
        summary = summarise(shed)
        must = "\n".join(line.plain for line in must_lines(summary, SCREEN))
        for loom in ("A23", "B23"):
            assert not shed.fleet.looms[loom].locks or loom in must, loom
        for text in shown(summary):
            assert unseen(text, "\n\f") == set(), unseen(text, "\n\f")
        for document in documents(summary):
            made = json.dumps(document, ensure_ascii=True, allow_nan=False)
            assert unseen(made) == set()
            assert json.loads(made) == document


def speaks_of_the_canary(text: bytes) -> bool:
    """Whether a text could name the one whose locks must stand."""
    folded = unicodedata.normalize("NFKC", text.decode("utf-8", "replace")).casefold()
    return "canary" in folded


def shown(summary: Summary) -> Iterator[str]:
    """Everything that is made for a screen or for paper."""
    shed = summary.snapshot
    for lines in (
        board_lines(summary, SCREEN),
        board_lines(summary, View(width=200, height=None)),
        loom_table(summary, 80),
        piped_lines(search(lines_in(shed), Question()), shed.mill.zone, 0),
    ):
        yield _joined(lines)
        ascii_only = _joined(in_ascii(lines))
        assert ascii_only.isascii()
        yield ascii_only
    yield drawn_all(shed.complaints)
    sheet = sheet_of(summary)
    for letters in (as_written, to_ascii):
        yield "\f".join("\n".join(page) for page in text_pages(sheet, letters=letters))
    page = html_page(sheet)
    assert not re.search(r"<(?:script|img|iframe|object|link)\b", page)
    yield page
    yield unescape(page)


def documents(summary: Summary) -> Iterator[object]:
    """Everything that is made for a program."""
    shed = summary.snapshot
    yield board_document(summary, default_since(summary))
    yield handover_document(sheet_of(summary))
    yield find_document(search(lines_in(shed), Question()), shed.mill.zone, 0)
    yield [complaint_record(complaint) for complaint in shed.complaints]


def _joined(lines: list[Line]) -> str:
    return "\n".join(line.plain for line in lines)
