"""Lines that say no more than: the same here. Below a lock they may tell of one more."""

from __future__ import annotations

import re

from grammar.entries import Isolated
from grammar.folding import fold
from grammar.readings import Gathered

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


def below_a_lock(number: int, file: Gathered) -> bool:
    """Whether a refused line says: the same here, and stands right below a line on a lock."""
    if not file.filed or file.filed[-1].line != number or not says_the_same(file.filed[-1].text):
        return False
    return is_lock_last(file, len(file.filed) - 1)


def is_lock_last(file: Gathered, count: int) -> bool:
    """Whether the last of so many lines filed puts on a lock, or may do so."""
    if count <= file.since:
        return file.lock_above
    number = file.filed[count - 1].line
    if file.may_isolate and file.may_isolate[-1].line == number:
        return True
    last = file.entries[-1] if file.entries else None
    return (
        last is not None
        and last.line == number
        and any(isinstance(clause, Isolated) for clause in last.clauses)
    )
