"""Where an entry is looked at and written down: what bears on it is read, gaps filled, appended.

The command and the prompt share it. What the line would do is judged by ``judging``; showing it is
left to ``board.show.understood``.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Sequence
from contextlib import nullcontext
from dataclasses import replace
from datetime import datetime
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING

from board.judging import Earlier, Judged, judge
from board.mill import Mill
from board.record.cabinet import Known, known_of
from board.record.files import FolderMissing, Listed, LogFile, LogName, Skipped, read_file
from board.record.filing import line_fault
from board.record.listing import list_logs, logs_in
from board.record.shown_names import shown_name
from board.record.sweep import log_paths, writer_of
from board.shell import CannotRun
from board.sifting import OfOthers, Sifter, of_others, waits_for_others
from board.snapshot import FileReading
from board.state.fold import fold
from board.state.logged import Logged
from board.writing import (
    Draft,
    draft,
    line_number,
    marked,
    next_number,
    numbered,
    numbers_given,
    seal_for,
    sealed,
)
from grammar import entries as e
from grammar.folding import fold as fold_text
from grammar.folding import fold_word
from grammar.frozen import dataclass
from grammar.isolation_words import IsolationWords
from grammar.phrases import spellings
from grammar.reader import Reader

if TYPE_CHECKING:
    from board.bearing import Basis, Bearing

MANY_BYTES = 1_500_000  # of logs, from which on an index is asked sooner than they are read
_MOST_SIFTED = 20_000  # logs with what was read of them for some looms

_WHO = re.compile(r"[^\s;#][^\s;]*")


class OfLocks(Enum):
    """What a line does to the locks on record, or is likely meant to do."""

    PUT_ON = "puts one on"
    TAKEN_OFF = "takes one off"
    NEITHER = "neither"


class Against(Enum):
    """What becomes of a line against which something speaks."""

    REFUSE = "refuse it"
    KEEP = "keep it, marked"


@dataclass(frozen=True, slots=True, kw_only=True)
class Put:
    """The line stands in the log, in ``line`` of it."""

    judged: Judged
    line: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost:
    """The line could not be put on the disk, and why."""

    judged: Judged
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """Something speaks against the line, or did not when it was looked at: nothing was written."""

    judged: Judged


class Desk:
    """Looks at entries for one log folder and writes them down."""

    def __init__(
        self,
        folder: Path,
        mill: Mill,
        reader: Reader,
        clock: Callable[[], datetime],
        bearing: Callable[[], Bearing] | None = None,
    ) -> None:
        self.folder = folder
        self.mill = mill
        self.reader = reader
        self.notices: tuple[str, ...] = ()  # logs that could not be read at the last look
        self.appending = ""  # the log that a line is just being appended to
        self._open_bearing = bearing
        self._bearing: Bearing | None = None  # opened when it is first needed
        self._clock = clock
        self._sifter = Sifter(mill.vocabulary)
        self._known: dict[str, tuple[Known, LogFile]] = {}  # logs as they were read last
        self._sifted: dict[tuple[str, frozenset[str], OfOthers], tuple[LogFile, list[Logged]]] = {}
        self._day_words = spellings(mill.vocabulary, ("day",))

    def named(self, who: str) -> str:
        """A writer's name as the logs spell it already. Raises CannotRun for what is no name."""
        who = who.strip()
        if not _WHO.fullmatch(who):
            raise CannotRun(f"{who or 'nothing'} is no name: give initials like KM, or one word")
        known = dict.fromkeys(map(writer_of, log_paths(self.folder)))
        return next((name for name in known if fold_word(name) == fold_word(who)), who)

    def writers(self) -> tuple[str, ...]:
        """Everybody who has a log of their own, the latest first."""
        paths = map(shown_name, reversed(log_paths(self.folder)))
        return tuple(dict.fromkeys(map(writer_of, paths)))

    # -- looking -----------------------------------------------------------------------------

    def look(self, typed: str, who: str | None, now: datetime) -> Judged:
        """What an entry would do if it were written now. Raises CannotRun without a folder."""
        made = draft(typed, who, now, self.mill, self.reader)
        listing = self._listing()
        basis = self._basis(made, now, listing)
        if basis is None:
            start: Earlier | None = None
            others = self._bearing_on(made, self._logs(listing)) if made.entry is not None else []
            given = numbers_given(x.entry for x in others)
        else:
            start, others, given = basis.start, list(basis.entries), basis.given
        made = numbered(made, next_number(given), self.reader)
        line = line_number(self._data_of(made.path), made, self._day_words)
        judged = judge(made, line, others, self.mill, now, start)
        shift = _given_over(judged)
        if shift is None:
            return judged
        told = self._bearing.seal(shift) if self._bearing and basis is not None else None
        seal = told or seal_for(self._whole(self._logs(listing), shift), shift)
        return judge(sealed(made, seal, self.reader), line, others, self.mill, now, start)

    def _basis(self, made: Draft, now: datetime, listing: Listed) -> Basis | None:
        """What the index tells that bears on a draft, where reading the logs would take long."""
        if made.entry is None:
            return None
        index = self._index_for(listing)
        return index.on(made.entry, now, listing) if index is not None else None

    def _index_for(self, listing: Listed) -> Bearing | None:
        """What looks into the index, where the logs are so many that it is asked."""
        if self._open_bearing is None:
            return None
        if sum(log.stamp[0] for log in logs_in(listing) if log.stamp) < MANY_BYTES:
            return None
        self._bearing = self._bearing or self._open_bearing()
        return self._bearing

    def _data_of(self, path: str) -> bytes:
        found = read_file(LogName(path=path, where=str(self.folder / path)), self._clock())
        return found.data if isinstance(found, LogFile) else b""

    def of_locks(self, typed: str) -> OfLocks:
        """Whether a line that stands nowhere is about a lock, or may be meant to be."""
        made = draft(typed, None, self._clock(), self.mill, self.reader)
        read = {type(c) for x in made.reading.entries for c in x.clauses}
        if e.Isolated in read:
            return OfLocks.PUT_ON
        if e.LockRemoved in read:
            return OfLocks.TAKEN_OFF
        if not made.reading.may_isolate:
            return OfLocks.NEITHER
        words = IsolationWords(self.mill.vocabulary)
        return OfLocks.TAKEN_OFF if words.removes(fold_text(made.line).text) else OfLocks.PUT_ON

    def open_numbers(self, words: Sequence[str]) -> tuple[int, ...]:
        """The numbers of the actions open on the loom that a line begun with these words names.

        Nothing is told where there are many logs and no index that knows them: somebody waits.
        """
        vocabulary = self.mill.vocabulary
        place = next((p for w in words[:2] if (p := vocabulary.place(w)) is not None), None)
        if place is None:
            return ()
        looms, listing, now = frozenset(place.looms), self._listing(), self._clock()
        index = self._index_for(listing)
        if index is not None:
            fleet = index.fleet(now, listing)
        else:
            entries = self._read(self._logs(listing), looms, OfOthers.ACTIONS)
            fleet = fold(entries, self.mill, now)
        if fleet is None:
            return ()
        found = [a for loom in place.looms for a in fleet.looms[loom].actions]
        found += [a for a in fleet.shed.actions if set(a.place.looms) & looms]
        return tuple(sorted({a.number for a in found if a.number is not None}))

    def _bearing_on(self, made: Draft, logs: list[LogFile]) -> list[Logged]:
        assert made.entry is not None
        looms, others = self._looms_of(made.entry, logs), of_others(made.entry)
        found = self._read(logs, looms, others)
        if others is OfOthers.NOTHING and waits_for_others(made.entry, found):
            return self._read(logs, looms, OfOthers.ACTIONS)
        return found

    def _read(
        self, logs: Iterable[LogFile], looms: frozenset[str], others: OfOthers
    ) -> list[Logged]:
        if len(self._sifted) > _MOST_SIFTED:
            self._sifted.clear()
        found = []
        for log in logs:
            key = (log.path, looms, others)
            known = self._sifted.get(key)
            if known is None or known[0] is not log:
                known = self._sifted[key] = (log, self._read_one(log, looms, others))
            found += known[1]
        return found

    def _read_one(self, log: LogFile, looms: frozenset[str], others: OfOthers) -> list[Logged]:
        data = self._sifter.sifted(log.data, looms, others)
        if data is None:
            return []
        reading = self.reader.read(data, log.last_line)
        return [Logged(path=log.path, entry=x) for x in reading.entries]

    def _looms_of(self, entry: e.Entry, logs: list[LogFile]) -> frozenset[str]:
        if entry.place.kind is not e.PlaceKind.LOOM:
            spread = e.Stopped | e.Running | e.StyleSet | e.Done | e.Dropped
            moving = any(isinstance(clause, spread) for clause in entry.clauses)
            return frozenset(entry.place.looms if moving else ())
        named = {entry.place.name}
        named |= {clause.origin for clause in entry.clauses if isinstance(clause, e.Moved)}
        return self._sifter.kin((log.data for log in logs), named)

    def _whole(self, logs: Iterable[LogFile], shift: e.Shift) -> list[FileReading]:
        """The logs that may have a heading of a shift, read whole."""
        day = shift.day.isoformat().encode()
        return [
            FileReading(path=log.path, reading=self.reader.read(log.data, log.last_line))
            for log in logs
            if day in log.data or not log.data.isascii()
        ]

    def _listing(self) -> Listed:
        """The logs of the folder. Raises CannotRun without a folder."""
        listing = list_logs(self.folder)
        if isinstance(listing, FolderMissing):
            raise CannotRun(listing.sentence)
        self.notices = tuple(skipped.sentence for skipped in listing.skipped)
        return listing

    def _logs(self, listing: Listed) -> list[LogFile]:
        found, now = [], self._clock()
        for log in logs_in(listing):
            known = self._known.get(log.path)
            if known is not None and known[0].stands(log.stamp, now):
                found.append(known[1])
                continue
            file = read_file(log, now)
            if isinstance(file, Skipped):
                self.notices = (*self.notices, file.sentence)
            else:
                self._known[log.path] = (known_of(file, now), file)
                found.append(file)
        return found

    # -- writing -----------------------------------------------------------------------------

    def write(
        self,
        typed: str,
        who: str | None,
        now: datetime,
        against: Against = Against.REFUSE,
        seen: Judged | None = None,
    ) -> Put | Lost | Held:
        """Append an entry. With ``seen`` only if it would still do what was looked at then."""
        made = draft(typed, who, now, self.mill, self.reader)
        from board.record.turns import NoTurn, turn

        if not os.path.isdir(self.folder):
            self._listing()  # tells why; to wait for a turn would make a new folder in its place
        try:
            with turn(self.folder) if made.needs_turn else nullcontext():
                judged = self.look(typed, who, now)
                if seen is not None and _told(judged) != _told(seen):
                    return Held(judged=judged)
                return self._append(judged, against)
        except NoTurn as none:
            judged = self.look(typed, who, now)
            return Lost(judged=judged, sentence=f"nothing was written: {none.sentence}")

    def _append(self, judged: Judged, against: Against) -> Put | Lost | Held:
        made = judged.draft
        if judged.refused:
            if against is Against.REFUSE:
                return Held(judged=judged)
            made = marked(made, self.reader)
        if made.who is None:
            raise CannotRun("say who writes: --by WHO, or end the entry with: ; by WHO")
        fault = line_fault(made.line)
        if fault:
            return Lost(judged=judged, sentence=f"nothing was written: {fault}")
        from board.record.writer import NotWritten, append_entry

        self.appending = made.path
        outcome = append_entry(
            self.folder, made.path, made.heading, made.line, day_words=self._day_words
        )
        self.appending = ""
        judged = replace(judged, draft=made)
        if isinstance(outcome, NotWritten):
            return Lost(judged=judged, sentence=outcome.sentence)
        return Put(judged=judged, line=outcome.line)


def _told(judged: Judged) -> object:
    return judged.draft.line, judged.own, judged.elsewhere


def _given_over(judged: Judged) -> e.Shift | None:
    """The shift that the line takes over and has no seal for."""
    entry = judged.draft.entry
    if entry is None or not any(
        isinstance(c, e.TakenOver) and c.seal is None for c in entry.clauses
    ):
        return None
    for handover in judged.after.shed.taken:
        if judged.is_own(handover.source):
            return handover.shift
    return None
