"""Several folds that begin alike: what they have in common is folded once."""

from __future__ import annotations

from collections.abc import Sequence

from board.mill import Mill
from board.state.counting import Counted
from board.state.fleet import Fleet
from board.state.fold import Folding
from board.state.folded import Folded
from board.state.logged import begin_alike, whole_minutes


def folds(several: Sequence[Counted], mill: Mill, start: Folded | None = None) -> list[Fleet]:
    """The fleet that ``fold`` makes of each of these, from where ``start`` stood."""
    as_of = min(counted.as_of for counted in several)
    common = begin_alike([counted.entries for counted in several])
    while common and several[0].entries[common - 1].entry.when > as_of:
        common -= 1  # one to come for some of them counts otherwise there
    common = min((whole_minutes(counted.entries, common) for counted in several), default=0)
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
