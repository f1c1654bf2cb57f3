"""What is known of the terminal, and the live terminal as the board uses it.

The facts are read from an environment and two streams that are handed in; whether to draw with
plain letters or without colour follows from them and from nothing else. The live terminal of
the running system is opened by `live_terminal`; how it works is left to `posix_terminal` and
`windows_terminal`.
"""

import codecs
import os
import sys
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from enum import Enum
from typing import Protocol, TextIO

from board.keys import Key
from grammar.frozen import dataclass

_DEFAULT_SIZE = (80, 24)
_UNICODE_CODECS = frozenset({"utf-8", "utf-16", "utf-32", "gb18030"})
_OFF = frozenset({"0", "false", "no", "off"})


@dataclass(frozen=True, slots=True, kw_only=True)
class TerminalFacts:
    """What the output can show.

    `width` and `height` [cells]; `unicode`: characters beyond ASCII may be written; `colour`:
    styles may be written; `interactive`: there is somebody to press keys and a screen to draw on.
    """

    width: int
    height: int
    unicode: bool
    colour: bool
    interactive: bool


class Notice(Enum):
    """What `LiveTerminal.read` answers when it is not a key."""

    TIMED_OUT = "timed out"
    WOKEN = "woken"
    RESIZED = "resized"
    HUNG_UP = "hung up"


class SignalledToEnd(SystemExit):
    """The program was asked to end by a signal; the exit status is 128 and its number."""

    def __init__(self, number: int) -> None:
        super().__init__(128 + number)
        self.number = number


class LiveTerminal(Protocol):
    """A terminal being drawn on, one whole frame after the other."""

    @property
    def size(self) -> tuple[int, int]:
        """Width and height [cells] at the moment."""

    def paint(self, lines: Sequence[str]) -> None:
        """Show these lines, cut to the width, and nothing else."""

    def read(self, timeout: float) -> Key | Notice:
        """Wait for a key or a notice, `timeout` [seconds] at most.

        After HUNG_UP the terminal is gone, and it answers nothing else any more.
        """

    def repaint(self) -> None:
        """Send the next frame whole, whatever the terminal may show."""

    def wake(self) -> None:
        """Make `read` answer WOKEN; may be called from any thread and at any time."""


def terminal_facts(
    environ: Mapping[str, str],
    stdin: TextIO | None,
    stdout: TextIO | None,
    *,
    platform: str = sys.platform,
) -> TerminalFacts:
    """Gather the facts about an output and the keyboard belonging to it.

    The real size of a terminal counts more than an exported COLUMNS. NO_COLOR counts when not
    empty (no-color.org); FORCE_COLOR counts when not empty, "0" meaning off; NO_COLOR wins.
    A stream that is None, closed or no real file is no terminal.
    """
    on_terminal = _is_terminal(stdout)
    dumb = environ.get("TERM", "") == "dumb"
    width, height = _size(environ, stdin, stdout)
    return TerminalFacts(
        width=width,
        height=height,
        unicode=not dumb and _takes_unicode(environ, stdout, platform),
        colour=_wants_colour(environ, on_terminal and not dumb),
        interactive=on_terminal and _is_terminal(stdin) and not dumb,
    )


def live_terminal(stdin: TextIO, stdout: TextIO) -> AbstractContextManager[LiveTerminal]:
    """Open the terminal for the live board, to be entered from the main thread.

    Inside, the alternate screen is shown and keys come unbuffered; on leaving, also by an
    exception or by SIGTERM, SIGHUP, SIGINT or SIGQUIT, all is as it was. Raises OSError when
    either stream is no terminal.
    """
    if sys.platform == "win32":
        from board.windows_terminal import WindowsTerminal as Terminal
    else:
        from board.posix_terminal import PosixTerminal as Terminal
    return Terminal(stdin, stdout)


def _is_terminal(stream: TextIO | None) -> bool:
    try:
        return stream is not None and stream.isatty()
    except ValueError:
        return False


def _size(
    environ: Mapping[str, str], stdin: TextIO | None, stdout: TextIO | None
) -> tuple[int, int]:
    real_width, real_height = _real_size(stdout)
    other_width, other_height = _real_size(stdin)
    return (
        real_width or _positive(environ.get("COLUMNS")) or other_width or _DEFAULT_SIZE[0],
        real_height or _positive(environ.get("LINES")) or other_height or _DEFAULT_SIZE[1],
    )


def _real_size(stream: TextIO | None) -> tuple[int, int]:
    """The size of a terminal; zeros for what is none or does not know its size."""
    if stream is None:
        return (0, 0)
    try:
        return os.get_terminal_size(stream.fileno())
    except (OSError, ValueError):
        return (0, 0)


def _positive(text: str | None) -> int:
    return int(text) if text and text.isascii() and text.isdigit() else 0


def _wants_colour(environ: Mapping[str, str], able: bool) -> bool:
    if environ.get("NO_COLOR"):
        return False
    forced = environ.get("FORCE_COLOR", "").strip().lower()
    return forced not in _OFF if forced else able


def _takes_unicode(environ: Mapping[str, str], stdout: TextIO | None, platform: str) -> bool:
    try:
        codec = codecs.lookup(getattr(stdout, "encoding", None) or "ascii").name
    except LookupError:
        return False
    if not codec.startswith(tuple(_UNICODE_CODECS)):
        return False
    if platform == "win32" or environ.get("PYTHONIOENCODING") or environ.get("PYTHONUTF8") == "1":
        return True
    return not _is_plain_locale(environ)


def _is_plain_locale(environ: Mapping[str, str]) -> bool:
    """Say whether the locale is "C": Python then writes UTF-8 to a terminal that may not read it.

    Python itself sets LC_CTYPE to C.UTF-8 when it finds the locale to be "C" (PEP 538), which
    must not be taken for the user's word.
    """
    if everything := environ.get("LC_ALL"):
        return everything in ("C", "POSIX")
    characters = environ.get("LC_CTYPE", "")
    if characters in ("", "C.UTF-8", "C.utf8"):
        characters = environ.get("LANG", "")
    return characters in ("", "C", "POSIX")
