"""Values whose methods are written when first called do all that the standard library's do."""

from __future__ import annotations

import copy
import dataclasses
import pickle
from dataclasses import KW_ONLY, field
from typing import Any, ClassVar

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


_ASKED_FOR = (KW_ONLY, ClassVar, field)  # the library looks for them where the class stands
NOT_PLAIN = """
@dataclass(frozen=True, slots=True)
class Head:
    least: ClassVar[float] = 0.5
    width: float
    _: KW_ONLY
    side: str = "left"

@dataclass(frozen=True, slots=True)
class Tape:
    width: float
    side: str = field(default="left", kw_only=True)
    by: "str | None" = None
"""


@pytest.mark.parametrize("future", ["", "from __future__ import annotations\n"])
def test_what_is_not_plain_is_made_by_the_standard_library(future: str) -> None:
    for decorate in (dataclass, dataclasses.dataclass):
        scope: dict[str, Any] = globals() | {"dataclass": decorate}
        exec(compile(future + NOT_PLAIN, __name__, "exec", dont_inherit=True), scope)
        head, tape = scope["Head"], scope["Tape"]
        assert [f.name for f in dataclasses.fields(head)] == ["width", "side"]
        assert (head.least, head(1.0).side, head(1.0, side="right").side) == (0.5, "left", "right")
        assert tape(1.0, "KM", side="right") == tape(1.0, by="KM", side="right") != tape(1.0)
        assert head.__match_args__ == ("width",)
        assert tape.__match_args__ == ("width", "by")
        with pytest.raises(TypeError, match="positional argument"):
            head(1.0, "right")


def test_what_the_standard_library_refuses_is_refused() -> None:
    with pytest.raises(ValueError, match="mutable default"):

        @dataclass(frozen=True, slots=True)
        class Shared:
            notes: list[str] = []  # noqa: RUF012

    with pytest.raises(TypeError, match="no type annotation"):

        @dataclass(frozen=True, slots=True)
        class Untyped:
            notes = dataclasses.field(default=1)


def test_the_standard_library_goes_on_from_it() -> None:
    @dataclasses.dataclass(frozen=True, slots=True, order=True, kw_only=True)
    class Turned(Screw):
        by: str = "KM"

    assert [f.name for f in dataclasses.fields(Turned)] == ["torque", "turned", "by"]
    assert Turned(torque=1.0) < Turned(torque=1.4)
    assert Turned.__slots__ == ("by",)
    with pytest.raises(TypeError, match="cannot inherit non-frozen"):

        @dataclasses.dataclass
        class Loose(Screw):
            pass
