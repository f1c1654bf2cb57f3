"""What may follow the beginning of a line, from the grammar itself: for completing while one types.

Knows the mill's words; what is open on a loom or who writes is known to the caller. Suggests and
never decides: whether a line can be read is ``reader``'s word.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from functools import cached_property

from lark import Lark
from lark.exceptions import UnexpectedInput

from grammar.folding import fold_word
from grammar.frozen import dataclass
from grammar.phrases import PHRASES, REASONS, VERBS, grammar_text, spellings
from grammar.units import NUMBER_PATTERN, UNITS, Kind
from grammar.vocabulary import PartWords, Vocabulary, loom_key

_ANY_TIME = "00:00 "  # stands before a line whose time was left out
_STAMP = re.compile(
    r"\s*(?:[0-9]{4}-[0-9]{2}-[0-9]{2}t\S*|[0-9]{1,2}:[0-9]{2}|[0-9]{4})(?=\s)", re.I
)
_NUMBER = re.compile(rf"({NUMBER_PATTERN})(\s*)(\S*)")
_LONGEST_PHRASE = 3  # words


@dataclass(frozen=True, slots=True)
class Ahead:
    """What the grammar takes next, and the words of the clause before it.

    ``fresh``: a new clause begins here; ``opens``: the clause before it opens an action.
    """

    terminals: frozenset[str]
    clause: str
    fresh: bool
    opens: bool


class Continuations:
    """Completes lines in the words of one mill."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._vocabulary = vocabulary

    @cached_property
    def _lark(self) -> Lark:
        return Lark(
            grammar_text(self._vocabulary),
            parser="lalr",
            lexer="contextual",
            start=["entry"],
            maybe_placeholders=False,
        )

    def of(
        self,
        typed: str,
        people: Iterable[str] = (),
        numbers: Callable[[], Iterable[int]] = tuple,
    ) -> list[str]:
        """What may stand in place of the word that was begun, or follow the last one.

        An answer replaces everything behind the last blank or ``;``. ``people`` are offered where
        initials stand, ``numbers`` (asked for only then) where an open action is named.
        """
        timed = typed if _STAMP.match(typed) else _ANY_TIME + typed.lstrip()
        found = self._torque_units(timed)
        for start in _word_starts(timed):
            before, begun = timed[:start], timed[start:]
            ahead = self._after(before)
            if ahead is None:
                continue
            for phrase in self._phrases(ahead, begun, people, numbers):
                rest = _rest(phrase, begun)
                if rest is not None and rest not in found:
                    found.append(rest)
        return found

    def _torque_units(self, timed: str) -> list[str]:
        """Units behind ``torque TEXT 1.40``, a text that the grammar knows only with its unit."""
        clause = timed.rpartition(";")[2]
        number = re.search(rf"(?<=\s)({NUMBER_PATTERN})(\s*)([^\s;]*)$", clause)
        torque = set(spellings(self._vocabulary, ("torque",)))
        words = fold_word(clause).split()
        if number is None or not torque & set(words[:3]):
            return []
        units = [u.symbol for u in UNITS.values() if u.kind is Kind.TORQUE]
        fitting = [u for u in units if fold_word(u).startswith(fold_word(number[3]))]
        return fitting if number[2] else [f"{number[1]} {u}" for u in fitting]

    def _after(self, before: str) -> Ahead | None:
        """What the grammar takes after a text that ends between two words; None: nothing."""
        folded = " ".join(fold_word(before).split())
        try:
            parser = self._lark.parse_interactive(folded, start="entry")
            parser.exhaust_lexer()
        except UnexpectedInput:
            return None
        accepts: set[str] = parser.accepts()  # type: ignore[no-untyped-call]
        pieces = [piece.split() for piece in folded.split(";")]
        pieces[0] = pieces[0][2:]  # less time and place
        before_it = pieces[-2] if len(pieces) > 1 else []
        heads = {w for name in ("open", "due", "for") for w in spellings(self._vocabulary, (name,))}
        return Ahead(
            frozenset(accepts),
            " ".join(pieces[-1]),
            fresh=not pieces[-1],
            opens=bool(set(before_it[:1]) & heads),
        )

    # -- words for what may follow ---------------------------------------------------------

    def _phrases(
        self, ahead: Ahead, begun: str, people: Iterable[str], numbers: Callable[[], Iterable[int]]
    ) -> list[str]:
        found: list[str] = []
        for terminal in sorted(ahead.terminals):
            match terminal:
                case "PLACE":
                    found += self._places(begun, ahead)
                case "SIDE":
                    found += self._sides(begun)
                case "PART":
                    found += self._parts(begun, ahead)
                case "QUANTITY":
                    found += self._quantities(begun, ahead)
                case "AMOUNT":
                    found += self._amounts(begun, ahead)
                case "VERB":
                    found += [w for verb in VERBS for w in self._spelled((verb,), begun)]
                case "REASON":
                    found += [w for why in REASONS for w in self._spelled((why,), begun)]
                case "SHIFT":
                    found += [shift.name for shift in self._vocabulary.shifts]
                case "WHO":
                    found += people
                case "NUMBERED":
                    if not re.search(r"\bopen$", ahead.clause):
                        found += [f"no {number}" for number in numbers()]
                case "DUE" | "FOR" if ahead.fresh and not ahead.opens:
                    pass  # these stand behind the action that they belong to
                case "SEALED":
                    pass  # put in when the line is written down
                case _:
                    if terminal in PHRASES:
                        found += self._spelled(PHRASES[terminal], begun)
        return found

    def _spelled(self, words: tuple[str, ...], begun: str) -> list[str]:
        """The language's own phrase; the mill's too once its beginning was typed."""
        own = " ".join(words)
        return [own, *(self._vocabulary.words_for(own) if begun.strip() else ())]

    def _places(self, begun: str, ahead: Ahead) -> list[str]:
        vocabulary = self._vocabulary
        looms = list(vocabulary.looms)
        exact = vocabulary.loom(begun) if begun else None
        if exact is not None and not exact.casefold().startswith(begun.casefold()):
            longer = [x for x in looms if loom_key(x).startswith(loom_key(begun))]
            # a shorter answer than what was typed would take letters away
            return longer if longer == [exact] else [x for x in longer if x != exact]
        if ahead.clause.endswith("from"):
            return looms
        return [*looms, *vocabulary.sections, "shed"]

    def _sides(self, begun: str) -> list[str]:
        own = sorted({side for part in self._vocabulary.parts for side in part.sides})
        if not begun:
            return own
        return [*own, *(w for w in self._vocabulary.side_by_word if w not in own)]

    def _parts(self, begun: str, ahead: Ahead) -> list[str]:
        side = self._vocabulary.side_by_word.get(ahead.clause.split()[-1] if ahead.clause else "")
        fitting = [
            part
            for part in self._vocabulary.parts
            if (side in part.sides if side is not None else not part.sides)
        ]
        names = [part.name for part in fitting]
        return [*names, *(w for part in fitting for w in part.words if begun)]

    def _part_of(self, ahead: Ahead) -> PartWords | None:
        at, _ = self._vocabulary.found_in(ahead.clause)
        return self._vocabulary.part_by_name.get(at.part) if at else None

    def _quantities(self, begun: str, ahead: Ahead) -> list[str]:
        part = self._part_of(ahead)
        if part is None:
            return []
        names = [quantity.name for quantity in part.quantities]
        return [*names, *(w for q in part.quantities for w in q.words if begun)]

    def _amounts(self, begun: str, ahead: Ahead) -> list[str]:
        """The number that was typed, with the units that fit here."""
        number = _NUMBER.match(begun)
        if number is None:
            return []
        gap = number[2] if number[3] or number[2] else " "
        return [f"{number[1]}{gap}{unit}" for unit in self._units(ahead)]

    def _units(self, ahead: Ahead) -> list[str]:
        words = ahead.clause.split()
        if set(words) & set(spellings(self._vocabulary, ("torque",))):
            return [u.symbol for u in UNITS.values() if u.kind is Kind.TORQUE]
        part = self._part_of(ahead)
        if part is None:
            return ["h", "picks"]
        named = [q for q in part.quantities if fold_word(q.name) in words]
        return list(dict.fromkeys(quantity.unit for quantity in named or part.quantities))


def _word_starts(typed: str) -> list[int]:
    """Where the words begun could begin: the last one, and up to three phrases' words before."""
    clause = typed.rfind(";") + 1
    starts = [m.start() for m in re.finditer(r"(?<![^\s;])[^\s;]", typed) if m.start() >= clause]
    if not typed or typed[-1] in " \t;":
        starts.append(len(typed))
    return starts[-_LONGEST_PHRASE:][::-1]


def _rest(phrase: str, begun: str) -> str | None:
    """What of a phrase replaces the last word begun, or None where it goes on otherwise."""
    typed = begun.split()
    if begun and begun[-1] in " \t":
        typed.append("")
    words = phrase.split()
    if not typed:
        return phrase
    if len(words) < len(typed):
        return None
    for have, want in zip(typed[:-1], words, strict=False):
        if fold_word(have) != fold_word(want):
            return None
    last = words[len(typed) - 1]
    if not fold_word(last).startswith(fold_word(typed[-1])) and not _same_loom(last, typed[-1]):
        return None
    return " ".join(words[len(typed) - 1 :])


def _same_loom(one: str, other: str) -> bool:
    return loom_key(one) == loom_key(other)
