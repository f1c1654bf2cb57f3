"""What happens to a log folder and its index, drawn by seed: saves, mistakes, clocks, programs.

One operation a seed, so that a history that fails can be made shorter by leaving some out.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from board.index.index import Index
from board.index.picture import picture
from board.indexed import snapshot_of
from board.record.shelf import Shelf
from board.snapshot import FileReading, Snapshot, lines_by_shift, snapshot
from board.state.seals import seal_of
from grammar.entries import Shift
from grammar.reader import Reader
from tests.index.agreeing import (
    checkpoints_must_hold,
    ends_must_agree,
    must_agree,
    rows_of,
    searches_must_agree,
)
from tests.index.disk import TOP, Counting, Disk
from tests.state.shed import REGISTER, mill
from tests.state.writing import (
    GROUPS,
    LOOMS,
    WORDS_OF_A_GROUP,
    WORDS_OF_A_HANDOVER,
    WORDS_OF_A_LOOM,
)

REGISTERS = (
    REGISTER,
    REGISTER.replace('words = ["band"]', 'words = ["ribbon"]'),
    REGISTER.replace('looms = ["B01-B03"]', 'looms = ["B02-B09"]'),
    REGISTER.replace("Europe/London", "Asia/Tokyo"),
)
PATHS = ("a.log", "b.log", "2026/c.log", "2026/d.log", "wide.log")
DAYS = tuple(date(2026, 10, 18) + timedelta(days=n) for n in range(15))  # a clock change among them
SHIFTS = {
    "early": ("06:10", "06:20", "07:00", "13:50"),
    "late": ("14:05", "15:30", "15:31", "21:50"),
    "night": ("22:10", "22:20", "22:30", "23:59", "00:30", "01:10", "01:30", "01:20", "05:50"),
}
START = datetime(2026, 11, 2, 6, tzinfo=UTC)
ODD = (
    "day 2026-13-01 night by KM", "day 2026-10-20 noght by KM", "day tomorrow", "# remark", "",
    "22:10 A01 isolatd by XX", "22:10 A01 isolated by XX; gibberish", "22:10 Z99 stopped",
    "22:20 A01 left tpae 2 mm", "\ufeff22:30 A02 isolated by BM", "25:10 A01 isolated by KM lock",
)  # fmt: skip
LATIN = b"22:30 A02 note \xfcber Nacht\n"


def _words(dice: random.Random, day: date) -> tuple[str, str]:
    """A place, and what is said of it."""
    roll = dice.random()
    if roll < 0.06:
        return dice.choice(("A", "shed")), dice.choice(WORDS_OF_A_HANDOVER)
    if roll < 0.16:
        return dice.choice(GROUPS), "; ".join(
            dice.sample(WORDS_OF_A_GROUP[:-1], dice.randint(1, 2))
        )
    loom = dice.choice(LOOMS)
    if roll < 0.32:
        times = [at for shift in SHIFTS.values() for at in shift]
        other = day + timedelta(days=dice.choice((-9, -3, -1, 0, 0, 0, 1, 4)))
        return loom, f"struck {other}T{dice.choice(times)} wrong"
    said = dice.sample([w for w in WORDS_OF_A_LOOM if not w.startswith("note")], dice.randint(1, 3))
    return loom, "; ".join(said)


def make_cold(index: Index) -> None:
    """Let an index keep no log but as its bytes."""
    with index.reads() as readings:
        readings.clear()
        readings.connection.execute("UPDATE file SET reading = NULL")


def some_lines(dice: random.Random, path: str) -> bytes:
    """A few lines as somebody may write them at the end of a file, or a copying tool."""
    day = dice.choice(DAYS)
    if dice.random() < 0.08:
        day = date(2026, 11, dice.choice((3, 4, 9, 20)))  # maybe in the future
    shift = dice.choice(sorted(SHIFTS))
    lines: list[bytes] = []
    wide = path == "wide.log"
    if not wide and dice.random() < 0.7:
        lines.append(f"day {day} {shift} by {dice.choice(('KM', 'RB'))}\n".encode())
    for _ in range(dice.randint(1, 4)):
        if dice.random() < 0.12:
            lines.append(LATIN if dice.random() < 0.3 else f"{dice.choice(ODD)}\n".encode())
            continue
        if wide:
            day = dice.choice(DAYS)
        stamp = dice.choice(SHIFTS[shift])
        if wide or dice.random() < 0.3:
            stamp = f"{day}T{stamp}"
        lines.append(f"{stamp} {' '.join(_words(dice, day))}\n".encode())
    return b"".join(lines)


# shared by all worlds: reading is what takes long
READERS = {register: Counting(Reader(mill(register).vocabulary)) for register in REGISTERS}
PLAIN = {register: Counting(Reader(mill(register).vocabulary)) for register in REGISTERS}


@dataclass
class World:
    """A folder, the index of it that one program keeps open, and the clock."""

    file: Path
    disk: Disk = field(default_factory=Disk)
    now: datetime = START
    register: int = 0
    done: list[str] = field(default_factory=list)
    marks: int = 0  # checkpoints that were compared
    grown: int = 0  # saves of which only the new bytes were read
    index: Index | None = None
    shelf: Shelf | None = None

    # -- operations ------------------------------------------------------------------------

    def do(self, seed: int) -> None:
        """One operation."""
        dice = random.Random(seed)
        ways = [
            self.append, self.append, self.append, self.append, self.append, self.half_a_line,
            self.mistake, self.line_changed, self.line_lost, self.line_put_in, self.truncate,
            self.rename, self.delete, self.copy, self.line_copied, self.touch, self.seal,
            self.strike_taken_away, self.wait, self.wait, self.clock_set, self.words_changed,
            self.opened_anew, self.folder_away, self.all_cold,
        ]  # fmt: skip
        way = dice.choice(ways)
        self.done.append(f"{seed}: {way.__name__}")
        way(dice)
        self.now += timedelta(seconds=dice.choice((3, 3, 61)))

    def _path(self, dice: random.Random) -> str:
        return dice.choice(sorted(self.disk.files) or PATHS)

    def append(self, dice: random.Random) -> None:
        path = dice.choice(PATHS)
        self.disk.put(path, self.disk.data(path) + some_lines(dice, path), self.now)

    def half_a_line(self, dice: random.Random) -> None:
        path = dice.choice(PATHS)
        lines = some_lines(dice, path)
        self.disk.put(path, self.disk.data(path) + lines[: -dice.randint(1, 9)], self.now)

    def mistake(self, dice: random.Random) -> None:
        path = self._path(dice)
        self.disk.put(path, self.disk.data(path) + dice.randbytes(3) + b"\n", self.now)

    def _lines_changed(
        self, dice: random.Random, change: Callable[[list[bytes], int], None]
    ) -> None:
        path = self._path(dice)
        lines = self.disk.data(path).splitlines(keepends=True)
        if lines:
            change(lines, dice.randrange(len(lines)))
            self.disk.put(path, b"".join(lines), self.now)

    def line_changed(self, dice: random.Random) -> None:
        def change(lines: list[bytes], at: int) -> None:
            lines[at] = some_lines(dice, "a.log").splitlines(keepends=True)[-1]

        self._lines_changed(dice, change)

    def line_lost(self, dice: random.Random) -> None:
        self._lines_changed(dice, lambda lines, at: lines.pop(at) and None)

    def line_put_in(self, dice: random.Random) -> None:
        self._lines_changed(dice, lambda lines, at: lines.insert(at, some_lines(dice, "a.log")))

    def strike_taken_away(self, dice: random.Random) -> None:
        for path, (data, _) in sorted(self.disk.files.items()):
            lines = data.splitlines(keepends=True)
            strikes = [n for n, line in enumerate(lines) if b"struck" in line]
            if strikes:
                del lines[dice.choice(strikes)]
                self.disk.put(path, b"".join(lines), self.now)
                return

    def truncate(self, dice: random.Random) -> None:
        path = self._path(dice)
        data = self.disk.data(path)
        self.disk.put(path, data[: dice.randrange(len(data) + 1)], self.now)

    def rename(self, dice: random.Random) -> None:
        path, other = self._path(dice), dice.choice(PATHS)
        if path in self.disk.files:
            self.disk.files[other] = self.disk.files.pop(path)

    def delete(self, dice: random.Random) -> None:
        self.disk.files.pop(self._path(dice), None)

    def copy(self, dice: random.Random) -> None:
        self.disk.put(dice.choice(PATHS), self.disk.data(self._path(dice)), self.now)

    def line_copied(self, dice: random.Random) -> None:
        """A line with its heading stands in another file too."""
        lines = self.disk.data(self._path(dice)).splitlines(keepends=True)
        if lines:
            at = dice.randrange(len(lines))
            heading = next((x for x in lines[at::-1] if x.startswith(b"day ")), b"")
            path = dice.choice(PATHS)
            data = self.disk.data(path)
            gap = b"" if not data or data.endswith(b"\n") else b"\n"
            self.disk.put(path, data + gap + heading + lines[at], self.now)

    def touch(self, dice: random.Random) -> None:
        path = self._path(dice)
        self.disk.put(path, self.disk.data(path), self.now)

    def seal(self, dice: random.Random) -> None:
        """The seal of a shift as it is now, under the heading of the next one."""
        lines = lines_by_shift(self.readings())
        given = Shift(day=dice.choice(DAYS), name="early")
        sealed = seal_of(lines.get(given, ()))
        line = f"14:05 shed taken over by RB; sealed {sealed.lines} {sealed.digest}\n"
        path = dice.choice(PATHS)
        data = self.disk.data(path)
        gap = b"" if not data or data.endswith(b"\n") else b"\n"
        added = f"day {given.day} late by RB\n14:05 shed handed over KM to RB\n{line}".encode()
        self.disk.put(path, data + gap + added, self.now)

    def wait(self, dice: random.Random) -> None:
        self.now += timedelta(hours=dice.choice((0.02, 1, 9, 40, 200)))

    def clock_set(self, dice: random.Random) -> None:
        self.now += timedelta(hours=dice.choice((-0.02, -0.3, -9, -100, -400, 30, 900)))

    def words_changed(self, dice: random.Random) -> None:
        """The register is another one; the program that runs takes it up."""
        other = dice.randrange(len(REGISTERS))
        if other == self.register:
            return
        self.register = other
        if self.shelf is not None and self.index is not None:
            before = self.index

            def anew() -> Index:
                before.close()
                self.index = self._opened()
                return self.index

            with self.disk.mounted():
                self.shelf.speak(self.reader, self.now, anew)
        self.reader.taken()

    def opened_anew(self, _: random.Random) -> None:
        """The program ends, and another begins."""
        self.close()

    def all_cold(self, _: random.Random) -> None:
        """No reading is in memory or packed, as if all logs were old."""
        if self.index is not None:
            make_cold(self.index)

    def folder_away(self, dice: random.Random) -> None:
        """A look while the folder is away: nothing is given up for it."""
        if self.shelf is not None:
            self.disk.away = True
            with self.disk.mounted():
                self.shelf.look(self.now)
                self.shelf.settle(self.now)
            self.disk.away = False

    # -- what it comes to ------------------------------------------------------------------

    @property
    def text(self) -> str:
        """The register in force."""
        return REGISTERS[self.register]

    @property
    def reader(self) -> Counting:
        """The reader that the index is filled by."""
        return READERS[self.text]

    def _opened(self) -> Index:
        return Index(self.file, TOP, mill(self.text), PLAIN[self.text])

    def close(self) -> None:
        """End the program that keeps the index open."""
        if self.index is not None:
            self.index.close()
        self.index = self.shelf = None

    def readings(self) -> tuple[FileReading, ...]:
        """Every file read from nothing."""
        shelf = Shelf(TOP, PLAIN[self.text])
        with self.disk.mounted():
            shelf.look(self.now)
        return shelf.readings

    def fresh(self, as_of: datetime) -> Snapshot:
        """The shed by a fresh reading."""
        shelf = Shelf(TOP, PLAIN[self.text])
        with self.disk.mounted():
            shelf.look(self.now)
        return snapshot(shelf.readings, mill(self.text), as_of, shelf.notices)

    def look(self) -> tuple[Index, Shelf]:
        """Bring the index up to date, and see that no more was read than had to be."""
        if self.index is None or self.shelf is None:
            self.index = self._opened()
            self.shelf = Shelf(TOP, self.reader, self.index)
        expected = sorted(self._to_read(self.index))
        self.reader.taken()
        with self.disk.mounted():
            self.shelf.look(self.now)
        assert sorted(self.reader.taken()) == expected
        self.grown += sum(carried for _, carried in expected)
        return self.index, self.shelf

    def _to_read(self, index: Index) -> list[tuple[bytes, bool]]:
        """The bytes that have to be read, and whether behind others."""
        before, known = {file.path: file for file in index.files()}, index.known()
        expected = []
        with self.disk.mounted():
            for log in getattr(self.disk.list_logs(TOP), "logs", ()):
                found = self.disk.read_file(log, self.now)
                old = before.get(log.path)
                if old is not None and known[log.path].stands(log.stamp, self.now):
                    continue
                same = old is not None and old.data == found.data
                if same and (old.last_line is found.last_line or old.data.endswith(b"\n")):
                    continue
                if old is not None and old.data.endswith(b"\n") and found.data.startswith(old.data):
                    expected.append((found.data[len(old.data) :], True))
                else:
                    expected.append((found.data, False))
        return expected

    def check(self, seed: int) -> None:
        """The law, as of now, of a moment past, and of one to come."""
        dice = random.Random(seed)
        index, shelf = self.look()
        past = self.now - timedelta(hours=dice.choice((0, 5, 30, 100, 300, 600)))
        ahead = self.now + timedelta(hours=dice.choice((1, 30, 500)))
        moments = [self.now, past, ahead]
        dice.shuffle(moments)
        for as_of in moments:
            kept = snapshot_of(index, shelf, as_of, self.now)
            fresh = self.fresh(as_of)
            ends_must_agree(kept, fresh, dice.choice((past, as_of - timedelta(days=9))))
            must_agree(kept, fresh)
            searches_must_agree(index, fresh, dice)
        snapshot_of(index, shelf, self.now, self.now)
        with index.reads() as readings:
            self.marks += checkpoints_must_hold(
                readings.connection, self.readings(), mill(self.text), self.now
            )

    def compare_rows(self, beside: Path) -> None:
        """The rows are those of an index that is built from nothing."""
        index, _ = self.look()
        beside.unlink(missing_ok=True)
        other = Index(beside, TOP, mill(self.text), PLAIN[self.text])
        with self.disk.mounted():
            shelf = Shelf(TOP, self.reader, other)
            shelf.look(self.now)
        other.settle(self.now, self.now)
        with index.reads() as one, other.reads() as new:
            assert rows_of(one.connection) == rows_of(new.connection)
        must_agree(picture(other, self.now, shelf.notices), self.fresh(self.now))
        other.close()


def play(world: World, seeds: Sequence[int], *, every: int) -> None:
    """Let these operations happen; compared after some of them, and in every part at the end."""
    beside = world.file.with_name("beside.sqlite")
    for seed in seeds:
        world.do(seed)
        if seed % every == 0:
            world.check(seed)
        if seed % 11 == 0:
            world.compare_rows(beside)
    world.check(seeds[-1])
    world.compare_rows(beside)


def empty_world(place: Path) -> World:
    """A new world with its index in a folder, which is emptied."""
    for old in place.iterdir():
        old.unlink()
    return World(place / "index.sqlite")
