"""Whether a refused line may hide an isolation: it holds a word of isolation, or one near it.

Errs on the side of showing a line too many.
"""

from __future__ import annotations

import re

from grammar.folding import fold_word
from grammar.nearest import allowed_slips, distance
from grammar.phrases import spellings
from grammar.vocabulary import Vocabulary

_OWN = ("isolated", "isolate", "isolation", "lock", "locked", "lockout", "lock-out")
_STEMS = re.compile(r"(?<!\w)(?:isol|iso?l?at|lock(?!step))")

_THREAD_LOCK = re.compile(r"(?<!\w)thread[\s-]*lock\w*")


class IsolationWords:
    """Finds words of isolation of the language and of the mill."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        phrases = (
            *spellings(vocabulary, ("isolated",)),
            *map(fold_word, vocabulary.words_for("isolated by")),
        )
        self._phrases = tuple(phrases)
        words = {word for phrase in phrases for word in phrase.split()}
        small = {*spellings(vocabulary, ("by",)), "by"}
        self._words = tuple(sorted((words - small) | set(_OWN)))

    def near(self, folded: str) -> bool:
        """Whether a folded line holds a word of isolation, or one near it."""
        folded = _THREAD_LOCK.sub(" ", folded)
        if _STEMS.search(folded):
            return True
        single = " ".join(folded.split())
        if any(phrase in single for phrase in self._phrases):
            return True
        return any(self._is_near(word) for word in set(re.findall(r"[^\W\d_][\w-]{3,}", folded)))

    def _is_near(self, word: str) -> bool:
        if len(word) > 20:
            return False
        return any(
            distance(word, known, allowed_slips(known)) <= allowed_slips(known)
            for known in self._words
            if len(known) > 4
        )
