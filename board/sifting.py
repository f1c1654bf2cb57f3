"""Which lines of the logs can bear on one entry: those of its looms, of groups, and the odd ones.

To judge one line not every log has to be read in full: what another loom's plain line says changes
nothing. Lines that are left out are blanked, so that every other keeps its number. Errs on the side
of keeping; pure, bytes in and bytes out.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime, time, timedelta
from enum import Enum
from itertools import pairwise

from board.state.logged import Logged
from grammar.entries import (
    Done,
    Dropped,
    DueBeforeStart,
    Entry,
    Opened,
    PlaceKind,
    Running,
    Struck,
)
from grammar.folding import fold_word
from grammar.phrases import spellings
from grammar.times import NoTime, came_twice, read_date
from grammar.vocabulary import Vocabulary

_DATE = re.compile(rb"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_WIDE_DIGITS = b"\xef\xbc"  # full-width digits are digits too once a line is folded
_CLOCK = re.compile(rb"(?:[0-9-]{10}[Tt])?([0-9]{1,2}):?[0-9]{2}(?![0-9])")
_SPLITS = re.compile(r"[\s;]+")

_ASK_FOR_ACTIONS = (Opened, Done, Dropped, Struck)  # what is struck may have been an action


class OfOthers(Enum):
    """What is kept of the lines of other looms."""

    NOTHING = "nothing"
    ACTIONS = "what opens and closes actions"


def of_others(entry: Entry) -> OfOthers:
    """What must be kept of other looms for an entry to be judged.

    Any loom may close an action of a group, so whether it is open is told by the lines of all.
    """
    told = any(isinstance(clause, _ASK_FOR_ACTIONS) for clause in entry.clauses)
    return OfOthers.ACTIONS if told else OfOthers.NOTHING


def waits_for_others(entry: Entry, own: Iterable[Logged]) -> bool:
    """Whether a start may wait for an action of a group, which any of its looms may have closed.

    ``own`` are the entries that are kept without those of other looms.
    """
    return any(isinstance(clause, Running) for clause in entry.clauses) and any(
        isinstance(clause, Opened) and isinstance(clause.due, DueBeforeStart)
        for x in own
        if x.entry.place.kind is not PlaceKind.LOOM
        for clause in x.entry.clauses
    )


class Sifter:
    """Finds the lines that can bear on an entry, in the words of one mill."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._vocabulary = vocabulary
        self._loom_of: dict[bytes, str | None] = {}
        self._repeats: dict[bytes, frozenset[int]] = {}
        self._moved = _Words(vocabulary, ("moved",))
        self._actions = _Words(vocabulary, ("open", "done", "dropped", "struck"))

    def kin(self, logs: Iterable[bytes], looms: Iterable[str]) -> frozenset[str]:
        """The looms given and all that have changed parts with them, however far around."""
        groups: list[set[str]] = []
        for data in logs:
            if not self._moved.may_be_in(data):
                continue
            for line in data.split(b"\n"):
                if self._moved.may_be_in(line):
                    groups.append(self._named_in(line))
        wanted = set(looms)
        grown = True
        while grown:
            before = len(wanted)
            for group in groups:
                if group & wanted:
                    wanted |= group
            grown = len(wanted) > before
        return frozenset(wanted)

    def _named_in(self, line: bytes) -> set[str]:
        words = _SPLITS.split(line.decode("utf-8", errors="replace"))
        return {loom for word in words if (loom := self._vocabulary.loom(word)) is not None}

    def sifted(
        self, data: bytes, looms: frozenset[str], others: OfOthers = OfOthers.NOTHING
    ) -> bytes | None:
        """A log with the lines of other looms blanked; None where only headings are left.

        ``others`` says what is kept of the other looms. Near a day on which the clocks go back
        every line of the repeated hour is kept, since there one line tells the next one which
        pass of the hour is meant.
        """
        if _WIDE_DIGITS in data:
            return data
        hours = self._repeated_hours(data)
        lines = data.split(b"\n")
        left = False
        for index, line in enumerate(lines):
            words = line.split(None, 2)
            if not words:
                continue
            if words[0].startswith(b"#"):
                continue
            if len(words) < 2 or not words[0][:1].isdigit():  # a heading, or nothing that is known
                left = left or len(words) < 2 or not _DATE.fullmatch(words[1])
                continue
            loom = self._loom(words[1])
            of_action = others is OfOthers.ACTIONS and self._actions.may_be_in(line)
            if loom is None or loom in looms or of_action or self._is_in(hours, words[0]):
                left = True
            else:
                lines[index] = b""
        return b"\n".join(lines) if left else None

    def _loom(self, word: bytes) -> str | None:
        if word not in self._loom_of:
            # only a word that is a loom as it stands: what is glued to it may change its meaning
            text = word.decode("utf-8", errors="replace")
            self._loom_of[word] = self._vocabulary.loom(text)
        return self._loom_of[word]

    def _is_in(self, hours: frozenset[int], stamp: bytes) -> bool:
        if not hours:
            return False
        clock = _CLOCK.match(stamp)
        return clock is None or int(clock[1]) in hours

    def _repeated_hours(self, data: bytes) -> frozenset[int]:
        """The hours of the wall clock that come twice on or near a day that a log speaks of."""
        found: frozenset[int] = frozenset()
        for day in set(_DATE.findall(data)):
            if day not in self._repeats:
                self._repeats[day] = self._repeated_near(day)
            found |= self._repeats[day]
        return found

    def _repeated_near(self, written: bytes) -> frozenset[int]:
        try:
            day = datetime.combine(read_date(written.decode()), time(0))
        except NoTime:
            return frozenset()
        zone = self._vocabulary.zone
        # a shift of the day before reaches into it, and so does a line far outside of its shift
        around = [day + timedelta(days=d) for d in (-1, 0, 1, 2, 3)]
        offsets = [(moment.replace(tzinfo=zone).utcoffset() or timedelta(0)) for moment in around]
        found = set()
        for morning, (before, after) in zip(around, pairwise(offsets), strict=False):
            if before > after:
                quarters = [morning + timedelta(minutes=15 * q) for q in range(96)]
                found |= {q.hour for q in quarters if came_twice(q, zone)}
        return frozenset(found)


class _Words:
    """Key words in all spellings of the mill, looked for in raw lines."""

    def __init__(self, vocabulary: Vocabulary, names: tuple[str, ...]) -> None:
        words = sorted({word for name in names for word in spellings(vocabulary, (name,))})
        plain = [re.escape(word.encode()) for word in words if word.isascii()]
        self._plain = re.compile(b"|".join(plain), re.IGNORECASE)
        self._folded = tuple(words)

    def may_be_in(self, data: bytes) -> bool:
        """Whether a log or a line may hold one of the words."""
        if self._plain.search(data) is not None:
            return True
        if data.isascii():
            return False
        folded = fold_word(data.decode("utf-8", errors="replace"))
        return any(word in folded for word in self._folded)
