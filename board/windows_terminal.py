"""The live terminal on Windows: keys by msvcrt, drawing by the console's own escape sequences.

UNTESTED: written from the documentation, never run on Windows. The console has no descriptor to
wait on together with a pipe, so keys are asked for every 50 ms; that is the price of one thread.
There is no signal for a resize either: the size is compared each time. The letter à cannot be
told from the start of an arrow key, and is lost.
"""

import sys
import threading
import time
from collections.abc import Sequence
from types import TracebackType
from typing import Self, TextIO

from board.keys import Key, Name
from board.painter import Painter
from board.terminal import Notice

assert sys.platform == "win32", "this module is for Windows alone"

import ctypes  # noqa: E402
import msvcrt  # noqa: E402
import os  # noqa: E402
import signal  # noqa: E402
from ctypes import wintypes  # noqa: E402

_ENTER = "\x1b[?1049h\x1b[?25l\x1b[?7l"
_LEAVE = "\x1b[0m\x1b[?7h\x1b[?25h\x1b[?1049l"
_ASK_EVERY_S = 0.05
_STD_OUTPUT_HANDLE = -11
_ENABLE_VIRTUAL_TERMINAL_PROCESSING = 0x0004

# The second character of an arrow or editing key, after NUL or U+00E0.
# Source: Microsoft, C runtime library reference, _getch; scan codes as in the PC keyboard.
_BY_SCAN_CODE = {
    "H": Name.UP,
    "P": Name.DOWN,
    "K": Name.LEFT,
    "M": Name.RIGHT,
    "G": Name.HOME,
    "O": Name.END,
    "I": Name.PAGE_UP,
    "Q": Name.PAGE_DOWN,
    "R": Name.INSERT,
    "S": Name.DELETE,
}
_BY_CHARACTER = {
    "\r": Name.ENTER,
    "\n": Name.ENTER,
    "\t": Name.TAB,
    "\x1b": Name.ESCAPE,
    "\x08": Name.BACKSPACE,
    "\x7f": Name.BACKSPACE,
}


class WindowsTerminal:
    """A console being drawn on; a context manager for the main thread.

    Raises OSError on entering when a stream is no console or the console knows no sequences.
    """

    def __init__(self, stdin: TextIO, stdout: TextIO) -> None:
        self._stdin = stdin
        self._stdout = stdout
        self._painter = Painter()
        self._woken = threading.Event()
        self._size_seen = (0, 0)
        self._console_mode = wintypes.DWORD()
        self._handle = ctypes.windll.kernel32.GetStdHandle(_STD_OUTPUT_HANDLE)

    def __enter__(self) -> Self:
        kernel = ctypes.windll.kernel32
        wanted = _ENABLE_VIRTUAL_TERMINAL_PROCESSING
        if not (self._stdin.isatty() and self._stdout.isatty()):
            raise OSError("no console")
        if not kernel.GetConsoleMode(self._handle, ctypes.byref(self._console_mode)):
            raise ctypes.WinError()
        if not kernel.SetConsoleMode(self._handle, self._console_mode.value | wanted):
            raise ctypes.WinError()
        self._before = signal.signal(signal.SIGBREAK, signal.default_int_handler)
        self._size_seen = self.size
        self._write(_ENTER)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._write(_LEAVE)
        signal.signal(signal.SIGBREAK, self._before)
        ctypes.windll.kernel32.SetConsoleMode(self._handle, self._console_mode)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height [cells] at the moment."""
        return os.get_terminal_size(self._stdout.fileno())

    def paint(self, lines: Sequence[str]) -> None:
        """Show these lines, cut to the width, and nothing else."""
        self._write(self._painter.frame(lines, *self.size))

    def repaint(self) -> None:
        """Send the next frame whole, whatever the console may show."""
        self._painter.forget()

    def wake(self) -> None:
        """Make `read` answer WOKEN; may be called from any thread and at any time."""
        self._woken.set()

    def read(self, timeout: float) -> Key | Notice:
        """Wait for a key or a notice, `timeout` [seconds] at most."""
        until = time.monotonic() + timeout
        while True:
            while msvcrt.kbhit():
                key = _key(msvcrt.getwch())
                if key is not None:
                    return key
            if self.size != self._size_seen:
                self._size_seen = self.size
                self._painter.forget()
                return Notice.RESIZED
            left = until - time.monotonic()
            if self._woken.wait(max(0.0, min(left, _ASK_EVERY_S))):
                self._woken.clear()
                return Notice.WOKEN
            if left <= 0:
                return Notice.TIMED_OUT

    def _write(self, text: str) -> None:
        self._stdout.write(
            text.encode(self._stdout.encoding, "replace").decode(self._stdout.encoding)
        )
        self._stdout.flush()


def _key(character: str) -> Key | None:
    if character in ("\x00", "\xe0"):
        name = _BY_SCAN_CODE.get(msvcrt.getwch())
        return None if name is None else Key(name=name)
    if character in _BY_CHARACTER:
        return Key(name=_BY_CHARACTER[character])
    if "\x01" <= character <= "\x1a":
        return Key(name=Name.CONTROL, text=chr(ord(character) + 0x60))
    return Key(name=Name.CHARACTER, text=character) if character.isprintable() else None
