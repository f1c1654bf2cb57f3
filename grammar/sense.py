"""What the register does not know or does not allow, in the words of a complaint."""

from __future__ import annotations

import re
from collections.abc import Sequence

from grammar.folding import fold_word
from grammar.nearest import all_nearest, did_you_mean
from grammar.phrases import CLAUSE_HEADS, key_word, spellings
from grammar.vocabulary import PartWords, Vocabulary

_LONGEST = 60  # characters behind the looms that are looked at
_MOST = 3  # alternatives that a suggestion names
_KINDS = frozenset(
    ("loom", "looms", "section", "row", "range")
)  # told before a name that tells it already


def all_of(names: Sequence[str]) -> str:
    """The names to choose from, every one of them: ``a, b, c or d``."""
    return " or ".join((", ".join(names[:-1]), names[-1])) if len(names) > 1 else "".join(names)


def a_few(names: Sequence[str]) -> str:
    """Some of the names to choose from: ``a, b or c``, at most three of them."""
    if len(names) > _MOST:
        return f"{', '.join(names[:_MOST])} or {len(names) - _MOST} more"
    return all_of(names)


# Clauses that may be written of a range; all others are written of one loom each.
_OF_A_RANGE = ("stopped", "running", "style", "open", "done", "dropped", "note")


def several_looms(vocabulary: Vocabulary, rest: str) -> tuple[str, str]:
    """Message and help where a line names several looms; ``rest`` is the line from one of them on.

    A range is only offered where what is said behind them may be said of one.
    """
    rest = rest[:_LONGEST]
    while (name := re.match(r"[\s,;+&/]*([^\s,;+&/]+)", rest)) and vocabulary.place(name[1]):
        rest = rest[name.end() :]
    heads = key_word(word for head in _OF_A_RANGE for word in spellings(vocabulary, (head,)))
    whole = re.match(rf"[\s;]*{heads}", fold_word(rest))
    help = "write a range like A01-A02, or one line for each loom"
    return (
        "one line names one loom, a range, a section or the shed",
        help if whole else "write one line for each loom",
    )


def no_such_place(
    vocabulary: Vocabulary, word: str, written: str, behind: str = ""
) -> tuple[str, str]:
    """Message and help where no loom or group of looms is called like a folded word.

    ``behind`` is what the line holds behind it.
    """
    all_named = f"{written} {behind[:_LONGEST]}"
    named = re.split(r"[\s,;+&/]+", all_named, maxsplit=2)[:2]
    parted = re.search("[,+&/]", word) and len(named) == 2
    if parted and None not in [vocabulary.place(name) for name in named]:
        return several_looms(vocabulary, all_named)
    told = _no_such_range(vocabulary, word, written)
    if told is not None:
        return told
    places = {name: name for name in (*vocabulary.looms, *vocabulary.sections)}
    places |= dict.fromkeys(spellings(vocabulary, ("shed",)), "shed")
    near = all_nearest(word, places)
    help = did_you_mean(word, places)
    heads = {s.split()[0] for head in CLAUSE_HEADS for s in spellings(vocabulary, (head,))}
    heads |= vocabulary.side_by_word.keys() | {s.split()[0] for s in vocabulary.part_by_word}
    next_word = re.match(r"\s+([^\s;]*[^\s;.,:])", behind[:_LONGEST])
    if not near and word.rstrip(".,:;") in heads:
        help = "write the loom before what was done"
    elif word.rstrip(".,:;") in _KINDS and next_word and vocabulary.place(next_word[1]):
        help = f"leave {written} out: {next_word[1]}"
    return f"no loom {written} stands in the register", help or looms_there(vocabulary)


def _no_such_range(vocabulary: Vocabulary, word: str, written: str) -> tuple[str, str] | None:
    """Message and help where two ends stand in one word; None where they are none."""
    first, *rest = re.split("[-–]", word, maxsplit=2)
    start = vocabulary.loom(first)
    if start is None or len(rest) != 1 or not re.search("[0-9]", rest[0]):
        return None
    section, looms = next((s, own) for s, own in vocabulary.sections.items() if start in own)
    message, end = f"{written} is no range of looms", vocabulary.loom(rest[0])
    if end is None and rest[0].isdecimal():  # A01-03, as it is spoken
        end = vocabulary.loom(re.sub("[0-9].*", "", start) + rest[0])
    if end is None:
        has = f"section {section} has {_first_to_last(looms)}"
        return message, has if start == looms[-1] else f"{has}: write it like {start}-{looms[-1]}"
    if end not in looms:
        return f"{written} reaches over two sections", "write one line for each section"
    if looms.index(end) < looms.index(start):
        return f"{written} runs backwards", f"write {end}-{start}"
    return message, f"write {start}-{end}"


def no_such_loom(vocabulary: Vocabulary, word: str, written: str) -> tuple[str, str]:
    """Message and help where one loom is wanted, and a folded word is none."""
    if vocabulary.place(word) is not None:
        return f"{written} is no single loom", "write the one loom that is meant"
    help = did_you_mean(word, vocabulary.looms) or looms_there(vocabulary)
    return f"no loom {written} stands in the register", help


def looms_there(vocabulary: Vocabulary) -> str:
    """Which looms the register has, where none of them is near to what was written."""
    runs = [_first_to_last(looms) for looms in vocabulary.sections.values() if looms]
    return f"write a loom of the register: {a_few(runs)}" if runs else "the register names no loom"


def _first_to_last(looms: Sequence[str]) -> str:
    return looms[0] if len(looms) == 1 else f"{looms[0]} to {looms[-1]}"


def wrong_side(part: PartWords, side: str | None) -> tuple[str, str] | None:
    """Message and help where a part may not be named with that side, else None."""
    if part.sides and side is None:
        sides = a_few(part.sides)
        return f"the {part.name} has sides and none is given", f"write {sides} before it"
    if side is not None and not part.sides:
        return f"the {part.name} has no sides in the register", f"leave {side} out"
    if side is not None and side not in part.sides:
        return f"the {part.name} has no side {side}", f"write {a_few(part.sides)}"
    return None


def no_such_quantity(part: PartWords, written: str | None) -> tuple[str, str]:
    """Message and help where a reading of a part names no quantity of it."""
    names = a_few([quantity.name for quantity in part.quantities])
    if not part.quantities:
        return f"the register gives the {part.name} nothing to measure", "put it after: note"
    if written is None:
        return f"the {part.name} has several quantities and none is named", f"write {names}"
    return f"the {part.name} has no {written} in the register", f"write {names}"
