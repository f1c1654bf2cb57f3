"""What to look at first in the shed: looms that want a look, the worst first."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from enum import Enum
from math import ceil

from board.reckon.changes import changed_since, reason_since
from board.reckon.conformity import WearWord
from board.reckon.left import Ahead
from board.reckon.margins import WearLine
from board.reckon.refusal import Refusal
from board.reckon.summary import WAITING, LoomLine, Summary, default_since
from board.reckon.unproved import unproved
from board.state.fleet import Fault, Isolation, Motion
from board.state.later import recent
from grammar.entries import Reason
from grammar.frozen import dataclass


class FirstKind(Enum):
    """Why a loom is looked at first; the order is the order of the list."""

    FAULT = "FAULT"  # it runs with an open fault
    WORN = "WORN"
    PROOF = "PROOF"
    STOPPED = "STOPPED"
    SILENT = "SILENT"
    WAITING = "WAITING"  # for warp, weft, style, order or power, and without an open fault


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstLook:
    """A loom and why it is looked at first; ``wear`` for a worn part."""

    kind: FirstKind
    loom: str
    words: str
    rank: float
    wear: WearLine | None = None
    since: datetime | None = None  # of a stop


def look_first(summary: Summary) -> tuple[FirstLook, ...]:
    """Every loom that wants a look, by kind and within it the worst first.

    Isolations and conflicts are not here: they stand above this list, always.
    """
    return summary.once(look_first, lambda: _look_first(summary))


def look_ahead(summary: Summary) -> None:
    """Reckon what an overview shows, so that to draw it looks into the record no more.

    Another thread may be at work on that by then.
    """
    look_first(summary)
    changed_since(summary, default_since(summary))


def _look_first(summary: Summary) -> tuple[FirstLook, ...]:
    found = [item for line in summary.looms for item in _of_loom(summary, line)]
    order = list(FirstKind)
    return tuple(sorted(found, key=lambda i: (order.index(i.kind), i.rank, i.loom)))


_WORN_RANK = {
    WearWord.PAST_LIMIT: 0.0,
    WearWord.GAUGE_PAST: 1.0,
    WearWord.AT_LIMIT: 2.0,
    WearWord.NEAR_LIMIT: 3.0,
}


# A part near its limit is looked at first when the chance that it passes the limit before the
# shift ends is this large, or this share of the way from new to the limit is gone.
LIKELY = 0.25
NEARLY_WORN = 0.90


def _low_shifts(wear: WearLine) -> float | None:
    """The early end of the forecast [shifts], or None without one."""
    if not isinstance(wear.ahead, Ahead) or isinstance(wear.ahead.shifts, Refusal):
        return None
    return wear.ahead.shifts.low


def _chance(wear: WearLine) -> float | None:
    """The chance that the limit passes before the shift ends, or None without a forecast."""
    if not isinstance(wear.ahead, Ahead) or isinstance(wear.ahead.p_before_shift_end, Refusal):
        return None
    return wear.ahead.p_before_shift_end


def _far_off(wear: WearLine) -> bool:
    if wear.word is not WearWord.NEAR_LIMIT or (wear.worn or 0.0) >= NEARLY_WORN:
        return False
    chance = _chance(wear)
    return chance is not None and chance < LIKELY


def _soon(wear: WearLine) -> float:
    """0 to 0.9 within a rank: the likeliest to pass its limit first, else the most worn."""
    chance = _chance(wear)
    if wear.word is WearWord.PAST_LIMIT or chance is None:
        worn = wear.worn if wear.worn is not None else 1.0
        return 0.9 - min(worn, 9.0) / 10.0
    return 0.9 * (1.0 - chance)


def nearest_their_limits(summary: Summary) -> tuple[WearLine, ...]:
    """Running looms' parts that are not looked at first, by the early end of their forecast."""
    found = [
        (low, wear)
        for line in summary.looms
        if line.state.motion is Motion.RUNNING
        for wear in line.wear
        if (low := _low_shifts(wear)) is not None
        and (wear.word not in _WORN_RANK or _far_off(wear))
    ]
    return tuple(
        w for _, w in sorted(found, key=lambda x: (x[0], _median(x[1]), x[1].loom, x[1].name))
    )


def _median(wear: WearLine) -> float:
    return wear.ahead.hours.median if isinstance(wear.ahead, Ahead) else float("inf")


def _of_loom(summary: Summary, line: LoomLine) -> Iterator[FirstLook]:
    state = line.state
    fault_words = "; ".join(fault.text + _again(summary, line, fault) for fault in state.faults)
    if state.faults and state.motion is not Motion.STOPPED:
        oldest = min(fault.since for fault in state.faults)
        yield FirstLook(
            kind=FirstKind.FAULT, loom=line.loom, rank=oldest.timestamp(),
            words=f"{_motion_word(state.motion)} with open fault: {fault_words}",
        )  # fmt: skip
    for wear in line.wear:
        if wear.word in _WORN_RANK and not _far_off(wear):
            yield FirstLook(
                kind=FirstKind.WORN, loom=line.loom, words=wear.name,
                rank=_WORN_RANK[wear.word] + _soon(wear), wear=wear,
            )  # fmt: skip
    for words, since in unproved(state):
        yield FirstLook(
            kind=FirstKind.PROOF, loom=line.loom, rank=since.timestamp(), words=words
        )  # fmt: skip
    if state.motion is Motion.STOPPED and state.isolation is Isolation.NONE_RECORDED:
        waiting = state.stopped_for in WAITING and not state.faults
        if state.stopped_for is Reason.LAID_UP:
            return
        reason = f" for {state.stopped_for.value}" if state.stopped_for else ""
        began = reason_since(summary, state)
        yield FirstLook(
            kind=FirstKind.WAITING if waiting else FirstKind.STOPPED, loom=line.loom,
            rank=began.timestamp() if began else 0.0,
            words=f"{reason.strip()}  {fault_words}".strip(), since=began,
        )  # fmt: skip
    if line.is_silent:
        longest = line.silent_shifts if line.silent_shifts is not None else float("inf")
        yield FirstLook(
            kind=FirstKind.SILENT, loom=line.loom, words=line.silence, rank=-longest
        )  # fmt: skip


def _again(summary: Summary, line: LoomLine, fault: Fault) -> str:
    """``, 3rd time in 6 days`` where the same fault was cleared within the repeat window."""
    window = summary.snapshot.mill.rules.repeat_days
    same = [
        c.fault.since
        for c in recent(summary.snapshot.fleet.history.cleared, fault.since - window)
        if c.loom == line.loom
        and (c.fault.part, c.fault.side, c.fault.symptom) == (fault.part, fault.side, fault.symptom)
        and fault.since - window <= c.fault.since < fault.since
    ]
    if not same:
        return ""
    days = ceil((fault.since - min(same)) / timedelta(days=1))
    within = "1 day" if days == 1 else f"{days} days"
    return f", {_ordinal(len(same) + 1)} time in {within}"


def _ordinal(number: int) -> str:
    if number % 100 in (11, 12, 13):
        return f"{number}th"
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th') }"


def _motion_word(motion: Motion) -> str:
    return "running" if motion is Motion.RUNNING else "motion unknown"


_JOINS_IN_TURN = {FirstKind.SILENT: 2, FirstKind.WAITING: 3}


def shared_out(
    items: tuple[FirstLook, ...], rows: int
) -> tuple[tuple[FirstLook, ...], tuple[FirstLook, ...]]:
    """Which items get a row, and which are only named: a quota for each kind.

    Each kind in turn gives its worst, so that many stopped looms cannot push worn ones off; kinds
    that can wait join in later turns.
    """
    queues = {kind: [i for i in items if i.kind is kind] for kind in FirstKind}
    chosen: list[FirstLook] = []
    turn = 1
    while len(chosen) < rows and any(queues.values()):
        for kind, queue in queues.items():
            if queue and len(chosen) < rows and turn >= _JOINS_IN_TURN.get(kind, 1):
                chosen.append(queue.pop(0))
        turn += 1
    picked = set(map(id, chosen))
    kept = tuple(item for item in items if id(item) in picked)
    return kept, tuple(item for item in items if id(item) not in picked)
