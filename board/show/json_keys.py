"""How a key of a JSON document is described: its name, what its value is, one plain sentence."""

from __future__ import annotations

from enum import Enum

from grammar.frozen import dataclass


class Kind(Enum):
    """What a value is, in the words of the reference."""

    TEXT = "text"
    COUNT = "whole number"
    NUMBER = "number"
    SHARE = "number from 0 to 1"
    TRUTH = "true or false"
    TIME = "time"
    DATE = "date"
    RECORD = "object"
    COUNTS = "object of whole numbers by name"
    NUMBERS = "object of numbers by name"
    WORDS = "object of lists of text by name"


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One key: ``record`` names the keys of its objects, ``when`` tells when it is there."""

    name: str
    kind: Kind
    told: str
    listed: bool = False
    null: bool = False
    record: str = ""
    when: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """An object that is described once: its name, and its keys in their order."""

    name: str
    keys: tuple[Key, ...]


def key(name: str, kind: str, told: str, *, when: str = "") -> Key:
    """A key by a short form of its kind: ``[time]`` is a list, ``time?`` may be null.

    ``{name}`` is an object described under that name, ``[{name}]`` a list of them. Raises
    ValueError for a kind that is not known.
    """
    null, kind = kind.endswith("?"), kind.removesuffix("?")
    listed, kind = kind.startswith("["), kind.strip("[]")
    record = kind.strip("{}") if kind.startswith("{") else ""
    found = Kind.RECORD if record else _SHORT[kind] if kind in _SHORT else Kind(kind)
    return Key(name=name, kind=found, told=told, listed=listed, null=null, record=record, when=when)


_SHORT = {
    "count": Kind.COUNT,
    "share": Kind.SHARE,
    "truth": Kind.TRUTH,
    "counts": Kind.COUNTS,
    "numbers": Kind.NUMBERS,
    "words": Kind.WORDS,
}


PART = (
    key("part", "text", "the part, by the register's name"),
    key("side", "text?", "its side; null for a part without sides"),
    key("number", "count?", "its number on that side; null for a part that has none"),
)
