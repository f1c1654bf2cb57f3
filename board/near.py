"""Near spellings of a word that stands in no line: other words of the record and the mill's own."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Protocol

from board.wordings import known_words, of_phrases
from grammar.folding import fold
from grammar.frozen import dataclass
from grammar.nearest import allowed_slips, distance
from grammar.vocabulary import Vocabulary

MOST_NEAR = 3

_WORD = re.compile(r"\w+")


class RecordWords(Protocol):
    """What is to be known of all lines of a record, folded."""

    def hold(self, text: str) -> bool:
        """Whether a folded text stands anywhere in a line."""

    def words(self, shortest: int, longest: int) -> Iterable[str]:
        """The words of at least and at most so many characters."""

    def count(self, word: str) -> int:
        """In how many lines one of these words stands."""


@dataclass(frozen=True, slots=True)
class WordsOf:
    """The words of some texts, as they were written."""

    texts: tuple[str, ...]

    @classmethod
    def of(cls, texts: Iterable[str]) -> WordsOf:
        """The words of these lines."""
        return cls(tuple(fold(text).text for text in texts))

    def hold(self, text: str) -> bool:
        """Whether a folded text stands anywhere in a line."""
        return any(text in each for each in self.texts)

    def words(self, shortest: int, longest: int) -> Iterable[str]:
        """The words of such a length."""
        words = {word for text in self.texts for word in _WORD.findall(text)}
        return [word for word in words if shortest <= len(word) <= longest]

    def count(self, word: str) -> int:
        """In how many lines a word stands."""
        return sum(word in _WORD.findall(text) for text in self.texts)


def near(word: str, record: RecordWords, vocabulary: Vocabulary) -> tuple[str, ...]:
    """Words of the record or the mill that are a slip or two away, where the word is in no line.

    Of a word that stands only in a longer wording of the mill, that wording: it finds its like.
    """
    if record.hold(word):
        return ()
    known = known_words(vocabulary)
    if of_phrases(word, vocabulary):
        return ()  # it was looked for in all wordings of its phrase already
    wordings = [wording for wording in known if word in wording.split()]
    if wordings:
        return tuple(wordings[:MOST_NEAR])
    most = allowed_slips(word)
    recorded = set(record.words(len(word) - most, len(word) + most))
    found = []
    for other in recorded | {single for wording in known for single in wording.split()}:
        # a slip in both the first and the last letter is not looked for, which keeps this cheap
        if not other[0].isalpha() or not (other[0] == word[0] or other[-1] == word[-1]):
            continue
        slips = distance(word, other, most)
        if slips <= most:
            found.append((slips, -record.count(other) if other in recorded else 0, other))
    return tuple(other for _, _, other in sorted(found)[:MOST_NEAR])
