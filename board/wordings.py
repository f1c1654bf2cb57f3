"""The words of a question and every other way to write them.

A key word stands for the mill's words and they for it, a part, quantity or symptom for all its
names, a loom for its name in any case and without its zeros. One word of a key phrase stands for
the phrase in all its wordings: ``isolated`` for the mill's own ``gesperrt durch``. What else is
asked for matches anywhere in a line. Which lines those are is left to ``search``.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence

from grammar.folding import fold_word
from grammar.frozen import dataclass
from grammar.phrases import CLAUSE_HEADS, PHRASES, spellings
from grammar.vocabulary import Vocabulary, alternatives

_LONGEST_PHRASE = 4  # words


@dataclass(frozen=True, slots=True)
class Term:
    """One thing that is looked for: a text anywhere, or one of several wordings, or a loom."""

    written: str
    folded: str
    others: re.Pattern[str] | None = None
    loom: str | None = None
    wordings: tuple[str, ...] = ()  # those of ``others``

    def matches(self, folded_line: str, looms: Sequence[str]) -> bool:
        """Whether a folded line that speaks of these looms holds the term."""
        if self.folded in folded_line:
            return True
        if self.loom is not None and self.loom in looms:
            return True
        return self.others is not None and self.others.search(folded_line) is not None


def terms(words: Sequence[str], vocabulary: Vocabulary) -> tuple[Term, ...]:
    """The terms of a question; words that make a phrase of the mill together are one term."""
    same = _wordings(vocabulary)
    folded = [fold_word(word) for word in words if fold_word(word)]
    found: list[Term] = []
    at = 0
    while at < len(folded):
        size = next(
            (
                n
                for n in range(min(_LONGEST_PHRASE, len(folded) - at), 1, -1)
                if " ".join(folded[at : at + n]) in same
            ),
            1,
        )
        phrase = " ".join(folded[at : at + size])
        others = same.get(phrase, frozenset())
        others = (others | of_phrases(phrase, vocabulary)) - {phrase}
        pattern = re.compile(rf"(?<!\w)(?:{alternatives(others)})(?!\w)") if others else None
        loom = vocabulary.loom(phrase) if size == 1 else None
        term = Term(
            written=phrase, folded=phrase, others=pattern, loom=loom, wordings=tuple(sorted(others))
        )
        found.append(term)
        at += size
    return tuple(found)


def known_words(vocabulary: Vocabulary) -> tuple[str, ...]:
    """Every wording of the language and the mill, folded."""
    return tuple(sorted(_wordings(vocabulary)))


def of_phrases(word: str, vocabulary: Vocabulary) -> frozenset[str]:
    """Every wording, folded, of the clauses whose key phrase of several words holds this one.

    ``by`` and the mill's words for it tell nothing of a phrase, and stand for none.
    """
    small = {*spellings(vocabulary, ("by",)), "by"}
    found: set[str] = set()
    for words in PHRASES.values():
        phrase = " ".join(words)
        if phrase not in CLAUSE_HEADS or " " not in phrase:
            continue
        wordings = spellings(vocabulary, words)
        # gesperrt durch: the last word is the mill's "by", whether or not it is told so alone
        cut = -1 if words[-1] == "by" else None
        told = [wording.split()[:cut] or [wording] for wording in wordings]
        if word in {w for own in told for w in (*own, " ".join(own))} - small:
            found |= {*wordings}
    return frozenset(found)


def _wordings(vocabulary: Vocabulary) -> Mapping[str, frozenset[str]]:
    """Each wording with all that mean the same."""
    sets: list[tuple[str, ...]] = [
        *((phrase, *words) for phrase, words in vocabulary.aliases.items()),
        *((part.name, *part.words) for part in vocabulary.parts),
        *((q.name, *q.words) for part in vocabulary.parts for q in part.quantities),
        *((symptom, *words) for symptom, words in vocabulary.symptoms.items()),
    ]
    same: dict[str, set[str]] = defaultdict(set)
    for group in sets:
        folded = {fold_word(word) for word in group if fold_word(word)}
        for word in folded:
            same[word] |= folded
    return {word: frozenset(group) for word, group in same.items()}
