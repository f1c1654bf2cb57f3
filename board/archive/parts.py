"""The parts of many mills under one name each: what is called alike, but for case, is alike."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from board.archive.asking import Archive, stop_if_unknown
from board.commands.find import part_named
from board.loading import read_mill
from board.mill import Mill
from board.shell import CannotRun
from grammar.folding import fold_word

_ANEW = "its register in the archive cannot be read; bring the archive up to date"


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """The parts that are asked for: ``names`` by what they are alike in, in the registers' order.

    ``of`` tells each mill's own names of them, ``unknown`` in which mills there is no such part
    and ``missing`` which registers cannot be read, each with the reason.
    """

    names: dict[str, str]
    of: dict[str, tuple[str, ...]]
    unknown: tuple[tuple[str, str], ...]
    missing: tuple[tuple[str, str], ...]

    def name(self, part: str) -> str:
        """The one name of a mill's own part."""
        return self.names[fold_word(part)]


def parts_of(archive: Archive, word: str | None) -> Parts:
    """The parts of all mills, or the one that a word names in each. Raises CannotRun."""
    of: dict[str, tuple[str, ...]] = {}
    unknown: list[tuple[str, str]] = []
    missing: list[tuple[str, str]] = []
    for kept in archive.mills:
        mill = read_mill(Path(archive.out) / kept.name)
        if isinstance(mill, str):
            missing.append((kept.name, _ANEW))
            continue
        try:
            of[kept.name] = _named(word, mill)
        except CannotRun as error:
            unknown.append((kept.name, error.sentence))
    if unknown and not of:
        stop_if_unknown([sentence for _, sentence in unknown])
    names: dict[str, str] = {}
    for own in of.values():
        for name in own:
            names.setdefault(fold_word(name), name)
    return Parts(names=names, of=of, unknown=tuple(unknown), missing=tuple(missing))


def _named(word: str | None, mill: Mill) -> tuple[str, ...]:
    part = part_named(word, mill)
    return tuple(p.name for p in mill.parts) if part is None else (part,)
