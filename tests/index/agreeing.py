"""Whether an index says what a fresh reading says: snapshots, rows, and every checkpoint."""

from __future__ import annotations

import io
import random
import re
import sqlite3
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import fields, replace
from datetime import datetime, timedelta
from typing import Any

from board import writing
from board.index import rows, segments
from board.index.columns import kind_of
from board.index.finding import find
from board.index.index import Index
from board.index.packing import packer, unpack
from board.index.schema import moment
from board.index.words import numbers_given
from board.mill import Mill
from board.search import Question, search
from board.searched import lines_in
from board.snapshot import FileReading, Snapshot, lines_by_shift, where
from board.state.counting import counted
from board.state.fleet import Complaint
from board.state.fold import Folding
from board.state.folded import Folded
from board.state.history import Fact, History, Spell
from board.state.later import recent
from board.state.logged import Logged
from board.state.seals import seal_of
from board.state.spells import joined
from board.state.written import by_log, extent, number, of_loom
from grammar.diagnostics import Code
from grammar.entries import Seal


def exact(value: object) -> bytes:
    """A value with all that it holds, also what is left out of comparing."""
    out = io.BytesIO()
    packing = packer(out)
    packing.fast = True  # no value is named twice: equal values give equal bytes
    packing.dump(value)
    return out.getvalue()


def must_agree(kept: Snapshot, fresh: Snapshot) -> None:
    """Every field of two snapshots; the fleet's own complaints in the order of their lines."""
    assert kept.tally == fresh.tally
    assert kept.unfinished == fresh.unfinished
    assert kept.notices == fresh.notices
    assert kept.fleet.may_isolate == fresh.fleet.may_isolate
    for name, state in fresh.fleet.looms.items():
        assert exact(kept.fleet.looms[name]) == exact(state), name
    assert kept.fleet.looms.keys() == fresh.fleet.looms.keys()
    assert kept.fleet.last_entry == fresh.fleet.last_entry
    assert kept.fleet.as_of == fresh.fleet.as_of
    assert kept.fleet.shed.actions == fresh.fleet.shed.actions
    assert kept.fleet.shed.handovers == fresh.fleet.shed.handovers
    assert exact(tuple(kept.fleet.shed.taken)) == exact(tuple(fresh.fleet.shed.taken))
    for kind in fields(History):
        one, other = (tuple(getattr(x.fleet.history, kind.name)) for x in (kept, fresh))
        assert one == other, kind.name
        assert exact(one) == exact(other), kind.name
    assert _plain(kept.complaints) == list(fresh.complaints)
    assert exact(_plain(kept.complaints)) == exact(list(fresh.complaints))
    assert _told(kept.fleet.complaints) == _told(fresh.fleet.complaints)
    answers_must_agree(kept, fresh)
    assert exact(tuple(kept.entries)) == exact(tuple(fresh.entries))
    assert kept.mill == fresh.mill


def answers_must_agree(kept: Snapshot, fresh: Snapshot) -> None:
    """What is asked of all entries, told from an index and from the entries themselves."""
    plain = list(fresh.entries)
    now = fresh.fleet.as_of
    times = sorted(x.entry.when for x in plain)
    moments = {now, *times[:1], *times[-1:], *times[:: max(len(times) // 4, 1)]}
    moments |= {when + timedelta(microseconds=n) for when in moments for n in (-1, 1)}
    for when in moments:
        assert extent(kept.entries, when) == extent(plain, when), when
        for other in moments:
            assert number(kept.entries, when, other) == number(plain, when, other)
    for loom in fresh.mill.looms:
        for until, most in ((now, 3), (min(moments), 1), (max(moments), 10_000), (now, 0)):
            one, other = (of_loom(entries, loom, until, most) for entries in (kept.entries, plain))
            assert exact(one) == exact(other), (loom, until, most)
    for shift in {x.entry.shift for x in plain if x.entry.shift is not None}:
        assert by_log(kept.entries, shift) == by_log(plain, shift), shift


def _plain(complaints: Sequence[Complaint]) -> list[Complaint]:
    """Without the lines that went and came: only an index that saw them can tell."""
    plain = []
    for complaint in complaints:
        diagnostic = complaint.diagnostic
        if diagnostic.code is Code.CHANGED_AFTER_HANDOVER:
            help, _, _ = re.split("(; (?:went|came): )", f"{diagnostic.help}; went: ", maxsplit=1)
            complaint = replace(complaint, diagnostic=replace(diagnostic, help=help))
        plain.append(complaint)
    return plain


def _told(complaints: Sequence[Complaint]) -> list[Complaint]:
    return sorted((replace(c, shift=None) for c in complaints), key=where)


_ENDS = ("when", "end", "cleared", "ended", "taken")  # where a fact of a history has its moment


def searches_must_agree(index: Index, fresh: Snapshot, dice: random.Random) -> None:
    """What is found by way of an index, and in all lines."""
    lines, as_of = lines_in(fresh), fresh.fleet.as_of
    every = search(lines, Question()).hits
    with index.reads() as readings:
        given = numbers_given(readings.connection)
    assert given == writing.numbers_given(x.entry for x in fresh.entries)
    words = [word for hit in every for word in hit.found.text.split()]
    cut = dice.choice([as_of, *(hit.found.near for hit in every if hit.found.near)])
    word, other = dice.choice(["nothing", *words]), dice.choice(["nothing", *words])
    for question, around, written_by in (
        (Question(), 0, None),
        (Question(until=cut), 0, None),
        (Question(since=cut), 0, as_of),
        (Question(words=(word,)), dice.choice((0, 2)), None),
        (Question(words=(word, other), until=cut), 0, as_of),
        (Question(loom=dice.choice(sorted(fresh.mill.looms)), until=cut), 1, None),
        (Question(kinds=((dice.choice(("isolated", "done")), None), ("note", None))), 0, None),
        (Question(kinds=((dice.choice(("isolated", "done", "note")), None),)), 0, None),
        (Question(style=word, since=cut), 0, None),
    ):
        found = find(index, as_of, question, around=around, written_by=written_by)
        whole = search(lines, question, around=around, written_by=written_by)
        assert found.hits == whole.hits, (question, around)
        assert found.totals == whole.totals, question
        assert found.near == whole.near, question


def ends_must_agree(kept: Snapshot, fresh: Snapshot, since: datetime) -> None:
    """Of each list its end: nothing of that moment or later may be missing."""
    pairs = [
        (getattr(kept.fleet.history, kind.name), getattr(fresh.fleet.history, kind.name))
        for kind in fields(History)
    ]
    for one, other in [*pairs, (kept.fleet.shed.taken, fresh.fleet.shed.taken)]:
        end = list(recent(one, since))
        assert end == list(other)[len(other) - len(end) :]
        assert all(_moment(x) < since for x in list(other)[: len(other) - len(end)])


def _moment(fact: Any) -> datetime:
    if hasattr(fact, "proof"):
        return _moment(fact.proof)
    found = next(at for name in _ENDS if (at := getattr(fact, name, None)) is not None)
    assert isinstance(found, datetime)
    return found


# -- rows ----------------------------------------------------------------------------------


def rows_of(connection: sqlite3.Connection) -> dict[str, list[Any]]:
    """What the tables say, less what depends on the order of saves."""
    paths = dict(connection.execute("SELECT id, path FROM file"))
    columns = "path, size, mtime_ns, ctime_ns, digest, growing AND NOT ended AND size > 0, ended, settles, lines, entries, parts, first, last, frame"
    files = [
        (*row, exact(told and unpack(told)), zlib.decompress(data))
        for *row, told, data in connection.execute(f"SELECT {columns}, told, data FROM file ORDER BY path")
    ]  # fmt: skip
    return {
        "file": files,
        "word": connection.execute("SELECT term FROM word ORDER BY term").fetchall(),
        "filed": sorted(
            (day, name, paths[file], *numbers)
            for day, name, file, *numbers in connection.execute(
                "SELECT day, name, file, sealed, others FROM filed"
            )
        ),
        "strike": sorted(
            (paths[file], *rest)
            for file, *rest in connection.execute("SELECT file, line, at, loom, minute FROM strike")
        ),
    }


def checkpoints_must_hold(
    connection: sqlite3.Connection, files: Iterable[FileReading], mill: Mill, as_of: datetime
) -> int:
    """Every checkpoint and the segments before it are what a fold of everything comes to there.

    As of the moment that the index was last looked at. Answers how many there are.
    """
    files = list(files)
    logged = [Logged(path=f.path, entry=e) for f in files for e in f.reading.entries]
    counting = counted(logged, as_of, mill.zone)
    marks = [upto for (upto,) in connection.execute("SELECT upto FROM checkpoint ORDER BY upto")]
    for upto in marks:
        folding = Folding(mill=mill, as_of=as_of, complaints=[])
        folding.take([x for x in counting.entries if x.entry.when < moment(upto)])
        kept = segments.folded_at(connection, upto)
        assert exact(_sorted(kept)) == exact(_sorted(folding.folded()))
        for kind in {type(f) for f in folding.facts}:
            before: list[Fact] = segments.members(connection, kind.__name__, upto, None)
            assert exact(before) == exact([f for f in folding.facts if type(f) is kind])
    _must_be_whole(connection, marks)
    lines = lines_by_shift(files)
    seals = {seal_of(found) for found in lines.values()} | {seal_of(())}
    for count, digest in connection.execute("SELECT lines, digest FROM seal"):
        assert Seal(lines=count, digest=digest) in seals
    return len(marks)


def _sorted(folded: Folded) -> Folded:
    """With the numbers in their order, which tells nothing."""
    return replace(folded, numbers=dict(sorted(folded.numbers.items())))


def _joined_must_hold(connection: sqlite3.Connection, marks: Sequence[int]) -> None:
    """Joined spells are those of the segments that they stand for, each in its place by loom."""
    kind, reach = kind_of(Spell), -(1 << 62)
    told = connection.execute("SELECT start, upto, members FROM joined ORDER BY start").fetchall()
    for start, upto, packed in told:
        assert start == reach
        assert upto <= marks[-1]
        reach = upto
        asked = "SELECT members FROM segment WHERE kind = ? AND start >= ? AND start < ?"
        ordered = connection.execute(f"{asked} ORDER BY start", (kind, start, upto)).fetchall()
        own = joined([piece for (part,) in ordered for piece in unpack(part)])
        found = unpack(packed)
        assert (found.looms, found.styles) == (own.looms, own.styles)
        for name in ("loom", "start", "end", "motion", "reason", "style"):
            assert getattr(found, name).tolist() == getattr(own, name).tolist()


def _must_be_whole(connection: sqlite3.Connection, marks: Sequence[int]) -> None:
    """No segment reaches beyond the last checkpoint, and none lies across one."""
    stretches = connection.execute("SELECT DISTINCT start, upto FROM segment").fetchall()
    for start, upto in stretches:
        assert marks
        assert upto <= marks[-1]
        assert not any(start < mark < upto for mark in marks)
    _joined_must_hold(connection, marks)
    assert rows.known(connection).keys() == {
        p for (p,) in connection.execute("SELECT path FROM file")
    }
