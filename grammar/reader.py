"""Text of a log to entries and complaints. Never raises on text.

A reader belongs to one mill's vocabulary. It knows of one file at a time: what several files say
together (a line written twice, an action that is not open) is told by ``board.state``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from enum import Enum
from functools import cached_property

from lark import Lark
from lark.exceptions import UnexpectedInput

from grammar import times
from grammar.complaints import Explainer
from grammar.decoding import LONGEST_LINE, RawLine, lines_of
from grammar.diagnostics import Code, Diagnostic, LineRefused
from grammar.entries import Entry, Heading, Isolated, Shift, Span, Standing
from grammar.folding import Folded, fold
from grammar.isolation_words import IsolationWords
from grammar.phrases import grammar_text, spellings
from grammar.transform import LineContext, ToEntry
from grammar.vocabulary import Vocabulary, alternatives


class LastLine(Enum):
    """What a last line without its newline is taken for."""

    GROWING = "growing"  # still being written: shown, not counted but for an isolation
    SETTLED = "settled"  # the file has been quiet: an entry like any other


@dataclass(frozen=True, slots=True, kw_only=True)
class Unread:
    """A refused line that may hide an isolation, or the unfinished last line."""

    line: int
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Filed:
    """A line that is no heading, as it is filed under a shift; refused lines too."""

    shift: Shift
    line: int
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What a text holds.

    ``lines`` counts physical lines, ``skipped`` those of them that are blank, comments or
    headings. ``may_isolate`` are refused lines with a word of isolation in them that was not
    understood.
    """

    entries: tuple[Entry, ...] = ()
    diagnostics: tuple[Diagnostic, ...] = ()
    headings: tuple[Heading, ...] = ()
    filed: tuple[Filed, ...] = ()
    lines: int = 0
    skipped: int = 0
    may_isolate: tuple[Unread, ...] = ()
    unfinished: Unread | None = None


@dataclass(slots=True)
class _File:
    """What the lines so far tell the next one."""

    heading: Heading | None = None
    twice_at: datetime | None = None  # the last wall time in a repeated hour
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
            grammar_text(vocabulary),
            parser="lalr",
            lexer="contextual",
            start=["heading", "entry"],
            transformer=self._to_entry,
            propagate_positions=False,
            maybe_placeholders=False,
            cache=cache or False,
        )
        day_words = alternatives(spellings(vocabulary, ("day",)))
        self._heading = re.compile(rf"\s*(?:{day_words})(?![\w-])")

    @cached_property
    def _explainer(self) -> Explainer:
        return Explainer(self.vocabulary)

    @cached_property
    def _isolation_words(self) -> IsolationWords:
        return IsolationWords(self.vocabulary)

    def read(self, data: bytes | str, last_line: LastLine = LastLine.SETTLED) -> Reading:
        """The entries and complaints of a whole log file."""
        if isinstance(data, str):
            data = data.encode("utf-8", errors="surrogatepass")
        file = _File()
        lines = lines_of(data)
        unfinished = None
        if lines and not lines[-1].ended and last_line is LastLine.GROWING:
            unfinished = self._unfinished(lines.pop(), file, lines)
        else:
            self._read_lines(lines, file)
        return Reading(
            entries=tuple(file.entries),
            diagnostics=tuple(file.diagnostics),
            headings=tuple(file.headings),
            filed=tuple(file.filed),
            lines=len(lines) + (unfinished is not None),
            skipped=file.skipped,
            may_isolate=tuple(file.may_isolate),
            unfinished=unfinished,
        )

    def _read_lines(self, lines: list[RawLine], file: _File) -> None:
        for raw in lines:
            self._line(raw, file)

    def _unfinished(self, raw: RawLine, file: _File, before: list[RawLine]) -> Unread | None:
        self._read_lines(before, file)
        if not raw.text.strip() or raw.text.startswith("#"):
            return None
        trial = _File(file.heading, file.twice_at, file.second_pass_on)
        self._line(raw, trial)
        for entry in trial.entries:
            locks = tuple(c for c in entry.clauses if isinstance(c, Isolated))
            if locks:
                file.entries.append(replace(entry, clauses=locks, standing=Standing.UNFINISHED))
        file.may_isolate += trial.may_isolate
        return Unread(line=raw.number, text=raw.text)

    # -- one line --------------------------------------------------------------------------

    def _line(self, raw: RawLine, file: _File) -> None:
        text = raw.text
        if not text.strip() or text.startswith("#"):
            file.skipped += 1
            return
        if raw.odd_encoding:
            file.diagnostics.append(
                Diagnostic(
                    code=Code.ODD_ENCODING,
                    message="the line is not UTF-8 and was read as Windows-1252",
                    line=raw.number,
                    span=Span(0, min(len(text), LONGEST_LINE)),
                    text=text,
                    help="set the editor to UTF-8",
                )
            )
        folded = fold(text[:LONGEST_LINE])
        if not raw.too_long and self._heading.match(folded.text):
            self._heading_line(folded, raw, file)
            return
        if file.heading is not None:
            shift = file.heading.shift
            file.filed.append(Filed(shift=shift, line=raw.number, text=text))
        if raw.too_long:
            self._too_long(raw, file)
        else:
            self._entry_line(folded, raw, file)

    def _too_long(self, raw: RawLine, file: _File) -> None:
        file.diagnostics.append(
            Diagnostic(
                code=Code.LINE_TOO_LONG,
                message="the line is longer than 4,096 bytes and is refused whole",
                line=raw.number,
                span=Span(0, 1),
                text=raw.text[:200],
                help="write it as several lines",
            )
        )
        if self._isolation_words.near(fold(raw.text).text):
            file.may_isolate.append(Unread(line=raw.number, text=raw.text[:200]))

    def _heading_line(self, folded: Folded, raw: RawLine, file: _File) -> None:
        file.heading = None  # a refused heading is no heading
        file.skipped += 1
        context = LineContext(folded=folded, line=raw.number)
        self._to_entry.context = context
        try:
            heading = self._lark.parse(folded.text, start="heading")
            assert isinstance(heading, Heading)
            file.heading = heading
            file.headings.append(heading)
        except UnexpectedInput as error:
            self._refuse(self._explainer.heading(folded, raw.number, error), folded, file)
        except LineRefused as refused:
            self._refuse(refused.diagnostic, folded, file)

    def _entry_line(self, folded: Folded, raw: RawLine, file: _File) -> None:
        context = LineContext(
            folded=folded,
            line=raw.number,
            heading=file.heading,
            second_pass_on=file.second_pass_on,
        )
        entry = self._parse_entry(context, file)
        if entry is None:
            return
        if context.local is not None and self._stepped_back(context.local, file):
            file.second_pass_on = context.local.date()
            again = replace(context, second_pass_on=file.second_pass_on, flags=[])
            entry = self._parse_entry(again, file)
            context = again
            if entry is None:
                return
        file.entries.append(entry)
        file.diagnostics += context.flags

    def _stepped_back(self, local: datetime, file: _File) -> bool:
        """Whether the times of the file went back inside a repeated hour just here."""
        if not times.came_twice(local, self.vocabulary.zone):
            return False
        before, file.twice_at = file.twice_at, local
        already = file.second_pass_on == local.date()
        stepped = before is not None and before.date() == local.date() and local < before
        return stepped and not already

    def _parse_entry(self, context: LineContext, file: _File) -> Entry | None:
        self._to_entry.context = context
        folded = context.folded
        try:
            entry = self._lark.parse(folded.text, start="entry")
        except UnexpectedInput as error:
            diagnostic = self._explainer.entry(folded, context.line, error)
        except LineRefused as refused:
            diagnostic = refused.diagnostic
        else:
            assert isinstance(entry, Entry)
            return entry
        salvaged = self._salvage(context)
        if salvaged is not None:
            file.entries.append(salvaged)
        self._refuse(diagnostic, folded, file)
        return None

    def _refuse(self, diagnostic: Diagnostic, folded: Folded, file: _File) -> None:
        file.diagnostics.append(diagnostic)
        if self._isolation_words.near(folded.text):
            file.may_isolate.append(Unread(line=diagnostic.line, text=folded.line))

    def _salvage(self, context: LineContext) -> Entry | None:
        """The isolations of a refused line: they count all the same."""
        text = context.folded.text
        head = re.match(r"\s*\S+\s+[^\s;]+", text)
        if head is None or not self._isolation_words.near(text):
            return None
        locks: list[Isolated] = []
        entry: Entry | None = None
        at = head.end()
        for piece in re.finditer(r"[^;]+", text[at:]):
            # the other clauses are blanked, so that every place in the line stays what it was
            only = text[:at] + " " * piece.start() + piece[0]
            self._to_entry.context = replace(context, flags=[])
            try:
                found = self._lark.parse(only, start="entry")
            except (UnexpectedInput, LineRefused):
                continue
            if isinstance(found, Entry):
                new = [c for c in found.clauses if isinstance(c, Isolated)]
                if new:
                    locks += new
                    entry = found
        if entry is None:
            return None
        return replace(entry, clauses=tuple(locks), standing=Standing.ISOLATIONS_ONLY)
