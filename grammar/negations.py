"""Words that take back what stands before them: ``running not`` is no loom that runs.

Nobody can be asked what was meant, so a clause that is taken back is refused. Only the beginning of
a text is looked at: further on a text may well say ``old one not worn`` of something else.
"""

from __future__ import annotations

import re

from lark import Token

from grammar.diagnostics import Code, Diagnostic, LineRefused
from grammar.line import BEHIND, Line

# The language's own and those of other tongues; `no` alone is the sign of a number.
_WORDS = (
    "not|never|cannot|nicht|nie|niemals"
    "|pas|jamais|non|niet|nooit|inte|aldrig|ikke|aldri|nem|nao|não"
)
_SHORTENED = "ai|are|ca|could|did|do|does|had|has|have|is|should|was|were|wo|would"  # n't, or nt
# What may stand before the word that takes back, and what behind it.
_BEFORE = (
    "again|all|been|but|has|is|now|still|was|yet"
    "|aber|alle|bisher|doch|immer|ist|leider|noch|war|wieder|wurde"
)
_BEHIND = "all|at|quite|really|so|to|very|yet|ganz|mehr|wirklich"

_NO = rf"(?:{_WORDS}|(?:{_SHORTENED})n['’`´]?t|no\s+(?:longer|more))(?![\w-])"
_FIRST = re.compile(rf"(?:[\W_]*+(?:{_BEFORE})(?!\w))*+[\W_]*+(?P<no>{_NO})")
_LAST = re.compile(rf"(?<![\w-])(?P<no>{_NO}(?:\s+(?:{_BEHIND})(?!\w))*)[\W_]*\Z")
_LONGEST = 80  # [characters] of a text at whose end is looked; keeps hostile text cheap

_LEFT = "leave this out; what was not done is told behind: note and what is left to do behind: open"
_COUNTS = "write it once the lock is on; where this line stands in a log, its lock counts"
_STANDS = "if it stands, write: stopped and tell the rest behind: ; note"
_HELP = {"RUNNING": _STANDS, "ISOLATED": _COUNTS}


def refuse_taken_back(line: Line, head: Token, text: Token) -> None:
    """Raises LineRefused where the text of a clause takes back what its head states."""
    found = _FIRST.match(text.value) or (head.type == "TORQUE" and last_no(text.value))
    if not found or (head.type == "ISOLATED" and line.only_locks):
        return
    start, at = head.start_pos or 0, text.start_pos or 0
    span = (at + found.start("no"), at + found.end("no"))
    raise LineRefused(_complaint(line, (start, at), span, _HELP.get(head.type, _LEFT)))


def taken_back(line: Line, head: tuple[int, int], end: int) -> Diagnostic | None:
    """The complaint about what stands behind a complete clause, where that takes it back."""
    found = _FIRST.match(line.folded.text[head[1] : end])
    if found is None:
        return None
    return _complaint(line, head, (head[1] + found.start("no"), head[1] + found.end("no")), _LEFT)


def _complaint(line: Line, head: tuple[int, int], no: tuple[int, int], help: str) -> Diagnostic:
    said, written = line.folded.cut(*head).rstrip(BEHIND), line.folded.cut(*no)
    message = f'"{written}" takes back: {said}'
    return line.complaint(Code.NOT_UNDERSTOOD, message, line.at(*no), help=help)


def last_no(text: str) -> re.Match[str] | None:
    """The negation that a folded text ends with."""
    return _LAST.search(text, max(len(text) - _LONGEST, 0))
