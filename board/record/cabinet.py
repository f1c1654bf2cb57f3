"""Where the readings of logs are kept: what is known of each, and how it is put away.

``Drawers`` keeps them in memory; ``board.index`` on the disk.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping
from contextlib import AbstractContextManager, nullcontext
from dataclasses import field, replace
from datetime import datetime, timedelta
from typing import Protocol

from board.record.files import LogFile, last_line, moment_of_ns
from grammar.frozen import dataclass
from grammar.readings import Carried, LastLine, Reading

TRUSTED_AFTER = timedelta(seconds=2)  # a stamp may hide a second change within its own grain


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A log as it was last read, without its bytes.

    ``ended`` tells that its last line had its newline; ``trusted`` that it was read so long after
    its last change that the same stamp means the same bytes.
    """

    size: int
    mtime_ns: int
    ctime_ns: int
    digest: bytes
    last_line: LastLine
    ended: bool
    settles_at: datetime | None
    trusted: bool = field(default=False, compare=False)

    def stands(self, stamp: tuple[int, int, int] | None, now: datetime) -> bool:
        """Whether a file with this stamp need not be read again."""
        if not self.trusted or stamp != (self.size, self.mtime_ns, self.ctime_ns):
            return False
        settled = self.ended or not self.size
        return settled or self.last_line is last_line(self.mtime_ns, now)

    def same(self, file: LogFile) -> bool:
        """Whether a file says what it said."""
        return (
            self.size == file.size
            and self.last_line is file.last_line
            and self.digest == digest_of(file.data)
        )

    def begins(self, data: bytes) -> bool:
        """Whether these bytes begin with what was read."""
        return len(data) >= self.size and digest_of(data[: self.size]) == self.digest


def digest_of(data: bytes) -> bytes:
    """What tells one file's bytes from another's."""
    return hashlib.blake2b(data, digest_size=16).digest()


def known_of(file: LogFile, now: datetime | None = None) -> Known:
    """What is known of a file once it is read; trusted only if ``now`` is told."""
    changed = moment_of_ns(max(file.mtime_ns, file.ctime_ns))
    return Known(
        size=file.size,
        mtime_ns=file.mtime_ns,
        ctime_ns=file.ctime_ns,
        digest=digest_of(file.data),
        last_line=file.last_line,
        ended=file.data.endswith(b"\n"),
        settles_at=file.settles_at,
        trusted=now is not None and now - changed > TRUSTED_AFTER,
    )


class Overtaken(Exception):
    """Another program has put a log away meanwhile; ``stands`` is what is known of it now.

    What is put in its place must have been read after that: a reading made before may be the older
    of the two.
    """

    def __init__(self, stands: Known | None) -> None:
        super().__init__("another program was first")
        self.stands = stands


class Cabinet(Protocol):
    """Keeps the reading of each log by its path."""

    def known(self) -> Mapping[str, Known]:
        """What is known already of each log."""

    def others(self) -> Mapping[str, Known] | None:
        """What is known of each log, where that is not what was told or put away; else None.

        Another program may have put something away, or what was put away may have been lost.
        """

    def keep(self, file: LogFile, reading: Reading, now: datetime, over: Known | None) -> Known:
        """Put a log's reading in the place of the one before it.

        ``over`` is what was known of the log before this was read. Raises Overtaken where another
        stands there by now.
        """

    def many(self, lines: int) -> AbstractContextManager[None]:
        """While about so many lines are put away."""

    def extend(
        self, file: LogFile, read: Callable[[Carried], Reading], now: datetime, over: Known
    ) -> Known | None:
        """Put away what was added to a log, where that is less work than ``keep``; else None.

        ``read`` reads what was added. ``over`` as in ``keep``. Raises Overtaken.
        """

    def restamp(self, file: LogFile, now: datetime) -> Known | None:
        """The same bytes, with another stamp; None where others stand there by now."""

    def drop(self, path: str, over: Known | None) -> None:
        """Forget a log that is gone. ``over`` as in ``keep``. Raises Overtaken."""

    def reading(self, path: str) -> Reading:
        """The reading of a log that is kept."""

    def before(self, path: str, known: Known) -> Reading | None:
        """The reading of a log, if it is still the one that was known."""

    def files(self) -> Iterable[LogFile]:
        """Every log that is kept, as it was read."""


class Drawers:
    """A cabinet in memory. Nothing in it is trusted by its stamp alone."""

    def __init__(self) -> None:
        self._files: dict[str, LogFile] = {}
        self._readings: dict[str, Reading] = {}

    def known(self) -> Mapping[str, Known]:
        """Nothing: it begins empty."""
        return {}

    def others(self) -> None:
        """Nobody else puts anything here."""

    def keep(self, file: LogFile, reading: Reading, now: datetime, over: Known | None) -> Known:
        """Put a log's reading in the place of the one before it."""
        self._files[file.path] = file
        self._readings[file.path] = reading
        return known_of(file)

    def many(self, lines: int) -> AbstractContextManager[None]:
        """It is all the same."""
        return nullcontext()

    def extend(
        self, file: LogFile, read: Callable[[Carried], Reading], now: datetime, over: Known
    ) -> None:
        """It never is: the old lines are in memory."""

    def restamp(self, file: LogFile, now: datetime) -> Known:
        """The same bytes, with another stamp."""
        self._files[file.path] = file
        return known_of(file)

    def drop(self, path: str, over: Known | None) -> None:
        """Forget a log."""
        self._files.pop(path, None)
        self._readings.pop(path, None)

    def reading(self, path: str) -> Reading:
        """The reading of a log that is kept."""
        return self._readings[path]

    def before(self, path: str, known: Known) -> Reading | None:
        """The reading of a log: it is always the one that was known."""
        return self._readings[path]

    def files(self) -> Iterable[LogFile]:
        """Every log that is kept, as it was read."""
        return tuple(self._files[path] for path in sorted(self._files))


def joined(before: Reading, added: Reading) -> Reading:
    """The reading of a log that has grown: of its lines so far, and of those behind them."""
    return replace(
        added,
        entries=before.entries + added.entries,
        diagnostics=before.diagnostics + added.diagnostics,
        headings=before.headings + added.headings,
        filed=before.filed + added.filed,
        lines=before.lines + added.lines,
        skipped=before.skipped + added.skipped,
        may_isolate=before.may_isolate + added.may_isolate,
    )
