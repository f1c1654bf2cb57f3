"""What is wrong with a heading, and which unreadable lines were meant for one."""

from __future__ import annotations

import re

from lark.exceptions import UnexpectedInput

from grammar.diagnostics import Code, Diagnostic
from grammar.line import Line, stopped_at
from grammar.nearest import all_nearest, did_you_mean
from grammar.phrases import spellings
from grammar.sense import a_few
from grammar.shapes import WORD
from grammar.times import CLOCK
from grammar.vocabulary import Vocabulary

SHAPE_OF_HEADING = "write it like: day 2026-11-24 night by KM"

_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_ODD_DATE = re.compile(r"[0-9]{1,4}[./-][0-9]{1,2}[./-][0-9]{1,4}")


class HeadingExplainer:
    """Explains headings with the words of one mill."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._shifts = [shift.name for shift in vocabulary.shifts]
        self._day = spellings(vocabulary, ("day",))

    def explain(self, line: Line, error: UnexpectedInput) -> Diagnostic:
        """Why a line that begins like a heading is none."""
        text = line.folded.text
        words = list(WORD.finditer(text))
        at = stopped_at(text, error)
        word = next((w for w in words if w.end() > at), words[-1])
        written = line.folded.cut(*word.span())
        index = words.index(word)
        if index == 0:
            message = "the heading names no day"
            help = SHAPE_OF_HEADING
        elif index == 1 and _DATE.fullmatch(word[0]):
            message = "the heading names no shift"
            help = SHAPE_OF_HEADING
        elif index == 1:
            odd = _ODD_DATE.fullmatch(word[0]) is not None
            message = f"{written} is no date in the form to use" if odd else f"{written} is no date"
            help = "write year, month and day, like 2026-11-24"
        elif index == 2 and at <= word.start():
            message = f"the register has no shift {written}"
            help = did_you_mean(word[0], self._shifts) or f"write one of {a_few(self._shifts)}"
        else:
            message = "a heading ends with its writer"
            help = SHAPE_OF_HEADING
        return line.complaint(Code.NOT_UNDERSTOOD, message, line.at(*word.span()), help=help)

    def is_meant(self, line: Line) -> bool:
        """Whether an unreadable line was meant for a heading: its first words are nearly one's."""
        words = [word[0] for word in WORD.finditer(line.folded.text)][:2]
        if len(words) < 2:
            return False
        first, second = words
        if _ODD_DATE.fullmatch(second) and not CLOCK.fullmatch(first):
            return bool(all_nearest(first, self._day))
        return bool(_ODD_DATE.fullmatch(first) and all_nearest(second, self._shifts))
