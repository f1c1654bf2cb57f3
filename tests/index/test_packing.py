"""Values as bytes and back: every class that an index keeps, and none that it must not build."""

from __future__ import annotations

import dataclasses
import os
import pickle
import types
import typing
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import MISSING, fields, is_dataclass
from datetime import UTC, date, datetime, timedelta
from enum import Enum
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

from board.index import packing
from board.index.life_readings import Unread
from board.index.packing import Damaged, pack, unpack
from board.record.files import LogFile
from board.snapshot import Snapshot
from board.state import history
from board.state.fleet import Complaint, Motion, Source
from grammar.entries import Entry, Isolated, Span
from grammar.readings import LastLine
from tests.index.agreeing import exact
from tests.state.shed import night

ROOMS = (
    "grammar.clauses", "grammar.values", "grammar.entries", "grammar.readings", "grammar.diagnostics",
    "board.state.fleet", "board.state.history", "board.state.folded", "board.state.logged",
    "board.index.rows",
)  # fmt: skip


def _values(room: str) -> list[type]:
    module = import_module(room)
    return [
        x
        for x in vars(module).values()
        if isinstance(x, type) and x.__module__ == room and _is_value(x)
    ]


def _is_value(kind: type) -> bool:
    """Whether it is frozen and slotted; what only gathers while a text is read is not kept."""
    return is_dataclass(kind) and kind.__dataclass_params__.frozen and hasattr(kind, "__slots__")


VALUES = [value for room in ROOMS for value in _values(room)]
assert len(VALUES) > 60, "what is kept in an index is made of these"
_ELSEWHERE = vars(history) | vars(import_module("board.state.fleet"))
_PLAIN: dict[Any, Any] = {
    str: "für 12\u2028\ud800", int: 1 << 40, float: -0.1, bool: True, bytes: b"\0\xff",
    datetime: datetime(2026, 10, 25, 1, 30, 5, 7, tzinfo=UTC), date: date(2026, 10, 25),
    timedelta: timedelta(hours=-1), type(None): None, object: "thing",
}  # fmt: skip


def filled(hint: Any, depth: int = 0) -> Any:
    """Some value of a type, with something in every field that can hold something."""
    if hint in _PLAIN:
        return _PLAIN[hint]
    origin, args = typing.get_origin(hint), typing.get_args(hint)
    if origin in (typing.Union, types.UnionType):
        some = [a for a in args if a is not type(None)]
        return filled(some[0], depth) if depth < 8 else filled(args[-1], depth)
    if origin in (tuple, Sequence):
        if len(args) > 1 and args[1] is not Ellipsis:
            return tuple(filled(a, depth + 1) for a in args)
        return (filled(args[0], depth + 1),) * 2 if depth < 8 else ()
    if origin is frozenset:
        return frozenset({filled(args[0], depth + 1)})
    if origin in (Mapping, dict):
        return {filled(args[0], depth + 1): filled(args[1], depth + 1)} if depth < 8 else {}
    if isinstance(hint, type) and issubclass(hint, Enum):
        return list(hint)[-1]
    assert is_dataclass(hint), hint
    return made(hint, depth + 1)  # type: ignore[arg-type]


def made(kind: type, depth: int = 0) -> Any:
    hints = typing.get_type_hints(kind, None, _ELSEWHERE)
    return kind(**{f.name: filled(hints[f.name], depth) for f in fields(kind) if f.init})


@pytest.mark.parametrize("kind", VALUES, ids=lambda k: k.__name__)
def test_every_value_comes_back_as_it_was(kind: type) -> None:
    """All fields, also those that comparing leaves out."""
    value = made(kind)
    back = unpack(pack(value))
    assert type(back) is kind
    assert back == value
    for field in fields(kind):
        one, other = getattr(back, field.name), getattr(value, field.name)
        assert one == other
        lazily = (kind, field.name) == (history.PartLife, "readings")  # read when asked for
        assert type(one) is (Unread if lazily else type(other))
    assert exact(back) == exact(value)


@pytest.mark.parametrize("kind", VALUES, ids=lambda k: k.__name__)
def test_a_value_of_defaults_comes_back_too(kind: type) -> None:
    hints = typing.get_type_hints(kind, None, _ELSEWHERE)
    needed = {
        f.name: filled(hints[f.name])
        for f in fields(kind)
        if f.default is MISSING and f.default_factory is MISSING
    }
    value = kind(**needed)
    assert unpack(pack(value)) == value


def test_what_comes_back_is_frozen() -> None:
    back = unpack(pack(Source(path="a.log", line=1, text="x")))
    with pytest.raises(dataclasses.FrozenInstanceError):
        back.line = 2


def test_a_value_that_stands_in_many_places_is_one_again() -> None:
    source = Source(path="a.log", line=1, text="x")
    one, other = unpack(pack((source, source)))
    assert one is other


def test_a_whole_shed_comes_back() -> None:
    shed = night("22:10 A07 isolated by KM; left tape 2.90 mm; open no 1 look; due early", "x")
    for value in (*shed.fleet.looms.values(), *shed.entries, shed.complaints, shed.fleet.shed):
        assert exact(unpack(pack(value))) == exact(value)


# -- what must not be built ----------------------------------------------------------------


class _Calls:
    """Pickled as a call."""

    def __init__(self, function: Callable[..., Any], *arguments: Any) -> None:
        self._call = function, arguments

    def __reduce__(self) -> tuple[Callable[..., Any], tuple[Any, ...]]:
        return self._call


def _named(module: str, name: str, *arguments: str) -> bytes:
    """A call of ``name`` of a module, as a hand-written pickle."""
    pushed = b"".join(pickle.dumps(a, 0)[:-1] for a in arguments)
    reads = f"{module}\n{name}\n".encode()
    return b"\x80\x05" + b"c" + reads + b"(" + pushed + b"tR."


def _checked(pickled: bytes) -> bytes:
    """As an index keeps it: whoever can write a bomb can write a checksum."""
    return zlib.crc32(pickled).to_bytes(4, "big") + pickled


@pytest.mark.parametrize("protocol", range(pickle.HIGHEST_PROTOCOL + 1))
@pytest.mark.parametrize("function", [os.system, eval, exec, open, getattr, os.mkdir])
def test_a_foreign_call_is_refused(
    tmp_path: Path, function: Callable[..., Any], protocol: int
) -> None:
    told = f"touch {tmp_path}/run" if function is os.system else str(tmp_path / "run")
    bomb = pickle.dumps(_Calls(function, told), protocol)
    with pytest.raises(Damaged):
        unpack(_checked(bomb))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("module", "name"),
    [
        ("board.index.schema", "sqlite3.Connection"), ("board.index.schema", "Path"),
        ("board.index.schema", "os.mkdir"), ("board.index.schema", "remove"),
        ("board.index.index", "Index"), ("board.index.index", "threading.Thread"),
        ("board.index.packing", "pickle.Unpickler"), ("board.index.packing", "_build|os|system"),
        ("board.index.packing", "_build|board/index/schema|Path"), ("grammar.reader", "Reader"),
        ("board.index.packing", "_build|grammar/entries|nothing"), ("board.loading", "Loaded"),
        ("builtins", "eval"), ("os", "system"), ("posix", "system"), ("subprocess", "Popen"),
        ("grammar.nothing", "Nothing"), ("board.index.packing", "import_module"),
    ],
)  # fmt: skip
def test_a_foreign_name_is_refused(tmp_path: Path, module: str, name: str) -> None:
    """Also where one of the program's own modules holds it under a name."""
    with pytest.raises(Damaged):
        unpack(_checked(_named(module, name, str(tmp_path / "run"))))
    assert list(tmp_path.iterdir()) == []


def test_the_checksum_is_that_of_the_index() -> None:
    assert unpack(_checked(pickle.dumps("x"))) == "x"


def test_the_hand_written_call_would_be_one() -> None:
    assert pickle.loads(_named("builtins", "str", "x")) == "x"


@pytest.mark.parametrize(
    "value",
    [
        LogFile(path="a", data=b"", mtime_ns=0, size=0, last_line=LastLine.SETTLED),
        Path("/"), os.system, Snapshot, object(), ValueError("x"), types.SimpleNamespace(x=1),
    ],
    ids=lambda v: type(v).__name__,
)  # fmt: skip
def test_a_foreign_value_does_not_come_back(value: object) -> None:
    """It is not packed, or not unpacked."""
    try:
        data = pack(value)
    except Exception:
        return
    with pytest.raises(Damaged):
        unpack(data)


@pytest.mark.parametrize("data", [b"", b"\0", b"nonsense", b"\x80\x05", b"\x80\x05]\x94."[:3]])
def test_bytes_that_are_no_value_are_damage(data: bytes) -> None:
    for some in (data, _checked(data)):
        with pytest.raises(Damaged):
            unpack(some)


def test_a_byte_changed_anywhere_is_damage() -> None:
    """No digit of a reading and no name of a lock may change without a word."""
    entry = next(iter(night("22:10 A07 isolated by KM lock 14").entries)).entry
    assert isinstance(entry, Entry)
    data = pack(entry)
    for at in range(len(data)):
        for bit in (1, 128):
            changed = bytearray(data)
            changed[at] ^= bit
            with pytest.raises(Damaged):
                unpack(bytes(changed))


def test_bytes_cut_short_are_damage() -> None:
    data = pack(Complaint(path="a", diagnostic=night("x").complaints[0].diagnostic))
    for end in range(len(data)):
        with pytest.raises(Damaged):
            unpack(data[:end])


def test_an_enum_is_one_of_this_program() -> None:
    assert unpack(pack(Motion.RUNNING)) is Motion.RUNNING
    assert unpack(pack((Isolated(by="KM"), Span(1, 2)))) == (Isolated(by="KM"), Span(1, 2))
    assert packing.unpack(pack(frozenset({1}))) == frozenset({1})
