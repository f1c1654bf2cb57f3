"""Decide when to look at the log folder, and whether its watcher can still be trusted.

The keeper is driven from outside: `tick()` does whatever is due and answers when to call it
next. It starts no thread itself, reads the time only through the account's clock, and knows
the observer only as something that is alive or not. Everything that may take long happens in
`tick`, outside any lock, so that a drive that does not answer never blocks the board.

Polling is looking at the whole folder again and again with `sweep`: unlike a library's polling
observer it follows no link, outlives the loss of the folder, and slows down in a large one.
"""

import errno
import os
import stat
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from enum import Enum
from pathlib import Path
from typing import Protocol

from board.record.account import Account, Clock, Pace
from board.record.drives import remote_kind
from board.record.sweep import reason_of, sweep
from board.record.troubles import Cause

# An observer that dies or loses signals this often within the span is given up for a while.
_FAILURES_BORNE = 3
_FAILURE_SPAN_S = 60.0
_SETTLE_S = 1.0  # after the look at a tree that changed, until the one that confirms it


class Manner(Enum):
    """How the folder is observed; AUTOMATIC lets the keeper choose between the other two."""

    AUTOMATIC = "automatic"
    SIGNALS = "signals"
    POLLING = "polling"


class Observation(Protocol):
    """A running observer of one folder."""

    def alive(self) -> bool:
        """Say whether every part of it still runs."""

    def stop(self) -> None:
        """End it, waiting a moment at most."""


class Listener(Protocol):
    """Whom an observer tells what it saw; the paths are as the observer was given them."""

    def touched(self, path: str) -> None:
        """A file was made, written, moved or deleted."""

    def closed(self, path: str) -> None:
        """A file open for writing was closed."""

    def tree_changed(self) -> None:
        """A folder was made, moved or deleted."""

    def signals_lost(self) -> None:
        """Something went wrong on the way; what changed meanwhile is unknown."""


# Starts to observe a folder (absolute, free of links) and all below it; raises OSError or
# RuntimeError when it cannot.
Observe = Callable[[str, Listener], Observation]


class Keeper:
    """Look at one log folder at the right times, and keep its observer running."""

    def __init__(
        self,
        account: Account,
        *,
        clock: Clock,
        pace: Pace,
        observe: Observe,
        manner: Manner,
        mounts: Callable[[], str],
    ) -> None:
        self._account = account
        self._listener: Listener = account
        self._clock = clock
        self._pace = pace
        self._observe = observe
        self._asked = manner
        self._mounts = mounts
        self._observation: Observation | None = None
        self._identity: tuple[int, int] | None = None
        self._failures: deque[float] = deque(maxlen=_FAILURES_BORNE)
        self._retry_at = float("inf")
        self._check_at = clock.ticks()
        self._look_at = float("inf")
        self._settle_at = float("inf")

    @property
    def manner(self) -> Manner:
        """How the folder is observed at the moment."""
        return Manner.POLLING if self._observation is None else Manner.SIGNALS

    def tick(self) -> float:
        """Do what is due and answer the time [ticks] at which to call again."""
        now = self._clock.ticks()
        if self._account.grant_check() or now >= self._check_at:
            self._check_at = now + self._pace.check_s
            with self._account.asking_the_drive():
                self._check(now)
        if self._identity is None:
            return self._check_at
        wished = self._account.grant_look(self._clock.ticks())
        settling = self._clock.ticks() >= self._settle_at
        if wished or settling or self._clock.ticks() >= self._look_at:
            with self._account.asking_the_drive():
                silent = self._look()
            if silent is None:
                return self._check_at
            # An observer just begun, or a folder just made, is blind for a moment: what goes on
            # meanwhile sends no signal, so there is one more look a little later.
            grown = self._account.grant_settling() and self._observation is not None
            self._settle_at = self._clock.ticks() + _SETTLE_S if grown else float("inf")
            if not wished and not settling and self._observation is not None:
                # Nothing called for this look, so a signal should have told of what it found.
                self._account.suspect(silent)
        return min(self._check_at, self._look_at, self._settle_at, self._account.next_wish())

    def stop(self) -> None:
        """End the observer."""
        observation, self._observation = self._observation, None
        if observation is not None:
            with suppress(OSError, RuntimeError):
                observation.stop()

    def _check(self, now: float) -> None:
        """See that the folder is still the same one and that the observer still runs."""
        try:
            status = os.stat(self._account.folder)
            if not stat.S_ISDIR(status.st_mode):
                raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
        except OSError as error:
            self._lose_folder(_why_lost(error))
            return
        identity = (status.st_dev, status.st_ino)
        lost = self._account.grant_restart()
        if identity != self._identity:
            self._identity = identity
            self._begin(now)
        elif self._observation is None:
            if now >= self._retry_at:
                self._begin(now)
        elif missed := self._account.missed_signals(now):
            self._poll(now, f"saves came without a signal ({missed})", retry_s=float("inf"))
        elif not self._observation.alive():
            self._account.trouble(Cause.WATCHER, "the folder watcher stopped and was replaced")
            self._begin_again(now)
        elif lost:
            self._begin_again(now)

    def _lose_folder(self, why: str) -> None:
        # What was known stays known: a folder that cannot be seen has not lost its logs.
        self._identity = None
        self.stop()
        self._account.trouble(Cause.FOLDER, f"the log folder {self._account.folder} {why}")

    def _begin_again(self, now: float) -> None:
        self._failures.append(now)
        often = len(self._failures) == _FAILURES_BORNE
        if often and now - self._failures[0] < _FAILURE_SPAN_S:
            self._failures.clear()
            why = f"the folder watcher failed {_FAILURES_BORNE} times within a minute"
            self._poll(now, why, retry_s=self._pace.retry_s)
        else:
            self._begin(now)

    def _begin(self, now: float) -> None:
        """Observe by signals if they can be had, else by polling, and look at everything once."""
        self.stop()
        real = os.path.realpath(self._account.folder)
        self._account.aim(real)
        self._account.wish_look(now)
        if self._asked is Manner.POLLING:
            self._poll(now, "as asked", retry_s=float("inf"))
            return
        kind = remote_kind(real, self._mounts()) if self._asked is Manner.AUTOMATIC else None
        if kind is not None:
            self._poll(now, f"it lies on a network drive ({kind})", retry_s=float("inf"))
            return
        try:
            self._observation = self._observe(real, self._listener)
        except (OSError, RuntimeError) as error:
            self._poll(now, _why_no_signals(error), retry_s=self._pace.retry_s)
            return
        self._retry_at = float("inf")
        self._account.remark("polling", "")
        self._account.expect_settling()

    def _poll(self, now: float, why: str, *, retry_s: float) -> None:
        """Look again and again instead of awaiting signals, and try those again in `retry_s`."""
        self.stop()
        self._retry_at = now + retry_s
        self._account.wish_look(now)
        self._account.remark(
            "polling", f"the log folder is looked at again and again, without signals: {why}"
        )

    def _look(self) -> frozenset[str] | None:
        """Look at the whole folder; answers what changed without a signal yet, None if lost."""
        started = self._clock.ticks()
        try:
            found = sweep(Path(self._account.folder))
        except OSError as error:
            self._lose_folder(_why_lost(error))
            return None
        if not found.seen and self._account.has_told():
            # as where a drive is away: an empty folder stands in its place
            self._lose_folder("holds neither a register nor a log any more")
            return None
        ended = self._clock.ticks()
        wait_s = self._pace.sweep_s
        if self._observation is None:
            share_s = self._pace.poll_share * (ended - started)
            wait_s = min(wait_s, max(self._pace.poll_s, share_s))
        self._look_at = ended + wait_s
        return self._account.enter(found, took_s=ended - started)


def _why_lost(error: OSError) -> str:
    gone = isinstance(error, FileNotFoundError)
    return "is gone" if gone else f"cannot be read: {reason_of(error)}"


def _why_no_signals(error: OSError | RuntimeError) -> str:
    match error:
        case OSError(errno=errno.ENOSPC | errno.EMFILE | errno.ENFILE):
            return "the system has no more file watches to give"
        case OSError(errno=errno.ENOSYS):
            return "this system has no file watches"
        case OSError():
            return f"the folder watcher could not be started ({reason_of(error)})"
        case _:
            return f"the folder watcher could not be started ({error})"
