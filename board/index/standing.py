"""Which entries of an index count, from which checkpoint a fold may go on, and baking the old ones.

Baked is what was folded once for all: its facts and complaints stand in segments, its states in
checkpoints.
"""

from __future__ import annotations

from collections.abc import Sequence
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
AT_A_TIME = 1_500  # entries that are folded in one piece: what is saved meanwhile waits for its end
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

    A stretch is folded, and a checkpoint packed, while others may write; what came of it is put
    into the tables in a transaction of its own, if nobody has. What is folded beyond the last
    checkpoint counts for nothing until the one that is ``owed`` stands.
    """

    as_of: datetime
    begin: int
    ends: list[int]
    folded: Folded | None
    marked: int  # where the last checkpoint stands [us]
    unmarked: int = 0  # entries since then
    owed: bool = False
    arrived: bool = False

    def stop(self) -> None:
        """Leave the other stretches for another time."""
        self.ends.clear()
        self.owed = self.begin != self.marked


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """What came of a stretch of entries: the rows that are kept of it, and where the fold stood."""

    end: int
    rows: Sequence[segments.Row]
    folded: Folded
    entries: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A checkpoint as it is kept, and the spells that are joined by then."""

    packed: bytes
    joined: joining.Row | None


def is_in_the_way(connection: Connection, as_of: datetime, now: int) -> bool:
    """Whether anything must be taken away before a fold begins; ``now`` [us] is the clock's."""
    newest = segments.latest(connection, END)
    if newest is not None:
        if newest > now:
            return True
        if newest <= micros(as_of) and newest != base_for(connection, as_of):
            return True
    return segments.has_rest(connection)


def make_room(connection: Connection, as_of: datetime, now: int) -> None:
    """Take away what is in the way of a fold, as much as is soon done. Inside a transaction."""
    segments.void_after(connection, now)
    newest = segments.latest(connection, END)
    if newest is not None and newest <= micros(as_of):
        base = base_for(connection, as_of)
        if base != newest:
            segments.void(connection, BEGIN if base is None else base)
    segments.sweep(connection)


def begun(readings: Readings, as_of: datetime, until: datetime | None, size: int) -> Baking | None:
    """What there is to bake, in stretches of about ``size`` entries; None for little or nothing.

    Old enough is what is a day older than ``until``, or than ``as_of``. Nothing may be in the way.
    Changes nothing.
    """
    connection = readings.connection
    goal = rows.minute_of(micros(min(until or as_of, as_of) - KEPT_OPEN))
    newest = segments.latest(connection, END)
    if newest is not None and newest > micros(as_of):
        return None  # somebody looks back
    base = base_for(connection, as_of)
    begin = BEGIN if base is None else base
    if begin >= goal:
        return None
    since = rows.times_between(connection, begin, goal)
    if len(since) <= (LONGEST_TAIL if base is not None else 0):
        return None
    folded = None if base is None else readings.checkpoint(base)[1]
    ends = _ends(since, goal, size)
    return Baking(as_of=as_of, begin=begin, ends=ends, folded=folded, marked=begin)


def next_of(readings: Readings, mill: Mill, baking: Baking) -> Stretch | Mark:
    """Fold the next stretch, or make the checkpoint that is owed. Changes nothing."""
    if not baking.owed:
        end = baking.ends[0]
        return _bake_one(readings, mill, baking.as_of, baking.begin, end, baking.folded)
    assert baking.folded is not None, "a checkpoint is owed behind a stretch"
    return Mark(packed=pack(baking.folded), joined=joining.to_join(readings.connection))


def put(readings: Readings, baking: Baking, made: Stretch | Mark) -> None:
    """Keep what came next. Inside a transaction, as nobody has written since it was made."""
    if isinstance(made, Stretch):
        segments.add(readings.connection, made.rows)
        readings.connection.execute(
            "UPDATE strike SET baked = 1 WHERE minute >= ? AND minute < ? AND at <= ?",
            (baking.begin, made.end, micros(baking.as_of)),
        )
        baking.begin, baking.folded = baking.ends.pop(0), made.folded
        baking.unmarked += made.entries
        baking.arrived = not baking.ends
        baking.owed = baking.arrived or baking.unmarked >= AT_ONCE
    else:
        assert baking.folded is not None, "a checkpoint is owed behind a stretch"
        readings.mark(baking.begin, baking.folded, made.packed)
        if made.joined is not None:
            joining.join(readings.connection, made.joined)
        baking.marked, baking.unmarked, baking.owed = baking.begin, 0, False
        if baking.arrived:
            readings.cool(baking.begin)


def _ends(times: Sequence[int], goal: int, size: int) -> list[int]:
    """Where segments end [us], each with about as many entries, the last at the goal.

    The first is shorter: in it clauses are read that were not met yet.
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
) -> Stretch:
    counted = counted_between(readings, begin, end, as_of, mill.zone)
    folding = Folding(mill=mill, as_of=as_of, start=start)
    folding.take(counted.entries)
    complaints = [*counted.complaints, *folding.complaints]
    complaints = shifts.with_shifts(readings.connection, complaints)
    return Stretch(
        end=end,
        rows=segments.rows_of(begin, end, folding.facts, complaints, folding.shed.taken),
        folded=folding.folded(),
        entries=len(counted.entries),
    )


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
