"""The single rows of the board: an isolation, a worn part, an action, a change."""

from __future__ import annotations

import re
from datetime import datetime

from board.reckon.changes import Change
from board.reckon.conformity import WearWord
from board.reckon.first_looks import FirstKind, FirstLook
from board.reckon.left import Ahead, Band
from board.reckon.margins import WearLine
from board.reckon.open_actions import ActionLine
from board.reckon.refusal import Refusal
from board.reckon.summary import Summary
from board.show.lines import Bit, Line, Tone, line
from board.show.measures import like, margin_of, plain
from board.show.moments import clock, counted
from board.show.text import clean, cut, fill, on_one_line, pad, width, wrapped
from board.state.fleet import Isolation, Lock, LoomState
from grammar.entries import DueAfterUse, DueAt, PlaceKind

INSIDE = (WearWord.NEAR_LIMIT, WearWord.WITHIN_LIMIT)
BAR_CELLS = 13
_LIMIT_AT = 10  # the cell of the bar that stands for the limit


def loom_cell(loom: str) -> str:
    """A loom's name in its column; one that is longer is never cut, for it could be another's."""
    return fill(clean(loom), 4)


def lock_row(summary: Summary, state: LoomState, lock: Lock, cells: int) -> Line:
    """One lock on record: loom, whose, since when, and whether it was seen this shift.

    Where the row is too short, what was written of the lock is cut, never what stands around it.
    """
    seen = Bit("not yet seen this shift", Tone.ABNORMAL)
    if summary.seen_this_shift(lock) and lock.seen is not None:
        seen = Bit(f"seen by {lock.seen.by} {_clock(summary, lock.seen.when)}")
    name = Bit(loom_cell(state.loom), Tone.STRONG)
    to_come = ", a time still to come" if summary.is_to_come(lock) else ""
    told = f" {clean(lock.by)} since {_clock(summary, lock.since)}{to_come}"
    text = f"  {on_one_line(lock.text)}" if lock.text else ""
    room = cells - width(name.text) - width(told) - 3 - width(clean(seen.text))
    return line(name, f"{told}{cut(text, room)}   ", seen)


def lock_text_rows(lock: Lock, cells: int) -> list[Line]:
    """What was written of a lock, whole, where it is too long to stand beside it."""
    words = on_one_line(lock.text).split()
    return [line(f"     {text}") for text in wrapped(words, cells - 5, gap=" ")]


def conflict_row(summary: Summary, state: LoomState) -> Line:
    """A loom written as running while it is isolated on record."""
    assert state.conflict_since is not None
    # the motion may have been written again since, by somebody else
    own = state.motion_source is not None and state.motion_source == state.conflict_source
    by = f" by {state.motion_by}" if own and state.motion_by else ""
    return line(
        Bit(loom_cell(state.loom), Tone.STRONG),
        Bit(" CONFLICT ", Tone.DANGER),
        f" written as running {_clock(summary, state.conflict_since)}{by}, locks stand: ask there",
    )


def short_lock(summary: Summary, state: LoomState, lock: Lock) -> str:
    """A lock in a few cells: ``*`` not seen this shift, ``+`` written for a time still to come."""
    mark = "" if summary.seen_this_shift(lock) else "*"
    later = "+" if summary.is_to_come(lock) else ""
    conflict = " CONFLICT" if state.isolation is Isolation.CONFLICT else ""
    return clean(f"{state.loom} {lock.by}{mark}{later}{conflict}")


def wear_bar(wear: WearLine, share_u: float) -> str:
    """How much of its life a part has worn: ``=`` worn, ``|`` the limit, ``.`` uncertain.

    With a forecast the life used is set against the two ends of its band; without one the reading
    stands between new and limit, uncertain by the tool.
    """
    ends = _life_ends(wear, share_u)
    if ends is None:
        return " " * BAR_CELLS
    sure, likely = ends
    cells = []
    for i in range(BAR_CELLS):
        if i == _LIMIT_AT:
            cells.append("|")
            continue
        at = (i + 0.5) / _LIMIT_AT if i < _LIMIT_AT else (i - 0.5) / _LIMIT_AT
        cells.append("=" if at <= sure else "." if at <= likely else " ")
    return "".join(cells)


def _life_ends(wear: WearLine, share_u: float) -> tuple[float, float] | None:
    beyond = wear.margin is not None and wear.margin <= 0
    if not beyond and isinstance(wear.ahead, Ahead) and wear.ahead.used > 0:
        used, hours = wear.ahead.used, wear.ahead.hours
        sure = used / (used + hours.high) if hours.high is not None else 0.0
        return sure, used / (used + max(hours.low, 0.0))
    if wear.worn is None:
        return None
    return wear.worn - share_u, wear.worn + share_u


def margin_words(wear: WearLine) -> str:
    """The margin in words: ``0.06 mm to limit``, ``0.05 mm past limit``, ``14.0 Hz above 47``."""
    if wear.margin is None:
        return wear.words
    size = margin_of(wear)
    unit = wear.reading.unit
    if wear.word is WearWord.PAST_LIMIT:
        return f"PAST LIMIT by {size} {unit}"
    if wear.word is WearWord.AT_LIMIT:
        side = "inside" if wear.margin >= 0 else "beyond"
        return f"AT LIMIT, {size} {unit} {side}"
    if wear.of_band and wear.limit is not None:
        return f"{size} {unit} {_side(wear)} {plain(wear.limit)}"
    return f"{size} {unit} to limit"


def _side(wear: WearLine) -> str:
    """On which side of its limit a reading inside a band lies."""
    assert wear.limit is not None
    return "above" if wear.reading.value > wear.limit else "below"


def signed_margin(wear: WearLine) -> str:
    """Wear word and margin in a few cells, ``+`` inside the limit: ``AT LIMIT +0.01 mm``.

    Inside a band, whose ends are far apart, it is the end: ``within limit 47``.
    """
    if wear.margin is None:
        return wear.word.value
    if wear.of_band and wear.limit is not None and wear.word in INSIDE:
        return f"{wear.word.value} {plain(wear.limit)}"
    sign = "+" if wear.margin >= 0 else "-"
    return f"{wear.word.value} {margin_of(wear, sign)} {wear.reading.unit}"


def value_words(wear: WearLine) -> str:
    """The reading in the unit of its quantity; a gauge's as what it bounds."""
    value = f"{like(wear.reading.value, wear)} {wear.reading.unit}"
    return value if wear.margin is not None else f"{wear.reading.bound.value} {value}"


def share_of_u(wear: WearLine, new: float | None) -> float:
    """The tool's uncertainty as a share of the way from new to the limit."""
    if wear.uncertainty is None or wear.limit is None or new is None or wear.limit == new:
        return 0.0
    return abs(wear.uncertainty / (wear.limit - new))


def first_row(summary: Summary, item: FirstLook, cells: int) -> Line:
    """One loom to look at first."""
    kind = Bit(pad(item.kind.value, 7), _tone(item))
    loom = Bit(f" {loom_cell(item.loom)} ", Tone.STRONG)
    if item.wear is None:
        since = f"since {_clock(summary, item.since)} " if item.since else ""
        return line(kind, loom, f"{since}{item.words}".rstrip())
    room = cells - width(kind.text) - width(loom.text)
    return line(kind, loom, _wear_words(summary, item.wear, cells, room))


def wear_row(summary: Summary, wear: WearLine, cells: int) -> Line:
    """One worn part that is not yet looked at first."""
    loom = Bit(f"        {loom_cell(wear.loom)} ", Tone.STRONG)
    return line(loom, _wear_words(summary, wear, cells, cells - width(loom.text)))


def _wear_words(summary: Summary, wear: WearLine, cells: int, room: int) -> str:
    """Name, bar, margin and what is left in so many cells; words go before the bar."""
    quantity = summary.snapshot.mill.quantity(wear.at.part, wear.quantity)
    bar = wear_bar(wear, share_of_u(wear, quantity.new if quantity else None))
    name = pad(clean(wear.name), 21 if cells < 100 else 30)
    ahead = ahead_words(wear)
    tail = f"  {ahead}" if ahead else ""
    old = "  old reading" if wear.old and wear.margin is not None else ""
    words = f"{margin_words(wear)}{old}"
    # a number that is cut would be another number: what does not fit is left out whole
    for text in (f"{name} {bar} {words}{tail}", f"{name} {words}{tail}", f"{name} {words}"):
        if width(text) <= room:
            return text
    return f"{clean(wear.name)} {words}"


def ahead_words(wear: WearLine) -> str:
    """What is left in shifts, by the band of the forecast; empty where there is none.

    At an end of a band and on the way to the other, that one is named: ``78 to 89 shifts to 47``.
    """
    if not isinstance(wear.ahead, Ahead):
        return ""
    shifts = wear.ahead.shifts
    band, unit = (wear.ahead.hours, "h") if isinstance(shifts, Refusal) else (shifts, "shifts")
    if band.high is not None and band.high < 0.5:
        return "may be past now"
    other = wear.of_band and wear.limit != wear.ahead.limit
    return f"{_ends(band)} {unit}{f' to {plain(wear.ahead.limit)}' if other else ''}"


def _ends(band: Band) -> str:
    low = _round(band.low)
    return f"{low} or more" if band.high is None else f"{low} to {_round(band.high)}"


def _round(value: float) -> str:
    return f"{value:.0f}" if value >= 1 else f"{max(value, 0.0):.1f}".replace("0.0", "0")


def _tone(item: FirstLook) -> Tone:
    if item.wear is not None and item.wear.word in (WearWord.PAST_LIMIT, WearWord.GAUGE_PAST):
        return Tone.ABNORMAL
    if item.kind is FirstKind.FAULT:
        return Tone.ABNORMAL
    return Tone.PLAIN


def action_row(summary: Summary, item: ActionLine, cells: int) -> Line:
    """One open action in its original words; due, writer and age stand at the right."""
    action = item.action
    number = f"{action.number:>3}" if action.number is not None else "  -"
    by = f" {action.by}" if action.by else ""
    whom = f" for {action.whom}" if action.whom else ""
    unnumbered = "" if action.number is not None else f" ({_clock(summary, action.opened)})"
    due = Bit(due_words(summary, item), Tone.ABNORMAL if item.is_overdue else Tone.PLAIN)
    age = counted(item.age_shifts, "shift")
    right = f"  opened {_opened_in(item)}{by}  {age}"
    if cells < 100:
        right = f" {by} {age}"
    left = f"  {fill(clean(action.place.name), 5)} "
    edges = width(number) + width(left) + 2 + width(due.text)
    if cells - edges - width(right) < _LEAST_TEXT:
        right = ""
    told = width(whom) + width(unnumbered)
    room = max(cells - edges - width(right), _LEAST_TEXT)
    text = cut(on_one_line(action.text), max(room - told, _LEAST_TEXT))
    text = pad(f"{text}{clean(whom)}{unnumbered}", room)
    return line(Bit(number), Bit(left, Tone.STRONG), f"{text}  ", due, right)


_LEAST_TEXT = 12  # cells of an action's own words that are kept before who and age


def _opened_in(item: ActionLine) -> str:
    return item.opened_in.name if item.opened_in else "off shift"


def due_words(summary: Summary, item: ActionLine) -> str:
    """When an action is due, and OVERDUE where that has passed."""
    due = item.action.due
    if due is None:
        return "no due"
    words = f"due {on_one_line(due.written)}"
    if isinstance(due, DueAt):
        when = _clock(summary, due.moment)
        return f"OVERDUE since {when}" if item.is_overdue else f"due {when}"
    if item.is_overdue:
        use = re.search(r"[0-9].*", due.written) if isinstance(due, DueAfterUse) else None
        return f"OVERDUE after {on_one_line(use[0])}" if use else f"OVERDUE was {words}"
    if not isinstance(item.overdue, Refusal):
        return words
    why = "use unknown" if item.action.place.kind is PlaceKind.LOOM else "of no one loom"
    return f"{words} ({why})"


def change_row(summary: Summary, change: Change) -> Line:
    """One thing that changed."""
    by = f"  {change.by}" if change.by else ""
    when = fill(_clock(summary, change.when), 5)
    return line(f"{when} ", Bit(f" {loom_cell(change.loom)} ", Tone.STRONG), f"{change.words}{by}")


def _clock(summary: Summary, when: datetime) -> str:
    return clock(when, summary.as_of, summary.snapshot.mill.zone)
