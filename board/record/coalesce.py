"""Gather what changed in the log folder until it is worth telling.

A pure state machine: it is given times and stamps and reads neither clock nor disk. The
first change after a pause is told at once, later ones are gathered until nothing more comes
for `quiet_s`, and never longer than `cap_s`. A log that has just become shorter, empty or
absent is most likely in the middle of being saved (an editor truncates or renames, then
writes), so it is held back until things are quiet: told at once it would show the reader an
empty log and make recorded isolations blink off the board.
"""

from collections.abc import Iterable, Mapping

from board.record.sweep import Stamp


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
        self._torn: set[str] = set()
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

    def note(self, path: str, mark: Stamp | None, at: float) -> None:
        """Note that a log changed at time `at` [seconds]; `mark` None means it is gone."""
        if mark is None and path not in self._known:
            # Made and removed between two tellings: the reader never heard of it.
            self._pending.pop(path, None)
            self._torn.discard(path)
            return
        if not self._pending:
            self._first_at = at
        self._last_at = at
        self._pending[path] = mark
        if _looks_torn(self._known.get(path), mark):
            self._torn.add(path)
        else:
            self._torn.discard(path)

    def note_if_new(self, path: str, mark: Stamp | None, at: float) -> None:
        """Note a change unless the log bears the very stamp already told or waiting."""
        if path in self._pending:
            told = self._pending[path] == mark
        else:
            told = mark is not None and self._known.get(path) == mark
        if not told:
            self.note(path, mark, at)

    def due_at(self) -> float | None:
        """The time from which the waiting changes may be taken; None when nothing waits."""
        if not self._pending:
            return None
        if not self._torn and self._first_at - self._taken_at >= self._quiet_s:
            return self._first_at
        return min(self._last_at + self._quiet_s, self._first_at + self._cap_s)

    def take(self, at: float) -> frozenset[str]:
        """Hand over the waiting paths if they are due at time `at` [seconds], else nothing."""
        due = self.due_at()
        if due is None or at < due:
            return frozenset()
        for path, mark in self._pending.items():
            if mark is None:
                self._known.pop(path, None)
            else:
                self._known[path] = mark
        taken = frozenset(self._pending)
        self._pending.clear()
        self._torn.clear()
        self._taken_at = at
        return taken


def _looks_torn(before: Stamp | None, now: Stamp | None) -> bool:
    if now is None or now.size == 0:
        return True
    return before is not None and now.size < before.size
