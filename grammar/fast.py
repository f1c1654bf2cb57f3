"""The fast way to read a line: by the expressions of ``fast_forms``, and by clauses read before.

What is read here is what Lark would have read: the same terminals, handed to the same methods of
the transformer. A clause that was met before is not made again. Whatever is not surely read so is
left to Lark, whole; this module complains of nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from typing import Any

from lark import Lark, Token
from lark.utils import TextSlice

from grammar import entries as e
from grammar.diagnostics import LineRefused
from grammar.fast_forms import Form, Grammar, Refused, derive
from grammar.fast_patterns import Unprovable, stays_in_clause
from grammar.folding import Folded
from grammar.isolation_words import IsolationWords
from grammar.line import Line
from grammar.making import changed, maker
from grammar.readings import Filed
from grammar.together import Tail, joined
from grammar.transform import PLAIN, ToEntry

Part = Any  # a clause, or a tail that belongs to one
_Parts = defaultdict[int, dict[str, Part]]  # by the column that they begin in, as written

LONGEST = 1024  # [characters] of a line that is read here; a longer one may be too long [bytes]
_KEPT = 32_768  # clauses remembered at most
EVERY = 512  # so many lines read here are followed by one that Lark reads too

_new_token = str.__new__
_entry = maker(e.Entry)
_filed = maker(Filed)
_span = maker(e.Span)

Judge = Callable[[Line, e.Entry], None]


class _Known:
    """Clauses met before, in the middle of a line or at its end."""

    __slots__ = ("others", "plain", "texts")

    def __init__(self) -> None:
        self.plain: _Parts = defaultdict(dict)
        self.others: _Parts = defaultdict(dict)  # tails, and what one loom alone may not say
        self.texts: dict[str, tuple[Part, int]] = {}  # wherever they begin


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
        self._until_judged = EVERY
        self._lasting = False  # whether the clause made last means the same wherever it stands
        self.read = 0
        self.forget()

    def forget(self) -> None:
        """Forgets every clause met so far."""
        self._inner, self._last = _Known(), _Known()
        self._places: dict[str, e.Place] = {}
        self._kept = 0

    # -- lines of nothing new ------------------------------------------------------------------

    def lines(
        self, texts: Iterator[str], number: int, entries: list[e.Entry], filed: list[Filed]
    ) -> tuple[str | None, int]:
        """Reads lines as long as each is made of words and clauses met before.

        ``number`` is that of the line before them. Returns the first line that is not, and its
        number; no line at the end.
        """
        to_entry = self._to_entry
        clock = to_entry.clock
        times, midnight, shift, by = clock.known, clock.midnight, to_entry.shift, to_entry.usual_writer
        if midnight is None:
            text = next(texts, None)
            return text, number + (text is not None)
        places, inner, last = self._places, self._inner.plain, self._last.plain
        whole, make_entry, make_filed = e.Standing.WHOLE, _entry, _filed
        add_entry, add_filed = entries.append, filed.append
        left = self._until_judged
        begun = number
        for text in texts:
            number += 1
            try:
                stamp, word, body = text.split(None, 2)
                when = midnight + times[stamp]
                place = places[word]
            except (ValueError, KeyError):
                break
            start = len(text) - len(body)
            if start + len(body) > LONGEST:
                break
            writer, own = by, False
            if ";" in body:
                found = self._several(body, start)
                if found is None:
                    break
                clauses, plain = found
                if not plain:
                    try:
                        named, listed = joined(Line(Folded(text, text, None)), place, clauses)
                    except LineRefused:
                        break
                    clauses = listed
                    if named is not None:
                        writer, own = named, True
                clauses = tuple(clauses)
            else:
                clause = last[start].get(body)
                if clause is None:
                    clause = self._moved(body, start, self._last)
                    if clause is None or type(clause) not in PLAIN:
                        break
                clauses = (clause,)
            entry = make_entry(
                when, when, place, clauses, writer, shift, own, whole, stamp, number, text
            )
            add_entry(entry)
            add_filed(make_filed(shift, number, text))
            left -= 1
            if left <= 0:
                left = EVERY
                self._judge(Line(Folded(text, "", None), number), entry)
        else:
            text, number = None, number + 1
        self._until_judged = left
        self.read += number - begun - 1
        return text, number - (text is None)

    def _several(self, body: str, start: int) -> tuple[list[Part], bool] | None:
        """The clauses of a line met before, and whether they are plain; None: there is a new one."""
        pieces = body.split(";")
        end = pieces.pop()
        plain = True
        found = []
        for piece in pieces:
            part = self._inner.plain[start].get(piece)
            if part is None:
                part = self._moved(piece, start, self._inner)
                if part is None:
                    return None
                plain = plain and type(part) in PLAIN
            found.append(part)
            start += len(piece) + 1
        part = self._last.plain[start].get(end)
        if part is None:
            part = self._moved(end, start, self._last)
            if part is None:
                return None
            plain = plain and type(part) in PLAIN
        found.append(part)
        return found, plain

    def _moved(self, piece: str, start: int, known: _Known) -> Part | None:
        """A clause met before, wherever it began, as it is where it begins now."""
        part = known.others[start].get(piece)
        if part is not None:
            return part
        met = known.texts.get(piece)
        if met is None:
            return None
        part, before = met
        if before != start:
            span = _span(part.span.start + start - before, part.span.end + start - before)
            if type(part) is Tail:
                part = Tail(part.kind, span, part.value)
            else:
                part = changed(part, span=span)
        self._keep(part, piece, start, known)
        return part

    def _keep(self, part: Part, piece: str, start: int, known: _Known) -> None:
        self._kept += 1
        if self._kept > _KEPT:
            self._kept = 0
            for each in (self._inner, self._last):
                each.texts.clear()
                for found in (*each.plain.values(), *each.others.values()):
                    found.clear()
        (known.plain if type(part) in PLAIN else known.others)[start][piece] = part

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
        start, end = head.span(1)
        token = _token("AT", text, start, end)
        self._grammar.at(token)  # type: ignore[arg-type]
        self._learn_place(line.folded.line[start:end])
        return self._parts(line, end)

    def _learn_place(self, head: str) -> None:
        word = head.split()[1]
        place = self._to_entry.place
        if place.kind is e.PlaceKind.LOOM and not {",", ";"} & set(head):
            if len(self._places) >= _KEPT:
                self._places.clear()
            self._places[word] = place

    def _parts(self, line: Line, start: int) -> list[Part] | None:
        written, size = line.folded.line, len(line.folded.text)
        parts = []
        while start < size:
            end = written.find(";", start)
            known = self._last if end < 0 else self._inner
            end = size if end < 0 else end
            piece = written[start:end]
            part = known.plain[start].get(piece) or self._moved(piece, start, known)
            if part is None:
                behind = start + len(piece) - len(piece.lstrip())
                if behind == end:
                    start = end + 1
                    continue
                made = self._made(line, behind, min(end + 1, size))
                if made is None:
                    return None
                part, form_end = made
                if form_end == end and self._lasting:
                    self._learn(part, line.folded, start, end, known)
                end = form_end
            parts.append(part)
            start = end + 1
        return parts or None

    def _made(self, line: Line, start: int, end: int) -> tuple[Part, int] | None:
        """The clause that begins there, by its expression, and where it ends."""
        text = line.folded.text
        piece = text[start:end]
        word = piece.split(None, 1)[0]
        for form in self._met.get(word, ()):
            match = form.expression.match(text[start:] if form.whole_line else piece)
            if match is not None:
                return self._by(form, match.regs, line, start)
        first = self._first_lexer.scanner.match(TextSlice(text, 0, len(text)), start)
        for form in self._grammar.clauses.get(first[1], ()) if first else ():
            match = form.expression.match(text[start:] if form.whole_line else piece)
            if match is not None:
                self._meet(word, form)
                return self._by(form, match.regs, line, start)
        return None

    def _meet(self, word: str, form: Form) -> None:
        if len(self._met) >= _KEPT:
            self._met.clear()
        self._met[word] = (form, *(f for f in self._met.get(word, ()) if f is not form))

    def _by(
        self, form: Form, spans: tuple[tuple[int, int], ...], line: Line, start: int
    ) -> tuple[Part, int]:
        if form not in self._judged:
            self._new.append(form)
        text, to_entry, flags = line.folded.text, self._to_entry, len(line.flags)
        tokens = [
            _token(name, text, start + spans[n][0], start + spans[n][1])
            for name, n in zip(form.names, form.groups, strict=True)
        ]
        to_entry.timed = False
        part = form.make(tokens)
        self._lasting = not (form.whole_line or to_entry.timed or len(line.flags) > flags)
        return part, tokens[-1].end_pos or 0

    def _learn(self, part: Part, folded: Folded, start: int, end: int, known: _Known) -> None:
        piece = folded.line[start:end]
        if not self._isolations.is_quiet(part, folded.text[start:end]):
            return
        known.texts[piece] = part, start
        self._keep(part, piece, start, known)

    def judged(self, line: Line, entry: e.Entry) -> None:
        """Counts a line read by ``clauses`` and has it judged when its turn comes."""
        self.read += 1
        self._until_judged -= 1
        if self._until_judged <= 0 or self._new:
            self._until_judged = EVERY
            self._judged.update(self._new)
            self._judge(line, entry)

    # -- headings ------------------------------------------------------------------------------

    def heading(self, line: Line) -> e.Heading | None:
        """The heading that a line is, or None: Lark has to read it. Raises LineRefused."""
        text = line.folded.text
        if not _letter_by_letter(line.folded):
            return None
        for form in self._grammar.headings:
            match = form.expression.match(text)
            if match is not None and match.end() == len(text):
                tokens = [
                    _token(name, text, *match.regs[n])
                    for name, n in zip(form.names, form.groups, strict=True)
                ]
                heading: e.Heading = form.make(tokens)
                return heading
        return None


def _letter_by_letter(folded: Folded) -> bool:
    """Whether each character of a line folds by itself, and to one character."""
    if folded.origin is not None:
        return False
    return folded.line.isascii() or folded.line.casefold() == folded.text


def _token(kind: str, text: str, start: int, end: int) -> Token:
    value = text[start:end]
    token = _new_token(Token, value)
    token.type = kind
    token.value = value
    token.start_pos, token.end_pos = start, end
    token.line = token.end_line = 1
    token.column, token.end_column = start + 1, end + 1
    return token
