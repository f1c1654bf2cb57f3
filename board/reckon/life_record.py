"""Part lives as the record tells them: the age of each part, how its life ended, and why so.

Ages are in running hours or picks, by the usage clocks of the looms that a part was on. Which
endings are failures is decided here, from what is written and nothing else; where the entries do
not say, a life is kept as undecided, and every answer is then reckoned both ways. Curves and fits
are left to ``life_study``. A life is the age at replacement; when a limit was passed is not used.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Container, Sequence
from datetime import datetime
from enum import Enum
from operator import attrgetter
from typing import assert_never

from board.mill import Mill
from board.reckon.conformity import WearWord
from board.reckon.life_use import Asked, Clocks, uses_between
from board.reckon.lives import Life
from board.reckon.margins import reading_word
from board.reckon.refusal import Refusal
from board.state.fleet import Fleet
from board.state.history import Bound, ClearedFault, Ending, PartLife, ReadingAt
from board.state.shifts import ShiftCalendar
from grammar.entries import PartAt, WhyReplaced
from grammar.frozen import dataclass

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
    fleet: Fleet,
    mill: Mill,
    clocks: Clocks,
    calendar: ShiftCalendar,
    unit: str = "h",
    parts: Container[str] | None = None,
) -> tuple[LifeOnRecord, ...]:
    """Every part life, ended ones first in the order of their ends, then those in service.

    With ``parts`` only those of the parts named.
    """
    ended = [
        (life, life.ended)
        for life in fleet.history.lives
        if life.ended is not None
        and life.ending is not Ending.ABSENT
        and (parts is None or life.at.part in parts)
    ]
    serving = [
        life
        for state in fleet.looms.values()
        for life in state.parts.values()
        if life.ending is Ending.IN_SERVICE and (parts is None or life.at.part in parts)
    ]
    ages = iter(_ages([*ended, *((life, fleet.as_of) for life in serving)], clocks, unit))
    endings = _Endings(fleet.history.cleared, mill, calendar)
    found = []
    for life, end in ended:
        verdict, why = endings.of(life, end)
        found.append(LifeOnRecord(life=life, age=next(ages), verdict=verdict, why=why))
    for life in serving:
        found.append(
            LifeOnRecord(life=life, age=next(ages), verdict=Verdict.UNFINISHED, why="in service")
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


def _ages(
    until: Sequence[tuple[PartLife, datetime]], clocks: Clocks, unit: str
) -> list[float | Refusal]:
    """The age of each part at a moment [running h or picks], or why it is not known."""
    asked: list[Asked] = [
        (life, life.fitted, when) for life, when in until if life.fitted is not None
    ]
    uses = iter(uses_between(asked, clocks, unit))
    ages: list[float | Refusal] = []
    for life, _ in until:
        age = BEFORE_THE_LOG if life.fitted is None else next(uses)
        ages.append(DID_NOT_RUN if age == 0.0 and life.ended is not None else age)
    return ages


# -- why a life ended ------------------------------------------------------------------------


class _Endings:
    """What ended lives count as, by what is written since the shift before the job began."""

    def __init__(
        self, cleared: Sequence[ClearedFault], mill: Mill, calendar: ShiftCalendar
    ) -> None:
        self._cleared = cleared
        self._mill = mill
        self._calendar = calendar
        self._of_looms: dict[str, list[ClearedFault]] | None = None

    def of(self, life: PartLife, ended: datetime) -> tuple[Verdict, str]:
        """The verdict on one life and why; only where that hangs on them are signs looked for."""
        if life.ending is Ending.GAVE_WAY:
            if sign := self._sign(life, self._since(ended), ended):
                return Verdict.FAILED, f"gave way to a moved part, {sign}"
            return Verdict.UNFINISHED, "gave way to a moved part"
        match life.why:
            case WhyReplaced.WORN | WhyReplaced.BROKEN:
                return Verdict.FAILED, f"replaced {life.why.value}"
            case WhyReplaced.EARLY:
                since = self._since(ended)
                if sign := self._sign(life, since, ended):
                    return Verdict.UNDECIDED, f"written early, and {sign}"
                if _looked_worn(life, since, ended, self._mill):
                    return Verdict.UNDECIDED, "replaced early, read near its limit"
                return Verdict.UNFINISHED, "replaced early"
            case None:
                if sign := self._sign(life, self._since(ended), ended):
                    return Verdict.FAILED, f"replaced, {sign}"
                return Verdict.UNDECIDED, "replaced, no reason on record"
            case _:
                assert_never(life.why)

    def _since(self, ended: datetime) -> datetime:
        """The start of the shift before the one that a moment lies in, or lies after."""
        own = self._calendar.at(ended)
        return self._calendar.before(own.start if own is not None else ended).start

    def _sign(self, life: PartLife, since: datetime, ended: datetime) -> str:
        """What speaks for a failure: a fault of the part, or a reading at its limit; else ""."""
        if life.fault_at_end:
            return "a fault of it open or cleared by the job"
        cleared = self._of_loom(life.loom)
        first = bisect_left(cleared, since, key=_when_cleared)
        last = bisect_right(cleared, ended, key=_when_cleared)
        if any(_is_of(each, life) for each in cleared[first:last]):
            return "a fault of it cleared shortly before"
        return _limit_sign(life, since, ended, self._mill)

    def _of_loom(self, loom: str) -> Sequence[ClearedFault]:
        """The cleared faults of a loom by when they were cleared; read when first asked for."""
        if self._of_looms is None:
            self._of_looms = {}
            for each in sorted(self._cleared, key=_when_cleared):
                self._of_looms.setdefault(each.loom, []).append(each)
        return self._of_looms.get(loom, ())


_when_cleared = attrgetter("cleared")


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
