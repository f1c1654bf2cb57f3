"""A second part named in a job or a fault, where it is text and nothing of it is on record.

``replaced left head and right head`` is one job, of the left head. Told only where a word that
joins two is followed by a side, a part or a number; what else may stand in a text is left alone.
"""

from __future__ import annotations

import re

from grammar import entries as e
from grammar.folding import fold
from grammar.phrases import WHYS, names_by_word
from grammar.vocabulary import Vocabulary, alternatives

_NUMBER = r"[0-9]{1,4}(?![\w.])"
_JOIN = r"(?:\s*[+&/]\s*|(?:^|\s+)(?:and|und)\s+)"
_ANY_JOIN = rf"(?:{_JOIN}|\s*,\s*)"
_TOO = ("too", "also", "auch", "as well", "both", "beide")


def second_in_job(vocabulary: Vocabulary, clause: e.Worked, written: str) -> str:
    """What is said of a second part behind that of a job; ``written`` is the clause as it stands.

    "" where its text names none.
    """
    head = written[: len(written) - len(clause.text)] if written.endswith(clause.text) else ""
    text = f", {clause.text}" if head.rstrip().endswith(",") else clause.text
    folded = fold(text)
    found = re.match(_behind(vocabulary, clause.at), folded.text)
    if found is None:
        return ""
    second = folded.cut(*found.span("second")).strip(", ")
    one = clause.at.words()
    return (
        f'one job names one part: this is {clause.verb.value} {one}, and "{second}" is text of it;'
        " write one clause for each"
    )


def second_in_fault(vocabulary: Vocabulary, clause: e.FaultOpened) -> str:
    """What is said of a second side, part or number beside that of a fault; "" where none is."""
    folded = fold(clause.text)
    found = re.search(_beside(vocabulary), folded.text)
    if found is None:
        return ""
    own = clause.at.words() if clause.at is not None else clause.side
    return (
        f'one fault names one part: this is a fault of {own}, and "{folded.cut(*found.span())}"'
        " names several; write one fault for each"
    )


def _words(vocabulary: Vocabulary) -> tuple[str, str, str]:
    """Patterns of a side and of a part, and of what ends the naming of a part."""
    side = rf"(?:{alternatives(vocabulary.side_by_word)})(?!\w)"
    part = rf"(?:{alternatives(vocabulary.part_by_word)})(?!\w)"
    ends = alternatives((*names_by_word(vocabulary, WHYS), *_TOO))
    return side, part, rf"(?=\s*(?:$|[,.;:+&/]|[0-9]|(?:and|und|{ends})(?!\w)))"


def _behind(vocabulary: Vocabulary, at: e.PartAt) -> str:
    """What a job's text begins with where it goes on with another part."""
    side, part, end = _words(vocabulary)
    numbers = rf"{_NUMBER}(?:(?:{_ANY_JOIN}|\s*[-–]\s*|\s+){_NUMBER})*{end}"
    sided = rf"{side}\s+{part}(?:\s+{_NUMBER})?"
    several = rf"{_NUMBER}(?:{_ANY_JOIN}|\s*[-–]\s*){numbers}"  # 1-3, where the part has no number
    ways = [
        rf"(?P<joined>{_JOIN}(?:{sided}|{part}{end}|{side}{end}|{numbers}))",
        rf",\s*(?:{sided}|{part}{end})",
        rf",?\s*{numbers}" if at.number is not None else several,
    ]
    return rf"(?P<second>{'|'.join(ways)})"


def _beside(vocabulary: Vocabulary) -> str:
    """Two sides, parts or numbers side by side."""
    side, part, _ = _words(vocabulary)
    one = rf"(?:{side}\s+)?{part}(?:\s+{_NUMBER})?"
    numbers = rf"{part}\s+{_NUMBER}(?:(?:{_ANY_JOIN}|\s*[-–]\s*){_NUMBER})+"
    joined = rf"{one}{_JOIN}{one}|{one},\s*{side}\s+{part}"
    return rf"(?<!\w)(?:{side}{_JOIN}{side}(?:\s+{part})?|{joined}|{numbers})"
