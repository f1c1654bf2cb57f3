"""Complaints about a line: their codes, their catalogue and their form.

A complaint is data: reading never raises on text. Drawing one with its caret is left to
``board.show.problems``.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum

from grammar.entries import Span
from grammar.frozen import dataclass


class Severity(Enum):
    """Whether what is complained of counts."""

    REFUSED = "refused"
    FLAGGED = "flagged"


class Code(Enum):
    """The permanent names of the complaints."""

    UNKNOWN_LOOM = "unknown-loom"
    UNKNOWN_PART = "unknown-part"
    UNKNOWN_SIDE = "unknown-side"
    UNIT_MISSING = "unit-missing"
    WRONG_UNIT = "wrong-unit"
    NUMBER_AMBIGUOUS = "number-ambiguous"
    NO_DAY = "no-day"
    NO_SUCH_TIME = "no-such-time"
    NO_SUCH_ACTION = "no-such-action"
    WHICH_FAULT = "which-fault"
    WHICH_ENTRY = "which-entry"
    WHICH_PART = "which-part"
    NO_LOCK = "no-lock"
    LINE_TWICE = "line-twice"
    LINE_TOO_LONG = "line-too-long"
    NOT_UNDERSTOOD = "not-understood"
    OUTSIDE_SHIFT = "outside-shift"
    HOUR_TWICE = "hour-twice"
    IN_THE_FUTURE = "in-the-future"
    ODD_ENCODING = "odd-encoding"
    IMPLAUSIBLE = "implausible"
    RUNNING_WHILE_ISOLATED = "running-while-isolated"
    ISOLATED_BELOW = "isolated-below"
    BETTER_WITHOUT_WORK = "better-without-work"
    COUNTER_BACKWARDS = "counter-backwards"
    COUNTER_DISAGREES = "counter-disagrees"
    NUMBER_TAKEN = "number-taken"
    SAME_MINUTE = "same-minute"
    CHANGED_AFTER_HANDOVER = "changed-after-handover"


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What the catalogue says of a code."""

    severity: Severity
    summary: str
    remedy: str


_REFUSED, _FLAGGED = Severity.REFUSED, Severity.FLAGGED

CATALOGUE: Mapping[Code, Case] = {
    Code.UNKNOWN_LOOM: Case(
        severity=_REFUSED,
        summary="no loom or group of looms of that name stands in the register",
        remedy="write the loom as the register names it; case and leading zeros do not matter",
    ),
    Code.UNKNOWN_PART: Case(
        severity=_REFUSED,
        summary="no part of that name stands in the register",
        remedy="write the part as the register names it, or add the mill's word to its words",
    ),
    Code.UNKNOWN_SIDE: Case(
        severity=_REFUSED,
        summary="the part has sides and none was given, or it has no such side",
        remedy="put the side before the part",
    ),
    Code.UNIT_MISSING: Case(
        severity=_REFUSED,
        summary="a number stands without its unit",
        remedy="write the unit after the number",
    ),
    Code.WRONG_UNIT: Case(
        severity=_REFUSED,
        summary="the unit is of another kind than what was measured",
        remedy="write a unit of the right kind",
    ),
    Code.NUMBER_AMBIGUOUS: Case(
        severity=_REFUSED,
        summary="the mark in the number may be a decimal mark or a thousands mark",
        remedy="write the number without grouping marks, and with a digit more or less",
    ),
    Code.NO_DAY: Case(
        severity=_REFUSED,
        summary="the entry stands under no heading that was understood",
        remedy="write a line like: day 2026-11-24 night by KM",
    ),
    Code.NO_SUCH_TIME: Case(
        severity=_REFUSED,
        summary="the clocks went forward over this time",
        remedy="write the time that the clock on the wall showed",
    ),
    Code.NO_SUCH_ACTION: Case(
        severity=_REFUSED,
        summary="no open action of that number or time stands there",
        remedy="look at the open actions of the loom",
    ),
    Code.WHICH_FAULT: Case(
        severity=_REFUSED,
        summary="the loom has no open fault, or several and the text names none of them",
        remedy="name the side and part of the fault, or write: fault cleared all",
    ),
    Code.WHICH_ENTRY: Case(
        severity=_REFUSED,
        summary="the loom has no entry at that time that can be struck, or several",
        remedy="write the time of one entry of this loom",
    ),
    Code.WHICH_PART: Case(
        severity=_REFUSED,
        summary="the proof belongs to no job that can be told",
        remedy="put it into the entry of the job, or name the part",
    ),
    Code.NO_LOCK: Case(
        severity=_REFUSED,
        summary="no such lock is on record on this loom",
        remedy="name the person whose lock it was: lock removed by RB for KM",
    ),
    Code.LINE_TWICE: Case(
        severity=_REFUSED,
        summary="the same line stands already under this shift",
        remedy="nothing to do if it was copied; else say what differs",
    ),
    Code.LINE_TOO_LONG: Case(
        severity=_REFUSED,
        summary="the line is longer than 4,096 bytes",
        remedy="write it as several lines",
    ),
    Code.NOT_UNDERSTOOD: Case(
        severity=_REFUSED,
        summary="the line is not in the log language",
        remedy="put free text after: note",
    ),
    Code.OUTSIDE_SHIFT: Case(
        severity=_FLAGGED,
        summary="the time lies far outside the shift of the heading",
        remedy="check the time, or write it in full: 2026-11-24T22:40",
    ),
    Code.HOUR_TWICE: Case(
        severity=_FLAGGED,
        summary="the clocks went back and this time came twice",
        remedy="write it in full with its offset: 2026-10-25T01:30+01:00",
    ),
    Code.IN_THE_FUTURE: Case(
        severity=_FLAGGED,
        summary="the entry is later than now",
        remedy="check the time; an isolation counts at once, the rest when its time comes",
    ),
    Code.ODD_ENCODING: Case(
        severity=_FLAGGED,
        summary="the line is not UTF-8 and was read as Windows-1252",
        remedy="set the editor to UTF-8",
    ),
    Code.IMPLAUSIBLE: Case(
        severity=_FLAGGED,
        summary="the value lies outside the plausible range of the register",
        remedy="measure again; until then it stays out of margins and forecasts",
    ),
    Code.RUNNING_WHILE_ISOLATED: Case(
        severity=_FLAGGED,
        summary="the loom was written as running while a lock is on record",
        remedy="look at the machine; write stopped, or who removed the lock",
    ),
    Code.ISOLATED_BELOW: Case(
        severity=_FLAGGED,
        summary="a lock stands below the line that takes it off, by their times",
        remedy="write the heading that is missing between them, or the removal below the lock",
    ),
    Code.BETTER_WITHOUT_WORK: Case(
        severity=_FLAGGED,
        summary="a reading or gauge verdict improves on one before it and no work is on record",
        remedy="measure again, or write the work that was done",
    ),
    Code.COUNTER_BACKWARDS: Case(
        severity=_FLAGGED,
        summary="the loom's meter shows less than before",
        remedy="read it again; a new meter is written: counter 0 h new",
    ),
    Code.COUNTER_DISAGREES: Case(
        severity=_FLAGGED,
        summary="the loom's meter and its recorded motion differ by more than 10 % over a week",
        remedy="read the meter again; stops may be missing from the log",
    ),
    Code.NUMBER_TAKEN: Case(
        severity=_FLAGGED,
        summary="an action of that number is open already",
        remedy="both are kept; give the later one the next free number",
    ),
    Code.SAME_MINUTE: Case(
        severity=_FLAGGED,
        summary="two files hold entries of this loom in one minute and their order matters",
        remedy="the order that leaves the loom isolated, then stopped, was taken",
    ),
    Code.CHANGED_AFTER_HANDOVER: Case(
        severity=_FLAGGED,
        summary="lines of a shift changed after it was handed over",
        remedy="ask who changed them; the seal holds the number of lines and their hash",
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnostic:
    """One complaint about one stretch of one line.

    ``message`` is a plain sentence without capital or full stop; ``help`` alone suggests.
    """

    code: Code
    message: str
    line: int
    span: Span
    text: str
    label: str = ""
    notes: tuple[str, ...] = ()
    help: str = ""

    @property
    def severity(self) -> Severity:
        """Whether what is complained of counts."""
        return CATALOGUE[self.code].severity


class LineRefused(Exception):
    """Carries a complaint out of the reading of one line; never leaves the reader."""

    def __init__(self, diagnostic: Diagnostic) -> None:
        super().__init__(diagnostic.message)
        self.diagnostic = diagnostic
