"""What a line was understood to say and do, in words, before it is written.

One sentence a clause, with units and with what it closes, opens or leaves missing. Numbers of a
reading are left to ``understood_reading``, what to look out for to ``cautions``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import datetime
from typing import TypeVar, assert_never

from board.judging import Judged
from board.show.moments import clock, long_clock
from board.show.understood_reading import gauge_words, reading_words, shown_amount
from board.state.fleet import Action, Lock, LoomState, ProofFault
from board.state.history import ClosedAction, ProofGiven
from board.state.locks import same_person
from grammar import entries as e

_KINDS_OF_STOP = {
    e.Reason.WARP: "waiting",
    e.Reason.WEFT: "waiting",
    e.Reason.STYLE: "waiting",
    e.Reason.ORDER: "waiting",
    e.Reason.POWER: "waiting",
    e.Reason.LAID_UP: "out of use",
    e.Reason.FAULT: "maintenance down time",
    e.Reason.PART: "maintenance down time",
    e.Reason.CHECK: "maintenance down time",
    None: "maintenance down time",
}


def headline(judged: Judged) -> str:
    """When, where and by whom: ``A07  Wed 25 Nov 02:40, night of 2026-11-24, by KM``."""
    draft, entry = judged.draft, judged.draft.entry
    if entry is None:
        return "not understood"
    filed = f"{draft.shift.name} of {draft.shift.day}"
    by = f", by {entry.by}" if draft.who or entry.own_writer else ""
    when = long_clock(entry.when, judged.mill.zone)
    return f"{entry.place.name}  {when}, {filed}{by}"


def understood(judged: Judged) -> tuple[str, ...]:
    """One sentence for each clause of the line that counts; none for a line not understood."""
    entry = judged.draft.entry
    if entry is None:
        return ()
    words = _Words(judged, entry)
    refused = [c.diagnostic.span.start for c in judged.refused]
    return tuple(
        words.of(clause)
        for clause in entry.clauses
        if not any(clause.span.start <= at < clause.span.end for at in refused)
    )


def isolated_by(place: str, clause: e.Isolated) -> str:
    """``A07 ISOLATED by KM, lock 14``."""
    return f"{place} ISOLATED by {clause.by}{_after(', ', clause.text)}"


def recorded_until(clause: e.Isolated) -> str:
    """How long a lock stays on record."""
    return f"recorded until {clause.by}'s lock is written as removed"


class _Words:
    """The sentences of one entry."""

    def __init__(self, judged: Judged, entry: e.Entry) -> None:
        self._judged = judged
        self._entry = entry
        self._place = entry.place.name
        self._loom = entry.place.name if entry.place.kind is e.PlaceKind.LOOM else None
        self._closed = _new(judged.after.history.closed, judged.before.history.closed)
        self._proofs = _new(judged.after.history.proofs, judged.before.history.proofs)

    def of(self, clause: e.Clause) -> str:
        """The sentence of one clause."""
        place = self._place
        match clause:
            case e.Stopped(reason=reason):
                kind = _KINDS_OF_STOP.get(reason, "stopped")
                return f"{place} stopped{f' for {reason.value}' if reason else ''}: {kind}"
            case e.Running(text=text):
                return f"{place} running{_after(', ', text)}"
            case e.Isolated():
                return self._isolated(clause)
            case e.LockSeen(by=by):
                return f"locks of {place} seen by {by}: {self._locks(self._was) or 'none recorded'}"
            case e.LockRemoved():
                return self._lock_removed(clause)
            case e.FaultOpened():
                return self._fault(clause)
            case e.FaultCleared():
                return self._cleared()
            case e.Measured():
                return reading_words(self._judged, place, clause)
            case e.Gauged():
                return gauge_words(self._judged, place, clause)
            case e.Worked():
                return self._worked(clause)
            case e.Moved(at=at, origin=origin):
                return (
                    f"{at.words()} of {place} comes from {origin} with its life and readings; that"
                    f" place on {origin} is empty until it is replaced"
                )
            case e.Torqued(amount=amount, text=text):
                return self._proof(f"torque{_after(' ', text)} {shown_amount(amount)}")
            case e.ThreadLocked():
                return self._proof("thread-locked")
            case e.Checked(text=text, good=good):
                return self._proof(f"checked {text}: {'ok' if good else 'BAD'}")
            case e.Batch(word=word):
                return self._proof(f"batch {word}")
            case e.Counter(amount=amount, new_meter=new):
                return self._counter(amount, "a new meter, " if new else "")
            case e.StyleSet(word=word):
                return f"{place} weaves style {word} from here on"
            case e.Opened():
                return self._opened(clause)
            case e.Done(text=text) | e.Dropped(text=text):
                verb = "closes" if isinstance(clause, e.Done) else "drops undone"
                return self._closes(verb, clause.name.written, text)
            case e.Note(text=text):
                return f"note: {text}"
            case e.HandedOver(by=by, to=to):
                return f"{by} hands {self._what} over to {to}; it stands once {to} takes it over"
            case e.TakenOver():
                return self._taken_over(clause)
            case e.Struck():
                return self._struck(clause)
            case _:
                assert_never(clause)

    @property
    def _was(self) -> LoomState:
        return self._judged.then.looms[self._entry.place.looms[0]]

    @property
    def _is(self) -> LoomState:
        return self._judged.after.looms[self._entry.place.looms[0]]

    @property
    def _what(self) -> str:
        return "the shed" if self._place == "shed" else f"section {self._place}"

    # -- isolation -------------------------------------------------------------------------

    def _locks(self, state: LoomState) -> str:
        return ", ".join(self._lock(lock) for lock in state.locks)

    def _lock(self, lock: Lock) -> str:
        return f"{lock.by} since {self._clock(lock.since)}"

    def _isolated(self, clause: e.Isolated) -> str:
        place = self._place
        others = [k.by for k in self._was.locks if not same_person(k.by, clause.by)]
        beside = f", beside {', '.join(others)}" if others else ""
        told = f"{isolated_by(place, clause)}{beside}"
        if self._judged.refused and not self._judged.draft.kept_anyway:
            return told  # not on record, and not said to be
        if not any(same_person(lock.by, clause.by) for lock in self._is.locks):
            return f"{told}: NOT ON RECORD NOW, a later line took the lock of {clause.by} off"
        return f"{told}: {recorded_until(clause)}"

    def _lock_removed(self, clause: e.LockRemoved) -> str:
        left = self._locks(self._is)
        still = f"still ISOLATED by {left}" if left else "no lock left on record there"
        return f"lock of {clause.owner} on {self._place} removed by {clause.by}; {still}"

    # -- faults ----------------------------------------------------------------------------

    def _fault(self, clause: e.FaultOpened) -> str:
        at = clause.at.words() if clause.at else ""
        where = at if clause.side is None or at.startswith(clause.side) else f"{clause.side} {at}"
        named = where.strip() or "no part found"
        symptom = f", symptom {clause.symptom}" if clause.symptom else ""
        return f"fault of {self._place} opens: {named}{symptom}"

    def _cleared(self) -> str:
        cleared = self._judged.after.history.cleared
        texts = [
            f"{f.fault.text} (open since {self._clock(f.fault.since)})"
            for f in cleared
            if self._judged.is_own(f.source)
        ]
        return f"fault of {self._place} cleared: {'; '.join(texts) or 'none'}"

    def _clock(self, when: datetime) -> str:
        return clock(when, self._judged.now, self._judged.mill.zone)

    # -- work ------------------------------------------------------------------------------

    def _worked(self, clause: e.Worked) -> str:
        what = f"{clause.verb.value} {clause.at.words()} of {self._place}"
        match clause.verb:
            case e.Verb.REPLACED:
                why = f", the old one {clause.why.value}" if clause.why else ""
                return f"{what}{why}: a new part life begins{self._missing(clause.at)}"
            case e.Verb.ADJUSTED | e.Verb.REPAIRED:
                return f"{what}: its readings start anew, its life goes on"
            case e.Verb.CLEANED | e.Verb.GREASED | e.Verb.TIGHTENED:
                return what

    def _missing(self, at: e.PartAt) -> str:
        missing = [p.what for p in self._is.proofs if p.at == at and p.fault is ProofFault.MISSING]
        told = f"; still to be written: {', '.join(missing)}" if missing else ""
        for action in self._is.actions:
            if action.recheck_of == at:
                told += f"; opens by itself: {action.text}, {self._due(action.due)}"
        return told

    def _proof(self, words: str) -> str:
        """A proof with the part that it counts for, and why it proves nothing where it does not."""
        given = next(iter(self._proofs), None)
        if given is None:
            return f"{words}: counts for no part"
        self._proofs.remove(given)
        part = given.at.words() if given.at else "no part asks for it"
        return f"{words}, {part}{self._failed(given)}"

    def _failed(self, given: ProofGiven) -> str:
        for proof in self._is.proofs:
            torque = given.proof.what == "torque" and proof.what.startswith("torque")
            if torque and proof.at == given.at and self._judged.is_own(proof.source):
                return f": NOT PROVED, {proof.why}"
        return ""

    def _counter(self, amount: e.Amount, new: str) -> str:
        before = dict(self._was.counters).get(amount.unit)
        showed = f" ({before:,.10g} before)".replace(",", "") if before is not None else ""
        return f"meter of {self._place}: {new}{shown_amount(amount)}{showed}"

    # -- actions ---------------------------------------------------------------------------

    def _opened(self, clause: e.Opened) -> str:
        number = f" no {clause.number}" if clause.number is not None else ""
        whom = f", for {clause.whom}" if clause.whom else ""
        return (
            f"action{number} of {self._place} opens: {clause.text}, {self._due(clause.due)}{whom}"
        )

    def _due(self, due: e.Due | None) -> str:
        match due:
            case None:
                return "no due"
            case e.DueAt(moment=moment):
                return f"due {long_clock(moment, self._judged.mill.zone)}"
            case e.DueBeforeStart():
                return "due before it runs again"
            case e.DueAfterUse(use=use, unit=unit):
                return f"due after {use:,.10g} {unit} of its use".replace(",", "")
            case _:
                assert_never(due)

    def _closes(self, verb: str, written: str, text: str) -> str:
        if not self._closed:
            return f"{verb} {written}: no such action"
        fact = self._closed.pop(0)
        return f"{verb} {self._named(fact, written)}{_after('; ', text)}"

    def _named(self, fact: ClosedAction, written: str) -> str:
        action: Action = fact.action
        number = f"no {action.number}" if action.number is not None else written
        by = f" by {action.by}" if action.by else ""
        opened = f"opened {self._clock(action.opened)}{by}"
        return f"{number} of {action.place.name}: {action.text} ({opened}, {self._due(action.due)})"

    # -- the shed --------------------------------------------------------------------------

    def _taken_over(self, clause: e.TakenOver) -> str:
        taken = self._judged.after.shed.taken
        own = next((h for h in taken if self._judged.is_own(h.source)), None)
        giver = f" from {own.by}" if own is not None and own.by else ""
        told = f"{clause.by} takes {self._what} over{giver}"
        if clause.seal is not None:
            shift = f" of the {own.shift.name} of {own.shift.day}" if own and own.shift else ""
            lines = "line" if clause.seal.lines == 1 else "lines"
            told += f"; {clause.seal.lines} {lines}{shift} sealed"
        if not giver:
            told += "; nobody has written that it was handed over"
        return told

    def _struck(self, clause: e.Struck) -> str:
        struck = self._judged.struck
        if not struck:
            return f"strikes nothing at {clause.name.written}"
        kept = any(isinstance(c, e.Isolated) for x in struck for c in x.entry.clauses)
        lock = "; the isolation in it stands all the same" if kept else ""
        return f"strikes: {struck[0].entry.text.strip()}{lock}"


def _after(mark: str, text: str) -> str:
    return f"{mark}{text}" if text else ""


Fact = TypeVar("Fact", ClosedAction, ProofGiven)


def _new(after: Iterable[Fact], before: Iterable[Fact]) -> list[Fact]:
    """The facts that are there only with the line, in their order."""
    there = Counter(before)
    found = []
    for fact in after:
        if there[fact]:
            there[fact] -= 1
        else:
            found.append(fact)
    return found
