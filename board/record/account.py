"""Keep account of one log folder between the threads that watch it and the one that reads it.

The observer's thread says what it saw (`touched`, `closed`, `tree_changed`, `signals_lost`),
the keeper enters what it found by looking, and the reader of the logs takes what is due. All
of it is quick and under one lock; the only thing asked of the disk is the stamp of a log that
a signal named. Time is read through the `Clock` alone.
"""

import os
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import field
from datetime import datetime
from pathlib import Path

from board.record.coalesce import Coalescer
from board.record.sweep import REGISTER_NAME, Stamp, Sweep, differences, is_watched, stamp
from board.record.troubles import Cause, Suspects, Trouble, Troubles
from grammar.frozen import dataclass

# A look after folders changed waits this many times what the last look took, so that a deep
# tree being copied in does not keep the machine looking all the time.
_REST_AFTER_LOOK = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """Where the time comes from: `wall` for what people read, `ticks` [seconds] for waiting."""

    wall: Callable[[], datetime]
    ticks: Callable[[], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How often things are done, all in seconds but `poll_share`.

    While polling, the time between two looks is `poll_s`, but at least `poll_share` times what
    one look takes (so that a large folder does not keep the machine busy), and at most `sweep_s`.
    `patience_s` is how long a drive may take to answer; `retry_s` after how long signals are
    tried once more.
    """

    quiet_s: float = 0.15
    cap_s: float = 1.0
    check_s: float = 1.0
    sweep_s: float = 45.0
    poll_s: float = 1.0
    poll_share: float = 100.0
    patience_s: float = 10.0
    retry_s: float = 300.0
    grace_s: float = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """What changed since the last batch, and whether the watching can be relied on.

    `paths` are logs to be read again (one that is no longer there is to be forgotten), `marks`
    their stamps as they are told, None for one that is gone: what is found otherwise has changed
    again and will be told again. The register is not among them but in `register_changed`.
    `swept` says that the whole folder was looked at since the last batch. With a `trouble` the
    board is not current. `notices` are standing remarks for the reader, such as why the folder is
    polled.
    """

    paths: frozenset[Path] = frozenset()
    register_changed: bool = False
    swept: bool = False
    trouble: Trouble | None = None
    notices: tuple[str, ...] = ()
    marks: Mapping[Path, Stamp | None] = field(default_factory=dict, compare=False)


class Account:
    """What is known, waiting, wished for and wrong about one log folder."""

    def __init__(
        self, folder: str, *, clock: Clock, pace: Pace, remembered: Iterable[Path] = ()
    ) -> None:
        self.folder = folder
        self._real = folder
        self._register = os.path.join(folder, REGISTER_NAME)
        self._clock = clock
        self._pace = pace
        self._lock = threading.RLock()
        self._coalescer = Coalescer(
            quiet_s=pace.quiet_s,
            cap_s=pace.cap_s,
            remembered=(os.path.abspath(path) for path in remembered),
        )
        self._troubles = Troubles()
        self._suspects = Suspects(grace_s=pace.grace_s)
        self._notices: dict[str, str] = {}
        self._notices_told: tuple[str, ...] = ()
        self._swept = False
        self._first_look_owed = False
        self._looked = False
        self._good_at = clock.wall()
        self._busy_since: float | None = None
        self._heard_while_busy: set[str] = set()
        self._look_wish: float | None = None
        self._check_wish: float | None = None
        self._settling = False
        self._signals_lost = False
        self._look_s = 0.0

    # What the observer's thread calls.

    def touched(self, path: str) -> None:
        """Note that a file was made, written, moved or deleted."""
        self._signal(path, self._coalescer.note_written)

    def closed(self, path: str) -> None:
        """Note the end of a writing, which matters only if the log changed since last told."""
        self._signal(path, self._coalescer.note_closed)

    def tree_changed(self) -> None:
        """Wish for a look at the whole folder once the folders have stopped changing."""
        with self._lock:
            now = self._clock.ticks()
            self._check_wish = now
            self._settling = True
            self.wish_look(now + max(self._pace.quiet_s, _REST_AFTER_LOOK * self._look_s))

    def signals_lost(self) -> None:
        """Wish for a new observer, since what changed meanwhile is unknown."""
        with self._lock:
            self._signals_lost = True
            self._check_wish = self._clock.ticks()

    def _signal(self, real: str, note: Callable[[str, Stamp | None, float], None]) -> None:
        top = self._real
        if not is_watched(real, top):
            return
        path = self.folder + real[len(top) :]
        try:
            mark = stamp(real)
            here = mark is not None or os.path.isdir(os.path.dirname(real))
        except OSError:
            here = False
        if not here:  # the log may be gone, or its whole folder be away: a look tells
            self.tree_changed()
            return
        with self._lock:
            self._suspects.heard(path)
            if self._busy_since is not None:
                self._heard_while_busy.add(path)
            note(path, mark, self._clock.ticks())

    # What the reader calls.

    def ready_at(self) -> float | None:
        """The time [ticks] from which `take` has something to tell; None: nothing yet.

        News of the watching itself was ready all along: minus infinity.
        """
        with self._lock:
            self._mind_silence(self._clock.ticks())
            if self._news():
                return float("-inf")
            due = self._coalescer.due_at()
            if self._busy_since is None or self._troubles.stands(Cause.ANSWER):
                return due
            silent = self._busy_since + self._pace.patience_s
            return silent if due is None else min(due, silent)

    def take(self) -> Batch:
        """Hand over what is due now; an empty batch when nothing is."""
        with self._lock:
            now = self._clock.ticks()
            self._mind_silence(now)
            taken = self._coalescer.take(now)
            swept, self._swept = self._swept, False
            self._first_look_owed = False
            self._notices_told = self._remarks()
            known = self._coalescer.known
            marks = {Path(path): known.get(path) for path in taken if path != self._register}
            return Batch(
                paths=frozenset(marks),
                marks=marks,
                register_changed=self._register in taken,
                swept=swept,
                trouble=self._troubles.take(),
                notices=self._notices_told,
            )

    def _mind_silence(self, now: float) -> None:
        if self._busy_since is not None and now - self._busy_since >= self._pace.patience_s:
            self.trouble(Cause.ANSWER, f"the log folder {self.folder} does not answer")

    def _news(self) -> bool:
        # A look that found nothing is no news, but the end of the first one is awaited.
        return (
            self._first_look_owed or self._troubles.changed or self._remarks() != self._notices_told
        )

    def _remarks(self) -> tuple[str, ...]:
        return tuple(self._notices.values())

    # What the keeper calls.

    @contextmanager
    def asking_the_drive(self) -> Iterator[None]:
        """Mark the time during which an answer of the drive is awaited."""
        with self._lock:
            self._busy_since = self._clock.ticks()
        try:
            yield
        finally:
            with self._lock:
                self._busy_since = None
                self._heard_while_busy.clear()
                self._troubles.lift(Cause.ANSWER)
                if not self._troubles.standing:
                    self._good_at = self._clock.wall()

    def aim(self, real: str) -> None:
        """Expect signals for paths below `real`, the folder's name free of links."""
        with self._lock:
            self._real = real
            self._suspects.clear()

    def trouble(self, cause: Cause, sentence: str) -> None:
        """Let a trouble stand since everything was last known to be well."""
        with self._lock:
            self._troubles.put(cause, Trouble(since=self._good_at, sentence=sentence))

    def remark(self, subject: str, sentence: str) -> None:
        """Let a notice stand; a subject has one notice at most, and none if it is empty."""
        with self._lock:
            if sentence:
                self._notices[subject] = sentence
            else:
                self._notices.pop(subject, None)

    def wish_look(self, at: float) -> None:
        """Wish for a look at the whole folder at a time [ticks]; the latest wish holds."""
        with self._lock:
            self._look_wish = at

    def next_wish(self) -> float:
        """The time [ticks] of the earliest wish, infinite without one."""
        with self._lock:
            wishes = [at for at in (self._look_wish, self._check_wish) if at is not None]
            return min(wishes, default=float("inf"))

    def grant_look(self, now: float) -> bool:
        """Say whether a look is wished for by now, and strike the wish off."""
        with self._lock:
            granted = self._look_wish is not None and now >= self._look_wish
            if granted:
                self._look_wish = None
            return granted

    def expect_settling(self) -> None:
        """Have one more look follow the next one."""
        with self._lock:
            self._settling = True

    def grant_settling(self) -> bool:
        """Say whether folders were made, moved or deleted since last asked."""
        with self._lock:
            settling, self._settling = self._settling, False
            return settling

    def grant_check(self) -> bool:
        """Say whether a check of the watcher is wished for, and strike the wish off."""
        with self._lock:
            granted, self._check_wish = self._check_wish is not None, None
            return granted

    def grant_restart(self) -> bool:
        """Say whether signals were lost since last asked."""
        with self._lock:
            lost, self._signals_lost = self._signals_lost, False
            return lost

    def missed_signals(self, now: float) -> int:
        """Count the saves that no signal announced, each once."""
        with self._lock:
            return self._suspects.missed(now)

    def enter(self, found: Sweep, *, took_s: float) -> frozenset[str]:
        """Enter what a look found; answers the paths whose text changed without a signal yet.

        `took_s` [seconds] is how long the look took.
        """
        with self._lock:
            now = self._clock.ticks()
            self._look_s = took_s
            known = self._coalescer.known
            changed = differences(known, found)
            silent = frozenset(
                path
                for path, mark in changed.items()
                if path not in self._heard_while_busy
                and not self._coalescer.holds(path)
                and _size(known.get(path)) != _size(mark)
            )
            for path, mark in changed.items():
                self._coalescer.note_found(path, mark, now)
            self._swept = True
            self._first_look_owed = self._first_look_owed or not self._looked
            self._looked = True
            self._troubles.lift(Cause.FOLDER, Cause.WATCHER)
            self._enter_gaps(found)
            return silent

    def has_told(self) -> bool:
        """Whether the reader was told of any log, or of the register, that is there."""
        with self._lock:
            return bool(self._coalescer.known)

    def suspect(self, paths: Iterable[str]) -> None:
        """Expect a late signal for these paths."""
        with self._lock:
            now = self._clock.ticks()
            for path in paths:
                self._suspects.suspect(path, now)

    def _enter_gaps(self, found: Sweep) -> None:
        if found.unread:
            place = found.unread[0]
            others = _and_more(len(found.unread))
            self.trouble(Cause.PART, f"cannot read {place.path}{others}: {place.reason}")
        else:
            self._troubles.lift(Cause.PART)
        link = f"{found.links[0]}{_and_more(found.link_count)}" if found.links else ""
        self.remark("links", link and f"links are not followed: {link}")


def _size(mark: Stamp | None) -> int:
    return -1 if mark is None else mark.size


def _and_more(count: int) -> str:
    return f" and {count - 1} more" if count > 1 else ""
