"""What belongs to no single loom while entries pass: groups' actions, numbers and handovers."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from board.mill import Mill
from board.state import actions
from board.state.fleet import Action, Handover, LoomState, ShedState
from board.state.happening import Happening
from board.state.history import ClosedAction
from board.state.seals import shift_of_incoming, shift_of_outgoing
from board.state.shifts import ShiftCalendar
from grammar import entries as e
from grammar.diagnostics import Code, Diagnostic
from grammar.making import changed

Closing = e.Done | e.Dropped
CLOSINGS = (e.Done, e.Dropped)


_RANK = {e.Opened: 0, e.HandedOver: 1, e.TakenOver: 2}  # and then the closings


def in_turn(happenings: Iterable[Happening]) -> list[Happening]:
    """What groups' entries say in one minute, in an order that no name of a file decides.

    Actions open first, and the outgoing word comes before the incoming one. Lines of one file
    keep their order, files come by what they say.
    """
    happenings = list(happenings)
    said: dict[str, list[str]] = defaultdict(list)
    for happening in happenings:
        said[happening.source.path].append(happening.source.text)
    return sorted(
        happenings,
        key=lambda h: (
            _RANK.get(type(h.clause), len(_RANK)),
            said[h.source.path],
            h.by or "",
            h.when,
            h.source.line,
            h.clause.span.start,
        ),
    )


@dataclass(slots=True)
class Shedwide:
    """The shed's part of a fold: it changes as entries pass, what it holds never does."""

    mill: Mill
    actions: tuple[Action, ...] = ()
    handovers: dict[str, Handover] = field(default_factory=dict)
    taken: list[Handover] = field(default_factory=list)
    numbers: Counter[int] = field(default_factory=Counter)  # of the open actions
    calendar: ShiftCalendar = field(init=False)

    def __post_init__(self) -> None:
        self.calendar = ShiftCalendar(self.mill.shifts, self.mill.zone)

    def state(self) -> ShedState:
        """The shed as it is now."""
        return ShedState(
            actions=self.actions, handovers=dict(self.handovers), taken=tuple(self.taken)
        )

    # -- actions ---------------------------------------------------------------------------

    def open(self, happening: Happening, clause: e.Opened) -> None:
        """``open`` for a group of looms."""
        action = actions.new_action(happening, clause)
        self.actions = actions.in_order((*self.actions, action))

    def number_taken(
        self, happening: Happening, clause: e.Opened, looms: Mapping[str, LoomState]
    ) -> Diagnostic | None:
        """The complaint where the number of a new action is open already; counts it from here."""
        number = clause.number
        if number is None:
            return None
        taken = self.with_number(number, looms)
        self.numbers[number] += 1
        if taken is None:
            return None
        return happening.complaint(
            Code.NUMBER_TAKEN,
            f"no {number} is open already on {taken.place.name}: {taken.text}",
            help="both are kept; give the later one the next free number",
        )

    def with_number(self, number: int, looms: Mapping[str, LoomState]) -> Action | None:
        """An open action of that number, the shed's before a loom's, or None."""
        if not self.numbers[number]:
            return None
        everything = (*self.actions, *(a for state in looms.values() for a in state.actions))
        return next((a for a in everything if a.number == number), None)

    def closed(self, facts: Iterable[object]) -> None:
        """Takes the numbers of closed actions for free again."""
        for fact in facts:
            if isinstance(fact, ClosedAction) and fact.action.number is not None:
                self.numbers[fact.action.number] -= 1

    def has(self, loom: str, clause: Closing) -> bool:
        """Whether an action of the shed or of a group with this loom is the one that is named."""
        groups = tuple(a for a in self.actions if loom in a.place.looms)
        return not isinstance(actions.find(groups, clause), actions.NotClosed)

    def close(
        self, happening: Happening, clause: Closing, looms: Mapping[str, LoomState]
    ) -> ClosedAction | Diagnostic | str:
        """Closes an action of a group; or names the one loom in the place whose action it is."""
        place = happening.place
        within = tuple(a for a in self.actions if set(a.place.looms) & set(place.looms))
        if isinstance(actions.find(within, clause), actions.NotClosed):
            owners = [
                loom
                for loom in place.looms
                if not isinstance(actions.find(looms[loom].actions, clause), actions.NotClosed)
            ]
            if len(owners) == 1:
                return owners[0]
        _, fact = actions.close_among(within, happening)
        if isinstance(fact, actions.NotClosed):
            message = f"{fact.message} for {place.name}"
            return happening.complaint(Code.NO_SUCH_ACTION, message, help=fact.help)
        self.actions = tuple(a for a in self.actions if a is not fact.action)
        return fact

    # -- handovers -------------------------------------------------------------------------

    def handed_over(self, happening: Happening, clause: e.HandedOver) -> None:
        """The outgoing lead's word."""
        what = happening.place.name
        self.handovers[what] = Handover(
            what=what,
            by=clause.by,
            to=clause.to,
            said=happening.when,
            shift=shift_of_outgoing(happening.shift, happening.when, self.calendar),
        )

    def taken_over(self, happening: Happening, clause: e.TakenOver) -> None:
        """The incoming lead's word; said by two for one shift, it belongs to one handover."""
        what = happening.place.name
        given = shift_of_incoming(happening.shift, happening.when, self.calendar)
        handover = self.handovers.get(what)
        if handover is None or (handover.taken is not None and handover.shift != given):
            handover = Handover(what=what, shift=given)
        taken = changed(
            handover,
            taken=happening.when,
            taken_by=clause.by,
            seal=clause.seal,
            source=happening.source,
        )
        self.handovers[what] = taken
        self.taken.append(taken)
