"""A log that has grown is put away without its old lines, and comes to the same rows."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from board.index import growing, index, standing
from board.index.index import Index
from board.index.rows import Put
from board.index.words import lines_with
from board.record.cabinet import Known
from board.record.files import LogFile
from board.record.shelf import Shelf
from board.state.seals import seal_of
from grammar.diagnostics import Code
from grammar.reader import Reader
from grammar.readings import Reading
from tests.index.agreeing import rows_of
from tests.index.disk import TOP, Counting
from tests.index.doing import make_cold
from tests.index.test_laws import PARTS, Story
from tests.state.shed import NIGHT, mill

pytestmark = pytest.mark.usefixtures("short_stretches", "nothing_is_hot")

LATER = timedelta(days=40)  # from the entries of these logs to the save
MORE: dict[str, tuple[str | bytes, ...]] = {
    "strikes": (NIGHT, "22:10 A01 stopped\n", "22:30 A01 struck 22:10 wrong\n", "22:40 A01 struck 22:30 wrong\n"),
    "a handover": (NIGHT, "22:10 shed handed over KM to RB\n", "22:20 A01 stopped\n22:30 shed taken over by RB\n"),
    "complaints of both parts": (NIGHT, "22:10 A01 isolatd by KM\n22:11 Z99 stopped\n", "22:12 A01 left tpae 2 mm\n22:13 A02 isolated by KM; gibberish\n"),
    "the same below a lock": (NIGHT + "22:10 A01 isolated by KM\n", "22:11 A02 ditto\n", "\n# x\n22:12 A03 ditto\n", "22:13 A04 stopped\n", "22:14 A05 ditto\n", "22:15 A06 ditto\n"),
    "the same below no lock": (NIGHT + "22:10 A01 isolated by KM\n22:11 A01 stopped\n22:12 A02 ditto\n", "22:13 A03 ditto\n"),
    "an end that is being written": (NIGHT + "22:10 A01 stopped\n", "22:20 A01 isolated by KM"),
}  # fmt: skip
# what has no frame to be read by, or cannot be cut
WHOLE = {
    "the repeated hour",
    "the repeated hour, back at once",
    "no UTF-8 before",
    "no UTF-8 behind",
}


@pytest.fixture
def nothing_is_hot(monkeypatch: pytest.MonkeyPatch) -> None:
    """As if there were newer logs than the one that grows."""
    monkeypatch.setattr(standing, "HOT", timedelta(days=-1))


@pytest.fixture
def extended(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The paths of the logs that were put away without their old lines."""
    paths: list[str] = []
    plain = growing.extend

    def noting(
        connection: sqlite3.Connection, id: int, file: LogFile, known: Known, added: Reading
    ) -> Put:
        paths.append(file.path)
        return plain(connection, id, file, known, added)

    monkeypatch.setattr(index.growing, "extend", noting)
    return paths


def rows_of_a_new_index(file: Path, story: Story) -> dict[str, list[object]]:
    with closing(Index(file, TOP, mill(), Counting(Reader(mill().vocabulary)))) as other:
        with story.disk.mounted():
            Shelf(TOP, Counting(Reader(mill().vocabulary)), other).look(story.now)
        with other.reads() as new:
            return {**rows_of(new.connection), "found": found_in(new.connection)}


def found_in(connection: sqlite3.Connection) -> list[object]:
    """In which lines each word stands."""
    terms = [term for (term,) in connection.execute("SELECT term FROM word ORDER BY term")]
    return [(term, dict(lines_with(connection, f'"{term}"'))) for term in terms]


@pytest.mark.parametrize("parts", (PARTS | MORE).items(), ids=PARTS | MORE)
def test_it_comes_to_the_rows_of_a_new_index(
    tmp_path: Path, extended: list[str], parts: tuple[str, Sequence[str | bytes]]
) -> None:
    name, pieces = parts
    story = Story(tmp_path / "index.sqlite")
    story.now += LATER
    so_far = b""
    for number, part in enumerate(pieces):
        added = part.encode() if isinstance(part, str) else part
        make_cold(story.index)
        so_far += added
        story.save(so_far)
        assert story.reader.given == [(added, number > 0)]
        with story.index.reads() as own:
            rows = {**rows_of(own.connection), "found": found_in(own.connection)}
        assert rows == rows_of_a_new_index(tmp_path / f"new-{number}.sqlite", story)
    if name in WHOLE:
        assert len(extended) < len(pieces) - 1
    else:
        assert extended == ["a.log"] * (len(pieces) - 1)


def test_a_line_of_today_under_an_old_log_is_packed(
    tmp_path: Path, extended: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(standing, "HOT", timedelta(days=3))
    story = Story(tmp_path / "index.sqlite")
    story.now += LATER
    story.save(NIGHT + "22:10 A01 stopped\n")
    make_cold(story.index)
    stamp = (story.now - timedelta(hours=1)).strftime("%Y-%m-%dT%H:%MZ")
    story.save(NIGHT + f"22:10 A01 stopped\n{stamp} A01 running\n")
    assert extended == []
    with story.index.reads() as readings:
        asked = "SELECT count(*) FROM file WHERE reading IS NOT NULL"
        assert readings.connection.execute(asked).fetchone() == (1,)


def test_a_seal_of_the_shift_is_reckoned_anew(tmp_path: Path, extended: list[str]) -> None:
    """A sealed shift that grew is told, with the line that came."""
    story = Story(tmp_path / "index.sqlite")
    story.now += LATER
    night = "day 2026-10-20 night by KM\n22:10 A01 stopped\n"
    seal = seal_of(["22:10 A01 stopped"])
    sealed = f"06:05 shed taken over by RB; sealed {seal.lines} {seal.digest}\n"
    story.save(night)
    story.save("day 2026-10-21 early by RB\n06:04 shed handed over KM to RB\n" + sealed, "b.log")
    assert story.seen().complaints == ()
    make_cold(story.index)
    (told,) = story.save(night + "22:20 A01 running\n").complaints
    assert extended == ["a.log"]
    assert told.diagnostic.code is Code.CHANGED_AFTER_HANDOVER
    assert told.diagnostic.help is not None
    assert told.diagnostic.help.endswith("came: '22:20 A01 running'")


def test_where_another_program_was_first_the_log_is_read_once_more(
    tmp_path: Path, extended: list[str]
) -> None:
    story = Story(tmp_path / "index.sqlite")
    story.now += LATER
    text = NIGHT + "22:10 A01 stopped\n"
    story.save(text)
    make_cold(story.index)
    known = story.index.known()["a.log"]
    with closing(Index(tmp_path / "index.sqlite", TOP, mill(), story.reader)) as other:
        story.disk.put("a.log", f"{text}22:20 A01 running\n".encode(), story.now)
        with story.disk.mounted():
            Shelf(TOP, story.reader, other).look(story.now)
        other.commit()
    story.disk.put("a.log", f"{text}22:20 A01 running\n22:30 A02 stopped\n".encode(), story.now)
    with story.disk.mounted():
        story.shelf.look_at({TOP / "a.log": story.disk.stamp(str(TOP / "a.log"))}, story.now)
    assert story.index.known()["a.log"] != known
    assert [e.entry.line for e in story.seen().entries] == [2, 3, 4]
    assert extended == ["a.log"] * 2
