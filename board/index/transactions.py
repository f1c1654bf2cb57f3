"""One file of SQLite as an index uses it: who may write when, and what becomes of a trouble.

Every change is one transaction, so that a killed program leaves either all of it or nothing.
"""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from board.index.schema import FAULTS, WAIT_S, Unusable, is_passing, open_index, remove
from board.index.write_ahead import WriteAhead
from board.record.cabinet import Overtaken
from board.record.reads import MANY_LINES

LONGEST_COMMIT_S = 0.03  # [s] after which what is put away so far is committed
LONGEST_OF_MANY_S = 0.5  # [s] the same while years are read: what a commit costs is shared by more
_TURN_S = 0.004  # [s] after a commit, before the next transaction of a long work
_AGAIN_S = 0.001  # [s] until it is asked once more whether the turn is ours
LOST = -1  # the version that was told, where what was put away was given up


class Transactions:
    """A file of SQLite, for one process and any of its threads."""

    def __init__(self, file: Path, mark: str) -> None:
        """Open or make the file for what has this mark. Raises Unusable."""
        self.file = file
        self._lock = threading.RLock()
        self._depth = 0  # of pieces of work within each other
        self._began = 0.0
        self._mark = mark
        self._longest_s = LONGEST_COMMIT_S
        self._connection = open_index(file, mark)
        self._write_ahead = WriteAhead(file, self._connection)
        self._seen_version = self._version()
        self._told_version = self._seen_version

    def close(self) -> None:
        """Let go of the file; what is put away and not committed is found again another time."""
        with self._lock:
            self._give_up()
            self._write_ahead.close()
            with suppress(sqlite3.Error):
                self._connection.close()

    def _forget(self) -> None:
        """Forget what is kept in memory of the file: it may say something else by now."""
        raise NotImplementedError

    def _see_others(self) -> None:
        version = self._version()
        if version != self._seen_version:
            self._seen_version = version
            self._forget()

    def _version(self) -> int:
        version: int = self._connection.execute("PRAGMA data_version").fetchone()[0]
        return version

    @contextmanager
    def _telling(self) -> Iterator[None]:
        with self._lock:
            own = False
            try:
                own = not self._connection.in_transaction
                if own:
                    self._connection.execute("BEGIN")  # all that is read is of one moment
                    self._connection.execute("SELECT 1 FROM meta LIMIT 1").fetchone()
                    self._see_others()
                yield
            except FAULTS as error:
                raise self._trouble("read", error) from error
            finally:
                if own:
                    with suppress(sqlite3.Error):
                        self._connection.execute("COMMIT")

    @contextmanager
    def _writing(self) -> Iterator[None]:
        """Inside of a transaction, which goes on for a while: one for each file costs too much.

        It may end behind this, never within: what is done in one piece is kept in one piece.
        """
        with self._lock:
            self._depth += 1
            try:
                if not self._connection.in_transaction:
                    self._begin()
                    self._began = time.monotonic()
                    self._see_others()
                    if not self._is_still_ours():
                        raise Unusable(f"the index {self.file} was made anew by another program")
                yield
                is_long = time.monotonic() - self._began > self._longest_s
                if is_long and self._depth == 1:
                    self.commit()
                    self.let_others()
            except FAULTS as error:
                raise self._trouble("written", error) from error
            except Overtaken:
                raise  # before anything was written: what was put away before it stays
            except BaseException:
                self._give_up()
                raise
            finally:
                self._depth -= 1

    @contextmanager
    def many(self, lines: int) -> Iterator[None]:
        """While so many lines are put away: where it is years of them, in fewer transactions."""
        self._longest_s = LONGEST_OF_MANY_S if lines >= MANY_LINES else LONGEST_COMMIT_S
        try:
            yield
        finally:
            if self.has_many:
                self._let_go()
            self._longest_s = LONGEST_COMMIT_S

    def _let_go(self) -> None:
        """Give back what is kept in memory to put years away soon."""
        with suppress(sqlite3.Error):
            self._connection.execute("PRAGMA shrink_memory")  # pages, up to the cache's size

    @property
    def has_many(self) -> bool:
        """Whether years of lines are being put away."""
        return self._longest_s == LONGEST_OF_MANY_S

    def _begin(self) -> None:
        """Begin to write, as soon as no other program does.

        SQLite would ask ten times a second, and hardly ever find the moment between two
        transactions of a program that has much to write.
        """
        until = time.monotonic() + WAIT_S
        self._connection.execute("PRAGMA busy_timeout = 0")
        try:
            while True:
                try:
                    self._connection.execute("BEGIN IMMEDIATE")
                    return
                except sqlite3.OperationalError as error:
                    is_busy = error.sqlite_errorname.startswith("SQLITE_BUSY")
                    if not is_busy or time.monotonic() >= until:
                        raise
                    time.sleep(_AGAIN_S)
        finally:
            self._connection.execute(f"PRAGMA busy_timeout = {round(WAIT_S * 1000)}")

    @staticmethod
    def let_others() -> None:
        """Wait a moment, so that another program that wants to write comes to its turn."""
        time.sleep(_TURN_S)

    def _trouble(self, done: str, error: Exception) -> Unusable:
        """What to raise for a trouble; an index with a fault in it is deleted, to be made anew."""
        self._give_up()
        if is_passing(error):
            return Unusable(f"the index {self.file} cannot be {done}: {error}", passing=True)
        self.close()
        remove(self.file)
        return Unusable(f"the index {self.file} was damaged and is made anew", mended=True)

    def _is_still_ours(self) -> bool:
        row = self._connection.execute("SELECT value FROM meta WHERE key = 'fingerprint'")
        found = row.fetchone()
        return found is not None and found[0] == self._mark

    def _give_up(self) -> None:
        self._forget()
        with suppress(sqlite3.Error):
            if self._connection.in_transaction:
                self._told_version = LOST
                self._connection.execute("ROLLBACK")

    def commit(self) -> None:
        """Make what was put away so far last."""
        with self._lock:
            try:
                if self._connection.in_transaction:
                    self._connection.execute("COMMIT")
                    self._write_ahead.committed()
            except sqlite3.Error as error:
                raise self._trouble("written", error) from error
