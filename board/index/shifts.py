"""Lines by the shift that they are filed under: its seal, and what became of a sealed shift.

While an index that saw the old lines is there, a shift that changed after it was handed over is
told with the lines that went and came.
"""

from __future__ import annotations

import sqlite3
import zlib
from array import array
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date

from board.index.packing import pack, unpack
from board.state.fleet import Complaint
from board.state.seals import is_of_handover, seal_of
from grammar.decoding import lines_of
from grammar.entries import Seal, Shift
from grammar.readings import Reading

MOST_TOLD = 2  # lines that went, and that came
LONGEST_TOLD = 60  # characters of each


def refile(connection: sqlite3.Connection, id: int, reading: Reading) -> None:
    """Under which shifts a log's lines are filed; the seals of these and of those before go."""
    after = _by_shift(reading)
    rows = connection.execute("SELECT day, name FROM filed WHERE file = ?", (id,)).fetchall()
    if rows:
        connection.execute("DELETE FROM filed WHERE file = ?", (id,))
    connection.executemany(
        "INSERT INTO filed VALUES (?, ?, ?, ?, ?)",
        [(*key, id, own.tobytes(), others.tobytes()) for key, (own, others) in after.items()],
    )
    connection.executemany("DELETE FROM seal WHERE day = ? AND name = ?", [*{*rows, *after}])


def file_more(connection: sqlite3.Connection, id: int, added: Reading) -> None:
    """Under which shifts the new lines of a log are filed; the seals of these go."""
    for key, (own, others) in _by_shift(added).items():
        connection.execute(
            "INSERT INTO filed VALUES (?, ?, ?, ?, ?) ON CONFLICT DO UPDATE"
            " SET sealed = CAST(sealed || excluded.sealed AS BLOB),"
            " others = CAST(others || excluded.others AS BLOB)",
            (*key, id, own.tobytes(), others.tobytes()),
        )
        connection.execute("DELETE FROM seal WHERE day = ? AND name = ?", key)


def _by_shift(reading: Reading) -> dict[tuple[int, str], tuple[array[int], array[int]]]:
    """The numbers of the lines under each shift: those sealed, and those of the handing over."""
    outside = {e.line for e in reading.entries if is_of_handover(e)}
    found: dict[tuple[int, str], tuple[array[int], array[int]]] = {}
    for filed in reading.filed:
        lines = found.setdefault(_key(filed.shift), (array("I"), array("I")))
        lines[filed.line in outside].append(filed.line)
    return found


def _key(shift: Shift) -> tuple[int, str]:
    return shift.day.toordinal(), shift.name


def logs_of(connection: sqlite3.Connection, shift: Shift) -> set[tuple[int, str]]:
    """The logs with lines filed under a shift: number and path of each."""
    rows = connection.execute(
        "SELECT id, path FROM filed JOIN file ON id = file WHERE day = ? AND name = ?", _key(shift)
    )
    return set(rows)


def lines_of_shift(connection: sqlite3.Connection, shift: Shift) -> list[str]:
    """The lines that the seal of a shift is made of."""
    return _lines_of(connection, _key(shift))


def _lines_of(connection: sqlite3.Connection, key: tuple[int, str]) -> list[str]:
    lines: list[str] = []
    rows = connection.execute(
        "SELECT f.data, filed.sealed FROM filed JOIN file f ON f.id = filed.file"
        " WHERE filed.day = ? AND filed.name = ? ORDER BY f.path",
        key,
    ).fetchall()
    for data, sealed in rows:
        physical = lines_of(zlib.decompress(data))
        lines += [physical[number - 1].text for number in _numbers(sealed)]
    return lines


def _numbers(packed: bytes) -> array[int]:
    numbers = array("I")
    numbers.frombytes(packed)
    return numbers


def seals(
    connection: sqlite3.Connection, asked: Iterable[Shift]
) -> tuple[dict[Shift, Seal], dict[Shift, Seal]]:
    """The seals of shifts as their lines stand now, and those of them that had to be reckoned."""
    rows = connection.execute("SELECT day, name, lines, digest FROM seal")
    known = {(day, name): Seal(lines=lines, digest=digest) for day, name, lines, digest in rows}
    found: dict[Shift, Seal] = {}
    reckoned: dict[Shift, Seal] = {}
    for shift in asked:
        if shift in found:
            continue
        seal = known.get(_key(shift))
        if seal is None:
            seal = reckoned[shift] = seal_of(lines_of_shift(connection, shift))
        found[shift] = seal
    return found, reckoned


def keep_seals(connection: sqlite3.Connection, reckoned: Mapping[Shift, Seal]) -> None:
    """Keep seals that were reckoned of the lines as they stand."""
    connection.executemany(
        "INSERT OR REPLACE INTO seal VALUES (?, ?, ?, ?)",
        [(*_key(shift), seal.lines, seal.digest) for shift, seal in reckoned.items()],
    )


def _with_shift(connection: sqlite3.Connection, complaint: Complaint) -> Complaint:
    """A complaint with the shift that its line is filed under."""
    rows = connection.execute(
        "SELECT day, name, sealed, others FROM filed JOIN file ON file.id = filed.file"
        " WHERE file.path = ?",
        (complaint.path,),
    )
    line = complaint.diagnostic.line
    for day, name, sealed, others in rows:
        if line in _numbers(sealed) or line in _numbers(others):
            return replace(complaint, shift=Shift(day=date.fromordinal(day), name=name))
    return replace(complaint, shift=None)


def with_shifts(connection: sqlite3.Connection, complaints: Iterable[Complaint]) -> list[Complaint]:
    """Complaints, each with the shift that its line is filed under."""
    return [_with_shift(connection, complaint) for complaint in complaints]


# -- sealed shifts that changed --------------------------------------------------------------


def remember(connection: sqlite3.Connection, file: int | None, after: Reading) -> None:
    """Keep the lines of every sealed shift that a log's change may touch, as they still are.

    To be called before the change, with the reading that comes.
    """
    keys = {_key(filed.shift) for filed in after.filed}
    if file is not None:
        keys |= set(connection.execute("SELECT day, name FROM filed WHERE file = ?", (file,)))
    for key in keys:
        known = connection.execute(
            "SELECT EXISTS (SELECT 1 FROM seal WHERE day = ? AND name = ?)"
            " AND NOT EXISTS (SELECT 1 FROM sealed_lines WHERE day = ? AND name = ?)",
            (*key, *key),
        ).fetchone()[0]
        if known:
            lines = _lines_of(connection, key)
            connection.execute(
                "INSERT INTO sealed_lines VALUES (?, ?, ?)", (*key, pack(tuple(lines)))
            )


def how_changed(connection: sqlite3.Connection, shift: Shift, sealed: Seal) -> str:
    """Which lines of a shift went and came since it had this seal; empty where it is not known."""
    row = connection.execute(
        "SELECT lines FROM sealed_lines WHERE day = ? AND name = ?",
        _key(shift),
    ).fetchone()
    if row is None:
        return ""
    before: tuple[str, ...] = unpack(row[0])
    if seal_of(before) != sealed:
        return ""
    old = Counter(line.rstrip() for line in before)
    new = Counter(line.rstrip() for line in lines_of_shift(connection, shift))
    told = [_told("went", old - new), _told("came", new - old)]
    return "; ".join(filter(None, told))


def _told(word: str, lines: Counter[str]) -> str:
    every = sorted(lines.elements())
    if not every:
        return ""
    shown = [f"'{_short(line)}'" for line in every[:MOST_TOLD]]
    more = f" and {len(every) - MOST_TOLD} more" if len(every) > MOST_TOLD else ""
    return f"{word}: {', '.join(shown)}{more}"


def _short(line: str) -> str:
    text = " ".join(line.split())
    return text if len(text) <= LONGEST_TOLD else f"{text[: LONGEST_TOLD - 1]}~"
