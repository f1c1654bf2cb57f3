"""Text of a log to entries and complaints. Never raises on text.

A reader belongs to one mill's vocabulary. It knows of one file at a time: what several files say
together (a line written twice, an action that is not open) is told by ``board.state``.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING

from lark import Lark
from lark.exceptions import UnexpectedInput

from grammar.complaints_lines import odd_encoding, too_long
from grammar.decoding import LONGEST_LINE, RawLine, lines_of, raw_line, texts_of
from grammar.diagnostics import Diagnostic, LineRefused
from grammar.ditto import WRITTEN_OUT, below_a_lock, is_lock_last
from grammar.driving import by_lark, driven
from grammar.entries import Entry, Heading, Isolated, Standing
from grammar.fast_judging import Disagreed
from grammar.folding import Folded, fold
from grammar.isolation_words import IsolationWords
from grammar.line import Line
from grammar.phrases import key_word, reading_grammar, spellings
from grammar.readings import Carried, Filed, Gathered, LastLine, Reading, Unread
from grammar.transform import ToEntry
from grammar.vocabulary import Vocabulary

if TYPE_CHECKING:
    from grammar.complaints import Explainer
    from grammar.complaints_locks import LockExplainer
    from grammar.fast import FastPath

__all__ = ["Carried", "Filed", "LastLine", "Reader", "Reading", "Unread"]

_STARTS = ("heading", "entry")
WORTH = 12_000  # lines for which deriving the fast path takes as long as it saves
_LONGEST_WORD = 64  # characters that a phrase of isolation takes at most


class Reader:
    """Reads logs in the words of one mill. Not for use by two threads at once."""

    def __init__(self, vocabulary: Vocabulary, *, cache: str | None = None) -> None:
        self.vocabulary = vocabulary
        self._to_entry = ToEntry(vocabulary)
        self._lark = Lark(
            reading_grammar(vocabulary),
            parser="lalr",
            lexer="contextual",
            start=[*_STARTS],
            transformer=self._to_entry,
            propagate_positions=False,
            maybe_placeholders=False,
            cache=cache or False,
        )
        self._parse = driven(self._lark, _STARTS)
        self._day = re.compile(rf"\s*{key_word(spellings(vocabulary, ('day',)))}")
        self._fast: FastPath | None = None
        self._lines_met = 0
        self.alone = ""  # why Lark reads every line itself, where it does so

    @cached_property
    def _explainer(self) -> Explainer:
        from grammar.complaints import Explainer  # most logs have nothing to complain of

        return Explainer(self.vocabulary)

    @cached_property
    def _isolation_words(self) -> IsolationWords:
        return IsolationWords(self.vocabulary)

    @cached_property
    def _lock_explainer(self) -> LockExplainer:
        from grammar.complaints_locks import LockExplainer

        return LockExplainer(self.vocabulary, self._isolation_words)

    def read(
        self,
        data: bytes | str,
        last_line: LastLine = LastLine.SETTLED,
        carried: Carried | None = None,
    ) -> Reading:
        """The entries and complaints of a whole log file, or of the lines behind a part read.

        Where Lark reads a line otherwise than it was read fast, all lines are read again by Lark,
        and so is every line from then on; ``notices`` says so.
        """
        if isinstance(data, str):
            data = data.encode("utf-8", errors="surrogatepass")
        before = carried or Carried()
        try:
            return self._read(data, last_line, before)
        except Disagreed as disagreed:
            self.alone = str(disagreed)
        except Exception as error:
            if self._fast is None:
                raise
            self.alone = f"a line could not be read fast: {error!r}"
        self._fast = None
        self._parse = by_lark(self._lark, _STARTS)
        self._to_entry.forget()
        return replace(self._read(data, last_line, before), notices=(self.alone,))

    def _read(self, data: bytes, last_line: LastLine, before: Carried) -> Reading:
        file = Gathered.begun(before)
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
        lock_above = is_lock_last(file, len(file.filed))
        after = file.carried(before.lines + count - (last is not None), lock_above=lock_above)
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

    def _texts(self, texts: list[str], number: int, file: Gathered) -> None:
        """Reads the lines behind line ``number``, fast where that can be."""
        fast = self._fast_path(sum(map(bool, texts)))  # blank ones need no reading
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

    def expect(self, lines: int) -> None:
        """Tells how many lines are about to be read; the fast path is derived now, if worth it."""
        self._fast_path(lines)

    def _fast_path(self, lines: int) -> FastPath | None:
        """The fast path, once it is worth deriving; None where it is not or cannot be derived."""
        self._lines_met += lines
        if self._fast is None and self._lines_met >= WORTH:
            self.derive()
        return self._fast

    def derive(self) -> None:
        """Derives the fast path now; ``alone`` says why where it cannot be."""
        if self.alone:
            return
        from grammar.fast import FastPath  # heavy, and never needed where few lines are read
        from grammar.fast_forms import Refused

        day, words = self._day.pattern, self._isolation_words
        try:
            self._fast = FastPath(self._lark, self._to_entry, words, day)
        except Refused as refused:
            self.alone = str(refused)

    @property
    def read_fast(self) -> int:
        """How many lines were read without Lark, headings not counted."""
        return self._fast.read if self._fast is not None else 0

    def _unfinished(self, raw: RawLine, file: Gathered) -> Unread | None:
        """The line that is still being written: only an isolation in it counts already."""
        if not raw.text.strip() or raw.text.startswith("#"):
            file.skipped += 1
            return None
        lock_above = is_lock_last(file, len(file.filed))
        trial = Gathered.begun(file.carried(raw.number, lock_above=lock_above))
        self._line(raw, trial)
        for entry in trial.entries:
            locks = tuple(c for c in entry.clauses if isinstance(c, Isolated))
            if locks:
                file.entries.append(replace(entry, clauses=locks, standing=Standing.UNFINISHED))
        file.may_isolate += trial.may_isolate
        return Unread(line=raw.number, text=raw.text[:LONGEST_LINE])

    # -- one line --------------------------------------------------------------------------

    def _line(self, raw: RawLine, file: Gathered) -> None:
        text = raw.text
        if not text or text.startswith("#") or text.isspace():
            file.skipped += 1
            return
        if raw.odd_encoding:
            file.diagnostics.append(odd_encoding(raw))
        folded = fold(text if len(text) <= LONGEST_LINE else text[:LONGEST_LINE])
        if self._day.match(folded.text):
            file.at_heading()
            self._to_entry.under(None)
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

    def _too_long(self, raw: RawLine, folded: Folded, file: Gathered) -> None:
        complaint = too_long(raw)
        self._refuse(complaint, Line(folded, raw.number), file)
        # what was cut off, with a word that the cut may have parted
        around = self._isolation_words.around(raw.text[LONGEST_LINE - _LONGEST_WORD :])
        if around is not None:
            file.show(raw.number, f"{folded.line} ~ {around}", more=True)

    def _heading_line(self, line: Line, file: Gathered) -> None:
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
        found: object = self._fast.heading(line) if self._fast is not None else None
        if found is None:
            found = self._parse["heading"](line.folded.text)
        assert isinstance(found, Heading)
        return found

    def _entry_line(self, line: Line, file: Gathered) -> None:
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
            self._show_more(line, file)

    def _stepped_back(self, bare: datetime, file: Gathered) -> bool:
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
        except LineRefused:  # Lark comes to the same, or to another complaint that stands before it
            pass
        line.flags.clear()
        return None

    def _parse_entry(self, line: Line, file: Gathered) -> Entry | None:
        self._to_entry.begin(line, file.second_pass_on)
        if self._fast is not None:
            entry = self._fast_entry(line, self._fast)
            if entry is not None:
                return entry
            self._to_entry.begin(line, file.second_pass_on)
        try:
            return self._to_entry.entry(self._parse["entry"](line.folded.text))
        except UnexpectedInput as error:
            self._refuse(self._explainer.entry(line, error), line, file)
            if self._explainer.headings.is_meant(line):
                self._no_heading(line, file)
        except LineRefused as refused:
            self._refuse(refused.diagnostic, line, file)
        return None

    def _no_heading(self, line: Line, file: Gathered) -> None:
        """A line that was meant for a heading: the one before it holds no longer."""
        file.no_heading(line.number)
        self._to_entry.under(None)

    def _refuse(self, diagnostic: Diagnostic, line: Line, file: Gathered) -> None:
        """A refused line: its complaint, and what it may say of isolations counts or is shown."""
        salvaged = self._salvage(line, file)
        self._complain(diagnostic, line, file)
        if salvaged is not None:
            file.entries.append(salvaged)
            words = self._isolation_words
            if words.left_over(line.folded) or words.swallowed(line.folded, salvaged.clauses):
                self._show_more(line, file)

    def _show_more(self, line: Line, file: Gathered) -> None:
        by = self._isolation_words.writer(line.folded)
        file.show(line.number, line.folded.line, more=True, by=by)

    def _complain(self, diagnostic: Diagnostic, line: Line, file: Gathered) -> None:
        words, folded = self._isolation_words, line.folded
        if below_a_lock(line.number, file):
            diagnostic = replace(diagnostic, help=WRITTEN_OUT)
            file.show(diagnostic.line, folded.line, by=words.writer(folded))
        elif words.speaks(folded, 0, len(folded.text)):
            diagnostic = self._lock_explainer.instead(diagnostic, folded)
            file.show(diagnostic.line, folded.line, by=words.writer(folded))
        file.diagnostics.append(diagnostic)

    def _salvage(self, line: Line, file: Gathered) -> Entry | None:
        """The isolations of a refused line: they count all the same."""
        only = self._isolation_words.only_isolations(line.folded.text)
        if only is None:
            return None
        blanked = Line(line.folded._replace(text=only), line.number, only_locks=True)
        self._to_entry.begin(blanked, file.second_pass_on)
        try:
            entry = self._to_entry.entry(self._parse["entry"](only))
        except (UnexpectedInput, LineRefused):
            return None  # its time or its loom is not known: shown, not counted
        file.diagnostics += blanked.flags
        return replace(entry, standing=Standing.ISOLATIONS_ONLY)
