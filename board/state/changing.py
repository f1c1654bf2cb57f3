"""A cheap way to change a frozen value: a copy of it with some of its fields set anew.

Does what ``dataclasses.replace`` does in about a third of the time, for the values that a fold
changes at every entry. Only for slotted dataclasses without ``__post_init__`` or slotted bases.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any, TypeVar

T = TypeVar("T")

_set = object.__setattr__


@lru_cache(maxsize=64)
def _copier(kind: type) -> Callable[[Any], Any]:
    """A function that copies a value of a class field by field.

    Written out as source, as dataclasses do with ``__init__``: a loop over the fields takes half
    as long again.
    """
    names: tuple[str, ...] = kind.__slots__  # type: ignore[attr-defined]
    setters = {f"set_{name}": getattr(kind, name).__set__ for name in names}
    body = "".join(f"    set_{name}(copy, value.{name})\n" for name in names)
    source = f"def copier(value):\n    copy = new(kind)\n{body}    return copy\n"
    scope: dict[str, Any] = {"new": object.__new__, "kind": kind, **setters}
    exec(source, scope)
    copier: Callable[[Any], Any] = scope["copier"]
    return copier


def changed(value: T, **changes: object) -> T:
    """A copy of a frozen slotted value with some fields changed; the value stays as it was.

    Raises AttributeError for a field that the value does not have.
    """
    copy: T = _copier(type(value))(value)  # type: ignore[arg-type]
    for name, new in changes.items():
        _set(copy, name, new)
    return copy
