"""Any split into files, any order and manner of saves, read as they come: one state.

The final files are drawn, a minute's lines of a loom in one file; how they come to stand there is
drawn as well: saved in pieces, cut back, exchanged, deleted, moved, in any order. What the kept
readings make of it must be what one reading of everything in one file makes, in every part but for
the names of files; and no isolation may be missing that the saved lines hold.
"""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from board.record.shelf import Shelf
from board.record.sweep import Stamp, stamp
from board.snapshot import Snapshot, snapshot
from grammar.reader import Reader
from tests.state.shed import NIGHT, NOW, REGISTER, at, mill, read
from tests.state.writing import LINES, LOOMS, Line, in_one_file, told

NAMES = ("a.log", "b.log", "c.log")
READER = Reader(mill().vocabulary)
many = settings(max_examples=40, deadline=None)


@dataclass(frozen=True)
class Save:
    """One save: of which file, in what manner, and up to which of its lines."""

    name: str
    manner: str
    share: float


SAVES = st.lists(
    st.builds(
        Save,
        st.sampled_from(NAMES),
        st.sampled_from(["write", "append", "half a line", "other text", "exchange", "delete", "move"]),
        st.floats(0, 1),
    ),
    max_size=12,
)  # fmt: skip


class Folder:
    """A log folder and the readings that are kept of it, told of every save as a watcher would."""

    def __init__(self, top: Path) -> None:
        shutil.rmtree(top, ignore_errors=True)
        top.mkdir(parents=True)
        (top / "shed.toml").write_text(REGISTER)
        self.top = top
        self.now = datetime(2026, 11, 25, 6, tzinfo=UTC)
        self.shelf = Shelf(top, READER)
        self.shelf.look(self.now)

    def put(self, name: str, text: str) -> None:
        """Save a text under a name, and tell of it."""
        (self.top / name).write_text(text)
        self.tell(name)

    def tell(self, *names: str) -> None:
        """Have the named files read again."""
        marks: dict[Path, Stamp | None] = {
            self.top / name: stamp(str(self.top / name)) for name in names
        }
        self.shelf.look_at(marks, self.now)
        self.now += timedelta(seconds=1)
        if self.shelf.waiting:
            self.shelf.settle(self.now)

    def save(self, one: Save, final: str) -> None:
        """One save on the way to the final text."""
        file = self.top / one.name
        lines = final.splitlines(keepends=True)
        part = "".join(lines[: round(one.share * len(lines))])
        match one.manner:
            case "write":
                self.put(one.name, part)
            case "append":
                with file.open("a") as log:
                    log.write(part)
                self.tell(one.name)
            case "half a line":
                self.put(one.name, part[: len(part) // 2 + 3])
            case "other text":
                self.put(one.name, f"{NIGHT}22:15 A01 isolated by XX\n22:15 A02 nonsense\n")
            case "exchange":
                beside = file.with_name(".beside")
                beside.write_text(part)
                beside.replace(file)
                self.tell(one.name)
            case "delete":
                file.unlink(missing_ok=True)
                self.tell(one.name)
            case "move" if file.exists():
                file.replace(self.top / "moved.log")
                self.tell(one.name, "moved.log")

    def finish(self, finals: dict[str, str]) -> Snapshot:
        """Every file as it is to be, and what the kept readings make of them."""
        (self.top / "moved.log").unlink(missing_ok=True)
        self.tell("moved.log")
        for name, text in finals.items():
            self.put(name, text)
        return self.seen(self.shelf)

    def seen(self, shelf: Shelf) -> Snapshot:
        """The shed by some readings."""
        return snapshot(shelf.readings, mill(), at(NOW), shelf.notices)


def split(lines: list[Line], data: st.DataObject) -> dict[str, str]:
    """Texts of files, drawn: what is said of a loom in a minute, by groups too, stays together."""
    with_group = {line.minute for line in lines if line.place not in LOOMS}
    file_of: dict[tuple[str, str], str] = {}
    texts = dict.fromkeys(NAMES, NIGHT)
    for line in lines:
        key = (line.minute, "all" if line.minute in with_group else line.place)
        if key not in file_of:
            file_of[key] = data.draw(st.sampled_from(NAMES))
        texts[file_of[key]] += f"{line.text}\n"
    return texts


@pytest.fixture(scope="module")
def top(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("laws") / "logs"


@many
@given(LINES, SAVES, st.permutations(NAMES), st.data())
def test_any_split_and_any_order_of_saves_give_one_state(
    top: Path, lines: list[Line], saves: list[Save], order: list[str], data: st.DataObject
) -> None:
    finals = split(lines, data)
    folder = Folder(top)
    for one in saves:
        folder.save(one, finals[one.name])
    kept = folder.finish({name: finals[name] for name in order})
    fresh = Shelf(top, READER)
    fresh.look(folder.now)
    assert kept == folder.seen(fresh)
    assert told(kept.fleet) == told(read(in_one_file(lines)).fleet)


@many
@given(LINES, SAVES, st.data())
def test_isolations_that_stand_in_a_file_that_is_left_alone_survive_every_save(
    top: Path, lines: list[Line], saves: list[Save], data: st.DataObject
) -> None:
    finals = split(lines, data)
    folder = Folder(top)
    folder.put("locked.log", f"{NIGHT}22:00 A05 isolated by CANARY\n22:00 B02 isolated by CANARY\n")
    for one in saves:
        folder.save(one, finals[one.name])
        looms = folder.seen(folder.shelf).fleet.looms
        assert [lock.by for name in ("A05", "B02") for lock in looms[name].locks] == ["CANARY"] * 2
