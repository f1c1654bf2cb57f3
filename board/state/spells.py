"""Spells of motion in columns: years of a whole shed as a few arrays, without an object a spell.

Made from spells, or handed in by whoever keeps them so (``Later.columns``). What use they make is
left to ``use_line``. numpy is loaded only where columns are asked for.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from board.state.fleet import Motion
from board.state.history import Spell
from board.state.later import columns, newest_first
from grammar.entries import Reason
from grammar.frozen import dataclass

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Ints = NDArray[np.signedinteger]

MOTIONS = tuple(Motion)
REASONS = (None, *Reason)
GOES_ON = (1 << 63) - 1  # stands for the end of a spell that has none [us since the epoch]

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpellColumns:
    """Spells of any looms, one a row, each loom's in the order that they ended.

    ``loom`` and ``style`` are places in ``looms`` and ``styles``, ``motion`` and ``reason`` in
    MOTIONS and REASONS; ``start`` and ``end`` [us since the epoch] are of 64 bits, the others of
    any width.
    """

    looms: tuple[str, ...]
    styles: tuple[str | None, ...]
    loom: Ints
    start: Ints
    end: Ints
    motion: Ints
    reason: Ints
    style: Ints


@dataclass(frozen=True, slots=True, eq=False)
class SpellPieces:
    """Spells in columns, in several pieces: of each loom those of one end before the next begins.

    The years stay one piece that nobody copies; what came since is another.
    """

    pieces: tuple[SpellColumns, ...]


def micros(when: datetime) -> int:
    """A moment as whole microseconds since the epoch."""
    return (when - _EPOCH) // _MICROSECOND


def columns_of(spells: Sequence[Spell]) -> SpellPieces:
    """Spells in columns: those that they are kept in, else made of them."""
    kept = columns(spells)
    return kept if isinstance(kept, SpellPieces) else SpellPieces((made_of(spells),))


def made_of(spells: Iterable[Spell]) -> SpellColumns:
    """Columns of spells, made anew."""
    import numpy as np

    spells = list(spells)
    looms = {name: i for i, name in enumerate(dict.fromkeys(s.loom for s in spells))}
    styles = {name: i for i, name in enumerate(dict.fromkeys(s.style for s in spells))}
    motions = {motion: i for i, motion in enumerate(MOTIONS)}
    reasons = {reason: i for i, reason in enumerate(REASONS)}
    ends = [GOES_ON if s.end is None else micros(s.end) for s in spells]
    return SpellColumns(
        looms=tuple(looms),
        styles=tuple(styles),
        loom=np.array([looms[s.loom] for s in spells], dtype=np.int32),
        start=np.array([micros(s.start) for s in spells], dtype=np.int64),
        end=np.array(ends, dtype=np.int64),
        motion=np.array([motions[s.motion] for s in spells], dtype=np.int8),
        reason=np.array([reasons[s.reason] for s in spells], dtype=np.int8),
        style=np.array([styles[s.style] for s in spells], dtype=np.int32),
    )


def joined(several: Sequence[SpellColumns]) -> SpellColumns:
    """Columns behind each other as one, though each has its own names, one loom after another."""
    import numpy as np

    if not several:
        return made_of(())
    looms = {name: i for i, name in enumerate(dict.fromkeys(n for c in several for n in c.looms))}
    styles = {name: i for i, name in enumerate(dict.fromkeys(n for c in several for n in c.styles))}

    def renamed(names: Sequence[object], known: Mapping[object, int], column: Ints) -> Ints:
        # a narrow column is sorted by its digits, in time that grows only with its length
        narrow = np.int16 if len(known) < 1 << 15 else np.int32
        return np.array([known[name] for name in names], dtype=narrow)[column]  # type: ignore[return-value]

    loom = np.concatenate([renamed(c.looms, looms, c.loom) for c in several])  # type: ignore[arg-type]
    order = np.argsort(loom, kind="stable")

    def ordered(columns: Sequence[Ints]) -> Ints:
        return np.concatenate(columns)[order]

    return SpellColumns(
        looms=tuple(looms),
        styles=tuple(styles),
        loom=loom[order],
        start=ordered([c.start for c in several]),
        end=ordered([c.end for c in several]),
        motion=ordered([c.motion for c in several]),
        reason=ordered([c.reason for c in several]),
        style=ordered([renamed(c.styles, styles, c.style) for c in several]),  # type: ignore[arg-type]
    )


def of_each_loom(spells: SpellColumns) -> Mapping[str, Ints | slice]:
    """The rows of each loom that has any, in the order they stand in."""
    import numpy as np

    loom, order = spells.loom, None
    if (loom[1:] < loom[:-1]).any():
        order = np.argsort(loom, kind="stable")
        loom = loom[order]
    bounds = np.searchsorted(loom, np.arange(len(spells.looms) + 1, dtype=loom.dtype)).tolist()
    return {
        name: slice(first, last) if order is None else order[first:last]
        for name, first, last in zip(spells.looms, bounds[:-1], bounds[1:], strict=True)
        if last > first
    }


def backwards(spells: Sequence[Spell], loom: str) -> Iterator[Spell]:
    """The spells of one loom from the last to the first, of which none is made before its turn."""
    kept = columns(spells)
    if not isinstance(kept, SpellPieces):
        yield from (spell for spell in newest_first(spells) if spell.loom == loom)
        return
    for piece in reversed(kept.pieces):
        if loom not in piece.looms:
            continue
        for row in (piece.loom == piece.looms.index(loom)).nonzero()[0][::-1].tolist():
            end = int(piece.end[row])
            yield Spell(
                loom=loom,
                motion=MOTIONS[piece.motion[row]],
                start=moment_of(int(piece.start[row])),
                end=None if end == GOES_ON else moment_of(end),
                reason=REASONS[piece.reason[row]],
                style=piece.styles[piece.style[row]],
            )


def moment_of(at: int) -> datetime:
    """The moment of such a number, in UTC."""
    return _EPOCH + timedelta(microseconds=at)
