"""A list that is read when somebody first looks into it, or only its end."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from typing import TypeVar, overload

T = TypeVar("T")


class Later(Sequence[T]):
    """A sequence whose members are read when they are needed, and then kept.

    ``load`` is given None for everything, or a moment (UTC): then it answers at least what is
    of that moment or later, and only that may be cheap. ``backwards`` reads from the end on, as
    far as is asked for. ``columns`` are the same members as arrays (such as ``SpellPieces``) for
    those who reckon with all of them.
    """

    __slots__ = ("_all", "_backwards", "_columns", "_end", "_load", "_made")

    def __init__(
        self,
        load: Callable[[datetime | None], Sequence[T]],
        *,
        backwards: Callable[[], Iterator[T]] | None = None,
        columns: Callable[[], object] | None = None,
    ) -> None:
        self._load = load
        self._backwards = backwards
        self._columns = columns
        self._all: tuple[T, ...] | None = None
        self._end: tuple[datetime, Sequence[T]] | None = None
        self._made: object = None

    @property
    def everything(self) -> tuple[T, ...]:
        """All members."""
        if self._all is None:
            self._all = tuple(self._load(None))
        return self._all

    def since(self, moment: datetime) -> Sequence[T]:
        """The end of it: everything of a moment (UTC) or later, and maybe some from before."""
        if self._all is not None:
            return self._all
        if self._end is None or moment < self._end[0]:
            self._end = moment, self._load(moment)
        return self._end[1]

    def newest_first(self) -> Iterator[T]:
        """The members from the last to the first, of which no more are read than are taken."""
        if self._all is None and self._backwards is not None:
            return self._backwards()
        return reversed(self.everything)

    @property
    def columns(self) -> object:
        """All members as arrays, or None where they are not kept so."""
        if self._made is None and self._columns is not None:
            self._made = self._columns()
        return self._made

    def __len__(self) -> int:
        return len(self.everything)

    @overload
    def __getitem__(self, index: int) -> T: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[T, ...]: ...
    def __getitem__(self, index: int | slice) -> T | tuple[T, ...]:
        return self.everything[index]

    def __iter__(self) -> Iterator[T]:
        return iter(self.everything)

    def __eq__(self, other: object) -> bool:
        if isinstance(other, Later):
            return self.everything == other.everything
        return self.everything == other

    def __hash__(self) -> int:
        return hash(self.everything)

    def __repr__(self) -> str:
        return repr(self.everything) if self._all is not None else "Later(...)"


def recent(things: Sequence[T], since: datetime) -> Sequence[T]:
    """What of a sequence is of a moment (UTC) or later, and maybe some from before.

    To be asked instead of the sequence itself wherever only its end is needed.
    """
    return things.since(since) if isinstance(things, Later) else things


def newest_first(things: Sequence[T]) -> Iterator[T]:
    """A sequence from its end on, of which no more is read than is taken."""
    return things.newest_first() if isinstance(things, Later) else reversed(things)


def columns(things: Sequence[T]) -> object:
    """A sequence as arrays, where it is kept so; else None."""
    return things.columns if isinstance(things, Later) else None
