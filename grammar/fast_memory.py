"""Clauses that were read before: a log says the same again and again."""

from __future__ import annotations

from typing import Any

from grammar.making import mover

Part = Any  # a clause, or a tail that belongs to one

KEPT = 24_576  # words or clauses remembered in one memory at most
LONGEST_KEPT = 80  # [characters] of a clause; a longer one hardly comes again
_COLUMNS = 32  # where one clause is remembered to have begun, at most


class Memory:
    """Clauses met before: as written, and for each column where they began, what they are.

    Keeps those used lately: of two generations the older is dropped when the younger is full.
    """

    __slots__ = ("old", "young")

    def __init__(self) -> None:
        self.young: dict[str, dict[int, Part]] = {}
        self.old: dict[str, dict[int, Part]] = {}

    def keep(self, piece: str, part: Part, start: int) -> None:
        """Remembers a clause."""
        self._add(piece, {start: part})

    def _add(self, piece: str, parts: dict[int, Part]) -> None:
        if len(self.young) >= KEPT:
            self.old = dict(self.young)
            self.young.clear()
        self.young[piece] = parts

    def find(self, piece: str, start: int) -> Part | None:
        """A clause met before, as it is where it begins now; None where it was not."""
        parts = self.young.get(piece)
        if parts is None:
            parts = self.old.get(piece)
            if parts is None:
                return None
            self._add(piece, parts)
        part = parts.get(start)
        if part is None:
            if len(parts) >= _COLUMNS:
                for column in [*parts][1:]:
                    del parts[column]
            before, known = next(iter(parts.items()))
            kind: type = type(known)
            part = parts[start] = mover(kind)(known, start - before)
        return part
