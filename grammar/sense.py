"""What the register does not know or does not allow, in the words of a complaint."""

from __future__ import annotations

import re
from collections.abc import Sequence

from grammar.folding import fold_word
from grammar.nearest import nearest
from grammar.phrases import CLAUSE_HEADS, key_word, spellings
from grammar.vocabulary import PartWords, Vocabulary

_LONGEST = 60  # characters behind the looms that are looked at
_MOST = 3  # alternatives that a suggestion names


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
    ends = [vocabulary.loom(end) for end in re.split("[-–]", word, maxsplit=2)]
    if len(ends) == 2 and None not in ends:
        if len({s for s, looms in vocabulary.sections.items() for e in ends if e in looms}) > 1:
            return f"{written} reaches over two sections", "write one line for each section"
        return f"{written} runs backwards", f"write {ends[1]}-{ends[0]}"
    near = nearest(word, (*vocabulary.looms, *vocabulary.sections, "shed"))
    help = f"did you mean {near}?" if near else ""
    heads = {s.split()[0] for head in CLAUSE_HEADS for s in spellings(vocabulary, (head,))}
    heads |= vocabulary.side_by_word.keys() | {s.split()[0] for s in vocabulary.part_by_word}
    if near is None and word.rstrip(".,:;") in heads:
        help = "write the loom before what was done"
    return f"no loom {written} stands in the register", help


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
