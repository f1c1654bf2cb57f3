"""Gather what changed in the log folder until it is worth telling.

A pure state machine: it is given times and stamps and reads neither clock nor disk. The
first change after a pause is told at once, later ones are gathered until nothing more comes
for `quiet_s`, and never longer than `cap_s`. A log that has just become shorter, empty or
absent is most likely in the middle of being saved (an editor truncates or renames, then
writes), so it is held back until its writer closes it or it is quiet, for `cap_s` of its own at
most, whatever else is told meanwhile: told at once it would show the reader an empty log and make
recorded isolations blink off the board.
"""

from collections.abc import Iterable, Mapping
from enum import Enum

from board.record.sweep import Stamp
from grammar.frozen import dataclass


class _Saving(Enum):
    """Whether a log may be in the middle of being saved."""

    MAYBE = "maybe"
    DONE = "done"


@dataclass(frozen=True, slots=True)
class _Torn:
    """A log that may be half saved: since when, and when it changed last [seconds]."""

    since: float
    last: float


class Coalescer:
    """Hold changed paths, each once, until they are due.

    `known` maps every path the reader was told of to its stamp at that time; a path handed in
    as `remembered` has no stamp and therefore counts as changed at the first look. What is
    held never exceeds the logs that exist and those the reader knows.
    """

    def __init__(
        self, *, quiet_s: float = 0.15, cap_s: float = 1.0, remembered: Iterable[str] = ()
    ) -> None:
        self._quiet_s = quiet_s
        self._cap_s = cap_s
        self._known: dict[str, Stamp | None] = dict.fromkeys(remembered)
        self._pending: dict[str, Stamp | None] = {}
        self._torn: dict[str, _Torn] = {}
        self._first_at = 0.0
        self._last_at = 0.0
        self._taken_at = float("-inf")

    @property
    def known(self) -> Mapping[str, Stamp | None]:
        """The stamps the reader was last told of."""
        return self._known

    def holds(self, path: str) -> bool:
        """Say whether a change of this path waits to be told."""
        return path in self._pending

    def note_written(self, path: str, mark: Stamp | None, at: float) -> None:
        """Note that a log was made, written, moved or deleted at time `at` [seconds].

        `mark` is its stamp now, None if it is gone.
        """
        before = self._known.get(path)
        shorter = mark is None or mark.size == 0 or (before is not None and mark.size < before.size)
        self._hold(path, mark, at, _Saving.MAYBE if shorter else _Saving.DONE)

    def note_closed(self, path: str, mark: Stamp | None, at: float) -> None:
        """Note that a writer closed a log: no news if it was told, but the save is complete."""
        unsaved = mark is None or mark.size == 0
        self._note_unless_told(path, mark, at, _Saving.MAYBE if unsaved else _Saving.DONE)

    def note_found(self, path: str, mark: Stamp | None, at: float) -> None:
        """Note what a look at the folder found, unless that stamp was told already."""
        before = self._known.get(path)
        shorter = before is not None and (mark is None or mark.size < before.size)
        self._note_unless_told(path, mark, at, _Saving.MAYBE if shorter else _Saving.DONE)

    def _note_unless_told(self, path: str, mark: Stamp | None, at: float, saving: _Saving) -> None:
        if path in self._pending and self._pending[path] == mark:
            if saving is _Saving.DONE or path not in self._torn:
                self._judge(path, at, saving)
        elif path in self._pending or mark is None or self._known.get(path) != mark:
            self._hold(path, mark, at, saving)

    def _hold(self, path: str, mark: Stamp | None, at: float, saving: _Saving) -> None:
        if mark is None and path not in self._known:
            # Made and removed between two tellings: the reader never heard of it.
            self._pending.pop(path, None)
            self._torn.pop(path, None)
            return
        if not self._pending:
            self._first_at = at
        self._last_at = at
        self._pending[path] = mark
        self._judge(path, at, saving)

    def _judge(self, path: str, at: float, saving: _Saving) -> None:
        if saving is _Saving.MAYBE:
            known = self._torn.get(path)
            self._torn[path] = _Torn(since=known.since if known else at, last=at)
        else:
            self._torn.pop(path, None)

    def _ripe_at(self, torn: _Torn) -> float:
        return min(torn.last + self._quiet_s, torn.since + self._cap_s)

    def due_at(self) -> float | None:
        """The time from which the waiting changes may be taken; None when nothing waits."""
        if not self._pending:
            return None
        if len(self._torn) == len(self._pending):
            return min(map(self._ripe_at, self._torn.values()))
        if not self._torn and self._first_at - self._taken_at >= self._quiet_s:
            return self._first_at
        return min(self._last_at + self._quiet_s, self._first_at + self._cap_s)

    def take(self, at: float) -> frozenset[str]:
        """Hand over the waiting paths if they are due at time `at` [seconds], else nothing.

        One that may be half saved stays behind until it is due itself.
        """
        due = self.due_at()
        if due is None or at < due:
            return frozenset()
        held = {path: torn for path, torn in self._torn.items() if at < self._ripe_at(torn)}
        taken = frozenset(self._pending.keys() - held.keys())
        for path in taken:
            mark = self._pending.pop(path)
            self._torn.pop(path, None)
            if mark is None:
                self._known.pop(path, None)
            else:
                self._known[path] = mark
        if held:
            self._first_at = min(torn.since for torn in held.values())
        self._taken_at = at
        return taken
