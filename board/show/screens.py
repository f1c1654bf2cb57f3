"""The board as lines of text, for any size from 80x24 up.

Order, top to bottom: whether the board is current, isolations (each named, never only counted),
conflicts, what was not understood, handovers not taken; then what to look at first, what changed,
open actions, the map. What must be seen takes as many lines as it needs; the rest shares what is
left.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from board.reckon.changes import (
    Change,
    changed_since,
    look_first,
    nearest_their_limits,
    shared_out,
)
from board.reckon.summary import Summary, default_since
from board.show.lines import Bit, Line, Tone, line, title
from board.show.moments import clock, long_clock
from board.show.rows import (
    action_row,
    change_row,
    conflict_row,
    first_row,
    lock_row,
    short_lock,
    wear_row,
)
from board.show.shed_map import map_lines
from board.show.text import clean, pad, width, wrapped
from board.state.fleet import Complaint, Isolation, LoomState, RemovedForOther

CAUTION = "Record only, not a permit. Not listed is not proof. Prove dead at the machine."
NARROWEST = 80
WIDE = 120
_NEXT = 20  # parts that are next to wear out; the wear table has them all
_MOST_FULL_LOCKS = 6  # more are written several a line


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """How the board is looked at. ``height`` None: every row, whatever it takes."""

    width: int = 80
    height: int | None = 24
    since: datetime | None = None
    since_words: str = ""
    not_current: str = ""  # why the board is not current


def must_lines(summary: Summary, view: View) -> list[Line]:
    """What stands on every screen and page: the head and every isolation, cut to the width."""
    lines = [*_head(summary, view), *_isolations(summary, view)]
    return [row.fitted(view.width) for row in lines]


def board_lines(summary: Summary, view: View) -> list[Line]:
    """The board, cut to the view's width; longer than its height only for what must be seen."""
    must = [*must_lines(summary, view), *_unread(summary, view)]
    bottom = map_lines(summary, view.width) if view.width >= WIDE else []
    blocks = _blocks(summary, view)
    if view.height is None:
        rows = [block.full() for block in blocks]
    else:
        left = view.height - len(must)
        if left - len(bottom) < 12:
            bottom = []
        rows = _shared(blocks, left - len(bottom))
    lines = [*must, *(row for block in rows for row in block), *bottom]
    return [row.fitted(view.width) for row in lines]


# -- the head ------------------------------------------------------------------------------


def _head(summary: Summary, view: View) -> list[Line]:
    fleet, mill = summary.snapshot.fleet, summary.snapshot.mill
    now = long_clock(summary.as_of, mill.zone)
    shift = summary.calendar.at(summary.as_of)
    names = "closed hours"
    if shift is not None:
        before = summary.calendar.before(shift.start)
        names = f"{before.shift.name} -> {shift.shift.name}"
    last = "no entries"
    if fleet.last_entry is not None:
        last = f"entries to {clock(fleet.last_entry, summary.as_of, mill.zone)}"
    counts = summary.counts
    head = line(
        Bit(f"{mill.name.upper()} shed", Tone.STRONG),
        f"  {now}  {names}  {len(summary.looms)} looms  {last}",
    )
    lines = []
    if view.not_current:
        told = clean(f"board not current since {view.not_current}")
        lines += [
            line(Bit(pad(f" {part}", view.width), Tone.DANGER))
            for part in wrapped(told.split(), view.width - 2, gap=" ")[:4]
        ]
    told = (
        f"isolated {counts.isolated}   past or at limit {counts.past_limit + counts.at_limit}"
        f"   stopped {counts.stopped}   silent {counts.silent}"
        f"   lines not understood {counts.not_understood}"
    )
    if counts.conflict:
        told = f"CONFLICT {counts.conflict}   {told}"
    return [*lines, head, line(Bit(CAUTION, Tone.MANDATORY)), line(told)]


# -- what must be seen ---------------------------------------------------------------------


def _isolations(summary: Summary, view: View) -> list[Line]:
    locked = [x.state for x in summary.looms if x.state.isolation is not Isolation.NONE_RECORDED]
    doubtful = summary.may_isolate
    removed = [
        (x.state, removal)
        for x in summary.looms
        for removal in x.state.removed_for_others
        if removal.when >= _two_shifts_ago(summary)
    ]
    count = f"{len(locked)}" + (f" and {len(doubtful)} to ask about" if doubtful else "")
    head = title(f"ISOLATED {count}", "do not start", view.width, Tone.DANGER)
    if not locked and not doubtful:
        rows = [line("none recorded, which is no proof of anything")]
        head = title("ISOLATED 0", "", view.width)
        return [head, *rows, *_removed(summary, removed)]
    rows = [conflict_row(summary, s) for s in locked if s.isolation is Isolation.CONFLICT]
    locks = [(state, lock) for state in locked for lock in state.locks]
    if len(locks) <= _MOST_FULL_LOCKS or view.height is None:
        rows += [lock_row(summary, state, lock) for state, lock in locks]
    else:
        pieces = [short_lock(summary, state, lock) for state, lock in locks]
        rows += [line(text) for text in wrapped(pieces, view.width)]
        rows.append(line("* not yet seen this shift"))
    rows += [
        line(Bit("not understood, may be an isolation: ", Tone.ABNORMAL), Bit(m.text, Tone.STRONG))
        for m in doubtful
    ]
    return [head, *rows, *_removed(summary, removed)]


def _two_shifts_ago(summary: Summary) -> datetime:
    shift = summary.calendar.now_or_next(summary.as_of)
    return summary.calendar.before(shift.start).start


def _removed(summary: Summary, removed: list[tuple[LoomState, RemovedForOther]]) -> list[Line]:
    zone = summary.snapshot.mill.zone
    return [
        line(
            Bit(f"{state.loom:4}", Tone.STRONG),
            f" lock of {r.owner} was removed by {r.by} {clock(r.when, summary.as_of, zone)}",
        )
        for state, r in removed
    ]


def _unread(summary: Summary, view: View) -> list[Line]:
    zone = summary.snapshot.mill.zone
    rows = []
    for handover in summary.handovers_open:
        assert handover.said is not None
        said = clock(handover.said, summary.as_of, zone)
        rows.append(
            line(
                Bit("HANDOVER ", Tone.STRONG),
                f"of {handover.what}: {handover.by} to {handover.to} said {said},"
                " not yet taken over",
            )
        )
    complaints = unread_now(summary)
    most = 3 if view.height is not None else len(complaints)
    rows += [
        line(
            Bit("NOT UNDERSTOOD ", Tone.ABNORMAL), f"{c.diagnostic.text}   ({c.diagnostic.message})"
        )
        for c in complaints[:most]
    ]
    if len(complaints) > most:
        rows.append(line(f"  and {len(complaints) - most} more of this shift and the last: check"))
    rows += [
        line(Bit("UNFINISHED ", Tone.ABNORMAL), f"{u.text}   ({u.path}, still being written)")
        for u in summary.snapshot.unfinished
    ]
    notices = summary.snapshot.notices
    shown = notices[:2] if view.height is not None else notices
    rows += [line(Bit("NOT READ ", Tone.ABNORMAL), notice) for notice in shown]
    if len(notices) > len(shown):
        rows.append(line(f"  and {len(notices) - len(shown)} more files not read"))
    return rows


def unread_now(summary: Summary) -> tuple[Complaint, ...]:
    """Refused lines of this shift and the one before that are not shown as isolations already."""
    shift = summary.calendar.now_or_next(summary.as_of)
    recent = {shift.shift, summary.calendar.before(shift.start).shift}
    shown = {(m.path, m.line) for m in summary.may_isolate}
    return tuple(
        c
        for c in summary.snapshot.refused
        if (c.shift is None or c.shift in recent) and (c.path, c.diagnostic.line) not in shown
    )


# -- what shares the rest ------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Block:
    """A section that shares the screen: its title, its rows, and its words for what is left out."""

    weight: int
    head: str
    right: str
    rows: tuple[Line, ...]
    cells: int

    def full(self) -> list[Line]:
        return [title(f"{self.head} {len(self.rows)}", self.right, self.cells), *self.rows]


def _blocks(summary: Summary, view: View) -> list[_FirstBlock | _Block]:
    since = view.since or default_since(summary)
    zone = summary.snapshot.mill.zone
    words = view.since_words or _since_words(summary)
    changes = changed_since(summary, since)
    actions = summary.actions
    return [
        _FirstBlock(summary=summary, cells=view.width),
        _Block(
            weight=3,
            head=f"CHANGED SINCE {words} {clock(since, summary.as_of, zone)}:",
            right="newest first",
            rows=tuple(_change_rows(summary, changes)),
            cells=view.width,
        ),
        _Block(
            weight=3,
            head="OPEN ACTIONS",
            right="most overdue first",
            rows=tuple(action_row(summary, a, view.width) for a in actions),
            cells=view.width,
        ),
        _Block(
            weight=2,
            head="NEXT TO WEAR OUT, THE FIRST",
            right="running looms; wear lists all",
            rows=tuple(
                wear_row(summary, w, view.width) for w in nearest_their_limits(summary)[:_NEXT]
            ),
            cells=view.width,
        ),
    ]


def _since_words(summary: Summary) -> str:
    taken = any(h.taken for h in summary.snapshot.fleet.shed.taken)
    return "HANDOVER" if taken else "THE SHIFT BEFORE"


def _change_rows(summary: Summary, changes: tuple[Change, ...]) -> list[Line]:
    return [change_row(summary, change) for change in changes]


@dataclass(frozen=True, slots=True, kw_only=True)
class _FirstBlock:
    """Looms to look at first: kinds share the rows, and who gets none is still named."""

    summary: Summary
    cells: int
    weight: int = 5

    @property
    def rows(self) -> tuple[object, ...]:
        return look_first(self.summary)

    def _legend(self) -> str:
        held = self.summary.held
        told = f"; 90 % bands held {held.held} of {held.judged} lives" if held else ""
        return f"| limit, . uncertain{told}"

    def full(self) -> list[Line]:
        return self.within(len(self.rows) + 1)

    def within(self, rows: int) -> list[Line]:
        items = look_first(self.summary)
        head = title(f"LOOK AT FIRST {len(items)}", self._legend(), self.cells)
        if rows <= 0:
            return []
        fits = len(items) <= rows - 1
        kept, left = shared_out(items, len(items) if fits else rows - 2)
        lines = [head, *(first_row(self.summary, item, self.cells) for item in kept)]
        if left:
            names = list(dict.fromkeys(item.loom for item in left))
            lines.append(line(_named(f"+{len(left)}:", names, self.cells)))
        return lines


def _named(head: str, names: list[str], cells: int) -> str:
    text = head
    for i, name in enumerate(names):
        tail = f" and {len(names) - i} looms more"
        if width(text) + width(name) + 1 + (len(tail) if i < len(names) - 1 else 0) > cells:
            return text + tail
        text = f"{text} {name}"
    return text


def _within(block: _Block, rows: int) -> list[Line]:
    if rows <= 0:
        return []
    if len(block.rows) <= rows - 1:
        return block.full()
    shown = block.rows[: max(rows - 1, 0)]
    right = f"{len(shown)} shown, {block.right}"
    return [title(f"{block.head} {len(block.rows)}", right, block.cells), *shown]


def _shared(blocks: list[_FirstBlock | _Block], rows: int) -> list[list[Line]]:
    """Rows for each block: one by one to the block that has the fewest for its weight."""
    wants = [len(block.rows) + 1 for block in blocks]
    given = [0 for _ in blocks]
    asked = range(len(blocks) - 1)  # the last one only fills what the others leave
    for i in asked[: max(rows, 0)]:
        given[i] = 1
    while sum(given) < rows:
        open_ones = [i for i in asked if 0 < given[i] < wants[i]]
        if not open_ones:
            break
        neediest = min(open_ones, key=lambda i: given[i] / blocks[i].weight)
        given[neediest] += 1
    left = rows - sum(given)
    given[-1] = min(left, wants[-1]) if left > 1 else 0
    return [
        block.within(n) if isinstance(block, _FirstBlock) else _within(block, n)
        for block, n in zip(blocks, given, strict=True)
    ]
