"""The readings of a part's life as bytes, taken apart when somebody first looks into them.

A checkpoint holds the readings of every part in the shed, most of its bytes; what folds on from it
looks into few of them.
"""

from __future__ import annotations

import io
import pickle
from collections.abc import Iterator, Mapping
from typing import Any, NoReturn

from board.index.packing import Damaged
from board.index.schema import moment
from board.state import made
from board.state.fleet import Source
from board.state.history import Bound, ReadingAt
from board.state.spells import micros
from grammar.making import maker

Readings = Mapping[str, tuple[ReadingAt, ...]]

_PROTOCOL = 5
_BOUNDS = {bound.value: bound for bound in Bound}
_source = maker(Source)


class Unread(Mapping[str, tuple[ReadingAt, ...]]):
    """Readings by their quantity, as they were packed."""

    __slots__ = ("_made", "packed")

    def __init__(self, packed: bytes) -> None:
        self.packed = packed
        self._made: Readings | None = None

    def _readings(self) -> Readings:
        if self._made is None:
            self._made = _unpacked(self.packed)
        return self._made

    def __getitem__(self, quantity: str) -> tuple[ReadingAt, ...]:
        return self._readings()[quantity]

    def __iter__(self) -> Iterator[str]:
        return iter(self._readings())

    def __len__(self) -> int:
        return len(self._readings())

    def __repr__(self) -> str:
        return repr(self._readings())


def packed(readings: Readings) -> bytes:
    """Readings as bytes: numbers and texts alone, no classes."""
    if isinstance(readings, Unread):
        return readings.packed
    out = io.BytesIO()
    packing = pickle.Pickler(out, _PROTOCOL)
    packing.fast = True  # no value is named twice: equal readings are equal bytes
    packing.dump({quantity: [_plain(each) for each in some] for quantity, some in readings.items()})
    return out.getvalue()


def later(data: bytes) -> Readings:
    """The readings that were packed."""
    return Unread(data)


def _plain(reading: ReadingAt) -> tuple[Any, ...]:
    source = reading.source
    return (
        micros(reading.when), reading.value, reading.unit, reading.bound.value, reading.written,
        reading.level, reading.by, source.path, source.line, source.text, reading.counts,
    )  # fmt: skip


class _OfPlainValues(pickle.Unpickler):
    def find_class(self, module: str, name: str) -> NoReturn:
        raise Damaged(f"{module}.{name} is not kept among readings")


def _unpacked(data: bytes) -> Readings:
    plain: dict[str, list[tuple[Any, ...]]] = _OfPlainValues(io.BytesIO(data)).load()
    return {
        quantity: tuple(
            made.ReadingAt(
                when=moment(when), value=value, unit=unit, bound=_BOUNDS[bound], written=written,
                level=level, by=by, source=_source(path=path, line=line, text=text), counts=counts,
            )
            for when, value, unit, bound, written, level, by, path, line, text, counts in some
        )
        for quantity, some in plain.items()
    }  # fmt: skip
