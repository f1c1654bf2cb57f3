"""Which moment a time as typed means, how it is written, and the shift that it is filed under.

Pure: what was typed, now and the mill go in.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

from board.mill import Mill
from board.state.shifts import ShiftCalendar, ShiftSpan
from grammar import times
from grammar.entries import Shift
from grammar.folding import fold_word
from grammar.frozen import dataclass

_LONG_AGO = timedelta(hours=12)  # an entry older than that is told with its age
_SOON = timedelta(minutes=60)  # a bare time so near ahead is a slip, and not yesterday's


@dataclass(frozen=True, slots=True, kw_only=True)
class Filed:
    """Under which shift a line is filed, how its time is written, and what to say about that.

    ``ahead`` tells how to write a time that has not come yet; it is empty for any other.
    """

    shift: Shift
    stamp: str
    said: str = ""
    ahead: str = ""


def filed(stamp: str, now: datetime, mill: Mill) -> Filed:
    """The shift of a time as typed, or of now (UTC) where none was typed.

    A bare time is the latest such one not after now, but for one that comes within the hour: that
    is told as not yet come. It is written in full where a reader of the file would take it for
    another moment: in a repeated hour, or far from any shift.
    """
    folded = fold_word(stamp)
    if not stamp:
        return _written(_minute(now), "", mill)
    try:
        wall = times.read_full(folded)
        if wall is not None:
            when = times.resolve(wall, mill.zone, second_pass=False).when
            return Filed(shift=shift_of(when, mill), stamp=stamp)
        clock = times.read_clock(folded)
    except (times.NoTime, times.NoSuchTime):
        return Filed(shift=shift_of(now, mill), stamp=stamp)  # the reader will say why not
    today = now.astimezone(mill.zone).date()
    soon = _soon(clock, now, mill)
    for day in (today, today - timedelta(days=1)):
        local = datetime.combine(day, clock)
        past = [moment for moment in _passes(local, mill) if moment <= now]
        if not past:
            continue
        when = max(past)
        if when.astimezone(mill.zone).replace(tzinfo=None) != local:
            return Filed(shift=shift_of(when, mill), stamp=stamp)  # skipped by the clock change
        if soon is not None and now - when > _SOON:
            meant = f"{local:%Y-%m-%dT%H:%M}"
            help = f"for now leave the time out; for the last such time write {meant}"
            return replace(_written(soon, stamp, mill), ahead=help)
        chosen = _written(when, stamp, mill)
        if now - when < _LONG_AGO:
            return chosen
        hours = (now - when).total_seconds() / 3600
        told = (
            f"{stamp} is taken as {local:%Y-%m-%d %H:%M}, {hours:.0f} h ago; if that is wrong,"
            f" write the date: {today}T{clock:%H:%M}"
        )
        return replace(chosen, said=told)
    return Filed(shift=shift_of(now, mill), stamp=stamp)


def _passes(local: datetime, mill: Mill) -> list[datetime]:
    """The moments at which the clocks on the wall show, or would show, a time of a day."""
    return [local.replace(tzinfo=mill.zone, fold=f).astimezone(UTC) for f in (0, 1)]


def _soon(clock: time, now: datetime, mill: Mill) -> datetime | None:
    """The moment within the coming hour at which the clocks show that time."""
    today = now.astimezone(mill.zone).date()
    for day in (today, today + timedelta(days=1)):
        local = datetime.combine(day, clock)
        for moment in _passes(local, mill):
            shown = moment.astimezone(mill.zone).replace(tzinfo=None)
            if now < moment <= now + _SOON and shown == local:
                return moment
    return None


def _minute(now: datetime) -> datetime:
    return now.replace(second=0, microsecond=0)


def _written(when: datetime, typed: str, mill: Mill) -> Filed:
    """A moment under its shift, as typed where that reads as the same moment."""
    local = when.astimezone(mill.zone)
    wall = local.replace(tzinfo=None)
    shift = shift_of(when, mill)
    own = next(s for s in mill.shifts if s.name == shift.name)
    read_as, outside = times.place_in_shift(wall.time(), shift.day, own)
    if times.came_twice(wall, mill.zone):
        which = "second" if local.fold else "first"
        said = f"the clocks went back and {wall:%H:%M} came twice: the {which} is meant"
        stamp = local.isoformat(timespec="minutes")
        return Filed(shift=shift, stamp=stamp, said=said)
    if read_as != wall or outside > timedelta(0):
        return Filed(shift=shift, stamp=wall.isoformat(timespec="minutes"))
    return Filed(shift=shift, stamp=typed or f"{wall:%H:%M}")


def shift_of(when: datetime, mill: Mill) -> Shift:
    """The shift that a moment lies in; in closed hours the nearest, a tie after its end."""
    return span_of(when, mill).shift


def span_of(when: datetime, mill: Mill) -> ShiftSpan:
    """That shift with its start and end."""
    calendar = ShiftCalendar(mill.shifts, mill.zone)
    inside = calendar.at(when)
    if inside is not None:
        return inside
    before, after = calendar.before(when), calendar.next_after(when)
    return before if when - before.end <= after.start - when else after
