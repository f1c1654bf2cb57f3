"""SQLite's write-ahead log, brought into the file of an index by a thread of its own.

Whoever commits when the log is long would bring it in first and wait for the disk: a tenth of a
second and more, in the middle of a save. A reader or a writer waits for nobody who does it beside
them; a program that ends or is killed meanwhile leaves the log, which is as good as the file.
"""

from __future__ import annotations

import os
import sqlite3
import threading
from contextlib import closing, suppress
from pathlib import Path

_LONG = 4 << 20  # [bytes] of the log from which on it is brought in; SQLite's own measure
_FAR_TOO_LONG = 8_192  # [pages] at which whoever commits has to do it after all
_LAST_WORK_S = 2.0  # [s] for what is being brought in when the file is let go of


class WriteAhead:
    """The log beside the file of an index, for one connection and any thread."""

    def __init__(self, file: Path, connection: sqlite3.Connection) -> None:
        # else what is deleted is written over with nothing, and that goes through the log as well
        connection.execute("PRAGMA secure_delete = OFF")
        self._file = file
        self._wanted = threading.Event()
        self._ended = False
        self._thread: threading.Thread | None = None
        connection.execute(f"PRAGMA wal_autocheckpoint = {_FAR_TOO_LONG}")
        connection.execute(f"PRAGMA journal_size_limit = {_LONG}")  # so that its size tells

    def committed(self) -> None:
        """Have the log brought in, if it is long by now."""
        try:
            is_long = os.stat(f"{self._file}-wal").st_size > _LONG
        except OSError:
            return
        if is_long:
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="index", daemon=True)
                self._thread.start()
            self._wanted.set()

    def close(self) -> None:
        """End the thread; a disk that does not answer is not waited for."""
        self._ended = True
        self._wanted.set()
        if self._thread is not None:
            self._thread.join(_LAST_WORK_S)

    def _work(self) -> None:
        while self._wanted.wait() and not self._ended:
            self._wanted.clear()
            with suppress(sqlite3.Error):  # whoever reads or writes next meets it, and tells it
                self._bring_in()

    def _bring_in(self) -> None:
        name = f"{self._file.absolute().as_uri()}?mode=rw"
        with closing(sqlite3.connect(name, uri=True, timeout=0.0)) as connection:
            connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
