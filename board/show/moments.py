"""Times and spans of time in words, by the shed's own clock."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo


def clock(when: datetime, now: datetime, zone: ZoneInfo) -> str:
    """A moment as short as it is clear: ``05:10`` within the last 18 hours, else with its date."""
    local = when.astimezone(zone)
    if timedelta(0) <= now - when < timedelta(hours=18):
        return f"{local:%H:%M}"
    if abs(now - when) < timedelta(days=300):
        return f"{local:%d} {MONTHS[local.month - 1]} {local:%H:%M}"
    return f"{local:%Y-%m-%d %H:%M}"


def day_of(day: date, now: datetime, zone: ZoneInfo) -> str:
    """A date as short as it is clear: ``17 Nov``, with its year where that is far off."""
    if abs(now.astimezone(zone).date() - day) < timedelta(days=300):
        return f"{day:%d} {MONTHS[day.month - 1]}"
    return day.isoformat()


def long_clock(when: datetime, zone: ZoneInfo) -> str:
    """A moment with its weekday and date: ``Wed 25 Nov 06:00``."""
    local = when.astimezone(zone)
    return f"{DAYS[local.weekday()]} {local.day} {MONTHS[local.month - 1]} {local:%H:%M}"


# not strftime's, which follow the machine's language
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def counted(number: int, word: str) -> str:
    """A count with its noun: ``1 shift``, ``3 shifts``."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def figure(value: float, digits: int = 3) -> str:
    """A number as people write it: no exponent, no more digits than are meant."""
    if value != 0 and abs(value) < 10 ** (digits - 1):
        places = max(digits - 1 - _magnitude(value), 0)
        return f"{value:.{min(places, 6)}f}"
    return f"{value:.0f}"


def _magnitude(value: float) -> int:
    whole = abs(value)
    power = 0
    while whole >= 10:
        whole, power = whole / 10, power + 1
    while 0 < whole < 1:
        whole, power = whole * 10, power - 1
    return power
