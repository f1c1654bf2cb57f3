"""Which entries of an index count, from which checkpoint a fold may go on, and baking the old ones.

Baked is what was folded once for all: its facts and complaints stand in segments, its states in
checkpoints.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta, tzinfo
from sqlite3 import Connection

from board.index import joining, rows, segments, shifts
from board.index.packing import pack
from board.index.readings import Readings
from board.mill import Mill
from board.state.counting import Counted, until, without_doubles
from board.state.fleet import Complaint
from board.state.fold import Folding
from board.state.folded import Folded
from board.state.logged import Logged, in_time_order
from board.state.spells import micros
from board.state.strikes import struck
from grammar.frozen import dataclass

AT_ONCE = 20_000  # entries from one checkpoint to the next, about, while many are folded
AT_A_TIME = 1_500  # entries that are folded in one transaction: a fitter's line waits for its end
LONGEST_TAIL = 3_000  # entries that are folded anew each time, before the base moves on
HOT = timedelta(days=3)  # a log with an entry since then is likely to be asked for again
KEPT_OPEN = timedelta(hours=26)  # at the end: lines are written late, and then cost little

_MICROSECOND = timedelta(microseconds=1)
BEGIN, END = -(1 << 62), 1 << 62


def base_for(connection: Connection, as_of: datetime) -> int | None:
    """The latest checkpoint [us] that holds for a moment, or None."""
    now = micros(as_of)
    bounds = [now]
    # struck since, but not known to the segments; or known to them, and later than this moment
    for asked in (
        "SELECT min(minute) FROM strike WHERE NOT baked AND at <= ?",
        "SELECT min(minute) FROM strike WHERE baked AND at > ?",
    ):
        (minute,) = connection.execute(asked, (now,)).fetchone()
        if minute is not None:
            bounds.append(minute)
    return segments.latest(connection, min(bounds))


def hot_since(connection: Connection, now: datetime, years: bool) -> int:
    """From when on [us] the entries of a log are likely to be asked for again.

    After days without an entry those that each fold goes through are older than HOT; while
    ``years`` are put away they are not known yet.
    """
    since = micros(now - HOT)
    (newest,) = connection.execute("SELECT max(last) FROM file").fetchone()
    return since if newest is None or years else min(since, newest - HOT // _MICROSECOND)


@dataclass(slots=True, kw_only=True)
class Baking:
    """Old entries on their way into segments: folded up to ``begin``, in stretches up to ``ends``.

    Between two stretches the transaction may end, and before the checkpoint that is ``owed``: what
    is folded beyond the last one counts for nothing by then, and is gone on from only while nobody
    else has written.
    """

    as_of: datetime
    begin: int
    ends: list[int]
    folded: Folded | None
    unmarked: int = 0  # entries since the last checkpoint
    owed: bool = False
    arrived: bool = False


def bake(readings: Readings, mill: Mill, as_of: datetime, until: datetime | None = None) -> bool:
    """Fold what is old enough once for all, and keep it; whether there was any.

    Old enough is what is a day older than ``until``, or than ``as_of``. Inside a transaction. Does
    nothing while the entries since the last checkpoint are few.
    """
    baking = begun(readings, mill, as_of, until, AT_ONCE)
    if baking is None:
        return False
    while baking.ends:
        go_on(readings, mill, baking)
        if baking.owed:
            mark(readings, baking, pack(baking.folded))
    return True


def begun(
    readings: Readings, mill: Mill, as_of: datetime, until: datetime | None, size: int
) -> Baking | None:
    """What there is to bake, in stretches of about ``size`` entries; None for nothing."""
    connection = readings.connection
    goal = rows.minute_of(micros(min(until or as_of, as_of) - KEPT_OPEN))
    newest = segments.latest(connection, END)
    if newest is not None and newest > micros(as_of):
        return None  # somebody looks back
    base = base_for(connection, as_of)
    begin = BEGIN if base is None else base
    if base != newest:
        segments.void(connection, begin)
    if begin >= goal:
        return None
    since = rows.times_between(connection, begin, goal)
    if len(since) <= (LONGEST_TAIL if base is not None else 0):
        return None
    segments.drop_from(connection, begin)  # a baking that came to no checkpoint
    folded = None if base is None else readings.checkpoint(base)[1]
    return Baking(as_of=as_of, begin=begin, ends=_ends(since, goal, size), folded=folded)


def go_on(readings: Readings, mill: Mill, baking: Baking, pause: Callable[[], bool] = bool) -> None:
    """Fold the next stretch; a checkpoint is owed behind many, behind the last and at a pause.

    ``pause`` is asked behind each stretch but the last whether the others are to be left for
    another time. Inside a transaction.
    """
    end = baking.ends.pop(0)
    baking.folded, entries = _bake_one(
        readings, mill, baking.as_of, baking.begin, end, baking.folded
    )
    baking.begin = end
    baking.unmarked += entries
    baking.arrived = not baking.ends
    if not baking.arrived and pause():
        baking.ends.clear()
    baking.owed = not baking.ends or baking.unmarked >= AT_ONCE


def mark(readings: Readings, baking: Baking, packed: bytes) -> None:
    """Put the checkpoint that is owed where the fold stands: it, packed. Inside a transaction."""
    assert baking.folded is not None, "a checkpoint is owed behind a stretch"
    readings.mark(baking.begin, baking.folded, packed)
    joining.join(readings.connection)
    baking.unmarked, baking.owed = 0, False
    if baking.arrived:
        rows.cool(readings.connection, baking.begin)
        _warm(readings, baking.begin)
        readings.clear()  # years of them were read, and are not asked for soon


def _warm(readings: Readings, since: int) -> None:
    """Keep the readings that each fold goes through as they are, to be unpacked and not read."""
    connection = readings.connection
    for id in rows.cold_since(connection, since):
        rows.warm(connection, id, readings.of(id))


def _ends(times: Sequence[int], goal: int, size: int) -> list[int]:
    """Where segments end [us], each with about as many entries, the last at the goal.

    The first is shorter: in it the states that the fold goes on from are unpacked, and clauses read
    that were not met yet.
    """
    pieces = max(round(len(times) / size), 1)
    places = [len(times) * n // (4 * pieces) for n in (1, *range(4, 4 * pieces, 4))]
    ends = [rows.minute_of(times[place]) for place in places] if pieces > 1 else []
    return [*sorted({end for end in ends if times[0] < end < goal}), goal]


def _bake_one(
    readings: Readings,
    mill: Mill,
    as_of: datetime,
    begin: int,
    end: int,
    start: Folded | None,
) -> tuple[Folded, int]:
    connection = readings.connection
    counted = counted_between(readings, begin, end, as_of, mill.zone)
    folding = Folding(mill=mill, as_of=as_of, start=start)
    folding.take(counted.entries)
    complaints = shifts.with_shifts(connection, [*counted.complaints, *folding.complaints])
    segments.add(connection, begin, end, folding.facts, complaints, folding.shed.taken)
    connection.execute(
        "UPDATE strike SET baked = 1 WHERE minute >= ? AND minute < ? AND at <= ?",
        (begin, end, micros(as_of)),
    )
    return folding.folded(), len(counted.entries)


def counted_between(
    readings: Readings,
    begin: int | None,
    end: int | None,
    as_of: datetime,
    zone: tzinfo,
) -> Counted:
    """Which entries count between two moments [us], as ``counting.counted`` tells it of all."""
    own = readings.logged_between(begin, end)
    single, twice = without_doubles(in_time_order(own))
    others = _bearing(readings, begin, end)
    strikes: list[Complaint] = []
    if others or _striking(readings.connection, begin, end):
        elsewhere = {(x.path, x.entry.line) for x in others}
        pool, complaints = struck(in_time_order([*single, *others]), as_of)
        single = [x for x in pool if (x.path, x.entry.line) not in elsewhere]
        strikes = [c for c in complaints if (c.path, c.diagnostic.line) not in elsewhere]
    known, late = until(single, as_of, zone)
    return Counted(as_of=as_of, entries=tuple(known), complaints=(*twice, *late, *strikes))


def _striking(
    connection: Connection, begin: int | None, end: int | None
) -> Sequence[tuple[int, int]]:
    first, last = _bounds(begin, end)
    return connection.execute(
        "SELECT at, minute FROM strike WHERE (at >= ? AND at < ?) OR (minute >= ? AND minute < ?)",
        (first, last, first, last),
    ).fetchall()


def _bearing(readings: Readings, begin: int | None, end: int | None) -> list[Logged]:
    """Entries outside of a stretch that strike one inside, or that one inside may strike."""
    first, last = _bounds(begin, end)
    minutes: set[int] = set()
    for at, minute in _striking(readings.connection, begin, end):
        if not first <= minute < last:
            minutes.add(minute)
        if not first <= at < last:
            minutes.add(rows.minute_of(at))
    found: list[Logged] = []
    for minute in sorted(minutes):
        here = readings.logged_between(minute, minute + rows.MINUTE_US)
        found += without_doubles(in_time_order(here))[0]
    return found


def _bounds(begin: int | None, end: int | None) -> tuple[int, int]:
    return (BEGIN if begin is None else begin), (END if end is None else end)
