"""All entries of a shed to its state: the order they count in, and what crosses looms.

Pure. Entries count by event time, within a file by line; the result is the same for any order of
saves and any split into files that keeps a loom's lines of one minute together. Within a minute a
loom's lines know nothing of another loom's, save that a moved part comes as its own loom's lines
leave it; groups open their actions before the looms speak, and close and hand over after them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import InitVar, dataclass, field
from datetime import datetime
from itertools import takewhile

from board.mill import Mill
from board.state import made, moves
from board.state.actions import NotClosed, find
from board.state.counting import Counted, counted
from board.state.fleet import Complaint, Fleet, LoomState
from board.state.folded import Folded
from board.state.happening import (
    Arrival,
    Happening,
    Stepped,
    happenings_of,
    of_the_shed,
    place_filled,
    spread,
)
from board.state.history import Fact, history_of
from board.state.logged import Logged, by_minute
from board.state.minutes import order_taken
from board.state.shedwide import CLOSINGS, Closing, Shedwide, in_turn
from board.state.step import left_isolated, step
from grammar import entries as e
from grammar.diagnostics import Diagnostic
from grammar.making import changed

Entries = Iterable[Logged] | Counted


def fold(entries: Entries, mill: Mill, as_of: datetime, start: Folded | None = None) -> Fleet:
    """The fleet as of a moment (UTC), with every complaint of sense; from where ``start`` stood."""
    if not isinstance(entries, Counted):
        entries = counted(entries, as_of, mill.zone)
    folding = Folding(mill=mill, as_of=as_of, start=start)
    folding.take(entries.entries)
    return folding.fleet((*entries.complaints, *folding.complaints))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Moves:
    """The parts that change their loom in one minute."""

    arriving: Mapping[tuple[str, e.PartAt, str], Arrival] = field(default_factory=dict)
    leaving: Mapping[str, Mapping[e.PartAt, datetime]] = field(default_factory=dict)


_NO_MOVES = _Moves()

_CROSSING = frozenset({e.Moved, e.Opened, e.Done, e.Dropped})  # look beyond their own loom

# A group's ``running`` and the looms that it left as they were, by the happening's identity.
_KeptStill = dict[int, tuple[Happening, list[str]]]


@dataclass(slots=True, kw_only=True)
class Folding:
    """The states while entries pass, from an empty shed or where another fold had come (``start``).

    Only this object changes, the states never do; facts and complaints are those since the start.
    """

    mill: Mill
    as_of: datetime
    complaints: list[Complaint] = field(default_factory=list)
    looms: dict[str, LoomState] = field(init=False)
    shed: Shedwide = field(init=False)
    facts: list[Fact] = field(default_factory=list)
    spoken: dict[str, datetime] = field(default_factory=dict)  # the last entry of each loom
    last_entry: datetime | None = None
    start: InitVar[Folded | None] = None

    def __post_init__(self, start: Folded | None) -> None:
        self.shed = Shedwide(self.mill)
        if start is None:
            self.looms = {loom: LoomState(loom=loom) for loom in self.mill.looms}
            return
        self.looms = dict(start.looms)
        self.shed.actions = start.actions
        self.shed.handovers = dict(start.handovers)
        self.shed.numbers = Counter(start.numbers)
        self.spoken = dict(start.spoken)
        self.last_entry = start.last_entry

    def take(self, entries: Sequence[Logged]) -> None:
        """Entries in time order, whole minutes of them, none before what was taken already."""
        for group in by_minute(entries):
            self.minute(group)

    def folded(self) -> Folded:
        """How far this has come."""
        return Folded(
            looms=dict(self.looms),
            actions=self.shed.actions,
            handovers=dict(self.shed.handovers),
            numbers={number: n for number, n in self.shed.numbers.items() if n},
            spoken=dict(self.spoken),
            last_entry=self.last_entry,
        )

    # -- one minute ------------------------------------------------------------------------

    def minute(self, entries: Sequence[Logged]) -> None:
        """Everything that happens in one minute."""
        last = entries[-1].entry
        self.last_entry = last.when if last.when <= self.as_of else self.last_entry
        if len(entries) == 1 and last.place.kind is e.PlaceKind.LOOM:
            happenings = happenings_of(entries[0], last.place.name)
            if not any(type(h.clause) in _CROSSING for h in happenings):
                self._alone(last.place.name, happenings)
                return
        self._crowded(entries)

    def _alone(self, loom: str, happenings: Sequence[Happening]) -> None:
        """A minute with one entry of one loom, and nothing in it that another loom may mind."""
        for happening in happenings:
            stepped = step(self.looms[loom], happening, self.mill)
            if stepped.facts or stepped.complaints:
                self._record(loom, happening, stepped, None)
            self.looms[loom] = stepped.state
        self._speaks(loom, happenings)

    def _crowded(self, entries: Sequence[Logged]) -> None:
        """A minute with more than one entry, or one of a group, or a part that moves."""
        blocks: dict[str, dict[str, list[Happening]]] = {}
        groups = in_turn(h for logged in entries for h in of_the_shed(logged))
        for happening in groups:
            if isinstance(happening.clause, e.Opened):
                self._number(happening, happening.clause)
                self.shed.open(happening, happening.clause)
        for logged in entries:
            for loom, happenings in spread(logged):
                blocks.setdefault(loom, {}).setdefault(logged.path, []).extend(happenings)
        per_file = {loom: list(files.values()) for loom, files in blocks.items()}
        said = (h for files in per_file.values() for block in files for h in block)
        moving = [h for h in said if type(h.clause) is e.Moved]
        there = _NO_MOVES
        if moving:
            there = self._moves(moving, self._in_order(per_file, _NO_MOVES)[0])
        ordered, complaints = self._in_order(per_file, there)
        self.complaints += complaints
        kept_still: _KeptStill = {}
        elsewhere: list[Happening] = []
        for loom in sorted({*ordered, *there.leaving}):
            elsewhere += self._apply(loom, ordered.get(loom, []), there, kept_still)
        for happening, looms in kept_still.values():
            self._complain(happening, left_isolated(happening, looms))
        for happening in (*elsewhere, *groups):
            self._shedwide(happening)

    def _in_order(
        self, per_file: Mapping[str, list[list[Happening]]], there: _Moves
    ) -> tuple[dict[str, list[Happening]], list[Complaint]]:
        """Each loom's happenings in the order taken, and where another order would matter."""
        ordered: dict[str, list[Happening]] = {}
        complaints: list[Complaint] = []
        for loom, blocks in per_file.items():
            if len(blocks) == 1:
                ordered[loom] = blocks[0]
                continue

            def trial(happenings: Sequence[Happening], loom: str = loom) -> list[Stepped]:
                steps = [stepped for _, stepped in self._steps(loom, happenings, there) if stepped]
                return steps or [Stepped(state=self.looms[loom])]

            taken = order_taken(loom, blocks, trial)
            ordered[loom] = taken.happenings
            if taken.complaint:
                path = taken.happenings[-1].source.path
                complaints.append(Complaint(path=path, diagnostic=taken.complaint))
        return ordered, complaints

    # -- one loom --------------------------------------------------------------------------

    def _steps(
        self, loom: str, happenings: Sequence[Happening], there: _Moves
    ) -> Iterator[tuple[Happening | None, Stepped | None]]:
        """How a loom steps through a minute; changes nothing.

        A part leaves before the line that puts another in its place, or at the end: that step
        has no happening. A closing that names another place's action is no step of this loom.
        """
        state = self.looms[loom]
        leaving = dict(there.leaving[loom]) if loom in there.leaving else {}
        for happening in happenings:
            clause = happening.clause
            if leaving and (at := place_filled(clause)) in leaving:
                state = moves.emptied(state, at, leaving.pop(at))
                yield None, made.Stepped(state=state)
            if isinstance(clause, e.Moved):
                arriving = there.arriving.get((loom, clause.at, clause.origin))
                happening = changed(happening, arriving=arriving)
            elif isinstance(clause, CLOSINGS) and self._is_elsewhere(state, clause):
                yield happening, None
                continue
            stepped = step(state, happening, self.mill)
            state = stepped.state
            yield happening, stepped
        for at, when in leaving.items():
            state = moves.emptied(state, at, when)
            yield None, made.Stepped(state=state)

    def _is_elsewhere(self, state: LoomState, clause: Closing) -> bool:
        own = find(state.actions, clause)
        return isinstance(own, NotClosed) and self.shed.has(state.loom, clause)

    def _apply(
        self,
        loom: str,
        happenings: list[Happening],
        there: _Moves,
        kept_still: _KeptStill | None = None,
    ) -> list[Happening]:
        """Steps a loom through a minute; gives back what closes another place's action."""
        elsewhere: list[Happening] = []
        for happening, stepped in self._steps(loom, happenings, there):
            if stepped is None:
                assert happening is not None
                elsewhere.append(happening)
                continue
            if happening is not None:
                self._record(loom, happening, stepped, kept_still)
            self.looms[loom] = stepped.state
        self._speaks(loom, happenings)
        return elsewhere

    def _speaks(self, loom: str, happenings: Sequence[Happening]) -> None:
        if happenings:
            when = happenings[-1].entry.when
            if when <= self.as_of:
                self.spoken[loom] = when

    def _record(
        self, loom: str, happening: Happening, stepped: Stepped, kept_still: _KeptStill | None
    ) -> None:
        """Keeps what a step leaves behind beside the loom's state."""
        clause = happening.clause
        if isinstance(clause, e.Opened):
            self._number(happening, clause)
        if stepped.facts:
            self.facts += stepped.facts
            if isinstance(clause, CLOSINGS):
                self.shed.closed(stepped.facts)
        for complaint in stepped.complaints:
            if happening.of_group and kept_still is not None:
                kept_still.setdefault(id(happening), (happening, []))[1].append(loom)
            elif isinstance(clause, CLOSINGS):
                self._complain(happening, self._told_where(complaint, clause))
            else:
                self._complain(happening, complaint)

    def _number(self, happening: Happening, clause: e.Opened) -> None:
        taken = self.shed.number_taken(happening, clause, self.looms)
        if taken:
            self._complain(happening, taken)

    def _told_where(self, complaint: Diagnostic, clause: Closing) -> Diagnostic:
        """Where an action of that number is open on another loom, the complaint names it."""
        if not isinstance(clause.name, e.ByNumber):
            return complaint
        other = self.shed.with_number(clause.name.number, self.looms)
        if other is None:
            return complaint
        return changed(complaint, help=f"{clause.name.written} is open on {other.place.name}")

    def _complain(self, happening: Happening, complaint: Diagnostic) -> None:
        self.complaints.append(happening.told(complaint))

    # -- what crosses looms ----------------------------------------------------------------

    def _moves(
        self, moving: Sequence[Happening], ordered: Mapping[str, Sequence[Happening]]
    ) -> _Moves:
        """The parts that change their loom in a minute, each as its own loom's lines leave it."""
        arriving: dict[tuple[str, e.PartAt, str], Arrival] = {}
        leaving: dict[str, dict[e.PartAt, datetime]] = {}
        for happening in sorted(moving, key=lambda h: (h.when, h.place.name)):
            clause, loom = happening.clause, happening.place.name
            assert isinstance(clause, e.Moved)
            gone = leaving.setdefault(clause.origin, {})
            if clause.origin == loom or clause.at in gone:
                continue  # it comes from nowhere else, or another loom has taken it
            before = takewhile(
                lambda h, at=clause.at: place_filled(h.clause) != at,  # type: ignore[misc]
                ordered.get(clause.origin, ()),
            )
            state = self.looms[clause.origin]
            for _, stepped in self._steps(clause.origin, list(before), _NO_MOVES):
                state = stepped.state if stepped else state
            arrival = moves.leaving(state, clause.at, happening.when)
            if arrival is not None:
                gone[clause.at] = happening.when
                arriving[loom, clause.at, clause.origin] = arrival
        return _Moves(arriving=arriving, leaving={o: gone for o, gone in leaving.items() if gone})

    def _shedwide(self, happening: Happening) -> None:
        clause = happening.clause
        match clause:
            case e.HandedOver():
                self.shed.handed_over(happening, clause)
            case e.TakenOver():
                self.shed.taken_over(happening, clause)
            case e.Done() | e.Dropped():
                closed = self.shed.close(happening, clause, self.looms)
                if isinstance(closed, str):
                    self._record_closing(closed, happening)
                elif isinstance(closed, Diagnostic):
                    self._complain(happening, closed)
                else:
                    self.facts.append(closed)
                    self.shed.closed((closed,))
            case _:
                pass

    def _record_closing(self, loom: str, happening: Happening) -> None:
        """A group's line closes the action of one of its looms."""
        stepped = step(self.looms[loom], happening, self.mill)
        self._record(loom, happening, stepped, None)
        self.looms[loom] = stepped.state

    # -- the end ---------------------------------------------------------------------------

    def fleet(self, complaints: Sequence[Complaint]) -> Fleet:
        """What all entries together make of the shed, with these complaints."""
        looms = {
            loom: changed(state, last_entry=self.spoken.get(loom))
            for loom, state in self.looms.items()
        }
        return Fleet(
            as_of=self.as_of,
            looms=looms,
            shed=self.shed.state(),
            history=history_of(self.facts),
            complaints=tuple(complaints),
            last_entry=self.last_entry,
        )
