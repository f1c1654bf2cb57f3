"""What belongs to each kind of clause behind its key phrase, piece by piece.

Used to tell which piece is missing or wrong; the grammar itself stands in ``entry.lark``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from grammar.frozen import dataclass
from grammar.times import CLOCK
from grammar.vocabulary import alternatives

WORD = re.compile(r"[^\s;]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One thing that a clause needs, as a noun with an example, and the form it has.

    ``<word>`` in the form stands for the key word ``word``, in any of the mill's spellings.
    """

    noun: str
    form: str = "<word>"
    word: str = ""
    optional: bool = False

    def match(self, text: str, start: int, end: int, spelt: tuple[str, ...]) -> int | None:
        """Where the piece ends that begins at ``start``, or None where it is missing."""
        form = self.form.replace("<word>", f"(?:{alternatives(spelt)})")
        found = re.compile(rf"[,:.]*\s*(?:{form})[.,:]*(?![^\s;])").match(text, start, end)
        return found.end() if found else None


_ONE = r"[^\s;]*[^\s;.,:]"
_FREE = r"[^\s;][^;]*"
_NUMBER = r"<word>\.?\s*[0-9]{1,9}"
_WHO = Piece(noun="initials like KM", form=_ONE)
_BY = Piece(noun="the word by", word="by")
_TEXT = Piece(noun="a few words", form=_FREE)
_WHY = Piece(noun="the reason in a few words", form=_FREE)
_TIME = Piece(noun="a time like 22:55", form=CLOCK.pattern)
_NAME = Piece(
    noun="an action's number like no 31 or its time",
    form=rf"{_NUMBER}|{CLOCK.pattern}",
    word="no",
)

SHAPES: Mapping[str, tuple[Piece, ...]] = {
    "isolated": (_BY, _WHO),
    "isolated by": (_WHO,),
    "lock seen": (_BY, _WHO),
    "lock seen by": (_WHO,),
    "lock removed": (_BY, _WHO),
    "lock removed by": (_WHO, Piece(noun="the word for", word="for"), _WHO),
    "fault": (_TEXT,),
    "batch": (Piece(noun="one word like 7F", form=_ONE),),
    "style": (Piece(noun="one word like 4410", form=_ONE),),
    "open": (
        Piece(noun="a number", form=_NUMBER, word="no", optional=True),
        Piece(noun="what is to be done", form=_FREE),
    ),
    "for": (_WHO,),
    "done": (_NAME,),
    "dropped": (_NAME, _WHY),
    "note": (_TEXT,),
    "handed over": (_WHO, Piece(noun="the word to", word="to"), _WHO),
    "taken over": (_BY, _WHO),
    "taken over by": (_WHO,),
    "sealed": (
        Piece(noun="the number of lines", form=r"[0-9]{1,9}"),
        Piece(noun="the start of their hash like 9f3ac1", form=r"[0-9a-f]{6,64}"),
    ),
    "struck": (_TIME, _WHY),
    "by": (_WHO,),
}

EXAMPLES: Mapping[str, str] = {
    "isolated": "isolated by KM lock 14",
    "isolated by": "isolated by KM lock 14",
    "lock seen": "lock seen by RB",
    "lock seen by": "lock seen by RB",
    "lock removed": "lock removed by KM",
    "lock removed by": "lock removed by RB for KM",
    "fault": "fault left head drops weft",
    "checked": "checked joint ok",
    "torque": "torque clamp screws 0.80 N.m",
    "batch": "batch 7F",
    "counter": "counter 18250.5 h",
    "style": "style 4410",
    "open": "open no 31 recheck left tape",
    "done": "done no 31 smooth",
    "dropped": "dropped no 31 loom sold",
    "note": "note weaver says noisy",
    "handed over": "shed handed over KM to RB",
    "taken over": "shed taken over by RB",
    "taken over by": "shed taken over by RB",
    "sealed": "sealed 214 9f3ac1",
    "struck": "struck 22:55 read the wrong tape",
    "by": "by KM",
    "for": "for RB",
    "due": "due 06:00, due before start or due in 200 h",
}
