"""A log folder read without any index, as the judge of what an archive says of it."""

from __future__ import annotations

from pathlib import Path

from board.loading import read_mill
from board.mill import Mill
from board.record.shelf import Shelf
from board.snapshot import Snapshot, snapshot
from grammar.reader import Reader
from tests.conftest import NOW


def snapshot_of_folder(folder: Path) -> Snapshot:
    """Everything in a folder, as of the tests' moment."""
    mill = read_mill(folder)
    assert isinstance(mill, Mill)
    shelf = Shelf(folder, Reader(mill.vocabulary))
    shelf.look(NOW)
    return snapshot(shelf.readings, mill, NOW)
