"""A live board's keeping at work on a folder of the example, and every picture that it made."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from board.keeping import Keeping
from board.loading import read_mill, reader_for
from board.mill import Mill
from board.record.shelf import Shelf
from board.record.watch import Manner
from board.snapshot import Snapshot, snapshot
from board.state.fleet import Isolation
from tests.conftest import EXAMPLE
from tests.robust.running import NOW
from tests.robust.saves import CANARIES

SETTLED_S = 20.0  # [s] in which the picture must have caught up, on a machine with much else to do


def clock() -> datetime:
    """The real clock, but never before the example's last entry."""
    return max(datetime.now(UTC), NOW)


@dataclass
class Watching:
    """A keeping at work on a folder, and every picture that it made."""

    folder: Path
    cache: Path
    pictures: list[tuple[float, Snapshot, str]] = field(default_factory=list)
    keeping: Keeping | None = None

    def seen(self) -> None:
        assert self.keeping is not None
        picture = self.keeping.picture
        self.pictures.append((time.monotonic(), picture.summary.snapshot, picture.trouble))

    @property
    def environ(self) -> dict[str, str]:
        return {"XDG_CACHE_HOME": str(self.cache)}

    @property
    def now(self) -> Snapshot:
        assert self.keeping is not None
        return self.keeping.picture.summary.snapshot

    def fresh(self, as_of: datetime) -> Snapshot:
        """The folder read from nothing."""
        mill = read_mill(self.folder)
        assert isinstance(mill, Mill)
        shelf = Shelf(self.folder, reader_for(mill.vocabulary, self.environ))
        shelf.look(clock())
        return snapshot(shelf.readings, mill, as_of, shelf.notices)

    def must_agree(self) -> None:
        """Wait until the picture is that of a fresh reading, in every part of it."""
        until = time.monotonic() + SETTLED_S
        while time.monotonic() < until:
            kept = self.now
            if kept == self.fresh(kept.fleet.as_of):
                return
            time.sleep(0.05)
        kept, fresh = self.now, self.fresh(self.now.fleet.as_of)
        assert kept.tally == fresh.tally
        assert kept.entries == fresh.entries
        assert kept.complaints == fresh.complaints
        assert kept == fresh


@contextmanager
def watching(
    folder: Path,
    cache: Path,
    tick: Callable[[], datetime] = clock,
    manner: Manner = Manner.AUTOMATIC,
) -> Iterator[Watching]:
    mill = read_mill(folder)
    assert isinstance(mill, Mill)
    watching = Watching(folder, cache)
    watching.keeping = Keeping(
        folder,
        mill,
        environ=watching.environ,
        clock=tick,
        manner=manner,
        on_new=watching.seen,
    )
    with watching.keeping:
        yield watching


def without_logs(place: Path) -> Path:
    """A log folder with the example's register and no log yet."""
    folder = place / "logs"
    folder.mkdir()
    (folder / "shed.toml").write_bytes((EXAMPLE / "shed.toml").read_bytes())
    return folder


def history(count: int) -> dict[str, bytes]:
    """The newest logs of the example, by path."""
    files = sorted(EXAMPLE.rglob("*.log"))[-count:]
    return {file.relative_to(EXAMPLE).as_posix(): file.read_bytes() for file in files}


def standing(snapshot: Snapshot) -> set[str]:
    looms = snapshot.fleet.looms
    return {name for name in CANARIES if looms[name].isolation is not Isolation.NONE_RECORDED}
