"""What Lark could not read, told as a complaint in a fitter's words.

Works on the folded line and the place where reading stopped: finds the clause at fault and the
smallest stretch of it that is wrong. It guesses at what was meant only to word the complaint and
its suggestion; nothing found here ever counts. Headings are left to ``complaints_headings``, key
phrases to ``complaints_heads``, parts and readings to ``complaints_parts``, numbers and units to
``complaints_numbers``.
"""

from __future__ import annotations

import re

from lark.exceptions import UnexpectedInput

from grammar.complaints_headings import SHAPE_OF_HEADING, HeadingExplainer
from grammar.complaints_heads import ClauseHeads
from grammar.complaints_locks import LockExplainer
from grammar.complaints_numbers import AMOUNT, Wanted, number_fault
from grammar.complaints_parts import PartExplainer
from grammar.diagnostics import Code, Diagnostic
from grammar.isolation_words import IsolationWords
from grammar.line import Line, stopped_at
from grammar.nearest import did_you_mean, nearest
from grammar.negations import taken_back
from grammar.phrases import REASONS, names_by_word, spellings
from grammar.sense import all_of
from grammar.shapes import EXAMPLES, SHAPES, WORD, Piece
from grammar.times import CLOCK
from grammar.vocabulary import Vocabulary

_SHAPE_OF_ENTRY = "write time, loom and what was done, like: 22:40 A07 stopped for warp"
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_ODD_CLOCK = re.compile(r"([0-9]{1,2})[.,h]([0-9]{2})h?")
_JOINED = re.compile(r"([0-9]{1,2}:?[0-9]{2})([^\W\d].*)")

_JOINED_ON = re.compile(r"(?![.,:]*(?:[\s;]|$))[^\s;]+")
_ONE_REASON = f"write one of {all_of(REASONS)}"

_TORQUE = Wanted(unit="N.m", what="a torque")
_METER = Wanted(unit="h", what="a loom's meter")
_USE = Wanted(unit="h", what="the use of a loom")


class Explainer:
    """Explains unreadable lines with the words of one mill."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._vocabulary = vocabulary
        self.headings = HeadingExplainer(vocabulary)
        self._heads = ClauseHeads(vocabulary)
        self._locks = LockExplainer(vocabulary, IsolationWords(vocabulary))
        self._parts = PartExplainer(vocabulary, self._heads)
        self._reasons = names_by_word(vocabulary, REASONS)
        self._for = names_by_word(vocabulary, ("for",))
        self._in = spellings(vocabulary, ("in",))

    # -- the head of an entry ----------------------------------------------------------------

    def entry(self, line: Line, error: UnexpectedInput) -> Diagnostic:
        """Why a line is no entry: the smallest stretch at fault and one plain sentence."""
        text = line.folded.text
        at = stopped_at(text, error)
        words = list(WORD.finditer(text))
        if not words:
            span = line.at(0, len(text))
            message = "the line holds no word"
            return line.complaint(Code.NOT_UNDERSTOOD, message, span, help=_SHAPE_OF_ENTRY)
        time = words[0]
        if text[: time.start()].strip():
            message = "the line begins with a ; and not with its time"
            return self._whole(line, message, (text.index(";"), time.start()), _SHAPE_OF_ENTRY)
        if at <= time.start() and not CLOCK.fullmatch(time[0].rstrip(".,")):
            return self._no_time(line, words)
        loom = re.compile(r"\s+([^\s;]+)[;\s]*").match(text, time.end())
        if loom is None:
            return self._whole(line, "the line names no loom", time.span(), _SHAPE_OF_ENTRY)
        start, end = _clause_around(text, at, loom.end())
        if start >= end:
            place = loom.span(1)
            return self._whole(line, "the line does not say what was done", place, _SHAPE_OF_ENTRY)
        return self._clause(line, (start, end), at)

    def _no_time(self, line: Line, words: list[re.Match[str]]) -> Diagnostic:
        word = words[0][0]
        second = words[1][0] if len(words) > 1 else ""
        message = "the line does not begin with a time like 22:40"
        help = _SHAPE_OF_ENTRY
        if odd := _ODD_CLOCK.fullmatch(word):
            help = f"write {odd[1]}:{odd[2]}"
        elif re.fullmatch(r"[0-9]{3}", word):
            help = f"write 0{word} or {word[0]}:{word[1:]}"
        elif _DATE.fullmatch(word) and CLOCK.fullmatch(second):
            message = "date and time stand apart"
            help = f"write them in one word, like {word}T{second}"
        elif joined := _JOINED.fullmatch(word):
            message = "time and loom stand in one word"
            help = f"put a space behind {joined[1]}"
        elif self._vocabulary.place(word) is not None:
            message = "the line begins with the loom"
            help = "write the time before it, like 22:40"
        elif self.headings.is_meant(line):
            message = "a heading begins with the word day"
            help = SHAPE_OF_HEADING
        return self._whole(line, message, words[0].span(), help)

    # -- one clause --------------------------------------------------------------------------

    def _clause(self, line: Line, clause: tuple[int, int], at: int) -> Diagnostic:
        found = self._parts.job(line, clause) or self._parts.reading(line, clause)
        if found is not None:
            return found
        head = self._heads.of(line.folded.text, clause)
        if head is None:
            return self._unknown_clause(line, clause)
        name, behind = head
        joined = _JOINED_ON.match(line.folded.text, behind, clause[1])
        if joined is not None:
            message = f"{line.folded.cut(clause[0], joined.end())} needs a space"
            help = f"put it behind {line.folded.cut(clause[0], behind)}"
            return self._whole(line, message, (clause[0], joined.end()), help)
        match name:
            case "stopped":
                return self._stop(line, clause, behind)
            case "torque" | "counter":
                return self._amount(line, clause, behind, name, at)
            case "due":
                return self._due(line, clause, behind)
            case "checked":
                return self._verdict(line, clause, behind)
            case _:
                return self._walk(line, clause, behind, SHAPES.get(name, ()), at)

    def _stop(self, line: Line, clause: tuple[int, int], behind: int) -> Diagnostic:
        text = line.folded.text
        words = list(WORD.finditer(text, behind, clause[1]))
        word = words[0] if words else None
        if word is not None and word[0] in self._for:
            word = words[1] if len(words) > 1 else None
            if word is None:
                message = "the stop names no reason"
                return self._whole(line, message, words[0].span(), _ONE_REASON)
        if word is None:
            return self._rest(line, clause, (behind, clause[1]))
        if words[0] is word and (meant := did_you_mean(word[0], self._for)):
            message = f"{line.folded.cut(*word.span())} is no word of the language"
            return self._whole(line, message, word.span(), meant)
        near = nearest(word[0].rstrip(".,:"), self._reasons)
        if near is None and words[0] is word:
            return self._rest(line, clause, (word.start(), clause[1]))
        if near is not None and near == word[0].rstrip(".,:") and words[0] is not word:
            return self._rest(line, clause, (word.end(), clause[1]))
        message = f"{line.folded.cut(*word.span())} is no reason of the register"
        if words[0] is word:
            message = "a reason stands behind: for"
        help = f"write: stopped for {near}" if near else _ONE_REASON
        return self._whole(line, message, word.span(), help)

    def _amount(
        self, line: Line, clause: tuple[int, int], behind: int, name: str, at: int
    ) -> Diagnostic:
        end = clause[1]
        wanted = _TORQUE if name == "torque" else _METER
        fault = number_fault(line, (behind, end), wanted, self._parts.closing)
        if fault is not None:
            return fault
        amount = AMOUNT.search(line.folded.text, behind, end)
        if amount is None:
            return self._whole(line, f"{name} names no number", clause, _like(name))
        word = WORD.search(line.folded.text, behind, end)
        if name == "counter" and word is not None and word.start() < amount.start():
            message = f"expected a number with its unit and found {line.folded.cut(*word.span())}"
            return self._whole(line, message, word.span(), _like(name))
        if behind < at < end:
            return self._rest(line, clause, (at, end))
        return self._rest(line, clause, self._parts.behind_amount(line, (behind, end)))

    def _due(self, line: Line, clause: tuple[int, int], behind: int) -> Diagnostic:
        text, end = line.folded.text, clause[1]
        word = WORD.search(text, behind, end)
        if word is None:
            return self._whole(line, "due names no time", clause, _like("due"))
        if word[0] in self._in:
            fault = number_fault(line, (word.end(), end), _USE, self._parts.closing)
            if fault is not None:
                return fault
        span = (word.start(), end)
        written = line.folded.cut(*span)
        near = did_you_mean(text[slice(*span)], [s.name for s in self._vocabulary.shifts])
        help = near or _like("due")
        return self._whole(line, f"{written} is no time that an action can be due", span, help)

    def _verdict(self, line: Line, clause: tuple[int, int], behind: int) -> Diagnostic:
        words = list(WORD.finditer(line.folded.text, behind, clause[1]))
        if not words:
            return self._whole(line, "checked does not say what", clause, _like("checked"))
        if len(words) == 1:
            written = line.folded.cut(*words[0].span())
            message = f"expected what was checked, then ok or bad, and found {written}"
            return self._whole(line, message, words[0].span(), _like("checked"))
        message = "a check ends with ok or bad"
        return self._whole(line, message, words[-1].span(), _like("checked"))

    def _walk(
        self, line: Line, clause: tuple[int, int], behind: int, pieces: tuple[Piece, ...], at: int
    ) -> Diagnostic:
        """The first piece of a clause that is missing or wrong."""
        text, end = line.folded.text, clause[1]
        head = line.folded.cut(clause[0], behind)
        place = behind
        for piece in pieces:
            spelt = spellings(self._vocabulary, (piece.word,)) if piece.word else ()
            match = piece.match(text, place, end, spelt)
            if match is not None:
                place = match
            if match is not None or piece.optional:
                continue
            example = _like(self._heads.named(text[clause[0] : behind]))
            word = WORD.search(text, place, end)
            if word is None:
                return self._whole(line, f"after {head} expected {piece.noun}", clause, example)
            written = line.folded.cut(*word.span())
            message = f"expected {piece.noun} and found {written}"
            if piece.word == "no" and word[0].isdecimal():  # told in the words that were begun in
                own = text[clause[0] : behind] not in ("done", "dropped")
                example = f"write {spelt[-1] if own else spelt[0]} {written}"
            return self._whole(line, message, word.span(), example)
        return self._rest(line, clause, (max(place, min(at, end)), end))

    def _rest(self, line: Line, clause: tuple[int, int], rest: tuple[int, int]) -> Diagnostic:
        """More stands in a clause than belongs to it."""
        text = line.folded.text
        start = rest[0] + len(text[slice(*rest)]) - len(text[slice(*rest)].lstrip(" ,.:"))
        if start >= rest[1]:
            message = "the clause ends here and is not understood"
            return self._whole(line, message, rest, _SHAPE_OF_ENTRY)
        if (refused := taken_back(line, (clause[0], start), rest[1])) is not None:
            return refused
        message = "the clause is complete before this"
        part = self._parts.at(text, (start, rest[1]))
        if part is not None and AMOUNT.search(text, part[1], rest[1]):
            message = "a new clause begins here"
            return self._whole(line, message, (start, rest[1]), "put ; before it")
        if part is not None and (help := self._names_part(line, clause[0], part)):
            return self._whole(line, message, (start, rest[1]), help)
        return self._heads.behind(line, (start, rest[1]), message, "put the rest behind: ; note")

    def _names_part(self, line: Line, clause: int, part: tuple[int, int]) -> str:
        """How a proof is written whose part stands behind it; "" where it is no proof."""
        text, place = line.folded.text, line.folded.cut(*part)
        head = self._heads.of(text, (clause, part[0]))
        if head is not None and head[0] == "torque":
            words, amount = line.folded.cut(clause, head[1]), line.folded.cut(head[1], part[0])
            is_amount = AMOUNT.fullmatch(text[head[1] : part[0]].strip())
            return f"write {words} {place} {amount}" if is_amount else ""
        return self._heads.of_a_job(line, (clause, part[0]), place)

    def _unknown_clause(self, line: Line, clause: tuple[int, int]) -> Diagnostic:
        text, end = line.folded.text, clause[1]
        fillers = self._parts.fillers.match(text, *clause)
        words = list(WORD.finditer(text, fillers.end() if fillers else clause[0], end))
        if not words:
            return self._whole(line, "this is no word of the language", clause, _SHAPE_OF_ENTRY)
        start = words[0].start()
        if help := self._locks.unlocking(line.folded, (start, end)):
            message = f"{line.folded.cut(*words[0].span())} is no word of the language"
            return self._whole(line, message, words[0].span(), help)
        return (
            self._heads.second_loom(line, words)
            or self._heads.without_due(line, (start, end))
            or self._parts.needs_blank(line, words)
            or self._heads.near(line, words, lambda at: self._parts.at(text, (at, end)) is not None)
            or self._parts.unknown(line, clause, words)
            or self._heads.none(line, clause, words[0])
        )

    def _whole(self, line: Line, message: str, at: tuple[int, int], help: str) -> Diagnostic:
        return line.complaint(Code.NOT_UNDERSTOOD, message, line.at(*at), help=help)


def _like(head: str) -> str:
    example = EXAMPLES.get(head)
    return f"write it like: {example}" if example else ""


def _clause_around(text: str, at: int, first: int) -> tuple[int, int]:
    """The clause that a place lies in, trimmed; the last one at the line's end."""
    if at >= len(text):
        at = len(text.rstrip("; \t"))
    start = max(text.rfind(";", 0, at) + 1, first)
    end = text.find(";", max(at, start))
    end = len(text) if end < 0 else end
    body = text[start:end]
    return start + len(body) - len(body.lstrip()), start + len(body.rstrip())
