"""Which line is to be written for what somebody typed, in which file and under which heading.

Pure: the words, the clock and the mill go in, a draft comes out; whether it makes sense is left to
``judging``, appending to ``board.record.writer``. What was typed is kept as it is; only what it
leaves open is put in: the time, an action's number, a seal, and the mark of a line that was kept
against its complaint.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import replace
from datetime import datetime

from board.clock_typed import filed
from board.mill import Mill
from board.record.filing import addition, heading_text, log_path
from board.snapshot import FileReading, lines_by_shift
from board.state.seals import seal_of
from grammar.decoding import lines_of, with_line_feeds
from grammar.diagnostics import Code, Diagnostic
from grammar.entries import Entry, Opened, Seal, Shift, Span, Standing, TakenOver
from grammar.folding import fold, fold_word
from grammar.frozen import dataclass
from grammar.phrases import spellings
from grammar.reader import Reader, Reading
from grammar.vocabulary import Vocabulary, alternatives

KEPT_ANYWAY = "; note kept anyway"
ODD_BYTES = "the line is not UTF-8 and was read as Windows-1252"
NOBODY = "nobody"  # stands in a heading while the writer is not known; never written

_MOST_DIGITS = 9  # of an action's number in the language
_CLOCK_LIKE = re.compile(r"[0-9]{1,2}:[0-9]{2}|[0-9]{4}")
_SUGGESTED = re.compile(
    r"did you mean (?P<near>.+)\?|put a blank: (?P<apart>.+)"
    r"|write (?!it like|one |a |its |the )(?P<whole>[^,;]+)"
)
_FULL_LIKE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}t[0-9:]+(?:z|[+-][0-9:]+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What was typed, cut behind its time; ``stamp`` is empty where the time was left out."""

    stamp: str
    rest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A line as it would be written.

    ``who`` is None where nobody is named; ``moved`` is how many characters the line is longer
    than what was typed before its loom. ``ahead`` is what to do about a time that has not come.
    ``entry`` is None for a line that cannot be read; its complaints count columns in ``line``.
    """

    typed: str
    line: str
    moved: int
    shift: Shift
    who: str | None
    said: str
    entry: Entry | None
    reading: Reading
    ahead: str = ""

    @property
    def kept_anyway(self) -> bool:
        """Whether it bears the mark of a line that is kept against its complaint."""
        return self.line.endswith(KEPT_ANYWAY)

    @property
    def heading(self) -> str:
        """The heading that it stands under."""
        return heading_text(self.shift.day, self.shift.name, self.who or NOBODY)

    @property
    def path(self) -> str:
        """The log that it goes into."""
        return log_path(self.shift.day, self.shift.name, self.who or NOBODY)

    @property
    def needs_turn(self) -> bool:
        """Whether a number or a seal is still to be put in, which only one may do at a time."""
        clauses = self.entry.clauses if self.entry is not None else ()
        return any(
            (isinstance(c, Opened) and c.number is None)
            or (isinstance(c, TakenOver) and c.seal is None)
            for c in clauses
        )


# -- what was typed ------------------------------------------------------------------------


def readable(typed: str) -> str:
    """What was typed; where its bytes are no UTF-8, read as a log's bytes are. Never raises.

    Such bytes stand in it as lone surrogates, one for each.
    """
    try:
        typed.encode("utf-8")
    except UnicodeEncodeError:
        try:
            data = typed.encode("utf-8", errors="surrogateescape")
        except UnicodeEncodeError:  # surrogates that stand for no byte
            data = typed.encode("utf-8", errors="surrogatepass")
        return "\n".join(line.text for line in lines_of(data, 2))
    return typed


def head_of(typed: str, vocabulary: Vocabulary) -> Head:
    """Where the time ends and the entry begins.

    A first word that is the name of a place is no time, unless a place follows it.
    """
    match = re.match(r"\s*([^\s;]+)[\s;]*([^\s;]*)", typed)
    if match is None:
        return Head(stamp="", rest=typed)
    first, second = match[1], match[2]
    folded = fold_word(first)
    place_first = vocabulary.place(first) is not None
    place_second = bool(second) and vocabulary.place(second) is not None
    timed = bool(_CLOCK_LIKE.fullmatch(folded) or _FULL_LIKE.fullmatch(folded))
    if timed and (place_second or not place_first):
        return Head(stamp=first, rest=typed[match.end(1) :].lstrip())
    numbered = any(loom[:1].isdigit() for loom in vocabulary.looms)
    if place_first or not first[:1].isdigit() or (numbered and not place_second):
        return Head(stamp="", rest=typed.lstrip())
    return Head(stamp=first, rest=typed[match.end(1) :].lstrip())  # a time badly written


def no_entry(typed: str, vocabulary: Vocabulary) -> Diagnostic | None:
    """Why a line cannot be an entry at all: it is a heading, or a comment."""
    begins = re.compile(rf"\s*(?:{alternatives(spellings(vocabulary, ('day',)))})(?![\w-])")
    message = help = ""
    if typed.lstrip().startswith("#"):
        message, help = "a line beginning with # is skipped by every reader", "leave the # out"
    elif begins.match(fold(typed).text):
        message = "headings are made as they are needed and are not written here"
        help = "leave it out; a time finds its shift by itself"
    if not message:
        return None
    word = re.search(r"\S+", typed)
    span = Span(*word.span()) if word else Span(0, 1)
    return Diagnostic(
        code=Code.NOT_UNDERSTOOD, message=message, line=1, span=span, text=typed, help=help
    )


# -- the draft -----------------------------------------------------------------------------


def draft(typed: str, who: str | None, now: datetime, mill: Mill, reader: Reader) -> Draft:
    """The line for what was typed; without ``who`` the entry's own ``by WHO`` names the writer."""
    given, typed = typed, readable(typed)
    odd = ODD_BYTES if typed != given else ""
    typed = typed.strip()
    head = head_of(typed, mill.vocabulary)
    where = filed(head.stamp, now, mill)
    line = f"{where.stamp} {head.rest}"
    first = Draft(
        typed=typed,
        line=line,
        moved=len(line) - len(typed),
        shift=where.shift,
        who=who,
        said="; ".join(told for told in (odd, where.said) if told),
        ahead=where.ahead,
        entry=None,
        reading=Reading(),
    )
    read = reread(first, line, reader)
    if who is None and read.entry is not None and read.entry.own_writer:
        return reread(replace(read, who=read.entry.by), line, reader)
    return read


def reread(old: Draft, line: str, reader: Reader) -> Draft:
    """The draft with another line, read as it would be in its file."""
    reading = reader.read(f"{old.heading}\n{line}\n")
    entries = [e for e in reading.entries if e.line == 2 and e.standing is Standing.WHOLE]
    entry = entries[0] if entries else None
    return replace(old, line=line, reading=reading, entry=entry)


def line_number(before: bytes, made: Draft, day_words: tuple[str, ...]) -> int:
    """The number that the line will have in its log, given the log's bytes."""
    data = before + addition(before, made.heading, made.line, day_words)
    return with_line_feeds(data).count(b"\n")


def suggested(
    made: Draft, refused: Iterable[Diagnostic], now: datetime, mill: Mill, reader: Reader
) -> str | None:
    """What was typed with the one suggestion put in, where that is a step further.

    The loom of a lock is never put in: a lock that is on record of another loom than the one it
    hangs on is worse than none. Whoever put it on types the loom.
    """
    if made.entry is not None:
        return None
    for diagnostic in refused:
        if diagnostic.code is Code.UNKNOWN_LOOM and made.reading.may_isolate:
            continue
        for text in _put_in(diagnostic, made.typed, made.moved):
            read = draft(text, made.who, now, mill, reader)
            if diagnostic.message not in {d.message for d in read.reading.diagnostics}:
                return text
    return None


def _put_in(diagnostic: Diagnostic, typed: str, moved: int) -> list[str]:
    """What was typed with the suggestion of a complaint in the place that it points at."""
    match = _SUGGESTED.fullmatch(diagnostic.help)
    if match is None:
        return []
    near = match["near"] or match["apart"] or match["whole"]
    start, end = diagnostic.span.start - moved, diagnostic.span.end - moved
    if start < 0 or " or " in near:
        return []
    return [typed[:start] + near + typed[end:]]


# -- what is put in ------------------------------------------------------------------------


def numbered(made: Draft, next_free: int, reader: Reader) -> Draft:
    """The draft with numbers for the actions that it opens without one."""
    if made.entry is None:
        return made
    line, number = made.line, next_free
    word = re.compile(alternatives(spellings(reader.vocabulary, ("open",))))
    inserts: list[tuple[int, str]] = []
    for clause in made.entry.clauses:
        if not isinstance(clause, Opened) or clause.number is not None:
            continue
        folded = fold(line[clause.span.start :])
        match = word.match(folded.text)
        if match is None:
            return made
        inserts.append((clause.span.start + folded.span(0, match.end()).end, f" no {number}"))
        number += 1
    return _with(made, inserts, reader)


def numbers_given(entries: Iterable[Entry]) -> frozenset[int]:
    """The numbers that actions were opened with."""
    return frozenset(
        clause.number
        for entry in entries
        for clause in entry.clauses
        if isinstance(clause, Opened) and clause.number is not None
    )


def next_number(given: Collection[int]) -> int:
    """The number after the highest that was ever given: a closed one tells too much to return.

    Once the highest has as many digits as the language takes, the lowest that was never given.
    """
    after = max(given, default=0) + 1
    if len(str(after)) <= _MOST_DIGITS:
        return after
    return next(n for n in range(1, len(given) + 2) if n not in given)


def sealed(made: Draft, seal: Seal, reader: Reader) -> Draft:
    """The draft with the seal of the shift given over, where it takes over and has none."""
    if made.entry is None:
        return made
    inserts = [
        (clause.span.end, f"; sealed {seal.lines} {seal.digest}")
        for clause in made.entry.clauses
        if isinstance(clause, TakenOver) and clause.seal is None
    ]
    return _with(made, inserts, reader)


def seal_for(files: Iterable[FileReading], shift: Shift) -> Seal:
    """The seal of a shift as its lines stand now."""
    return seal_of(lines_by_shift(files).get(shift, ()))


def marked(made: Draft, reader: Reader) -> Draft:
    """The draft with the mark of a line that is kept against its complaint."""
    return reread(made, made.line + KEPT_ANYWAY, reader)


def _with(made: Draft, inserts: list[tuple[int, str]], reader: Reader) -> Draft:
    line = made.line
    for at, text in sorted(inserts, reverse=True):
        line = line[:at] + text + line[at:]
    return reread(made, line, reader) if inserts else made
