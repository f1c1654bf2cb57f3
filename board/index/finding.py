"""What a question needs of a snapshot: the lines that may answer it, and what bears on them."""

from __future__ import annotations

import zlib
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial
from sqlite3 import Connection

from board.index import rows, words
from board.index.index import Index
from board.index.readings import Readings
from board.index.words import ALL, both, either, exactly
from board.mill import Mill
from board.search import Answer, Question, looms_of, search
from board.searched import Found
from board.snapshot import Snapshot
from board.state import made
from board.state.logged import Logged
from board.state.spells import micros
from board.wordings import Term, terms
from grammar.decoding import lines_of
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
    snapshot: Snapshot,
    index: Index,
    question: Question,
    *,
    around: int = 0,
    written_by: datetime | None = None,
) -> Answer:
    """What ``search`` answers from the whole snapshot, from the lines that may answer alone."""
    with index.reads() as readings:
        files = _files(readings.connection)
        asked = _asked(readings.connection, question, snapshot.mill)
    chosen: _Chosen = {}
    if asked == ALL:
        chosen = dict.fromkeys(files)
    elif asked is not None:
        chosen = _chosen(index, files, asked, snapshot)
    chosen = {id: lines for id, lines in chosen.items() if _in_time(files[id], question)}

    def answer(around: int) -> Answer:
        return search(
            _narrowed(snapshot, index, files, chosen),
            question,
            around=around,
            written_by=written_by,
            record=_Record(index),
        )

    found = answer(0)
    if around <= 0 or not found.hits:
        return found
    hits = [h.found for h in found.hits]
    beside = _around(index, files, hits, around, snapshot.mill)
    ids = {file.path: file.id for file in files.values()}
    chosen |= dict.fromkeys(beside | {ids[hit.path] for hit in hits})
    return answer(around)


def _chosen(index: Index, files: dict[int, _File], asked: str, snapshot: Snapshot) -> _Chosen:
    """The logs with lines that may answer, and these lines.

    A line that was refused or is unfinished is dated by those above it, so its log is wanted whole.
    """
    with index.reads() as readings:
        found = words.lines_with(readings.connection, asked)
    undated = {(c.path, c.diagnostic.line) for c in snapshot.refused}
    undated |= {(source.path, source.line) for source in snapshot.unfinished}
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


def _in_time(file: _File, question: Question) -> bool:
    if file.told or file.first is None or file.last is None:
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
    if question.kind is not None:
        needed.append(exactly(words.kind_mark(question.kind)))
    if question.verb is not None:
        needed.append(exactly(words.verb_mark(question.verb)))
    if question.by is not None:
        needed.append(exactly(words.writer_mark(question.by)))
    known = [each for each in needed if each is not None]
    return both(known) if len(known) == len(needed) else None


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


# -- the part of the snapshot --------------------------------------------------------------


def _narrowed(
    snapshot: Snapshot, index: Index, files: dict[int, _File], chosen: _Chosen
) -> Snapshot:
    """The snapshot with the entries and complaints of some logs, and what strikes or is struck."""
    paths = {files[id].path for id in chosen}
    with index.reads() as readings:
        entries = [
            made.Logged(path=files[id].path, entry=entry, struck_for=frozenset())
            for id, lines in sorted(chosen.items())
            for entry in (
                readings.of(id).entries if lines is None else readings.entries_at(id, lines)
            )
        ]
        if len(chosen) < len(files) or any(lines is not None for lines in chosen.values()):
            there = {(x.path, x.entry.line) for x in entries}
            for other in _strikes_of(readings, entries, snapshot.mill):
                if (other.path, other.entry.line) not in there:
                    there.add((other.path, other.entry.line))
                    entries.append(other)
    entries.sort(key=lambda x: (x.path, x.entry.line))
    return replace(
        snapshot,
        entries=entries,
        complaints=tuple(c for c in snapshot.complaints if c.path in paths),
        unfinished=tuple(u for u in snapshot.unfinished if u.path in paths),
    )


def _strikes_of(readings: Readings, entries: Iterable[Logged], mill: Mill) -> Iterator[Logged]:
    """The lines that strike one of these minutes, and all of the loom that they may mean there."""
    minutes = {rows.minute_of(micros(x.entry.when)) for x in entries}
    named: dict[tuple[str, int], None] = {}
    paths = dict(readings.connection.execute("SELECT id, path FROM file"))
    for file, line, loom, minute in readings.connection.execute(
        "SELECT file, line, loom, minute FROM strike"
    ).fetchall():
        if minute in minutes:
            named[loom, minute] = None
            for entry in readings.entries_at(file, (line,)):
                yield made.Logged(path=paths[file], entry=entry, struck_for=frozenset())
    looms: dict[str, Sequence[str]] = {}

    def speaks_of(loom: str, word: str) -> bool:
        if word not in looms:
            place = mill.vocabulary.place(word)
            looms[word] = place.looms if place is not None else ()
        return loom in looms[word]

    for loom, minute in named:
        for file in readings.of_minute(minute):
            for entry in readings.entries_of(file, partial(speaks_of, loom)):
                yield made.Logged(path=paths[file], entry=entry, struck_for=frozenset())


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
    index: Index, files: dict[int, _File], hits: Sequence[Found], around: int, mill: Mill
) -> set[int]:
    """The logs with the neighbours of hits on their looms: enough of them to each side."""
    numbers = {loom: i for i, loom in enumerate(mill.looms)}
    dated = sorted(
        (f for f in files.values() if f.first is not None), key=lambda f: (f.first or 0, f.id)
    )
    chosen = {f.id for f in files.values() if f.told}
    for loom in {loom for hit in hits for loom in looms_of(hit)[:1] if len(looms_of(hit)) == 1}:
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
            if looms_of(hit) == (loom,) and hit.near is not None:
                chosen |= _beside(own, counts, micros(hit.near), around)
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
            seen += counts[file.id]
            if seen <= around or edge > 0:
                reach = max(reach, file.last or 0) if edge > 0 else min(reach, file.first or 0)
    return chosen


def _overlaps(file: _File, reach: int, edge: int) -> bool:
    return (file.first or 0) <= reach if edge > 0 else (file.last or 0) >= reach
