"""Complaints about parts, sides, quantities and readings that Lark could not read."""

from __future__ import annotations

import re

from grammar.complaints_heads import JOINS, ClauseHeads
from grammar.complaints_numbers import AMOUNT, Wanted, number_fault
from grammar.diagnostics import Code, Diagnostic
from grammar.folding import fold_word
from grammar.line import Line
from grammar.nearest import all_nearest, did_you_mean
from grammar.phrases import VERBS, key_word, names_by_word, spellings
from grammar.sense import a_few, no_such_quantity, wrong_side
from grammar.shapes import WORD
from grammar.vocabulary import PartWords, QuantityWords, Vocabulary

_PART_AND_NUMBER = re.compile(r"(.*[^\W\d_])([0-9]{1,4})")
_NUMBER_LAST = re.compile(r"[0-9]{1,4}(?![^\s;])")
_LETTERS = re.compile(r"[^\W\d][\w-]*")
_MOST = 3  # readings that a suggestion shows


class PartExplainer:
    """Explains what is said of parts, with the words of one mill."""

    def __init__(self, vocabulary: Vocabulary, heads: ClauseHeads) -> None:
        self._vocabulary = vocabulary
        self._heads = heads
        verbs = names_by_word(vocabulary, VERBS)
        moved = spellings(vocabulary, ("moved",))
        fillers = f"(?:{key_word(map(fold_word, vocabulary.fillers))})*"
        self.fillers = re.compile(fillers)
        self._verb = re.compile(
            f"{fillers}(?:{key_word(verbs, 'verb')}|{key_word(moved, 'moved')})"
        )
        self._part = re.compile(
            f"{fillers}(?:{key_word(vocabulary.side_by_word, 'side')})?"
            f"{key_word(vocabulary.part_by_word, 'part')}"
        )
        self._gauge = re.compile(rf"(?<!\w){key_word(spellings(vocabulary, ('gauge',)))}")
        self._quantity = re.compile(key_word(vocabulary.quantity_words, "name"))
        self._number_first = re.compile(r"[0-9]{1,4}[,:]?\s+")
        verdicts = (*spellings(vocabulary, ("enters",)), *spellings(vocabulary, ("stays out",)))
        self._verdict = re.compile(key_word(verdicts))
        self._verdicts = (*verdicts, *(verdict.split()[0] for verdict in verdicts))
        ends = ("enters", "stays out", "new")
        self.closing = frozenset(
            spelling.split()[0] for word in ends for spelling in spellings(vocabulary, (word,))
        )

    # -- jobs ------------------------------------------------------------------------------

    def job(self, line: Line, clause: tuple[int, int]) -> Diagnostic | None:
        """Why a clause that begins with a verb is no job, or None where it does not."""
        text = line.folded.text
        verb = self._verb.match(text, *clause)
        if verb is None:
            return None
        words = list(WORD.finditer(text, verb.end(), clause[1]))
        if not words:
            message = f"{line.folded.cut(*verb.span())} does not say which part"
            return self._unknown_part(line, message, clause)
        part = self._part.match(text, verb.end(), clause[1])
        if part is None:
            return self._misspelt(line, words) or self._no_part(line, words)
        fault = self._side_fault(line, part, clause[1])
        if fault is not None:
            return fault
        if verb["moved"] is None:
            return None
        return line.complaint(
            Code.NOT_UNDERSTOOD,
            "moved does not say from which loom",
            line.at(*clause),
            help="write it like: moved left head from A09",
        )

    def at(self, text: str, stretch: tuple[int, int]) -> tuple[int, int] | None:
        """A part with its side and number, where a stretch of the folded text begins with one."""
        found = self._part.match(text, *stretch)
        if found is None:
            return None
        number = _NUMBER_LAST.match(text, found.end(), stretch[1])
        start = found.start("side") if found["side"] else found.start("part")
        return start, number.end() if number else found.end()

    # -- readings --------------------------------------------------------------------------

    def reading(self, line: Line, clause: tuple[int, int]) -> Diagnostic | None:
        """Why a clause that begins with a part is no reading, or None where it does not."""
        text, end = line.folded.text, clause[1]
        found = self._part.match(text, *clause)
        if found is None:
            return None
        fault = self._side_fault(line, found, end)
        if fault is not None:
            return fault
        part = self._vocabulary.part_by_word[_single(found["part"])]
        rest = (found.end(), end)
        place = (found.start("side") if found["side"] else found.start("part"), found.end())
        unknown = self._unknown_quantity(line, place, rest, part)
        if unknown is not None:
            return unknown
        quantity = self._quantity_named(text, rest, part)
        side = self._vocabulary.side_by_word[_single(found["side"])] if found["side"] else None
        like = _reading_like(part, side, quantity)
        if bare := self._nothing_behind(text, rest):
            message = f"no number stands behind {line.folded.cut(*bare)}"
            return line.complaint(Code.NOT_UNDERSTOOD, message, line.at(*bare), help=like)
        number = number_fault(line, rest, _wanted(part, quantity, like), self.closing)
        if number is not None:
            return number
        amount = AMOUNT.search(text, *rest)
        if amount is None:
            return self._no_number(line, (found.start("part"), end), part, like)
        between = self._between(text, rest[0], amount.start())
        if between is not None:
            message = f"{line.folded.cut(*between)} stands before the number and means nothing here"
            return line.complaint(Code.NOT_UNDERSTOOD, message, line.at(*between), help=like)
        return self._behind_number(line, rest, amount)

    def _quantity_named(
        self, text: str, rest: tuple[int, int], part: PartWords
    ) -> QuantityWords | None:
        """The quantity that a reading names behind its part, or the only one that the part has."""
        number = self._number_first.match(text, *rest)
        word = self._quantity.match(text, number.end() if number else rest[0], rest[1])
        if word is None:
            return part.quantities[0] if len(part.quantities) == 1 else None
        names = self._vocabulary.quantity_words[_single(word["name"])]
        return next((q for q in part.quantities if q.name in names), None)

    def _nothing_behind(self, text: str, rest: tuple[int, int]) -> tuple[int, int] | None:
        """The quantity that a reading ends with, where a number stands before it."""
        number = self._number_first.match(text, *rest)
        word = self._quantity.match(text, number.end(), rest[1]) if number else None
        return word.span("name") if word and word.end() >= rest[1] else None

    def _between(self, text: str, start: int, end: int) -> tuple[int, int] | None:
        """What stands between a part and its number and is neither its number nor a quantity."""
        at = start
        if number := self._number_first.match(text, at, end):
            at = number.end()
        for pattern in (self._quantity, self._gauge):
            if found := pattern.match(text, at, end):
                at = found.end()
        word = WORD.search(text, at, end)
        return word.span() if word else None

    def _behind_number(
        self, line: Line, rest: tuple[int, int], amount: re.Match[str]
    ) -> Diagnostic:
        text, end = line.folded.text, rest[1]
        gauge = self._gauge.search(text, rest[0], amount.start())
        word = WORD.search(text, amount.end(), end)
        if gauge is None:
            span = (word.start(), end) if word else amount.span()
            verdict = self._verdict.match(text, *span)
            if word and (verdict or all_nearest(word[0].rstrip(".,:"), self._verdicts)):
                size = line.folded.cut(*amount.span())
                message = "a size that enters or stays out is a gauge's"
                help = f"write it like: gauge {size} enters, or: gauge {size} stays out"
                if verdict:
                    help = f"write gauge before it: gauge {line.folded.cut(amount.start(), end)}"
                where = line.at(amount.start(), end)
                return line.complaint(Code.NOT_UNDERSTOOD, message, where, help=help)
            message = "the reading ends with its unit"
            return self._heads.behind(line, span, message, "put the rest behind: ; note")
        message = "a gauge enters or stays out"
        help = "write enters or stays out"
        if word is None:
            return line.complaint(
                Code.NOT_UNDERSTOOD, "the gauge's verdict is missing", line.at(*amount.span()),
                help=f"{help} behind it",
            )  # fmt: skip
        return line.complaint(Code.NOT_UNDERSTOOD, message, line.at(word.start(), end), help=help)

    def behind_amount(self, line: Line, stretch: tuple[int, int]) -> tuple[int, int]:
        """What stands behind the last number with its unit."""
        found = list(AMOUNT.finditer(line.folded.text, *stretch))
        return (found[-1].end() if found else stretch[0]), stretch[1]

    def _no_number(
        self, line: Line, span: tuple[int, int], part: PartWords, like: str
    ) -> Diagnostic:
        if not part.quantities:
            message, help = no_such_quantity(part, None)
        else:
            message = f"the reading of the {part.name} has no number"
            help = f"{like}; a job begins with its verb, like: replaced"
        return line.complaint(Code.NOT_UNDERSTOOD, message, line.at(*span), help=help)

    def _unknown_quantity(
        self, line: Line, place: tuple[int, int], rest: tuple[int, int], part: PartWords
    ) -> Diagnostic | None:
        text, end = line.folded.text, rest[1]
        at = rest[0]
        if number := self._number_first.match(text, at, end):
            at = number.end()
        word = _LETTERS.match(text, at, end)
        if word is None or word[0] in self.closing or AMOUNT.match(text, *rest):
            return None
        if self._quantity.match(text, at, end) or self._gauge.match(text, at, end):
            return None
        if word[0] in self._vocabulary.side_by_word:
            message = f"the side stands before the {part.name}"
            help = f"write {word[0]} {part.name}"
            return line.complaint(Code.NOT_UNDERSTOOD, message, line.at(*word.span()), help=help)
        told = self._heads.behind_a_part(line, (place[0], at), (word.start(), end))
        if told is not None:
            return told
        message, help = no_such_quantity(part, line.folded.cut(*word.span()))
        near = did_you_mean(word[0], self._vocabulary.quantity_words)
        if number and not near and WORD.search(text, word.end(), end) is None:
            return None  # a number and what may be its unit
        return line.complaint(
            Code.NOT_UNDERSTOOD,
            message,
            line.at(*word.span()),
            help=near or help,
        )

    # -- parts and sides -------------------------------------------------------------------

    def unknown(
        self, line: Line, clause: tuple[int, int], words: list[re.Match[str]]
    ) -> Diagnostic | None:
        """A part that is unknown or nearly right, where a clause begins with no key word."""
        misspelt = self._misspelt(line, words)
        if misspelt is not None:
            return misspelt
        if len(words) > 1 and self.at(line.folded.text, (words[1].start(), clause[1])):
            written = line.folded.cut(*words[0].span())
            help = f"a job begins with its verb: {a_few(VERBS)}; free text after: note"
            if AMOUNT.search(line.folded.text, *clause):
                help = f"a reading begins with its part: leave {written} out"
            message = f"{written} is no word of the language"
            where = line.at(*words[0].span())
            return line.complaint(Code.NOT_UNDERSTOOD, message, where, help=help)
        return self._no_part(line, words) if AMOUNT.search(line.folded.text, *clause) else None

    def _side_fault(self, line: Line, found: re.Match[str], end: int) -> Diagnostic | None:
        part = self._vocabulary.part_by_word[_single(found["part"])]
        side = self._vocabulary.side_by_word[_single(found["side"])] if found["side"] else None
        fault = wrong_side(part, side)
        if fault is None:
            return None
        message, help = fault
        where = found.span("side" if side else "part")
        word = WORD.search(line.folded.text, found.end(), end)
        behind = self._vocabulary.side_by_word.get(word[0].rstrip(".,:")) if word else None
        if word is not None and side is None and behind in part.sides:
            message, where = f"the side stands before the {part.name}", word.span()
            help = f"write {behind} {part.name}"
        return line.complaint(Code.UNKNOWN_SIDE, message, line.at(*where), help=help)

    def needs_blank(self, line: Line, words: list[re.Match[str]]) -> Diagnostic | None:
        """A part and its number in one word, first or behind a side: ``guide3``."""
        at = 1 if len(words) > 1 and words[0][0] in self._vocabulary.side_by_word else 0
        joined = _PART_AND_NUMBER.fullmatch(words[at][0].rstrip(".,:"))
        if joined is None or joined[1] not in self._vocabulary.part_by_word:
            return None
        message = f"{line.folded.cut(*words[at].span())} is part and number in one word"
        help = f"put a blank: {joined[1]} {joined[2]}"
        return line.complaint(Code.UNKNOWN_PART, message, line.at(*words[at].span()), help=help)

    def _misspelt(self, line: Line, words: list[re.Match[str]]) -> Diagnostic | None:
        """A side or part that is nearly right, where a part should stand."""
        joined = self.needs_blank(line, words)
        if joined is not None:
            return joined
        vocabulary = self._vocabulary
        first = words[0]
        word = first[0].rstrip(".,:")
        if word in vocabulary.side_by_word:
            if len(words) < 2:
                message = f"{line.folded.cut(*first.span())} names no part"
                return self._unknown_part(line, message, first.span())
            if words[1][0] in JOINS:
                where = (first.start(), words[min(2, len(words) - 1)].end())
                return line.complaint(
                    Code.UNKNOWN_PART,
                    "one clause names one part",
                    line.at(*where),
                    help="write one clause for each side",
                )
            near = did_you_mean(words[1][0].rstrip(".,:"), vocabulary.part_by_word)
            message = f"the register has no part {line.folded.cut(*words[1].span())}"
            return self._unknown_part(line, message, words[1].span(), near)
        if near := did_you_mean(word, vocabulary.part_by_word):
            message = f"the register has no part {line.folded.cut(*first.span())}"
            return self._unknown_part(line, message, first.span(), near)
        if near := did_you_mean(word, vocabulary.side_by_word):
            return line.complaint(
                Code.UNKNOWN_SIDE,
                f"{line.folded.cut(*first.span())} is no side of the register",
                line.at(*first.span()),
                help=near,
            )
        return None

    def _no_part(self, line: Line, words: list[re.Match[str]]) -> Diagnostic:
        message = f"the register has no part {line.folded.cut(*words[0].span())}"
        return self._unknown_part(line, message, words[0].span())

    def _unknown_part(
        self, line: Line, message: str, where: tuple[int, int], near: str = ""
    ) -> Diagnostic:
        names = [part.name for part in self._vocabulary.parts]
        help = near or f"write a part of the register: {a_few(names)}"
        if not names:
            help = "the register names no part"
        return line.complaint(Code.UNKNOWN_PART, message, line.at(*where), help=help)


def _wanted(part: PartWords, quantity: QuantityWords | None, like: str) -> Wanted:
    """What the number of a reading is to tell."""
    if quantity is None:
        return Wanted(unit="", what=part.name, help=like)
    return Wanted(unit=quantity.unit, what=f"{part.name} {quantity.name}")


def _reading_like(part: PartWords, side: str | None, quantity: QuantityWords | None) -> str:
    """A reading as it is written, of the quantity meant or of each that may be meant."""
    if not part.quantities:
        return no_such_quantity(part, None)[1]
    place = f"{side} {part.name}" if side else part.name
    meant = (quantity,) if quantity else part.quantities[:_MOST]
    return f"write it like: {', or: '.join(f'{place} {q.name} 2.35 {q.unit}' for q in meant)}"


def _single(words: str) -> str:
    return " ".join(words.split())
