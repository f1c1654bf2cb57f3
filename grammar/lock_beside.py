"""What the text of a lock tells beside its owner: somebody else, another lock, another loom.

None of it is on record by that: one lock a person, and one loom a line.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence, Set

from grammar.decoding import LONGEST_LINE
from grammar.folding import fold, fold_word
from grammar.lock_in_text import only_spoken_of
from grammar.people import PEOPLE, ROLES, Kind, Token, tokens, words
from grammar.vocabulary import Vocabulary

LOCKS = words("lock locks padlock padlocks")
_AND = words("and und plus also auch with mit w for für both u + & ( / , > - – . ;")
_TOO = words("too also auch inside in helps both is are ist as ebenfalls dabei there on on. )")
_JOINS = words("and und u + & , / no nr plus number lock locks padlock padlocks")
_NO = words("no nr number #")
# behind these a word with a number is a thing: key 3
_NUMBERED = words("switch breaker panel cabinet fuse valve drive motor key tag box door cable main")
_TOGETHER = re.compile(r"[,&+/]")  # between two people in one word
_ORDINARY = re.compile(r"(?:lock|schloss)?\s*\d{1,5}", re.IGNORECASE)
_MOST_TEXT = 400  # characters of a text that are looked at

# who means themselves, or nobody. In capitals the short ones may be somebody's initials
NOBODY = words(
    "me myself i us we self ich mich mir uns wir lock padlock the nobody noone someone"
    " somebody anybody both him her them they he she niemand jemand den der dem die einem"
    " einer x shift crew team maintenance everybody all schicht unknown xx xxx n.n nn who whom"
)
_BEGINS = words(
    "a an der den ter ten our my his van von de del della di da la le el al bin ibn mc mac st"
    " san dos"
)


def others(
    by: str, text: str, locks: Set[str] = LOCKS, known: Set[str] = frozenset()
) -> Iterator[str]:
    """Who stands in the text of a lock beside its owner ``by``; they have no lock by it.

    ``locks`` are words for a lock, ``known`` those of the register. Where nobody is named, a
    second lock's number.
    """
    if not text or _ORDINARY.fullmatch(text):
        return
    folded = fold(text[:_MOST_TEXT])
    own = _plain(by)
    found = tokens(folded, 0, len(folded.text), locks | known)
    named = False
    for at, token in enumerate(found):
        if token.kind not in PEOPLE or _plain(token.written) == own:
            continue
        if _is_beside(found, at, by, locks):
            named = True
            yield token.written
    if not named and (second := _second_lock(found, locks)) is not None:
        yield second


def another(by: str, text: str) -> str | None:
    """The first of those who stand in the text of a lock beside its owner."""
    return next(others(by, text), None)


def _is_beside(found: Sequence[Token], at: int, by: str, locks: Set[str]) -> bool:
    """Whether somebody in the text of a lock may have a lock or be inside, too."""
    token = found[at]
    before = found[at - 1].folded if at else ""
    behind = [t.folded for t in found[at + 1 : at + 4]]
    lock_behind = bool(behind) and behind[0] in locks
    number = lock_behind and any(t.kind is Kind.NUMBER for t in found[at + 2 : at + 4])
    ends = not behind or behind[0] in ",;.)&+/-"
    joined = at == 0 or before in _AND
    match token.kind:
        case Kind.INITIALS:
            writes = before in ("by", "von") and not behind and _second_lock(found, locks) is None
            verb = found[at - 2].folded if at > 1 else ""
            writes = writes and not verb.endswith(("ed", "over"))
            thing = before in _NUMBERED
            theirs = token.owns and bool(behind) and behind[0].isalpha()  # TN's note
            theirs = theirs and behind[0] not in locks | _TOO | ROLES
            return not (writes or thing or theirs or only_spoken_of(found, at))
        case Kind.DOUBTFUL:
            inside = len(behind) > 1 and behind[0] == "is" and behind[1] in ("in", "inside")
            return number or inside or (joined and before not in ("for", "mit", "with") and ends)
        case Kind.ROLE:
            return not only_spoken_of(found, at)
        case Kind.NAME:
            if at == 0 and _is_name(by):
                return True  # Siân Murphy
            numbered = bool(behind) and found[at + 1].kind is Kind.NUMBER
            numbered = numbered and (joined or found[at - 1].kind is Kind.NUMBER)
            near = ends or (bool(behind) and behind[0] in _TOO)
            of_lock = before in ("of", "von") and at > 1 and found[at - 2].folded in locks
            has_lock = of_lock or (token.owns and lock_behind)
            too = bool(behind) and behind[0] in ("too", "auch", "inside")
            return number or numbered or (joined and near) or has_lock or too
        case _:
            numbered = bool(behind) and found[at + 1].kind is Kind.NUMBER
            apart = at > 0 and found[at - 1].kind in (Kind.NUMBER, Kind.MARK)
            if by.islower() and len(by) <= 3 and len(token.folded) == 2 and joined and ends:
                return True  # km and rb
            two = len(token.folded) == 2
            if two and ends and at > 0 and found[at - 1].kind is Kind.NUMBER:
                return True  # lock 14 tn
            return number or (numbered and apart and two and token.folded not in _NUMBERED)


def _second_lock(found: Sequence[Token], locks: Set[str]) -> str | None:
    """A second lock's number in a text that says more than two numbers of one man."""
    at = [i for i, t in enumerate(found) if t.folded in locks]
    numbers: list[tuple[int, str]] = []
    for i in at:
        n = i + 1 + (i + 1 < len(found) and found[i + 1].folded in _NO)
        if n < len(found) and found[n].kind is Kind.NUMBER:
            numbers.append((n, found[n].folded))
    if len({number for _, number in numbers}) < 2:
        return None
    (first, _), *_, (last, number) = numbers
    rest = (*found[first:last], *found[last + 1 :])
    plain = all(t.folded.isdecimal() or t.folded in _JOINS | locks for t in rest)
    return None if plain else f"lock {number}"


def nobody(by: str, text: str) -> bool:
    """Whether nobody can be told by the owner of a lock, or more than one."""
    if len(by) == 2 and by.isalpha() and by.isupper():
        return False
    folded = _plain(by)
    short = by.isupper() and len(folded) <= 3 and folded not in LOCKS
    if folded in NOBODY and not short:
        return True
    if not any(map(str.isalpha, by)) and not by.isdecimal():
        return True
    if folded in ROLES and not short:
        return True
    if len([who for who in _TOGETHER.split(by) if any(map(str.isalpha, who))]) > 1:
        return True
    behind = text.split(None, 1)[0] if text.strip() else ""
    if len(by) == 1 and len(behind.strip(".,;:")) == 1 and behind[0].isalpha():
        return True  # K M
    named = behind[:1].isupper() and fold_word(behind.strip(".,;:")) not in LOCKS
    return folded in _BEGINS and not short and (named or fold_word(behind) in _BEGINS)


def people_of(by: str) -> tuple[str, ...]:
    """The people that an owner in one word names: KM/RB; one where it is one."""
    several = [who for who in _TOGETHER.split(by) if who and _plain(who) not in LOCKS]
    return tuple(several) if len(several) > 1 else (several[0] if several else by,)


def is_surname(by: str, text: str) -> bool:
    """Whether a lock's text begins with a name behind an owner that is one: Siân Murphy."""
    first = next(iter(tokens(fold(text[:_MOST_TEXT]), 0, len(text), LOCKS)), None) if text else None
    return first is not None and first.kind is Kind.NAME and _is_name(by)


def is_work(who: str) -> bool:
    """Whether somebody is told by their work, or not at all: no owner for a lock."""
    folded = _plain(who)
    return not folded or folded in ROLES or (folded in NOBODY and not who.isupper())


def _is_name(by: str) -> bool:
    return len(by) > 2 and by[:1].isupper() and not by.isupper()


def _plain(word: str) -> str:
    return fold_word(word).strip(".,:;()'").replace(".", "").removesuffix("'s").removesuffix("’s")


# -- other looms ---------------------------------------------------------------------------

_WORD = re.compile(r"[^\s,;()&+/]+")
_ONLY_NAMED = words(
    "from von vom like wie than into beside near opposite behind between unlike via gegenüber"
    " neben fits spares"
)
_ONLY_AS = words("as wie key keys schlüssel same-as parts part head tape next spare spares moved")
_WHOLE = words("all whole section row group alle ganze reihe entire of")


def looms_in(vocabulary: Vocabulary, text: str) -> tuple[str, ...]:
    """The looms that a text on a lock names, but for what is only from there, or as there."""
    found: list[str] = []
    before: list[str] = []
    if not text or _ORDINARY.fullmatch(text):
        return ()
    for match in _WORD.finditer(text[:_MOST_TEXT]):
        word = match[0].strip(".:!?'\"")
        folded = fold_word(word)
        place = vocabulary.place(word) if word else None
        if place is not None and _is_meant(word, before):
            found += place.looms
        before.append(folded)
    return tuple(dict.fromkeys(found))


def looms_behind(vocabulary: Vocabulary, line: str) -> tuple[str, ...]:
    """The looms that a line names behind a word of isolation, and in later clauses with one."""
    own = (*vocabulary.words_for("isolated by"), *vocabulary.words_for("isolated"))
    signs = ("isol", "lock", *(fold_word(phrase).split()[0] for phrase in own))
    found: list[str] = []
    for number, piece in enumerate(line[:LONGEST_LINE].split(";")):
        folded = fold(piece)
        at = [start for sign in signs if (start := folded.text.find(sign)) >= 0]
        if at:
            begin = 0 if number else min(at)
            found += looms_in(vocabulary, folded.cut(begin, len(folded.text)))
    return tuple(dict.fromkeys(found))


def _is_meant(word: str, before: Sequence[str]) -> bool:
    last = before[-1] if before else ""
    if last in _ONLY_NAMED or _ONLY_AS & {*before[-3:]}:
        return False
    if "because" in before[-3:]:
        return False
    if last in ("for", "to", "für", "zu") and len(before) > 1 and before[-2].isalpha():
        return before[-2] in ("same", "also", "too", "auch")
    if word.isdecimal():  # a lock's number, where looms have numbers alone
        return last in ("on", "auf", "loom", "looms", "webmaschine", "maschine")
    if word.isalpha():
        return bool(_WHOLE & {last}) and (word.isupper() or len(word) > 2)
    return True
