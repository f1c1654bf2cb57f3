"""Where an entry is filed and which bytes file it, with no disk in sight."""

from __future__ import annotations

from datetime import date
from pathlib import PurePosixPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from board.record.filing import (
    addition,
    heading_text,
    last_heading,
    line_fault,
    log_path,
    path_fault,
)
from board.record.register import RegisterFault, read_register
from board.record.sweep import is_log_name
from grammar.phrases import spellings
from grammar.reader import Reader

DAY = date(2026, 11, 24)
KM = "day 2026-11-24 night by KM"
RB = "day 2026-11-24 night by RB"
LINE = "22:40 A07 stopped"

MILL = read_register(
    """
[shed]
zone = "Europe/London"
languages = ["de"]
shifts = { night = "22:00-06:00", late = "14:00-22:00" }
[section.A]
looms = ["A01-A24"]
[words.de]
schicht = "day"
von = "by"
"""
)
assert not isinstance(MILL, RegisterFault)
DAY_WORDS = spellings(MILL.vocabulary, ("day",))
READER = Reader(MILL.vocabulary)


# -- the path ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shift", "who", "path"),
    [
        ("night", "KM", "2026/11/2026-11-24-night-KM.log"),
        ("late 2", "K.M.", "2026/11/2026-11-24-late_2-K_M.log"),
        ("früh", "Jörg", "2026/11/2026-11-24-früh-Jörg.log"),
        ("night", "../../etc/passwd", "2026/11/2026-11-24-night-etc_passwd.log"),
        ("night", "C:\\x", "2026/11/2026-11-24-night-C_x.log"),
        ("night", "...", "2026/11/2026-11-24-night-x.log"),
        ("night", "a\x00b", "2026/11/2026-11-24-night-a_b.log"),
    ],
)
def test_the_path_of_a_writers_log(shift: str, who: str, path: str) -> None:
    assert log_path(DAY, shift, who) == path


def test_years_have_four_figures() -> None:
    assert log_path(date(1970, 1, 2), "night", "KM") == "1970/01/1970-01-02-night-KM.log"


@given(st.text(), st.text())
def test_any_shift_and_writer_have_a_path_that_readers_find(shift: str, who: str) -> None:
    path = log_path(DAY, shift, who.replace("\udcff", ""))
    assert path_fault(path) is None
    parts = PurePosixPath(path).parts
    assert parts[:2] == ("2026", "11")
    assert len(parts) == 3
    assert is_log_name(parts[2])
    assert len(parts[2].encode("utf-8", "surrogatepass")) < 255


@pytest.mark.parametrize(
    "path",
    ["../x.log", "/x.log", "a/../x.log", "a//x.log", "./x.log", "a\\x.log", "C:/x.log", "",
     ".git/x.log", "x.txt", ".x.log", "#x.log", "x.LOG"],
)  # fmt: skip
def test_a_path_that_no_reader_would_look_at_is_refused(path: str) -> None:
    assert path_fault(path)


# -- the line ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("", "empty"),
        ("  ", "empty"),
        ("22:40 A07 stopped\n22:41 A07 isolated by KM", "one line"),
        ("22:40 A07 note a\rb", "one line"),
        ("# 22:40 A07 stopped", "skipped"),
        ("22:40 A07 note \ud800", "no UTF-8"),
        ("22:40 A07 note " + "x" * 4096, "longer than 4,096 bytes"),
        ("22:40 A07 note " + "ä" * 2048, "longer than 4,096 bytes"),
    ],
)
def test_what_is_no_line(line: str, says: str) -> None:
    fault = line_fault(line)
    assert fault is not None
    assert says in fault


def test_the_longest_line_is_one_that_readers_take() -> None:
    line = "22:40 A07 note " + "x" * (4096 - 15)
    assert line_fault(line) is None
    reading = READER.read(addition(b"", KM, line))
    assert reading.diagnostics == ()
    assert len(reading.entries) == 1


# -- the heading in force ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "heading"),
    [
        ("", None),
        (f"{LINE}\n", None),
        (f"{KM}\n{LINE}\n", KM),
        (f"{KM}\n{LINE}\n{RB}\n", RB),
        (f"{KM}\n{LINE}\n{RB}", RB),
        (f"{KM}\r\n{LINE}\r\n", KM),
        (f"\ufeff{KM}\n", KM),
        (f"{KM}\n# {RB}\n", KM),
        (f"{KM}\n\n   \n", KM),
        (f"  {KM}  \n", f"  {KM}  "),
        (f"{KM}\nday 24/11/26 night\n", "day 24/11/26 night"),
        (f"{KM}\nSchicht 2026-11-24 night von RB\n", "Schicht 2026-11-24 night von RB"),
        (f"{KM}\n{RB} {'x' * 4096}\n", KM),
        (f"{KM}\n22:40 A07 note day 2026\nday-old note\ndaylight\n", KM),
    ],
)
def test_the_last_heading(text: str, heading: str | None) -> None:
    assert last_heading(text.encode(), DAY_WORDS) == heading


@pytest.mark.parametrize(
    ("before", "added"),
    [
        (b"", f"{KM}\n{LINE}\n"),
        (f"{KM}\n".encode(), f"{LINE}\n"),
        (f"DAY  2026-11-24 Night by km\n{LINE}\n".encode(), f"{LINE}\n"),
        (f"{RB}\n{LINE}\n".encode(), f"{KM}\n{LINE}\n"),
        (f"{KM}\n{RB}\n".encode(), f"{KM}\n{LINE}\n"),
        (f"{KM}\n22:30 A07 running".encode(), f"\n{LINE}\n"),
        (f"{KM}\n{RB}".encode(), f"\n{KM}\n{LINE}\n"),
        (KM.encode(), f"\n{LINE}\n"),
        (f"{KM}\n22:30 A07 note \xfc\n".encode("cp1252"), f"{LINE}\n"),
        (f"{KM}\r\n22:30 A07 running\r\n".encode(), f"{LINE}\n"),
        (f"{KM}\r\n22:30 A07 running\r".encode(), f"\n{LINE}\n"),
    ],
)
def test_what_is_added(before: bytes, added: str) -> None:
    assert addition(before, KM, LINE, DAY_WORDS) == added.encode()


def test_the_heading_is_one_that_readers_know() -> None:
    assert heading_text(DAY, "night", "KM") == KM
    (heading,) = READER.read(f"{heading_text(DAY, 'night', 'KM')}\n").headings
    assert (heading.shift.day, heading.shift.name, heading.by) == (DAY, "night", "KM")


LINES = st.sampled_from(
    [KM, RB, LINE, "", "# day 2026-01-01 late", "day yesterday", "Schicht 2026-11-23 late",
     "22:41 A08 isolated by KM", "rubbish \u00fc", "day 2026-11-23 late", "22:42 A09 runn"]
)  # fmt: skip


@given(st.lists(LINES), st.sampled_from(["\n", "\r\n"]), st.booleans())
def test_the_reader_files_the_entry_under_the_writers_heading(
    lines: list[str], line_end: str, ended: bool
) -> None:
    """Whatever stands in the log: the entry reads as itself, and nothing before it changes."""
    before = line_end.join(lines).encode() + (line_end.encode() if ended and lines else b"")
    own = "23:59 A24 note mine"
    after = before + addition(before, KM, own, DAY_WORDS)
    read, whole = READER.read(before), READER.read(after)
    last = whole.entries[-1]
    assert (last.text, last.by) == (own, "KM")
    assert last.shift is not None
    assert (last.shift.day, last.shift.name) == (DAY, "night")
    assert whole.entries[:-1] == read.entries
    assert whole.diagnostics == read.diagnostics
