"""Words that are nearly one of isolation, with somebody's initials behind them.

Initials are letters that were written as capitals; these are soon looked for.
"""

from __future__ import annotations

import re
import sys
from bisect import bisect_left
from collections.abc import Iterator, Set

from grammar.folding import Folded, fold_word
from grammar.nearest import distance

# initials as they are written, but for the writer's at the end of most lines: soon looked for
_CAPITAL = "[A-ZÀ-ÖØ-ÞΑ-ΩĀ-ſА-Я]"
_CAPITALS = re.compile(rf"(?<![\w-])(?<!; by ){_CAPITAL}{{2,4}}(?![\w-])")
_TWO = re.compile(_CAPITAL * 2)  # looked for first: it takes half as long
_OUT = frozenset(("out", "off"))
_MARKS = frozenset(("-", "–", ":", "(", ",", "/", "="))
_BEFORE = 80  # characters before somebody's initials in which the words before them are looked for
# words of their own
_OTHERS = frozenset(
    (
        *("insulated", "insulation", "insulate", "looked", "located", "locate", "location"),
        *("loaded", "lacked", "licked", "looped", "oscillated", "islanded", "blocked", "clocked"),
    )
)
_MOST_SLIPS = 2
_KEPT = 512  # words


def has_initials(line: str, start: int = 0, end: int = sys.maxsize) -> bool:
    """Whether a stretch of a line may have initials beside those of its writer at the end."""
    two = _TWO.search(line, start, end)
    return two is not None and _CAPITALS.search(line, max(two.start() - 1, start), end) is not None


class NearLocks:
    """Finds a word that is nearly one of isolation, with somebody's initials behind it."""

    def __init__(self, near: Set[str], locks: Set[str], by: tuple[str, ...]) -> None:
        """``near`` and ``locks`` are folded words of isolation and of locks; ``by``: of whom."""
        self._small = frozenset((*by, "by", "of", "from"))
        self._words = tuple(sorted(near))
        self._locks = locks
        self._known: dict[str, bool] = {}  # of words met: whether they are near

    def told(self, folded: Folded, start: int, end: int) -> Iterator[tuple[int, int]]:
        """Where initials stand behind such a word in a stretch of a folded line, and the word.

        Both are places of the folded line.
        """
        line = folded.line
        stop = end if folded.origin is None else folded.span(start, end).end
        begin = start if folded.origin is None else folded.span(start, end).start
        for initials in _CAPITALS.finditer(line, begin, stop):
            at = initials.start()
            word = self._word_before(line[max(at - _BEFORE, begin) : at])
            if word:
                yield place_in(folded, at), place_in(folded, line.rfind(word, 0, at))

    def _word_before(self, text: str) -> str:
        """The word of isolation that a text ends with, but for a small word behind it; or none."""
        before = text.split()[-4:]
        if before and before[-1] in _MARKS:
            before.pop()
        if before and before[-1].casefold() in self._small:
            before.pop()
        if before and before[-1].casefold() in _OUT:
            before.pop()
        if not before or (len(before) > 1 and before[-2].casefold() == "thread"):
            return ""
        word = before[-1]
        is_word = word[0].isalpha() and word.replace("-", "").isalnum()
        return word if is_word and self._is_near(fold_word(word)) else ""

    def _is_near(self, word: str) -> bool:
        if word not in self._known:
            if len(self._known) >= _KEPT:
                self._known.clear()
            self._known[word] = self._compared(word)
        return self._known[word]

    def _compared(self, word: str) -> bool:
        if len(word) < 4 or word in _OTHERS or word in self._words or word in self._locks:
            return False  # those of isolation are told by ``TextLocks``
        if word.startswith("lock-") and word[5:6] != "o":
            return False  # a lock-nut
        for known in self._words:
            # in a text that was understood, the beginning must agree: blocked is not locked
            most = 1 if len(known) < 7 else _MOST_SLIPS
            if word[0] in known[:2] and distance(word, known, most) <= most:
                return True
        return False


def place_in(folded: Folded, start: int) -> int:
    """Where in the folded line a place of the line as written is."""
    return start if folded.origin is None else bisect_left(folded.origin, start)
