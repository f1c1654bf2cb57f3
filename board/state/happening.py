"""One clause as it happens to one loom, and what a step gives back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from board.state.fleet import LoomState, Source
from board.state.history import Fact, PartLife
from grammar.diagnostics import Code, Diagnostic
from grammar.entries import Clause, PartAt, Place, PlaceKind, Shift


@dataclass(frozen=True, slots=True, kw_only=True)
class Happening:
    """A clause of an entry, as it happens to a loom.

    ``job`` is the part of the nearest work clause before it in its entry. ``arriving`` is the
    life that a moved part brings along. ``latest`` is later than ``when`` where a clock change
    leaves the time open.
    """

    clause: Clause
    when: datetime
    latest: datetime
    place: Place
    source: Source
    by: str | None = None
    shift: Shift | None = None
    job: PartAt | None = None
    arriving: PartLife | None = None

    @property
    def of_group(self) -> bool:
        """Whether the entry speaks of a group of looms."""
        return self.place.kind is not PlaceKind.LOOM

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Stepped:
    """The state after a clause, what is complained of, and the facts it leaves behind."""

    state: LoomState
    complaints: tuple[Diagnostic, ...] = ()
    facts: tuple[Fact, ...] = ()
