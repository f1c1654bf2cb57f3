"""One clause as it happens to one loom, and what a step gives back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from board.state.fleet import LoomState, Proof, Source
from board.state.history import Fact, PartLife
from grammar.diagnostics import Code, Diagnostic
from grammar.entries import Clause, Entry, PartAt, Place, PlaceKind, Shift


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """What a moved part brings along: its life, the proofs it still misses, a recheck if open."""

    life: PartLife
    proofs: tuple[Proof, ...] = ()
    recheck_open: bool = False


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

    def complaint(
        self, code: Code, message: str, *, label: str = "", help: str = ""
    ) -> Diagnostic:
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Stepped:
    """The state after a clause, what is complained of, and the facts it leaves behind."""

    state: LoomState
    complaints: tuple[Diagnostic, ...] = ()
    facts: tuple[Fact, ...] = ()
