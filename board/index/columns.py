"""Facts in columns, as the reckoning takes years of them: made once when they are baked.

What is kept of a segment is joined with the others, and with what the tail holds; of part lives,
which are learned from, only the newest of each group. numpy is loaded only where columns are made
or asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from board.state import meters, spells
from board.state.history import CounterReading, PartLife, Spell
from board.state.later import Later

if TYPE_CHECKING:
    from board.state.fleet import Source


OF_GROUP = f"{PartLife.__name__} of "  # and the group: part, side and quantity


def kind_of(kind: type) -> str:
    """The name that the columns of a kind of fact are kept under."""
    return f"{kind.__name__} in columns"


def has_columns(kind: type) -> bool:
    """Whether facts of a kind are kept in columns too."""
    return kind in (Spell, CounterReading, PartLife)


def kept_of(kind: type, facts: Sequence[Any]) -> dict[str, tuple[Any, ...]]:
    """What is kept of a segment's facts in columns, each under its name."""
    if kind is not PartLife:
        return {kind_of(kind): (made_of(kind, facts),)}
    import board.reckon.ended as ended

    # of each group only the newest are ever asked for
    groups = ended.by_group(facts)
    return {f"{OF_GROUP}{(g.part, g.side, g.quantity)!r}": (own,) for g, own in groups.items()}


def made_of(kind: type, facts: Sequence[Any]) -> object:
    """The columns of some facts of a kind, as they are kept."""
    if kind is Spell:
        return spells.made_of(facts)
    if kind is CounterReading:
        # the lines they were written in would make most of it, and few are ever asked for
        return replace(meters.counters_made_of(facts), sources=())
    import board.reckon.ended as ended

    return ended.made_of(facts)


def newest_lives(of_groups: Iterable[Iterator[Any]]) -> list[Any]:
    """The columns of part lives that are learned from, of each group from the newest on."""
    import board.reckon.ended as ended

    return [piece for pieces in of_groups for piece in ended.enough(pieces, ended.MOST)]


def told(
    kind: type, several: Sequence[Any], facts: Callable[[], Iterable[CounterReading]]
) -> object:
    """Columns behind each other as they are reckoned with; ``facts`` tells the facts themselves."""
    if kind is Spell:
        return spells.SpellPieces(tuple(several))
    if kind is CounterReading:
        return _joined_counters(several, facts)
    import board.reckon.ended as ended

    return ended.joined(several)


def _joined_counters(
    several: Sequence[meters.CounterColumns], facts: Callable[[], Iterable[CounterReading]]
) -> meters.CounterColumns:
    import numpy as np

    looms = {name: i for i, name in enumerate(dict.fromkeys(n for c in several for n in c.looms))}
    sources: Later[Source] = Later(lambda _: [reading.source for reading in facts()])
    if not several:
        return meters.counters_made_of(())
    return meters.CounterColumns(
        looms=tuple(looms),
        loom=np.concatenate(
            [np.array([looms[n] for n in c.looms], dtype=np.int32)[c.loom] for c in several]
        ),
        unit=np.concatenate([c.unit for c in several]),
        when=np.concatenate([c.when for c in several]),
        value=np.concatenate([c.value for c in several]),
        new=np.concatenate([c.new for c in several]),
        sources=sources,
    )
