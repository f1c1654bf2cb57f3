"""The law of the index: whatever happened, it says what a fresh reading says.

A folder in memory and an index on the disk go through operations drawn by seed (``doing``); after
some of them the picture of the index is compared in every field with that of a fresh reading, as of
now, of a moment past and of one to come, every checkpoint with a fold of all entries up to it, the
rows with those of an index built from nothing, and what was read with the bytes that are new.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from board.index import settling
from board.index.index import Index
from board.index.picture import picture
from board.record.shelf import Shelf
from board.snapshot import Snapshot, snapshot
from grammar.entries import Shift
from grammar.reader import Reader
from tests.index.agreeing import must_agree
from tests.index.disk import TOP, Counting, Disk
from tests.index.doing import START, World, empty_world, play
from tests.state.shed import NIGHT, at, mill

pytestmark = pytest.mark.usefixtures("short_stretches")
SEEDS = st.lists(st.integers(0, 2**32 - 1), min_size=1, max_size=30)
some = settings(
    max_examples=15,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def played(place: Path, seeds: Sequence[int]) -> World:
    """A world in which these operations happened, compared after some of them and at the end."""
    world = empty_world(place)
    with closing(world):
        play(world, seeds, every=3)
    return world


@some
@given(SEEDS)
def test_whatever_happened_the_index_says_what_a_fresh_reading_says(
    tmp_path: Path, seeds: list[int]
) -> None:
    played(tmp_path, seeds)


@pytest.mark.parametrize("seed", range(4))
def test_a_longer_history(tmp_path: Path, seed: int) -> None:
    dice = random.Random(seed)
    world = played(tmp_path, [dice.getrandbits(32) for _ in range(60)])
    assert world.marks > 10
    assert world.grown > 3


def test_folding_while_the_logs_are_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A first reading folds what is old as it goes, in whatever order the logs come."""
    monkeypatch.setattr(settling, "BAKED_AT", 4)
    dice = random.Random(100)
    for _ in range(2):
        world = played(tmp_path, [dice.getrandbits(32) for _ in range(25)])
        assert world.marks > 3


# -- one strike, one lock, one seal at a time ----------------------------------------------


class Story:
    """Saves of little logs, the index compared after each of them."""

    def __init__(self, file: Path) -> None:
        self.disk = Disk()
        self.reader = Counting(Reader(mill().vocabulary))
        self.now = START
        self.index = Index(file, TOP, mill(), Counting(Reader(mill().vocabulary)))
        self.shelf = Shelf(TOP, self.reader, self.index)

    def save(self, text: str | bytes, path: str = "a.log") -> Snapshot:
        """Save a whole file, and see."""
        data = text.encode() if isinstance(text, str) else text
        self.disk.put(path, data, self.now)
        return self.seen()

    def gone(self, path: str) -> Snapshot:
        """Delete a file, and see."""
        del self.disk.files[path]
        return self.seen()

    def seen(self) -> Snapshot:
        """Look, and compare; now, and as of each shift since."""
        self.now += timedelta(seconds=70)
        with self.disk.mounted():
            self.reader.taken()
            self.shelf.look(self.now)
            fresh = Shelf(TOP, Counting(self.reader.reader))
            fresh.look(self.now)
        self.index.settle(self.now, self.now)
        for hours in (0, 100, -50):
            as_of = self.now - timedelta(hours=hours)
            told = snapshot(fresh.readings, mill(), as_of, fresh.notices)
            must_agree(picture(self.index, as_of, self.shelf.notices), told)
        return picture(self.index, self.now, self.shelf.notices)


@pytest.fixture
def story(tmp_path: Path) -> Story:
    return Story(tmp_path / "index.sqlite")


PADDING = "".join(
    f"2026-10-{day}T12:{m:02} A0{m % 9 + 1} stopped\n" for day in range(18, 31) for m in range(8)
)


def test_a_line_late_after_closed_days_is_kept_as_what_each_fold_goes_through(story: Story) -> None:
    story.save(PADDING)
    story.now += timedelta(days=20)
    story.disk.put("late.log", b"2026-10-30T12:30 A01 note late\n", story.now)
    story.disk.put("old.log", b"2026-10-20T12:30 A01 note old\n", story.now)
    with story.disk.mounted():
        story.shelf.look(story.now)
    with story.index.reads() as readings:
        kept = dict(readings.connection.execute("SELECT path, reading IS NOT NULL FROM file"))
    assert (kept["late.log"], kept["old.log"]) == (True, False)
    story.seen()


def test_a_strike_of_what_was_folded_long_ago_and_that_strike_taken_away(story: Story) -> None:
    old = "2026-10-19T12:30 A01 running; left tape 2.90 mm\n"
    story.save(PADDING + old)
    before = story.seen().fleet.looms["A01"]
    struck = story.save("2026-11-02T05:00 A01 struck 2026-10-19T12:30 wrong\n", "b.log")
    assert before.parts
    assert not struck.fleet.looms["A01"].parts
    assert story.gone("b.log").fleet.looms["A01"] == before


def test_a_strike_of_what_is_written_later(story: Story) -> None:
    story.save(PADDING + "2026-10-20T05:00 A01 struck 2026-10-28T12:30 wrong\n")
    assert [c.diagnostic.code.value for c in story.seen().complaints] != []
    both = story.save("2026-10-28T12:30 A01 left tape 2.90 mm\n", "b.log")
    assert not both.fleet.looms["A01"].parts
    story.save("2026-10-28T12:30 A01 left tape 2.90 mm\n2026-10-28T12:30 A01 note x\n", "b.log")
    assert not story.save("2026-10-28T12:31 A01 note x\n", "b.log").fleet.looms["A01"].parts


def test_a_strike_of_an_entry_to_come(story: Story) -> None:
    text = PADDING + "2026-11-01T05:00 A01 struck 2026-11-04T12:30 wrong\n"
    later = "2026-11-04T12:30 A01 left tape 2.90 mm; isolated by KM\n"
    assert story.save(text + later).fleet.looms["A01"].locks
    story.now += timedelta(days=5)
    state = story.seen().fleet.looms["A01"]
    assert state.locks
    assert not state.parts


def test_a_double_of_a_striking_line_in_another_file(story: Story) -> None:
    strike = "2026-11-01T05:00 A01 struck 2026-10-19T12:30 wrong\n"
    story.save(PADDING + "2026-10-19T12:30 A01 left tape 2.90 mm\n")
    story.save(strike, "b.log")
    assert not story.save(strike, "c.log").fleet.looms["A01"].parts
    assert not story.gone("b.log").fleet.looms["A01"].parts
    assert story.gone("c.log").fleet.looms["A01"].parts


def test_an_isolation_in_an_old_file_that_comes_late(story: Story) -> None:
    story.save(PADDING)
    locked = story.save("2026-10-19T12:05 A05 isolated by KM\n", "b.log")
    assert locked.fleet.looms["A05"].locks
    assert (
        not story.save(
            "2026-10-19T12:05 A05 isolated by KM\n2026-10-20T01:00 A05 lock removed by KM\n",
            "b.log",
        )
        .fleet.looms["A05"]
        .locks
    )
    assert story.save("2026-10-19T12:05 A05 isolated by KM\n", "b.log").fleet.looms["A05"].locks
    assert not story.gone("b.log").fleet.looms["A05"].locks


def test_a_part_that_moved_in_what_was_folded_and_the_line_that_fitted_it_mended(
    story: Story,
) -> None:
    fitted = "2026-10-18T11:00 A01 replaced left head batch 7F\n"
    moved = "2026-10-25T11:00 A02 moved left head from A01\n"
    story.save(PADDING + moved)
    story.save(fitted.replace("head", "haed"), "b.log")
    story.save(fitted, "b.log")
    story.gone("b.log")


def test_a_line_that_may_isolate_has_its_shift_and_its_writer(story: Story) -> None:
    lines = "22:10 A01 isolatd by JO\n22:15 A05 isolatd by JO; by EP\n22:20 A02 lock seen by RB; by DW\n"
    shed = story.save(f"{PADDING}day 2026-10-20 night by KM\n{lines}2026-10-21T01:00 A03 isolatd\n")
    night = Shift(day=date(2026, 10, 20), name="night")
    told = [(m.text.split()[1], m.shift, m.by) for m in shed.fleet.may_isolate]
    assert told == [
        ("A01", night, "KM"),
        ("A05", night, "EP"),
        ("A02", night, "DW"),
        ("A03", night, "KM"),
    ]
    none = story.save("2026-10-20T22:10 A01 isolatd by JO\n", "a.log")
    assert [(m.shift, m.by) for m in none.fleet.may_isolate] == [(None, None)]


def test_an_unfinished_line_that_settles(story: Story) -> None:
    """Until then only its isolation counts; then it is read, whole."""
    story.save(PADDING)
    story.disk.put(
        "b.log", NIGHT.encode() + b"22:10 A05 isolated by KM; left tape 2.90 mm", story.now
    )
    story.now -= timedelta(seconds=60)
    growing = story.seen()
    assert growing.unfinished
    assert growing.fleet.looms["A05"].locks
    story.now += timedelta(days=40)
    settled = story.seen()
    assert not settled.unfinished
    assert settled.fleet.looms["A05"].parts
    story.now -= timedelta(days=40, seconds=140)
    assert story.seen().unfinished


# -- what is read of a log that grows ------------------------------------------------------

REPEATED = "day 2026-10-24 night by KM\n"
PARTS: dict[str, tuple[str | bytes, ...]] = {
    "under a heading": (NIGHT, "22:10 A01 stopped\n", "22:20 A01 running\n"),
    "no heading": ("22:10 A01 stopped\n", "22:20 A01 running\n", NIGHT, "22:30 A02 stopped\n"),
    "full stamps": ("2026-10-20T22:10 A01 stopped\n", "2026-10-19T22:20 A01 running\n"),
    "a refused heading": (NIGHT + "22:10 A01 stopped\n", "day 2026-13-01 night by KM\n", "22:20 A01 running\n"),
    "meant for a heading": (NIGHT + "22:10 A01 stopped\n", "2026-11-24 night RB\n", "22:20 A01 running\n"),
    "another heading": (NIGHT, "22:10 A01 stopped\n", "day 2026-10-20 early by RB\n", "06:10 A01 running\n"),
    "the repeated hour": (REPEATED, "01:30 A01 stopped\n", "01:10 A01 running\n", "01:20 A02 stopped\n01:50 A02 running\n"),
    "the repeated hour, back at once": (REPEATED + "01:30 A01 stopped\n01:10 A01 running\n", "01:40 A02 stopped\n"),
    "a mark of byte order in the middle": (NIGHT, "\ufeff22:10 A01 stopped\n", "\ufeff" + NIGHT, "22:20 A01 running\n"),
    "a mark at the start": ("\ufeff" + NIGHT, "22:10 A01 stopped\n"),
    "no UTF-8 before": (NIGHT.encode() + b"22:10 A01 note f\xfcr\n", b"22:20 A01 running\n"),
    "no UTF-8 behind": (NIGHT, b"22:20 A01 note f\xfcr\n", b"22:30 A01 isolated by KM\xe9\n"),
    "lines that may isolate": (NIGHT, "22:10 A01 isolatd by JO; by DW\n", "2026-11-24 night RB locked\n", "22:20 A01 isolatd by JO\n", "day 2026-11-25 early by RB\n06:20 A03 isolatd\n", "06:30 A04 lock seen by RB; by DW\n"),
    "blank lines": ("\n", "\n\n", NIGHT, "\r\n", "22:10 A01 stopped\r\n"),
    "remarks": ("# a\n", NIGHT, "# b\n22:10 A01 stopped\n"),
    "zeros": (NIGHT, b"\0\0\n", b"22:10 A01 isolated by KM\n"),
    "line breaks of other kinds": (NIGHT, "22:10 A01 note a\u2028b\n", "22:20 A01 note a\x0bb\x85c\n"),
    "a line too long": (NIGHT, "22:10 A01 note " + "x" * 5_000 + "\n", "22:20 A01 running\n"),
    "refused lines": (NIGHT, "22:10 A01 isolatd by KM\n", "22:20 A01 isolated by KM; gibberish\n"),
    "an unfinished end": (NIGHT, "22:10 A01 stopped\n22:20 A01 isolated by KM"),
    "a long log": (NIGHT + "22:10 A01 stopped\n" * 420, "22:20 A01 running\n" * 3),
}  # fmt: skip


@pytest.mark.parametrize("parts", PARTS.values(), ids=PARTS)
def test_of_a_log_that_grows_only_the_new_bytes_are_read(
    story: Story, parts: tuple[str | bytes, ...]
) -> None:
    so_far = b""
    for number, part in enumerate(parts):
        added = part.encode() if isinstance(part, str) else part
        so_far += added
        story.save(so_far)
        assert story.reader.given == [(added, number > 0)]


@pytest.mark.parametrize("parts", PARTS.values(), ids=PARTS)
def test_the_parts_joined_are_the_reading_of_the_whole(
    tmp_path: Path, parts: tuple[str | bytes, ...]
) -> None:
    """In whatever pieces a log is written: every field of the reading, line by line."""
    whole = b"".join(p.encode() if isinstance(p, str) else p for p in parts)
    ends = [n + 1 for n, byte in enumerate(whole) if byte == 10]
    for each in ([*ends[:12], len(whole)], [*ends[:12:3], len(whole)]):
        story = Story(tmp_path / f"{len(each)}-{each[0]}.sqlite")
        for end in each:
            story.disk.put("a.log", whole[:end], story.now)
            story.now += timedelta(seconds=70)
            with story.disk.mounted():
                story.shelf.look(story.now)
        kept = story.index.reading("a.log")
        log = next(iter(story.index.files()))
        assert kept == Reader(mill().vocabulary).read(whole, log.last_line)
        story.index.close()


def test_a_log_that_did_not_change_is_not_read(story: Story) -> None:
    story.save(PADDING)
    with story.disk.mounted():
        for again in (story.shelf, Shelf(TOP, story.reader, story.index)):
            story.reader.taken()
            again.look(story.now)
            assert story.reader.taken() == []


def test_a_log_that_was_only_touched_is_not_read(story: Story) -> None:
    story.save(PADDING)
    story.now += timedelta(seconds=70)
    story.disk.put("a.log", PADDING.encode(), story.now - timedelta(seconds=65))
    story.seen()
    with story.disk.mounted():
        story.reader.taken()
        story.disk.put("a.log", PADDING.encode(), story.now - timedelta(seconds=64))
        story.shelf.look(story.now)
        assert story.reader.taken() == []


def test_a_log_changed_within_the_grain_of_its_stamp_is_read_again(story: Story) -> None:
    """Two saves with one stamp and of one size: as long as that may be, a stamp proves nothing."""
    first, second = b"2026-11-02T05:00 A01 stopped\n", b"2026-11-02T05:00 A01 running\n"
    story.disk.put("a.log", first, story.now)
    with story.disk.mounted():
        story.shelf.look(story.now)
        story.disk.files["a.log"] = (second, story.disk.files["a.log"][1])
        Shelf(TOP, story.reader, story.index).look(story.now + timedelta(seconds=5))
    assert story.index.reading("a.log").entries == story.reader.reader.read(second).entries


@pytest.mark.parametrize("changed", [1 << 63, 1 << 64, -(1 << 64)], ids=["2262", "2554", "1385"])
def test_a_log_changed_in_no_time_that_a_database_can_tell(story: Story, changed: int) -> None:
    """The clock of some machine was wrong when it was saved."""
    story.disk.files["a.log"] = (PADDING.encode(), changed)
    story.seen()
    story.disk.files["a.log"] = (PADDING.encode() + b"2026-10-31T12:00 A01 running\n", changed + 5)
    story.seen()


def test_a_day_that_is_looked_at_from_before_and_after(story: Story) -> None:
    """Moments in any order: what is kept for one must not show in another."""
    story.save(
        PADDING + "2026-10-24T12:30 A01 isolated by KM\n2026-10-27T12:30 A01 lock removed by KM\n"
    )
    moments = [at(f"2026-10-{day} 13:00") for day in range(18, 31)]
    dice = random.Random(1)
    for _ in range(3):
        dice.shuffle(moments)
        locked = {m for m in moments if picture(story.index, m).fleet.looms["A01"].locks}
        # from the 24th on; before it, it is an isolation to come, which counts at once
        assert locked == {m for m in moments if m < at("2026-10-27 12:30")}


def test_a_refused_strike_of_a_removal_is_asked_about_and_forgotten(story: Story) -> None:
    day = f"{story.now:%Y-%m-%d}"
    off = f"{day}T00:10 A01 isolated by TN\n{day}T00:20 A01 lock removed by TN\n"
    story.save(PADDING + off)
    strike = f"{day}T00:30 A01 struck {day}T00:21 was A02\n"
    assert len(story.save(strike, "b.log").fleet.may_isolate) == 1
    story.now += timedelta(days=3)
    assert story.seen().fleet.may_isolate == ()


def test_a_log_that_was_saved_with_carriage_returns_alone_grows(story: Story) -> None:
    day = f"{story.now:%Y-%m-%d}"
    lines = [f"{day}T00:{m:02} A0{m % 9 + 1} isolated by T{'KLMN'[m % 4]}" for m in range(12)]
    saved = b""
    for count, line in enumerate(lines, start=1):
        saved += line.encode() + b"\r"
        assert len(_locks(story.save(saved))) == count
    assert len(_locks(story.save(saved + b"\n2026-11-01T05:00 B01 isolated by KM\n"))) == 13
    back = story.save(saved.replace(b"\r", b"\n"))
    assert len(_locks(back)) == 12
    assert not back.complaints


def _locks(shed: Snapshot) -> list[tuple[str, str]]:
    return [(loom, lock.by) for loom, state in shed.fleet.looms.items() for lock in state.locks]
