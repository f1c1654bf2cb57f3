"""Strikes that were refused, where a lock was taken off that they may be about.

``struck 23:10 was S04, TN still in`` says that a removal was wrong. Refused, it gives the lock back
to nobody, and whoever reads the board must be told that somebody may still be in the machine.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta

from board.mill import Mill
from board.state.first_words import looms_at_head, own_time
from board.state.fleet import Complaint
from board.state.history import EndedLock
from grammar.diagnostics import Code, Severity
from grammar.folding import fold_word
from grammar.nearest import distance
from grammar.phrases import spellings

ASKED_FOR = timedelta(days=2)  # how long a refused strike is told, and reaches back
_MINUTE = timedelta(minutes=1)
_LONGEST = 400  # [characters] of a line that are looked at
_WORD = re.compile(r"[^\W\d_]+")
_LIKE = re.compile(r"str[iou]c?k\w*\Z")  # strike, stricken, struk
_TIME = re.compile(r"(?<![\d.,:])([0-9]{1,2})[:.h]?([0-9]{2})(?![\d])")
# what the state says of another clause of a line: the strike in it was read
_OF_ANOTHER = frozenset(
    (Code.NO_SUCH_ACTION, Code.WHICH_FAULT, Code.WHICH_PART, Code.NO_LOCK, Code.LINE_TWICE)
)


def refused_strikes(
    complaints: Iterable[Complaint], ended: Sequence[EndedLock], mill: Mill, as_of: datetime
) -> Iterator[Complaint]:
    """The complaints about strikes that may be meant for one of the removals ``ended``.

    That is one of a loom that the line names, or of any loom at the minute that it names, within
    the two days before the line. Where its own time is not known, now is taken.
    """
    begin = as_of - ASKED_FOR
    ended = [lock for lock in ended if lock.ended >= begin - ASKED_FOR]
    if not ended:
        return
    words = _Words(mill)
    for complaint in complaints:
        if not _may_hold_one(complaint):
            continue
        text = complaint.diagnostic.text[:_LONGEST]
        when = own_time(text, complaint.shift, mill) or as_of
        if when < begin or (named := words.minutes(text)) is None:
            continue
        looms = looms_at_head(text, mill)
        before = [x for x in ended if when - ASKED_FOR <= x.ended < when + _MINUTE]
        if any(x.loom in looms or _clock(x.ended, mill) in named for x in before):
            yield complaint


def _may_hold_one(complaint: Complaint) -> bool:
    told = complaint.diagnostic
    return told.severity is Severity.REFUSED and told.code not in _OF_ANOTHER


def _clock(moment: datetime, mill: Mill) -> tuple[int, int]:
    local = moment.astimezone(mill.zone)
    return local.hour, local.minute


class _Words:
    """The words by which a line may be meant for a strike."""

    def __init__(self, mill: Mill) -> None:
        self._own = spellings(mill.vocabulary, ("struck",))
        self._near = [word for phrase in self._own for word in phrase.split()[:1] if len(word) > 4]

    def minutes(self, text: str) -> set[tuple[int, int]] | None:
        """The times of day behind a word for striking; None where a line has no such word.

        A word that is only near one counts where a time stands behind it.
        """
        folded = fold_word(text)
        for own in self._own:
            at = re.search(rf"(?<!\w){re.escape(own)}(?!\w)", folded)
            if at is not None:
                return _times(folded[at.end() :])
        for word in _WORD.finditer(folded):
            if self._is_near(word[0]) and (named := _times(folded[word.end() :])):
                return named
        return None

    def _is_near(self, word: str) -> bool:
        if _LIKE.match(word):
            return True
        return any(distance(word, known, 1) <= 1 for known in self._near)


def _times(folded: str) -> set[tuple[int, int]]:
    return {(int(hour), int(minute)) for hour, minute in _TIME.findall(folded)}
