"""What an editor may colour in a log: the forms of lines and clauses, from the grammar's phrases.

``highlighting_vim`` and ``highlighting_textmate`` write it in two editors' own languages. An
editor colours what a line looks like; whether it is right is told by ``check`` alone. Written
anew by ``python -m grammar.highlighting``; for the words of one mill by ``board.highlighting``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from enum import Enum
from pathlib import Path
from zoneinfo import ZoneInfo

from grammar.folding import fold_word
from grammar.frozen import dataclass
from grammar.phrases import CLAUSE_HEADS, REASONS, WHYS, spellings
from grammar.units import ALL_UNITS
from grammar.vocabulary import Vocabulary

OWN_WORDS = Vocabulary(zone=ZoneInfo("UTC"), shifts=(), sections={})  # of no mill

# Every written form of a time and of a date, in the common subset of regular expressions.
TIME_FORMS: tuple[str, ...] = (
    "[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:?[0-9]{2}(:[0-9]{2})?(Z|[+-][0-9]{2}:?[0-9]{2})?",
    "[0-9]{1,2}:[0-9]{2}",
    "[0-9]{4}",
)
DATE_FORM = "[0-9]{4}-[0-9]{2}-[0-9]{2}"
NUMBER_FORM = "[-−]?[0-9][0-9.,]*"


class Meaning(Enum):
    """What is told apart by a colour."""

    COMMENT = "comment"
    DAY = "day"  # the key word of a heading
    DATE = "date"
    SHIFT = "shift"
    TIME = "time"
    PLACE = "place"
    KEY = "key"  # what a clause begins with
    ISOLATION = "isolation"  # the same, where it is about a lock
    WORD = "word"  # a key word inside of a clause
    AMOUNT = "amount"  # a number with its unit
    NUMBER = "number"  # the number of an action
    NAME = "name"  # a side, part or quantity of the mill
    NOTE = "note"  # free text that takes the rest of the line


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A kind of clause: the phrases it begins with, and what is coloured behind them."""

    name: str
    heads: tuple[str, ...]
    meaning: Meaning = Meaning.KEY
    words: tuple[str, ...] = ()
    times: bool = False
    numbered: tuple[str, ...] = ()  # the words for ``no``, where an action's number may follow


@dataclass(frozen=True, slots=True, kw_only=True)
class Colours:
    """All that is coloured in the logs of a mill. ``forms`` go from short phrases to long ones."""

    day: tuple[str, ...]
    by: tuple[str, ...]
    note: tuple[str, ...]
    fillers: tuple[str, ...]  # words passed over in front of a reading or a job
    shifts: tuple[str, ...]
    names: tuple[str, ...]
    units: tuple[str, ...]
    measured: Form  # a clause that begins with no key phrase: a reading
    forms: tuple[Form, ...]


_ISOLATIONS = ("isolated by", "lock seen by", "lock removed by")

# Heads that stand behind no clause of their own kind in the list of heads, or only with others.
_MORE_HEADS = ("stopped for", "due", "for", "sealed")

# Key words that may follow inside of a clause, by its head.
_INSIDE: Mapping[str, tuple[str, ...]] = {
    "stopped for": REASONS,
    "lock removed by": ("for",),
    "fault cleared": ("all",),
    "replaced": WHYS,
    "moved": ("from",),
    "checked": ("ok", "bad"),
    "counter": ("new",),
    "due": ("in", "before start"),
    "handed over": ("to",),
}
_WITH_TIME = ("done", "dropped", "struck", "due")
_WITH_NUMBER = ("open", "done", "dropped")
_MEASURED = ("gauge", "enters", "stays out")


def colours(vocabulary: Vocabulary) -> Colours:
    """What is coloured in the logs of a mill."""

    def spelt(phrase: str) -> tuple[str, ...]:
        return _spelt(vocabulary, phrase)

    def all_spelt(phrases: Iterable[str]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(word for phrase in phrases for word in spelt(phrase)))

    heads = [head for head in (*CLAUSE_HEADS, *_MORE_HEADS) if head != "note"]
    forms = [
        Form(
            name="".join(re.findall("[a-z]+", head)),
            heads=spelt(head),
            meaning=Meaning.ISOLATION if head in _ISOLATIONS else Meaning.KEY,
            words=all_spelt(_INSIDE.get(head, ())),
            times=head in _WITH_TIME,
            numbered=spelt("no") if head in _WITH_NUMBER else (),
        )
        for head in sorted(heads, key=lambda head: len(head.split()))
    ]
    names = (vocabulary.side_by_word, vocabulary.part_by_word, vocabulary.quantity_words)
    return Colours(
        day=spelt("day"),
        by=spelt("by"),
        note=spelt("note"),
        fillers=_both(vocabulary.fillers),
        shifts=_both(shift.name for shift in vocabulary.shifts),
        names=_both((*(word for words in names for word in words), *_written(vocabulary))),
        units=ALL_UNITS,
        measured=Form(name="measured", heads=(), words=all_spelt(_MEASURED)),
        forms=tuple(forms),
    )


def _written(vocabulary: Vocabulary) -> list[str]:
    """Names as the register writes them: folding may have changed their letters."""
    found = [word for part in vocabulary.parts for word in (part.name, *part.words)]
    sides = [side for part in vocabulary.parts for side in part.sides]
    found += [word for side in sides for word in vocabulary.words_for(side)]
    return found + [
        word
        for part in vocabulary.parts
        for quantity in part.quantities
        for word in (quantity.name, *quantity.words)
    ]


def _spelt(vocabulary: Vocabulary, phrase: str) -> tuple[str, ...]:
    """Every spelling of a key phrase, folded and as the register writes it."""
    words = _PARTED.get(phrase, (phrase,))
    own = [alias for word in {phrase, *words} for alias in vocabulary.words_for(word)]
    whole = own if len(words) == 1 else vocabulary.words_for(phrase)
    return _both((*spellings(vocabulary, words), *whole))


# Phrases whose words may be the mill's own one by one, as ``phrases`` takes them.
_PARTED: Mapping[str, tuple[str, ...]] = {
    "stopped for": ("stopped", "for"),
    "isolated by": ("isolated", "by"),
    "lock seen by": ("lock seen", "by"),
    "lock removed by": ("lock removed", "by"),
    "fault cleared": ("fault", "cleared"),
    "taken over by": ("taken over", "by"),
}


def _both(words: Iterable[str]) -> tuple[str, ...]:
    """The words in lower case as they are and folded, the longest first."""
    found = {w for word in words for w in (" ".join(word.lower().split()), fold_word(word))}
    return tuple(sorted(found, key=lambda word: (-len(word), word)))


def files(vocabulary: Vocabulary) -> dict[str, str]:
    """The text of each editor's file, by its name."""
    from grammar.highlighting_textmate import textmate
    from grammar.highlighting_vim import vim

    found = colours(vocabulary)
    return {"loomslate.vim": vim(found), "loomslate.tmLanguage.json": textmate(found)}


def main() -> None:
    """Write the files for the language's own words beside this module."""
    for name, text in files(OWN_WORDS).items():
        Path(__file__).with_name(name).write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    from grammar.highlighting import main as own  # the same module, known to those it calls

    own()
