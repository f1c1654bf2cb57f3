"""Values whose methods are written when first called do all that the standard library's do."""

from __future__ import annotations

import copy
import dataclasses
import pickle
from typing import Any

import pytest

from grammar.frozen import dataclass


def two_ways(**options: Any) -> tuple[Any, Any]:
    """The same class by each decorator."""

    def plain(decorate: Any) -> Any:
        class Part:
            """A part."""

            name: str
            turns: int = 3
            notes: list[str] = dataclasses.field(default_factory=list)
            seen: bool = dataclasses.field(default=False, compare=False, repr=False)
            turned: dict[str, int] = dataclasses.field(default_factory=dict, init=False)
            worn: int = dataclasses.field(default=2, init=False, hash=False)

        return decorate(frozen=True, slots=True, **options)(Part)

    return plain(dataclass), plain(dataclasses.dataclass)


@pytest.mark.parametrize(
    "options", [{}, {"kw_only": True}, {"kw_only": True, "eq": False}], ids=str
)
def test_a_value_is_what_the_standard_library_makes(options: dict[str, bool]) -> None:
    for kind in two_ways(**options):
        one, same, other = kind(name="tape"), kind(name="tape", seen=True), kind(name="head")
        assert (one.turns, one.notes, one.seen) == (3, [], False)
        assert one.notes is not same.notes
        assert (one.turned, one.worn) == ({}, 2)
        assert one.turned is not same.turned
        assert repr(one).endswith("Part(name='tape', turns=3, notes=[], turned={}, worn=2)")
        assert (one == same) is options.get("eq", True)
        assert one != other
        assert one != "tape"
        assert kind.__slots__ == ("name", "turns", "notes", "seen", "turned", "worn")
        assert not hasattr(one, "__dict__")
        assert dataclasses.replace(one, turns=4).turns == 4
        assert dataclasses.asdict(one)["name"] == "tape"
        assert kind.__match_args__ == (() if options.get("kw_only") else kind.__slots__[:4])
        with pytest.raises(dataclasses.FrozenInstanceError, match="cannot assign to field 'name'"):
            one.name = "head"
        with pytest.raises(dataclasses.FrozenInstanceError, match="cannot delete field 'name'"):
            del one.name
        for given in ("width", "turned", "worn"):
            with pytest.raises(TypeError, match=f"unexpected keyword argument '{given}'"):
                kind(name="tape", **{given: 3})
        with pytest.raises(TypeError, match=r"Part.__init__\(\) missing 1 required"):
            kind()
        if options.get("kw_only"):
            with pytest.raises(TypeError, match="takes 1 positional argument"):
                kind("tape")


@pytest.mark.parametrize("first", ["__eq__", "__hash__", "__repr__", "__init__"])
def test_whichever_method_comes_first(first: str) -> None:
    @dataclass(frozen=True, slots=True, kw_only=True)
    class Gap:
        width: float

    bare = object.__new__(Gap)
    object.__setattr__(bare, "width", 0.5)
    asked = {"__eq__": (bare,), "__init__": ()}.get(first, ())
    if first == "__init__":
        assert Gap(width=0.5) == bare
    else:
        assert getattr(bare, first)(*asked) is not NotImplemented
    assert hash(bare) == hash(Gap(width=0.5))
    assert bare == Gap(width=0.5) != Gap(width=0.6)
    assert repr(bare).endswith("Gap(width=0.5)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Screw:
    """At the top of a module, so that it can be found again."""

    torque: float
    turned: int = 0

    def __post_init__(self) -> None:
        if self.torque < 0:
            raise ValueError("no torque is negative")


@dataclass(frozen=True, slots=True, kw_only=True)
class LockedScrew(Screw):
    """With one field more."""

    by: str


def test_it_is_copied_and_checked_and_inherits() -> None:
    screw = LockedScrew(torque=1.4, by="KM")
    assert repr(screw) == "LockedScrew(torque=1.4, turned=0, by='KM')"
    for again in (pickle.loads(pickle.dumps(screw)), copy.deepcopy(screw), copy.copy(screw)):
        assert again == screw
        assert hash(again) == hash(screw)
    assert screw != Screw(torque=1.4)
    with pytest.raises(ValueError, match="no torque is negative"):
        Screw(torque=-1)
    with pytest.raises(ValueError, match="no torque is negative"):
        LockedScrew(torque=-1, by="KM")


def test_what_has_its_own_methods_keeps_them() -> None:
    @dataclass(frozen=True, slots=True)
    class Loud:
        name: str

        def __repr__(self) -> str:
            return self.name.upper()

    @dataclass(frozen=True, slots=True, order=True)
    class Ordered:
        place: int

    assert repr(Loud("tape")) == "TAPE"
    assert Loud("tape") == Loud("tape")
    assert Ordered(1) < Ordered(2)
