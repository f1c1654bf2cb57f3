"""What a reader of logs is to whoever keeps them, and readers shared or put to long work."""

from __future__ import annotations

import gc
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Protocol

from grammar.readings import Carried, LastLine, Reading

MANY_LINES = 20_000  # from which on Python's search for cycles costs more than it can find


class Reads(Protocol):
    """A reader of logs, as ``grammar.reader`` has it."""

    def read(self, data: bytes, last_line: LastLine, carried: Carried | None = None) -> Reading:
        """The reading of a log's bytes."""

    def expect(self, lines: int) -> None:
        """Make ready for so many lines."""


class InTurn:
    """A reader for several threads: it reads for one after the other."""

    def __init__(self, reader: Reads) -> None:
        self._reader = reader
        self._lock = threading.Lock()

    def read(self, data: bytes, last_line: LastLine, carried: Carried | None = None) -> Reading:
        """The reading of a log's bytes, as ``grammar.reader`` has it."""
        with self._lock:
            return self._reader.read(data, last_line, carried)

    def expect(self, lines: int) -> None:
        """Make ready for so many lines."""
        with self._lock:
            self._reader.expect(lines)


@contextmanager
def in_bulk(reader: Reads, lines: int) -> Iterator[None]:
    """While about so many lines are read: the reader is made ready, and cycles not looked for.

    Readings hold no cycles, and looking for them among a million entries takes its time.
    """
    if lines <= 0:
        yield
        return
    reader.expect(lines)
    collecting = lines >= MANY_LINES and gc.isenabled()
    if collecting:
        gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()
