"""Actions: opened by a line or by a job, closed by their number or by their loom and time."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from board.mill import Mill
from board.state import made
from board.state.fleet import Action, LoomState
from board.state.happening import Happening, Stepped
from board.state.history import ClosedAction
from grammar import entries as e
from grammar import times
from grammar.diagnostics import Code
from grammar.folding import fold_word
from grammar.frozen import dataclass
from grammar.making import changed
from grammar.units import UNITS, NumberFault, read_number, split_amount, unit_of


@dataclass(frozen=True, slots=True, kw_only=True)
class NotClosed:
    """Why no action can be closed."""

    message: str
    help: str


def new_action(happening: Happening, clause: e.Opened) -> Action:
    """The action that an ``open`` clause opens."""
    return Action(
        text=clause.text,
        opened=happening.when,
        place=happening.place,
        source=happening.source,
        number=clause.number,
        due=clause.due,
        by=happening.by,
        whom=clause.whom,
    )


def in_order(actions: tuple[Action, ...]) -> tuple[Action, ...]:
    """Actions in the order they were opened, whatever the order of saves."""
    return tuple(sorted(actions, key=lambda a: (a.opened, a.number or 0, a.text, a.source.text)))


def opened(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    """``open ...`` on a loom."""
    clause = happening.clause
    assert isinstance(clause, e.Opened)
    action = new_action(happening, clause)
    return made.Stepped(state=changed(state, actions=in_order((*state.actions, action))))


def closed(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    """``done ...`` or ``dropped ...`` on a loom."""
    left, fact = close_among(state.actions, happening)
    if isinstance(fact, NotClosed):
        message = f"{fact.message} on {state.loom}"
        complaint = happening.complaint(Code.NO_SUCH_ACTION, message, help=fact.help)
        return made.Stepped(state=state, complaints=(complaint,))
    return made.Stepped(state=changed(state, actions=left), facts=(fact,))


def close_among(
    actions: tuple[Action, ...], happening: Happening
) -> tuple[tuple[Action, ...], ClosedAction | NotClosed]:
    """The actions left, and the one that was closed or why none was."""
    clause = happening.clause
    assert isinstance(clause, e.Done | e.Dropped)
    chosen = find(actions, clause)
    if isinstance(chosen, NotClosed):
        return actions, chosen
    fact = ClosedAction(
        action=chosen,
        when=happening.when,
        dropped=isinstance(clause, e.Dropped),
        text=clause.text,
        by=happening.by,
    )
    return tuple(a for a in actions if a is not chosen), fact


def find(actions: tuple[Action, ...], clause: e.Done | e.Dropped) -> Action | NotClosed:
    """The open action that a clause names.

    By number the one opened first. By time the one of that minute, and one without a number
    before one that has its own; where there are several, the one whose words the text begins
    with, and without a text the one that did not open by itself.
    """
    match clause.name:
        case e.ByNumber(number=number):
            found = [a for a in actions if a.number == number]
            if found:
                return found[0]
            return NotClosed(message=f"no action no {number} is open", help=_open_words(actions))
        case e.ByTime(moment=moment, written=written):
            minute = timedelta(minutes=1)
            found = [a for a in actions if moment <= a.opened < moment + minute]
            found = [a for a in found if a.number is None] or found
            if len(found) > 1:
                found = _by_words(found, clause.text) or found
            if len(found) == 1:
                return found[0]
            if not found:
                return NotClosed(
                    message=f"no action opened at {written} is open", help=_open_words(actions)
                )
            return NotClosed(
                message=f"{len(found)} actions were opened at {written}",
                help=f"name it by its first words: done {written} {found[0].text}",
            )


def _by_words(actions: list[Action], text: str) -> list[Action]:
    said = re.findall(r"\w+", fold_word(text))
    if not said:
        return [a for a in actions if a.recheck_of is None]
    scores = [(_common(said, re.findall(r"\w+", fold_word(a.text))), a) for a in actions]
    best = max(score for score, _ in scores)
    return [a for score, a in scores if score == best] if best else []


def _common(one: list[str], other: list[str]) -> int:
    count = 0
    for a, b in zip(one, other, strict=False):
        if a != b:
            break
        count += 1
    return count


def _open_words(actions: tuple[Action, ...]) -> str:
    if not actions:
        return "no action is open there"
    named = [f"no {a.number}" if a.number is not None else a.text for a in actions]
    return f"open there: {', '.join(named[:5])}"


# -- rechecks, which open by themselves ----------------------------------------------------


def recheck(happening: Happening, at: e.PartAt, due: str, mill: Mill) -> Action:
    """The action that opens by itself after a part was replaced."""
    return Action(
        text=f"recheck {at.words()} after it was replaced",
        opened=happening.when,
        place=happening.place,
        source=happening.source,
        due=due_from(due, happening.when, mill),
        by=happening.by,
        recheck_of=at,
    )


def without_rechecks(
    state: LoomState, at: e.PartAt, happening: Happening, why: str
) -> tuple[tuple[Action, ...], tuple[ClosedAction, ...]]:
    """The loom's actions less the rechecks of a part that is gone, and these as dropped."""
    gone = [a for a in state.actions if a.recheck_of == at]
    if not gone:
        return state.actions, ()
    closed = tuple(
        ClosedAction(action=a, when=happening.when, dropped=True, text=why, by=happening.by)
        for a in gone
    )
    return tuple(a for a in state.actions if a.recheck_of != at), closed


def due_from(words: str, when: datetime, mill: Mill) -> e.Due | None:
    """The due that the register asks for in words (``in 24 h``), or None where it has none."""
    vocabulary = mill.vocabulary
    folded = fold_word(words)
    if folded == "before start":
        return e.DueBeforeStart()
    if folded in vocabulary.shift_by_word:
        shift = vocabulary.shift_by_word[folded]
        return e.DueAt(moment=times.next_start(shift, when, mill.zone), written=words)
    match = re.fullmatch(r"in\s+(.+)", folded)
    if match is None:
        try:
            moment = times.next_clock(times.read_clock(folded), when, mill.zone)
        except times.NoTime:
            return None
        return e.DueAt(moment=moment, written=words)
    number, unit_word = split_amount(match[1])
    unit = unit_of(unit_word)
    assert unit is not None
    target = UNITS["picks" if unit.symbol == "picks" else "h"]
    use = read_number(number, source=unit, target=target, plausible=None)
    if isinstance(use, NumberFault):
        return None
    return e.DueAfterUse(use=use, unit=target.symbol, written=words)
