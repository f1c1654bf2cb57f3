"""Cheap ways to make frozen slotted values, for the thousands that reading and folding make.

A frozen dataclass sets its fields one call each. A value of a *twin*, a class with the same bases
and slots that is not frozen, takes them as fast as Python can and then becomes one of the frozen
class: about a sixth of the time for an entry. Only for slotted dataclasses without
``__post_init__``; slotted bases are fine.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, fields
from functools import lru_cache
from typing import Any, ParamSpec, TypeVar

from grammar.values import Span

P = ParamSpec("P")
T = TypeVar("T")

_set = object.__setattr__


def slots_of(kind: type) -> tuple[str, ...]:
    """The fields of a slotted class, those of its bases first."""
    return tuple(
        name for base in reversed(kind.__mro__) for name in vars(base).get("__slots__", ())
    )


def _twin(kind: type) -> type:
    """A class laid out like a frozen one, whose fields can be set."""
    slots = vars(kind)["__slots__"]
    return type(kind.__name__, kind.__bases__, {"__slots__": slots, "__setattr__": _set})


def _made(
    kind: type, arguments: str, values: dict[str, str], **scope: object
) -> Callable[..., Any]:
    """A function that makes a value, each field from an expression of the arguments.

    Written out as source, as dataclasses do with ``__init__``.
    """
    body = "".join(f"    _made.{name} = {value}\n" for name, value in values.items())
    source = f"def make({arguments}):\n    _made = _new(_twin)\n{body}"
    scope |= {"_new": object.__new__, "_twin": _twin(kind), "_kind": kind}
    exec(f"{source}    _made.__class__ = _kind\n    return _made\n", scope)
    make: Callable[..., Any] = scope["make"]  # type: ignore[assignment]
    return make


def maker(kind: Callable[P, T]) -> Callable[P, T]:
    """A constructor of a frozen class, its fields by name.

    Does what the class does when called, but that a field with a factory has to be given.
    """
    assert isinstance(kind, type)
    given = {f.name: f.default for f in fields(kind) if f.default is not MISSING}
    names = slots_of(kind)
    arguments = ", ".join(f"{n}=_given[{n!r}]" if n in given else n for n in names)
    return _made(kind, f"*, {arguments}", {name: name for name in names}, _given=given)


@lru_cache(maxsize=128)
def placer(kind: type) -> Callable[..., Any]:
    """A constructor of a frozen class, every field by its place in ``slots_of``."""
    names = slots_of(kind)
    return _made(kind, ", ".join(names), {name: name for name in names})


@lru_cache(maxsize=128)
def mover(kind: type) -> Callable[[Any, int], Any]:
    """A function that copies a value with its ``span`` so many characters further on."""
    values = {name: f"value.{name}" for name in slots_of(kind)}
    values["span"] = "_span(value.span.start + by, value.span.end + by)"
    return _made(kind, "value, by", values, _span=placer(Span))


@lru_cache(maxsize=128)
def _copier(kind: type) -> Callable[[Any], Any]:
    return _made(kind, "value", {name: f"value.{name}" for name in slots_of(kind)})


def changed(value: T, **changes: object) -> T:
    """A copy of a frozen slotted value with some fields changed; the value stays as it was.

    Raises AttributeError for a field that the value does not have.
    """
    copy: T = _copier(type(value))(value)  # type: ignore[arg-type]
    for name, new in changes.items():
        _set(copy, name, new)
    return copy
