"""The words of one mill: its looms, parts, shifts and aliases, as the language needs them.

Built from the register by ``board.record.register``; here only looked up. Everything that is
compared is folded (``folding.fold_word``).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import field
from datetime import time
from functools import cached_property
from zoneinfo import ZoneInfo

from grammar.entries import PartAt, Place, PlaceKind
from grammar.folding import fold_word
from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class ShiftTimes:
    """A shift's name and its wall-clock times; ``end`` at or before ``start`` is the next day."""

    name: str
    start: time
    end: time

    @property
    def past_midnight(self) -> bool:
        """Whether the shift ends on the day after it began."""
        return self.end <= self.start


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityWords:
    """A measured quantity of a part: its unit and what readings of it are believable [unit]."""

    name: str
    unit: str
    plausible: tuple[float, float] | None = None
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PartWords:
    """A part: its name, its sides, its other names and its quantities."""

    name: str
    sides: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    quantities: tuple[QuantityWords, ...] = ()

    def quantity(self, name: str) -> QuantityWords | None:
        """The quantity of that name, or None."""
        return next((q for q in self.quantities if q.name == name), None)


@dataclass(frozen=True, kw_only=True)
class Vocabulary:
    """All words of a mill that the language compares with.

    ``aliases`` maps a key phrase of the language (``lock removed``) to the mill's own phrases;
    ``fillers`` are words skipped in front of a reading or a job.
    """

    zone: ZoneInfo
    shifts: tuple[ShiftTimes, ...]
    sections: Mapping[str, tuple[str, ...]]
    parts: tuple[PartWords, ...] = ()
    symptoms: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    aliases: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    fillers: tuple[str, ...] = ()

    @cached_property
    def looms(self) -> tuple[str, ...]:
        """Every loom, in walking order."""
        return tuple(loom for looms in self.sections.values() for loom in looms)

    @cached_property
    def shift_by_word(self) -> Mapping[str, ShiftTimes]:
        """Shifts by folded name."""
        return {fold_word(shift.name): shift for shift in self.shifts}

    @cached_property
    def part_by_word(self) -> Mapping[str, PartWords]:
        """Parts by each of their folded names."""
        return {fold_word(w): part for part in self.parts for w in (part.name, *part.words)}

    @cached_property
    def part_by_name(self) -> Mapping[str, PartWords]:
        """Parts by the register's name."""
        return {part.name: part for part in self.parts}

    @cached_property
    def side_by_word(self) -> Mapping[str, str]:
        """Sides by each of their folded names."""
        sides = {side for part in self.parts for side in part.sides}
        return {fold_word(w): side for side in sorted(sides) for w in (side, *self.words_for(side))}

    @cached_property
    def quantity_words(self) -> Mapping[str, frozenset[str]]:
        """Names of quantities by each of their folded names."""
        found: dict[str, set[str]] = {}
        for part in self.parts:
            for quantity in part.quantities:
                for word in (quantity.name, *quantity.words):
                    found.setdefault(fold_word(word), set()).add(quantity.name)
        return {word: frozenset(names) for word, names in found.items()}

    def words_for(self, phrase: str) -> tuple[str, ...]:
        """The mill's own phrases for a key phrase, side or reason."""
        return self.aliases.get(phrase, ())

    @cached_property
    def _loom_by_key(self) -> Mapping[str, str]:
        return {loom_key(loom): loom for loom in self.looms}

    @cached_property
    def _section_by_key(self) -> Mapping[str, str]:
        return {fold_word(section): section for section in self.sections}

    @cached_property
    def _shed_words(self) -> frozenset[str]:
        return frozenset(map(fold_word, ("shed", *self.words_for("shed"))))

    def loom(self, word: str) -> str | None:
        """The loom that a word means, whatever its case and leading zeros, or None."""
        return self._loom_by_key.get(loom_key(word))

    def place(self, word: str) -> Place | None:
        """The loom, range, section or shed that a word means, or None."""
        if len(word) > _LONGEST_PLACE:
            return None
        loom = self._loom_by_key.get(loom_key(word))
        if loom is not None:
            return Place(kind=PlaceKind.LOOM, name=loom, looms=(loom,))
        folded = fold_word(word)
        if folded in self._shed_words:
            return Place(kind=PlaceKind.SHED, name="shed", looms=self.looms)
        section = self._section_by_key.get(folded)
        if section is not None:
            return Place(kind=PlaceKind.SECTION, name=section, looms=self.sections[section])
        return self._range(folded)

    def _range(self, folded: str) -> Place | None:
        for match in re.finditer("[-–]", folded):
            first, last = folded[: match.start()], folded[match.end() :]
            low, high = (
                self._loom_by_key.get(loom_key(first)),
                self._loom_by_key.get(loom_key(last)),
            )
            if low is None or high is None:
                continue
            for looms in self.sections.values():
                if low in looms and high in looms and looms.index(low) <= looms.index(high):
                    chosen = looms[looms.index(low) : looms.index(high) + 1]
                    return Place(kind=PlaceKind.RANGE, name=f"{low}-{high}", looms=chosen)
        return None

    def found_in(self, folded_text: str) -> tuple[PartAt | None, str | None]:
        """The part (with side and number) and the side that a folded text names first."""
        part_match = self._part_search.search(folded_text)
        side_match = self._side_search.search(folded_text)
        side = self.side_by_word[_single(side_match[0])] if side_match else None
        if part_match is None:
            return None, side
        part = self.part_by_word[_single(part_match[1])]
        number = int(part_match[2]) if part_match[2] else None
        own = side if side in part.sides else None
        return PartAt(part=part.name, side=own, number=number), side

    def symptom_in(self, folded_text: str) -> str:
        """The register's symptom that a folded text tells of, else its text less side and part."""
        text = " ".join(folded_text.split())
        for symptom, pattern in self._symptom_patterns:
            if pattern.search(text):
                return symptom
        rest = self._side_search.sub(" ", self._part_search.sub(" ", text))
        return " ".join(rest.split())

    @cached_property
    def _symptom_patterns(self) -> tuple[tuple[str, re.Pattern[str]], ...]:
        return tuple(
            (name, re.compile(rf"(?<!\w)(?:{alternatives(map(fold_word, (name, *words)))})(?!\w)"))
            for name, words in self.symptoms.items()
        )

    @cached_property
    def _part_search(self) -> re.Pattern[str]:
        words = alternatives(self.part_by_word)
        return re.compile(rf"(?<!\w)({words})(?!\w)(?:\s+([0-9]{{1,4}})(?![\w.,]))?")

    @cached_property
    def _side_search(self) -> re.Pattern[str]:
        return re.compile(rf"(?<!\w)(?:{alternatives(self.side_by_word)})(?!\w)")


_LONGEST_PLACE = 200  # no name of a place is longer; keeps hostile text cheap

NEVER = r"(?!)\w"  # a pattern that matches nothing, for a list of words that is empty


def alternatives(words: Iterable[str]) -> str:
    """A pattern for any of the folded words, longest first, white space of any length."""
    patterns = [
        r"\s+".join(map(re.escape, w.split()))
        for w in sorted(set(words), key=lambda w: (-len(w), w))
    ]
    return "|".join(patterns) if patterns else NEVER


def loom_key(word: str) -> str:
    """A loom's name folded and without the leading zeros of its number: ``A07`` and ``a7``."""
    folded = fold_word(word)
    return re.sub(r"(?<![0-9])0+(?=[0-9])", "", folded)


def _single(text: str) -> str:
    return " ".join(text.split())
