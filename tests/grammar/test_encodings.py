"""Bytes to lines: byte order marks, line ends, odd encodings, control characters, long lines."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.decoding import LONGEST_LINE, RawLine, lines_of
from grammar.entries import Isolated, LockRemoved, Note, Running, Standing
from grammar.reader import LastLine, Reading, Unread
from tests.grammar.mills import HEADING, READER

HEAD = f"{HEADING}\n".encode()
BOM = b"\xef\xbb\xbf"


def codes(reading: Reading) -> list[str]:
    return [d.code.value for d in reading.diagnostics]


def note_of(data: bytes) -> str:
    (entry,) = READER.read(HEAD + data).entries
    (clause,) = entry.clauses
    assert isinstance(clause, Note)
    return clause.text


@pytest.mark.parametrize(
    "data",
    [
        BOM + HEAD + b"22:40 A07 running\n",
        HEAD.replace(b"\n", b"\r\n") + b"22:40 A07 running\r\n",
        BOM + HEAD.replace(b"\n", b"\r\n") + b"22:40 A07 running\r\n",
        HEAD + b"22:40 A07 running",
    ],
    ids=["BOM", "CRLF", "BOM and CRLF", "no newline at the end"],
)
def test_marks_and_line_ends(data: bytes) -> None:
    reading = READER.read(data)
    assert codes(reading) == []
    assert [entry.clauses for entry in reading.entries] == [(Running(),)]
    assert reading.lines == 2


def test_only_lf_ends_a_line() -> None:
    for sign in ("\r", "\x0b", "\x0c", "\x1c", "\x85", "\u2028", "\u2029"):
        text = f"one{sign}two"
        assert note_of(f"22:40 A07 note {text}\n".encode()) == text


def test_a_byte_order_mark_counts_only_at_the_start_of_a_file() -> None:
    assert codes(READER.read(HEAD + BOM + b"22:40 A07 running\n")) == ["not-understood"]


@pytest.mark.parametrize(
    ("data", "text"),
    [
        (b"22:40 A07 note \xd6l\n", "Öl"),
        (b"22:40 A07 note \x80 5\n", "€ 5"),  # Windows-1252: 0x80 is the euro sign
        (b"22:40 A07 note \xff\xfe\n", "ÿþ"),
        (b"22:40 A07 note \x81\n", "\ufffd"),  # no character even there
        (b"22:40 A07 note \xc3\n", "Ã"),  # the beginning of a UTF-8 character, cut off
    ],
)
def test_a_line_that_is_no_utf8(data: bytes, text: str) -> None:
    reading = READER.read(HEAD + data + "22:50 A07 note Öl\n".encode())
    assert codes(reading) == ["odd-encoding"]
    first, second = reading.entries
    assert first.clauses == (Note(text=text),)
    assert second.clauses == (Note(text="Öl"),)  # one bad line costs only itself
    (diagnostic,) = reading.diagnostics
    assert diagnostic.line == 2
    assert not diagnostic.text[diagnostic.span.start].isascii()


@pytest.mark.parametrize("sign", ["\x00", "\x07", "\x1b[31m", "\x7f"])
def test_control_characters_are_kept(sign: str) -> None:
    assert note_of(f"22:40 A07 note a{sign}b\n".encode()) == f"a{sign}b"


@pytest.mark.parametrize("word", ["\x00", "\x00never", "\\x00never"])
def test_a_nul_matches_no_word(word: str) -> None:
    reading = READER.read(HEAD + f"22:40 A07 {word} 3 mm\n".encode())
    assert reading.entries == ()


def test_the_longest_line_is_read_and_the_next_byte_refused() -> None:
    line = b"22:40 A07 note "
    fits = line + b"x" * (LONGEST_LINE - len(line))
    assert len(fits) == 4096
    reading = READER.read(HEAD + fits + b"\n" + fits + b"x\n22:50 A07 running\n")
    assert codes(reading) == ["line-too-long"]
    assert [entry.line for entry in reading.entries] == [2, 4]


def test_a_line_is_measured_in_bytes() -> None:
    line = "22:40 A07 note "
    wide = line + "ö" * ((LONGEST_LINE - len(line)) // 2)
    assert len(wide.encode()) == 4095
    assert codes(READER.read(HEAD + f"{wide}\n{wide}x\n{wide}ö\n".encode())) == ["line-too-long"]


def test_carriage_return_does_not_count_as_length() -> None:
    line = b"22:40 A07 note "
    assert codes(READER.read(HEAD + line + b"x" * (LONGEST_LINE - len(line)) + b"\r\n")) == []


def test_a_heading_that_is_too_long_is_no_heading() -> None:
    long = b"day 2026-11-25 early by " + b"K" * LONGEST_LINE
    assert codes(READER.read(HEAD + long + b"\n7:40 A07 running\n")) == ["line-too-long", "no-day"]


# -- the last line -------------------------------------------------------------------------


def growing(line: str) -> Reading:
    return READER.read(HEAD + line.encode(), LastLine.GROWING)


def test_an_unfinished_line_is_shown_and_does_not_count() -> None:
    reading = growing("22:40 A07 runni")
    assert reading.entries == ()
    assert reading.diagnostics == ()
    assert reading.unfinished == Unread(line=2, text="22:40 A07 runni")
    assert reading.lines == 2
    assert reading.carried.lines == 1


def test_an_isolation_in_it_counts_and_a_removal_does_not() -> None:
    reading = growing("22:40 A07 stopped; isolated by KM; lock removed by RB for TN")
    (entry,) = reading.entries
    assert entry.standing is Standing.UNFINISHED
    assert entry.clauses == (Isolated(by="KM"),)
    assert growing("22:40 A07 lock removed by KM").entries == ()


def test_an_isolation_before_a_word_that_is_still_being_written() -> None:
    (entry,) = growing("22:40 A07 isolated by KM; note; repl").entries
    assert (entry.standing, entry.clauses) == (Standing.UNFINISHED, (Isolated(by="KM"),))


def test_the_beginning_of_an_isolation_is_shown() -> None:
    assert [u.line for u in growing("22:40 A07 isola").may_isolate] == [2]
    assert growing("22:40 A07 stopp").may_isolate == ()


def test_a_settled_last_line_is_an_entry_like_any_other() -> None:
    reading = READER.read(HEAD + b"22:40 A07 lock removed by KM", LastLine.SETTLED)
    assert reading.unfinished is None
    (entry,) = reading.entries
    assert entry.clauses == (LockRemoved(by="KM", owner="KM"),)


def test_a_last_line_with_its_newline_is_finished() -> None:
    reading = growing("22:40 A07 running\n")
    assert reading.unfinished is None
    assert len(reading.entries) == 1


@pytest.mark.parametrize("line", ["# a comm", "   "])
def test_an_unfinished_comment_is_nothing_to_show(line: str) -> None:
    reading = growing(line)
    assert reading.unfinished is None
    assert (reading.lines, reading.skipped) == (2, 2)


def test_an_unfinished_heading_holds_for_nothing() -> None:
    reading = growing("day 2026-11-25 ear")
    assert len(reading.headings) == 1
    assert reading.unfinished is not None


@given(st.binary(max_size=60).map(lambda b: b.replace(b"\r", b"")), st.booleans())
def test_lines_put_together_are_the_bytes(data: bytes, mark: bool) -> None:
    data = data.removeprefix(BOM)
    lines = lines_of(BOM + data if mark else data)
    assert [line.number for line in lines] == list(range(1, len(lines) + 1))
    ends = ["\n" if line.ended else "" for line in lines]
    if any(line.odd_encoding for line in lines):
        assert len(lines) == data.count(b"\n") + (not data.endswith(b"\n"))
    else:
        whole = "".join(line.text + end for line, end in zip(lines, ends, strict=True))
        assert whole.encode() == data


def test_an_empty_file_holds_no_line() -> None:
    assert lines_of(b"") == lines_of(BOM) == []
    assert lines_of(b"\n") == [RawLine(1, "")]
