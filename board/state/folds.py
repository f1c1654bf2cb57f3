"""Several folds that begin alike: what they have in common is folded once."""

from __future__ import annotations

from collections.abc import Sequence

from board.mill import Mill
from board.state.counting import Counted
from board.state.fleet import Fleet
from board.state.fold import Folding
from board.state.folded import Folded
from board.state.logged import Logged, alike


def folds(several: Sequence[Counted], mill: Mill, start: Folded | None = None) -> list[Fleet]:
    """The fleet that ``fold`` makes of each of these, from where ``start`` stood."""
    as_of = min(counted.as_of for counted in several)
    common = _common([counted.entries for counted in several])
    while common and several[0].entries[common - 1].entry.when > as_of:
        common -= 1  # one to come for some of them counts otherwise there
    common = min((_whole_minutes(counted.entries, common) for counted in several), default=0)
    root = Folding(mill=mill, as_of=as_of, start=start)
    root.take(several[0].entries[:common])
    fleets = []
    for counted in several:
        folding = Folding(
            mill=mill,
            as_of=counted.as_of,
            start=root.folded(),
            facts=[*root.facts],
            complaints=[*root.complaints],
        )
        folding.shed.taken = [*root.shed.taken]
        folding.take(counted.entries[common:])
        fleets.append(folding.fleet((*counted.complaints, *folding.complaints)))
    return fleets


def _common(several: Sequence[Sequence[Logged]]) -> int:
    """How many entries all of them begin with alike."""
    count = 0
    for first, *others in zip(*several, strict=False):
        if not all(alike(first, other) for other in others):
            break
        count += 1
    return count


def _whole_minutes(entries: Sequence[Logged], upto: int) -> int:
    """How many of the first entries come before any minute that goes on behind them."""
    if upto >= len(entries):
        return len(entries)
    begin = entries[upto].entry.when.replace(second=0, microsecond=0)
    while upto and entries[upto - 1].entry.when >= begin:
        upto -= 1
    return upto
