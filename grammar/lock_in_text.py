"""Somebody's lock told in the middle of a text, where it counts for nothing.

A word of isolation (``lock_signs``) together with somebody (``people``) tells of a lock, unless the
words around them say otherwise. A text may well say ``isolated by the fence``.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence

from grammar.folding import Folded
from grammar.frozen import dataclass
from grammar.lock_signs import LockSigns, Sign
from grammar.people import NO_NAMES, PEOPLE, SMALL, THINGS, Kind, Token, tokens, words
from grammar.vocabulary import Vocabulary

_ARTICLES = words("the a an der die das dem den einem einer ein eine")
_OWN = words("our my his her their unser unserem unserer")
_THEIR = words("his her their my")
_CREWS = words("shift crew team maintenance schicht instandhaltung nachtschicht frühschicht")
_SELF = words("me myself us nobody noone someone somebody anybody mir uns niemand jemand")
_NO = words("no nr number nummer #")
_OF = words("of from von")
_ON = words("on back still put set in place there hung is was been again now noch am dran")
_STILL = words("still noch left remains stays bleibt remain")
_BEFORE_INSIDE = words(
    "climbed climbs crawled crawls gone went goes lying reaching reached standing stands"
    " arbeitet steckt is are still ist sind noch both now was again too also currently work"
    " works working and beide"
)
_GONE = words("off removed gone away entfernt ab weg runter taken")
_NOT_GONE = words("not never still nicht noch n't isn't no")
_PUT = words("put puts hung hangs has have had got hat keeps left")
_AT_ONCE = words("has have hat had is it still just now noch")
_IT = words("it this that the off out")
_MARKS = frozenset(",:;(-–—>[/\"'.=+&")
_PLACES = words("and tagged in place out off up on again still noch")
_LEFT_ON = words("on drauf dran")
# whoever is only spoken to, or speaks; the verb before them, and behind them
_SPOKEN_TO = words(
    "ask asked asking tell told telling call called calling inform informed phone phoned show"
    " showed shown see saw wait waiting waits until till frag fragt gefragt talked spoke thank"
    " thanks help helped"
)
_SPEAKS = words("saw heard says said thinks asked wants did knows told informed noticed")
_HANDS = words("hand hands arm arms hände")
_KEY = words("key keys schlüssel part parts tool tools spare spares guard radio")
# a lock that is a part
_MENDED = words(
    "broken stiff worn oiled greased missing sticks stuck repaired mended changed replaced bent"
    " rusty lost cracked loose fitted fits new ordered order checked ok look"
)
_FASTENERS = words("screw screws nut nuts bolt bolts stud studs thread threads pin pins")
_SHORT = 600  # characters of a clause whose words are all looked at, around each sign
_AROUND = 300  # and in a longer one, those to each side
_NEAR = 100
_REACH = 6  # words around a lock's number in which somebody may stand
_LOCK_BEHIND = re.compile(r"[^\s;]+\s+(?:pad)?lock\s*(?:no\.?\s*)?\d")
_NAME = re.compile(r"[^\s;,.:]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A lock that a text tells of: where in the folded line, and whose it is; "" where unknown."""

    start: int
    who: str


def somebody(folded: Folded, start: int, *, apart: bool) -> str | None:
    """The word behind ``isolated by`` where it is a person, and not, say, the fence.

    Behind a comma it may be any word (``apart``); else what names a person in ``TextLocks``, or any
    with a lock and its number behind it.
    """
    word = _NAME.match(folded.text, start)
    if word is None:
        return None
    behind = _LOCK_BEHIND.match(folded.text, start) is not None
    return folded.cut(*word.span()) if apart or behind else None


class TextLocks:
    """Finds the locks that a text tells of: a word of isolation, and somebody."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self.signs = LockSigns(vocabulary)
        named = {*vocabulary.part_by_word, *vocabulary.side_by_word, *vocabulary.quantity_words}
        self.known = frozenset(word for name in named for word in name.split())
        self._never_names = self.known | self.signs.lock_words

    def words(self, folded: Folded, start: int, end: int) -> list[Token]:
        """The words of a stretch of a folded line."""
        return tokens(folded, start, end, self._never_names)

    def person(self, folded: Folded, start: int, end: int) -> str | None:
        """The person that the words from ``start`` on name, or None."""
        found = self.someone(self.words(folded, start, min(start + _NEAR, end)), 0)
        return found.written if found is not None else None

    def told(self, folded: Folded, start: int, end: int) -> Iterator[Told]:
        """The locks that a stretch of a folded line tells of: a clause of it."""
        found: list[Token] = []
        begin = stop = start
        for sign in self.signs.found(folded.text, start, end):
            if not found or sign.end + _NEAR > stop < end or sign.start - _NEAR < begin > start:
                begin, stop = start, end
                if end - start > _SHORT:
                    begin, stop = max(sign.start - _AROUND, start), min(sign.end + _AROUND, end)
                found = self.words(folded, begin, stop)
            first = bisect_right(found, sign.start, key=lambda t: t.end)
            last = bisect_left(found, sign.end, key=lambda t: t.start)
            for token in self._whose(found, first, last, sign.sign):
                who = token.written if token is not None else ""
                at = min(token.start, sign.start) if token is not None else sign.start
                yield Told(start=at, who=who)

    def _whose(
        self, found: list[Token], first: int, last: int, sign: Sign
    ) -> Iterator[Token | None]:
        """Whose lock a sign tells of, which stands from token ``first`` to ``last``."""
        if sign is Sign.INSIDE:
            yield from self._inside(found, first, last)
            return
        things = sign is not Sign.STATE and self._is_things(found, first)
        if things and _FASTENERS & {t.folded for t in found[max(first - 2, 0) : first]}:
            return
        by = self._behind_by(found, last, sign)
        if by is not None and not (things and sign is Sign.LOCK):
            who = self.someone(found, by)
            if who is not None and who.kind not in PEOPLE and found[by - 1].folded in _OF:
                who = None  # a thing's
            if who is not None:
                yield who
            if who is not None or not _is_done(found, by):
                return
        if sign is Sign.LOCK:
            yield from self._of_lock(found, first, last, things=things)
        elif sign is Sign.STATE:
            yield from (t for t in found if t.kind is Kind.INITIALS)
            yield from _subject(found, first, last)
            yield from _beside(found, last)
            if last < len(found) and _are_small_initials(found[last]):
                yield found[last]
            if first and found[first - 1].folded in _STILL:
                yield None
        elif sign is Sign.NOUN or not things:
            yield from _around(found, first, last, spoken_of=sign is Sign.JAMMED)
            yield from _subject(found, first, last)
            yield from _beside(found, last)

    def _behind_by(self, found: list[Token], last: int, sign: Sign) -> int | None:
        """What stands behind a ``by`` that follows a sign."""
        apart = False
        for i in range(last, min(last + 5, len(found))):
            token = found[i]
            of = sign is not Sign.STATE and not apart and token.folded in _OF
            if token.folded in self.signs.by or of:
                return i + 1
            small = token.kind in (Kind.NUMBER, Kind.MARK) or token.folded in _ON | _NO
            apart = apart or not small
            if apart and sign is Sign.LOCK:
                return None
        return None

    def someone(self, found: Sequence[Token], at: int) -> Token | None:
        """The person that the words from ``at`` on name, or None."""
        while at < len(found) and found[at].folded in _MARKS:
            at += 1
        if at >= len(found):
            return None
        token = found[at]
        if token.folded in _ARTICLES and token.kind is not Kind.INITIALS:
            near = found[at + 1 : at + 3]
            return next((t for t in near if t.kind is Kind.ROLE), None)
        if token.folded in _OWN:
            people = [t for t in found[at + 1 : at + 3] if t.kind in PEOPLE]
            named = [t for t in people if t.kind is not Kind.ROLE]
            return next(iter((*named, *people)), None)
        if token.kind in PEOPLE or token.folded in _SELF | _CREWS:
            return token
        behind = found[at + 1 : at + 3]
        if len(token.folded) == 1 and len(behind) == 2 and behind[0].folded == ".":
            return behind[1] if behind[1].kind is Kind.NAME else None  # by M. Jones
        if behind and behind[0].folded in _CREWS:
            return behind[0]
        if at + 1 < len(found) and found[at + 1].kind is Kind.ROLE:
            return found[at + 1]  # by night electrician
        if token.kind is not Kind.WORD or token.folded in self.known or len(token.folded) < 3:
            return None
        ordinary = token.folded in THINGS | SMALL | NO_NAMES or token.folded in self.signs.things
        return None if ordinary or token.folded.endswith(("ing", "ed")) else token

    def _is_things(self, found: list[Token], first: int) -> bool:
        """Whether what stands before a sign is a thing that may have a lock or be stuck."""
        before = [t.folded for t in found[max(first - 2, 0) : first]]
        if before and before[-1] in ("is", "was", "are", "got", "were", "ist"):
            before.pop()
        return (
            bool(before) and {before[-1], before[-1].removesuffix("s")} & self.signs.things != set()
        )

    def _of_lock(
        self, found: list[Token], first: int, last: int, *, things: bool
    ) -> Iterator[Token | None]:
        """Whose a lock is, told by what stands around the word."""
        begin = max(first - 2 * _REACH, 0)
        found, first, last = found[begin : last + 2 * _REACH], first - begin, last - begin
        rest = [t.folded for t in found]
        if first and rest[first - 1] in ("no", "kein"):
            return
        if _GONE & {*rest[max(first - 2, 0) : first], *rest[last : last + 3]} and not (
            _NOT_GONE & {*rest}
        ):
            return
        for i in (first - 1, first - 2):
            if i >= 0 and not things and found[i].owns and found[i].kind in PEOPLE:
                yield found[i]
        numbered = last
        while numbered < len(found) and rest[numbered] in _NO | {"."}:
            numbered += 1
        has_number = numbered < len(found) and found[numbered].kind is Kind.NUMBER
        on = next((i for i in range(last, min(last + 4, len(rest))) if rest[i] in _LEFT_ON), None)
        is_on = on is not None and (
            on + 1 == len(rest) or found[on + 1].kind in (Kind.MARK, Kind.INITIALS, Kind.NAME)
        )
        behind = numbered + 1 if has_number else (-1 if things else last)
        for i in (first - 1, behind):
            if not 0 <= i < len(found):
                continue
            kind = found[i].kind
            is_on_there = i < first and bool({*rest[last : last + 2]} & _ON)
            sure = (Kind.INITIALS, Kind.ROLE, *([Kind.NAME] if is_on_there else []))
            if kind in sure or (has_number and kind in PEOPLE):
                yield found[i]
        if things:
            return
        yield from _beside(found, last)
        before = found[max(first - 4, 0) : first]
        if first and rest[first - 1] in _THEIR:
            yield next((t for t in before if t.kind in PEOPLE), None)
        if any(t.folded in _PUT for t in before):
            yield from (t for t in before if t.kind in (Kind.INITIALS, Kind.NAME))
        things_lock = any(w in self.signs.things for w in rest[last : last + 4]) and not has_number
        if has_number or is_on or not (things_lock or _MENDED & {*rest}):
            near = range(max(first - _REACH, 0), min(last + _REACH, len(found)))
            for i in near:
                if found[i].kind is Kind.INITIALS and not only_spoken_of(found, i):
                    yield found[i]

    def _inside(self, found: list[Token], first: int, last: int) -> Iterator[Token | None]:
        """Who is in the machine: the word before it is somebody."""
        at = first - 1
        while at >= 0 and found[at].folded in _BEFORE_INSIDE | {",", "("}:
            at -= 1
        if at >= 0 and found[at].kind in (Kind.INITIALS, Kind.NAME, Kind.ROLE):
            ended = last >= len(found) or found[last].kind is Kind.MARK
            plain = [t.folded for t in found[first:last]] == ["inside"]
            behind = "" if ended else found[last].folded
            of_thing = behind in self.known | self.signs.things | _ARTICLES | _OF
            if not plain or not of_thing or at < first - 1:
                yield found[at]
        elif at >= 0 and found[at].kind is Kind.DOUBTFUL and at < first - 1:
            yield found[at]
        elif at >= 0 and _are_small_initials(found[at]):
            if at < first - 1 or first + 1 < last:  # tn is inside, tn in the machine
                yield found[at]
        elif at >= 0 and found[at].folded in _HANDS:
            yield next((t for t in found if t.kind in (Kind.INITIALS, Kind.NAME)), None)
        if last < len(found) and found[last].folded == ":":
            yield from _beside(found, last)


def only_spoken_of(found: Sequence[Token], at: int) -> bool:
    """Whether somebody is only spoken to, has a key, or says something: nothing of a lock."""
    before = [t.folded for t in found[max(at - 6, 0) : at]]
    behind = [t.folded for t in found[at + 1 : at + 2]]
    if before and before[-1] in _ARTICLES | _OWN:
        before.pop()
    if before and before[-1] in ("with", "bei", "at", "from", "mit", "has") and _KEY & {*before}:
        return True
    if before and before[-1] in ("to", "with", "on", "auf", "for"):
        before.pop()
    if before and before[-1] in _SPOKEN_TO:
        return True
    return bool(behind) and behind[0] in _SPEAKS


def _are_small_initials(token: Token) -> bool:
    return token.kind is Kind.SMALL and len(token.folded) == 2


def _is_done(found: Sequence[Token], at: int) -> bool:
    """Whether something was isolated by doing another thing: by opening the switch."""
    return at < len(found) and found[at].folded.endswith("ing")


def _subject(found: list[Token], first: int, last: int) -> Iterator[Token | None]:
    """Who isolated it, where that stands right before the word."""
    at = first - 1
    while at >= 0 and found[at].folded in _AT_ONCE:
        at -= 1
    if at < 0:
        return
    object_ = last < len(found) and found[last].folded in _IT
    named = found[at].kind is Kind.NAME and (object_ or at < first - 1)
    if named or found[at].kind is Kind.ROLE:
        yield found[at]


def _beside(found: list[Token], last: int) -> Iterator[Token | None]:
    """Who stands behind a word of isolation and a mark: isolated (Tomek)."""
    at = last
    while at < len(found) and (found[at].folded in _MARKS or found[at].folded == "for"):
        at += 1
    if last < at < len(found) and found[at].kind in (Kind.INITIALS, Kind.NAME, Kind.ROLE):
        yield found[at]


def _around(
    found: list[Token], first: int, last: int, *, spoken_of: bool
) -> Iterator[Token | None]:
    """Whose initials stand next to a word of isolation, or nearly so.

    ``spoken_of``: those who are only spoken to, too.
    """
    behind = last
    while behind < len(found) and found[behind].folded in _MARKS | _PLACES:
        behind += 1
    for i in (*range(max(first - 3, 0), first), behind, behind + 1):
        initials = i < len(found) and found[i].kind is Kind.INITIALS
        if initials and (spoken_of or not only_spoken_of(found, i)):
            yield found[i]
