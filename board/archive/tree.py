"""Answers of many jobs put together pair by pair, whatever order they come in."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Generic, TypeVar

T = TypeVar("T")


def tree_reduce(values: Sequence[T], merge: Callable[[T, T], T]) -> T | None:
    """Values merged pair by pair, neighbours first; None where there is none.

    ``merge`` has to be associative: it is given neighbours in their order.
    """
    tree: Tree[T] = Tree(merge)
    for place, value in enumerate(values):
        tree.take(place, value)
    return tree.all()


class Tree(Generic[T]):
    """Merges neighbours as soon as both are there; what comes of it is told by places alone.

    Values come by their places from 0 on, each once, in any order.
    """

    def __init__(self, merge: Callable[[T, T], T]) -> None:
        self._merge = merge
        self._held: dict[tuple[int, int], T] = {}  # by its level and its place there

    def take(self, place: int, value: T) -> None:
        """Take the value of a place, and merge it with its neighbour's where that is there."""
        level = 0
        while (level, place ^ 1) in self._held:
            other = self._held.pop((level, place ^ 1))
            value = self._merge(other, value) if place & 1 else self._merge(value, other)
            level, place = level + 1, place >> 1
        self._held[level, place] = value

    def all(self) -> T | None:
        """All that came, merged; None where nothing did."""
        left = [
            value
            for _, value in sorted(
                self._held.items(), key=lambda item: (item[0][1] << item[0][0], item[0][0])
            )
        ]
        while len(left) > 1:
            left[-2:] = [self._merge(left[-2], left[-1])]
        return left[0] if left else None
