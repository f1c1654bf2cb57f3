"""Isolations in lines that were not understood, or not as their writer may have meant them.

Errs on the side of showing a line too many: whoever trusts the board must not miss a lock because
of a slip of the pen.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from grammar.entries import (
    Clause,
    HandedOver,
    Isolated,
    LockRemoved,
    LockSeen,
    Moved,
    Note,
    TakenOver,
)
from grammar.folding import Folded, fold_word
from grammar.lock_beside import looms_in, nobody, others
from grammar.lock_in_text import TextLocks, Told, somebody
from grammar.near_locks import NearLocks, has_initials, place_in
from grammar.nearest import allowed_slips, distance
from grammar.phrases import key_word, spellings
from grammar.vocabulary import Vocabulary, alternatives

_OWN = (
    *("isolated", "isolate", "isolation", "lock", "locked", "lockout", "lock-out"),
    *("padlock", "padlocked"),
)
_STEMS = re.compile(
    r"(?<!\w)(?:isol|iso?l?at|iso(?!\w)|lock(?!step)|(?!loo|look)l[ock]{2,3}(?!\w)|padlock|loto(?!\w)"
    r"|tag(?:ged)?[\s-]*out(?!\w)|inside\s*(?:\Z|;)"
    r"|in(?:side)?\s+(?:the\s+)?(?:machine|loom)(?!\w)|vorhängeschl[oö]ss)"
    r"|isolated|[0-9](?:pad)?lock"  # a blank forgotten: N07isolated
)
_THREAD_LOCK = re.compile(r"(?<!\w)thread[\s-]*lock\w*")
_WORD = re.compile(r"[^\W\d_][\w-]{3,}")
_WITHOUT_TEXT = (LockRemoved, LockSeen, HandedOver, TakenOver, Moved)
_LONGEST_WORD = 20
_LONGEST_PIECE = 200  # where a removal is looked for; keeps hostile text cheap
_AROUND = 200  # [characters] to each side of a word of isolation in a line too long to be read
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
        long = frozenset(word for word in words - small if len(word) > 4)
        of_locks = frozenset((*locks, "lock", "locks", "padlock"))
        self._near_locks = NearLocks(long, of_locks, spellings(vocabulary, ("by",)))
        self._text_locks = TextLocks(vocabulary)
        self._vocabulary = vocabulary
        self._locks = self._text_locks.signs.lock_words
        self._may_be = self._text_locks.signs.may_be

    def near(self, folded: str) -> bool:
        """Whether a folded line holds a word of isolation, or one near it."""
        # read as UTF-8, a text in UTF-16 has a NUL beside each letter
        folded = _THREAD_LOCK.sub(" ", folded.replace("\0", ""))
        if _STEMS.search(folded) or self._phrases.search(folded):
            return True
        return any(self._is_near(word) for word in set(_WORD.findall(folded)))

    def speaks(self, folded: Folded, start: int, end: int) -> bool:
        """Whether a stretch of a folded line holds a word of isolation, or tells of somebody's."""
        if self.near(folded.text[start:end]):
            return True
        return self._may_tell(folded, start, end) and self._tells(folded, start, end)

    def anywhere(self, text: str) -> bool:
        """Whether a text of any length holds a word of isolation; slips of the pen aside."""
        folded = _THREAD_LOCK.sub(" ", text.casefold().replace("\0", ""))
        return bool(_STEMS.search(folded) or self._phrases.search(folded))

    def around(self, text: str) -> str | None:
        """What stands around the first word of isolation in a text of any length, if there is one.

        Slips of the pen aside.
        """
        if not self.anywhere(text):
            return None
        pieces = (text[at : at + 2 * _AROUND] for at in range(0, len(text), _AROUND))
        return next((piece for piece in pieces if self.anywhere(piece)), text[: 2 * _AROUND])

    def writer(self, folded: Folded) -> str | None:
        """Who stands behind ``; by`` at the end of a line, as written."""
        begin = folded.text.rfind(";") + 1
        if not begin or self._writer.match(folded.text, begin) is None:
            return None
        end = len(folded.text.rstrip())
        return folded.cut(end - len(folded.text[begin:end].split()[-1]), end)

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

        Blanked, not cut out, so that every place in the line stays what it was. Of two writers
        neither is left: the isolations count, whoever wrote them.
        """
        head = _HEAD.match(folded)
        if head is None:
            return None
        only = [" "] * len(folded)
        only[: head.end()] = head[0]
        isolations: list[re.Match[str]] = []
        writers: list[re.Match[str]] = []
        for piece in _PIECE.finditer(folded, head.end()):
            if self._clause.match(piece[0]) is not None:
                isolations.append(piece)
            elif isolations and self._writer.match(piece[0]):
                writers.append(piece)
        for piece in (*isolations, *(writers if len(writers) == 1 else ())):
            only[piece.start() : piece.end() + 1] = folded[piece.start() : piece.end() + 1]
        return "".join(only) if isolations else None

    def left_over(self, folded: Folded) -> bool:
        """Whether a folded line, less its clauses ``isolated by WHO``, holds a word of isolation.

        Then it may tell of more isolations than were read from it.
        """
        head = _HEAD.match(folded.text)
        begin = head.end() if head is not None else 0
        pieces = list(_PIECE.finditer(folded.text, begin))
        rest = [" " if self.isolates(piece[0]) else piece[0] for piece in pieces]
        return self.near(";".join(rest))

    def _tells(self, folded: Folded, start: int, end: int) -> bool:
        return next(self._told(folded, start, end), None) is not None

    def is_quiet(self, clause: object, folded: Folded, start: int, end: int) -> bool:
        """Whether a clause, from ``start`` to ``end``, tells of no isolation but its own.

        ``folded`` is a line that folds letter by letter.
        """
        if isinstance(clause, Isolated):
            if nobody(clause.by, clause.text) or any(self._others(clause.by, clause.text)):
                return False
            if clause.text and looms_in(self._vocabulary, clause.text):
                return False
            start = end - len(folded.text[start:end].lstrip())
            return next(self._named_inside(folded, start, end), None) is None
        if not self._may_tell(folded, start, end) or isinstance(clause, _WITHOUT_TEXT):
            return True
        return not self._tells(folded, start, end)

    def swallowed(self, folded: Folded, clauses: Iterable[Clause]) -> bool:
        """Whether a text of a line tells of an isolation that was not read from it.

        Or the text of a lock names somebody else beside its owner, who has no lock by that, or
        another loom; or its owner is nobody.
        """
        if not (self._may_be(folded.text) or has_initials(folded.line)):
            return False
        locks = [clause for clause in clauses if isinstance(clause, Isolated)]
        for lock in locks:
            if nobody(lock.by, lock.text) or self.another(lock.by, lock.text, locks) is not None:
                return True
            if self.looms_beside(folded, lock.text):
                return True
        return self.taken_in(folded, clauses) is not None

    def another(self, by: str, text: str, locks: Iterable[Isolated] = ()) -> str | None:
        """Who stands in the text of a lock beside its owner and has none of the other ``locks``."""
        inner = self._inside.search(fold_word(text))
        if inner is not None:
            text = text[: inner.start()]  # told by ``taken_in``
        owners = {fold_word(lock.by) for lock in locks}
        found = self._others(by, text)
        first = next(found, None)
        if first is None or not owners or fold_word(first) not in owners:
            return first
        return next((who for who in found if fold_word(who) not in owners), None)

    def _others(self, by: str, text: str) -> Iterator[str]:
        return others(by, text, self._locks, self._text_locks.known)

    def looms_beside(self, folded: Folded, text: str) -> tuple[str, ...]:
        """The looms that the text of a lock names beside that of its line."""
        named = looms_in(self._vocabulary, text)
        if not named:
            return ()
        own = self._vocabulary.loom(folded.text.split(None, 2)[1])
        return tuple(loom for loom in named if loom != own)

    def taken_in(self, folded: Folded, clauses: Iterable[Clause]) -> Told | None:
        """What of a line tells of a lock that was not read: somebody else's, or elsewhere."""
        clauses = tuple(clauses)
        owners = {fold_word(c.by) for c in clauses if isinstance(c, Isolated)}
        for start, end, is_lock in self._texts(folded, clauses):
            if not self._may_tell(folded, start, end):
                continue
            told = self._named_inside if is_lock else self._told
            for lock in told(folded, start, end):
                owned = fold_word(lock.who) in owners if lock.who else bool(owners)
                if not owned or self.looms_beside(folded, folded.cut(start, end)):
                    return lock
        return None

    def _texts(self, folded: Folded, clauses: Iterable[Clause]) -> Iterator[tuple[int, int, bool]]:
        """The stretches of a line that may tell of a lock, each with whether one was read there.

        A note is one, with all that stands behind it.
        """
        read = {place_in(folded, c.span.start): c for c in clauses}
        head = _HEAD.match(folded.text)
        for piece in _PIECE.finditer(folded.text, head.end() if head is not None else 0):
            start = piece.end() - len(piece[0].lstrip())
            clause = read.get(start)
            if isinstance(clause, Note):
                yield start, place_in(folded, clause.span.end), False
                return
            if start < piece.end() and not isinstance(clause, _WITHOUT_TEXT):
                yield start, piece.end(), isinstance(clause, Isolated)

    def _may_tell(self, folded: Folded, start: int, end: int) -> bool:
        """Whether a stretch of a line may tell of a lock: soon told, and most do not."""
        return self._may_be(folded.text[start:end]) or has_initials(folded.line, start, end)

    def _named_inside(
        self, folded: Folded, start: int, end: int, *, is_lock: bool = True
    ) -> Iterator[Told]:
        """Where a stretch of a line says ``isolated by WHO`` behind its beginning.

        Where it is no lock's own, ``TextLocks`` tells persons.
        """
        for match in self._inside.finditer(folded.text, start + 1, end):
            who = match.end("by") - 1
            name = somebody(folded, who, apart=match["apart"] is not None)
            if name is None and is_lock:
                name = self._text_locks.person(folded, who, end)
            if name is not None:
                yield Told(start=match.start("by"), who=name)

    def _told(self, folded: Folded, start: int, end: int) -> Iterator[Told]:
        """Where a stretch of a line tells of a lock."""
        yield from self._named_inside(folded, start - 1, end, is_lock=False)
        if has_initials(folded.line):
            for initials, word in self._near_locks.told(folded, start, end):
                who = self._text_locks.person(folded, initials, end)
                if who is not None:
                    yield Told(start=word, who=who)
        yield from self._text_locks.told(folded, start, end)


def _words_of(vocabulary: Vocabulary, phrase: str) -> list[list[str]]:
    """The language's words for a phrase and the mill's own, each folded and word by word."""
    own = (phrase, *vocabulary.words_for(phrase), *vocabulary.words_for(f"{phrase} by"))
    return [fold_word(words).split() for words in own]


def _near_one(word: str, known: list[str]) -> bool:
    """Whether a word is one of those known but for slips of the pen."""
    slips = ((other, allowed_slips(other)) for other in known)
    return any(distance(word, other, most) <= most for other, most in slips)
