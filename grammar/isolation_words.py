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
_STEMS = re.compile(r"(?<!\w)(?:isol|iso?l?at|lock(?!step))")
_THREAD_LOCK = re.compile(r"(?<!\w)thread[\s-]*lock\w*")
_WORD = re.compile(r"[^\W\d_][\w-]{3,}")
_LONGEST_WORD = 20
_HEAD = re.compile(r"\s*\S+\s+[^\s;]+")
_PIECE = re.compile(r"[^;]+")


class IsolationWords:
    """Finds words of isolation of the language and of the mill."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        phrases = (
            *spellings(vocabulary, ("isolated",)),
            *map(fold_word, vocabulary.words_for("isolated by")),
        )
        self._phrases = re.compile(rf"(?<!\w)(?:{alternatives(phrases)})(?!\w)")
        words = {word for phrase in phrases for word in phrase.split()} | set(_OWN)
        small = {*spellings(vocabulary, ("by",)), "by"}
        self._known = [(word, frozenset(word)) for word in sorted(words - small) if len(word) > 4]
        whole = spellings(vocabulary, ("isolated", "by"))
        by_someone = rf"{key_word(whole)}[^\s;]"
        self._clause = re.compile(rf"\s*{by_someone}")
        self._writer = re.compile(rf"\s*{key_word(spellings(vocabulary, ('by',)))}[^\s;]+\s*\Z")
        self._swallowed = re.compile(rf"[;,]\s*({by_someone})")
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

    def swallowed(self, folded: Folded, clauses: Iterable[Clause]) -> bool:
        """Whether a free text of a line took in what looks like a clause ``isolated by WHO``."""
        for sign in self._signs:
            if sign in folded.text:
                break
        else:
            return False
        read = {clause.span.start for clause in clauses if isinstance(clause, Isolated)}
        return any(
            folded.span(match.start(1), match.end(1)).start not in read
            for match in self._swallowed.finditer(folded.text)
        )
