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
from grammar.frozen import dataclass
from grammar.making import maker, placer

Readings = Mapping[str, tuple[ReadingAt, ...]]
_Told = tuple[Any, ...]  # what was written of a reading, beside its numbers

_PROTOCOL = 5
_NUMBERS = ("when", "value", "step", "level", "bound", "counts")  # as they stand in what is packed
_source = maker(Source)


@dataclass(frozen=True, slots=True)
class _Columns:
    """The readings of one quantity: their numbers, and what was written of them.

    ``before`` is what was written of all but the last, packed once more, and ``last`` of the last,
    where there is one.
    """

    numbers: Numbers
    before: bytes
    last: Sequence[_Told]


_made_columns = placer(_Columns)


class Unread(Kept):
    """Readings by their quantity, as they were packed."""

    __slots__ = ("_columns", "_last", "_made", "packed")

    def __init__(self, packed: bytes) -> None:
        self.packed = packed
        self._columns: dict[str, _Columns] | None = None
        self._made: dict[str, tuple[ReadingAt, ...]] = {}
        self._last: dict[str, ReadingAt | None] = {}

    def __copy__(self) -> Unread:
        return Unread(self.packed)

    def _unpacked(self) -> dict[str, _Columns]:
        if self._columns is None:
            self._columns = _columns(self.packed)
        return self._columns

    def numbers(self, quantity: str) -> Numbers | None:
        """The numbers of one quantity; None where it has no readings."""
        found = self._unpacked().get(quantity)
        return None if found is None else found.numbers

    def last(self, quantity: str) -> ReadingAt | None:
        """The last reading of one quantity."""
        if quantity not in self._last:
            found = self._unpacked().get(quantity)
            self._last[quantity] = None if found is None else _last(found)
        return self._last[quantity]

    def __getitem__(self, quantity: str) -> tuple[ReadingAt, ...]:
        series = self._made.get(quantity)
        if series is None:
            series = self._made[quantity] = _series(self._unpacked()[quantity])
        return series

    def __iter__(self) -> Iterator[str]:
        return iter(self._unpacked())

    def __len__(self) -> int:
        return len(self._unpacked())

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
    return *(getattr(own, name) for name in _NUMBERS), _dumped(told[:-1]), told[-1:]


def _told(reading: ReadingAt) -> _Told:
    source = reading.source
    return (
        reading.value, reading.unit, reading.written, reading.by,
        source.path, source.line, source.text,
    )  # fmt: skip


class _OfPlainValues(pickle.Unpickler):
    def find_class(self, module: str, name: str) -> NoReturn:
        raise Damaged(f"{module}.{name} is not kept among readings")


def _loaded(data: bytes) -> Any:
    return _OfPlainValues(io.BytesIO(data)).load()


def _columns(data: bytes) -> dict[str, _Columns]:
    return {
        quantity: _made_columns(numbers(**dict(zip(_NUMBERS, own[:-2], strict=True))), *own[-2:])
        for quantity, own in _loaded(data).items()
    }


def _last(own: _Columns) -> ReadingAt | None:
    if not own.last:
        return None
    read = own.numbers
    when, level = (
        int.from_bytes(each[-8:], "little", signed=True) for each in (read.when, read.level)
    )
    return _reading(when, level, read.bound[-1], read.counts[-1], own.last[0])


def _series(own: _Columns) -> tuple[ReadingAt, ...]:
    read = own.numbers
    told = [*_loaded(own.before), *own.last]
    columns = zip(read.moments, read.levels, read.bound, read.counts, told, strict=True)
    return tuple(_reading(*each) for each in columns)


def _reading(when: int, level: int, bound: int, counts: int, told: _Told) -> ReadingAt:
    value, unit, written, by, path, line, text = told
    return made.ReadingAt(
        when=moment(when), value=value, unit=unit, bound=BOUNDS[bound], written=written,
        level=level, by=by, source=_source(path=path, line=line, text=text), counts=counts == 1,
    )  # fmt: skip
