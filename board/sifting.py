"""Which lines of the logs can bear on one entry: those of its looms, of groups, and the odd ones.

To judge one line not every log has to be read in full: what another loom's plain line says changes
nothing. Lines that are left out are blanked, so that every other keeps its number. Errs on the side
of keeping; pure, bytes in and bytes out.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime, timedelta
from enum import Enum
from itertools import pairwise

from grammar.folding import fold, fold_word
from grammar.phrases import spellings
from grammar.times import NoTime, read_date
from grammar.vocabulary import Vocabulary

_DATE = re.compile(rb"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_WIDE_DIGITS = b"\xef\xbc"  # full-width digits are digits too once a line is folded
_SPLITS = re.compile(r"[\s;]+")


class OfOthers(Enum):
    """What is kept of the lines of other looms."""

    NOTHING = "nothing"
    ACTIONS = "what opens and closes actions"


class Sifter:
    """Finds the lines that can bear on an entry, in the words of one mill."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._vocabulary = vocabulary
        self._loom_of: dict[bytes, str | None] = {}
        self._repeats: dict[bytes, bool] = {}
        self._moved = _Words(vocabulary, ("moved",))
        self._actions = _Words(vocabulary, ("open", "done", "dropped", "replaced", "struck"))

    def kin(self, logs: Iterable[bytes], looms: Iterable[str]) -> frozenset[str]:
        """The looms given and all that have changed parts with them, however far around."""
        groups: list[set[str]] = []
        for data in logs:
            if not self._moved.may_be_in(data):
                continue
            for line in data.split(b"\n"):
                if self._moved.are_in(line):
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

        ``others`` says what is kept of the other looms. A log that speaks of
        a day on which the clocks go back is kept whole, since there one line tells the next one
        which pass of the hour is meant.
        """
        if self._hour_repeats_in(data):
            return data
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
            of_action = others is OfOthers.ACTIONS and self._actions.are_in(line)
            if loom is None or loom in looms or of_action:
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

    def _hour_repeats_in(self, data: bytes) -> bool:
        if _WIDE_DIGITS in data:
            return True
        return any(self._hour_repeats_near(day) for day in set(_DATE.findall(data)))

    def _hour_repeats_near(self, written: bytes) -> bool:
        if written not in self._repeats:
            try:
                noon = datetime.combine(read_date(written.decode()), datetime.min.time())
            except NoTime:
                self._repeats[written] = False
                return False
            zone = self._vocabulary.zone
            around = [noon + timedelta(days=d) for d in (-1, 0, 1, 2, 3)]
            offsets = [moment.replace(tzinfo=zone).utcoffset() or timedelta(0) for moment in around]
            falls = any(a > b for a, b in pairwise(offsets))
            self._repeats[written] = falls
        return self._repeats[written]


class _Words:
    """Key words in all spellings of the mill, looked for in raw lines."""

    def __init__(self, vocabulary: Vocabulary, names: tuple[str, ...]) -> None:
        words = {word for name in names for word in spellings(vocabulary, (name,))}
        self._plain = re.compile(
            b"|".join(re.escape(w.encode()) for w in sorted(words) if w.isascii()), re.IGNORECASE
        )
        self._folded = tuple(sorted(words))

    def may_be_in(self, data: bytes) -> bool:
        return not data.isascii() or self._plain.search(data) is not None

    def are_in(self, line: bytes) -> bool:
        if self._plain.search(line) is not None:
            return True
        if line.isascii():
            return False
        folded = fold(line.decode("utf-8", errors="replace")).text
        single = " ".join(folded.split())
        return any(fold_word(word) in single for word in self._folded)
