"""The handover sheet in words: its head, its rows, the steps and who signs.

Texts are cleaned here; the sections stand in ``sheet_parts``.
"""

from __future__ import annotations

from datetime import datetime
from enum import Enum

from board.reckon.handing_over import (
    Sheet,
)
from board.show.moments import clock, counted, long_clock
from board.show.must_see import shed_name
from board.show.screens import CAUTION
from board.show.text import clean
from grammar.entries import Shift
from grammar.frozen import dataclass


class Box(Enum):
    """What is ticked by hand at a row."""

    NONE = ""
    TICK = "[ ]"
    SEEN = "[ ] seen at the machine"


@dataclass(frozen=True, slots=True)
class Row:
    """One row: the loom or place, what is said of it, and its box. The texts are clean."""

    where: str
    text: str
    box: Box = Box.NONE
    unit: str = ""  # of a value to be filled in beside it


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A section of the sheet. ``count`` is the length of what it lists; ``hint`` says how."""

    title: str
    rows: tuple[Row, ...]
    count: int | None = None
    hint: str = ""
    first: bool = False  # must be seen before everything else

    @property
    def heading(self) -> str:
        """The title and its count."""
        return self.title if self.count is None else f"{self.title} {self.count}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What stands on every page: which shed and change of shift, and the standing caution."""

    shed: str
    change: str
    as_of: str
    read: str
    counts: str
    caution: str


def clock_of(sheet: Sheet, when: datetime) -> str:
    """A moment as the sheet writes it."""
    return clock(when, sheet.as_of, sheet.summary.snapshot.mill.zone)


def by(who: str | None) -> str:
    """A writer in brackets, after what they wrote."""
    return f" ({who})" if who else ""


def head(sheet: Sheet) -> Head:
    """The head of every page."""
    summary = sheet.summary
    fleet, mill = summary.snapshot.fleet, summary.snapshot.mill
    tally, counts = summary.snapshot.tally, summary.counts
    last = "no entries"
    if fleet.last_entry is not None:
        last = f"entries to {clock(fleet.last_entry, sheet.as_of, mill.zone)}"
    day, _, time = long_clock(sheet.as_of, mill.zone).rpartition(" ")
    year = sheet.as_of.astimezone(mill.zone).year
    conflict = f"CONFLICT {counts.conflict}   " if counts.conflict else ""
    return Head(
        shed=shed_name(mill),
        change=clean(f"{_shift(sheet.outgoing.shift)} -> {_shift(sheet.incoming.shift)}"),
        as_of=f"as of {day} {year}, {time}",
        read=f"{len(summary.looms)} looms, {last}; read {counted(tally.files, 'file')},"
        f" {counted(tally.lines, 'line')}; not understood {counts.not_understood}",
        counts=f"{conflict}isolated {counts.isolated}   stopped {counts.stopped}"
        f"   past or at limit {counts.past_limit + counts.at_limit}"
        f"   proofs missing {counts.proofs_missing}   silent {counts.silent}",
        caution=CAUTION,
    )


def _shift(shift: Shift) -> str:
    return f"{shift.name} {shift.day.isoformat()}"


# -- what is done together -----------------------------------------------------------------


def steps(sheet: Sheet) -> tuple[str, ...]:
    """What both do with the sheet, in order; each is ticked."""
    logs = ", ".join(f"{log.path.rpartition('/')[2]} ({log.entries})" for log in sheet.logs)
    return (
        "prepared by the outgoing lead before the shift ended",
        "gone through together, face to face; the incoming lead asked, and repeated back"
        " isolations and open work",
        clean(f"log of the shift read by the incoming lead: {logs or 'no entry in this shift'}"),
        "walk-round: isolations, conflicts and stops seen at the machines  from ______ to ______",
        "away for longer: read back to your own last taking over, loomslate handover --since WHO",
        "both lines are in the log: shed handed over WHO to WHO; shed taken over by WHO",
    )


def signers(sheet: Sheet) -> tuple[tuple[str, str], ...]:
    """The two who sign, each with what the log says of them so far."""
    said, taken = "not in the log yet", "not in the log yet"
    for handover in sheet.handovers:
        what = "" if handover.what == "shed" else f"{handover.what} "
        if handover.said is not None and (said[0] == "n" or not what):
            said = f"log: {what}{handover.by} to {handover.to}, {clock_of(sheet, handover.said)}"
        if handover.taken is not None and (taken[0] == "n" or not what):
            taken = f"log: {what}{handover.taken_by}, {clock_of(sheet, handover.taken)}"
    return ("OUTGOING", clean(said)), ("INCOMING", clean(taken))


FOOT = (
    "Isolation, permits and proving dead follow local law, the site's own procedure and licensed"
    " people; this sheet replaces none of them."
)
