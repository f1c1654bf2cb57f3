"""The board as lines of text, for any size from 80x24 up.

Order, top to bottom: what must be seen (``must_see``), handovers not taken, what was not
understood; then what to look at first, what changed, open actions, the map. What must be seen
takes as many lines as it needs; the rest shares what is left.
"""

from __future__ import annotations

from board.reckon.asking import changed_after_handover
from board.reckon.changes import Change, changed_since
from board.reckon.first_looks import (
    FirstLook,
    look_first,
    nearest_their_limits,
    shared_out,
)
from board.reckon.summary import Summary, default_since, last_handover
from board.show.lines import Bit, Line, Tone, folded, line, title
from board.show.moments import clock
from board.show.must_see import CAUTION, View, must_lines
from board.show.rows import action_row, change_row, first_row, wear_row
from board.show.shed_map import map_lines
from board.show.text import on_one_line, width
from board.state.fleet import Complaint
from grammar.frozen import dataclass

__all__ = ["CAUTION", "View", "board_lines", "must_lines", "overview_lines"]

WIDE = 120
_NEXT = 20  # parts that are next to wear out; the wear table has them all


def board_lines(summary: Summary, view: View) -> list[Line]:
    """The board, cut to the view's width; longer than its height only for what must be seen."""
    must = must_lines(summary, view)
    room = None if view.height is None else view.height - len(must)
    return [*must, *overview_lines(summary, view, room)]


def overview_lines(summary: Summary, view: View, room: int | None) -> list[Line]:
    """What stands below the isolations in so many rows; None: everything, whatever it takes.

    Longer only for handovers not taken over and what was not understood or read.
    """
    unread = _unread(summary, view)
    bottom = map_lines(summary, view.width) if view.width >= WIDE else []
    blocks = _blocks(summary, view)
    if room is None:
        rows = [b.full() for b in blocks if b.rows or b is not blocks[-1]]
    else:
        left = room - len(unread)
        if left - len(bottom) < 12:
            bottom = []
        rows = _shared(blocks, left - len(bottom))
    lines = [*unread, *(row for block in rows for row in block), *bottom]
    return [row.fitted(view.width) for row in lines]


# -- what was not understood, handovers -----------------------------------------------------


def _unread(summary: Summary, view: View) -> list[Line]:
    """Handovers not taken over, lines of late that were not understood, files not read."""
    zone = summary.snapshot.mill.zone
    rows: list[Line] = []
    for handover in summary.handovers_open:
        assert handover.said is not None
        said = clock(handover.said, summary.as_of, zone)
        told = f"of {handover.what}: {handover.by} to {handover.to} said {said}, not yet taken over"
        rows += folded([Bit("HANDOVER ", Tone.STRONG)], told, view.width)
    for handover in summary.handovers_crossed:
        told = (
            f"of {handover.what}: {handover.by} handed over to {handover.to},"
            f" and {handover.taken_by} took over: ask {handover.to}"
        )
        rows += folded([Bit("HANDOVER ", Tone.ABNORMAL)], told, view.width)
    rows += _sealed_otherwise(summary, view)
    complaints = unread_now(summary)
    most = 3 if view.height is not None else len(complaints)
    rows += [
        line(
            Bit("NOT UNDERSTOOD ", Tone.ABNORMAL),
            f"{on_one_line(c.diagnostic.text)}   ({c.diagnostic.message})",
        )
        for c in complaints[:most]
    ]
    if len(complaints) > most:
        rows.append(line(f"  and {len(complaints) - most} more of this shift and the last: check"))
    rows += [
        line(
            Bit("UNFINISHED ", Tone.ABNORMAL),
            f"{on_one_line(u.text)}   ({u.path}, still being written)",
        )
        for u in summary.snapshot.unfinished
    ]
    notices = summary.snapshot.notices
    shown = notices[:2] if view.height is not None else notices
    rows += [line(Bit("NOT READ ", Tone.ABNORMAL), notice) for notice in shown]
    if len(notices) > len(shown):
        rows.append(line(f"  and {len(notices) - len(shown)} more files not read"))
    return rows


def _sealed_otherwise(summary: Summary, view: View) -> list[Line]:
    """Shifts whose lines changed after they were taken over: a lock may have gone with them."""
    changed = changed_after_handover(summary)
    most = 1 if view.height is not None else len(changed)
    rows: list[Line] = []
    for complaint in changed[:most]:
        d = complaint.diagnostic
        told = on_one_line(f"{d.message}; {d.help}")
        rows += folded([Bit("HANDOVER ", Tone.ABNORMAL)], told, view.width)
    if len(changed) > most:
        rows.append(line(f"  and {len(changed) - most} more shifts changed so: check"))
    return rows


def unread_now(summary: Summary) -> tuple[Complaint, ...]:
    """Refused lines of this shift, of the one before and of none that is known, in this order.

    One complaint a line; lines that are shown as isolations already are left out.
    """
    current = summary.calendar.now_or_next(summary.as_of).shift
    recent = [current, summary.previous.shift, None]
    told = {(m.path, m.line) for m in summary.may_isolate}
    found: list[Complaint] = []
    for complaint in summary.snapshot.refused:
        line_of = (complaint.path, complaint.diagnostic.line)
        if complaint.shift in recent and line_of not in told:
            told.add(line_of)
            found.append(complaint)
    return tuple(sorted(found, key=lambda c: recent.index(c.shift)))


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
        return [self.title(self.right), *self.rows]

    def title(self, *rights: str) -> Line:
        """The title with the first of these words at its end that fit whole."""
        head = f"{self.head} {len(self.rows)}"
        fitting = (x for x in rights if width(head) + width(x) + 3 <= self.cells)
        return title(head, next(fitting, ""), self.cells)


def _blocks(summary: Summary, view: View) -> list[_FirstBlock | _Block]:
    since = view.since or default_since(summary)
    zone = summary.snapshot.mill.zone
    words = _since_words(summary) if view.since_words is None else view.since_words
    changes = changed_since(summary, since)
    actions = summary.actions
    return [
        _FirstBlock(summary=summary, cells=view.width),
        _Block(
            weight=3,
            head=" ".join(
                ["CHANGED SINCE", *words.split(), f"{clock(since, summary.as_of, zone)}:"]
            ),
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
    return "HANDOVER" if last_handover(summary) is not None else "THE SHIFT BEFORE"


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
        if rows == 1 and items:
            return [line(_named(f"LOOK AT FIRST {len(items)}:", _looms_of(items), self.cells))]
        fits = len(items) <= rows - 1
        kept, left = shared_out(items, len(items) if fits else rows - 2)
        lines = [head, *(first_row(self.summary, item, self.cells) for item in kept)]
        if left:
            lines.append(line(_named(f"+{len(left)}:", _looms_of(left), self.cells)))
        return lines


def _looms_of(items: tuple[FirstLook, ...]) -> list[str]:
    return list(dict.fromkeys(item.loom for item in items))


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
    rights = (f"{len(shown)} shown, {block.right}", f"{len(shown)} shown")
    return [block.title(*rights), *shown]


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
    given[-1] = min(left, wants[-1]) if left > 1 and wants[-1] > 1 else 0
    return [
        block.within(n) if isinstance(block, _FirstBlock) else _within(block, n)
        for block, n in zip(blocks, given, strict=True)
    ]
