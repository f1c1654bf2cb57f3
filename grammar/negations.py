"""Words that take back what stands before them: ``running not`` is no loom that runs.

Nobody can be asked what was meant, so a clause that is taken back is refused. Only the beginning of
a text is looked at, and only a negation that stands for itself: ``running not smooth`` is a loom
that runs, and further on a text may well say ``old one not worn``.
"""

from __future__ import annotations

import re

from lark import Token

from grammar.diagnostics import Code, Diagnostic, LineRefused
from grammar.line import BEHIND, Line

# The language's own and those of other tongues; `no` is the sign of a number but where it is alone.
_WORDS = "not|never|nicht|nie|niemals|pas|jamais|non|niet|nooit|inte|aldrig|ikke|aldri|nem|nao|não"
_SHORTENED = "ai|are|does|had|has|have|is|was|were"  # n't, or nt
_FAILED = "ca|could|did|do|should|wo|would"  # n't: what follows was not done
# What may stand before the word that takes back, and what behind it.
_BEFORE = (
    "again|all|been|but|has|is|now|still|was|yet"
    "|aber|alle|bisher|doch|immer|ist|leider|noch|war|wieder|wurde"
)
_BEHIND = (
    "all|at|now|quite|really|so|to|today|very|yet|ancora|encore|ganz|heute|jetzt|mehr|meer|wirklich"
)
_DONE = (
    "adjusted|changed|cleared|closed|complete|completed|done|finished|fitted|fixed|gone|possible"
    "|ready|repaired|replaced|running|started"
    "|behoben|erledigt|ersetzt|fertig|gemacht|gewechselt|möglich|repariert"
)
# What takes back without a negation, where nothing else is said before the next mark.
_ALONE = (
    "no|false|later|soon|tomorrow|nearly|almost|bald|morgen|später|yok"
    "|(?:still\\s+)?to\\s+(?:do|be\\s+done)|still\\s+(?:bad|broken|down|open|there)"
    "|noch\\s+(?:da|kaputt|offen)"
)

_END = r"(?=\s*+(?:[^\w\s]|\Z))"
_NT = "n['’`´]?t"
_NOT = rf"(?:{_WORDS}|(?:{_SHORTENED}){_NT}|no\s+(?:longer|more))(?![\w-])"
_CANNOT = rf"(?:cannot|(?:{_FAILED}){_NT})(?![\w-])"
_NO = rf"(?:{_CANNOT}|{_NOT})"
_FIRST = re.compile(
    rf"(?:[\W_]*+(?:{_BEFORE})(?!\w))*+[\W_]*+"
    rf"(?P<no>{_CANNOT}|{_NOT}(?=(?:\s++(?:{_BEHIND})(?!\w))*+(?:\s++(?:{_DONE})(?!\w)|{_END})))"
)
_FIRST_ALONE = re.compile(rf"[\W_]*+(?P<no>{_ALONE}){_END}")
_LAST = re.compile(rf"(?<![\w-])(?P<no>{_NO}(?:\s+(?:{_BEHIND})(?!\w))*)[\W_]*\Z")
_LONGEST = 80  # [characters] of a text at whose end is looked; keeps hostile text cheap

_LEFT = "leave this out; what was not done is told behind: note and what is left to do behind: open"
_COUNTS = "write it once the lock is on; where this line stands in a log, its lock counts"
_STANDS = "if it stands, write: stopped and tell the rest behind: ; note"
_HELP = {"RUNNING": _STANDS, "ISOLATED": _COUNTS}


def refuse_taken_back(line: Line, head: Token, text: Token) -> None:
    """Raises LineRefused where the text of a clause takes back what its head states."""
    found = _first(text.value) or (head.type == "TORQUE" and last_no(text.value))
    if not found or (head.type == "ISOLATED" and line.only_locks):
        return
    start, at = head.start_pos or 0, text.start_pos or 0
    span = (at + found.start("no"), at + found.end("no"))
    raise LineRefused(_complaint(line, (start, at), span, _HELP.get(head.type, _LEFT)))


def _first(text: str) -> re.Match[str] | None:
    """What a folded text begins with that takes back, and says no more of it than that."""
    return _FIRST.match(text) or _FIRST_ALONE.match(text)


def taken_back(line: Line, head: tuple[int, int], end: int) -> Diagnostic | None:
    """The complaint about what stands behind a complete clause, where that takes it back."""
    found = _first(line.folded.text[head[1] : end])
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
