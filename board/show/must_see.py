"""What stands on every screen and page: the head, and everything that may be an isolation.

Whether the board is current, the caution and the counts; then each isolation on record, named,
those of other sections too; conflicts; lines that may hide an isolation; locks taken off for
somebody else. It takes as many lines as it needs. What stands below is left to ``screens``.
"""

from __future__ import annotations

import re
from datetime import date, datetime

from board.mill import Mill
from board.reckon.summary import Summary
from board.show.lines import Bit, Line, Tone, flowed, folded, line, title
from board.show.may_rows import may_rows
from board.show.moments import clock, day_of, long_clock
from board.show.rows import conflict_row, lock_row, lock_text_rows, loom_cell, short_lock
from board.show.text import broken, clean, cut, on_one_line, pad, width, wrapped
from board.state.fleet import Isolation, Lock, LoomState, RemovedForOther
from grammar.frozen import dataclass

CAUTION = "Record only, not a permit. Not listed is not proof. Prove dead at the machine."
_CAUTION = ("Record only, not a permit.", "Not listed is not proof.", "Prove dead at the machine.")
MOST_FULL_LOCKS = 6  # more are written several a line, on a screen that has no room for more
_ROWS_BESIDE = 14  # of a screen, for its head and the best of what stands below
_LEAST_FULL = 60  # [cells] a row for each lock needs
_MOST_TROUBLE = 4  # lines of what keeps the board from being current, on a small screen
_MOST_TURNED = 12  # of these where they come by in turn
_STAMP = re.compile(
    r"^(?P<day>[0-9]{4}-[0-9]{2}-[0-9]{2}) (?P<time>[0-9]{2}:[0-9]{2}):[0-9]{2}(?=: )"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """How the board is looked at. ``height`` None: every row, whatever it takes.

    ``since_words`` tells what ``since`` is; None: the last taking over, or the shift before.
    """

    width: int = 80
    height: int | None = 24
    since: datetime | None = None
    since_words: str | None = None
    not_current: str = ""  # why the board is not current
    plain: bool = False  # letters are spelled out in ASCII, and may need more rows


def must_lines(summary: Summary, view: View) -> list[Line]:
    """What stands on every screen and page: the head and every isolation, cut to the width."""
    return [*head_lines(summary, view), *isolation_lines(summary, view)]


# -- the head ------------------------------------------------------------------------------


def head_lines(summary: Summary, view: View) -> list[Line]:
    """Whether the board is current, which shed and moment, the caution, the counts."""
    cells = view.width
    lines = [
        *_trouble(summary, view, most=_most_trouble(view)),
        *_which(summary, cells),
        *caution_lines(cells),
        *_count_lines(summary, cells),
    ]
    return [row.fitted(cells) for row in lines]


def short_heads(summary: Summary, view: View) -> list[tuple[list[Line], int, list[Line]]]:
    """Shorter and shorter heads for a small screen, with the rows below that each should leave.

    And what each leaves out that must be seen all the same: the caution, and why the board is not
    current. That stands in all of them as far as it fits, else the clock; cut rows bear a mark.
    """
    cells = view.width
    clock_row = [_clock_row(summary)]
    caution, counts = caution_lines(cells), _count_lines(summary, cells)
    whole = _trouble(summary, view, most=_MOST_TURNED)
    most, two, one = (_trouble(summary, view, most=n) for n in (_MOST_TROUBLE, 2, 1))
    cut_at_two = [] if two in (whole, most) else whole
    cut_at_one = [] if one in (whole, most) else whole
    heads = [
        ([*most, *clock_row, *caution, *counts], 3, []),
        ([*most, *clock_row, *caution], 2, []),
        ([*most, *clock_row, *caution], 0, []),
        ([*two, *clock_row, *caution], 0, cut_at_two),
        ([*one, *clock_row, *caution], 0, cut_at_one),
        ([*one, *clock_row], 0, [*cut_at_one, *caution]),
        (one or clock_row, 0, [*cut_at_one, *caution]),
    ]
    return [
        ([row.fitted(cells) for row in rows], least, [row.fitted(cells) for row in owed])
        for rows, least, owed in heads
    ]


def _clock_row(summary: Summary) -> Line:
    """The moment and the shed in one row: the moment first, as a long name may be cut."""
    mill = summary.snapshot.mill
    section = f", section {summary.section}" if summary.section is not None else ""
    name = clean(f"{shed_name(mill)}{section}")
    return line(f"{long_clock(summary.as_of, mill.zone)}  ", Bit(name, Tone.STRONG))


def caution_lines(cells: int) -> list[Line]:
    """The standing caution, whole at any width."""
    whole = all(width(text) <= cells for text in _CAUTION)
    pieces = [*_CAUTION] if whole else broken(CAUTION.split(), cells)
    return [line(Bit(text, Tone.MANDATORY)) for text in wrapped(pieces, cells, gap=" ")]


def _most_trouble(view: View) -> int:
    """How many rows of trouble the head of a screen shows; where all is shown, every one."""
    return 1_000 if view.height is None else max(_MOST_TROUBLE, view.height // 6)


def _trouble(summary: Summary, view: View, most: int) -> list[Line]:
    """Since when and why the board is not current, in ``most`` rows."""
    if not view.not_current:
        return []
    cells = max(view.width - 2, 1)
    told = view.not_current
    if view.width < _LEAST_FULL:
        told = _STAMP.sub(lambda found: _short_stamp(summary, found), told)
    words = on_one_line(f"board not current since {told}").split()
    rows = wrapped(broken(words, cells), cells, gap=" ")
    if len(rows) > most:
        rest = " ".join(rows[most - 1 :])
        rows = [*rows[: most - 1], cut(rest, cells)]
    return [line(Bit(pad(f" {row}", view.width), Tone.DANGER)) for row in rows]


def _short_stamp(summary: Summary, found: re.Match[str]) -> str:
    """A date and time for a narrow screen: without the day where that is today."""
    zone = summary.snapshot.mill.zone
    today = summary.as_of.astimezone(zone).date()
    day, time = date.fromisoformat(found["day"]), found["time"]
    return time if day == today else f"{day_of(day, summary.as_of, zone)} {time}"


def _which(summary: Summary, cells: int) -> list[Line]:
    fleet, mill = summary.snapshot.fleet, summary.snapshot.mill
    shift = summary.shift
    names = "closed hours"
    if shift is not None:
        names = f"{summary.previous.shift.name} -> {shift.shift.name}"
    last = "no entries"
    if fleet.last_entry is not None:
        last = f"entries to {clock(fleet.last_entry, summary.as_of, mill.zone)}"
    name = shed_name(mill)
    looms = f"{len(mill.looms)} looms"
    if summary.section is not None:
        name = clean(f"{name}, section {summary.section}")
        looms = f"{len(summary.looms)} of {looms}"
    pieces = [name, long_clock(summary.as_of, mill.zone), clean(names), looms, last]
    first, *others = wrapped(pieces, cells)
    own = min(len(name), len(first))
    return [line(Bit(first[:own], Tone.STRONG), first[own:]), *(line(text) for text in others)]


def shed_name(mill: Mill) -> str:
    """The name at the head of every screen and sheet; "shed" is added where it does not say so."""
    name = clean(mill.name.upper())
    return name if "SHED" in name.split() else f"{name} shed"


def _count_lines(summary: Summary, cells: int) -> list[Line]:
    return [line(text) for text in wrapped(_counts(summary), cells, gap="   ")]


def _counts(summary: Summary) -> list[str]:
    counts = summary.counts
    elsewhere = len(summary.isolated_elsewhere)
    return [
        *([f"CONFLICT {counts.conflict}"] if counts.conflict else []),
        f"isolated {counts.isolated}" + (f" and {elsewhere} elsewhere" if elsewhere else ""),
        f"past or at limit {counts.past_limit + counts.at_limit}",
        f"stopped {counts.stopped}",
        f"silent {counts.silent}",
        f"lines not understood {counts.not_understood}",
    ]


# -- isolations ----------------------------------------------------------------------------


def isolation_lines(summary: Summary, view: View) -> list[Line]:
    """Every isolation on record and every line that may hide one, under their title."""
    locked = _locked(summary)
    rows = [
        *_own(summary, view, locked),
        *_elsewhere(summary, view.width),
        *_to_ask(summary, view),
    ]
    if _is_short(locked, view) or summary.isolated_elsewhere:
        rows += _legend(summary, [*locked, *summary.isolated_elsewhere])
    return [row.fitted(view.width) for row in (_title(summary, locked, view.width), *rows)]


def lasting_lines(summary: Summary, view: View) -> list[Line]:
    """Who is in which loom, in a few rows that stay where all that is told of it must turn."""
    locked, cells = _locked(summary), view.width
    pieces = [short_lock(summary, state, lock) for state, lock in _locks(summary, locked)]
    rows = [line(text) for text in wrapped(pieces, cells)]
    rows += _elsewhere(summary, cells)
    rows += _legend(summary, [*locked, *summary.isolated_elsewhere])
    return [row.fitted(cells) for row in (_title(summary, locked, cells), *rows)]


def turning_lines(summary: Summary, view: View) -> list[Line]:
    """What is told beside ``lasting_lines``: each lock whole, if they are few, and what to ask."""
    locked = _locked(summary)
    whole = [] if _is_short(locked, view) or not locked else _own(summary, view, locked)
    return [row.fitted(view.width) for row in (*whole, *_to_ask(summary, view))]


def _locked(summary: Summary) -> list[LoomState]:
    return [x.state for x in summary.looms if x.state.isolation is not Isolation.NONE_RECORDED]


def _to_ask(summary: Summary, view: View) -> list[Line]:
    short = view.height is not None
    removed = (row for x in summary.looms for row in removed_rows(summary, x.state, view.width))
    return [*may_rows(summary, summary.may_isolate, view.width, short=short), *removed]


def _title(summary: Summary, locked: list[LoomState], cells: int) -> Line:
    doubtful = len(summary.may_isolate)
    if not (locked or doubtful):
        return title("ISOLATED 0", "", cells)
    count, told = f"ISOLATED {len(locked)}", "do not start"
    heads = [f"{count} and {doubtful} to ask{about}" for about in (" about", "")]
    heads = [*heads, f"{count} and {doubtful}?"] if doubtful else [count]
    fitting = (head for head in heads if width(head) + width(told) + 3 <= cells)
    return title(next(fitting, heads[-1]), told, cells, Tone.DANGER)


def _own(summary: Summary, view: View, locked: list[LoomState]) -> list[Line]:
    if not locked:
        where = f" in section {summary.section}" if summary.section is not None else ""
        return folded([], f"none recorded{where}, which is no proof of anything", view.width)
    rows = [conflict_row(summary, s) for s in locked if s.isolation is Isolation.CONFLICT]
    locks = _locks(summary, locked)
    if _is_short(locked, view):
        pieces = [short_lock(summary, state, lock) for state, lock in locks]
        return [*rows, *(line(text) for text in wrapped(pieces, view.width))]
    if view.height is None:
        return [*rows, *(r for s, lock in locks for r in lock_rows(summary, s, lock, view.width))]
    return [*rows, *(lock_row(summary, state, lock, view.width) for state, lock in locks)]


def lock_rows(summary: Summary, state: LoomState, lock: Lock, cells: int) -> list[Line]:
    """One lock on record in as many rows as its text and a narrow screen ask for."""
    row = lock_row(summary, state, lock, cells)
    if width(row.plain) > cells:
        return [*flowed([*row.bits], cells, "    "), *lock_text_rows(lock, cells)]
    whole = on_one_line(lock.text) in row.plain
    return [row, *([] if whole else lock_text_rows(lock, cells))]


def _locks(summary: Summary, locked: list[LoomState]) -> list[tuple[LoomState, Lock]]:
    """Every lock in walking order; those written for a time still to come stand last."""
    locks = [(state, lock) for state in locked for lock in state.locks]
    return sorted(locks, key=lambda x: summary.is_to_come(x[1]))


def _is_short(locked: list[LoomState], view: View) -> bool:
    if view.height is None:
        return False
    most = max(MOST_FULL_LOCKS, view.height - _ROWS_BESIDE)
    return view.width < _LEAST_FULL or sum(len(s.locks) for s in locked) > most


def _elsewhere(summary: Summary, cells: int) -> list[Line]:
    """The isolations of the sections that are not looked at: each named, in short."""
    states = list(summary.isolated_elsewhere)
    if not states:
        return []
    pieces = [short_lock(summary, state, lock) for state, lock in _locks(summary, states)]
    head = f"ISOLATED {len(states)} in other sections:"
    first, *others = wrapped([head, *pieces], cells)
    own = min(len(head), len(first))
    return [line(Bit(first[:own], Tone.DANGER), first[own:]), *(line(text) for text in others)]


def _legend(summary: Summary, states: list[LoomState]) -> list[Line]:
    locks = [lock for state in states for lock in state.locks]
    told = []
    if not all(map(summary.seen_this_shift, locks)):
        told.append("* not yet seen this shift")
    if any(map(summary.is_to_come, locks)):
        told.append("+ written for a time still to come")
    return [line("   ".join(told))] if told else []


def _removed_row(
    summary: Summary, state: LoomState, removal: RemovedForOther, cells: int
) -> list[Line]:
    """A lock that somebody else than its owner took off, whole at any width."""
    when = clock(removal.when, summary.as_of, summary.snapshot.mill.zone)
    bits = [
        Bit(loom_cell(state.loom), Tone.STRONG),
        Bit(f" lock of {removal.owner} was removed by {removal.by} {when}"),
    ]
    row = line(*bits)
    return [row] if width(row.plain) <= cells else flowed(bits, cells, "    ")


def removed_rows(summary: Summary, state: LoomState, cells: int) -> list[Line]:
    """Locks taken off for somebody: shown through the shift after the one it was done in."""
    if not state.removed_for_others:
        return []
    since = summary.previous.start
    recent = [r for r in state.removed_for_others if r.when >= since]
    return [row for r in recent for row in _removed_row(summary, state, r, cells)]
