"""The readings of a part's life as bytes, taken apart when somebody first looks into them.

A checkpoint holds the readings of every part in the shed, most of its bytes; what folds on from it
looks into few of them. What reckons with all of them takes their numbers; what was written of each
reading is taken apart for those that somebody looks at, and of most parts only the last one is.
"""

from __future__ import annotations

import io
import pickle
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NoReturn

from board.index.packing import Damaged
from board.index.schema import moment
from board.state import made
from board.state.fleet import Source
from board.state.history import ReadingAt
from board.state.kept_readings import BOUNDS, Kept, Numbers, made_of, numbers
from grammar.making import maker

Readings = Mapping[str, tuple[ReadingAt, ...]]
_Told = tuple[Any, ...]  # what was written of a reading, beside its numbers

_PROTOCOL = 5
_source = maker(Source)


class Unread(Kept):
    """Readings by their quantity, as they were packed."""

    __slots__ = ("_columns", "_made", "packed")

    def __init__(self, packed: bytes) -> None:
        self.packed = packed
        self._columns: dict[str, tuple[Any, ...]] | None = None
        self._made: dict[str, tuple[ReadingAt, ...]] = {}

    def _packed_columns(self) -> dict[str, tuple[Any, ...]]:
        if self._columns is None:
            self._columns = _unpacked(self.packed)
        return self._columns

    def numbers(self, quantity: str) -> Numbers | None:
        """The numbers of one quantity; None where it has no readings."""
        found = self._packed_columns().get(quantity)
        return None if found is None else _numbers_in(found)

    def last(self, quantity: str) -> ReadingAt | None:
        """The last reading of one quantity."""
        found = self._packed_columns().get(quantity)
        return _series(found, last=1)[0] if found is not None and found[-1] else None

    def __getitem__(self, quantity: str) -> tuple[ReadingAt, ...]:
        series = self._made.get(quantity)
        if series is None:
            series = self._made[quantity] = _series(self._packed_columns()[quantity])
        return series

    def __iter__(self) -> Iterator[str]:
        return iter(self._packed_columns())

    def __len__(self) -> int:
        return len(self._packed_columns())

    def __repr__(self) -> str:
        return repr(dict(self))


def packed(readings: Readings) -> bytes:
    """Readings as bytes: numbers and texts alone, no classes."""
    if isinstance(readings, Unread):
        return readings.packed
    return _dumped({quantity: _plain(some) for quantity, some in readings.items()})


def later(data: bytes) -> Readings:
    """The readings that were packed."""
    return Unread(data)


def _dumped(plain: object) -> bytes:
    out = io.BytesIO()
    packing = pickle.Pickler(out, _PROTOCOL)
    packing.fast = True  # no value is named twice: equal readings are equal bytes
    packing.dump(plain)
    return out.getvalue()


def _plain(series: Sequence[ReadingAt]) -> tuple[Any, ...]:
    """The numbers of a series, what was written of all but the last as bytes, and of the last."""
    own = made_of(series)
    told = [_told(reading) for reading in series]
    return own.when, own.value, own.level, own.bound, own.counts, _dumped(told[:-1]), told[-1:]


def _told(reading: ReadingAt) -> _Told:
    source = reading.source
    return (
        reading.value, reading.unit, reading.written, reading.by,
        source.path, source.line, source.text,
    )  # fmt: skip


class _OfPlainValues(pickle.Unpickler):
    def find_class(self, module: str, name: str) -> NoReturn:
        raise Damaged(f"{module}.{name} is not kept among readings")


def _unpacked(data: bytes) -> Any:
    return _OfPlainValues(io.BytesIO(data)).load()


def _numbers_in(columns: tuple[Any, ...]) -> Numbers:
    when, value, level, bound, counts, _, _ = columns
    return numbers(when=when, value=value, level=level, bound=bound, counts=counts)


def _series(columns: tuple[Any, ...], last: int = 0) -> tuple[ReadingAt, ...]:
    """The readings of a quantity; only so many from the end, if a number is given."""
    own = _numbers_in(columns)
    told = columns[-1] if last else [*_unpacked(columns[-2]), *columns[-1]]
    return tuple(
        made.ReadingAt(
            when=moment(when), value=value, unit=unit, bound=BOUNDS[bound], written=written,
            level=level, by=by, source=_source(path=path, line=line, text=text), counts=counts == 1,
        )
        for when, level, bound, counts, (value, unit, written, by, path, line, text) in zip(
            own.moments[-last:], own.levels[-last:], own.bound[-last:], own.counts[-last:], told,
            strict=True,
        )
    )  # fmt: skip
