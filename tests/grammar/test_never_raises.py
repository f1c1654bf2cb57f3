"""Reading never raises, whatever the bytes; nothing of a text is dropped without being told."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grammar.entries import Standing
from grammar.reader import LastLine, Reader, Reading
from tests.grammar.lines import CLASSES, LINES, slips
from tests.grammar.mills import HEADING, PLAIN_READER, READER, under_heading

READERS = (READER, PLAIN_READER)
pieces = st.one_of(
    st.sampled_from(LINES),
    st.sampled_from([word for line in LINES for word in line.split()]),
    st.text(alphabet="".join(CLASSES), max_size=8),
    st.sampled_from(["\n", " ", ";", "\r\n", "\n22:40 A07 ", f"\n{HEADING}\n"]),
)


def sound(reading: Reading) -> None:
    """What holds of every reading."""
    numbers = range(1, reading.lines + 1)
    for d in reading.diagnostics:
        assert d.line in numbers
        assert 0 <= d.span.start < d.span.end <= max(len(d.text), 1), d
        assert d.message
    told = {d.line for d in reading.diagnostics} | {entry.line for entry in reading.entries}
    told |= {heading.line for heading in reading.headings}
    if reading.unfinished:
        told.add(reading.unfinished.line)
    assert reading.lines <= len(told) + reading.skipped
    for entry in reading.entries:
        assert entry.clauses
        assert entry.when <= entry.latest
        for clause in entry.clauses:
            assert 0 <= clause.span.start < clause.span.end <= len(entry.text)
            assert clause.as_text()


@pytest.mark.parametrize("reader", READERS)
@given(text=st.lists(pieces, max_size=12).map(" ".join))
@settings(max_examples=300, deadline=None)
def test_pieces_of_lines(reader: Reader, text: str) -> None:
    for last_line in LastLine:
        sound(reader.read(under_heading(text).removesuffix("\n"), last_line))


@given(text=st.text(max_size=200))
@settings(max_examples=300, deadline=None)
def test_any_text(text: str) -> None:
    for last_line in LastLine:
        sound(READER.read(under_heading(text).removesuffix("\n"), last_line))


@given(data=st.binary(max_size=200))
@settings(max_examples=300, deadline=None)
def test_any_bytes(data: bytes) -> None:
    sound(READER.read(data))
    sound(READER.read(f"{HEADING}\n22:40 A07 ".encode() + data, LastLine.GROWING))


def test_slips_of_the_pen() -> None:
    random = Random(7)
    read = 0
    for _ in range(12_000):
        line = slips(random.choice(LINES), random)
        reading = READER.read(under_heading(line.replace("\n", " ")))
        sound(reading)
        read += any(entry.standing is Standing.WHOLE for entry in reading.entries)
    assert 1_000 < read < 9_000  # else the mutator does too much, or nothing


def test_a_lone_surrogate_is_shown_as_odd() -> None:
    (diagnostic,) = READER.read(under_heading("22:40 A07 note \ud800")).diagnostics
    assert diagnostic.code.value == "odd-encoding"


def test_the_caret_of_odd_bytes_stands_inside_the_text_that_is_shown() -> None:
    for diagnostic in READER.read(b"x" * 6000 + b"\xff\n").diagnostics:
        assert diagnostic.span.end <= len(diagnostic.text)
