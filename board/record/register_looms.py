"""The looms of a section, from lists and ranges, and the names of places that would clash."""

from __future__ import annotations

import re
from collections.abc import Mapping

from board.record.register_fields import Table, place_fault, shortened
from board.record.register_words import called_like
from grammar.folding import fold_word
from grammar.vocabulary import Vocabulary, loom_key

MOST_LOOMS = 5000  # of one range; a slip of the pen would otherwise fill the memory

_RANGE = re.compile(r"(.*?)([0-9]+)\s*[-–]\s*(.*?)([0-9]+)")


def read_looms(table: Table) -> tuple[str, ...]:
    """The looms of a section in walking order, its ranges written out."""
    if "looms" not in table:
        raise table.missing("looms", 'write them in order, like looms = ["A01-A24"]')
    found: list[str] = []
    for index, written in enumerate(table.texts("looms")):
        found += _looms(table, index, written)
    if not found:
        raise table.refuse("looms", "the section has no looms")
    return tuple(found)


def _looms(table: Table, index: int, written: str) -> list[str]:
    match = _RANGE.fullmatch(written)
    if match is None:
        fault = place_fault(written)
        if fault:
            raise table.refuse_element("looms", index, fault)
        return [written]
    letters, first, others, last = match.groups()
    if fold_word(letters) != fold_word(others):
        raise table.refuse_element(
            "looms",
            index,
            f"{shortened(written)} is no range: both ends begin alike, like "
            f"{shortened(letters)}{first}-{shortened(letters)}{last}",
        )
    fault = place_fault(f"{letters}{first}")
    if fault:
        raise table.refuse_element("looms", index, fault)
    if len(first) > 9 or len(last) > 9 or int(last) - int(first) >= MOST_LOOMS:
        raise table.refuse_element(
            "looms", index, f"{shortened(written)} is a range of more than {MOST_LOOMS} looms"
        )
    if int(last) < int(first):
        raise table.refuse_element("looms", index, f"the range {shortened(written)} runs backwards")
    return [f"{letters}{n:0{len(first)}d}" for n in range(int(first), int(last) + 1)]


def refuse_double_places(
    sections: Table, vocabulary: Vocabulary, key_words: Mapping[str, str]
) -> None:
    """Refuses a loom that stands twice, and a name that would mean two things.

    ``key_words`` are folded, each with its meaning in words.
    """
    by_key = {loom_key(word): meaning for word, meaning in key_words.items()}
    owner: dict[str, tuple[str, str]] = {}
    folded_sections: dict[str, str] = {}
    for section, table in sections.tables():
        other = folded_sections.setdefault(fold_word(section), section)
        if other != section:
            raise sections.refuse(section, f"the section {other} is called the same")
        if loom_key(section) in by_key:
            raise sections.refuse(section, called_like("section", by_key[loom_key(section)]))
        for index, written in enumerate(table.texts("looms")):
            for loom in _looms(table, index, written):
                if loom_key(loom) in by_key:
                    message = called_like("loom", by_key[loom_key(loom)])
                    raise table.refuse_element("looms", index, message)
                _claim(table, index, loom, owner)
    for section in vocabulary.sections:
        same = owner.get(loom_key(section))
        if same is not None:
            raise sections.refuse(section, f"the loom {same[0]} is called the same")
        if _is_range(section, vocabulary):
            raise sections.refuse(section, f"{section} would read as a range of looms")
    for _, table in sections.tables():
        for index, written in enumerate(table.texts("looms")):
            if any(_is_range(loom, vocabulary) for loom in _looms(table, index, written)):
                raise table.refuse_element("looms", index, f"{written} would read as a range")


def _claim(table: Table, index: int, loom: str, owner: dict[str, tuple[str, str]]) -> None:
    section = str(table.path[-1])
    first = owner.get(loom_key(loom))
    if first is not None:
        name, other = first
        same = "it" if name == loom else name
        where = "this section" if other == section else f"section {other}"
        raise table.refuse_element(
            "looms", index, f"the loom {loom} stands twice: {same} is in {where} already"
        )
    owner[loom_key(loom)] = (loom, section)


def _is_range(name: str, vocabulary: Vocabulary) -> bool:
    """Whether a name splits at a dash into two looms."""
    return any(
        vocabulary.loom(name[: dash.start()]) and vocabulary.loom(name[dash.end() :])
        for dash in re.finditer("[-–]", name)
    )
