"""Cheap ways to make frozen slotted values, for the thousands that reading and folding make.

A frozen dataclass sets its fields one call each. A value of a *twin*, a plain class with the same
slots, takes them as fast as Python can and then becomes one of the frozen class, in about a sixth
of the time for an entry. A class with slotted bases can have no twin: its fields are set through
their descriptors, in about half the time. Only for slotted dataclasses without ``__post_init__``.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any, TypeVar

T = TypeVar("T")


def slots_of(kind: type) -> tuple[str, ...]:
    """The fields of a slotted class, those of its bases first."""
    return tuple(name for base in reversed(kind.__mro__) for name in vars(base).get("__slots__", ()))


@lru_cache(maxsize=128)
def maker(kind: type) -> Callable[..., Any]:
    """A constructor of a frozen class that takes every field by its place, in ``slots_of`` order.

    Defaults do not apply; what would be checked at making is not.
    """
    names = slots_of(kind)
    if kind.__bases__ == (object,):
        twin = type(kind.__name__, (), {"__slots__": names})
        body = "".join(f"    value.{name} = {name}\n" for name in names)
        made = f"    value = new(twin)\n{body}    value.__class__ = kind\n"
        scope: dict[str, Any] = {"twin": twin}
    else:
        body = "".join(f"    set_{name}(value, {name})\n" for name in names)
        made = f"    value = new(kind)\n{body}"
        scope = {f"set_{name}": getattr(kind, name).__set__ for name in names}
    return _function(f"def made({', '.join(names)}):\n{made}    return value\n", kind, scope)


@lru_cache(maxsize=128)
def _copier(kind: type) -> Callable[[Any], Any]:
    names = slots_of(kind)
    body = "".join(f"    set_{name}(copy, value.{name})\n" for name in names)
    scope: dict[str, Any] = {f"set_{name}": getattr(kind, name).__set__ for name in names}
    source = f"def made(value):\n    copy = new(kind)\n{body}    return copy\n"
    return _function(source, kind, scope)


def _function(source: str, kind: type, scope: dict[str, Any]) -> Callable[..., Any]:
    """The function ``made`` of a source, written out as dataclasses do with ``__init__``."""
    scope |= {"new": object.__new__, "kind": kind}
    exec(source, scope)
    function: Callable[..., Any] = scope["made"]
    return function


_set = object.__setattr__


def changed(value: T, **changes: object) -> T:
    """A copy of a frozen slotted value with some fields changed; the value stays as it was.

    Raises AttributeError for a field that the value does not have.
    """
    copy: T = _copier(type(value))(value)  # type: ignore[arg-type]
    for name, new in changes.items():
        _set(copy, name, new)
    return copy
