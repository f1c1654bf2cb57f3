"""Which texts of faults tell the same symptom: the register's words, like words, near spellings.

Words are compared as they stand, without cutting their endings: a mill's own words follow no
dictionary. The register overrides: a text named under a symptom's ``words`` belongs to it. How each
text was put is kept, since a grouping that nobody sees cannot be put right.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum

from grammar.folding import fold_word
from grammar.nearest import allowed_slips, distance
from grammar.vocabulary import Vocabulary

_LEAST_LETTERS = 3  # shorter words join: at, in, am
_LEAST_TO_SLIP = 5  # a slip in a shorter word makes another word
_MORE_WORDS = 2  # how many words one text may hold beyond the other

Key = tuple[str | None, str]  # part and symptom as the reader found it


class How(Enum):
    """How a text came to its symptom."""

    REGISTER = "the register's words"
    LIKE = "the same words"
    NEAR = "near spelling"
    ITSELF = "its own words"


_Sort = tuple[str, How]


@dataclass(frozen=True, slots=True, kw_only=True)
class Put:
    """The symptom that a text was put to, the text less its part, and how."""

    symptom: str
    text: str
    how: How


def grouped(texts: Iterable[Key], vocabulary: Vocabulary) -> Mapping[Key, Put]:
    """The symptom of each text, of one part at a time; the more frequent text gives the name."""
    counted = Counter(texts)
    known = set(vocabulary.symptoms)
    result: dict[Key, Put] = {}
    named: dict[str | None, list[tuple[str, frozenset[str]]]] = defaultdict(list)
    for key, _ in sorted(counted.items(), key=lambda item: (-item[1], item[0][1])):
        part, text = key
        if text in known:
            result[key] = Put(symptom=text, text=text, how=How.REGISTER)
            continue
        words = _words(text)
        found = _of_register(words, vocabulary) or _of_others(words, named[part])
        if found is None and words:
            named[part].append((text, words))
        symptom, how = found or (text, How.ITSELF)
        result[key] = Put(symptom=symptom, text=text, how=how)
    return result


def _words(text: str) -> frozenset[str]:
    found = re.findall(r"[^\W\d_]+", fold_word(text))
    return frozenset(w for w in found if len(w) >= _LEAST_LETTERS) or frozenset(found)


def _of_register(words: frozenset[str], vocabulary: Vocabulary) -> _Sort | None:
    near: _Sort | None = None
    for symptom, others in vocabulary.symptoms.items():
        for wording in (symptom, *others):
            wanted = _words(wording)
            if wanted and wanted <= words:
                return symptom, How.LIKE
            if near is None and wanted and _all_near(wanted, words):
                near = symptom, How.NEAR
    return near


def _of_others(words: frozenset[str], named: list[tuple[str, frozenset[str]]]) -> _Sort | None:
    near: _Sort | None = None
    for symptom, own in named:
        small, large = sorted((own, words), key=len)
        if own == words or (
            len(small) >= 2 and small <= large and len(large) - len(small) <= _MORE_WORDS
        ):
            return symptom, How.LIKE
        if near is None and len(own) == len(words) and _all_near(own, words):
            near = symptom, How.NEAR
    return near


def _all_near(wanted: frozenset[str], words: frozenset[str]) -> bool:
    return all(w in words or any(_near(w, other) for other in words) for w in wanted)


def _near(one: str, other: str) -> bool:
    if min(len(one), len(other)) < _LEAST_TO_SLIP:
        return False
    most = allowed_slips(one)
    return distance(one, other, most) <= most
