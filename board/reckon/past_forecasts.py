"""How this shed's own past forecasts turned out, over every part, side and quantity.

One line for the board, and the whole for ``wear --audit``. Each forecast is made from the lines
before its time only; the seed that draws its moment is fixed, so that two looks agree.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from board.mill import Mill
from board.reckon.audit import Audit, DatedLife, audit
from board.reckon.refusal import Refusal
from board.reckon.wear_record import Group, wearing
from grammar.frozen import dataclass

SEED = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupAudit:
    """The audit of one group, toward one limit."""

    group: Group
    limit: float
    audit: Audit | Refusal
    lives: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """Counts over all groups: lives judged, held inside the band, replaced before judgement."""

    judged: int
    held: int
    replaced_early: int
    no_forecast: int

    @property
    def sentence(self) -> str:
        """``held 17 of 19 lives, 6 replaced before judgement``."""
        said = f"held {self.held} of {self.judged} lives"
        if self.replaced_early:
            said += f", {self.replaced_early} replaced before judgement"
        return said


def audits(past: Mapping[Group, Sequence[DatedLife]], mill: Mill) -> tuple[GroupAudit, ...]:
    """The audit of every group that has a limit, in the register's order."""
    order = {part.name: i for i, part in enumerate(mill.parts)}
    found = []
    for group in sorted(past, key=lambda g: (order.get(g.part, 0), g.side or "", g.quantity)):
        quantity = mill.quantity(group.part, group.quantity)
        for toward in wearing(quantity) if quantity else ():
            found.append(
                GroupAudit(
                    group=group,
                    limit=toward.limit,
                    audit=audit(past[group], toward, SEED),
                    lives=len(past[group]),
                )
            )
    return tuple(found)


def held(found: Sequence[GroupAudit]) -> Held:
    """The counts of all groups together."""
    done = [one.audit for one in found if isinstance(one.audit, Audit)]
    return Held(
        judged=sum(a.all.judged for a in done),
        held=sum(a.all.held for a in done),
        replaced_early=sum(a.replaced_early for a in done),
        no_forecast=sum(a.no_forecast for a in done),
    )
