"""Part lives as the record tells them: the age of each part, how its life ended, and why so.

Ages are in running hours or picks, by the usage clocks of the looms that a part was on. Which
endings are failures is decided here, from what is written and nothing else; where the entries do
not say, a life is kept as undecided, and every answer is then reckoned both ways. Curves and fits
are left to ``life_study``. A life is the age at replacement; when a limit was passed is not used.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from enum import Enum
from typing import assert_never

from board.mill import Mill
from board.reckon.conformity import WearWord
from board.reckon.lives import Life
from board.reckon.margins import reading_word
from board.reckon.refusal import Refusal
from board.state.fleet import Fleet
from board.state.history import Bound, ClearedFault, Ending, PartLife, ReadingAt
from board.state.shifts import ShiftCalendar
from board.state.usage import UnknownUse, UsageClock
from grammar.entries import PartAt, WhyReplaced
from grammar.frozen import dataclass

Clocks = Mapping[str, UsageClock]

BEFORE_THE_LOG = Refusal(reason="fitted before the log, its age is not known")
DID_NOT_RUN = Refusal(reason="taken out before its loom had run on record")

_AT_OR_PAST = (WearWord.PAST_LIMIT, WearWord.AT_LIMIT, WearWord.GAUGE_PAST)


class Verdict(Enum):
    """What the end of a life on record counts as."""

    FAILED = "failed"
    UNFINISHED = "unfinished"  # in service, or taken out for another reason: right-censored
    UNDECIDED = "undecided"


class Way(Enum):
    """How undecided lives are taken."""

    AS_FAILURES = "undecided as failures"
    AS_UNFINISHED = "undecided as unfinished"


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeOnRecord:
    """One part's life, begun or ended within the log.

    ``age`` [h or picks] at its end, or now; a refusal where it is not known. ``why`` tells in
    words what ``verdict`` rests on, ``mill`` whose it is where several are asked.
    """

    life: PartLife
    age: float | Refusal
    verdict: Verdict
    why: str
    mill: str = ""

    @property
    def at(self) -> PartAt:
        """Which part it is."""
        return self.life.at

    @property
    def loom(self) -> str:
        """The loom it is on, or was on last."""
        return self.life.loom


def lives_on_record(
    fleet: Fleet, mill: Mill, clocks: Clocks, calendar: ShiftCalendar, unit: str = "h"
) -> tuple[LifeOnRecord, ...]:
    """Every part life, ended ones first in the order of their ends, then those in service."""
    cleared: dict[str, list[ClearedFault]] = {}
    for each in fleet.history.cleared:
        cleared.setdefault(each.loom, []).append(each)
    found = []
    for life in fleet.history.lives:
        if life.ended is None or life.ending is Ending.ABSENT:
            continue
        verdict, why = _ending(life, life.ended, mill, calendar, cleared.get(life.loom, ()))
        found.append(
            LifeOnRecord(
                life=life, age=_age(life, life.ended, clocks, unit), verdict=verdict, why=why
            )
        )
    for state in fleet.looms.values():
        for life in state.parts.values():
            if life.ending is Ending.IN_SERVICE:
                found.append(
                    LifeOnRecord(
                        life=life,
                        age=_age(life, fleet.as_of, clocks, unit),
                        verdict=Verdict.UNFINISHED,
                        why="in service",
                    )
                )
    return tuple(found)


def as_lives(records: Sequence[LifeOnRecord], way: Way) -> list[Life]:
    """The lives of known age as the reckoning takes them, undecided ones taken this way."""
    lives = []
    for record in records:
        if isinstance(record.age, Refusal):
            continue
        match record.verdict:
            case Verdict.FAILED:
                failed = True
            case Verdict.UNFINISHED:
                failed = False
            case Verdict.UNDECIDED:
                failed = way is Way.AS_FAILURES
            case _:
                assert_never(record.verdict)
        lives.append(Life.failed(record.age) if failed else Life.unfinished(record.age))
    return lives


# -- ages ----------------------------------------------------------------------------------


def use_between(
    life: PartLife, start: datetime, end: datetime, clocks: Clocks, unit: str = "h"
) -> float | Refusal:
    """The use of a part between two moments [running h or picks], over all looms it was on."""
    total = 0.0
    for stay in life.stays:
        begin = max(stay.start or start, start)
        until = min(stay.end or end, end)
        if until <= begin:
            continue
        used = clocks[stay.loom].between(begin, until, unit)
        if isinstance(used, UnknownUse):
            return Refusal(reason=used.reason)
        total += used
    return total


def _age(life: PartLife, when: datetime, clocks: Clocks, unit: str) -> float | Refusal:
    if life.fitted is None:
        return BEFORE_THE_LOG
    age = use_between(life, life.fitted, when, clocks, unit)
    if age == 0.0 and life.ended is not None:
        return DID_NOT_RUN
    return age


# -- why a life ended ------------------------------------------------------------------------


def _ending(
    life: PartLife,
    ended: datetime,
    mill: Mill,
    calendar: ShiftCalendar,
    cleared: Sequence[ClearedFault],
) -> tuple[Verdict, str]:
    """What an ended life counts as, by what is written since the shift before the job began."""
    since = _shift_before(ended, calendar)
    sign = _fault_sign(life, since, ended, cleared) or _limit_sign(life, since, ended, mill)
    if life.ending is Ending.GAVE_WAY:
        if sign:
            return Verdict.FAILED, f"gave way to a moved part, {sign}"
        return Verdict.UNFINISHED, "gave way to a moved part"
    match life.why:
        case WhyReplaced.WORN | WhyReplaced.BROKEN:
            return Verdict.FAILED, f"replaced {life.why.value}"
        case WhyReplaced.EARLY:
            if sign:
                return Verdict.UNDECIDED, f"written early, and {sign}"
            if _looked_worn(life, since, ended, mill):
                return Verdict.UNDECIDED, "replaced early, read near its limit"
            return Verdict.UNFINISHED, "replaced early"
        case None:
            if sign:
                return Verdict.FAILED, f"replaced, {sign}"
            return Verdict.UNDECIDED, "replaced, no reason on record"
        case _:
            assert_never(life.why)


def _shift_before(when: datetime, calendar: ShiftCalendar) -> datetime:
    """The start of the shift before the one that a moment lies in, or lies after."""
    own = calendar.at(when)
    return calendar.before(own.start if own is not None else when).start


def _fault_sign(
    life: PartLife, since: datetime, ended: datetime, cleared: Sequence[ClearedFault]
) -> str:
    if life.fault_at_end:
        return "a fault of it open or cleared by the job"
    for each in cleared:
        if since <= each.cleared <= ended and _is_of(each, life):
            return "a fault of it cleared shortly before"
    return ""


def _is_of(each: ClearedFault, life: PartLife) -> bool:
    """Whether a fault is of this part: since it was fitted, its side and number not another's."""
    fault = each.fault
    if fault.part != life.at.part or fault.side not in (None, life.at.side):
        return False
    number = fault.at.number if fault.at else None
    if number not in (None, life.at.number):
        return False
    return life.fitted is None or fault.since >= life.fitted


def _readings(life: PartLife, name: str, since: datetime, ended: datetime) -> tuple[ReadingAt, ...]:
    return tuple(
        r for r in life.readings.get(name, ()) if r.counts and since <= r.when <= ended
    )  # fmt: skip


def _limit_sign(life: PartLife, since: datetime, ended: datetime, mill: Mill) -> str:
    part = mill.part.get(life.at.part)
    for quantity in part.quantities if part else ():
        for reading in _readings(life, quantity.name, since, ended):
            word = reading_word(reading, quantity, mill.rules.near_limit)
            if word in _AT_OR_PAST:
                return f"{quantity.name} read {word.value}"
    return ""


def _looked_worn(life: PartLife, since: datetime, ended: datetime, mill: Mill) -> bool:
    """Whether its last reading lay near the limit, so that it was not taken out by chance."""
    part = mill.part.get(life.at.part)
    for quantity in part.quantities if part else ():
        exact = [
            r
            for r in _readings(life, quantity.name, since, ended)
            if r.bound is Bound.EXACT
        ]  # fmt: skip
        if (
            exact
            and reading_word(exact[-1], quantity, mill.rules.near_limit) is WearWord.NEAR_LIMIT
        ):
            return True
    return False
