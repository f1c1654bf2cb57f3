"""Lines that say no more than: the same here. Below a lock they may tell of one more."""

from __future__ import annotations

import re
from collections.abc import Sequence

from grammar.folding import fold
from grammar.isolation_words import IsolationWords
from grammar.readings import Filed, Gathered

_SAME = re.compile(
    r"\s*\S+\s+[^\s;]+[\s,:;-]+(?:(?:and|und|the|das)\s+)?"
    r"(?:ditto|dito|dto|do|same|gleiche|likewise|idem|too|also|auch|ebenso|ebenfalls|as\s+above"
    r"|wie\s+oben|[\"“”„″〃]|''|´´|-\"-)"
    r"(?:[\s,]+(?:here|again|as\s+above|too|also|lock|one|hier|\S{2,4}))?[\s.!;]*(?:;.*)?\Z"
)
WRITTEN_OUT = "write it out, like: isolated by KM lock 14"
_LONGEST = 200  # characters of such a line


def says_the_same(text: str) -> bool:
    """Whether a line says nothing but that what stands above is so here, too."""
    return len(text) <= _LONGEST and _SAME.match(fold(text).text) is not None


def below_a_lock(number: int, file: Gathered, words: IsolationWords) -> bool:
    """Whether a refused line says: the same here, and stands right below a line on a lock."""
    if not file.filed or file.filed[-1].line != number or not says_the_same(file.filed[-1].text):
        return False
    return is_lock_last(file.filed[file.since : -1], file, words)


def is_lock_last(filed: Sequence[Filed], file: Gathered, words: IsolationWords) -> bool:
    """Whether the last of some lines is on a lock, or says that it is the same as one above."""
    for line in reversed(filed):
        if not says_the_same(line.text):
            folded = fold(line.text)
            puts = words.speaks(folded, 0, len(folded.text))
            return puts and not (words.removes(folded.text) or words.looks(folded.text))
    return file.lock_above
