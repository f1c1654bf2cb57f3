"""Text of a log to entries and complaints. Never raises on text.

A reader belongs to one mill's vocabulary. It knows of one file at a time: what several files say
together (a line written twice, an action that is not open) is told by ``board.state``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import cached_property

from lark import Lark
from lark.exceptions import UnexpectedInput

from grammar.clock import Moment
from grammar.complaints import Explainer
from grammar.complaints_locks import LockExplainer
from grammar.decoding import LONGEST_LINE, RawLine, lines_of, raw_line, texts_of
from grammar.diagnostics import Code, Diagnostic, LineRefused
from grammar.entries import Entry, Heading, Isolated, Span, Standing
from grammar.fast import FastPath
from grammar.fast_forms import Refused
from grammar.folding import Folded, fold
from grammar.isolation_words import IsolationWords
from grammar.lexer import OneLineLexer
from grammar.line import Line
from grammar.phrases import key_word, reading_grammar, spellings
from grammar.readings import Carried, Filed, LastLine, Reading, Unread
from grammar.transform import ToEntry
from grammar.vocabulary import Vocabulary


__all__ = ["Carried", "Filed", "LastLine", "Reader", "Reading", "Unread"]

_WORTH = 400  # lines read before the fast path is derived; for fewer it takes longer than Lark


class Disagreed(Exception):
    """Carries out of a reading that a line was read fast otherwise than Lark reads it."""


@dataclass(slots=True)
class _File:
    """A file while it is read."""

    heading: Heading | None = None
    twice_at: datetime | None = None
    second_pass_on: date | None = None
    entries: list[Entry] = field(default_factory=list)
    diagnostics: list[Diagnostic] = field(default_factory=list)
    headings: list[Heading] = field(default_factory=list)
    may_isolate: list[Unread] = field(default_factory=list)
    filed: list[Filed] = field(default_factory=list)
    skipped: int = 0


class Reader:
    """Reads logs in the words of one mill. Not for use by two threads at once."""

    def __init__(self, vocabulary: Vocabulary, *, cache: str | None = None) -> None:
        self.vocabulary = vocabulary
        self._to_entry = ToEntry(vocabulary)
        self._lark = Lark(
            reading_grammar(vocabulary),
            parser="lalr",
            lexer="contextual",
            start=["heading", "entry"],
            transformer=self._to_entry,
            propagate_positions=False,
            maybe_placeholders=False,
            cache=cache or False,
            _plugins={"ContextualLexer": OneLineLexer},
        )
        self._day = re.compile(rf"\s*{key_word(spellings(vocabulary, ('day',)))}")
        self._file = _File()
        self._fast: FastPath | None = None
        self._lines_met = 0
        self.alone = ""  # why Lark reads every line itself, where it does so for good

    @cached_property
    def _explainer(self) -> Explainer:
        return Explainer(self.vocabulary)

    @cached_property
    def _isolation_words(self) -> IsolationWords:
        return IsolationWords(self.vocabulary)

    @cached_property
    def _lock_explainer(self) -> LockExplainer:
        return LockExplainer(self.vocabulary, self._isolation_words)

    def read(
        self,
        data: bytes | str,
        last_line: LastLine = LastLine.SETTLED,
        carried: Carried | None = None,
    ) -> Reading:
        """The entries and complaints of a whole log file, or of the lines behind a part read.

        Where a line that was read fast turns out to be read otherwise by Lark, all lines are read
        again by Lark, and so is every line from then on; the reading's ``notices`` say so.
        """
        if isinstance(data, str):
            data = data.encode("utf-8", errors="surrogatepass")
        before = carried or Carried()
        try:
            return self._read(data, last_line, before)
        except Disagreed as disagreed:
            self.alone = str(disagreed)
            self._fast = None
            self._to_entry.forget()
            return replace(self._read(data, last_line, before), notices=(self.alone,))

    def _read(self, data: bytes, last_line: LastLine, before: Carried) -> Reading:
        self._file = file = _File(before.heading, before.twice_at, before.second_pass_on)
        self._to_entry.under(before.heading)
        growing = last_line is LastLine.GROWING and not data.endswith(b"\n")
        last, texts = None, texts_of(data, before.lines + 1)
        if texts is not None:
            count = len(texts)
            if growing and texts:
                last = raw_line(before.lines + count, texts.pop())
            self._texts(texts, before.lines, file)
        else:
            lines = lines_of(data, before.lines + 1)
            count = len(lines)
            last = lines.pop() if growing and lines else None
            for raw in lines:
                self._line(raw, file)
        after = Carried(
            heading=file.heading,
            twice_at=file.twice_at,
            second_pass_on=file.second_pass_on,
            lines=before.lines + count - (last is not None),
        )
        return Reading(
            unfinished=self._unfinished(last, file) if last is not None else None,
            entries=tuple(file.entries),
            diagnostics=tuple(file.diagnostics),
            headings=tuple(file.headings),
            filed=tuple(file.filed),
            lines=count,
            skipped=file.skipped,
            may_isolate=tuple(file.may_isolate),
            carried=after,
        )

    def _texts(self, texts: list[str], number: int, file: _File) -> None:
        """Reads the lines behind line ``number``, fast where that can be."""
        fast = self._fast_path(len(texts))
        rest = iter(texts)
        while True:
            text: str | None
            if fast is not None:
                text, number = fast.lines(rest, number, file.entries, file.filed)
            else:
                text, number = next(rest, None), number + 1
            if text is None:
                return
            self._line(raw_line(number, text), file)

    def _fast_path(self, lines: int) -> FastPath | None:
        """The fast path, once it is worth deriving; None where it is not or cannot be derived."""
        self._lines_met += lines
        if self._fast is None and not self.alone and self._lines_met >= _WORTH:
            try:
                self._fast = FastPath(
                    self._lark, self._to_entry, self._isolation_words, self._day.pattern, self._judge
                )
            except Refused as refused:
                self.alone = str(refused)
        return self._fast

    def _judge(self, line: Line, entry: Entry) -> None:
        """Has Lark read a line that was read fast. Raises Disagreed where it is not the same."""
        told = _told(self._to_entry.moment)
        again = Line(fold(line.folded.line), line.number)
        self._to_entry.begin(again, self._file.second_pass_on)
        try:
            read = self._to_entry.entry(self._lark.parse(again.folded.text, start="entry"))
        except (UnexpectedInput, LineRefused):
            read = None
        same = read is not None and _whole(read) == _whole(entry) and again.flags == line.flags
        if not same or _told(self._to_entry.moment) != told:
            raise Disagreed(
                f"line {line.number} was read in two ways, so every line is read the slow and sure"
                f" way from now on: {line.folded.line}"
            )

    def _unfinished(self, raw: RawLine, file: _File) -> Unread | None:
        """The line that is still being written: only an isolation in it counts already."""
        if not raw.text.strip() or raw.text.startswith("#"):
            file.skipped += 1
            return None
        trial = _File(file.heading, file.twice_at, file.second_pass_on)
        self._line(raw, trial)
        for entry in trial.entries:
            locks = tuple(c for c in entry.clauses if isinstance(c, Isolated))
            if locks:
                file.entries.append(replace(entry, clauses=locks, standing=Standing.UNFINISHED))
        file.may_isolate += trial.may_isolate
        return Unread(line=raw.number, text=raw.text[:LONGEST_LINE])

    # -- one line --------------------------------------------------------------------------

    def _line(self, raw: RawLine, file: _File) -> None:
        text = raw.text
        if not text or text.startswith("#") or text.isspace():
            file.skipped += 1
            return
        if raw.odd_encoding:
            self._odd_encoding(raw, file)
        folded = fold(text if len(text) <= LONGEST_LINE else text[:LONGEST_LINE])
        if self._day.match(folded.text):
            file.heading = None  # a refused heading is no heading
            self._to_entry.under(None)
            file.skipped += 1
            if raw.too_long:
                self._too_long(raw, folded, file)
            else:
                self._heading_line(Line(folded, raw.number), file)
            return
        if file.heading is not None:
            file.filed.append(Filed(shift=file.heading.shift, line=raw.number, text=text))
        if raw.too_long:
            self._too_long(raw, folded, file)
        else:
            self._entry_line(Line(folded, raw.number), file)

    def _odd_encoding(self, raw: RawLine, file: _File) -> None:
        odd = [i for i, character in enumerate(raw.text) if not character.isascii()]
        file.diagnostics.append(
            Diagnostic(
                code=Code.ODD_ENCODING,
                message="the line is not UTF-8 and was read as Windows-1252",
                line=raw.number,
                span=Span(odd[0], odd[0] + 1),
                text=raw.text[:LONGEST_LINE],
                help="set the editor to UTF-8",
            )
        )

    def _too_long(self, raw: RawLine, folded: Folded, file: _File) -> None:
        shown = raw.text[:200]
        self._refuse(
            Diagnostic(
                code=Code.LINE_TOO_LONG,
                message="the line is longer than 4,096 bytes and is refused whole",
                line=raw.number,
                span=Span(0, 1),
                text=shown,
                help="write it as several lines",
            ),
            Line(folded, raw.number),
            file,
        )
        if self._isolation_words.anywhere(raw.text[LONGEST_LINE:]):
            self._may_isolate(raw.number, shown, file)

    def _heading_line(self, line: Line, file: _File) -> None:
        try:
            heading = self._heading(line)
        except UnexpectedInput as error:
            self._complain(self._explainer.headings.explain(line, error), line, file)
        except LineRefused as refused:
            self._complain(refused.diagnostic, line, file)
        else:
            file.heading = heading
            self._to_entry.under(heading)
            file.headings.append(heading)

    def _heading(self, line: Line) -> Heading:
        """The heading that a line is. Raises UnexpectedInput, LineRefused."""
        self._to_entry.begin(line, None)
        found = self._fast.heading(line) if self._fast is not None else None
        if found is None:
            read = self._lark.parse(line.folded.text, start="heading")
            assert isinstance(read, Heading)
            found = read
        return found

    def _entry_line(self, line: Line, file: _File) -> None:
        entry = self._parse_entry(line, file)
        if entry is None:
            return
        moment = self._to_entry.moment
        if moment is None:
            pass
        elif moment.second_on is not None:
            file.second_pass_on = moment.second_on
        elif moment.bare is not None and self._stepped_back(moment.bare, file):
            file.second_pass_on = moment.bare.date()
            line.flags.clear()
            entry = self._parse_entry(line, file)
            if entry is None:
                return
        file.entries.append(entry)
        if line.flags:
            file.diagnostics += line.flags
        if self._isolation_words.swallowed(line.folded, entry.clauses):
            self._may_isolate(line.number, line.folded.line, file)

    def _stepped_back(self, bare: datetime, file: _File) -> bool:
        """Whether the times of the file went back inside a repeated hour just here."""
        before, file.twice_at = file.twice_at, bare
        already = file.second_pass_on == bare.date()
        return not already and before is not None and before.date() == bare.date() and bare < before

    def _fast_entry(self, line: Line, fast: FastPath) -> Entry | None:
        """The entry of a line where it can be read fast. Raises Disagreed."""
        try:
            parts = fast.clauses(line)
            if parts is not None:
                entry = self._to_entry.entry(parts)
                fast.judged(line, entry)
                return entry
        except LineRefused:
            pass  # Lark comes to the same, or to another complaint that stands before it
        line.flags.clear()
        return None

    def _parse_entry(self, line: Line, file: _File) -> Entry | None:
        self._to_entry.begin(line, file.second_pass_on)
        if self._fast is not None:
            entry = self._fast_entry(line, self._fast)
            if entry is not None:
                return entry
            self._to_entry.begin(line, file.second_pass_on)
        try:
            return self._to_entry.entry(self._lark.parse(line.folded.text, start="entry"))
        except UnexpectedInput as error:
            self._refuse(self._explainer.entry(line, error), line, file)
            if self._explainer.headings.is_meant(line):
                self._no_heading(line, file)
        except LineRefused as refused:
            self._refuse(refused.diagnostic, line, file)
        return None

    def _no_heading(self, line: Line, file: _File) -> None:
        """A line that was meant for a heading: the one before it holds no longer."""
        if file.heading is not None and file.filed[-1].line == line.number:
            file.filed.pop()
        file.heading = None
        file.skipped += 1
        self._to_entry.under(None)

    def _refuse(self, diagnostic: Diagnostic, line: Line, file: _File) -> None:
        """A refused line: its complaint, and what it may say of isolations counts or is shown."""
        salvaged = self._salvage(line, file)
        self._complain(diagnostic, line, file)
        if salvaged is not None:
            file.entries.append(salvaged)

    def _complain(self, diagnostic: Diagnostic, line: Line, file: _File) -> None:
        if self._isolation_words.near(line.folded.text):
            diagnostic = self._lock_explainer.instead(diagnostic, line.folded)
            self._may_isolate(diagnostic.line, diagnostic.text, file)
        file.diagnostics.append(diagnostic)

    def _may_isolate(self, number: int, text: str, file: _File) -> None:
        if not file.may_isolate or file.may_isolate[-1].line != number:
            file.may_isolate.append(Unread(line=number, text=text))

    def _salvage(self, line: Line, file: _File) -> Entry | None:
        """The isolations of a refused line: they count all the same."""
        only = self._isolation_words.only_isolations(line.folded.text)
        if only is None:
            return None
        blanked = Line(Folded(line.folded.line, only, line.folded.origin), line.number)
        self._to_entry.begin(blanked, file.second_pass_on)
        try:
            entry = self._to_entry.entry(self._lark.parse(only, start="entry"))
        except (UnexpectedInput, LineRefused):
            return None  # its time or its loom is not known: shown, not counted
        file.diagnostics += blanked.flags
        return replace(entry, standing=Standing.ISOLATIONS_ONLY)


def _whole(entry: Entry) -> tuple[object, ...]:
    """Everything that an entry holds, what is left out of comparing too."""
    spans = [clause.span for clause in entry.clauses]
    return entry, entry.stamp, entry.line, entry.text, spans


def _told(moment: Moment | None) -> tuple[object, object]:
    """What a line's time tells of a repeated hour."""
    return (moment.bare, moment.second_on) if moment is not None else (None, None)
