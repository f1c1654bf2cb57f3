"""A search by way of an index: of the lines that may answer alone, and what bears on them."""

from __future__ import annotations

import zlib
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import datetime
from sqlite3 import Connection

from board.index import rows, segments, standing, words
from board.index.entries import marked
from board.index.index import Index
from board.index.rows import Told
from board.index.words import ALL, both, either, exactly
from board.mill import Mill
from board.search import Answer, Kind, Question, only_loom, search
from board.searched import Found, Lines
from board.snapshot import where
from board.state import made
from board.state.fleet import Complaint, Source
from board.state.history import StyleChange
from board.state.later import Later
from board.state.spells import micros
from board.wordings import Term, terms
from grammar.decoding import lines_of
from grammar.diagnostics import Severity
from grammar.folding import fold
from grammar.frozen import dataclass
from grammar.making import maker


@dataclass(frozen=True, slots=True, kw_only=True)
class _File:
    """A log by its number: its path and when its entries were written [us]."""

    id: int
    path: str
    first: int | None
    last: int | None
    told: bool  # it has lines that were refused or are unfinished, whose time is not known here


_file = maker(_File)

# of a log by its number the numbers of the lines that are wanted, or None for all of them
_Chosen = dict[int, Collection[int] | None]


def find(
    index: Index,
    as_of: datetime,
    question: Question,
    *,
    around: int = 0,
    written_by: datetime | None = None,
) -> Answer:
    """What ``search`` answers from all lines as of a moment (UTC), from those that may answer."""
    with index.reads() as readings:  # all of it as the index stands now
        files = _files(readings.connection)
        told = tuple(rows.told(readings.connection))
        asked = _asked(readings.connection, question, index.mill)
        chosen: _Chosen = {}
        if asked == ALL:
            chosen = dict.fromkeys(files)
        elif asked is not None:
            chosen = _chosen(readings.connection, files, asked, told)
        chosen = {
            id: lines
            for id, lines in chosen.items()
            if _in_time(files[id], question, dated=lines is not None)
        }

        def answer(around: int) -> Answer:
            return search(
                _lines(index, as_of, files, chosen, told),
                question,
                around=around,
                written_by=written_by,
                record=_Record(index),
            )

        found = answer(0)
        if around <= 0 or not found.hits:
            return found
        hits = [h.found for h in found.hits]
        end = standing.END if written_by is None else micros(written_by)
        beside = _around(index, files, hits, around, end)
        ids = {file.path: file.id for file in files.values()}
        chosen |= dict.fromkeys(beside | {ids[hit.path] for hit in hits})
        return answer(around)


def _chosen(
    connection: Connection, files: dict[int, _File], asked: str, told: Iterable[Told]
) -> _Chosen:
    """The logs with lines that may answer, and these lines.

    A line that no entry was read from is dated by those above it, so its log is wanted whole.
    """
    found = words.lines_with(connection, asked)
    undated = {(c.path, c.diagnostic.line) for each in told for c in each.complaints if _refused(c)}
    undated |= {(u.path, u.line) for u in _unfinished(told)}
    return {
        id: None if any((files[id].path, line) in undated for line in lines) else lines
        for id, lines in found.items()
        if id in files
    }


def _files(connection: Connection) -> dict[int, _File]:
    told = {id for (id,) in connection.execute("SELECT id FROM file WHERE told IS NOT NULL")}
    return {
        id: _file(id=id, path=path, first=first, last=last, told=id in told)
        for id, path, first, last in connection.execute("SELECT id, path, first, last FROM file")
    }


def _in_time(file: _File, question: Question, *, dated: bool) -> bool:
    """Whether a log may have lines of the time that is asked for; ``dated``: entries are wanted."""
    if (file.told and not dated) or file.first is None or file.last is None:
        return True
    since = question.since is None or file.last >= micros(question.since)
    return since and (question.until is None or file.first < micros(question.until))


# -- what may answer -----------------------------------------------------------------------


def _asked(connection: Connection, question: Question, mill: Mill) -> str | None:
    """What finds every line that may answer; None where none can."""
    vocabulary = mill.vocabulary
    numbers = {loom: i for i, loom in enumerate(mill.looms)}
    needed: list[str | None] = [
        _of_term(connection, term, numbers) for term in terms(question.words, vocabulary)
    ]
    if question.loom is not None:
        needed.append(exactly(words.about_mark(numbers[question.loom])))
    if question.part is not None:
        part = vocabulary.part_by_name[question.part]
        names = [_wording(name) for name in (part.name, *part.words)]
        needed.append(_any([exactly(words.part_mark(part.name)), *names]))
    if question.side is not None:
        sides = [_wording(w) for w in (question.side, *vocabulary.words_for(question.side))]
        needed.append(_any([exactly(words.side_mark(question.side)), *sides]))
    if question.kinds:
        needed.append(_any(map(_of_kind, question.kinds)))
    if question.by is not None:
        needed.append(exactly(words.writer_mark(question.by)))
    known = [each for each in needed if each is not None]
    return both(known) if len(known) == len(needed) else None


def _of_kind(kind: Kind) -> str:
    name, verb = kind
    marks = [words.kind_mark(name), *([words.verb_mark(verb)] if verb is not None else ())]
    return both([exactly(mark) for mark in marks])


def _of_term(connection: Connection, term: Term, numbers: dict[str, int]) -> str | None:
    """What finds the lines that a word of the question may match; None where none can."""
    pieces = [words.holding(connection, piece) for piece in words.words_in(term.folded)]
    known = [piece for piece in pieces if piece is not None]
    # a text without a letter or digit may stand between any two words
    ways: list[str | None] = [both(known)] if len(known) == len(pieces) else []
    ways += [_wording(wording) for wording in term.wordings]
    if term.loom is not None:
        ways.append(exactly(words.own_mark(numbers[term.loom])))
    return _any(ways)


def _wording(wording: str) -> str:
    return both([exactly(word) for word in words.words_in(wording)])


def _any(ways: Iterable[str | None]) -> str | None:
    return either([way for way in ways if way is not None])


# -- the lines of some logs ----------------------------------------------------------------


def _refused(complaint: Complaint) -> bool:
    return complaint.diagnostic.severity is Severity.REFUSED


def _unfinished(told: Iterable[Told]) -> list[Source]:
    return [each.unfinished for each in told if each.unfinished is not None]


def _lines(
    index: Index,
    as_of: datetime,
    files: dict[int, _File],
    chosen: _Chosen,
    told: Sequence[Told],
) -> Lines:
    """The entries of some logs, and what was not understood there."""
    paths = {files[id].path for id in chosen}
    with index.reads() as readings:
        entries = [
            made.Logged(path=files[id].path, entry=entry, struck_for=frozenset())
            for id, lines in sorted(chosen.items())
            for entry in (
                readings.of(id).entries if lines is None else readings.entries_at(id, lines)
            )
        ]
        entries = marked(readings, entries, as_of, index.mill.zone)
    entries.sort(key=lambda x: (x.path, x.entry.line))
    complaints = [c for each in told for c in each.complaints]
    complaints += _of_the_state(index, as_of, [files[id] for id in chosen])
    refused = [c for c in complaints if c.path in paths and _refused(c)]
    return Lines(
        mill=index.mill,
        as_of=as_of,
        entries=entries,
        refused=sorted(refused, key=where),
        unfinished=[u for u in _unfinished(told) if u.path in paths],
        styles=Later(lambda since: index.facts(index.tail(as_of), StyleChange, since)),
    )


def _of_the_state(index: Index, as_of: datetime, files: Iterable[_File]) -> list[Complaint]:
    """What the fold complained of in some logs, or in more.

    What it complains of is an entry that it comes to: the end of the record is folded anew only
    where one of these logs has an entry there.
    """
    with index.reads() as readings:
        base = standing.base_for(readings.connection, as_of)
        if base is None or any(file.last is not None and file.last >= base for file in files):
            return index.complaints(index.tail(as_of))
        return segments.members(readings.connection, segments.COMPLAINTS, base, None)


@dataclass(frozen=True, slots=True)
class _Record:
    """The words of every line, as the index keeps them."""

    index: Index

    def hold(self, text: str) -> bool:
        """Whether a folded text stands anywhere in a line."""
        with self.index.reads() as readings:
            pieces = [words.holding(readings.connection, piece) for piece in words.words_in(text)]
            known = [piece for piece in pieces if piece is not None]
            if len(known) < len(pieces):
                return False
            asked = both(known)
            return any(text in fold(line).text for line in _texts(readings.connection, asked))

    def words(self, shortest: int, longest: int) -> Iterable[str]:
        """The words of such a length."""
        with self.index.reads() as readings:
            return words.of_length(readings.connection, shortest, longest)

    def count(self, word: str) -> int:
        """In how many lines a word stands."""
        with self.index.reads() as readings:
            return words.count(readings.connection, word)


def _texts(connection: Connection, asked: str) -> Iterator[str]:
    """The texts of the lines that are found; no blank ones and no remarks."""
    found = words.lines_with(connection, asked) if asked != ALL else None
    for id, data in connection.execute("SELECT id, data FROM file"):
        if found is None or id in found:
            for raw in lines_of(zlib.decompress(data)):
                wanted = found is None or raw.number in found[id]
                if wanted and raw.text and not raw.text.startswith("#"):
                    yield raw.text


# -- what stands around a hit --------------------------------------------------------------


def _around(
    index: Index, files: dict[int, _File], hits: Sequence[Found], around: int, end: int
) -> set[int]:
    """The logs with the neighbours of hits on their looms: enough of them to each side.

    ``end`` [us]: no line that was written later is among those that are looked at.
    """
    numbers = {loom: i for i, loom in enumerate(index.mill.looms)}
    dated = sorted(
        (f for f in files.values() if f.first is not None), key=lambda f: (f.first or 0, f.id)
    )
    chosen = {f.id for f in files.values() if f.told}
    for loom in {loom for hit in hits if (loom := only_loom(hit)) is not None}:
        with index.reads() as readings:
            counts = Counter(
                words.file_of(row)
                for (row,) in readings.connection.execute(
                    "SELECT rowid FROM line WHERE line MATCH ?",
                    (exactly(words.about_mark(numbers[loom])),),
                )
            )
        own = [f for f in dated if counts[f.id]]
        for hit in hits:
            if only_loom(hit) == loom:
                # a line of which no time is known comes last
                at = micros(hit.near) if hit.near is not None else end
                chosen |= _beside(own, counts, at, around)
    return chosen


def _beside(own: Sequence[_File], counts: Counter[int], at: int, around: int) -> set[int]:
    """The logs of a loom nearest to a moment [us] that hold as many of its lines to each side."""
    chosen: set[int] = set()
    before = [f for f in own if (f.last or 0) < at]
    after = [f for f in own if (f.first or 0) > at]
    chosen |= {f.id for f in own if (f.first or 0) <= at <= (f.last or 0)}
    for side, edge in ((sorted(before, key=lambda f: -(f.last or 0)), -1), (after, 1)):
        seen, reach = 0, at
        for file in side:
            if seen >= around and not _overlaps(file, reach, edge):
                break
            chosen.add(file.id)
            # where a line that was not read stands in the order of time is not known here
            seen += 0 if file.told else counts[file.id]
            reach = max(reach, file.last or 0) if edge > 0 else min(reach, file.first or 0)
    return chosen


def _overlaps(file: _File, reach: int, edge: int) -> bool:
    return (file.first or 0) <= reach if edge > 0 else (file.last or 0) >= reach
