"""An entry is judged by way of the index as it is by the lines that bear on it."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from board import desk
from board.bearing import Bearing
from board.desk import MANY_BYTES, Desk
from board.index import segments, standing
from board.indexed import looked, open_index, snapshot_of
from board.judging import Judged
from board.loading import read_mill
from board.mill import Mill
from board.record.files import Listed, LogFile
from board.record.shelf import Shelf
from board.show.entry_screen import looked_lines
from board.state.spells import micros
from grammar.reader import Reader
from tests.conftest import EXAMPLE, NOW, Run

LINES = [
    "A07 left tape 2.35 mm",
    "A07 left tape 5.5 mm; note nobody believes it",
    "A07 lock removed by KM",
    "A07 running",
    "A07 lock seen by RB; thread-locked",
    "B11 isolated by RB lock 3",
    "B03 fault cleared new clamp spring",
    "B03 replaced right head broken; torque clamp screws 2.2 N.m; thread-locked; batch 7F",
    "B03 moved left head from A09",
    "A12 done no 47 changed",
    "A12 done 22:40",
    "A12 open look at the cover hinge; due early",
    "A open oil the rails",
    "B style 4410",
    "A01-A06 stopped for power",
    "A07 counter 18250.5 h",
    "A07 counter 3 h",
    "B07 counter 18434.5 h",
    "2026-11-20T07:00 A20 stopped; note not written that day",
    "2026-11-12T10:00 B07 counter 18430 h",
    "shed taken over by RB",
    "shed handed over KM to RB",
    "A06 struck 04:50 wrong loom",
    "B15 struck 04:28 never done",
    "2026-11-23T10:00 A07 stopped for warp",
    "2026-11-20T09:30 B15 left guide 2 gap 0.30 mm",
    "2026-10-30T09:30 A05 isolated by TN",
    "04:50 A06 style 4410",
    "A99 running",
]

Looks = Callable[[str], tuple[Judged, Judged]]
Desks = tuple[Desk, Desk]


@pytest.fixture(scope="module")
def desks(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desks]:
    """One that reads lines, and one that goes by the index."""
    top = tmp_path_factory.mktemp("bearing")
    shed = Path(shutil.copytree(EXAMPLE, top / "shed"))
    mill = read_mill(shed)
    assert isinstance(mill, Mill)
    reader = Reader(mill.vocabulary)
    later = NOW + timedelta(days=40)  # so that the stamps of the copied logs are trusted
    index = open_index(shed, mill, reader, str(top / "i.sqlite"), {})
    assert index is not None
    snapshot_of(index, looked(shed, reader, index, later), NOW, later)
    index.close()
    bearing = Bearing(shed, mill, reader, str(top / "i.sqlite"), {}, lambda: later)
    by_lines = Desk(shed, mill, reader, lambda: later)
    by_index = Desk(shed, mill, reader, lambda: later, lambda: bearing)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(desk, "MANY_BYTES", 0)
        yield by_lines, by_index
    bearing.close()


@pytest.fixture
def looks(desks: Desks) -> Looks:
    by_lines, by_index = desks
    return lambda typed: (by_lines.look(typed, "KM", NOW), by_index.look(typed, "KM", NOW))


@pytest.mark.parametrize("typed", LINES)
def test_it_is_judged_alike(looks: Looks, typed: str) -> None:
    by_lines, by_index = looks(typed)
    assert by_index.draft.line == by_lines.draft.line
    assert (by_index.line, by_index.own, by_index.elsewhere) == (
        by_lines.line,
        by_lines.own,
        by_lines.elsewhere,
    )
    assert by_index.struck == by_lines.struck
    assert by_index.sealed_by == by_lines.sealed_by
    assert [x.plain for x in looked_lines(by_index, 80)] == [
        x.plain for x in looked_lines(by_lines, 80)
    ]


def test_the_lines_before_the_checkpoint_are_not_read(looks: Looks) -> None:
    by_lines, by_index = looks(LINES[0])
    assert by_index.after.looms["A07"].parts == by_lines.after.looms["A07"].parts
    of_lines, of_index = (len(x.after.history.spells) for x in (by_lines, by_index))
    assert of_index < of_lines  # the facts are those since the checkpoint


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("A12 open look at the cover hinge", " no 5"),
        ("A open oil the rails", " no 5"),
        ("shed taken over by RB", "; sealed "),
    ],
)
def test_a_number_or_a_seal_is_told_without_reading_a_log(
    looks: Looks, monkeypatch: pytest.MonkeyPatch, typed: str, told: str
) -> None:
    read: list[bool] = []
    real = Desk._logs

    def logs(self: Desk, listing: Listed) -> list[LogFile]:
        read.append(self._open_bearing is not None)
        return real(self, listing)

    monkeypatch.setattr(Desk, "_logs", logs)
    by_lines, by_index = looks(typed)
    assert told in by_index.draft.line
    assert by_index.draft.line == by_lines.draft.line
    assert read
    assert not any(read)


def test_a_line_that_is_not_understood_is_told_without_reading_a_log(
    looks: Looks, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delattr(Desk, "_logs")
    by_lines, by_index = looks("A99 running")
    assert by_index.own == by_lines.own
    assert by_index.own


def test_open_actions_are_told_without_reading_a_log(
    desks: Desks, monkeypatch: pytest.MonkeyPatch
) -> None:
    by_lines, by_index = desks
    places = [*by_lines.mill.looms, "A", "B", "A01-A06", "shed", "nowhere"]
    told = {place: by_lines.open_numbers([place, "done", "no"]) for place in places}
    assert len({numbers for numbers in told.values() if numbers}) > 3
    monkeypatch.delattr(Desk, "_logs")
    assert {place: by_index.open_numbers([place]) for place in places} == told


@pytest.mark.parametrize("named", ["none", "new.sqlite"])
def test_no_key_waits_for_an_index_to_be_made(
    desks: Desks, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, named: str
) -> None:
    by_lines, _ = desks
    where = named if named == "none" else str(tmp_path / named)
    bearing = Bearing(by_lines.folder, by_lines.mill, by_lines.reader, where, {}, lambda: NOW)
    waiting = Desk(by_lines.folder, by_lines.mill, by_lines.reader, lambda: NOW, lambda: bearing)
    monkeypatch.setattr("board.bearing.MUCH_UNREAD", 100)
    monkeypatch.delattr("board.record.shelf.Shelf.look")
    assert waiting.open_numbers(["A12", "done", "no"]) == ()
    bearing.close()


DAY = "day 2026-11-20 early by KM\n"
Pair = Callable[[dict[str, str], list[str]], Desks]


@pytest.fixture
def pair(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Pair]:
    """Makes both desks for some logs, and checkpoints at some moments of 20 November."""
    monkeypatch.setattr(desk, "MANY_BYTES", 0)
    monkeypatch.setattr(standing, "LONGEST_TAIL", 0)
    monkeypatch.setattr(standing, "KEPT_OPEN", timedelta(0))
    monkeypatch.setattr(segments, "_APART", 1.0)
    monkeypatch.setattr(segments, "_DAY_US", 2)
    opened: list[Bearing] = []

    def made(logs: dict[str, str], checkpoints: list[str]) -> Desks:
        shed = tmp_path / "shed"
        shed.mkdir()
        shutil.copy(EXAMPLE / "shed.toml", shed)
        for path, text in logs.items():
            (shed / path).write_text(text)
        mill = read_mill(shed)
        assert isinstance(mill, Mill)
        reader, file = Reader(mill.vocabulary), str(tmp_path / "i.sqlite")
        index = open_index(shed, mill, reader, file, {})
        assert index is not None
        looked(shed, reader, index, NOW)
        wanted = [NOW.replace(day=20, hour=int(c[:2]), minute=int(c[3:])) for c in checkpoints]
        for moment in wanted:
            assert index._fold_old(NOW, NOW, moment, 1000, bool)
        index.close()
        with closing(sqlite3.connect(file)) as kept:
            found = [upto for (upto,) in kept.execute("SELECT upto FROM checkpoint ORDER BY upto")]
        assert found == [micros(moment) for moment in wanted]
        opened.append(Bearing(shed, mill, reader, file, {}, lambda: NOW))
        by_lines = Desk(shed, mill, reader, lambda: NOW)
        return by_lines, Desk(shed, mill, reader, lambda: NOW, lambda: opened[0])

    yield made
    for bearing in opened:
        bearing.close()


def must_agree(desks: Desks, typed: str) -> Judged:
    """What is told of an entry by way of the index, as by the lines."""
    by_lines, by_index = (desk.look(typed, "KM", NOW) for desk in desks)
    assert by_index.draft.line == by_lines.draft.line
    assert (by_index.own, by_index.elsewhere) == (by_lines.own, by_lines.elsewhere)
    assert by_index.struck == by_lines.struck
    assert by_index.sealed_by == by_lines.sealed_by
    assert by_index.draft.entry is not None
    for loom in by_index.draft.entry.place.looms:
        for when in ("then", "before", "after"):
            one, other = (getattr(judged, when).looms[loom] for judged in (by_index, by_lines))
            assert one == other, when
    return by_index


def test_a_taking_over_before_the_checkpoint_seals_the_shift(pair: Pair) -> None:
    seal = "sealed 1 000000"
    logs = {"a.log": f"day 2026-11-19 night by TN\n04:00 A07 note x\n{DAY}06:10 A07 note x\n"
            f"13:54 shed handed over KM to RB\n13:55 shed taken over by RB; {seal}\n"}  # fmt: skip
    judged = must_agree(pair(logs, ["05:00", "13:57"]), "2026-11-20T13:58 A07 stopped")
    assert judged.sealed_by is not None


OF_TWO_SHIFTS = (
    f"{DAY}12:10 A07 note x\n13:00 A07 running\nday 2026-11-20 late by TN\n14:10 A08 note y\n"
)
BETWEEN = ["12:30", "13:30"]  # the start of the later shift asks for no checkpoint before these


def test_a_line_struck_may_stand_before_the_checkpoint(pair: Pair) -> None:
    desks = pair({"a.log": OF_TWO_SHIFTS}, BETWEEN)
    assert must_agree(desks, "2026-11-20T15:00 A07 struck 13:00 wrong loom").struck


def test_what_was_struck_later_stood_at_the_minute_of_the_entry(pair: Pair) -> None:
    desks = pair({"a.log": f"{OF_TWO_SHIFTS}15:30 A07 struck 13:00 wrong loom\n"}, BETWEEN)
    judged = must_agree(desks, "2026-11-20T15:00 A07 left tape 2.4 mm")
    assert judged.then.looms["A07"].motion is not judged.before.looms["A07"].motion


def test_a_meter_is_compared_with_readings_before_the_checkpoint(pair: Pair) -> None:
    logs = {
        "a.log": "day 2026-11-06 early by KM\n07:00 A20 running\n08:00 A20 counter 100 h\n",
        "b.log": f"{OF_TWO_SHIFTS}16:00 A20 counter 482 h\n",
    }
    desks = pair(logs, BETWEEN)
    assert must_agree(desks, "2026-11-20T15:00 A20 note x").elsewhere == ()
    assert must_agree(desks, "2026-11-20T15:00 A20 counter 300 h").own
    assert must_agree(desks, "2026-11-20T15:00 A20 stopped").elsewhere  # an hour is just too much


def test_where_a_log_cannot_be_read_any_more_the_lines_are_read(
    desks: Desks, monkeypatch: pytest.MonkeyPatch
) -> None:
    by_lines, by_index = desks
    told = by_lines.look("A07 left tape 2.35 mm", "KM", NOW)
    by_index.look("A07 left tape 2.35 mm", "KM", NOW)  # it opens its index now
    for trouble in ("missing", "held"):
        with monkeypatch.context() as patch:
            patch.setattr(Shelf, trouble, property(lambda _: ("it cannot be read",)))
            entry, listing = told.draft.entry, by_index._listing()
            assert entry is not None
            assert by_index._bearing is not None
            assert by_index._bearing.on(entry, NOW, listing) is None
    assert by_index._bearing.on(entry, NOW, listing) is not None


@pytest.fixture
def many(tmp_path: Path) -> Path:
    """A shed with so many bytes of logs that an index is asked sooner than they are read."""
    shed = Path(shutil.copytree(EXAMPLE, tmp_path / "shed"))
    with (shed / "long.log").open("w") as log:
        log.write("day 2026-10-01 early by TN\n" + "# nothing\n" * (MANY_BYTES // 10))
    return shed


WRITE = ("write", "--by", "KM", "--at", NOW.isoformat())


def test_where_no_index_is_there_it_is_made_and_the_next_line_goes_by_it(
    many: Path, tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    index = tmp_path / "none-yet.sqlite"
    options = ("--folder", str(many), "--index", str(index))
    done = run(*WRITE, "A07 left tape 2.37 mm", *options)
    assert (done.code, done.err) == (0, "")
    with closing(sqlite3.connect(index)) as kept:
        assert kept.execute("SELECT count(*) FROM checkpoint").fetchone()[0] > 0
    monkeypatch.delattr(Desk, "_read_one")  # by which every line is read without an index
    done = run(*WRITE, "A07 left tape 2.35 mm", *options)
    assert (done.code, done.err) == (0, "")
    assert "before: 2.37 mm" in done.out


def test_where_no_index_is_wanted_the_lines_are_read(many: Path, tmp_path: Path, run: Run) -> None:
    done = run(*WRITE, "A07 left tape 2.35 mm", "--folder", str(many), "--index", "none")
    assert (done.code, done.err) == (0, "")
    assert "2.35 mm" in done.out


def test_where_the_index_is_no_good_the_lines_are_read(
    many: Path, tmp_path: Path, run: Run
) -> None:
    index = tmp_path / "none-yet.sqlite"
    index.write_bytes(b"no index at all")
    done = run(*WRITE, "A08 left tape 2.35 mm", "--folder", str(many), "--index", str(index))
    assert (done.code, done.err) == (0, "")
    assert "2.35 mm" in done.out
