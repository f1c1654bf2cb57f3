"""A cheap way to change a frozen value: a copy of it with some of its fields set anew.

Does what ``dataclasses.replace`` does, in about half the time, for the values that a fold changes
at every entry. Only for slotted dataclasses without ``__post_init__`` and without slotted bases.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from operator import attrgetter
from typing import Any, TypeVar

T = TypeVar("T")

_new = object.__new__
_set = object.__setattr__


@lru_cache(maxsize=64)
def _fields(kind: type) -> tuple[Callable[[Any], tuple[Any, ...]], tuple[Any, ...]]:
    """What reads all fields of a class at once, and what sets each, past the frozen door."""
    names: tuple[str, ...] = kind.__slots__  # type: ignore[attr-defined]
    return attrgetter(*names), tuple(getattr(kind, name).__set__ for name in names)


def changed(value: T, **changes: object) -> T:
    """A copy of a frozen slotted value with some fields changed; the value stays as it was.

    Raises AttributeError for a field that the value does not have.
    """
    kind = type(value)
    read, setters = _fields(kind)
    copy: T = _new(kind)
    for setter, kept in zip(setters, read(value), strict=True):
        setter(copy, kept)
    for name, new in changes.items():
        _set(copy, name, new)
    return copy
