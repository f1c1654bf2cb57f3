"""What one more line would do to the shed: the state before it and after it, and what is new.

Pure. The same fold that builds the board says what it makes of the line, so that nothing is judged
here by other rules; what the fold complains of only with the line is the line's doing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from board.mill import Mill
from board.state.counting import counted
from board.state.fleet import Complaint, Fleet, Handover, Source
from board.state.fold import fold
from board.state.folded import Folded
from board.state.folds import folds
from board.state.history import History
from board.state.logged import Logged
from board.state.usage import disagreements
from board.writing import Draft
from grammar import entries as e
from grammar.diagnostics import Code, Severity
from grammar.folding import fold as fold_text
from grammar.frozen import dataclass
from grammar.isolation_words import IsolationWords

NO_HISTORY = History()


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A draft with what it would do.

    ``then`` is the shed at the minute of the entry without it, ``before`` and ``after`` the shed
    now, without it and with it. ``own`` are the complaints about the line, ``elsewhere`` those
    that it brings on other lines.
    """

    draft: Draft
    mill: Mill
    path: str
    line: int
    now: datetime
    then: Fleet
    before: Fleet
    after: Fleet
    own: tuple[Complaint, ...] = ()
    elsewhere: tuple[Complaint, ...] = ()
    struck: tuple[Logged, ...] = ()

    @property
    def refused(self) -> tuple[Complaint, ...]:
        """The complaints for which the line is not written."""
        return tuple(c for c in self.own if self._stops(c))

    def is_own(self, source: Source | None) -> bool:
        """Whether something was written by this line."""
        return source is not None and (source.path, source.line) == (self.path, self.line)

    def _stops(self, complaint: Complaint) -> bool:
        if complaint.diagnostic.severity is Severity.REFUSED:
            return True
        if complaint.diagnostic.code is Code.IN_THE_FUTURE:
            return bool(self.draft.ahead)
        # a loom written as running under a lock is a conflict on the board: not by a slip
        entry = self.draft.entry
        of_loom = entry is not None and entry.place.kind is e.PlaceKind.LOOM
        return of_loom and complaint.diagnostic.code is Code.RUNNING_WHILE_ISOLATED

    @property
    def may_isolate(self) -> bool:
        """Whether the line is refused and may be meant to put an isolation on record."""
        return bool(self.refused) and (bool(self.draft.reading.may_isolate) or self.isolates)

    @property
    def conflicts(self) -> bool:
        """Whether the line is refused only as its loom would run under a lock."""
        codes = {c.diagnostic.code for c in self.refused}
        return codes == {Code.RUNNING_WHILE_ISOLATED}

    @property
    def unremoved(self) -> str:
        """What is to be said where the line is refused and was meant to take a lock off."""
        entry = self.draft.entry
        if not self.refused:
            return ""
        if entry is None:
            words = IsolationWords(self.mill.vocabulary)
            garbled = not self.isolates and words.removes(fold_text(self.draft.line).text)
            return "a lock on record there stays on record" if garbled else ""
        if not any(isinstance(c, e.LockRemoved) for c in entry.clauses):
            return ""
        locks = self.before.looms[entry.place.looms[0]].locks
        if not locks:
            return f"no lock of {entry.place.name} is on record"
        whose = " and ".join(lock.by for lock in locks)
        count = "lock" if len(locks) == 1 else "locks"
        stay = "stays" if len(locks) == 1 else "stay"
        return f"the {count} of {whose} on {entry.place.name} {stay} on record"

    @property
    def isolates(self) -> bool:
        """Whether the line puts an isolation on record once it is written."""
        entries = self.draft.reading.entries
        return any(isinstance(c, e.Isolated) for entry in entries for c in entry.clauses)

    @property
    def sealed_by(self) -> Handover | None:
        """The taking over that has sealed the shift this line is filed under."""
        draft = self.draft
        if draft.entry is not None and any(
            isinstance(c, e.HandedOver | e.TakenOver) for c in draft.entry.clauses
        ):
            return None
        for handover in reversed(self.before.shed.taken):
            if handover.seal is not None and handover.shift == draft.shift:
                return handover
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Earlier:
    """Where the shed stood before the entries that are read, where these are not all.

    ``past`` holds spells and meter readings of the time before where a meter is compared with them.
    """

    folded: Folded
    past: History = NO_HISTORY


def judge(
    draft: Draft,
    line: int,
    others: Iterable[Logged],
    mill: Mill,
    now: datetime,
    earlier: Earlier | None = None,
) -> Judged:
    """What a draft would do as that line of its log, among the other entries read."""
    start, past = (earlier.folded, earlier.past) if earlier is not None else (None, NO_HISTORY)
    path = draft.path
    others = list(others)
    own = [
        Complaint(path=path, diagnostic=replace(d, line=line), shift=draft.shift)
        for d in draft.reading.diagnostics
        if d.line == 2
    ]
    entry = draft.entry
    if entry is None:
        before = fold(others, mill, now, start)
        return Judged(
            draft=draft, path=path, line=line, now=now, then=before, before=before, after=before,
            own=tuple(own), mill=mill,
        )  # fmt: skip
    logged = Logged(path=path, entry=replace(entry, line=line))
    several = [counted(others, now, mill.zone), counted([*others, logged], now, mill.zone)]
    until = [x for x in others if x.entry.when <= entry.when]
    if len(until) < len(others):
        several.append(counted(until, entry.when, mill.zone))
    before, after, *those = folds(several, mill, start)
    then = those[0] if those else before
    new = Counter((*after.complaints, *disagreements(_since(past, after), mill)))
    new.subtract(Counter((*before.complaints, *disagreements(_since(past, before), mill))))
    twice = _lines_twice(after)
    twice.subtract(_lines_twice(before))
    here: list[Complaint] = []
    elsewhere: list[Complaint] = []
    for complaint, count in new.items():
        if count > 0:
            at_line = (complaint.path, complaint.diagnostic.line) == (path, line)
            if not at_line and _is_twice(complaint) and twice[complaint.diagnostic.text] <= 0:
                continue  # it was told of the other of two equal lines before
            (here if at_line else elsewhere).append(_told(complaint, draft, mill, now))
    return Judged(
        draft=draft,
        path=path,
        line=line,
        now=now,
        then=then,
        before=before,
        after=after,
        own=(*own, *here),
        elsewhere=tuple(elsewhere),
        struck=_struck(entry, others),
        mill=mill,
    )


def _since(past: History, fleet: Fleet) -> Fleet:
    """The fleet with the spells and the meter readings of the time before it, too."""
    own = fleet.history
    spells, counters = (*past.spells, *own.spells), (*past.counters, *own.counters)
    return replace(fleet, history=replace(own, spells=spells, counters=counters))


def _is_twice(complaint: Complaint) -> bool:
    return complaint.diagnostic.code is Code.LINE_TWICE


def _lines_twice(fleet: Fleet) -> Counter[str]:
    return Counter(c.diagnostic.text for c in fleet.complaints if _is_twice(c))


def _told(complaint: Complaint, draft: Draft, mill: Mill, now: datetime) -> Complaint:
    """The complaint, with what to do where the time typed has not come yet."""
    if not draft.ahead or complaint.diagnostic.code is not Code.IN_THE_FUTURE:
        return complaint
    stamp = draft.typed.split()[0]
    message = f"{stamp} has not come yet: it is {now.astimezone(mill.zone):%H:%M}"
    diagnostic = replace(complaint.diagnostic, message=message, help=draft.ahead)
    return replace(complaint, diagnostic=diagnostic)


def _struck(entry: e.Entry, others: Iterable[Logged]) -> tuple[Logged, ...]:
    """The entries that the line strikes."""
    moments = [c.name.moment for c in entry.clauses if isinstance(c, e.Struck)]
    return tuple(
        logged
        for logged in others
        if logged.entry.place.name == entry.place.name
        and logged.entry.when.replace(second=0, microsecond=0) in moments
        and not any(isinstance(c, e.Struck) for c in logged.entry.clauses)
    )
