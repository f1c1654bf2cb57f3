"""One clause as it happens to one loom, from what entry it comes, and what a step gives back."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from board.state.fleet import Action, Complaint, LoomState, Proof, Source
from board.state.history import Fact, PartLife
from board.state.logged import Logged
from grammar.diagnostics import Code, Diagnostic
from grammar.entries import (
    Clause,
    Done,
    Dropped,
    Entry,
    HandedOver,
    Moved,
    Opened,
    PartAt,
    Place,
    PlaceKind,
    Running,
    Shift,
    Stopped,
    StyleSet,
    TakenOver,
    Verb,
    Worked,
)
from grammar.frozen import dataclass
from grammar.making import maker


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """What a moved part brings along: its life, the proofs it still misses, its open rechecks."""

    life: PartLife
    proofs: tuple[Proof, ...] = ()
    rechecks: tuple[Action, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Happening:
    """A clause of an entry, as it happens to a loom.

    ``job`` is the part of the nearest work clause before it in its entry; ``arriving`` what a
    moved part brings.
    """

    clause: Clause
    entry: Entry
    source: Source
    job: PartAt | None = None
    arriving: Arrival | None = None

    @property
    def when(self) -> datetime:
        """The time of the entry (UTC)."""
        return self.entry.when

    @property
    def latest(self) -> datetime:
        """Later than ``when`` where a clock change leaves the time open."""
        return self.entry.latest

    @property
    def place(self) -> Place:
        """What the entry speaks of."""
        return self.entry.place

    @property
    def by(self) -> str | None:
        """Who wrote the entry."""
        return self.entry.by

    @property
    def shift(self) -> Shift | None:
        """The shift that the entry is filed under."""
        return self.entry.shift

    @property
    def of_group(self) -> bool:
        """Whether the entry speaks of a group of looms."""
        return self.entry.place.kind is not PlaceKind.LOOM

    def complaint(self, code: Code, message: str, *, label: str = "", help: str = "") -> Diagnostic:
        """A complaint about this clause."""
        return Diagnostic(
            code=code,
            message=message,
            line=self.source.line,
            span=self.clause.span,
            text=self.source.text,
            label=label,
            help=help,
        )

    def told(self, diagnostic: Diagnostic) -> Complaint:
        """A complaint about this clause, with its file and who wrote it, if its line is of it."""
        by = self.by if diagnostic.line == self.source.line else None
        return Complaint(path=self.source.path, diagnostic=diagnostic, by=by)


_happening = maker(Happening)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stepped:
    """The state after a clause, what is complained of, and the facts it leaves behind."""

    state: LoomState
    complaints: tuple[Diagnostic, ...] = ()
    facts: tuple[Fact, ...] = ()


# -- from entries to happenings ------------------------------------------------------------

_JOBS = (Worked, Moved)


def happenings_of(logged: Logged, loom: str) -> list[Happening]:
    """What a loom's own entry says of it, clause by clause, each with its job."""
    entry, source = logged.entry, logged.source
    job: PartAt | None = None
    found = []
    for clause in logged.counting(loom):
        found.append(_happening(clause=clause, entry=entry, source=source, job=job))
        if isinstance(clause, _JOBS):
            job = clause.at
    return found


def spread(logged: Logged) -> Iterator[tuple[str, list[Happening]]]:
    """What an entry says of each loom of its place; of a group only what moves it."""
    entry = logged.entry
    if entry.place.kind is PlaceKind.LOOM:
        yield entry.place.name, happenings_of(logged, entry.place.name)
        return
    source = logged.source
    together = [
        _happening(clause=clause, entry=entry, source=source)
        for clause in entry.clauses
        if isinstance(clause, Stopped | Running | StyleSet)
    ]
    if together:
        for loom in entry.place.looms:
            if loom not in logged.struck_for:
                yield loom, together


_OF_THE_SHED = (Opened, Done, Dropped, HandedOver, TakenOver)


def of_the_shed(logged: Logged) -> Iterator[Happening]:
    """What a group's entry says of the shed and of no single loom."""
    if logged.entry.place.kind is PlaceKind.LOOM:
        return
    source = logged.source
    for clause in logged.entry.clauses:
        if isinstance(clause, _OF_THE_SHED):
            yield Happening(clause=clause, entry=logged.entry, source=source)


def place_filled(clause: Clause) -> PartAt | None:
    """The place that a clause puts a part into."""
    if isinstance(clause, Moved):
        return clause.at
    if isinstance(clause, Worked) and clause.verb is Verb.REPLACED:
        return clause.at
    return None
