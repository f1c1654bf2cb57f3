"""Frozen slotted dataclasses whose methods are written when they are first called.

``dataclass`` here is the standard one. It writes six methods for each class as source and compiles
them, which for some two hundred classes is a quarter of what a command takes to start; most of
them are never called. So of a frozen slotted class only the fields are found at first, and the
standard library writes ``__init__``, ``__repr__``, or ``__eq__`` with ``__hash__``, the first time
that it is asked for. Every other class is made by the standard library at once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from dataclasses import dataclass
else:
    import dataclasses

    _FORM = {"frozen": True, "slots": True}
    _KNOWN = {"kw_only", "eq"}
    _INIT, _REPR, _EQ = ("__init__",), ("__repr__",), ("__eq__", "__hash__")
    _WRITTEN = (*_INIT, *_REPR, *_EQ)
    _OWN = {*_WRITTEN, "__setattr__", "__delattr__", "__getstate__", "__setstate__"}

    def dataclass(kind=None, /, **options):
        """The standard decorator, for frozen slotted classes with their methods put off."""

        def made(kind):
            others = {name: value for name, value in options.items() if name not in _FORM}
            if (
                options != {**_FORM, **others}
                or not others.keys() <= _KNOWN
                or _OWN & vars(kind).keys()
            ):
                return dataclasses.dataclass(kind, **options)
            return _put_off(kind, **others)

        return made if kind is None else made(kind)

    def _put_off(kind, *, kw_only=False, eq=True):
        made = dataclasses.dataclass(
            kind, init=False, repr=False, eq=False, slots=True, kw_only=kw_only
        )
        for names in (_INIT, _REPR, _EQ) if eq else (_INIT, _REPR):
            for name in names:
                setattr(made, name, _first(made, name, names))
        made.__setattr__ = made.__delattr__ = _refused
        made.__getstate__, made.__setstate__ = _state, _restore
        return made

    def _first(made, name, names):
        """A method that has itself and its like written, and then does what it does."""

        def method(self, *arguments, **named):
            _write(made, names)
            return getattr(made, name)(self, *arguments, **named)

        method.__qualname__, method.__name__ = f"{made.__qualname__}.{name}", name
        return method

    def _write(made, names):
        """Put the methods of a twin that the standard library makes in their places."""
        fields = dataclasses.fields(made)
        body = {"__annotations__": {each.name: each.type for each in fields}}
        for each in fields:
            given = {"default": each.default, "default_factory": each.default_factory}
            body[each.name] = dataclasses.field(
                **{key: value for key, value in given.items() if value is not dataclasses.MISSING},
                **{key: getattr(each, key) for key in ("init", "repr", "hash", "compare")},
                kw_only=each.kw_only,
            )
        if hasattr(made, "__post_init__"):
            body["__post_init__"] = made.__post_init__
        twin = type(made.__name__, (), body | {"__doc__": made.__doc__})
        wanted = {"init": names is _INIT, "repr": names is _REPR, "eq": names is _EQ}
        twin = dataclasses.dataclass(twin, frozen=names is not _REPR, **wanted)
        for name in names:
            method = vars(twin)[name]
            method.__qualname__ = f"{made.__qualname__}.{name}"
            setattr(made, name, method)

    def _refused(self, name, *value):
        done = "assign to" if value else "delete"
        raise dataclasses.FrozenInstanceError(f"cannot {done} field {name!r}")

    def _state(self):
        return [getattr(self, each.name) for each in dataclasses.fields(self)]

    def _restore(self, state):
        for each, value in zip(dataclasses.fields(self), state, strict=True):
            object.__setattr__(self, each.name, value)


__all__ = ["dataclass"]
