"""Folding of text for comparison: NFKC and casefold, with the way back to the original.

The grammar is matched against folded text; free text is cut out of the line as written, so each
folded character remembers the original character that it came from.
"""

from __future__ import annotations

import unicodedata
from typing import NamedTuple

from grammar.entries import Span


class Folded(NamedTuple):
    """A line, its folded form, and for each folded character its place in the line.

    ``origin`` has one element more than ``text`` (the end), or is None where both lines agree
    character for character.
    """

    line: str
    text: str
    origin: tuple[int, ...] | None

    def span(self, start: int, end: int) -> Span:
        """The stretch of the line behind the folded characters ``start`` to ``end``."""
        if self.origin is None:
            return Span(start, end)
        last = len(self.text)
        first = self.origin[min(start, last)]
        stop = self.origin[min(end, last)]
        if end > start and stop == first:  # inside the folding of one character
            stop = next((o for o in self.origin[end:] if o > first), len(self.line))
        return Span(first, stop)

    def cut(self, start: int, end: int) -> str:
        """The text as written behind the folded characters ``start`` to ``end``, trimmed."""
        span = self.span(start, end)
        return self.line[span.start : span.end].strip()


def fold(line: str) -> Folded:
    """Fold a line by NFKC and casefold, keeping the way back."""
    if line.isascii():
        return Folded(line, line.lower(), None)
    if unicodedata.is_normalized("NFKC", line):
        text = line.casefold()  # character by character, so equal lengths mean equal places
        if len(text) == len(line) and unicodedata.is_normalized("NFKC", text):
            return Folded(line, text, None)
    pieces: list[str] = []
    origin: list[int] = []
    begin = 0
    for begin, end in _clusters(line):
        folded = _fold_piece(line[begin:end])
        pieces.append(folded)
        origin.extend([begin] * len(folded))
    origin.append(len(line))
    text = "".join(pieces)
    if origin == list(range(len(line) + 1)):
        return Folded(line, text, None)
    return Folded(line, text, tuple(origin))


def fold_word(word: str) -> str:
    """Fold a word of the register, with its inner white space made single."""
    return " ".join(_fold_piece(word).split())


def _fold_piece(piece: str) -> str:
    composed = unicodedata.normalize("NFKC", piece)
    return unicodedata.normalize("NFKC", composed.casefold())


def _clusters(line: str) -> list[tuple[int, int]]:
    """Stretches that NFKC composes on their own: a starter with the marks that follow it."""
    starts = [i for i, c in enumerate(line) if i == 0 or not _joins_back(c)]
    return list(zip(starts, [*starts[1:], len(line)], strict=True))


def _joins_back(character: str) -> bool:
    if character.isascii():
        return False
    # Hangul vowels and finals compose with the syllable before them though they are starters.
    return unicodedata.combining(character) != 0 or "\u1160" <= character <= "\u11ff"
