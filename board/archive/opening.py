"""One mill of an archive opened to be asked: its register and its index, as the archive saw them.

Nothing of the mill's own folder is needed. An index that cannot be used is left as it is: only
bringing the archive up to date makes one anew.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from urllib.parse import quote

from board.archive.building import INDEX
from board.index.fingerprint import fingerprint
from board.index.index import Index
from board.index.picture import picture
from board.index.schema import FAULTS, Unusable, kept
from board.loading import ReaderWhenNeeded, read_mill
from board.mill import Mill
from board.snapshot import Snapshot

# a mill that is asked: its name, its folder and the moment that it is looked at, ISO 8601
MillAsked = tuple[str, str, str]

_ANEW = "bring the archive up to date"


class NotThere(Exception):
    """A mill of the archive cannot be asked; ``sentence`` says why."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A mill of the archive: its register, its index, and the moment (UTC) it is asked for."""

    name: str
    mill: Mill
    index: Index
    as_of: datetime

    @property
    def snapshot(self) -> Snapshot:
        """What is on record, made anew each time. Raises Unusable."""
        return picture(self.index, self.as_of)


@contextmanager
def opened(out: Path, asked: MillAsked, environ: tuple[tuple[str, str], ...]) -> Iterator[Opened]:
    """A mill as the archive saw it, as of a moment. Raises NotThere."""
    name, folder, as_of = asked
    own = out / name
    mill = read_mill(own)
    if isinstance(mill, str):
        raise NotThere(f"its register in the archive cannot be read; {_ANEW}")
    file = own / INDEX
    _stop_if_other(file, fingerprint(Path(folder), mill))
    try:
        reader = ReaderWhenNeeded(mill.vocabulary, dict(environ) or os.environ)
        index = Index(file, Path(folder), mill, reader)
        try:
            yield Opened(name=name, mill=mill, index=index, as_of=datetime.fromisoformat(as_of))
        finally:
            index.close()
    except Unusable as error:
        reason = "its index is damaged" if error.mended else str(error)
        raise NotThere(f"{reason}; {_ANEW}") from None


def _stop_if_other(file: Path, mark: str) -> None:
    """Raises NotThere unless the index is there and was made for this: another is made anew."""
    if not file.is_file():
        raise NotThere(f"its index is not there; {_ANEW}")
    try:
        address = f"file:{quote(str(file))}?mode=ro"
        with closing(sqlite3.connect(address, uri=True, timeout=5.0)) as connection:
            found = kept(connection, "fingerprint")
    except FAULTS:
        raise NotThere(f"its index is damaged; {_ANEW}") from None
    if found != mark:
        raise NotThere(f"its index was made by another version of loomslate; {_ANEW}")
