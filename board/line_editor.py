"""One line typed at a terminal: edited, completed, and never lost when the typing is cut short.

On the standard library's ``readline`` where the system has it; without it lines are still read,
only not completed. What the lines mean is left to ``prompt``.
"""

from __future__ import annotations

import select
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from types import FrameType
from typing import Any, Protocol

from board.terminal import SignalledToEnd

try:
    import readline
except ImportError:  # Windows has none
    readline = None  # type: ignore[assignment]

_DELIMITERS = " \t;"
_AGAIN_S, _TRIES = 0.03, 100  # how often a signal is sent again, and how many times
_NEXT_PIECE_S = 0.03  # how long the next piece of a paste is waited for
_ENDING = tuple(
    number
    for name in ("SIGINT", "SIGHUP", "SIGTERM")
    if isinstance(number := getattr(signal, name, None), signal.Signals)
)

Completer = Callable[[str], list[str]]


class CutShort(Exception):
    """The typing of a line ended before its Enter; ``begun`` is what stood there.

    The exception it came from (``KeyboardInterrupt``, ``EOFError``, ``SignalledToEnd``) is its
    cause.
    """

    def __init__(self, begun: str, cause: BaseException) -> None:
        super().__init__(begun)
        self.begun = begun
        self.cause = cause


class Editor(Protocol):
    """Where lines are asked for."""

    def ask(self, question: str, begun: str = "") -> str:
        """A line of an entry. Raises CutShort."""

    def choose(self, question: str) -> str:
        """A short answer. Raises CutShort."""

    def waiting(self) -> bool:
        """Whether something was typed or pasted that nobody has asked for yet."""

    def remember(self, line: str) -> None:
        """Offers a line again."""


class LineEditor:
    """Asks for lines at the process's own terminal; a context manager for the main thread."""

    def __init__(self, complete: Completer) -> None:
        self._complete = complete
        self._found: list[str] = []
        self._handlers: dict[int, Any] = {}
        self._listening = False
        self._asking = False
        self._signalled: int | None = None  # and not yet told
        self._again: threading.Thread | None = None
        self._hook: Any = None
        self._so_far = ""
        self._noted = False  # readline has begun on this line, and what it holds is of it

    def __enter__(self) -> LineEditor:
        for number in _ENDING:
            self._handlers[number] = signal.signal(number, self._end)
        if readline is not None:
            readline.set_auto_history(False)
            readline.set_completer(self._answer)
            readline.set_completer_delims(_DELIMITERS)
            libedit = "libedit" in (readline.__doc__ or "")
            readline.parse_and_bind("bind ^I rl_complete" if libedit else "tab: complete")
            if not libedit:
                readline.parse_and_bind("set show-all-if-ambiguous on")
                readline.parse_and_bind("set completion-ignore-case on")
                readline.parse_and_bind("set bell-style none")
                readline.parse_and_bind("set page-completions off")
                readline.parse_and_bind("set completion-query-items 400")
        return self

    def __exit__(self, *raised: object) -> None:
        if readline is not None:
            readline.set_completer(None)
        for number, handler in self._handlers.items():
            signal.signal(number, handler)
        self._handlers.clear()

    def ask(self, question: str, begun: str = "") -> str:
        """A line of an entry, to be gone on with from ``begun``. Raises CutShort."""
        return self._ask(question, begun, listening=True)

    def choose(self, question: str) -> str:
        """A short answer, without completion. Raises CutShort."""
        return self._ask(question, "", listening=False)

    def waiting(self) -> bool:
        """Whether something was typed or pasted that nobody has asked for yet.

        A paste may come in several pieces, so it is waited for a moment. What is typed without
        its Enter may not be seen.
        """
        if readline is None:
            return False
        try:
            return bool(select.select([sys.stdin], [], [], _NEXT_PIECE_S)[0])
        except (OSError, ValueError):
            return False

    def _ask(self, question: str, begun: str, *, listening: bool) -> str:
        self._listening, self._so_far, self._noted = listening, begun, False
        try:
            if self._signalled is not None:
                raise _ending_by(self._signalled)
            with _begun_with(begun), _between_keys(self._note) as self._hook:
                self._asking = True
                try:
                    return input(question)
                finally:
                    self._asking = False
                    if self._again is not None:
                        self._again.join()
        except (KeyboardInterrupt, EOFError, SignalledToEnd) as cut:
            # when the terminal is gone its end may be seen before its signal
            cause = cut if self._signalled is None else _ending_by(self._signalled)
            self._signalled = self._again = None
            raise CutShort(self._so_far, cause) from cut

    def _note(self) -> None:
        """Keeps the line as it stands: when the terminal is gone, readline has emptied it."""
        if readline is not None:
            self._so_far = readline.get_line_buffer().rstrip("\n")
            self._noted = True

    def _end(self, number: int, frame: FrameType | None) -> None:
        """A signal ends the asking, and never cuts into the writing of a line.

        It may be handled inside ``_note``, where nothing can be raised: then the hook is taken
        out and the signal sent once more. The line is noted first, for that second signal may
        cut into this handling of the first, and what was typed at once is noted in one piece.
        """
        if self._asking and self._noted and self._signalled is None:
            before = self._so_far
            self._note()
            self._so_far = self._so_far or before
        if self._asking and (self._hook is None or self._signalled is not None):
            raise _ending_by(number)
        self._signalled = number
        if self._asking and self._hook is not None:
            self._hook.value = None
            self._again = threading.Thread(target=self._send_again, args=(number,), daemon=True)
            self._again.start()

    def _send_again(self, number: int) -> None:
        main = threading.main_thread().ident
        for _ in range(_TRIES):
            time.sleep(_AGAIN_S)
            if not self._asking or main is None:
                return
            signal.pthread_kill(main, number)

    def remember(self, line: str) -> None:
        """Offers a line again behind the Up key."""
        if readline is not None and line.strip():
            readline.add_history(line)

    def _answer(self, word: str, state: int) -> str | None:
        """What readline asks for: the answers to one Tab, one by one, then None."""
        if state == 0:
            self._found = []
            if self._listening and readline is not None:
                line = readline.get_line_buffer()[: readline.get_endidx()]
                with suppress(Exception):  # a fault in completing must not take the line away
                    self._found = [f"{found} " for found in self._complete(line)]
        return self._found[state] if state < len(self._found) else None


@contextmanager
def _begun_with(begun: str) -> Iterator[None]:
    if readline is None or not begun:
        yield
        return

    readline.set_startup_hook(lambda: readline.insert_text(begun))
    try:
        yield
    finally:
        readline.set_startup_hook(None)


@contextmanager
def _between_keys(note: Callable[[], None]) -> Iterator[Any]:
    """Has ``note`` called before each key is taken, so also before the end of the input is seen.

    By the interpreter's ``PyOS_InputHook``, which its readline calls in the waiting thread. Where
    it cannot be set, lines are read all the same.
    Source: Python/C API, The Very High Level Layer, ``PyOS_InputHook``.
    """
    try:
        import ctypes

        hook = ctypes.c_void_p.in_dll(ctypes.pythonapi, "PyOS_InputHook")
    except (ImportError, ValueError, AttributeError):
        hook = None
    if hook is None or readline is None:
        yield None
        return

    def called() -> int:
        with suppress(Exception):
            note()
        return 0

    callback = ctypes.CFUNCTYPE(ctypes.c_int)(called)
    before = hook.value
    hook.value = ctypes.cast(callback, ctypes.c_void_p).value
    try:
        yield hook
    finally:
        hook.value = before


def _ending_by(number: int) -> BaseException:
    return KeyboardInterrupt() if number == signal.SIGINT else SignalledToEnd(number)
