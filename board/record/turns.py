"""One writer at a time where what is written depends on what stands there: numbers and seals.

``writer`` locks the folder for as long as it appends; whoever gives out the next free number has
to hold the others back from the moment of looking. The lock is one more hidden file beside the
writer's, taken before it and given back after it.
"""

from __future__ import annotations

import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from board.record.sweep import reason_of

TURN_NAME = ".loomslate.turn.lock"

_MODE = 0o666  # whoever may write to the folder may wait for its turn
_POLL_S = 0.01
_REST_S = 0.02  # longer than others wait between two tries: who has written lets them go first


class NoTurn(Exception):
    """The turn did not come; ``sentence`` says why."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@contextmanager
def turn(folder: Path, *, patience: float = 20.0) -> Iterator[None]:
    """Holds every other writer that asks for its turn; ``patience`` [s]. Raises NoTurn."""
    from filelock import FileLock, Timeout  # slow to import

    lock = FileLock(str(folder / TURN_NAME), timeout=patience, mode=_MODE, poll_interval=_POLL_S)
    try:
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", message="flock not supported")
            lock.acquire()
    except Timeout:
        raise NoTurn(f"others have been writing for {patience:g} s; try again") from None
    except NotImplementedError:
        raise NoTurn("the drive knows no locks, and others may be writing") from None
    except OSError as error:
        raise NoTurn(reason_of(error)) from None
    try:
        yield
    finally:
        with suppress(OSError):  # it falls with this process at the latest
            lock.release()
        time.sleep(_REST_S)
