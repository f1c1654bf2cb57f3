"""Entries, states and facts as bytes and back, for the index alone.

Pickle, with builders written out for every frozen slotted dataclass: the usual way of such a value
takes several times as long. Only this program's own values and times are ever built, so that a
foreign file can make nothing run.
"""

from __future__ import annotations

import io
import pickle
import sys
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import cache
from importlib import import_module
from operator import attrgetter, methodcaller
from typing import Any
from zlib import crc32

_PREFIX = "_build|"
_PROTOCOL = 5
_CHECK = 4  # [bytes] of a checksum: a digit that a bad disk changed must not be shown
_THIS = sys.modules[__name__]
_OWN = ("grammar.", "board.state.", "board.reckon.", "board.index.")
_OTHERS = frozenset(
    {
        ("builtins", "frozenset"),
        ("collections", "Counter"),
        ("datetime", "date"),
        ("datetime", "datetime"),
        ("datetime", "time"),
        ("datetime", "timedelta"),
        ("datetime", "timezone"),
        ("array", "array"),
        ("array", "_array_reconstructor"),
    }
)


# fields that are kept as bytes in the bytes, with the module that packs and unpacks them
_APART = {("board.state.history", "PartLife", "readings"): "board.index.life_readings"}


class Damaged(Exception):
    """Packed bytes that are not what was packed."""


@cache
def _plan(kind: type) -> tuple[Callable[..., Any], Callable[[Any], tuple[Any, ...]]] | None:
    """The builder of a class, a function of this module, and what takes a value apart for it."""
    if not is_dataclass(kind) or not hasattr(kind, "__slots__"):
        return None
    names = [f.name for f in fields(kind)]
    scope: dict[str, Any] = {"_new": object.__new__, "_class": kind}
    scope |= {f"_set_{name}": getattr(kind, name).__set__ for name in names}
    given = {name: name for name in names}
    taken = {name: f"_value.{name}" for name in names}
    for name in names:
        apart = _APART.get((kind.__module__, kind.__qualname__, name))
        if apart is not None:
            scope |= {f"_later_{name}": import_module(apart).later}
            scope |= {f"_packed_{name}": import_module(apart).packed}
            given[name], taken[name] = f"_later_{name}({name})", f"_packed_{name}(_value.{name})"
    body = "".join(f"    _set_{name}(_made, {value})\n" for name, value in given.items())
    values = "".join(f"{value}, " for value in taken.values())
    exec(
        f"def build({', '.join(names)}):\n    _made = _new(_class)\n{body}    return _made\n"
        f"def reduce(_value):\n    return build, ({values})\n",
        scope,
    )
    builder: Callable[..., Any] = scope["build"]
    label = f"{_PREFIX}{kind.__module__}|{kind.__qualname__}".replace(".", "/")
    builder.__module__, builder.__qualname__ = __name__, label
    setattr(_THIS, label, builder)
    return builder, scope["reduce"]


def _array(kind: str, data: bytes) -> Any:
    """A numpy array of one dimension."""
    import numpy as np

    if np.dtype(kind).hasobject:
        raise Damaged("an array of objects is not kept in an index")
    return np.frombuffer(data, dtype=kind)


def _reduce_array(array: Any) -> tuple[Any, ...]:
    return _array, (array.dtype.str, array.tobytes())


class _Reducers(dict[type, Callable[[Any], Any]]):
    """How values are taken apart, by their class; each class is planned when it is first met."""

    def __missing__(self, kind: type) -> Callable[[Any], Any]:
        planned = _plan(kind)
        if planned is not None:
            self[kind] = planned[1]
        elif kind.__name__ == "ndarray":
            self[kind] = _reduce_array
        elif issubclass(kind, type):
            self[kind] = attrgetter("__qualname__")  # a class is told by its name
        else:
            self[kind] = methodcaller("__reduce_ex__", _PROTOCOL)  # as it takes itself apart
        return self[kind]


_reducers = _Reducers()


class _Unpacker(pickle.Unpickler):
    def find_class(self, module: str, name: str) -> Any:
        if module == __name__ and name.startswith(_PREFIX):
            return _builder(name)
        if (module, name) == (__name__, _array.__name__):
            return _array
        if module.startswith(_OWN) or (module, name) in _OTHERS:
            found = super().find_class(module, name)
            if (module, name) in _OTHERS or _is_own_word(found):
                return found
        raise Damaged(f"{module}.{name} is not kept in an index")


def _is_own_word(found: object) -> bool:
    """Whether it is a closed list of words of this program, however it was named."""
    return isinstance(found, type) and issubclass(found, Enum) and found.__module__.startswith(_OWN)


@cache
def _builder(label: str) -> Callable[..., Any]:
    _, module, kind = label.replace("/", ".").split("|")
    if not module.startswith(_OWN):
        raise Damaged(f"{module}.{kind} is not kept in an index")
    found: type = getattr(import_module(module), kind)
    planned = _plan(found)
    if planned is None:
        raise Damaged(f"{module}.{kind} is no value")
    return planned[0]


def packer(out: io.BytesIO) -> pickle.Pickler:
    """What writes values of this program as bytes."""
    made = pickle.Pickler(out, _PROTOCOL)
    made.dispatch_table = _reducers
    return made


def pack(value: object) -> bytes:
    """A value of this program's own classes as bytes, behind a checksum of them."""
    out = io.BytesIO(bytes(_CHECK))
    out.seek(_CHECK)
    packer(out).dump(value)
    packed = out.getbuffer()
    packed[:_CHECK] = crc32(packed[_CHECK:]).to_bytes(_CHECK, "big")
    packed.release()
    return out.getvalue()


def unpack(data: bytes) -> Any:
    """The value that was packed. Raises Damaged."""
    if crc32(memoryview(data)[_CHECK:]) != int.from_bytes(data[:_CHECK], "big"):
        raise Damaged("the bytes are not those that were packed")
    opened = io.BytesIO(data)
    opened.seek(_CHECK)
    try:
        return _Unpacker(opened).load()
    except Exception as error:
        raise Damaged(str(error)) from error
