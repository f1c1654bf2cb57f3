"""Frozen slotted dataclasses whose methods are written when they are first called.

``dataclass`` here is the standard one. It writes six methods for each class as source and compiles
them, which for some two hundred classes is a quarter of what a command takes to start; most of
them are never called. So of a frozen slotted class only the fields and slots are made at first, and
``__init__``, ``__repr__``, or ``__eq__`` with ``__hash__`` are written the first time that one is
asked for: the representation by the standard library, the others here, since there two more
methods would be compiled beside each and thrown away. Every other class, and one that is not
quite plain, is made by the standard library at once.
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
    _NO_FIELDS = ("ClassVar", "InitVar", "KW_ONLY")
    _FIELD = dataclasses._FIELD

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
        types, told = kind.__annotations__, dict(vars(kind))
        own = _own_fields(types, told, kw_only)
        if own is None:
            return dataclasses.dataclass(kind, frozen=True, slots=True, kw_only=kw_only, eq=eq)
        fields, of_bases = {}, set()
        for base in kind.__mro__[-1:0:-1]:
            fields |= vars(base).get("__dataclass_fields__", {})
            of_bases.update(vars(base).get("__slots__", ()))
        fields |= own
        holder = []
        for names in (_INIT, _REPR, _EQ) if eq else (_INIT, _REPR):
            for name in names:
                told[name] = _first(holder, name, names, kind.__qualname__)
        told["__setattr__"] = told["__delattr__"] = _refused
        told["__getstate__"], told["__setstate__"] = _state, _restore
        told["__dataclass_fields__"], told["__dataclass_params__"] = fields, _LIKE
        told["__match_args__"] = tuple(f.name for f in fields.values() if f.init and not f.kw_only)
        told["__slots__"] = tuple(name for name in own if name not in of_bases)
        told["__qualname__"] = kind.__qualname__
        made = type(kind)(kind.__name__, kind.__bases__, told)
        holder.append(made)
        return made

    def _own_fields(types, told, kw_only):
        """The fields that a class names itself, taken out of its names; None if not all plain."""
        if "__slots__" in told:
            return None
        own = {}
        for name, of in types.items():
            default = told.get(name, dataclasses.MISSING)
            each = default
            if not isinstance(default, dataclasses.Field):
                each = dataclasses.field(default=default)
            if (
                any(word in (of if type(of) is str else repr(of)) for word in _NO_FIELDS)
                or each.kw_only is not dataclasses.MISSING
                or each.default.__class__.__hash__ is None
                or hasattr(each.default, "__get__")
            ):
                return None
            own[name] = each
        if any(isinstance(told[name], dataclasses.Field) for name in told.keys() - own.keys()):
            return None
        for name, each in own.items():
            told.pop(name, None)
            each.name, each.type, each.kw_only = name, types[name], kw_only
            each._field_type = _FIELD
        for name in ("__dict__", "__weakref__"):
            told.pop(name, None)
        return own

    @dataclasses.dataclass(frozen=True)
    class _Like:
        """Decorated as they are, for what the standard library keeps of that."""

    _LIKE = vars(_Like)["__dataclass_params__"]

    def _first(holder, name, names, owner):
        """A method that has itself and its like written, and then does what it does."""

        def method(self, *arguments, **named):
            (made,) = holder
            _write(made, names)
            return getattr(made, name)(self, *arguments, **named)

        method.__qualname__, method.__name__ = f"{owner}.{name}", name
        return method

    def _write(made, names):
        """Put methods in their places: of our own source, and the representation of a twin's."""
        fields = dataclasses.fields(made)
        if names is _INIT:
            written = [_init_of(made, fields)]
        elif names is _EQ:
            written = _eq_of(fields)
        else:
            shown = [(each.name, each.type, dataclasses.field(repr=each.repr)) for each in fields]
            twin = dataclasses.make_dataclass(made.__name__, shown, init=False, eq=False)
            written = [vars(twin)["__repr__"]]
        for name, method in zip(names, written, strict=True):
            method.__name__, method.__qualname__ = name, f"{made.__qualname__}.{name}"
            method.__module__ = made.__module__
            setattr(made, name, method)

    def _init_of(made, fields):
        """``__init__``: one that sets each field past the refusal to be assigned to."""
        scope = {"_set": object.__setattr__, "_FACTORY": object()}
        places, named, body = [], [], []
        for each in fields:
            taken = value = name = each.name
            own = None  # where nobody gives it one
            if each.default is not dataclasses.MISSING:
                own = f"_default_{name}"
                scope[own], taken = each.default, f"{name}={own}"
            elif each.default_factory is not dataclasses.MISSING:
                scope[f"_factory_{name}"], taken = each.default_factory, f"{name}=_FACTORY"
                own = f"_factory_{name}()"
                value = f"{own} if {name} is _FACTORY else {name}"
            if each.init:
                (named if each.kw_only else places).append(taken)
            else:
                value = own
            if value is not None:
                body.append(f"_set(self, {name!r}, {value})")
        if hasattr(made, "__post_init__"):
            body.append("self.__post_init__()")
        taken = ", ".join(["self", *places, *(["*", *named] if named else [])])
        return _compiled(f"def method({taken}):\n " + "\n ".join(body or ["pass"]), scope)

    def _eq_of(fields):
        """``__eq__`` and ``__hash__``: by the fields in their order, for values of one class."""
        compared = [each.name for each in fields if each.compare]
        hashed = [each.name for each in fields if (each.hash is None and each.compare) or each.hash]
        alike = f"{_tuple('self', compared)} == {_tuple('other', compared)}"
        same = f"{alike} if other.__class__ is self.__class__ else NotImplemented"
        return (
            _compiled(f"def method(self, other):\n return {same}", {}),
            _compiled(f"def method(self):\n return hash({_tuple('self', hashed)})", {}),
        )

    def _tuple(of, names):
        return "(" + "".join(f"{of}.{name}, " for name in names) + ")"

    def _compiled(source, scope):
        exec(source, scope)
        return scope["method"]

    def _refused(self, name, *value):
        done = "assign to" if value else "delete"
        raise dataclasses.FrozenInstanceError(f"cannot {done} field {name!r}")

    def _state(self):
        return [getattr(self, each.name) for each in dataclasses.fields(self)]

    def _restore(self, state):
        for each, value in zip(dataclasses.fields(self), state, strict=True):
            object.__setattr__(self, each.name, value)


__all__ = ["dataclass"]
