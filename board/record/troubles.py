"""Keep what must be said about the watching itself: troubles, and signals that did not come.

Pure: times are handed in. `keeper` finds the troubles, the screens show them.
"""

from datetime import datetime
from enum import Enum

from grammar.frozen import dataclass

# More suspects than this prove the point as well as all of them would.
_SUSPECTS_KEPT = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """Why the board may not be current: since when, and what happened in one sentence."""

    since: datetime
    sentence: str


class Cause(Enum):
    """What can keep the board from being current, gravest first."""

    FOLDER = "folder"
    ANSWER = "answer"
    PART = "part"
    WATCHER = "watcher"


class Troubles:
    """The troubles that stand, with the promise that each is shown at least once.

    A watcher that died and was replaced within a second leaves a gap in the record of what was
    seen; it must not pass without a word because nobody happened to ask in between.
    """

    def __init__(self) -> None:
        self._standing: dict[Cause, Trouble] = {}
        self._unshown: Trouble | None = None
        self._shown: Trouble | None = None

    def put(self, cause: Cause, trouble: Trouble) -> None:
        """Let a trouble stand; one that stands already keeps its earlier time."""
        earlier = self._standing.get(cause)
        since = trouble.since if earlier is None else min(trouble.since, earlier.since)
        self._standing[cause] = Trouble(since=since, sentence=trouble.sentence)
        if self._together() != self._shown:
            self._unshown = self._together()

    def lift(self, *causes: Cause) -> None:
        """Let these troubles stand no longer."""
        for cause in causes:
            self._standing.pop(cause, None)

    def stands(self, cause: Cause) -> bool:
        """Say whether a trouble of this cause stands."""
        return cause in self._standing

    @property
    def standing(self) -> bool:
        """Say whether anything keeps the board from being current."""
        return bool(self._standing)

    @property
    def changed(self) -> bool:
        """Say whether `take` would answer other than it did last."""
        return self._next() != self._shown

    def take(self) -> Trouble | None:
        """Answer the trouble to be shown now; a lifted one is answered once if never shown."""
        self._shown = self._next()
        self._unshown = None
        return self._shown

    def _next(self) -> Trouble | None:
        return self._together() or self._unshown

    def _together(self) -> Trouble | None:
        if not self._standing:
            return None
        ordered = [self._standing[cause] for cause in Cause if cause in self._standing]
        return Trouble(
            since=min(trouble.since for trouble in ordered),
            sentence="; ".join(trouble.sentence for trouble in ordered),
        )


class Suspects:
    """Changes found by looking that no signal announced yet.

    A signal may be on its way while the folder is looked at, hence the `grace_s`. What is still
    unannounced after it was missed: the drive does not signal, or a sub-folder is not watched.
    """

    def __init__(self, *, grace_s: float = 2.0) -> None:
        self._grace_s = grace_s
        self._since: dict[str, float] = {}

    def suspect(self, path: str, at: float) -> None:
        """Put a path under suspicion at time `at` [seconds]."""
        if len(self._since) < _SUSPECTS_KEPT:
            self._since.setdefault(path, at)

    def heard(self, path: str) -> None:
        """A signal for this path came: it was only late."""
        self._since.pop(path, None)

    def missed(self, at: float) -> int:
        """Count, and forget, the paths whose signal did not come within the grace time."""
        late = [path for path, since in self._since.items() if at - since >= self._grace_s]
        for path in late:
            del self._since[path]
        return len(late)

    def clear(self) -> None:
        """Forget every suspicion: the signals start anew."""
        self._since.clear()
