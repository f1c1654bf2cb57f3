"""What the reading of a text gives: entries, complaints, and what the next reading has to know."""

from __future__ import annotations

from dataclasses import field, replace
from datetime import date, datetime
from enum import Enum

from grammar.diagnostics import Diagnostic
from grammar.entries import Entry, Heading, Shift
from grammar.frozen import dataclass


class LastLine(Enum):
    """What a last line without its newline is taken for."""

    GROWING = "growing"  # still being written: shown, not counted but for an isolation
    SETTLED = "settled"  # the file has been quiet: an entry like any other


@dataclass(frozen=True, slots=True, kw_only=True)
class Unread:
    """A line that may hide an isolation, or the unfinished last line.

    ``more``: it may hide another one beside those that were read from it. ``shift`` is that of the
    heading above it; ``by`` is who stands at its own end, else the writer that the heading names.
    """

    line: int
    text: str
    more: bool = False
    shift: Shift | None = None
    by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Filed:
    """A line that is no heading, as it is filed under a shift; refused lines too."""

    shift: Shift
    line: int
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """What the lines of a file so far tell the next one.

    ``heading`` is None above the first one and behind a refused one. ``twice_at`` is the last wall
    time in an hour that a clock change repeats; on ``second_pass_on`` the times stepped back.
    ``lock_above``: the last line puts on a lock, or may do so.
    """

    heading: Heading | None = None
    twice_at: datetime | None = None
    second_pass_on: date | None = None
    lines: int = 0
    lock_above: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What a text holds.

    ``lines`` counts physical lines, ``skipped`` those of them that are blank, comments or
    headings. ``may_isolate`` are lines with a word of isolation in them that was not understood
    as one. ``carried`` is what a later reading of the lines behind these has to know. ``notices``
    are sentences about the reading itself, for whoever keeps the program.
    """

    entries: tuple[Entry, ...] = ()
    diagnostics: tuple[Diagnostic, ...] = ()
    headings: tuple[Heading, ...] = ()
    filed: tuple[Filed, ...] = ()
    lines: int = 0
    skipped: int = 0
    may_isolate: tuple[Unread, ...] = ()
    unfinished: Unread | None = None
    carried: Carried = field(default_factory=Carried)
    notices: tuple[str, ...] = ()


@dataclass(slots=True)
class Gathered:
    """What was read of a file so far, while it is read."""

    heading: Heading | None = None
    twice_at: datetime | None = None
    second_pass_on: date | None = None
    entries: list[Entry] = field(default_factory=list)
    diagnostics: list[Diagnostic] = field(default_factory=list)
    headings: list[Heading] = field(default_factory=list)
    may_isolate: list[Unread] = field(default_factory=list)
    filed: list[Filed] = field(default_factory=list)
    skipped: int = 0
    lock_above: bool = False  # above the first line of ``filed`` that counts
    since: int = 0  # so many of ``filed`` stand above the last heading

    @classmethod
    def begun(cls, before: Carried) -> Gathered:
        """Nothing of a file yet, but for what the lines before it tell."""
        return cls(
            before.heading, before.twice_at, before.second_pass_on, lock_above=before.lock_above
        )

    def carried(self, lines: int, *, lock_above: bool) -> Carried:
        """What the lines so far tell the next one."""
        return Carried(
            heading=self.heading,
            twice_at=self.twice_at,
            second_pass_on=self.second_pass_on,
            lines=lines,
            lock_above=lock_above,
        )

    def at_heading(self) -> None:
        """A line that is a heading, or is refused as one: that is none."""
        self.heading = None
        self.skipped += 1
        self.since, self.lock_above = len(self.filed), False

    def show(self, number: int, text: str, *, more: bool = False, by: str | None = None) -> None:
        """A line is shown with the isolations; ``more``: whatever was read as one from it.

        ``by``: who stands at its own end.
        """
        above = self.heading
        unread = Unread(
            line=number,
            text=text,
            more=more,
            shift=above.shift if above is not None else None,
            by=by or (above.by if above is not None else None),
        )
        if not self.may_isolate or self.may_isolate[-1].line != number:
            self.may_isolate.append(unread)
        elif more:
            self.may_isolate[-1] = unread

    def no_heading(self, number: int) -> None:
        """A line that was meant for a heading: the one before it holds no longer, nor for it."""
        if self.heading is not None and self.filed[-1].line == number:
            self.filed.pop()
        if self.may_isolate and self.may_isolate[-1].line == number:
            self.may_isolate[-1] = replace(self.may_isolate[-1], shift=None, by=None)
        self.at_heading()
