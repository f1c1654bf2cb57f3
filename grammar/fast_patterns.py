"""What can be told of a regular expression without running it, to prove the fast path right.

Works on the parsed form that the library's own compiler uses. Whatever is not known here is
``Unprovable``, so that a pattern of a new kind costs speed and never truth.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache, lru_cache
from importlib import import_module
from typing import Any

Item = tuple[Any, Any]
Items = Sequence[Item]

_LONGEST = 8  # [characters] of a beginning that are looked at
_MOST = 2000  # beginnings of one pattern; with more of them nothing is claimed
_WIDEST_CLASS = 16  # characters of a class that are told apart


class Unprovable(Exception):
    """Nothing can be claimed of a pattern, and why."""


@cache
def _spaces() -> str:
    """Every character of white space; Unicode has them all on its first plane."""
    return "".join(filter(str.isspace, map(chr, range(0x10000))))


@lru_cache(maxsize=512)
def parsed(pattern: str) -> Items:
    """The items of a pattern. Raises Unprovable where it cannot be told what they are."""
    try:
        return list(import_module("re._parser").parse(pattern))
    except Exception as error:
        raise Unprovable(f"the pattern cannot be taken apart: {error}") from error


# -- single characters -----------------------------------------------------------------------


def _takes(item: Item, character: str) -> bool:
    """Whether an item that takes one character takes this one. Raises Unprovable."""
    op, what = str(item[0]), item[1]
    match op:
        case "LITERAL":
            return bool(what == ord(character))
        case "NOT_LITERAL":
            return bool(what != ord(character))
        case "ANY":
            return character != "\n"
        case "IN":
            negated = str(what[0][0]) == "NEGATE"
            return any(_in_set(one, character) for one in what[negated:]) is not negated
    raise Unprovable(f"{op} is not known here")


def _in_set(item: Item, character: str) -> bool:
    op, what = str(item[0]), item[1]
    match op:
        case "LITERAL":
            return bool(what == ord(character))
        case "RANGE":
            return bool(what[0] <= ord(character) <= what[1])
        case "CATEGORY":
            name = str(what).removeprefix("CATEGORY_")
            known = {"SPACE": str.isspace, "DIGIT": str.isdecimal, "WORD": _is_word}
            known_name = name.removeprefix("NOT_")
            if known_name in known:
                return bool(known[known_name](character)) is (name == known_name)
    raise Unprovable(f"{op} {what} is not known here")


def _is_word(character: str) -> bool:
    return character.isalnum() or character == "_"


_ONE = frozenset(("LITERAL", "NOT_LITERAL", "ANY", "IN"))
_REPEATS = frozenset(("MAX_REPEAT", "MIN_REPEAT", "POSSESSIVE_REPEAT"))


def _inner(item: Item) -> list[Items]:
    """The sequences inside an item. Raises Unprovable for what looks back or elsewhere."""
    op, what = str(item[0]), item[1]
    if op in _REPEATS:
        return [what[2]]
    match op:
        case "BRANCH":
            return list(what[1])
        case "SUBPATTERN":
            if what[1] or what[2]:
                raise Unprovable("a pattern with flags of its own")
            return [what[3]]
        case "ATOMIC_GROUP":
            return [what]
        case "ASSERT" | "ASSERT_NOT":
            if what[0] < 0:
                raise Unprovable("a pattern that looks back")
            return [what[1]]
        case "FAILURE":  # what Python 3.13 makes of a look-ahead that never holds
            return []
    raise Unprovable(f"{op} is not known here")


def _atoms(items: Items, *, last: bool = False) -> Iterator[Item]:
    """Every item that takes a character, but for the last one of a look-ahead.

    Only behind that one nothing more is looked at, whatever it found. Raises Unprovable.
    """
    for place, item in enumerate(items, start=1):
        op, what = str(item[0]), item[1]
        is_last = last and place == len(items)
        if op in _ONE:
            if not is_last:
                yield item
        elif op == "AT":
            if not is_last or str(what) != "AT_END":
                raise Unprovable(f"{what} is not known here")
        else:
            ends = op in ("ASSERT", "ASSERT_NOT") or (
                is_last and (op not in _REPEATS or what[1] == 1)
            )
            for inner in _inner(item):
                yield from _atoms(inner, last=ends)


def _every_atom(items: Items) -> Iterator[Item]:
    """Every item that takes a character, or looks at one."""
    for item in items:
        if str(item[0]) in _ONE:
            yield item
        else:
            for inner in _inner(item):
                yield from _every_atom(inner)


@lru_cache(maxsize=512)
def stays_in_clause(pattern: str) -> bool:
    """Whether what a pattern finds depends on the text up to and with the next ``;`` alone.

    So it is where no item takes a ``;``, unless nothing is looked at behind it. Raises Unprovable.
    """
    return not any(_takes(item, ";") for item in _atoms(parsed(pattern)))


# -- whole patterns of one shape -------------------------------------------------------------


def _is_class(items: Items, takes: str, repeated: tuple[int, bool]) -> bool:
    """Whether items are one class, so often, that takes white space and the given others alone."""
    if len(items) != 1 or str(items[0][0]) not in _REPEATS - {"MIN_REPEAT"}:
        return False
    least, most, (inner, *rest) = items[0][1]
    if rest or str(inner[0]) != "IN" or (least, most > 1) != repeated:
        return False
    members = [(str(op), str(what)) for op, what in inner[1]]
    return sorted(members) == sorted(
        [("CATEGORY", "CATEGORY_SPACE"), *(("LITERAL", str(ord(c))) for c in takes)]
    )


def is_white_space(pattern: str) -> bool:
    """Whether a pattern is ``\\s+``."""
    return _is_class(parsed(pattern), "", (1, True))


def is_separator(pattern: str) -> bool:
    """Whether a pattern is ``;`` with all ``;`` and white space behind it."""
    first, *rest = parsed(pattern)
    return (str(first[0]), first[1]) == ("LITERAL", ord(";")) and _is_class(rest, ";", (0, True))


def is_word_space_word(pattern: str) -> bool:
    """Whether a pattern is a word, white space and a word, with white space and ``;`` behind it.

    The first word is found by itself: no item of it takes white space. The second is anything
    that is neither white space nor ``;``. Then both are what stands between white space.
    """
    items = list(parsed(pattern))
    if len(items) < 4:
        return False
    *word, space, place, behind = items
    op, what = str(behind[0]), behind[1]
    if op != "MAX_REPEAT" or tuple(what[:2]) != (0, 1) or not _is_class(what[2], ";", (1, True)):
        return False
    if not _is_class([space], "", (1, True)) or str(place[0]) != "MAX_REPEAT":
        return False
    least, most, inner = place[1]
    if least != 1 or most < _MOST or len(inner) != 1:
        return False
    op, members = str(inner[0][0]), inner[0][1]
    if op != "IN" or str(members[0][0]) != "NEGATE" or not _is_class_of(members[1:]):
        return False
    return not any(_takes(item, c) for item in _every_atom(word) for c in _spaces())


def _is_class_of(members: Items) -> bool:
    found = sorted((str(op), str(what)) for op, what in members)
    return found == [("CATEGORY", "CATEGORY_SPACE"), ("LITERAL", str(ord(";")))]


# -- how a match begins ----------------------------------------------------------------------

_Begun = set[tuple[str, bool]]  # a beginning, and whether it is all of the sequence


@lru_cache(maxsize=512)
def beginnings(pattern: str) -> frozenset[str]:
    """What every match of a pattern begins with, one of these, white space counted as one blank.

    Raises Unprovable.
    """
    return frozenset(text for text, _ in _sequence(parsed(pattern)))


def _sequence(items: Items) -> _Begun:
    done: _Begun = set()
    live = {""}
    for item in items:
        ahead: set[str] = set()
        heads = _heads(item)
        for text in live:
            for head, whole in heads:
                longer = text + (head[1:] if text.endswith(" ") and head[:1] == " " else head)
                if whole and len(longer) < _LONGEST:
                    ahead.add(longer)
                else:
                    done.add((longer[:_LONGEST], False))
        live = ahead
        if len(live) + len(done) > _MOST:
            return {("", False)}
    return done | {(text, True) for text in live}


def _heads(item: Item) -> _Begun:
    op, what = str(item[0]), item[1]
    if op == "LITERAL":
        return {(_blank(chr(what)), True)}
    if op in ("NOT_LITERAL", "ANY"):
        return {("", False)}
    if op == "IN":
        return _class_heads(what)
    if op in ("ASSERT", "ASSERT_NOT", "AT"):
        return {("", True)}
    if op in _REPEATS:
        least, most, inner = what
        once = _sequence(inner)
        if most > 1 and once != {(" ", True)}:
            once = {(text, False) for text, _ in once}
        return once | {("", True)} if least == 0 else once
    return set().union(*(_sequence(inner) for inner in _inner(item)))


def _class_heads(members: Items) -> _Begun:
    found: set[str] = set()
    for op, what in members:
        match str(op), str(what):
            case "LITERAL", _:
                found.add(chr(what))
            case "RANGE", _ if what[1] - what[0] < _WIDEST_CLASS:
                found |= set(map(chr, range(what[0], what[1] + 1)))
            case "CATEGORY", "CATEGORY_SPACE":
                found.add(" ")
            case _:
                return {("", False)}
    return {(_blank(character), True) for character in found}


def _blank(character: str) -> str:
    return " " if character.isspace() else character


@lru_cache(maxsize=512)
def _cut_short(pattern: str) -> frozenset[str]:
    """The beginnings of a pattern, at any length."""
    return frozenset(text[:n] for text in beginnings(pattern) for n in range(len(text) + 1))


@lru_cache(maxsize=4096)
def never_both(one: str, other: str) -> bool:
    """Whether two patterns surely never match at the same place."""
    try:
        return beginnings(one).isdisjoint(_cut_short(other)) and beginnings(other).isdisjoint(
            _cut_short(one)
        )
    except Unprovable:
        return False
