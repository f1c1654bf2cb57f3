"""Which texts of faults tell the same symptom: the register's words, like words, near spellings.

Words are compared as they stand, without cutting their endings: a mill's own words follow no
dictionary; only joining words count for nothing. The wording that shares the most words wins, and
a word that several symptoms of the register share decides nothing by itself: "loses" alone is
neither weft nor oil. A text that fits two symptoms alike is put to neither. The register
overrides: a text named under a symptom's ``words`` belongs to it. How each text was put is kept,
since a grouping that nobody sees cannot be put right.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from enum import Enum

from grammar.folding import fold_word
from grammar.frozen import dataclass
from grammar.nearest import allowed_slips, distance
from grammar.vocabulary import Vocabulary

# the joining words of the languages that logs are written in here; others count as words
_JOINING = (
    "a an and at by for from in into is it its of off on out the to with"
    " am auf aus bei beim das dem den der des die ein eine einen einer im ins ist mit nach"
    " und vom von zu zum zur"
)
_JOINERS = frozenset(_JOINING.split())
_LEAST_TO_SLIP = 5  # a slip in a shorter word makes another word
_MORE_WORDS = 2  # how many words one text may hold beyond the other

Key = tuple[str | None, str]  # part and symptom as the reader found it
Words = frozenset[str]


class How(Enum):
    """How a text came to its symptom."""

    REGISTER = "the register's words"
    LIKE = "the same words"
    NEAR = "near spelling"
    ITSELF = "its own words"
    BETWEEN = "its own words, since it fits several symptoms alike"


@dataclass(frozen=True, slots=True, kw_only=True)
class Put:
    """The symptom that a text was put to, the text less its part, and how.

    ``fits`` names the symptoms between which it was not decided.
    """

    symptom: str
    text: str
    how: How
    fits: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, order=True)
class _Fit:
    """How well a wording fits a text: so many words shared, so many of them as they stand."""

    shared: int
    exact: int


def grouped(texts: Iterable[Key], vocabulary: Vocabulary) -> Mapping[Key, Put]:
    """The symptom of each text, of one part at a time; the more frequent text gives the name."""
    counted = Counter(texts)
    known = set(vocabulary.symptoms)
    register = _wordings(vocabulary)
    result: dict[Key, Put] = {}
    named: dict[str | None, list[tuple[str, Words]]] = defaultdict(list)
    for key, _ in sorted(counted.items(), key=lambda item: (-item[1], item[0][1])):
        part, text = key
        if text in known:
            result[key] = Put(symptom=text, text=text, how=How.REGISTER)
            continue
        words = _words(text)
        put = _put(text, _of_register(words, register)) or _put(
            text, _of_others(words, named[part])
        )
        if put is None and words:
            named[part].append((text, words))
        result[key] = put or Put(symptom=text, text=text, how=How.ITSELF)
    return result


def _put(text: str, fits: Mapping[str, _Fit]) -> Put | None:
    """The text under the symptom that fits best, under none of several that fit alike."""
    if not fits:
        return None
    best = max(fits.values())
    found = [symptom for symptom, fit in fits.items() if fit == best]
    if len(found) > 1:
        return Put(symptom=text, text=text, how=How.BETWEEN, fits=tuple(found))
    how = How.LIKE if best.exact == best.shared else How.NEAR
    return Put(symptom=found[0], text=text, how=how)


def _words(text: str) -> Words:
    found = frozenset(re.findall(r"[^\W\d_]+", fold_word(text)))
    return found - _JOINERS or found


# -- the register's wordings -----------------------------------------------------------------


def _wordings(vocabulary: Vocabulary) -> list[tuple[str, Words, Words]]:
    """Each wording with its symptom, its words, and those that no other symptom has.

    A wording all of whose words other symptoms have too is told by all of them together.
    """
    wordings = [
        (symptom, _words(wording))
        for symptom, others in vocabulary.symptoms.items()
        for wording in (symptom, *others)
    ]
    having: dict[str, set[str]] = defaultdict(set)
    for symptom, words in wordings:
        for word in words:
            having[word].add(symptom)
    return [
        (symptom, words, frozenset(w for w in words if len(having[w]) == 1) or words)
        for symptom, words in wordings
        if words
    ]


def _of_register(words: Words, register: Iterable[tuple[str, Words, Words]]) -> Mapping[str, _Fit]:
    """The best fit of each symptom with a wording that stands in the text, near spellings too.

    Where a word is spelled otherwise, one that only this symptom has must stand as it is, or the
    wording is a single word: "verliert schloss" is not "verliert schuss" spelled wrong.
    """
    fits: dict[str, _Fit] = {}
    for symptom, wanted, own in register:
        if not _all_near(wanted, words):
            continue
        if wanted <= words or own & words or len(wanted) == 1:
            fit = _Fit(len(wanted), len(wanted & words))
            fits[symptom] = max(fit, fits.get(symptom, fit))
    return fits


# -- texts among themselves ------------------------------------------------------------------


def _of_others(words: Words, named: Iterable[tuple[str, Words]]) -> Mapping[str, _Fit]:
    """The fit of each text before it that holds the same words, or a few more or fewer."""
    fits: dict[str, _Fit] = {}
    for symptom, own in named:
        small, large = sorted((own, words), key=len)
        like = own == words or (
            len(small) >= 2 and small <= large and len(large) - len(small) <= _MORE_WORDS
        )
        if like or (len(own) == len(words) and _all_near(own, words)):
            fits[symptom] = _Fit(len(small), len(small & large))
    return fits


def _all_near(wanted: Words, words: Words) -> bool:
    return all(w in words or any(_near(w, other) for other in words) for w in wanted)


def _near(one: str, other: str) -> bool:
    if min(len(one), len(other)) < _LEAST_TO_SLIP:
        return False
    most = allowed_slips(one)
    return distance(one, other, most) <= most
