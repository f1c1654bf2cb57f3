"""The fast way to read a line: by the expressions of ``fast_forms``, and by clauses read before.

What is read here is what Lark would have read: the same terminals, handed to the same methods of
the transformer. A clause that was met before is not made again. Whatever is not surely read so is
left to Lark, whole; this module complains of nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from lark import Lark, Token
from lark.utils import TextSlice

from grammar import entries as e
from grammar.diagnostics import LineRefused
from grammar.fast_forms import Form, Grammar, Refused, derive
from grammar.fast_judging import judge, judge_heading
from grammar.fast_memory import KEPT, LONGEST_KEPT, Memory, Part
from grammar.fast_patterns import Unprovable, stays_in_clause
from grammar.folding import Folded, fold
from grammar.isolation_words import IsolationWords
from grammar.line import Line
from grammar.making import placer
from grammar.readings import Filed
from grammar.together import Tail, joined
from grammar.transform import PLAIN, ToEntry

LONGEST = 1024  # [characters] of a line that is read here; a longer one may be too long [bytes]
EVERY = 512  # so many lines read here are followed by one that Lark reads too

_NOTHING = Folded("", "", None)

_new_token = str.__new__
_new_tuple = tuple.__new__
_entry = placer(e.Entry)
_filed = placer(Filed)


class FastPath:
    """Reads the lines of one mill fast; made for one Lark and its transformer.

    Lark reads one line in so many too, and the first of every form, and raises Disagreed where it
    reads another thing. Raises Refused where nothing can be derived.
    """

    def __init__(self, lark: Lark, to_entry: ToEntry, isolations: IsolationWords, day: str) -> None:
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
        self._lark = lark
        self._met: dict[str, tuple[Form, ...]] = {}  # by the first word of a clause
        self._judged: set[Form] = set()
        self._new: list[Form] = []  # forms of the line being read that were not judged yet
        self._lasting = False  # whether the clause made last means the same wherever it stands
        self._line = Line(_NOTHING)
        self._headings = 0
        self.read = 0
        self.forget()

    def forget(self) -> None:
        """Forgets every clause met so far."""
        self._inner = Memory()  # clauses with a ; behind them
        self._last = Memory()  # clauses at a line's end
        self._places: dict[str, e.Place] = {}

    # -- lines of a time and place met before, on a day without a clock change ---------------------

    def lines(
        self, texts: Iterator[str], number: int, entries: list[e.Entry], filed: list[Filed]
    ) -> tuple[str | None, int]:
        """Reads lines until one that is no plain entry of a time and place met before.

        ``number`` is that of the line before them. Returns that one line and its number; no line
        at the end.
        """
        self._new.clear()
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
                        part = self._fresh(start, stop) if piece and not piece.isspace() else None
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
        return made[0] if self._learn(made[0], line.folded, start, stop) else None

    def _have_judged(self, line: Line, entry: e.Entry) -> None:
        """Has Lark read a line too that was read here."""
        self._judged.update(self._new)
        self._new.clear()
        if entry.text is not self._to_entry.line.folded.line:
            self._to_entry.begin(line, None)
        judge(self._lark, self._to_entry, line, entry)

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
            if len(self._places) >= KEPT:
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
                if form_end == end:
                    self._learn(part, line.folded, start, end)
                end = form_end
            if part is not None:
                parts.append(part)
            start = end + 1
        return parts or None

    def _made(self, line: Line, start: int, stop: int) -> tuple[Part, int] | None:
        """The clause that a stretch holds, by its expression, and where it ends."""
        text, to_entry = line.folded.text, self._to_entry
        whole = text[start : stop + 1]  # with the ; behind it
        piece = whole.lstrip()
        begun = start + len(whole) - len(piece)
        word = piece.split(None, 1)[0]
        flags = len(line.flags)
        to_entry.timed = False
        for form in self._met.get(word, ()):
            made = form.read(text[begun:] if form.whole_line else piece, begun)
            if made is not None:
                break
        else:
            first = self._first_lexer.scanner.match(TextSlice(text, 0, len(text)), begun)
            for form in self._grammar.clauses.get(first[1], ()) if first else ():
                made = form.read(text[begun:] if form.whole_line else piece, begun)
                if made is not None:
                    self._meet(word, form)
                    break
            else:
                return None
        if form not in self._judged:
            self._new.append(form)
        self._lasting = not (form.whole_line or to_entry.timed or len(line.flags) > flags)
        return made

    def _meet(self, word: str, form: Form) -> None:
        if len(self._met) >= KEPT:
            self._met.clear()
        self._met[word] = (form, *(f for f in self._met.get(word, ()) if f is not form))

    def _learn(self, part: Part, folded: Folded, start: int, end: int) -> bool:
        """Remembers a clause where it lasts; whether it surely hides no isolation."""
        if not self._isolations.is_quiet(part, folded, start, end):
            return False
        if self._lasting and end - start <= LONGEST_KEPT:
            memory = self._last if end == len(folded.text) else self._inner
            memory.keep(folded.line[start:end], part, start)
        return True

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
            made = form.read(text, 0)
            if made is not None:
                heading: e.Heading = made[0]
                self._headings += 1
                if form not in self._judged or not self._headings % EVERY:
                    self._judged.add(form)
                    judge_heading(self._lark, line, heading)
                return heading
        return None


def _letter_by_letter(folded: Folded) -> bool:
    """Whether each character of a line folds by itself, and to one character."""
    if folded.origin is not None:
        return False
    return folded.line.isascii() or folded.line.casefold() == folded.text
