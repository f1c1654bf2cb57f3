"""Isolations in lines that were not understood, or not as their writer may have meant them.

Errs on the side of showing a line too many: whoever trusts the board must not miss a lock because
of a slip of the pen.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from grammar.entries import Clause, Isolated
from grammar.folding import Folded, fold_word
from grammar.nearest import allowed_slips, distance
from grammar.phrases import key_word, spellings
from grammar.vocabulary import Vocabulary, alternatives

_OWN = ("isolated", "isolate", "isolation", "lock", "locked", "lockout", "lock-out")
_STEMS = re.compile(
    r"(?<!\w)(?:isol|iso?l?at|iso(?!\w)|lock(?!step)|in(?:side)?\s+(?:the\s+)?(?:machine|loom)(?!\w))"
)
_THREAD_LOCK = re.compile(r"(?<!\w)thread[\s-]*lock\w*")
_WORD = re.compile(r"[^\W\d_][\w-]{3,}")
_LONGEST_WORD = 20
_LONGEST_PIECE = 200  # where a removal is looked for; keeps hostile text cheap
_HEAD = re.compile(r"\s*\S+\s+[^\s;]+")
_PIECE = re.compile(r"[^;]+")
_NO_INITIALS = frozenset(("a", "an", "it", "my", "no", "so"))


class IsolationWords:
    """Finds words of isolation of the language and of the mill."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        phrases = (
            *spellings(vocabulary, ("isolated",)),
            *map(fold_word, vocabulary.words_for("isolated by")),
        )
        self._phrases = re.compile(rf"(?<!\w)(?:{alternatives(phrases)})(?!\w)")
        words = {word for phrase in phrases for word in phrase.split()} | set(_OWN)
        removed = _words_of(vocabulary, "lock removed")
        seen = _words_of(vocabulary, "lock seen")
        locks = {phrase[0] for phrase in (*removed, *seen)}
        words |= locks
        self._lock = [*locks, "locks", "padlock"]
        self._off = [w for phrase in removed for w in phrase[1:2]] + ["removed", "remove", "off"]
        self._seen = [w for phrase in seen for w in phrase[1:2]] + ["seen", "looked", "saw"]
        small = {*spellings(vocabulary, ("by",)), "by"}
        self._known = [(word, frozenset(word)) for word in sorted(words - small) if len(word) > 4]
        whole = spellings(vocabulary, ("isolated", "by"))
        by_someone = rf"{key_word(whole)}[^\s;]"
        self.pattern = by_someone
        self._clause = re.compile(rf"\s*{by_someone}")
        self._writer = re.compile(rf"\s*{key_word(spellings(vocabulary, ('by',)))}[^\s;]+\s*\Z")
        self._inside = re.compile(rf"(?P<apart>[;,]\s*)?(?<![\w-])(?P<by>{by_someone})")
        self._signs = tuple({phrase.split()[0] for phrase in whole})

    def near(self, folded: str) -> bool:
        """Whether a folded line holds a word of isolation, or one near it."""
        folded = _THREAD_LOCK.sub(" ", folded)
        if _STEMS.search(folded) or self._phrases.search(folded):
            return True
        return any(self._is_near(word) for word in set(_WORD.findall(folded)))

    def anywhere(self, text: str) -> bool:
        """Whether a text of any length holds a word of isolation; slips of the pen aside."""
        folded = _THREAD_LOCK.sub(" ", text.casefold())
        return bool(_STEMS.search(folded) or self._phrases.search(folded))

    def _is_near(self, word: str) -> bool:
        if len(word) > _LONGEST_WORD:
            return False
        letters = frozenset(word)
        for known, own in self._known:
            slips = allowed_slips(known)
            likely = len(own - letters) <= slips and len(letters - own) <= slips
            if likely and distance(word, known, slips) <= slips:
                return True
        return False

    def isolates(self, piece: str) -> bool:
        """Whether a piece of a folded line reads as a clause ``isolated by WHO``."""
        return self._clause.match(piece) is not None

    def removes(self, folded: str) -> bool:
        """Whether a folded text speaks of a lock that came off and of no isolation."""
        return self._speaks_of(folded, self._off)

    def looks(self, folded: str) -> bool:
        """Whether a folded text speaks of a look at a lock and of no isolation."""
        return self._speaks_of(folded, self._seen)

    def _speaks_of(self, folded: str, what: list[str]) -> bool:
        found = re.findall(r"[^\s;]+", _THREAD_LOCK.sub(" ", folded[:_LONGEST_PIECE]))
        words = [word.strip(".,:") for word in found]
        if self._phrases.search(folded) or any(word.startswith("iso") for word in words):
            return False
        locks = [i for i, word in enumerate(words) if _near_one(word, self._lock)]
        around = ((i, j) for i in locks for j in range(max(i - 2, 0), min(i + 3, len(words))))
        return any(i != j and _near_one(words[j], what) for i, j in around)

    def only_isolations(self, folded: str) -> str | None:
        """A line with everything blanked but its head, its isolations and its writer, or None.

        Blanked, not cut out, so that every place in the line stays what it was.
        """
        head = _HEAD.match(folded)
        if head is None:
            return None
        only = [" "] * len(folded)
        only[: head.end()] = head[0]
        found = False
        for piece in _PIECE.finditer(folded, head.end()):
            isolates = self._clause.match(piece[0]) is not None
            if isolates or (found and self._writer.match(piece[0])):
                only[piece.start() : piece.end() + 1] = folded[piece.start() : piece.end() + 1]
                found = True
        return "".join(only) if found else None

    def is_quiet(self, clause: object, piece: str) -> bool:
        """Whether a clause, folded, adds nothing to what ``swallowed`` finds in its line."""
        for sign in self._signs:
            if sign in piece:
                break
        else:
            return True
        own = len(piece) - len(piece.lstrip()) if isinstance(clause, Isolated) else -1
        return all(match.start("by") == own for match in self._inside.finditer(piece))

    def swallowed(self, folded: Folded, clauses: Iterable[Clause]) -> bool:
        """Whether a free text of a line took in what looks like a clause ``isolated by WHO``."""
        return self.taken_in(folded, clauses) is not None

    def taken_in(self, folded: Folded, clauses: Iterable[Clause]) -> int | None:
        """Where in a folded line a free text took in what looks like ``isolated by WHO``.

        Behind a comma WHO may be any word; else it has to look like somebody's initials, for a
        text may well say ``isolated by the fence``.
        """
        for sign in self._signs:
            if sign in folded.text:
                break
        else:
            return None
        read = {clause.span.start for clause in clauses if isinstance(clause, Isolated)}
        for match in self._inside.finditer(folded.text):
            apart = match["apart"] is not None or _is_initials(folded, match.end("by") - 1)
            if apart and folded.span(*match.span("by")).start not in read:
                return match.start("by")
        return None


def _is_initials(folded: Folded, start: int) -> bool:
    """Whether the word that begins at a place of a folded text looks like somebody's initials."""
    word = re.compile(r"[^\s;,.:]+").match(folded.text, start)
    if word is None or not word[0].isalpha() or word[0] in _NO_INITIALS:
        return False
    return len(word[0]) <= 2 or (len(word[0]) <= 4 and folded.cut(*word.span()).isupper())


def _words_of(vocabulary: Vocabulary, phrase: str) -> list[list[str]]:
    """The language's words for a phrase and the mill's own, each folded and word by word."""
    own = (phrase, *vocabulary.words_for(phrase), *vocabulary.words_for(f"{phrase} by"))
    return [fold_word(words).split() for words in own]


def _near_one(word: str, known: list[str]) -> bool:
    """Whether a word is one of those known but for slips of the pen."""
    slips = ((other, allowed_slips(other)) for other in known)
    return any(distance(word, other, most) <= most for other, most in slips)
