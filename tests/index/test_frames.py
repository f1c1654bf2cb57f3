"""Some lines of a log, read without the others, say what they say in the whole log."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from board.index.frames import cut, frame_of
from board.loading import read_mill
from board.mill import Mill
from board.record.reads import Reads
from grammar.entries import Entry
from grammar.reader import LastLine, Reader
from grammar.readings import Reading
from tests.conftest import EXAMPLE
from tests.index.agreeing import exact
from tests.index.test_laws import PARTS, Story
from tests.state.shed import NIGHT, mill

MORE: dict[str, tuple[str | bytes, ...]] = {
    "a mark of byte order first of what is read": ("2026-10-20T22:00 A02 stopped\n", "\ufeff2026-10-20T22:10 A01 stopped\n"),
    "above every heading": ("22:10 A01 stopped\n", "2026-10-20T22:20 A01 running\n", NIGHT),
    "a range and the shed": (NIGHT, "22:10 A01-A03 stopped\n22:15 shed note: dust\n22:20 A02 running\n"),
    "flagged lines": (NIGHT, "22:10 A01 left tape 99 mm\n22:11 A01 left tape 2.9 mm\n"),
    "a year apart": ("2024-10-20T22:10 A01 stopped\n", "2026-10-20T22:20 A01 running\n"),
    "the ends of the calendar": ("0001-01-01T00:10 A01 stopped\n", "9999-12-31T23:20 A01 running\n"),
    "nothing": ("",),
}  # fmt: skip


@pytest.fixture(scope="module")
def reader() -> Reader:
    return Reader(mill().vocabulary)


def part_of(
    data: bytes, whole: Reading, lines: Iterable[int], reader: Reads, last: LastLine
) -> Sequence[Entry] | None:
    """The entries of some lines, with the numbers that they have among those that were read."""
    frame = frame_of(whole)
    found = cut(data, frame, lines) if frame is not None else None
    if found is None:
        return None
    text, numbers = found
    return [
        entry
        for entry in reader.read(text, last).entries
        if numbers[entry.line - 1] in set(lines) or not lines
    ]


def must_agree(data: bytes, reader: Reads, choices: Sequence[Sequence[int]]) -> int:
    """In how many of these choices of lines only these were read."""
    cuts = 0
    for last in LastLine:
        whole = reader.read(data, last)
        for lines in choices:
            part = part_of(data, whole, lines, reader, last)
            if part is None:
                continue
            cuts += 1
            wanted = [e for e in whole.entries if e.line in lines]
            assert [_said(e) for e in part] == [_said(e) for e in wanted], lines
    return cuts


def _said(entry: Entry) -> bytes:
    """All that an entry holds but the number of its line."""
    return exact(replace(entry, line=0))


@pytest.mark.parametrize("parts", (PARTS | MORE).values(), ids=PARTS | MORE)
def test_every_line_alone_and_every_two(parts: tuple[str | bytes, ...], reader: Reader) -> None:
    data = b"".join(p.encode() if isinstance(p, str) else p for p in parts)
    numbers = range(1, min(reader.read(data).lines, 9) + 1)
    must_agree(data, reader, [[a, b] for a in numbers for b in numbers if a <= b])


def test_lines_of_the_example() -> None:
    """But for those of a log that was written in the repeated hour, they can be read in part."""
    zoned = read_mill(EXAMPLE)
    assert isinstance(zoned, Mill)
    reader, dice = Reader(zoned.vocabulary), random.Random(5)
    cuts, tries = 0, 0
    for file in sorted(EXAMPLE.rglob("*.log")):
        data = file.read_bytes()
        lines = range(1, data.count(b"\n") + 1)
        choices = [dice.sample(lines, min(n, len(lines))) for n in (1, 3, 12)]
        tries += 2 * len(choices)
        cuts += must_agree(data, reader, choices)
    assert tries * 0.9 < cuts


def test_a_repeated_hour_is_read_whole(reader: Reader) -> None:
    data = "".join(p for p in PARTS["the repeated hour"] if isinstance(p, str))
    assert frame_of(reader.read(data)) is None


NIGHT_OF_CHANGE = "day 2026-10-24 night by KM\n"


def test_a_time_that_its_offset_puts_into_the_second_pass_is_read_by_those_behind_it(
    reader: Reader,
) -> None:
    data = NIGHT_OF_CHANGE + "2026-10-25T01:10Z A01 stopped\n01:20 A02 stopped\n"
    whole = reader.read(data)
    assert [e.when.isoformat() for e in whole.entries] == [
        "2026-10-25T01:10:00+00:00",
        "2026-10-25T01:20:00+00:00",
    ]
    assert frame_of(whole) is None


def test_beside_the_repeated_hour_a_night_of_a_clock_change_is_read_in_part(
    reader: Reader,
) -> None:
    data = NIGHT_OF_CHANGE + "22:10 A01 stopped\n00:50 A02 stopped\n03:10 A03 stopped\n"
    data += "04:00 A01 running\n"
    assert frame_of(reader.read(data)) is not None
    numbers = range(1, 6)
    assert must_agree(data.encode(), reader, [[a, b] for a in numbers for b in numbers]) == 50


def test_where_a_log_was_written_in_the_repeated_hour_a_search_says_so(tmp_path: Path) -> None:
    """What is read whole is found like everything else."""
    story = Story(tmp_path / "index.sqlite")
    story.save("".join(p for p in PARTS["the repeated hour"] if isinstance(p, str)))
    with story.index.reads() as readings:
        readings.clear()
        readings.connection.execute("UPDATE file SET reading = NULL")
        read = readings.entries_at(1, [3])
    assert [e.when.isoformat() for e in read if e.line == 3] == ["2026-10-25T01:10:00+00:00"]
