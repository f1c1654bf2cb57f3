"""What the times of a line mean under its heading, or why they mean nothing.

The rules of the calendar stand in ``times``; this module knows the line, its heading and what the
file told before. Most lines fall on days without a clock change: for those the way from the
written time to UTC is an addition.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from lark import Token

from grammar import times
from grammar.diagnostics import Code, LineRefused
from grammar.entries import ByTime, DueAt, Heading, Shift, Span
from grammar.line import BEHIND, Line, known_words, last_word
from grammar.vocabulary import ShiftTimes, Vocabulary

_ZERO = timedelta(0)
_KEPT = 4096  # how many days are remembered at most


@dataclass(slots=True)
class Moment:
    """When a line says that it happened, and what it tells of a repeated hour.

    ``bare`` is a wall time that came twice and was written without its offset; ``second_on`` the
    day in whose repeated hour an offset names the second pass.
    """

    when: datetime
    latest: datetime
    shift: Shift | None
    bare: datetime | None = None
    second_on: date | None = None


class Clock:
    """Reads times for one mill, under the heading set last."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._zone = vocabulary.zone
        self._shifts = vocabulary.shifts
        self._by_name = {shift.name: shift for shift in vocabulary.shifts}
        self._by_word = vocabulary.shift_by_word
        # per shift: a bare time as it is written -> how far behind its day's midnight it lies
        self._inside: dict[str, dict[str, timedelta]] = {s.name: {} for s in vocabulary.shifts}
        self._midnights: dict[date, datetime | None] = {}
        self._heading: Heading | None = None
        # of the heading: the UTC midnight of its day, and the bare times met in such a shift
        self.midnight: datetime | None = None
        self.known: dict[str, timedelta] = {}

    def under(self, heading: Heading | None) -> None:
        """Sets the heading that holds for the lines to come."""
        self._heading = heading
        self.midnight = self._steady_midnight(heading.shift.day) if heading else None
        self.known = self._inside[heading.shift.name] if heading and self.midnight else {}

    def _steady_midnight(self, day: date) -> datetime | None:
        """The day's midnight in UTC, or None where the clocks change around that day."""
        if day not in self._midnights:
            if len(self._midnights) >= _KEPT:
                self._midnights.clear()
            offset = times.steady_offset(day, self._zone)
            midnight = datetime.combine(day, time(0), tzinfo=UTC)
            self._midnights[day] = None if offset is None else midnight - offset
        return self._midnights[day]

    # -- the head of a line ----------------------------------------------------------------

    def quick(self, stamp: str) -> datetime | None:
        """The instant of a time that was met before in such a shift, away from clock changes."""
        after = self.known.get(stamp)
        return None if after is None or self.midnight is None else self.midnight + after

    def moment(self, line: Line, token: Token, stamp: str, second_pass_on: date | None) -> Moment:
        """The time that a line begins with. Raises LineRefused."""
        stamp = stamp.rstrip(".,")
        wall = self._full(line, token, stamp)
        heading = self._heading
        if wall is not None:
            local = times.wall_in(wall, self._zone)
            around = tuple(times.shifts_around(local, self._shifts))
            own = heading.shift if heading else None
            shift = own if own in around or not around else around[0]
        elif heading is not None:
            shift = heading.shift
            wall = self._bare(line, token, stamp, shift)
            local = wall.local
        else:
            raise line.refused(
                Code.NO_DAY,
                "this entry stands under no heading that was understood",
                _place_of(line, token, stamp),
                label="of which day?",
                help="write a line above it like: day 2026-11-24 night by KM",
            )
        instant = self._instant(line, token, stamp, wall, second_pass_on)
        moment = Moment(instant.when, instant.latest, shift)
        if instant.twice:
            moment.bare = local
        elif not self._steady_midnight(local.date()) and times.came_twice(local, self._zone):
            second = local.replace(tzinfo=self._zone, fold=1).astimezone(UTC)
            moment.second_on = local.date() if instant.when == second else None
        return moment

    def _bare(self, line: Line, token: Token, stamp: str, shift: Shift) -> times.Wall:
        known = self._inside[shift.name].get(stamp)
        if known is not None:
            return times.Wall(datetime.combine(shift.day, time(0)) + known)
        clock = self._time_of_day(line, token, stamp)
        own = self._by_name[shift.name]
        local, outside = times.place_in_shift(clock, shift.day, own)
        if outside > _ZERO:
            line.flags.append(
                line.complaint(
                    Code.OUTSIDE_SHIFT,
                    f"{local:%H:%M} lies far outside the {own.name} shift of {shift.day}"
                    f"; {local:%Y-%m-%d %H:%M} is taken",
                    _place_of(line, token, stamp),
                    help=f"check the time, or write it in full, like {local:%Y-%m-%dT%H:%M}",
                )
            )
        else:
            self._inside[shift.name][stamp] = local - datetime.combine(shift.day, time(0))
        return times.Wall(local)

    # -- times inside a clause ---------------------------------------------------------------

    def named(
        self, line: Line, token: Token, shift: Shift | None, second_pass_on: date | None
    ) -> ByTime:
        """The time that names an entry or an action, the token's last word. Raises LineRefused."""
        stamp = last_word(token)
        wall = self._full(line, token, stamp)
        if wall is None:
            if shift is None:
                raise line.refused(
                    Code.NO_DAY,
                    "this time belongs to no known shift",
                    _place_of(line, token, stamp),
                    help="write it in full, like 2026-11-24T22:55",
                )
            clock = self._time_of_day(line, token, stamp)
            local, _ = times.place_in_shift(clock, shift.day, self._by_name[shift.name])
            wall = times.Wall(local)
        instant = self._instant(line, token, stamp, wall, second_pass_on)
        return ByTime(moment=instant.when, written=line.last_word(token))

    def due(self, line: Line, token: Token, after: datetime) -> DueAt:
        """The moment of a ``due`` with a date, a time or a shift. Raises LineRefused."""
        words = token.value.rstrip().rstrip(BEHIND)
        written = line.written(token).rstrip(BEHIND)
        match token.type:
            case "SHIFT":
                moment = times.next_start(self._shift(token), after, self._zone)
            case "DATE":
                moment = times.end_of_day(self.day(line, token), self._zone)
            case _:
                wall = self._full(line, token, words)
                if wall is None:
                    clock = self._time_of_day(line, token, words)
                    moment = times.next_clock(clock, after, self._zone)
                else:
                    moment = self._instant(line, token, words, wall, None).when
        return DueAt(moment=moment, written=written)

    def shift_name(self, token: Token) -> str:
        """The register's name of the shift that a token names."""
        return self._shift(token).name

    def _shift(self, token: Token) -> ShiftTimes:
        return self._by_word[known_words(token.value, self._by_word)]

    # -- the calendar ----------------------------------------------------------------------

    def day(self, line: Line, token: Token) -> date:
        """The date that a token names. Raises LineRefused."""
        try:
            return times.read_date(last_word(token))
        except times.NoTime:
            raise line.refused(
                Code.NOT_UNDERSTOOD,
                f"the calendar has no {line.last_word(token)}",
                line.last_word_span(token),
                help="write year, month and day, like 2026-11-24",
            ) from None

    def _full(self, line: Line, token: Token, stamp: str) -> times.Wall | None:
        try:
            return times.read_full(stamp)
        except times.NoTime:
            raise self._no_time(line, token, stamp) from None

    def _time_of_day(self, line: Line, token: Token, stamp: str) -> time:
        try:
            return times.read_clock(stamp)
        except times.NoTime:
            raise self._no_time(line, token, stamp) from None

    def _no_time(self, line: Line, token: Token, stamp: str) -> LineRefused:
        span = _place_of(line, token, stamp)
        written = line.folded.line[span.start : span.end]
        if "-" in stamp:
            message = f"the calendar and the clock have no {written}"
            help = "write date and time like 2026-11-24T22:40"
        else:
            message = f"{written} is no time of day"
            help = "write hours 00 to 23 and minutes 00 to 59, like 22:40"
        return line.refused(Code.NOT_UNDERSTOOD, message, span, help=help)

    def _instant(
        self, line: Line, token: Token, stamp: str, wall: times.Wall, second_pass_on: date | None
    ) -> times.Instant:
        if wall.offset is None and (midnight := self._steady_midnight(wall.local.date())):
            steady = midnight + timedelta(
                hours=wall.local.hour, minutes=wall.local.minute, seconds=wall.local.second
            )
            return times.Instant(steady, steady)
        try:
            instant = times.resolve(
                wall, self._zone, second_pass=wall.local.date() == second_pass_on
            )
        except times.NoSuchTime:
            raise line.refused(
                Code.NO_SUCH_TIME,
                f"the clocks went forward over {wall.local:%H:%M} on {wall.local:%Y-%m-%d}",
                _place_of(line, token, stamp),
                help="write the time that the clock on the wall showed",
            ) from None
        if instant.twice:
            taken = (
                "the first is taken"
                if instant.when != instant.latest
                else "the file's times step back, so the second is taken"
            )
            both = " or ".join(
                wall.local.replace(tzinfo=self._zone, fold=fold).isoformat(timespec="minutes")
                for fold in (0, 1)
            )
            line.flags.append(
                line.complaint(
                    Code.HOUR_TWICE,
                    f"the clocks went back and this time came twice; {taken}",
                    _place_of(line, token, stamp),
                    help=f"write it in full with its offset: {both}",
                )
            )
        return instant


def _place_of(line: Line, token: Token, stamp: str) -> Span:
    """Where a time stands: at the start of a line's head, at the end of any other token."""
    at = token.value.find(stamp) if token.type == "AT" else token.value.rfind(stamp)
    return line.stretch(token, at, at + len(stamp))
