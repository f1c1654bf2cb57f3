"""Lines of a screen: stretches of text with a meaning, drawn plain, in ASCII or in colour.

Colour only repeats what the words say. Colours after IEC 60073: red for danger, yellow for an
abnormal condition, blue for what is mandatory; running and stopped are mere status. The red is
white on a dark ground and the yellow an orange, since both stay readable for people who see red
weakly.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import field
from enum import Enum
from typing import TYPE_CHECKING

from board.show.text import (
    broken,
    caret_moved,
    clean,
    cut,
    on_one_line,
    pad,
    to_ascii,
    to_ascii_in_place,
    width,
    wrapped,
)
from grammar.frozen import dataclass

if TYPE_CHECKING:
    from rich.color import ColorSystem


class Tone(Enum):
    """What a stretch of text means, as a rich style."""

    PLAIN = ""
    DANGER = "bold white on #aa0000"
    ABNORMAL = "bold #e69f00"
    MANDATORY = "bold #5599ff"
    STRONG = "bold"
    FAINT = "dim"


@dataclass(frozen=True, slots=True)
class Bit:
    """A stretch of text and its tone."""

    text: str
    tone: Tone = Tone.PLAIN


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a screen; ``room`` [cells] is the width that it was fitted to."""

    bits: tuple[Bit, ...] = ()
    room: int | None = field(default=None, compare=False, repr=False)

    @property
    def plain(self) -> str:
        """The line without tones."""
        return "".join(bit.text for bit in self.bits)

    def fitted(self, cells: int) -> Line:
        """The line cut to so many cells, with a mark at its end where anything is missing."""
        shown = cut(self.plain, cells)
        if shown == self.plain:
            return Line(self.bits, cells)
        bits: list[Bit] = []
        at = 0
        for bit in self.bits:
            piece = shown[at : at + len(bit.text)]
            if piece:
                bits.append(Bit(piece, bit.tone))
            at += len(bit.text)
        return Line(tuple(bits), cells)

    def ansi(self, colours: ColorSystem) -> str:
        """The line as a terminal takes it, with its styles."""
        from rich.style import Style  # needed for colour alone

        return "".join(
            Style.parse(bit.tone.value).render(bit.text, color_system=colours)
            if bit.tone.value
            else bit.text
            for bit in self.bits
        )

    def ascii(self) -> list[Line]:
        """The line in ASCII; where a text grows or shrinks, the blanks after it make up for it.

        What needs more room than there is goes on in further rows, as a name must not lose its
        letters; only what was cut already is cut again.
        """
        if self.plain.isascii():
            return [self]
        made = Line(tuple(_in_columns(self.bits)), self.room)
        if self.room is None or len(made.plain) <= self.room:
            return [made]
        tight = Line(tuple(Bit(to_ascii_in_place(b.text), b.tone) for b in self.bits), self.room)
        if len(tight.plain) <= self.room:
            return [tight]
        if self.plain.endswith("~"):
            return [tight.fitted(self.room)]
        return list(_broken(made, self.room))


def in_ascii(lines: Iterable[Line]) -> list[Line]:
    """Lines in ASCII, carets under the letters that they were under."""
    made: list[Line] = []
    above = ""
    for row in lines:
        moved = caret_moved(row.plain, above)
        if moved != row.plain:
            made[-1] = Line((Bit(to_ascii(above)),))  # its blanks were not to make up for it
            made.append(Line((Bit(moved),)))
        else:
            made += row.ascii()
        above = row.plain if made and row.room is None else ""
    return made


def _broken(row: Line, room: int) -> Iterator[Line]:
    """A line in ASCII in rows of so many cells: broken between its columns, else between words."""
    indent = 0
    while len(row.plain) > room:
        text = row.plain
        ends = [text.rfind(gap, indent + 1, room + 1) for gap in ("  ", " ")]
        at = next((end for end in ends if text[:end].strip() and end > 0), room)
        yield _stretch(row, 0, at, room)
        rest = at + len(text[at:]) - len(text[at:].lstrip())
        indent = min(_HANGING, room // 4)
        tail = _stretch(row, rest, len(text), room)
        row = Line((Bit(" " * indent), *tail.bits), room)
    if row.plain.strip():
        yield row


def _stretch(row: Line, start: int, end: int, room: int) -> Line:
    bits: list[Bit] = []
    at = 0
    for bit in row.bits:
        piece = bit.text[max(start - at, 0) : max(end - at, 0)]
        if piece:
            bits.append(Bit(piece, bit.tone))
        at += len(bit.text)
    return Line(tuple(bits), room)


def _in_columns(bits: Iterable[Bit]) -> Iterator[Bit]:
    """Bits in ASCII; what a text has grown by is taken from the blanks of the next gap."""
    owed = 0
    for bit in bits:
        text = ""
        for piece in _GAP.split(bit.text):
            if _GAP.fullmatch(piece):
                size = max(len(piece) - owed, _LEAST_GAP)
                owed -= len(piece) - size
                text += piece[0] * size
            else:
                plain = to_ascii(piece)
                owed += len(plain) - width(piece)
                text += plain
        yield Bit(text, bit.tone)


_GAP = re.compile(r"( {2,}|-{3,})")  # between columns, and the rule of a title
_LEAST_GAP = 2
_HANGING = 4  # blanks before what goes on in a further row


def line(*parts: str | Bit) -> Line:
    """A line of strings and bits; every text is cleaned."""
    bits = (part if isinstance(part, Bit) else Bit(part) for part in parts)
    return Line(tuple(Bit(clean(bit.text), bit.tone) for bit in bits))


def folded(
    before: list[Bit], text: str, cells: int, tone: Tone = Tone.PLAIN, after: str = ""
) -> list[Line]:
    """A text behind its first words, in as many lines as it takes, the others under the first."""
    words = [*on_one_line(text).split(), *([after] if after else [])]
    indent = sum(width(bit.text) for bit in before)
    indent = indent if indent <= cells // 2 else 4
    first, *others = wrapped(words, max(cells - indent, 8), gap=" ") or [""]
    rows = [line(*before, Bit(first, tone))]
    return [*rows, *(line(Bit(f"{' ' * indent}{more}", tone)) for more in others)]


def flowed(bits: list[Bit], cells: int, indent: str, *, apart: bool = False) -> list[Line]:
    """Bits behind each other in as many lines as they take, nothing cut, the others indented.

    Words of several go into one line as they come; ``apart``: each bit in one line where it fits.
    """
    indent = indent if cells >= 3 * len(indent) else ""
    room = max(cells - len(indent), 1)
    rows: list[list[Bit]] = [[]]
    used = 0
    for bit in bits:
        text = on_one_line(bit.text)
        lead = len(bit.text) - len(bit.text.lstrip())
        whole = apart and width(text) <= room
        if apart and used and not whole:  # one that goes on in further rows begins in its own
            rows.append([])
            used = 0
        for i, word in enumerate([text] if whole else broken(text.split(), room)):
            gap = 3 if apart and i == 0 else max(lead, 1) if i == 0 else 1
            if used and used + gap + width(word) > (cells if len(rows) == 1 else room):
                rows.append([])
                used = 0
            before = " " * gap if used else ""
            rows[-1].append(Bit(f"{before}{word}", bit.tone))
            used += width(before) + width(word)
    first, *others = rows
    return [line(*first), *(line(indent, *row) for row in others)]


def title(left: str, right: str, cells: int, tone: Tone = Tone.STRONG) -> Line:
    """A section's title with a rule out to its right words."""
    left, right = clean(left), clean(right)
    right = cut(right, max(cells - width(left) - 3, 0))
    tail = f" {right}" if right else ""
    room = cells - width(left) - width(tail) - 1
    rule = f" {'-' * max(room, 1)}" if room > 0 or right else ""  # none where the words fill it
    return Line((Bit(left, tone), Bit(rule, Tone.FAINT), Bit(tail)))


def columns(cells: Iterable[tuple[str, int]]) -> str:
    """Cleaned texts in columns of given widths, two blanks between."""
    return "  ".join(pad(clean(text), size) for text, size in cells).rstrip()


def colours_of(environ: Mapping[str, str]) -> ColorSystem:
    """How many colours the terminal says it can show."""
    from rich.color import ColorSystem

    if environ.get("COLORTERM", "").casefold() in ("truecolor", "24bit"):
        return ColorSystem.TRUECOLOR
    if "256color" in environ.get("TERM", ""):
        return ColorSystem.EIGHT_BIT
    return ColorSystem.STANDARD
