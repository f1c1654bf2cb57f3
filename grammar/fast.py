"""The fast way to read a line: by the expressions of ``fast_forms``, and by clauses read before.

What is read here is what Lark would have read: the same terminals, handed to the same methods of
the transformer. A clause that was met before is not made again. Whatever is not surely read so is
left to Lark, whole; this module complains of nothing.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any

from lark import Lark, Token
from lark.utils import TextSlice

from grammar import entries as e
from grammar.diagnostics import LineRefused
from grammar.fast_forms import Form, Grammar, Refused, derive
from grammar.fast_patterns import Unprovable, stays_in_clause
from grammar.folding import Folded, fold
from grammar.isolation_words import IsolationWords
from grammar.line import Line
from grammar.making import mover, placer
from grammar.readings import Filed
from grammar.together import Tail, joined
from grammar.transform import PLAIN, ToEntry

Part = Any  # a clause, or a tail that belongs to one

LONGEST = 1024  # [characters] of a line that is read here; a longer one may be too long [bytes]
_KEPT = 8_192  # words or clauses remembered in one memory at most
_COLUMNS = 32  # where one clause is remembered to have begun, at most
EVERY = 512  # so many lines read here are followed by one that Lark reads too

_NOTHING = Folded("", "", None)

_new_token = str.__new__
_new_tuple = tuple.__new__
_entry = placer(e.Entry)
_filed = placer(Filed)

Judge = Callable[[Line, e.Entry], None]


class _Known:
    """Clauses met before, in the middle of a line or at its end."""

    __slots__ = ("others", "plain", "texts")

    def __init__(self) -> None:
        self.plain: _Parts = defaultdict(dict)
        self.others: _Parts = defaultdict(dict)  # tails, and what one loom alone may not say
        self.texts: dict[str, tuple[Part, int]] = {}  # wherever they begin


class _Memory:
    """Clauses met before: as written, and for each column where they began, what they are.

    Keeps those used lately: of two generations the older is dropped when the younger is full.
    """

    __slots__ = ("old", "young")

    def __init__(self) -> None:
        self.young: dict[str, dict[int, Part]] = {}
        self.old: dict[str, dict[int, Part]] = {}

    def keep(self, piece: str, part: Part, start: int) -> None:
        """Remembers a clause."""
        self._add(piece, {start: part})

    def _add(self, piece: str, parts: dict[int, Part]) -> None:
        if len(self.young) >= _KEPT:
            self.old = dict(self.young)
            self.young.clear()
        self.young[piece] = parts

    def find(self, piece: str, start: int) -> Part | None:
        """A clause met before, as it is where it begins now; None where it was not."""
        parts = self.young.get(piece)
        if parts is None:
            parts = self.old.get(piece)
            if parts is None:
                return None
            self._add(piece, parts)
        part = parts.get(start)
        if part is None:
            if len(parts) >= _COLUMNS:
                for column in [*parts][1:]:
                    del parts[column]
            before, known = next(iter(parts.items()))
            part = parts[start] = mover(type(known))(known, start - before)
        return part


class FastPath:
    """Reads the lines of one mill fast; made for one Lark and its transformer.

    ``judge`` is called with a line and the entry read here, for one line in so many and for the
    first of every form. Raises Refused where nothing can be derived.
    """

    def __init__(
        self, lark: Lark, to_entry: ToEntry, isolations: IsolationWords, day: str, judge: Judge
    ) -> None:
        self._grammar: Grammar = derive(lark, "AT", "SEP", day)
        try:
            if not stays_in_clause(isolations.pattern):
                raise Refused("an isolation may reach over two clauses")
        except Unprovable as error:
            raise Refused(str(error)) from error
        front: Any = lark.parser
        self._first_lexer = front.lexer.lexers[self._grammar.first_state]
        self._to_entry = to_entry
        self._isolations = isolations
        self._judge = judge
        self._met: dict[str, tuple[Form, ...]] = {}  # by the first word of a clause
        self._judged: set[Form] = set()
        self._new: list[Form] = []  # forms of the line being read that were not judged yet
        self._lasting = False  # whether the clause made last means the same wherever it stands
        self._line = Line(_NOTHING)
        self.read = 0
        self.forget()

    def forget(self) -> None:
        """Forgets every clause met so far."""
        self._inner = _Memory()  # clauses with a ; behind them
        self._last = _Memory()  # clauses at a line's end
        self._places: dict[str, e.Place] = {}

    # -- lines of a time and place met before, on a day without a clock change ---------------------

    def lines(
        self, texts: Iterator[str], number: int, entries: list[e.Entry], filed: list[Filed]
    ) -> tuple[str | None, int]:
        """Reads lines until one that is no plain entry of a time and place met before.

        ``number`` is that of the line before them. Returns that one line and its number; no line
        at the end.
        """
        to_entry = self._to_entry
        midnight, times = to_entry.clock.midnight, to_entry.clock.known
        if midnight is None:
            return next(texts, None), number + 1
        by, shift = to_entry.usual_writer, to_entry.shift
        places, loom, whole = self._places, e.PlaceKind.LOOM, e.Standing.WHOLE
        make_entry, make_filed = _entry, _filed
        inner, last = self._inner.young, self._last.young
        plain, new, read, line = PLAIN, self._new, self.read, self._line
        text: str | None = None
        for text in texts:
            number += 1
            try:
                stamp, word, body = text.split(None, 2)
                when = midnight + times[stamp]
                place = places[word]
            except (ValueError, KeyError):
                break
            size = len(text)
            start = size - len(body)
            odd = 0
            parts: list[Part] = []
            for piece in body.split(";"):
                stop = start + len(piece)
                known = last if stop == size else inner
                met = known.get(piece)
                part = met.get(start) if met is not None else None
                if part is None:
                    part = (self._last if stop == size else self._inner).find(piece, start)
                    if part is None:
                        if text is not line.folded.line:
                            if not self._begun(text, number):
                                break
                            to_entry.place, to_entry.when, to_entry.stamp = place, when, stamp
                        part = self._fresh(start, stop)
                        if part is None:
                            break
                if type(part) not in plain:
                    odd += 1
                parts.append(part)
                start = stop + 1
            else:
                writer, own = by, False
                if place.kind is loom and (
                    odd == 0
                    or (odd == 1 and len(parts) > 1 and type(part) is Tail and part.kind == "by")
                ):
                    if odd:  # the commonest of what is joined to others: the writer, at the end
                        writer, own = parts.pop().value, True
                else:
                    try:
                        named, parts = joined(line, place, parts)
                    except LineRefused:
                        break
                    if named is not None:
                        writer, own = named, True
                entry = make_entry(
                    when, when, place, tuple(parts), writer, shift, own, whole, stamp, number, text
                )
                entries.append(entry)
                filed.append(make_filed(shift, number, text))
                read += 1
                if new or not read % EVERY:
                    self._have_judged(Line(Folded(text, text, None), number), entry)
                continue
            break
        else:
            text = None
        self.read = read
        return text, number

    def _begun(self, text: str, number: int) -> bool:
        """Hands a line with a clause not met before to the transformer; whether it is read here."""
        self._new.clear()
        line = self._line
        if text.isascii():
            line.folded = _new_tuple(Folded, (text, text.lower(), None))
        else:
            line.folded = fold(text)
        if len(text) > LONGEST or not _letter_by_letter(line.folded):
            line.folded = _NOTHING
            return False
        line.number = number
        line.flags.clear()
        self._to_entry.begin(line, None)
        return True

    def _fresh(self, start: int, stop: int) -> Part | None:
        """A clause not met before, or None where the line is not read here."""
        line = self._line
        try:
            made = self._made(line, start, stop)
        except LineRefused:
            return None
        if made is None or made[1] != stop or line.flags:
            return None
        if self._lasting:
            self._learn(made[0], line.folded, start, stop)
        return made[0]

    def _have_judged(self, line: Line, entry: e.Entry) -> None:
        """Has Lark read a line too that was read here."""
        self._judged.update(self._new)
        self._new.clear()
        if entry.text is not self._to_entry.line.folded.line:
            self._to_entry.begin(line, None)
        self._judge(line, entry)

    # -- any other line ------------------------------------------------------------------------

    def clauses(self, line: Line) -> list[Part] | None:
        """The clauses and tails of a line as Lark would list them, or None: Lark has to read it.

        The line was handed to the transformer before. Raises LineRefused where Lark would too, or
        would complain of another thing.
        """
        text = line.folded.text
        self._new.clear()
        if not _letter_by_letter(line.folded):
            return None
        head = self._grammar.head.match(text)
        if head is None:
            return None
        token = _new_token(Token, head[1])
        token.type, token.value = "AT", head[1]
        token.start_pos, token.end_pos = head.span(1)
        self._grammar.at(token)
        self._learn_place(line.folded.line[slice(*head.span(1))])
        return self._parts(line, head.end())

    def _learn_place(self, head: str) -> None:
        word = head.split()[1]
        place = self._to_entry.place
        if not {",", ";"} & set(head):
            if len(self._places) >= _KEPT:
                self._places.clear()
            self._places[word] = place

    def _parts(self, line: Line, start: int) -> list[Part] | None:
        written, size = line.folded.line, len(line.folded.text)
        parts = []
        while start < size:
            end = written.find(";", start)
            memory = self._last if end < 0 else self._inner
            end = size if end < 0 else end
            piece = written[start:end]
            part = memory.find(piece, start)
            if part is None and piece and not piece.isspace():
                made = self._made(line, start, end)
                if made is None:
                    return None
                part, form_end = made
                if self._lasting and form_end == end:
                    self._learn(part, line.folded, start, end)
                end = form_end
            if part is not None:
                parts.append(part)
            start = end + 1
        return parts or None

    def _made(self, line: Line, start: int, stop: int) -> tuple[Part, int] | None:
        """The clause that a stretch holds, by its expression, and where it ends."""
        text = line.folded.text
        piece = text[start : stop + 1].lstrip()  # with the ; behind it
        words = piece.split(None, 1)
        if not words:
            return None
        begun = start + len(text[start : stop + 1]) - len(piece)
        for form in self._met.get(words[0], ()):
            match = form.match(text[begun:] if form.whole_line else piece)
            if match is not None:
                return self._by(form, match, line, begun)
        first = self._first_lexer.scanner.match(TextSlice(text, 0, len(text)), begun)
        for form in self._grammar.clauses.get(first[1], ()) if first else ():
            match = form.match(text[begun:] if form.whole_line else piece)
            if match is not None:
                self._meet(words[0], form)
                return self._by(form, match, line, begun)
        return None

    def _meet(self, word: str, form: Form) -> None:
        if len(self._met) >= _KEPT:
            self._met.clear()
        self._met[word] = (form, *(f for f in self._met.get(word, ()) if f is not form))

    def _by(self, form: Form, match: re.Match[str], line: Line, start: int) -> tuple[Part, int]:
        if form not in self._judged:
            self._new.append(form)
        to_entry, flags = self._to_entry, len(line.flags)
        tokens = _tokens(form, match, start)
        to_entry.timed = False
        part = form.make(tokens)
        self._lasting = not (form.whole_line or to_entry.timed or len(line.flags) > flags)
        return part, tokens[-1].end_pos  # type: ignore[return-value]

    def _learn(self, part: Part, folded: Folded, start: int, end: int) -> None:
        """Remembers a clause, but where it may hide an isolation."""
        if self._isolations.is_quiet(part, folded.text[start:end]):
            memory = self._last if end == len(folded.text) else self._inner
            memory.keep(folded.line[start:end], part, start)

    def judged(self, line: Line, entry: e.Entry) -> None:
        """Counts a line read by ``clauses``, and has it judged where its turn has come."""
        self.read += 1
        if self._new or not self.read % EVERY:
            self._have_judged(line, entry)

    # -- headings ------------------------------------------------------------------------------

    def heading(self, line: Line) -> e.Heading | None:
        """The heading that a line is, or None: Lark has to read it. Raises LineRefused."""
        text = line.folded.text
        if not _letter_by_letter(line.folded):
            return None
        for form in self._grammar.headings:
            match = form.match(text)
            if match is not None and match.end() == len(text):
                heading: e.Heading = form.make(_tokens(form, match, 0))
                return heading
        return None


def _letter_by_letter(folded: Folded) -> bool:
    """Whether each character of a line folds by itself, and to one character."""
    if folded.origin is not None:
        return False
    return folded.line.isascii() or folded.line.casefold() == folded.text


def _tokens(form: Form, match: re.Match[str], start: int) -> list[Token]:
    """The tokens of a form as Lark makes them, less the line and columns that nobody asks for."""
    tokens = []
    for name, group in form.groups:
        value = match[group]
        token = _new_token(Token, value)
        token.type = name
        token.value = value
        at = start + match.start(group)
        token.start_pos, token.end_pos = at, at + len(value)
        tokens.append(token)
    return tokens
