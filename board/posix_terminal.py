"""The live terminal on Linux, macOS and the BSDs: keys by termios, waiting by select.

Everything that must be put back (the mode of the keyboard, the alternate screen, the hidden
cursor, the signal handlers) is put back in one place, `_leave`, which may run twice. A process
killed with SIGKILL cannot put anything back; `reset` in the shell does.
"""

import errno
import os
import select
import signal
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from types import FrameType, TracebackType
from typing import Any, Self, TextIO

from board.keys import Key, KeyParser
from board.painter import Painter
from board.terminal import Notice, SignalledToEnd

assert sys.platform != "win32", "this module is for POSIX systems alone"

import termios  # noqa: E402

# Alternate screen on, cursor hidden, no line wrapping: a line too long must not scroll the rest.
_ENTER = "\x1b[?1049h\x1b[?25l\x1b[?7l"
_LEAVE = "\x1b[?2026l\x1b[0m\x1b[?7h\x1b[?25h\x1b[?1049l"
# How long an ESC may be the start of a sequence, and a sequence incomplete [seconds]. A slow
# line delivers the parts of one key apart; a hand takes longer from Escape to the next key.
_ESCAPE_S = 0.1
_SEQUENCE_S = 0.5
_READ_BYTES = 4096
# What `wake` writes into the pipe: a byte that is no signal's number.
_WAKE = b"\xff"
_GONE = (errno.EIO, errno.EPIPE, errno.ENXIO, errno.EBADF)

_Handler = Callable[[int, FrameType | None], Any] | int | signal.Handlers | None


class PosixTerminal:
    """A terminal being drawn on; a context manager for the main thread.

    Raises OSError on entering when a stream is no terminal.
    """

    def __init__(self, stdin: TextIO, stdout: TextIO) -> None:
        self._stdin = stdin
        self._stdout = stdout
        self._encoding = stdout.encoding or "utf-8"
        self._painter = Painter()
        self._parser = KeyParser()
        self._keys: deque[Key] = deque()
        self._partial_since = 0.0
        self._handlers: dict[int, _Handler] = {}
        self._mode: list[Any] | None = None
        self._entered = False
        self._resized = False
        self._hung_up = False
        # Reentrant, because a signal may arrive in the middle of wake() and wake once more.
        self._pipe_lock = threading.RLock()
        self._pipe: tuple[int, int] | None = None
        self._wakeup_before = -1

    def __enter__(self) -> Self:
        self._in, self._out = self._stdin.fileno(), self._stdout.fileno()
        if not (os.isatty(self._in) and os.isatty(self._out)):
            raise OSError(errno.ENOTTY, os.strerror(errno.ENOTTY))
        self._stdout.flush()
        self._mode = termios.tcgetattr(self._in)
        self._pipe = os.pipe()
        for end in self._pipe:
            os.set_blocking(end, False)
        try:
            # A signal between the last instruction of Python and the wait runs its handler only
            # after the wait; through the pipe it ends the wait.
            self._wakeup_before = signal.set_wakeup_fd(self._pipe[1], warn_on_full_buffer=False)
            self._take_signals()
            self._show()
        except BaseException:
            self._close()
            raise
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._close()

    @property
    def size(self) -> tuple[int, int]:
        """Width and height [cells] at the moment; 80 by 24 when the terminal does not know."""
        try:
            width, height = os.get_terminal_size(self._out)
        except OSError:
            width, height = 0, 0
        return width or 80, height or 24

    def paint(self, lines: Sequence[str]) -> None:
        """Show these lines, cut to the width, and nothing else."""
        self._write(self._painter.frame(lines, *self.size))

    def repaint(self) -> None:
        """Send the next frame whole, whatever the terminal may show."""
        self._painter.forget()

    def wake(self) -> None:
        """Make `read` answer WOKEN; may be called from any thread and at any time."""
        with self._pipe_lock:
            # A full pipe wakes as well as a fuller one; after closing there is none.
            if self._pipe is not None:
                with suppress(BlockingIOError):
                    os.write(self._pipe[1], _WAKE)

    def read(self, timeout: float) -> Key | Notice:
        """Wait for a key or a notice, `timeout` [seconds] at most."""
        until = time.monotonic() + timeout
        looked = False
        while True:
            if self._keys:
                return self._keys.popleft()
            if self._hung_up:
                return Notice.HUNG_UP
            if self._resized:
                self._resized = False
                self._painter.forget()
                return Notice.RESIZED
            now = time.monotonic()
            partial = self._partial_until()
            if now >= partial:
                self._keys.extend(self._parser.flush())
                continue
            if looked and now >= until:
                return Notice.TIMED_OUT
            ready = self._await(max(0.0, min(until, partial) - now))
            looked = True
            if self._in in ready:
                self._take_bytes()
            elif ready and self._drain() and not self._resized:
                return Notice.WOKEN

    def _partial_until(self) -> float:
        if self._parser.escape_waits:
            return self._partial_since + _ESCAPE_S
        if self._parser.sequence_waits:
            return self._partial_since + _SEQUENCE_S
        return float("inf")

    def _await(self, seconds: float) -> list[int]:
        ends = [self._in] if self._pipe is None else [self._in, self._pipe[0]]
        try:
            return select.select(ends, [], [], seconds)[0]
        except (OSError, ValueError):
            self._hung_up = True
            return []

    def _take_bytes(self) -> None:
        try:
            data = os.read(self._in, _READ_BYTES)
        except BlockingIOError:
            return
        except OSError:
            data = b""
        if not data:
            self._hung_up = True
            return
        self._partial_since = time.monotonic()
        self._keys.extend(self._parser.feed(data))

    def _drain(self) -> bool:
        """Empty the pipe; say whether `wake` had written, and not a signal alone."""
        with suppress(BlockingIOError):
            return self._pipe is not None and _WAKE in os.read(self._pipe[0], _READ_BYTES)
        return False

    def _write(self, text: str) -> None:
        data = memoryview(text.encode(self._encoding, "replace"))
        while data and not self._hung_up:
            try:
                data = data[os.write(self._out, data) :]
            except BlockingIOError:
                select.select([], [self._out], [], 1.0)
            except OSError as error:
                if error.errno not in _GONE:
                    raise
                self._hung_up = True

    # Putting the terminal into the live mode and back.

    def _show(self) -> None:
        if self._mode is None:
            return
        mode = termios.tcgetattr(self._in)
        # Signals by Ctrl-C and Ctrl-Z stay; Ctrl-S must not freeze the board without a word.
        mode[0] = (mode[0] | termios.ICRNL) & ~termios.IXON
        mode[3] &= ~(termios.ICANON | termios.ECHO | termios.IEXTEN)
        mode[6][termios.VMIN], mode[6][termios.VTIME] = 1, 0
        # Marked first: a signal in the middle must find something to put back.
        self._entered = True
        termios.tcsetattr(self._in, termios.TCSANOW, mode)
        self._painter.forget()
        self._write(_ENTER)

    def _leave(self) -> None:
        if not self._entered:
            return
        with _unstopped_by_the_terminal():
            self._write(_LEAVE)
            with suppress(termios.error, OSError):
                # Keys pressed after the last one read were meant for the board, not the shell.
                termios.tcflush(self._in, termios.TCIFLUSH)
                termios.tcsetattr(self._in, termios.TCSANOW, self._mode or [])
        self._entered = False

    def _close(self) -> None:
        self._leave()
        self._give_back_signals()
        with self._pipe_lock:
            pipe, self._pipe = self._pipe, None
        if pipe is not None:
            signal.set_wakeup_fd(self._wakeup_before)
        for end in pipe or ():
            os.close(end)

    # Signals.

    def _take_signals(self) -> None:
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT):
            # What is ignored stays ignored: "nohup" and background jobs rely on it.
            if signal.getsignal(number) is not signal.SIG_IGN:
                self._handlers[number] = signal.signal(number, self._on_end)
        self._handlers[signal.SIGWINCH] = signal.signal(signal.SIGWINCH, self._on_resize)
        self._handlers[signal.SIGTSTP] = signal.signal(signal.SIGTSTP, self._on_stop)
        self._handlers[signal.SIGCONT] = signal.signal(signal.SIGCONT, self._on_resume)

    def _give_back_signals(self) -> None:
        while self._handlers:
            number, handler = self._handlers.popitem()
            # None stands for a handler not set from Python, which cannot be named.
            signal.signal(number, signal.SIG_DFL if handler is None else handler)

    def _on_end(self, number: int, frame: FrameType | None) -> None:
        # At once, not on the way out: whatever catches the exception finds a clean terminal. A
        # second signal acts as if there had been no board.
        self._leave()
        self._give_back_signals()
        if number == signal.SIGINT:
            raise KeyboardInterrupt
        raise SignalledToEnd(number)

    def _on_resize(self, number: int, frame: FrameType | None) -> None:
        self._resized = True
        self.wake()

    def _on_stop(self, number: int, frame: FrameType | None) -> None:
        self._leave()
        signal.signal(signal.SIGTSTP, signal.SIG_DFL)
        os.kill(os.getpid(), signal.SIGTSTP)
        # Stopped here until SIGCONT; a process nobody could continue is not stopped at all.
        signal.signal(signal.SIGTSTP, self._on_stop)
        self._on_resume(number, frame)

    def _on_resume(self, number: int, frame: FrameType | None) -> None:
        with suppress(termios.error, OSError):
            self._show()
        self._on_resize(number, frame)


@contextmanager
def _unstopped_by_the_terminal() -> Iterator[None]:
    """Let a process in the background put its terminal in order instead of being stopped."""
    before = signal.signal(signal.SIGTTOU, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGTTOU, signal.SIG_DFL if before is None else before)
