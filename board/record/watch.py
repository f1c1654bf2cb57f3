"""Watch a log folder and its register, and hand the reader sets of paths to read again.

This is the only module that knows the watchdog library, and the only one here that starts
threads: watchdog's own, and one that drives the `keeper`. What a signal means is decided in
`account`, when to look in `keeper`, what a log is in `sweep`. Nothing is ever written to the
folder, and no log is opened.
"""

import errno
import logging
import os
import threading
import time
import warnings
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from watchdog.events import (
    DirCreatedEvent,
    DirDeletedEvent,
    DirMovedEvent,
    FileClosedEvent,
    FileCreatedEvent,
    FileDeletedEvent,
    FileModifiedEvent,
    FileMovedEvent,
    FileSystemEvent,
    FileSystemEventHandler,
)
from watchdog.observers import Observer
from watchdog.observers.api import BaseObserver
from watchdog.observers.polling import PollingObserver
from watchdog.utils import BaseThread

from board.record.account import Account, Batch, Clock, Pace
from board.record.drives import read_mounts
from board.record.keeper import Keeper, Listener, Manner, Observation, Observe
from board.record.troubles import Cause, Trouble

__all__ = [
    "Batch",
    "Clock",
    "FolderWatch",
    "Manner",
    "Pace",
    "Trouble",
    "observe_by_watchdog",
    "system_clock",
]

# With this list the kernel is not even asked for "opened" and "closed unwritten", which our own
# reading of the logs would set off. "Modified" must be in it: a writer that keeps its file open
# never closes it.
_EVENTS: list[type[FileSystemEvent]] = [
    FileCreatedEvent,
    FileModifiedEvent,
    FileMovedEvent,
    FileDeletedEvent,
    FileClosedEvent,
    DirCreatedEvent,
    DirMovedEvent,
    DirDeletedEvent,
]
# How long a stuck thread is waited for before it is left to end with the program [seconds].
_PARTING_S = 2.0


class FolderWatch:
    """Watch a log folder; a context manager.

    `wait` is for the one thread that reads the logs. `on_ready` is called, from other threads,
    whenever `wait` would answer at once: it must be quick (write to a pipe, set an event).
    `remembered` are the logs the reader already holds, so that one deleted while nobody watched
    is told too; every log found at the start is told whether remembered or not. A folder that
    does not exist is a trouble, not an error: it is awaited.
    """

    def __init__(
        self,
        folder: Path,
        *,
        clock: Clock | None = None,
        observe: Observe | None = None,
        manner: Manner = Manner.AUTOMATIC,
        pace: Pace | None = None,
        mounts: Callable[[], str] = read_mounts,
        remembered: Iterable[Path] = (),
        on_ready: Callable[[], None] | None = None,
    ) -> None:
        self._clock = clock or system_clock()
        pace = pace or Pace()
        self._account = Account(
            os.path.abspath(folder), clock=self._clock, pace=pace, remembered=remembered
        )
        self._keeper = Keeper(
            self._account,
            clock=self._clock,
            pace=pace,
            observe=self._observing(observe or observe_by_watchdog),
            manner=manner,
            mounts=mounts,
        )
        self._on_ready = on_ready
        self._check_s = pace.check_s
        self._changed = threading.Condition()
        self._announced = False
        self._stopping = False
        self._thread = threading.Thread(target=self._keep, name="folder keeper", daemon=True)

    def __enter__(self) -> Self:
        """Start to watch; the first look at the folder follows at once, in the background."""
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Stop to watch, without waiting for a drive that does not answer."""
        with self._changed:
            self._stopping = True
            self._changed.notify_all()
        self._thread.join(_PARTING_S)

    @property
    def manner(self) -> Manner:
        """How the folder is observed at the moment, SIGNALS or POLLING."""
        return self._keeper.manner

    def wait(self, timeout: float) -> Batch:
        """Wait until something changed, but `timeout` [seconds] at most, and hand it over.

        With nothing changed the batch is empty but still tells the standing trouble and notices.
        """
        until = self._clock.ticks() + timeout
        with self._changed:
            while True:
                now = self._clock.ticks()
                ready = self._account.ready_at()
                if self._stopping or now >= until or (ready is not None and ready <= now):
                    break
                self._changed.wait((until if ready is None else min(until, ready)) - now)
            self._announced = False
        return self._account.take()

    def has_news(self) -> bool:
        """Whether `wait` would answer at once."""
        ready = self._account.ready_at()
        return ready is not None and ready <= self._clock.ticks()

    def _keep(self) -> None:
        try:
            while not self._stopping:
                call_at = self._tick()
                self._announce()
                with self._changed:
                    if self._stopping:
                        break
                    now = self._clock.ticks()
                    wake_at = min(call_at, self._account.next_wish())
                    ready = None if self._announced else self._account.ready_at()
                    if ready is not None:
                        wake_at = min(wake_at, ready)
                    if wake_at > now:
                        self._changed.wait(wake_at - now)
        finally:
            self._keeper.stop()

    def _tick(self) -> float:
        try:
            return self._keeper.tick()
        except Exception as error:
            # Without its keeper the board would grow old in silence. The next look that
            # succeeds lifts the trouble.
            kind = type(error).__name__
            self._account.trouble(Cause.WATCHER, f"looking at the log folder failed ({kind})")
            return self._clock.ticks() + self._check_s

    def _announce(self) -> None:
        with self._changed:
            ready = self._account.ready_at()
            if self._announced or ready is None or ready > self._clock.ticks():
                # Not yet; but whoever sleeps must reckon anew how long.
                self._changed.notify_all()
                return
            self._announced = True
            self._changed.notify_all()
        if self._on_ready is not None:
            with suppress(Exception):
                self._on_ready()

    def _observing(self, observe: Observe) -> Observe:
        def start(folder: str, listener: Listener) -> Observation:
            return observe(folder, _Waking(listener, self._announce))

        return start


def system_clock() -> Clock:
    """The machine's clock: local time with its offset, and a steady count of seconds."""
    return Clock(wall=lambda: datetime.now().astimezone(), ticks=time.monotonic)


def observe_by_watchdog(folder: str, listener: Listener) -> Observation:
    """Start the operating system's own observer of a folder and all below it.

    Raises OSError when the system has none (ENOSYS) or no more to give (EMFILE, ENOSPC).
    """
    if Observer is PollingObserver:
        raise OSError(errno.ENOSYS, os.strerror(errno.ENOSYS))
    # A nested folder made at the wrong moment is watched twice over, which does no harm; but the
    # warning would be written across the board.
    warnings.filterwarnings("ignore", message="Callback with id", category=RuntimeWarning)
    before = set(threading.enumerate())
    observer = Observer()
    try:
        observer.schedule(_Handler(listener), folder, recursive=True, event_filter=_EVENTS)
        observer.start()
    except BaseException:
        _end(observer)
        raise
    own = [
        thread
        for thread in threading.enumerate()
        if isinstance(thread, BaseThread) and thread not in before
    ]
    return _Watchdog(observer, own, listener)


class _Watchdog:
    """A running watchdog observer with all its threads.

    The observer's own `is_alive` stays true when the emitter has ended, which the deletion of
    the watched folder brings about, or the thread that reads the signals has died.
    """

    def __init__(
        self, observer: BaseObserver, threads: list[BaseThread], listener: Listener
    ) -> None:
        self._observer = observer
        self._threads = threads
        # An overflow of the system's queue is told to the log only. The handler also keeps
        # watchdog's warnings from being written across the board by Python's last resort.
        self._complaints = _Complaints(listener)
        logging.getLogger("watchdog").addHandler(self._complaints)

    def alive(self) -> bool:
        return self._observer.is_alive() and all(thread.is_alive() for thread in self._threads)

    def stop(self) -> None:
        logging.getLogger("watchdog").removeHandler(self._complaints)
        # Ending joins threads that may hang on a drive: not for ever.
        ending = threading.Thread(target=_end, args=(self._observer,), daemon=True)
        ending.start()
        ending.join(_PARTING_S)


def _end(observer: BaseObserver) -> None:
    with suppress(OSError, RuntimeError):
        observer.stop()
    with suppress(RuntimeError):
        observer.join()


class _Handler(FileSystemEventHandler):
    """Pass watchdog's events on; an exception here would end the observer, so none leaves."""

    def __init__(self, listener: Listener) -> None:
        self._listener = listener

    def dispatch(self, event: FileSystemEvent) -> None:
        try:
            self._pass_on(event)
        except Exception:
            self._listener.signals_lost()

    def _pass_on(self, event: FileSystemEvent) -> None:
        # A save by renaming has the log's name in dest_path only.
        paths = [os.fsdecode(path) for path in (event.src_path, event.dest_path) if path]
        match event:
            case DirCreatedEvent() | DirMovedEvent() | DirDeletedEvent():
                self._listener.tree_changed()
            case FileClosedEvent():
                for path in paths:
                    self._listener.closed(path)
            case FileCreatedEvent() | FileModifiedEvent() | FileMovedEvent() | FileDeletedEvent():
                for path in paths:
                    self._listener.touched(path)
            case _:
                pass


class _Complaints(logging.Handler):
    """Take every warning of the watchdog library for a sign that signals were lost."""

    def __init__(self, listener: Listener) -> None:
        super().__init__(logging.WARNING)
        self._listener = listener

    def emit(self, record: logging.LogRecord) -> None:
        self._listener.signals_lost()


class _Waking:
    """Pass on what was seen, and then wake whoever waits for it."""

    def __init__(self, listener: Listener, wake: Callable[[], None]) -> None:
        self._listener = listener
        self._wake = wake

    def touched(self, path: str) -> None:
        self._listener.touched(path)
        self._wake()

    def closed(self, path: str) -> None:
        self._listener.closed(path)
        self._wake()

    def tree_changed(self) -> None:
        self._listener.tree_changed()
        self._wake()

    def signals_lost(self) -> None:
        self._listener.signals_lost()
        self._wake()
