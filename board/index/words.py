"""The words of every line, so that a search need only read the lines that may answer it.

One row of SQLite's full-text search a line: its folded words, and marks for what it is about. What
is found by it may be too much, never too little: the search itself judges the lines that are read.
"""

from __future__ import annotations

import re
import sqlite3
import sys
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from functools import lru_cache

from board.mill import Mill
from board.searched import looms_of_place, place_in
from grammar import entries as e
from grammar.decoding import LONGEST_LINE, lines_of
from grammar.folding import fold, fold_word
from grammar.readings import Reading

LINES_OF_A_FILE = 1 << 32  # a line's row is its file's number times this, and its own number

_WORD = re.compile(r"\w+")
_JOINT = re.compile(r"\W+")
_SIGN = "@"  # of a mark; the index takes it for part of a word, and ``words_in`` never does
_LETTER = re.compile(r"u([0-9a-f]{2,6})z")
_MOST_MET = 200_000  # words that are remembered in memory, about 20 MB


def row_of(file: int, line: int) -> int:
    """The row of a line."""
    return file * LINES_OF_A_FILE + line


def file_of(row: int) -> int:
    """The file's number of a row."""
    return row // LINES_OF_A_FILE


def words_in(text: str) -> list[str]:
    """The words of a text as they are kept: folded, without what stands between them."""
    text = text[:LONGEST_LINE]
    if text.isascii():
        return _WORD.findall(text.lower())
    return [spelt(word) for word in _WORD.findall(fold(text).text)]


def spelt(word: str) -> str:
    """A word in ASCII, letter by letter, so that part of a word is part of how it is spelt.

    SQLite's idea of what a letter is may be older than Python's.
    """
    if word.isascii():
        return word
    return "".join(c if c.isascii() else f"u{ord(c):x}z" for c in word)


# -- marks: what a line is about, each begun with a sign that no word of a text holds ---------


def own_mark(number: int) -> str:
    """A line of this loom alone, by the loom's place in the register."""
    return f"@own{number}"


def about_mark(number: int) -> str:
    """A line about this loom: its own, a group's, or one that takes a part off it."""
    return f"@about{number}"


_UNREAD = "@unread"  # a line of which no entry was read


@lru_cache(maxsize=1024)
def kind_mark(kind: str) -> str:
    """A line with a clause of this kind."""
    return f"@kind{_JOINT.sub('', kind)}"


def verb_mark(verb: e.Verb) -> str:
    """A line of work of this kind."""
    return f"@verb{verb.value}"


@lru_cache(maxsize=1024)
def writer_mark(who: str) -> str:
    """A line that this person wrote."""
    return f"@by{spelt(_JOINT.sub('_', fold_word(who)))}"


@lru_cache(maxsize=1024)
def part_mark(part: str) -> str:
    """A line with a clause about this part."""
    return f"@part{spelt(_JOINT.sub('_', fold_word(part)))}"


@lru_cache(maxsize=1024)
def side_mark(side: str) -> str:
    """A line with a clause about this side."""
    return f"@side{spelt(_JOINT.sub('_', fold_word(side)))}"


_NUMBER = "@number"


def number_mark(number: int) -> str:
    """A line that opens an action with this number."""
    return f"{_NUMBER}{number}"


# -- rows ----------------------------------------------------------------------------------


def rows_of(
    file: int, reading: Reading, data: bytes, mill: Mill, but: Collection[int] = ()
) -> list[tuple[int, str]]:
    """A row for every line of a log that is an entry, refused, or unfinished; ``but`` for some."""
    numbers = {loom: i for i, loom in enumerate(mill.looms)}
    docs: dict[int, list[str]] = {}
    for entry in reading.entries:
        if entry.line not in but:
            docs[entry.line] = [*words_in(entry.text), *_marks(entry, numbers)]
    left = {d.line for d in reading.diagnostics}
    if reading.unfinished is not None:
        left.add(reading.unfinished.line)
    left -= docs.keys() | set(but)
    if left:
        for raw in lines_of(data):
            if raw.number in left:
                place = place_in(raw.text, mill)
                looms = looms_of_place(place, ()) if place is not None else ()
                docs[raw.number] = [
                    *words_in(raw.text),
                    _UNREAD,
                    *(about_mark(numbers[loom]) for loom in looms),
                    *(own_mark(numbers[loom]) for loom in looms),
                ]
    return [(row_of(file, line), " ".join(doc)) for line, doc in docs.items()]


def _marks(entry: e.Entry, numbers: dict[str, int]) -> Iterator[str]:
    if entry.place.kind is e.PlaceKind.LOOM:
        yield own_mark(numbers[entry.place.name])
    for loom in looms_of_place(entry.place, entry.clauses):
        yield about_mark(numbers[loom])
    if entry.by is not None:
        yield writer_mark(entry.by)
    for clause in entry.clauses:
        yield kind_mark(e.KINDS[type(clause)])
        if isinstance(clause, e.Worked):
            yield verb_mark(clause.verb)
        elif isinstance(clause, e.Opened) and clause.number is not None:
            yield number_mark(clause.number)
        at = getattr(clause, "at", None)
        side = getattr(clause, "side", None) or (at.side if at else None)
        if at is not None:
            yield part_mark(at.part)
        if side:
            yield side_mark(side)


def put(
    connection: sqlite3.Connection,
    old: Iterable[tuple[int, str]],
    new: Iterable[tuple[int, str]],
    met: set[str],
) -> None:
    """Keep the rows of a log in the place of those before; only what differs is written.

    ``met`` holds words that are surely kept, and is added to.
    """
    before, after = dict(old), dict(new)
    gone = [(row, doc) for row, doc in before.items() if after.get(row) != doc]
    come = [(row, doc) for row, doc in after.items() if before.get(row) != doc]
    if gone:
        connection.executemany(
            "INSERT INTO line (line, rowid, words) VALUES ('delete', ?, ?)", gone
        )
    if come:
        connection.executemany("INSERT INTO line (rowid, words) VALUES (?, ?)", come)
    there = {word for _, doc in come for word in doc.split(" ")}
    _add(connection, there - met, met)
    _take_away(connection, {word for _, doc in gone for word in doc.split(" ")} - there, met)


def _add(connection: sqlite3.Connection, fresh: set[str], met: set[str]) -> None:
    if len(met) > _MOST_MET:
        met.clear()
    met |= fresh
    connection.executemany(
        "INSERT OR IGNORE INTO word VALUES (?)", [(word,) for word in fresh if word]
    )


def _take_away(connection: sqlite3.Connection, gone: set[str], met: set[str]) -> None:
    """Keep no word that stands in no line any more."""
    for word in gone:
        asked = (_quoted(word),)
        stands = connection.execute("SELECT 1 FROM line WHERE line MATCH ? LIMIT 1", asked)
        if word and stands.fetchone() is None:
            met.discard(word)
            connection.execute("DELETE FROM word WHERE term = ?", (word,))


# -- asking --------------------------------------------------------------------------------


MOST_WORDS = 500  # that a piece may stand in; a piece of more of them tells too little

ALL = "*"  # no condition: every line


def holding(connection: sqlite3.Connection, piece: str) -> str | None:
    """What finds every line with a word that holds a piece; None where there is no such word."""
    found = connection.execute(
        "SELECT term FROM word WHERE instr(term, ?) LIMIT ?", (piece, MOST_WORDS + 1)
    ).fetchall()
    return either([_quoted(term) for (term,) in found]) if len(found) <= MOST_WORDS else ALL


def exactly(word: str) -> str:
    """What finds every line with this word or mark."""
    return _quoted(word)


def read_of_loom(number: int) -> str:
    """What finds every entry of this loom alone, by the loom's place in the register."""
    return f"{exactly(own_mark(number))} NOT {exactly(_UNREAD)}"


def either(asked: Sequence[str]) -> str | None:
    """What finds the lines that any of these finds; None for none."""
    if ALL in asked:
        return ALL
    return f"({' OR '.join(asked)})" if asked else None


def both(asked: Sequence[str]) -> str:
    """What finds the lines that all of these find."""
    asked = [each for each in asked if each != ALL]
    return f"({' AND '.join(asked)})" if asked else ALL


def lines_with(connection: sqlite3.Connection, asked: str) -> dict[int, set[int]]:
    """The numbers of the lines that are found, by the numbers of their files."""
    found: dict[int, set[int]] = defaultdict(set)
    for (row,) in connection.execute("SELECT rowid FROM line WHERE line MATCH ?", (asked,)):
        file, line = divmod(row, LINES_OF_A_FILE)
        found[file].add(line)
    return found


def numbers_given(connection: sqlite3.Connection) -> frozenset[int]:
    """The numbers that actions were ever opened with."""
    after = f"{_NUMBER[:-1]}{chr(ord(_NUMBER[-1]) + 1)}"
    found = connection.execute(
        "SELECT term FROM word WHERE term >= ? AND term < ?", (_NUMBER, after)
    )
    return frozenset(int(term.removeprefix(_NUMBER)) for (term,) in found)


def of_length(connection: sqlite3.Connection, shortest: int, longest: int) -> list[str]:
    """The words of so many characters, no marks, that stand in any line."""
    terms = (term for (term,) in connection.execute("SELECT term FROM word"))
    words = [_read(term) for term in terms if not term.startswith(_SIGN)]
    return [word for word in words if shortest <= len(word) <= longest]


def count(connection: sqlite3.Connection, word: str) -> int:
    """In how many lines a word stands."""
    asked = "SELECT count(*) FROM line WHERE line MATCH ?"
    (lines,) = connection.execute(asked, (_quoted(spelt(word)),)).fetchone()
    found: int = lines
    return found


def _read(term: str) -> str:
    """The word that ``spelt`` spelt so."""
    if "z" not in term:
        return term
    word = _LETTER.sub(lambda found: chr(min(int(found[1], 16), sys.maxunicode)), term)
    return word if spelt(word) == term else term


def _quoted(word: str) -> str:
    return '"' + word.replace('"', '""') + '"'
