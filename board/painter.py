"""Work out what to send to a terminal so that it shows the given lines.

Pure: lines in, text out. Only lines that changed are sent, each written over the old one and
its rest cleared, so that nothing is ever blank in between. What the lines say, their cutting to
the width and their styling are made elsewhere.
"""

import re
import unicodedata
from collections.abc import Sequence

_STYLE = re.compile(r"\x1b\[[0-9;:]*m")
# Everything that would move the cursor or set the terminal's mind on other things: control
# characters that are not part of a style. The screens have replaced those of the logs long
# before; this is the last guard.
_CONTROL = re.compile(r"\x1b\[[0-9;:]*m|[\x00-\x1f\x7f-\x9f]")
# "Begin" and "end synchronized update": the terminal shows all of it at once, if it knows how.
_BEGIN, _END = "\x1b[?2026h", "\x1b[?2026l"


class Painter:
    """Remember what a terminal shows, and say how to get from there to other lines."""

    def __init__(self) -> None:
        self._shown: list[str] | None = None
        self._size = (0, 0)

    def forget(self) -> None:
        """Know nothing of what the terminal shows: the next frame is sent whole."""
        self._shown = None

    def frame(self, lines: Sequence[str], width: int, height: int) -> str:
        """Answer the text to send for these lines, empty when they are shown already.

        `width` and `height` [cells] are the terminal's; lines beyond the height are left out.
        A line may hold styles (ESC [ ... m); other control characters are shown as "?".
        """
        if (width, height) != self._size:
            self._size = (width, height)
            self._shown = None
        wanted = [_CONTROL.sub(_harmless, line) for line in lines[:height]]
        before = self._shown
        parts = [
            _line(row, line, width)
            for row, line in enumerate(wanted)
            if before is None or row >= len(before) or before[row] != line
        ]
        if len(wanted) < height and (before is None or len(wanted) < len(before)):
            parts.append(f"\x1b[{len(wanted) + 1};1H\x1b[J")
        self._shown = wanted
        return f"{_BEGIN}{''.join(parts)}{_END}" if parts else ""


def _line(row: int, line: str, width: int) -> str:
    # After the last column is written the cursor stays on it: clearing "the rest" would then
    # take that last character away.
    rest = "\x1b[K" if _cells(line) < width else ""
    return f"\x1b[{row + 1};1H{line}\x1b[0m{rest}"


def _cells(line: str) -> int:
    text = _STYLE.sub("", line)
    if text.isascii():
        return len(text)
    return sum(_cells_of(character) for character in text)


def _cells_of(character: str) -> int:
    if unicodedata.category(character) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1


def _harmless(found: re.Match[str]) -> str:
    return found.group() if len(found.group()) > 1 else "?"
