"""All entries of a shed to its state: the order they count in, and what crosses looms.

Pure. Entries count by event time, within a file by line; the result is the same for any order of
saves and any split into files that keeps a loom's lines of one minute together.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import groupby, permutations

from board.mill import Mill
from board.state import actions, parts
from board.state.fleet import (
    Action,
    Complaint,
    Fleet,
    Handover,
    LoomState,
    Motion,
    ShedState,
)
from board.state.happening import Happening, Stepped
from board.state.history import (
    ClearedFault,
    ClosedAction,
    CounterReading,
    Fact,
    History,
    Job,
    PartLife,
    ProofGiven,
    Spell,
    StyleChange,
)
from board.state.logged import Logged, in_time_order, struck, until, without_doubles
from board.state.step import step
from grammar import entries as e
from grammar.diagnostics import CATALOGUE, Code, Severity


def fold(entries: Iterable[Logged], mill: Mill, as_of: datetime) -> Fleet:
    """The fleet as of a moment (UTC), with every complaint of sense."""
    ordered, complaints = without_doubles(in_time_order(entries))
    known, late = until(ordered, as_of)
    counting, strikes = struck(known)
    folding = _Folding(mill=mill, complaints=[*complaints, *late, *strikes])
    for minute, group in groupby(counting, key=lambda x: _minute(x.entry.when)):
        folding.minute(minute, list(group))
    return folding.fleet(as_of)


@dataclass(slots=True)
class _Folding:
    """The states while entries pass; only this object changes, the states never do."""

    mill: Mill
    complaints: list[Complaint]
    looms: dict[str, LoomState] = field(default_factory=dict)
    shed_actions: tuple[Action, ...] = ()
    handovers: dict[str, Handover] = field(default_factory=dict)
    taken: list[Handover] = field(default_factory=list)
    facts: list[Fact] = field(default_factory=list)
    last_entry: datetime | None = None

    def __post_init__(self) -> None:
        self.looms = {loom: LoomState(loom=loom) for loom in self.mill.looms}

    # -- one minute ------------------------------------------------------------------------

    def minute(self, minute: datetime, entries: list[Logged]) -> None:
        """Everything that happens in one minute: moves, then each loom's lines, then the rest."""
        self.last_entry = entries[-1].entry.when
        arriving = self._take_moved(entries, dict(self.looms))
        for logged in entries:
            self._open_for_groups(logged)
        per_loom: dict[str, dict[str, list[Happening]]] = defaultdict(lambda: defaultdict(list))
        shared: list[Happening] = []
        for logged in entries:
            for loom, happenings in self._spread(logged, arriving).items():
                per_loom[loom][logged.path] += happenings
            shared += self._shared(logged)
        for loom in sorted(per_loom):
            self._loom_minute(loom, list(per_loom[loom].values()))
        for happening in shared:
            self._shared_happening(happening)

    def _open_for_groups(self, logged: Logged) -> None:
        if logged.entry.place.kind is e.PlaceKind.LOOM:
            return
        for clause in logged.entry.clauses:
            if isinstance(clause, e.Opened):
                happening = _happening(logged, clause)
                self._number_taken(happening, clause)
                action = actions.new_action(happening, clause)
                self.shed_actions = actions.in_order((*self.shed_actions, action))

    def _spread(
        self, logged: Logged, arriving: dict[tuple[str, e.PartAt], PartLife]
    ) -> dict[str, list[Happening]]:
        """What an entry says of each loom of its place, less what is closed elsewhere."""
        entry = logged.entry
        spread: dict[str, list[Happening]] = {}
        for loom in entry.place.looms:
            job: e.PartAt | None = None
            happenings: list[Happening] = []
            for clause in logged.counting(loom):
                if entry.place.kind is not e.PlaceKind.LOOM and not isinstance(
                    clause, e.Stopped | e.Running | e.StyleSet
                ):
                    continue
                if isinstance(clause, e.Done | e.Dropped) and not self._own_action(
                    loom, clause, happenings
                ):
                    continue
                life = None
                if isinstance(clause, e.Moved):
                    life = arriving.get((loom, clause.at))
                happenings.append(replace(_happening(logged, clause), job=job, arriving=life))
                if isinstance(clause, e.Worked | e.Moved):
                    job = clause.at
            if happenings:
                spread[loom] = happenings
        return spread

    def _own_action(self, loom: str, clause: e.Done | e.Dropped, before: list[Happening]) -> bool:
        """Whether the action named is the loom's own; a number may be of the shed's or a row's."""
        own = self.looms[loom].actions
        opened = tuple(
            actions.new_action(h, h.clause) for h in before if isinstance(h.clause, e.Opened)
        )
        if not isinstance(actions.find((*own, *opened), clause), actions.NotClosed):
            return True
        return self._elsewhere(loom, clause) is None

    def _elsewhere(self, loom: str, clause: e.Done | e.Dropped) -> Action | None:
        groups = tuple(a for a in self.shed_actions if loom in a.place.looms)
        found = actions.find(groups, clause)
        return None if isinstance(found, actions.NotClosed) else found

    def _loom_minute(self, loom: str, files: list[list[Happening]]) -> None:
        state = self.looms[loom]
        if len(files) == 1:
            self._apply(loom, files[0])
            return
        trials = [
            (self._trial(state, [h for block in order for h in block]), order)
            for order in _orders(files)
        ]
        outcomes = {_outcome(trial) for trial, _ in trials}
        best = min(trials, key=lambda t: (_preference(t[0]), _texts(t[1])))
        chosen = [h for block in best[1] for h in block]
        self._apply(loom, chosen)
        if len(outcomes) > 1:
            last = chosen[-1]
            others = sorted({h.source.path for h in chosen} - {last.source.path})
            diagnostic = last.complaint(
                Code.SAME_MINUTE,
                f"{', '.join(others)} speaks of {loom} in the same minute and the order matters",
                help="the order that leaves the loom isolated, then stopped, was taken",
            )
            self.complaints.append(Complaint(path=last.source.path, diagnostic=diagnostic))

    def _trial(self, state: LoomState, happenings: list[Happening]) -> list[Stepped]:
        trial = []
        for happening in happenings:
            stepped = step(state, happening, self.mill)
            state = stepped.state
            trial.append(stepped)
        return trial

    def _apply(self, loom: str, happenings: list[Happening]) -> None:
        for happening in happenings:
            state = self.looms[loom]
            if isinstance(happening.clause, e.Opened):
                self._number_taken(happening, happening.clause)
            if isinstance(happening.clause, e.Moved) and happening.arriving is not None:
                self.facts += parts.gave_way(state, happening, happening.clause.at)
            stepped = step(state, happening, self.mill)
            self.looms[loom] = stepped.state
            self.facts += stepped.facts
            self._complain(happening, stepped)

    def _complain(self, happening: Happening, stepped: Stepped) -> None:
        self.complaints += [
            Complaint(path=happening.source.path, diagnostic=d) for d in stepped.complaints
        ]

    # -- what crosses looms ----------------------------------------------------------------

    def _take_moved(
        self, entries: Sequence[Logged], before: dict[str, LoomState]
    ) -> dict[tuple[str, e.PartAt], PartLife]:
        """The lives that moved parts bring, all as they were before this minute.

        So two mutual moves in one minute are a swap, whichever line comes first.
        """
        arriving: dict[tuple[str, e.PartAt], PartLife] = {}
        left: dict[tuple[str, e.PartAt], datetime] = {}
        for logged in sorted(entries, key=lambda x: (x.entry.when, x.entry.place.name)):
            if logged.entry.place.kind is not e.PlaceKind.LOOM:
                continue
            loom = logged.entry.place.name
            for clause in logged.counting(loom):
                if not isinstance(clause, e.Moved) or clause.origin == loom:
                    continue
                origin = before[clause.origin]
                life = parts.life_of(origin, clause.at)
                if (clause.origin, clause.at) in left:
                    continue  # taken by another loom in this minute already
                left[clause.origin, clause.at] = logged.entry.when
                arriving[loom, clause.at] = parts.left(life, logged.entry.when)
        for (loom, at), when in left.items():
            if arriving.get((loom, at)) is None and parts.life_of(before[loom], at).ended is None:
                self.looms[loom] = parts.emptied(self.looms[loom], at, when)
        return arriving

    def _shared(self, logged: Logged) -> list[Happening]:
        """Handovers, and actions that are closed for a group or by another place's line."""
        entry = logged.entry
        found = []
        of_loom = entry.place.kind is e.PlaceKind.LOOM
        looms = entry.place.looms
        for clause in entry.clauses:
            if of_loom:
                if logged.struck_for or not isinstance(clause, e.Done | e.Dropped):
                    continue
                if self._elsewhere(looms[0], clause) is None or not isinstance(
                    actions.find(self.looms[looms[0]].actions, clause), actions.NotClosed
                ):
                    continue
                found.append(_happening(logged, clause))
            elif isinstance(clause, e.Done | e.Dropped | e.HandedOver | e.TakenOver):
                found.append(_happening(logged, clause))
        return found

    def _shared_happening(self, happening: Happening) -> None:
        clause = happening.clause
        match clause:
            case e.Done() | e.Dropped():
                self._close_shared(happening, clause)
            case e.HandedOver():
                self._handed_over(happening, clause)
            case e.TakenOver():
                self._taken_over(happening, clause)
            case _:
                pass

    def _close_shared(self, happening: Happening, clause: e.Done | e.Dropped) -> None:
        within = tuple(
            a for a in self.shed_actions if set(a.place.looms) & set(happening.place.looms)
        )
        if isinstance(actions.find(within, clause), actions.NotClosed):
            owner = self._loom_with(happening, clause)
            if owner is not None:
                stepped = actions.closed(self.looms[owner], happening, self.mill)
                self.looms[owner] = stepped.state
                self.facts += stepped.facts
                self._complain(happening, stepped)
                return
        _, fact = actions.close_among(within, happening)
        if isinstance(fact, actions.NotClosed):
            message = f"{fact.message} for {happening.place.name}"
            diagnostic = happening.complaint(Code.NO_SUCH_ACTION, message, help=fact.help)
            self.complaints.append(Complaint(path=happening.source.path, diagnostic=diagnostic))
            return
        self.shed_actions = tuple(a for a in self.shed_actions if a is not fact.action)
        self.facts.append(fact)

    def _loom_with(self, happening: Happening, clause: e.Done | e.Dropped) -> str | None:
        """The one loom of a group's place that has the action."""
        owners = [
            loom
            for loom in happening.place.looms
            if not isinstance(actions.find(self.looms[loom].actions, clause), actions.NotClosed)
        ]
        return owners[0] if len(owners) == 1 else None

    def _number_taken(self, happening: Happening, clause: e.Opened) -> None:
        if clause.number is None:
            return
        everything = (*self.shed_actions, *(a for s in self.looms.values() for a in s.actions))
        taken = next((a for a in everything if a.number == clause.number), None)
        if taken is None:
            return
        diagnostic = happening.complaint(
            Code.NUMBER_TAKEN,
            f"no {clause.number} is open already on {taken.place.name}: {taken.text}",
            help="both are kept; give the later one the next free number",
        )
        self.complaints.append(Complaint(path=happening.source.path, diagnostic=diagnostic))

    def _handed_over(self, happening: Happening, clause: e.HandedOver) -> None:
        what = happening.place.name
        self.handovers[what] = Handover(
            what=what,
            by=clause.by,
            to=clause.to,
            said=happening.when,
            shift=happening.shift,
        )

    def _taken_over(self, happening: Happening, clause: e.TakenOver) -> None:
        what = happening.place.name
        said = self.handovers.get(what)
        if said is None or said.taken is not None:
            said = Handover(what=what)
        taken = replace(
            said,
            taken=happening.when,
            taken_by=clause.by,
            seal=clause.seal,
            source=happening.source,
        )
        self.handovers[what] = taken
        self.taken.append(taken)

    # -- the end ---------------------------------------------------------------------------

    def fleet(self, as_of: datetime) -> Fleet:
        return Fleet(
            as_of=as_of,
            looms=self.looms,
            shed=ShedState(
                actions=self.shed_actions, handovers=self.handovers, taken=tuple(self.taken)
            ),
            history=_history(self.facts),
            complaints=tuple(self.complaints),
            last_entry=self.last_entry,
        )


def _minute(moment: datetime) -> datetime:
    return moment.replace(second=0, microsecond=0)


def _happening(logged: Logged, clause: e.Clause) -> Happening:
    entry = logged.entry
    return Happening(
        clause=clause,
        when=entry.when,
        latest=entry.latest,
        place=entry.place,
        source=logged.source,
        by=entry.by,
        shift=entry.shift,
    )


# -- two files in one minute ---------------------------------------------------------------


def _orders(files: list[list[Happening]]) -> Iterable[tuple[list[Happening], ...]]:
    """The orders of files to try; beyond 120, those with an isolation last."""
    if len(files) <= 5:
        return permutations(files)
    last = sorted(
        files,
        key=lambda block: (any(isinstance(h.clause, e.Isolated) for h in block), _text(block)),
    )
    return [tuple(last)]


def _outcome(trial: list[Stepped]) -> tuple[object, ...]:
    state = trial[-1].state
    refused = sorted(
        (d.code.value, d.text) for s in trial for d in s.complaints if _is_refused(d.code)
    )
    return (
        state.motion,
        state.stopped_for,
        state.locks,
        state.conflict_since,
        state.faults,
        state.actions,
        state.proofs,
        repr(sorted(state.parts.items(), key=lambda item: repr(item[0]))),
        state.counters,
        state.style,
        tuple(refused),
    )


def _preference(trial: list[Stepped]) -> tuple[object, ...]:
    """Isolated before not, then stopped before running, then the fewest refusals."""
    state = trial[-1].state
    refused = sum(_is_refused(d.code) for s in trial for d in s.complaints)
    return (
        -len(state.locks),
        state.conflict_since is None,
        state.motion is Motion.RUNNING,
        refused,
    )


def _is_refused(code: Code) -> bool:
    return CATALOGUE[code].severity is Severity.REFUSED


def _texts(order: tuple[list[Happening], ...]) -> tuple[tuple[str, ...], ...]:
    return tuple(map(_text, order))


def _text(block: list[Happening]) -> tuple[str, ...]:
    return tuple(h.source.text for h in block)


def _history(facts: list[Fact]) -> History:
    return History(
        spells=tuple(f for f in facts if isinstance(f, Spell)),
        counters=tuple(f for f in facts if isinstance(f, CounterReading)),
        styles=tuple(f for f in facts if isinstance(f, StyleChange)),
        cleared=tuple(f for f in facts if isinstance(f, ClearedFault)),
        jobs=tuple(f for f in facts if isinstance(f, Job)),
        proofs=tuple(f for f in facts if isinstance(f, ProofGiven)),
        closed=tuple(f for f in facts if isinstance(f, ClosedAction)),
        lives=tuple(f for f in facts if isinstance(f, PartLife)),
    )
