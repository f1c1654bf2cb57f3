"""The example's calendar: minutes, shifts and who was on duty, from 16 October to 25 November.

Times inside the example are whole minutes since its epoch (UTC), so that the night on which the
clocks go back needs no special arithmetic. It leaves what happened in a shift to `world`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

ZONE = ZoneInfo("Europe/London")
EPOCH = datetime(2026, 10, 16, tzinfo=UTC)
HOUR = 60
DAY = 24 * HOUR

_NAMES = ("early", "late", "night")


def at(local: str) -> int:
    """The minute [since the epoch] of a local time such as ``2026-11-24 23:10``.

    In the repeated hour the first pass is meant; an offset in the text says otherwise.
    """
    moment = datetime.fromisoformat(local)
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=ZONE)
    return round((moment - EPOCH).total_seconds()) // 60


def wall(minute: int) -> datetime:
    """The local time of a minute."""
    return (EPOCH + timedelta(minutes=minute)).astimezone(ZONE)


START = at("2026-10-16 06:00")
END = at("2026-11-25 06:00")
CLOSED = (at("2026-11-01 05:56"), at("2026-11-02 06:04"))
TWICE = (at("2026-10-25 01:00"), at("2026-10-25T02:00+00:00"))
_MONDAY = date(2026, 11, 23)


@dataclass(frozen=True, slots=True)
class Shift:
    """A shift of a day: the day it began on, and which of the three it is."""

    day: date
    turn: int

    @property
    def name(self) -> str:
        """The register's name of the shift."""
        return _NAMES[self.turn]

    @property
    def start(self) -> int:
        """The shift's first minute."""
        return at(f"{self.day} {(6, 14, 22)[self.turn]:02}:00")

    @property
    def end(self) -> int:
        """The first minute after the shift."""
        return self.after().start

    def after(self) -> Shift:
        """The next shift."""
        if self.turn == 2:
            return Shift(self.day + timedelta(days=1), 0)
        return Shift(self.day, self.turn + 1)

    def crew(self) -> tuple[str, str]:
        """Initials of the lead, who writes section A, and of the second fitter, who writes B.

        Three crews change places every Monday (night to late to early); a relief fitter stands in
        for a lead or a second fitter now and then.
        """
        week = (self.day - _MONDAY).days // 7
        lead, second = (("RB", "HS"), ("DW", "JO"), ("KM", "TN"))[(self.turn + week) % 3]
        running = self.day.toordinal() * 3 + self.turn
        if running % 10 == 1:
            lead = "EP"
        if running % 10 == 8:
            second = "UB"
        return lead, second


def shift_at(minute: int) -> Shift:
    """The shift that a minute lies in."""
    local = wall(minute)
    if local.hour < 6:
        return Shift(local.date() - timedelta(days=1), 2)
    return Shift(local.date(), (local.hour - 6) // 8)


def all_shifts() -> list[Shift]:
    """Every shift of the example, in order."""
    shift, found = shift_at(START), []
    while shift.start < END:
        found.append(shift)
        shift = shift.after()
    return found


def closed(minute: int) -> bool:
    """Whether the shed stands closed at that minute."""
    return CLOSED[0] <= minute < CLOSED[1]
