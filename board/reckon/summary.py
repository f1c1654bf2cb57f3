"""What the next shift needs to know, from one snapshot: the one source of every count and list.

Screens, sheets and JSON all take their lines from here, so that they cannot disagree.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import field
from datetime import datetime
from typing import Any, TypeVar

from board.mill import Mill
from board.reckon.ahead import Learn, with_forecasts
from board.reckon.conformity import WearWord
from board.reckon.margins import WearLine, wear_lines
from board.reckon.open_actions import ActionLine, action_line, urgency
from board.reckon.past_forecasts import Held
from board.reckon.silence import Silence
from board.reckon.wear import study
from board.reckon.wear_record import PastLives, past_lives
from board.snapshot import Snapshot
from board.state.fleet import Handover, Isolation, Lock, LoomState, MayIsolate, Motion
from board.state.later import newest_first
from board.state.locks import same_person
from board.state.shifts import ShiftCalendar, ShiftSpan
from board.state.usage import UsageClock, clocks
from grammar.entries import Reason
from grammar.frozen import dataclass

T = TypeVar("T")

SILENT_SHIFTS = 3  # whole shifts without an entry: a day of three shifts

MAINTENANCE = frozenset({None, Reason.FAULT, Reason.PART, Reason.CHECK})
WAITING = frozenset({Reason.WARP, Reason.WEFT, Reason.STYLE, Reason.ORDER, Reason.POWER})


@dataclass(frozen=True, slots=True, kw_only=True)
class LoomLine:
    """One loom with everything that is said of it."""

    state: LoomState
    section: str
    wear: tuple[WearLine, ...]
    actions: tuple[ActionLine, ...]
    silent_shifts: int | None  # None: no entry at all

    @property
    def loom(self) -> str:
        """The loom's name."""
        return self.state.loom

    @property
    def is_silent(self) -> bool:
        """Whether the log has not spoken of it for a day, and it is not out of use."""
        if self.state.stopped_for is Reason.LAID_UP:
            return False
        return self.silent_shifts is None or self.silent_shifts >= SILENT_SHIFTS

    @property
    def silence(self) -> str:
        """How long the log has not spoken of it, in words."""
        if self.silent_shifts is None:
            return "no entry at all"
        return f"no entry for {self.silent_shifts} shifts"

    @property
    def worst(self) -> WearLine | None:
        """The measured part that has gone farthest toward its limit, a gauge's verdict included."""
        judged = [
            line
            for line in self.wear
            if line.margin is not None or line.word is WearWord.GAUGE_PAST
        ]
        return max(judged, key=_worn_key, default=None)


def _worn_key(line: WearLine) -> tuple[int, float]:
    rank = {
        WearWord.PAST_LIMIT: 4,
        WearWord.GAUGE_PAST: 3,
        WearWord.AT_LIMIT: 2,
        WearWord.NEAR_LIMIT: 1,
    }
    return rank.get(line.word, 0), line.worn if line.worn is not None else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """The counts on the board; each is the length of a list that is shown."""

    isolated: int
    conflict: int
    stopped: int
    running: int
    unknown: int
    past_limit: int
    at_limit: int
    silent: int
    proofs_missing: int
    actions: int
    not_understood: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """The shed as the next shift needs it, or one section of it with what must be seen of all."""

    snapshot: Snapshot
    calendar: ShiftCalendar
    clocks: Mapping[str, UsageClock]
    looms: tuple[LoomLine, ...]
    shed_actions: tuple[ActionLine, ...]
    counts: Counts
    shift: ShiftSpan | None
    past: PastLives
    held: Held | None  # how past forecasts turned out, where that is known
    section: str | None = None  # the one that is looked at; None: all
    isolated_elsewhere: tuple[LoomState, ...] = ()  # in the other sections
    gone: tuple[MayIsolate, ...] = ()  # of locks that stood at an earlier look, and in no log now
    _told: dict[Hashable, Any] = field(default_factory=dict, init=False, compare=False, repr=False)

    def once(self, name: Hashable, make: Callable[[], T]) -> T:
        """What is reckoned of this summary under a name, once for all: it is asked for often.

        What has been asked for is there, and looks into the record no more.
        """
        if name not in self._told:
            self._told[name] = make()
        found: T = self._told[name]
        return found

    @property
    def as_of(self) -> datetime:
        """Now, in UTC."""
        return self.snapshot.fleet.as_of

    @property
    def actions(self) -> tuple[ActionLine, ...]:
        """Every open action, most overdue first, then by due time and age."""
        everything = [*self.shed_actions, *(a for line in self.looms for a in line.actions)]
        return tuple(sorted(everything, key=urgency))

    @property
    def handovers_open(self) -> tuple[Handover, ...]:
        """Handovers that were said and not taken over."""
        return tuple(
            h for h in self.snapshot.fleet.shed.handovers.values() if h.said and not h.taken
        )

    @property
    def handovers_crossed(self) -> tuple[Handover, ...]:
        """Handovers taken over in this shift or the last by someone else than was named."""
        return tuple(
            h
            for h in self.snapshot.fleet.shed.handovers.values()
            if h.went_to_another and h.taken is not None and h.taken >= self.previous.start
        )

    @property
    def may_isolate(self) -> tuple[MayIsolate, ...]:
        """Lines that may hide an isolation, and those of locks that are gone from the logs."""
        return self.snapshot.fleet.may_isolate + self.gone

    @property
    def previous(self) -> ShiftSpan:
        """The shift before the one that runs or, in closed hours, comes next."""
        return self.calendar.previous(self.calendar.now_or_next(self.as_of))

    @property
    def watch_began(self) -> datetime:
        """When this shift began; in closed hours, when the last one ended."""
        return self.shift.start if self.shift else self.calendar.before(self.as_of).end

    def seen_this_shift(self, lock: Lock) -> bool:
        """Whether a lock has been looked at since this shift, or these closed hours, began."""
        return lock.seen is not None and lock.seen.when >= self.watch_began

    def is_to_come(self, lock: Lock) -> bool:
        """Whether a lock was written for a time that is still to come; it counts all the same."""
        return lock.since > self.as_of

    def loom(self, name: str) -> LoomLine:
        """A loom's line. Raises KeyError."""
        for line in self.looms:
            if line.loom == name:
                return line
        raise KeyError(name)


def summarise(
    snapshot: Snapshot,
    *,
    section: str | None = None,
    turned_out: Callable[[PastLives, Mill], Held | None] = lambda past, mill: None,
    learn: Learn = study,
    meanwhile: Callable[[], None] = lambda: None,
) -> Summary:
    """Everything the screens show, reckoned once; of one section only, if it is named.

    ``turned_out`` tells how past forecasts held, and ``learn`` what past lives teach; both may
    remember that from before. ``meanwhile`` is called every few hundredths of a second at most,
    even of a large shed; what it raises ends the reckoning.
    """
    fleet, mill = snapshot.fleet, snapshot.mill
    calendar = ShiftCalendar(mill.shifts, mill.zone)
    usage = clocks(fleet, mill)
    wear = wear_lines(fleet, mill, usage, calendar, meanwhile)
    past = past_lives(fleet.history, mill, usage)
    wear = with_forecasts(wear, past, fleet, mill, usage, calendar, learn, meanwhile)
    quiet = Silence(calendar, mill, fleet.as_of, [x.last_entry for x in fleet.looms.values()])
    spells = fleet.history.spells
    lines = []
    for part_of_shed in mill.sections:
        if section is not None and part_of_shed.name != section:
            continue
        for name in part_of_shed.looms:
            state = fleet.looms[name]
            lines.append(
                LoomLine(
                    state=state,
                    section=part_of_shed.name,
                    wear=wear[name],
                    actions=tuple(
                        action_line(a, fleet.looms, usage, calendar, fleet.as_of, spells)
                        for a in state.actions
                    ),
                    silent_shifts=quiet.shifts_since(state.last_entry),
                )
            )
    shed_actions = tuple(
        action_line(action, fleet.looms, usage, calendar, fleet.as_of, ())
        for action in fleet.shed.actions
    )
    return Summary(
        snapshot=snapshot,
        calendar=calendar,
        clocks=usage,
        looms=tuple(lines),
        shed_actions=shed_actions,
        counts=_counts(snapshot, lines, shed_actions),
        shift=calendar.at(fleet.as_of),
        past=past,
        held=turned_out(past, mill),
        section=section,
        isolated_elsewhere=tuple(
            fleet.looms[name]
            for other in mill.sections
            if section is not None and other.name != section
            for name in other.looms
            if fleet.looms[name].isolation is not Isolation.NONE_RECORDED
        ),
    )


def _counts(
    snapshot: Snapshot, lines: Iterable[LoomLine], shed_actions: tuple[ActionLine, ...]
) -> Counts:
    lines = list(lines)
    states = [line.state for line in lines]
    words = [wear.word for line in lines for wear in line.wear]
    return Counts(
        isolated=sum(s.isolation is not Isolation.NONE_RECORDED for s in states),
        conflict=sum(s.isolation is Isolation.CONFLICT for s in states),
        stopped=sum(s.motion is Motion.STOPPED for s in states),
        running=sum(s.motion is Motion.RUNNING for s in states),
        unknown=sum(s.motion is Motion.UNKNOWN for s in states),
        past_limit=sum(w in (WearWord.PAST_LIMIT, WearWord.GAUGE_PAST) for w in words),
        at_limit=sum(w is WearWord.AT_LIMIT for w in words),
        silent=sum(line.is_silent for line in lines),
        proofs_missing=sum(len(s.proofs) for s in states),
        actions=len(shed_actions) + sum(len(line.actions) for line in lines),
        not_understood=snapshot.tally.refused,
    )


def since_of(summary: Summary, who: str | None) -> datetime | None:
    """When somebody, or anybody, last took the shed or a section over; None: never."""
    for handover in newest_first(summary.snapshot.fleet.shed.taken):
        if who is None or same_person(handover.taken_by or "", who):
            return handover.taken
    return None


def last_handover(summary: Summary) -> datetime | None:
    """The last taking over of all that is shown; None where some of it was never taken over.

    The shed's, or that of the section that was taken over longest ago: a section that was taken
    over since hides nothing of the others.
    """
    shown = {x.name for x in summary.snapshot.mill.sections if summary.section in (None, x.name)}
    moments: list[datetime] = []
    for handover in newest_first(summary.snapshot.fleet.shed.taken):
        of = shown if handover.what == "shed" else shown & {handover.what}
        if of and handover.taken is not None:
            moments.append(handover.taken)
            shown = shown - of
        if not shown:
            return min(moments, default=None)
    return None


def default_since(summary: Summary) -> datetime:
    """Where ``changed`` begins: the last taking over, else the start of the shift before."""
    return last_handover(summary) or summary.previous.start
