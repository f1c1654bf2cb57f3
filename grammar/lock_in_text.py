"""Somebody's lock told in the middle of a text, where it counts for nothing.

Initials are letters that were written as capitals: a text may well say ``isolated by the fence``.
"""

from __future__ import annotations

import re
import sys
from bisect import bisect_left
from collections.abc import Iterator, Set

from grammar.folding import Folded, fold, fold_word
from grammar.frozen import dataclass
from grammar.nearest import distance

_INITIALS = r"(?P<who>[^\W\d_]{2,3})(?![\w-])"
_NO_INITIALS = frozenset(("a", "an", "it", "my", "no", "so"))
# what is nobody's initials in capitals: of the trade, and small words of a text all in capitals
_NOBODY = frozenset(
    re.findall(
        r"\w+",
        "ac dc esd mcc plc pm ppe psa qa ups"
        " a all an and as at but by for from has he in is it no not of off on or out so the to up"
        " was we am auf aus bei das dem den der die ein im ist ob um und von war zu",
    )
)
_AND = r"(?:(?:and|und|plus|also|auch)\b|[,&+(])"
_BESIDE = r"(?:(?:and|und|plus|also|auch|with|mit|for|für)\b|[,&+(/])"
_ANOTHER = (
    re.compile(rf"\A(?:\s*{_BESIDE})*\s*{_INITIALS}(?!\s*\d)"),
    re.compile(rf"{_AND}\s*{_INITIALS}(?!\s*\d)"),
    re.compile(rf"(?<![\w-]){_INITIALS}\s+(?:pad)?lock(?![\w-])"),
)
_NAME_AND_LOCK = re.compile(r"(?<![\w-])(?P<who>[^\W\d_]{3,})\s+(?:pad)?lock\s*(?:no\.?\s*)?\d")
_SMALL = frozenset(("and", "und", "the", "with", "mit", "for", "his", "her", "own", "also", "auch"))
# initials as they are written, but for the writer's at the end of most lines: soon looked for
_CAPITAL = "[A-ZÀ-ÖØ-ÞΑ-ΩĀ-ſА-Я]"
_CAPITALS = re.compile(rf"(?<![\w-])(?<!; by ){_CAPITAL}{{2,3}}(?![\w-])")
_TWO = re.compile(_CAPITAL * 2)  # looked for first: it takes half as long
_IN_IT = re.compile(
    r"\s+(?:(?:is|still|ist|noch)\s+)*(?:in|inside)\s+(?:(?:the|der)\s+)?"
    r"(?:machine|loom|maschine)(?!\w)",
    re.IGNORECASE,
)
_OUT = frozenset(("out", "off"))
_REACH = 80  # characters before somebody's initials in which the words before them are looked for
_LOCK_BEHIND = re.compile(r"[^\s;]+\s+(?:pad)?lock\s*(?:no\.?\s*)?\d")
_NAME = re.compile(r"[^\s;,.:]+")
_MOST_SLIPS = 2
_KEPT = 512  # words


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A lock that a text tells of: where in the folded line, and whose it is."""

    start: int
    who: str


def another(by: str, text: str) -> str | None:
    """Who stands in the text of a lock beside its owner ``by``; that person has no lock by it."""
    folded = fold(text)
    own = fold_word(by)
    for pattern in _ANOTHER:
        for match in pattern.finditer(folded.text):
            who = folded.cut(*match.span("who"))
            if _are_initials(who) and fold_word(who) != own:
                return who
    for match in _NAME_AND_LOCK.finditer(folded.text):
        who = folded.cut(*match.span("who"))
        if who[0].isupper() and match["who"] not in _SMALL and match["who"] != own:
            return who
    return None


def _are_initials(word: str) -> bool:
    return word.isupper() and word.casefold() not in _NOBODY


def somebody(folded: Folded, start: int, *, apart: bool) -> str | None:
    """The word behind ``isolated by`` where it is a person, and not, say, the fence.

    Behind a comma it may be any word (``apart``); else it looks like initials or a name, or a lock
    with its number stands behind it.
    """
    word = _NAME.match(folded.text, start)
    if word is None:
        return None
    written = folded.cut(*word.span())
    if apart:
        return written
    if not word[0].isalpha() or word[0] in _NO_INITIALS:
        return None
    initials = len(word[0]) <= 2 or (len(word[0]) <= 4 and written.isupper())
    named = written[0].isupper() and written[1:].islower()
    found = initials or named or _LOCK_BEHIND.match(folded.text, start) is not None
    return written if found else None


def has_initials(line: str, start: int = 0, end: int = sys.maxsize) -> bool:
    """Whether a stretch of a line may have initials beside those of its writer at the end."""
    two = _TWO.search(line, start, end)
    return two is not None and _CAPITALS.search(line, max(two.start() - 1, start), end) is not None


class NearLocks:
    """Finds a word that is nearly one of isolation, with somebody's initials behind it."""

    def __init__(self, words: Set[str], locks: Set[str], by: tuple[str, ...]) -> None:
        """``words`` and ``locks`` are folded words of isolation and of locks; ``by``: of whom."""
        self._small = frozenset((*by, "by", "of", "from"))
        self._words = tuple(sorted(words))
        self._locks = locks
        self._known: dict[str, bool] = {}  # of words met: whether they are near

    def told(self, folded: Folded) -> Iterator[Told]:
        """The locks that a folded line tells of in this way, and who is in the machine."""
        line = folded.line
        for initials in _CAPITALS.finditer(line):
            who = initials[0]
            if not _are_initials(who):
                continue
            if _IN_IT.match(line, initials.end()):
                yield Told(start=_place(folded, initials.start()), who=who)
                continue
            word = self._word_before(line[max(initials.start() - _REACH, 0) : initials.start()])
            if word:
                start = line.rfind(word, 0, initials.start())
                yield Told(start=_place(folded, start), who=who)

    def _word_before(self, text: str) -> str:
        """The word of isolation that a text ends with, but for a small word behind it; or none."""
        words = text.split()[-4:]
        if words and words[-1].casefold() in self._small:
            words.pop()
        if words and words[-1].casefold() in _OUT:
            words.pop()
        if not words or (len(words) > 1 and words[-2].casefold() == "thread"):
            return ""
        word = words[-1]
        is_word = word[0].isalpha() and word.replace("-", "").isalnum()
        return word if is_word and self._is_near(fold_word(word)) else ""

    def _is_near(self, word: str) -> bool:
        if word not in self._known:
            if len(self._known) >= _KEPT:
                self._known.clear()
            self._known[word] = self._compared(word)
        return self._known[word]

    def _compared(self, word: str) -> bool:
        if word in self._locks:
            return True
        if len(word) < 4:
            return False
        for known in self._words:
            # in a text that was understood, the beginning must agree: blocked is not locked
            most = 1 if len(known) < 7 else _MOST_SLIPS
            if word[0] in known[:2] and distance(word, known, most) <= most:
                return True
        return False


def _place(folded: Folded, start: int) -> int:
    """Where in the folded line a place of the line as written is."""
    return start if folded.origin is None else bisect_left(folded.origin, start)
