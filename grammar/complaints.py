"""What Lark could not read, told as a complaint in a fitter's words.

Works on the folded line and the place where reading stopped. It guesses at what was meant only to
word the complaint and its suggestion; nothing found here ever counts.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from lark.exceptions import UnexpectedInput

from grammar.diagnostics import Code, Diagnostic
from grammar.entries import Span
from grammar.folding import Folded
from grammar.nearest import nearest
from grammar.phrases import CLAUSE_HEADS, REASONS, VERBS, names_by_word, spellings
from grammar.sense import no_such_quantity, wrong_side
from grammar.units import NUMBER_PATTERN, UNIT_PATTERN, UNITS
from grammar.vocabulary import Vocabulary

# What may stand where reading stopped, as a noun with an example. Three at most are named.
_NOUNS = {
    "STAMP": "a time like 22:40",
    "PLACE": "a loom",
    "WHO": "initials like KM",
    "TEXT": "a few words",
    "NOTE_TEXT": "a few words",
    "REASON": "a reason like warp",
    "AMOUNT": "a number with its unit like 2.35 mm",
    "PART": "a part of the register",
    "SIDE": "a side",
    "QUANTITY": "what was measured",
    "DATE": "a date like 2026-11-24",
    "SHIFT": "a shift of the register",
    "NUMBERED": "an action's number like no 31",
    "WORD": "one word",
    "ENTERS": "enters or stays out",
    "FROM": "from and a loom",
    "FINDING": "what was checked, then ok or bad",
    "OK": "ok or bad",
    "TO": "to and initials",
    "WHOLE": "the number of lines",
    "SEP": "; or the line's end",
}

_FIX = {
    "stopped": "stopped for warp",
    "isolated": "isolated by KM lock 14",
    "isolated by": "isolated by KM lock 14",
    "lock seen": "lock seen by RB",
    "lock seen by": "lock seen by RB",
    "lock removed": "lock removed by KM",
    "lock removed by": "lock removed by KM",
    "fault": "fault left head drops weft",
    "checked": "checked joint ok",
    "torque": "torque clamp screws 0.80 N.m",
    "thread-locked": "thread-locked; torque clamp screws 0.80 N.m",
    "batch": "batch 7F",
    "counter": "counter 18250.5 h",
    "style": "style 4410",
    "open": "open no 31 recheck left tape; due early",
    "done": "done no 31 smooth",
    "dropped": "dropped no 31 not needed, loom sold",
    "note": "note weaver says noisy",
    "moved": "moved left head from A09",
    "handed over": "shed handed over KM to RB",
    "taken over": "shed taken over by RB",
    "taken over by": "shed taken over by RB",
    "struck": "struck 22:55 read the wrong tape",
    "by": "by KM",
    "due": "due early, due 06:00, due before start, due in 200 h",
}

_SHAPE_OF_ENTRY = "write time, loom and what was done, like: 22:40 A07 stopped for warp"
_SHAPE_OF_HEADING = "write it like: day 2026-11-24 night by KM"


class Explainer:
    """Explains unreadable lines with the words of one mill."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._vocabulary = vocabulary
        self._heads = {
            w: head for head in CLAUSE_HEADS for w in spellings(vocabulary, _split(head))
        }
        self._heads |= dict.fromkeys(spellings(vocabulary, ("due",)), "due")
        self._verbs = names_by_word(vocabulary, VERBS)
        self._reasons = names_by_word(vocabulary, REASONS)

    def heading(self, folded: Folded, line: int, error: UnexpectedInput) -> Diagnostic:
        """Why a line that begins like a heading is none."""
        at = _position(folded, error)
        start, end = _word_at(folded.text, at)
        word = folded.text[start:end]
        if re.fullmatch(r"[0-9]{1,4}[./-][0-9]{1,2}[./-][0-9]{1,4}", word):
            message, help = f"{word} is not a date in the form to use", "write 2026-11-24"
        elif re.search(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", folded.text[:at]) and word:
            shifts = [shift.name for shift in self._vocabulary.shifts]
            near = nearest(word, shifts)
            message = f"the register has no shift {folded.cut(start, end)}"
            help = f"did you mean {near}?" if near else f"write {', '.join(shifts[:3])}"
        elif re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", word):
            message, help = "the heading names no shift", _SHAPE_OF_HEADING
        else:
            message = "a heading names the day, the shift and the writer"
            help = _SHAPE_OF_HEADING
        return _diagnostic(Code.NOT_UNDERSTOOD, message, folded, line, (start, end), help=help)

    def entry(self, folded: Folded, line: int, error: UnexpectedInput) -> Diagnostic:
        """Why a line is no entry: the smallest stretch at fault and one plain sentence."""
        at = _position(folded, error)
        text = folded.text
        head = re.match(r"\s*(\S+)(\s+[^\s;]+)?", text)
        if head is None or at < head.end(1):
            return self._no_time(folded, line)
        if head[2] is None or at < head.end(2):
            return _diagnostic(
                Code.NOT_UNDERSTOOD, "the line names no loom", folded, line, head.span(1),
                help=_SHAPE_OF_ENTRY,
            )  # fmt: skip
        start, end = _clause_around(text, at, head.end())
        if not text[start:end].strip():
            return _diagnostic(
                Code.NOT_UNDERSTOOD, "the line does not say what was done", folded, line,
                head.span(), help=_SHAPE_OF_ENTRY,
            )  # fmt: skip
        return self._clause(folded, line, (start, end), at, error)

    def _no_time(self, folded: Folded, line: int) -> Diagnostic:
        start, end = _word_at(folded.text, len(folded.text) - len(folded.text.lstrip()))
        word = folded.text[start:end]
        help = _SHAPE_OF_ENTRY
        dotted = re.fullmatch(r"([0-9]{1,2})[.,h]([0-9]{2})h?", word)
        if dotted:
            help = f"write {dotted[1]}:{dotted[2]}"
        elif re.fullmatch(r"[0-9]{3}", word):
            help = f"write 0{word} or {word[0]}:{word[1:]}"
        elif near := nearest(word, spellings(self._vocabulary, ("day",))):
            help = f"a heading begins with {near}; {_SHAPE_OF_HEADING}"
        message = "the line does not begin with a time like 22:40"
        return _diagnostic(Code.NOT_UNDERSTOOD, message, folded, line, (start, end), help=help)

    # -- one clause ------------------------------------------------------------------------

    def _clause(
        self, folded: Folded, line: int, clause: tuple[int, int], at: int, error: UnexpectedInput
    ) -> Diagnostic:
        start, end = clause
        body = folded.text[start:end]
        for explain in (self._work_or_move, self._reading):
            found = explain(folded, line, clause)
            if found is not None:
                return found
        head = self._head_of(body)
        if head is None:
            return self._unknown_clause(folded, line, clause)
        number = self._bare_number(body, head)
        if number is not None:
            return self._no_unit(folded, line, (start + number[0], start + number[1]))
        return self._after_head(folded, line, clause, head, at, error)

    def _head_of(self, body: str) -> str | None:
        single = " ".join(body.split())
        matches = [w for w in self._heads if re.match(rf"{re.escape(w)}(?![\w-])", single)]
        # a key word that wants `by` and lacks it: lock seen RB
        for bare, whole in (
            ("isolated", "isolated by"),
            ("lock seen", "lock seen by"),
            ("lock removed", "lock removed by"),
            ("taken over", "taken over by"),
        ):
            for word in spellings(self._vocabulary, (bare,)):
                if re.match(rf"{re.escape(word)}(?![\w-])", single) and not any(
                    self._heads[m] == whole for m in matches
                ):
                    return bare
        return self._heads[max(matches, key=len)] if matches else None

    def _bare_number(self, body: str, head: str) -> tuple[int, int] | None:
        if head not in ("torque", "counter") and not (head == "due" and re.search(r"\bin\b", body)):
            return None
        numbers = list(re.finditer(rf"(?<![\w.,-]){NUMBER_PATTERN}(?![\w])", body))
        numbers = [n for n in numbers if not re.match(rf"\s*{UNIT_PATTERN}", body[n.end() :])]
        return numbers[-1].span() if numbers else None

    def _no_unit(
        self, folded: Folded, line: int, at: tuple[int, int], unit: str | None = None
    ) -> Diagnostic:
        number = folded.cut(*at)
        rest = re.match(r"\s*([^\s;]+)", folded.text[at[1] :])
        if rest and rest[1] not in self._heads and not rest[1].startswith("new"):
            span = (at[1] + rest.start(1), at[1] + rest.end(1))
            near = nearest(rest[1], UNITS)
            return _diagnostic(
                Code.UNIT_MISSING, f"{folded.cut(*span)} is no unit of the language", folded,
                line, span, help=f"did you mean {near}?" if near else _unit_help(number, unit),
            )  # fmt: skip
        message = f"{number} stands without its unit"
        help = _unit_help(number, unit)
        return _diagnostic(Code.UNIT_MISSING, message, folded, line, at, help=help)

    def _after_head(
        self,
        folded: Folded,
        line: int,
        clause: tuple[int, int],
        head: str,
        at: int,
        error: UnexpectedInput,
    ) -> Diagnostic:
        start, end = clause
        at = min(max(at, start), end)
        word_start, word_end = _word_at(folded.text, at)
        if head == "stopped":
            word = folded.text[word_start:word_end]
            rest = folded.text[word_start:end].strip()
            for_words = spellings(self._vocabulary, ("for",))
            first = rest.split()[1] if rest.split()[:1] and rest.split()[0] in for_words else word
            near = nearest(first, self._reasons)
            message = "a stop is told by one of the reasons of the register"
            listed = ", ".join(REASONS)
            help = f"write: stopped for {near or 'REASON'}; REASON is one of {listed}"
            if near:
                help = f"write: stopped for {near}"
            return _diagnostic(
                Code.NOT_UNDERSTOOD, message, folded, line, (word_start, word_end), help=help
            )
        if head in ("isolated", "lock seen", "lock removed", "taken over"):
            return _diagnostic(
                Code.NOT_UNDERSTOOD, f"{head} is followed by: by, and initials", folded, line,
                clause, help=f"write it like: {_FIX[head]}",
            )  # fmt: skip
        expected = _expected(error)
        message = f"after {head} expected {expected}" if expected else f"{head} is not complete"
        if word_start >= end or not folded.text[word_start:word_end].strip("; "):
            span = (start, end)
        else:
            span = (word_start, min(word_end, end))
        help = f"write it like: {_FIX[head]}" if head in _FIX else ""
        return _diagnostic(Code.NOT_UNDERSTOOD, message, folded, line, span, help=help)

    def _unknown_clause(self, folded: Folded, line: int, clause: tuple[int, int]) -> Diagnostic:
        start, end = clause
        body = folded.text[start:end]
        words = list(re.finditer(r"[^\s;]+", body))
        for count in (3, 2, 1):  # the longest stretch that is near a phrase
            if len(words) < count:
                continue
            stretch = body[words[0].start() : words[count - 1].end()]
            near = nearest(" ".join(stretch.split()), self._heads)
            if near:
                span = (start + words[0].start(), start + words[count - 1].end())
                message = f"{folded.cut(*span)} is no word of the language"
                return _diagnostic(
                    Code.NOT_UNDERSTOOD, message, folded, line, span, help=f"did you mean {near}?"
                )
        part = self._misspelt_part(folded, line, start, words, body)
        if part is not None:
            return part
        span = (start + words[0].start(), start + words[0].end()) if words else clause
        numbered = re.search(rf"{NUMBER_PATTERN}\s*{UNIT_PATTERN}", body)
        if numbered:
            message = f"the register has no part {folded.cut(*span)}"
            return _diagnostic(
                Code.UNKNOWN_PART, message, folded, line, span, help=self._parts_help()
            )
        message = f"{folded.cut(*span)} is no word of the language"
        return _diagnostic(
            Code.NOT_UNDERSTOOD, message, folded, line, span, help="put free text after: note"
        )

    # -- parts -----------------------------------------------------------------------------

    def _misspelt_part(
        self, folded: Folded, line: int, start: int, words: list[re.Match[str]], body: str
    ) -> Diagnostic | None:
        """A side or part that is nearly right, where a part should stand."""
        known_side = False
        for word in words[:3]:
            text = word[0]
            span = (start + word.start(), start + word.end())
            if text in self._vocabulary.side_by_word:
                known_side = True
                continue
            if near := nearest(text, self._vocabulary.part_by_word):
                message = f"the register has no part {folded.cut(*span)}"
                return _diagnostic(
                    Code.UNKNOWN_PART, message, folded, line, span, help=f"did you mean {near}?"
                )
            if not known_side and (near := nearest(text, self._vocabulary.side_by_word)):
                message = f"{folded.cut(*span)} is no side of the register"
                return _diagnostic(
                    Code.UNKNOWN_SIDE, message, folded, line, span, help=f"did you mean {near}?"
                )
            if known_side:
                message = f"the register has no part {folded.cut(*span)}"
                return _diagnostic(
                    Code.UNKNOWN_PART, message, folded, line, span, help=self._parts_help()
                )
            break
        return None

    def _parts_help(self) -> str:
        names = [part.name for part in self._vocabulary.parts]
        more = f" and {len(names) - 6} more" if len(names) > 6 else ""
        return f"the register knows {', '.join(names[:6])}{more}" if names else "it names no part"

    def _work_or_move(
        self, folded: Folded, line: int, clause: tuple[int, int]
    ) -> Diagnostic | None:
        start, end = clause
        body = folded.text[start:end]
        single = self._strip(body, (*self._verbs, *spellings(self._vocabulary, ("moved",))))
        if single is None:
            return None
        rest_at, head = single
        words = list(re.finditer(r"[^\s;]+", body[rest_at:]))
        if not words:
            message = f"{head} does not say which part"
            return _diagnostic(
                Code.UNKNOWN_PART, message, folded, line, clause, help=self._parts_help()
            )
        found = self._part_at(body, rest_at)
        if found is None:
            near = self._misspelt_part(folded, line, start + rest_at, words, body)
            if near is not None:
                return near
            span = (start + rest_at + words[0].start(), start + rest_at + words[0].end())
            message = f"the register has no part {folded.cut(*span)}"
            return _diagnostic(
                Code.UNKNOWN_PART, message, folded, line, span, help=self._parts_help()
            )
        part, side, _, span_of = found
        fault = wrong_side(self._vocabulary.part_by_word[part], side)
        if fault:
            span = (start + span_of[0], start + span_of[1])
            return _diagnostic(Code.UNKNOWN_SIDE, fault[0], folded, line, span, help=fault[1])
        if self._verbs.get(head) is None:
            message = "moved does not say from which loom"
            return _diagnostic(
                Code.NOT_UNDERSTOOD, message, folded, line, clause,
                help=f"write it like: {_FIX['moved']}",
            )  # fmt: skip
        return None

    def _strip(self, body: str, heads: tuple[str, ...]) -> tuple[int, str] | None:
        for head in heads:
            match = re.match(rf"\s*({re.escape(head)})(?![\w-])", body)
            if match:
                return match.end(), head
        return None

    def _part_at(self, body: str, at: int) -> tuple[str, str | None, int, tuple[int, int]] | None:
        """Part, side, where the rest begins and where they stand, if a known part comes next."""
        from grammar.vocabulary import alternatives

        vocabulary = self._vocabulary
        fillers = alternatives(vocabulary.fillers)
        match = re.compile(
            rf"\s*(?:(?:{fillers})\s+)*(?P<side>{alternatives(vocabulary.side_by_word)})?\s*"
            rf"(?<!\w)(?P<part>{alternatives(vocabulary.part_by_word)})(?!\w)"
        ).match(body, at)
        if match is None:
            return None
        side = vocabulary.side_by_word[" ".join(match["side"].split())] if match["side"] else None
        span = (match.start("side") if side else match.start("part"), match.end("part"))
        return " ".join(match["part"].split()), side, match.end(), span

    def _reading(self, folded: Folded, line: int, clause: tuple[int, int]) -> Diagnostic | None:
        start, end = clause
        body = folded.text[start:end]
        found = self._part_at(body, 0)
        if found is None:
            return None
        word, side, rest_at, span_of = found
        part = self._vocabulary.part_by_word[word]
        fault = wrong_side(part, side)
        if fault:
            span = (start + span_of[0], start + span_of[1])
            return _diagnostic(Code.UNKNOWN_SIDE, fault[0], folded, line, span, help=fault[1])
        rest = body[rest_at:]
        amount = re.search(rf"(?<![\w.,-]){NUMBER_PATTERN}\s*{UNIT_PATTERN}", rest)
        bare = [
            n
            for n in re.finditer(rf"(?<![\w.,-]){NUMBER_PATTERN}", rest)
            if not re.match(rf"\s*{UNIT_PATTERN}", rest[n.end() :])
        ]
        unknown = self._unknown_quantity(folded, line, start + rest_at, rest, word)
        if unknown is not None:
            return unknown
        if amount is None and bare:
            units = {quantity.unit for quantity in part.quantities}
            at = (start + rest_at + bare[-1].start(), start + rest_at + bare[-1].end())
            return self._no_unit(folded, line, at, units.pop() if len(units) == 1 else None)
        if amount is None:
            message = f"the reading of the {part.name} has no number"
            example = next((q for q in part.quantities), None)
            help = f"write its {example.name} like 2.35 {example.unit}" if example else ""
            help = help + ", or what was done to it, like: replaced" if help else _SHAPE_OF_ENTRY
            span = (start + span_of[0], start + len(body.rstrip()))
            return _diagnostic(Code.NOT_UNDERSTOOD, message, folded, line, span, help=help)
        tail = rest[amount.end() :]
        if tail.strip():
            tail_at = start + rest_at + amount.end() + len(tail) - len(tail.lstrip())
            gauge = re.search(r"\bgauge\b", rest[: amount.start()])
            message = "a gauge enters or stays out" if gauge else "the reading ends with its unit"
            help = "write enters or stays out" if gauge else "put the rest after: ; note"
            return _diagnostic(
                Code.NOT_UNDERSTOOD, message, folded, line, (tail_at, start + len(body.rstrip())),
                help=help,
            )  # fmt: skip
        if re.search(r"\bgauge\b", rest[: amount.start()]):
            span = (start + rest_at + amount.start(), start + rest_at + amount.end())
            return _diagnostic(
                Code.NOT_UNDERSTOOD, "the gauge's verdict is missing", folded, line, span,
                help="write enters or stays out after it",
            )  # fmt: skip
        return None

    def _unknown_quantity(
        self, folded: Folded, line: int, at: int, rest: str, part_word: str
    ) -> Diagnostic | None:
        match = re.match(r"\s*(?:[0-9]{1,4}\s+)?([^\W\d][\w-]*)", rest)
        words = self._vocabulary.quantity_words
        if match is None or match[1] in words or match[1] in self._gauge_words():
            return None
        if any(re.match(rf"{re.escape(w)}(?!\w)", rest[match.start(1) :]) for w in words):
            return None
        part = self._vocabulary.part_by_word[part_word]
        span = (at + match.start(1), at + match.end(1))
        message, help = no_such_quantity(part, folded.cut(*span))
        near = nearest(match[1], words)
        help = f"did you mean {near}?" if near else help
        return _diagnostic(Code.NOT_UNDERSTOOD, message, folded, line, span, help=help)

    def _gauge_words(self) -> tuple[str, ...]:
        return spellings(self._vocabulary, ("gauge",))


def _split(head: str) -> tuple[str, ...]:
    """A clause head in the components that the mill may alias one by one."""
    if head.endswith(" by"):
        return head.removesuffix(" by"), "by"
    if head == "fault cleared":
        return "fault", "cleared"
    return (head,)


def _unit_help(number: str, unit: str | None) -> str:
    return f"write {number} {unit}" if unit else "write its unit after it, like 0.80 N.m or 12 h"


def _expected(error: UnexpectedInput) -> str:
    accepts: Callable[[], set[str]] | set[str] | None = getattr(error, "allowed", None)
    names = set(accepts) if isinstance(accepts, set) else set(getattr(error, "expected", ()) or ())
    nouns = [noun for name, noun in _NOUNS.items() if name in names]
    return ", ".join(nouns[:3])


def _position(folded: Folded, error: UnexpectedInput) -> int:
    if getattr(getattr(error, "token", None), "type", "") == "$END":
        return len(folded.text)
    at = getattr(error, "pos_in_stream", None)
    if at is None or at < 0:
        token = getattr(error, "token", None)
        at = getattr(token, "start_pos", None)
    return min(at, len(folded.text)) if at is not None else len(folded.text)


def _word_at(text: str, at: int) -> tuple[int, int]:
    """The word at or after a place; at the end of the text, the last one."""
    match = re.compile(r"[^\s;]+").search(text, at)
    if match is None:
        words = list(re.finditer(r"[^\s;]+", text))
        return words[-1].span() if words else (0, len(text))
    start = match.start()
    while start == at and start > 0 and text[start - 1] not in " \t;":
        start, at = start - 1, at - 1
    return start, match.end()


def _clause_around(text: str, at: int, first: int) -> tuple[int, int]:
    start = max(text.rfind(";", 0, at) + 1, first)
    end = text.find(";", max(at, start))
    end = len(text) if end < 0 else end
    body = text[start:end]
    return start + len(body) - len(body.lstrip()), start + len(body.rstrip())


def _diagnostic(
    code: Code, message: str, folded: Folded, line: int, at: tuple[int, int], *, help: str = ""
) -> Diagnostic:
    span = folded.span(*at)
    if span.end <= span.start:
        span = Span(span.start, span.start + 1)
    return Diagnostic(code=code, message=message, line=line, span=span, text=folded.line, help=help)
