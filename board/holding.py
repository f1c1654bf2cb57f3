"""The logs of a folder as a live board holds them: by an index while one is any good, or in memory.

An index that is damaged is made anew at once; one that cannot be used for a while (another program
holds it, its disk is full) is done without, and taken up again later. What is on the board is the
same either way: an index only saves reading.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from board.index.index import Index
from board.index.schema import Unusable
from board.indexed import looked, open_index, snapshot_of
from board.loading import reader_for
from board.mill import Mill
from board.record.files import LogFile
from board.record.reads import InTurn, Reads
from board.record.shelf import Shelf
from board.snapshot import Snapshot, snapshot

AGAIN_S = 300.0  # [s] until an index that could not be used is tried again, or made anew again
_TOLD_S = 3600.0  # [s] that it is told that an index was made anew


class Holding:
    """A shelf and its index. ``named`` is the file of an index or ``none``. For one thread.

    ``may_fold`` tells whoever reads of an older picture whether to fold years for that; where not,
    MovedOn is raised.
    """

    def __init__(
        self,
        folder: Path,
        mill: Mill,
        environ: Mapping[str, str],
        clock: Callable[[], datetime],
        named: str | None,
        may_fold: Callable[[], bool],
    ) -> None:
        self._folder = folder
        self._mill = mill
        self._environ = environ
        self._clock = clock
        self._named = named
        self._may_fold = may_fold
        self.index: Index | None = None
        self.lost = False  # an index, with all that it told of logs that may be away now
        self._why = ""  # there is no index, though one was wanted
        self._again_at: float | None = None
        self._made_anew_at = float("-inf")
        self._made_anew = ""
        self.reader: Reads = self._reader_for(mill)
        self.shelf: Shelf = self._filled()

    def close(self) -> None:
        """Let go of the index."""
        if self.index is not None:
            self.index.close()
            self.index = None

    @property
    def notices(self) -> tuple[str, ...]:
        """What is to be told of the index."""
        lately = time.monotonic() - self._made_anew_at < _TOLD_S
        return tuple(filter(None, (self._why, self._made_anew if lately else "")))

    def snapshot(self, as_of: datetime) -> Snapshot:
        """The shed as of a moment. Raises Unusable, and FileNotFoundError where all is lost."""
        if self.lost and self.shelf.missing:
            raise FileNotFoundError(self.shelf.missing)  # the last picture is all there is
        if self.index is not None:
            whole = snapshot_of(self.index, self.shelf, as_of, self._clock())
        else:
            whole = snapshot(self.shelf.readings, self._mill, as_of, self.shelf.notices)
        self.lost = False
        return whole

    def speak(self, mill: Mill) -> None:
        """Hold the same logs in the words of another register. Raises Unusable."""
        reader = self._reader_for(mill)

        def anew() -> Index:
            self.close()
            self.index = self._opened(mill, reader)
            if self.index is None:
                raise Unusable("there is no place for an index any more")
            return self.index

        self.shelf.speak(reader, self._clock(), anew if self.index is not None else None)
        self._mill, self.reader = mill, reader  # last, so that what fails is tried again

    def leave(self, error: Unusable) -> None:
        """Go on without the index, or with one made anew, and all that the old one still tells."""
        files: tuple[LogFile, ...] = ()
        self.lost = True
        if self.index is not None:
            with suppress(Unusable):
                files = tuple(self.index.files())
                self.lost = False
        self.close()
        self.reader = self._reader_for(self._mill)
        if error.mended and time.monotonic() - self._made_anew_at >= AGAIN_S:
            self._made_anew_at, self._made_anew = time.monotonic(), str(error)
            try:
                self.index = self._opened(self._mill, self.reader)
                if self.index is not None:
                    self.shelf = self._taken_over(files, self.index)
                    return
            except Unusable as another:
                error = another
                self.close()
        self._do_without(error)
        self.shelf = self._taken_over(files)

    def again(self) -> bool:
        """Try an index once more, if it is time; whether it is in use again.

        Only where every log can be read: one that was saved since the index was left, and cannot
        be read now, would be shown as it was before.
        """
        if self._again_at is None or time.monotonic() < self._again_at:
            return False
        self._again_at = time.monotonic() + AGAIN_S
        if self.shelf.missing or self.shelf.held or self.shelf.waiting:
            return False
        reader = self._reader_for(self._mill)
        try:
            index = self._opened(self._mill, reader)
        except Unusable:
            return False
        if index is None:
            return False
        try:
            shelf = looked(self._folder, reader, index, self._clock())
            if not (shelf.missing or shelf.held or shelf.waiting):
                self.index, self.shelf, self.reader = index, shelf, reader
                self._why, self._again_at = "", None
        except Unusable:
            pass
        if self.index is None:
            index.close()
        return self.index is not None

    def _filled(self) -> Shelf:
        """Every log, by way of an index where one is wanted and can be had."""
        try:
            self.index = self._opened(self._mill, self.reader)
            if self.index is not None:
                return looked(self._folder, self.reader, self.index, self._clock())
        except Unusable as error:
            self._do_without(error)
        return self._taken_over(())

    def _do_without(self, error: Unusable) -> None:
        self.close()
        self._why = f"{error}; the logs are read without it"
        self._again_at = time.monotonic() + AGAIN_S if error.passing or error.mended else None

    def _taken_over(self, files: tuple[LogFile, ...], index: Index | None = None) -> Shelf:
        """A new shelf with logs as they were read before, and everything else."""
        shelf = Shelf(self._folder, self.reader, index)
        shelf.adopt(files, self._clock())
        shelf.look(self._clock())
        return shelf

    def _reader_for(self, mill: Mill) -> Reads:
        """A reader for the keeping and for whoever draws, who reads what was put off."""
        return InTurn(reader_for(mill.vocabulary, self._environ))

    def _opened(self, mill: Mill, reader: Reads) -> Index | None:
        index = self._found(mill, reader)
        if index is not None:
            index.may_fold = self._may_fold
        return index

    def _found(self, mill: Mill, reader: Reads) -> Index | None:
        try:
            return open_index(self._folder, mill, reader, self._named, self._environ)
        except Unusable as error:
            if not error.mended:
                raise
        return open_index(self._folder, mill, reader, self._named, self._environ)
