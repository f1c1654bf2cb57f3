"""The round as plain text for paper: no colour, a box for each value, nothing cut.

Each line says why it is there. A loom that is isolated on record says so on each of its lines.
``letters`` writes the words in ASCII where that is all that the output takes.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from board.mill import Every, Quantity
from board.reckon.pressing import Pressing
from board.reckon.refusal import Refusal
from board.reckon.rounds import LEAST_CHANCE, AlsoDue, Round, RoundLine, Why
from board.reckon.summary import LoomLine, Summary
from board.show.may_rows import label, may_words
from board.show.measures import plain, value_of
from board.show.moments import clock, counted, figure, long_clock
from board.show.must_see import shed_name
from board.show.paper import paper_rows
from board.show.rows import due_words
from board.show.screens import CAUTION
from board.show.text import Letters, as_written, clean, cut, fill, width
from board.state.fleet import Isolation
from board.state.history import Bound, ReadingAt
from grammar.frozen import dataclass

PAGE_LINES = 60  # what an A4 side takes at six lines an inch, with margins
NARROWEST = 60
LIKELIEST = 10  # of what is left off that are named with their parts
ALSO_DUE = "ALSO DUE by the end of the shift, or overdue: open actions"
NOTHING = "Nothing is due, and nothing is likely to pass its limit."
_BLANK = "______"
HANDS = (
    "Stop and isolate the loom, with your own lock, before hands go in. What stands here is as of"
    " the time above: look for locks and ask at the machine."
)
WRITE = "Write each value into the log by loom and part; a gauge: enters or stays out."

Lines = list[str]


def round_pages(
    summary: Summary, found: Round, cells: int, letters: Letters = as_written
) -> list[Lines]:
    """The sheet as pages of lines, each line at most ``cells`` wide."""
    paper = _Paper(cells, letters)
    head = _head(summary, found, paper)
    blocks = [
        *_top(summary, found, paper),
        *_looms(summary, found, paper),
        *_also_due(summary, found, paper),
        *_foot(found, paper),
    ]
    room = PAGE_LINES - len(head)
    pages: list[Lines] = [[]]
    for block in blocks:
        if pages[-1] and len(pages[-1]) + len(block) > room:
            pages.append([])
        pages[-1] += block
    return [
        [_titled(head[0], f"page {i} of {len(pages)}", cells), *head[1:], *page]
        for i, page in enumerate(pages, start=1)
    ]


@dataclass(frozen=True, slots=True)
class _Paper:
    """How wide the paper is, and in which letters it is written."""

    cells: int
    letters: Letters

    def word(self, text: str) -> str:
        """A text that is not wrapped."""
        return self.letters(clean(text))

    def rows(self, text: str, first: str = "", later: str | None = None) -> Lines:
        """A text in rows; a number is not parted from its per cent."""
        kept = re.sub(r"(?<=[0-9]) %", "\u00a0%", self.word(text))
        return [row.replace("\u00a0", " ") for row in paper_rows(kept, self.cells, first, later)]


def _titled(left: str, right: str, cells: int) -> str:
    gap = cells - width(left) - width(right)
    return f"{left}{' ' * gap}{right}" if gap > 1 else cut(f"{left}  {right}", cells)


def _head(summary: Summary, found: Round, paper: _Paper) -> Lines:
    mill = summary.snapshot.mill
    shift = found.shift
    begins = long_clock(shift.start, mill.zone)
    ends = f"{shift.end.astimezone(mill.zone):%H:%M}"
    return [
        f"{paper.word(shed_name(mill))}  ROUND {paper.word(shift.shift.name)}",
        *paper.rows(f"{begins} to {ends}   as of {long_clock(summary.as_of, mill.zone)}"),
        *paper.rows(count_words(found)),
        *paper.rows(CAUTION),
    ]


def count_words(found: Round) -> str:
    """How much is on the round, and that something is not."""
    count = f"{counted(len(found.lines), 'value')} to measure"
    if found.left_off:
        count += f", {len(found.left_off)} less urgent left off: see the end"
    if found.also_due:
        count += f"; {counted(len(found.also_due), 'action')} also due"
    return count


def _top(summary: Summary, found: Round, paper: _Paper) -> list[Lines]:
    """What must be known before the first loom."""
    rows = [""]
    for text in opening_words(summary, found):
        rows += paper.rows(text, "", "  ")
    return [[*rows, ""]]


def opening_words(summary: Summary, found: Round) -> list[str]:
    """What must be known before the first loom, one sentence each."""
    by = long_clock(found.until, summary.snapshot.mill.zone)
    told = [HANDS, f"Chances are of passing the limit by {by}, before the next round ends."]
    told += [
        f"{label(summary, line).upper()}{may_words(summary, line)}" for line in summary.may_isolate
    ]
    refused = summary.counts.not_understood
    if refused:
        told.append(f"{counted(refused, 'line')} of the log not understood")
    return [*told, *(f"caution, {part}: {text}" for part, text in cautions_of(summary, found))]


# -- the lines -------------------------------------------------------------------------------


def _looms(summary: Summary, found: Round, paper: _Paper) -> list[Lines]:
    blocks: list[Lines] = []
    section = None
    for item in found.lines:
        block = _item(summary, item, paper)
        if item.loom.section != section:
            section = item.loom.section
            block = [f"SECTION {paper.word(section)}", *block]
        blocks.append(block)
    if not blocks:
        blocks.append(paper.rows(NOTHING))
    return blocks


def _item(summary: Summary, item: RoundLine, paper: _Paper) -> Lines:
    loom = paper.word(item.loom.loom)
    box = f"[ {_BLANK} {paper.word(item.quantity.unit)} ]"
    left = f"{fill(loom, 5)} {paper.word(item.name)}"
    cells, last = paper.cells, paper.word(last_words(item))
    if width(left) + 2 + width(last) + 2 + width(box) <= cells:
        gap = max(29 - width(left), 2)
        left = f"{left}{' ' * gap}{last}"
        last = ""
    rows = [_titled(left, box, cells)]
    if width(left) + 2 + width(box) > cells:
        rows = [*paper.rows(left), " " * (cells - width(box)) + box]
    indent = " " * 6
    isolated = isolated_words(item.loom)
    if isolated:
        rows += paper.rows(isolated, indent)
    why = f"{last}; " if last else ""
    return [*rows, *paper.rows(f"{why}{why_words(summary, item)}", indent)]


def isolated_words(loom: LoomLine) -> str:
    """What is written on each line of a loom that is isolated on record; else empty."""
    state = loom.state
    if state.isolation is Isolation.NONE_RECORDED:
        return ""
    owners = ", ".join(dict.fromkeys(lock.by for lock in state.locks))
    conflict = ""
    if state.isolation is Isolation.CONFLICT:
        conflict = " (CONFLICT: written as running since)"
    return f"ISOLATED: do not start, do not reach in; ask {owners}{conflict}"


def last_words(item: RoundLine) -> str:
    """The last reading and the limit: ``was 2.58, replace below 2.45``.

    Before a gauge verdict that decides nothing stands what it leaves standing.
    """
    if item.last is None:
        return f"never measured, {limit_words(item)}"
    last = _reading_words(item.last, item.quantity)
    if item.stands is not None:
        last = f"{_reading_words(item.stands, item.quantity)}, then {last}"
    return f"{last}, {limit_words(item)}"


def _reading_words(reading: ReadingAt, quantity: Quantity) -> str:
    bound = "was" if reading.bound is Bound.EXACT else reading.bound.value
    return f"{bound} {value_of(reading, quantity)}"


def limit_words(item: RoundLine) -> str:
    """The limit in words: ``replace below 2.45``."""
    limits = item.quantity.limits
    if limits.low is not None and limits.high is not None:
        return f"keep {plain(limits.low)} to {plain(limits.high)}"
    if limits.low is not None:
        return f"replace below {plain(limits.low)}"
    return f"replace above {plain(limits.high)}" if limits.high is not None else "no limit given"


def why_words(summary: Summary, item: RoundLine) -> str:
    """Why a line is on the round, and when it was last measured."""
    zone = summary.snapshot.mill.zone
    told = [_due(item)] if item.why in (Why.OVERDUE, Why.COMES_DUE) else []
    if item.why is Why.NEAR:
        reason = item.chance.reason if isinstance(item.chance, Refusal) else ""
        told.append(f"near its limit, no forecast: {reason}")
    elif not isinstance(item.chance, Refusal) and item.chance >= LEAST_CHANCE:
        told.append(f"chance {_percent(item.chance)} of passing its limit")
    word = "last" if item.last is not None else "fitted"
    told.append(f"{word} {clock(item.since, summary.as_of, zone)}")
    return ", ".join(told)


def _due(item: RoundLine) -> str:
    every = item.quantity.check_every
    if item.why is Why.COMES_DUE or every is None or not isinstance(item.over, float):
        return f"check comes due, every {every}"
    unit = {Every.HOURS: "running h", Every.PICKS: "picks", Every.SHIFTS: "shifts"}
    over = f"{figure(item.over, 2)} {unit.get(every.unit, 'days')}"
    return f"check overdue by {over}, every {every}"


def _percent(chance: float) -> str:
    return "over 99 %" if chance > 0.995 else f"{100 * chance:.0f} %"


# -- actions -------------------------------------------------------------------------------


def _also_due(summary: Summary, found: Round, paper: _Paper) -> list[Lines]:
    """Open actions to be done on the same walk, each with a box to tick."""
    blocks: list[Lines] = []
    for item in found.also_due:
        place = paper.word(item.line.action.place.name)
        rows = paper.rows(also_due_words(summary, item), f"[ ] {fill(place, 5)} ", " " * 10)
        isolated = isolated_words(item.loom) if item.loom is not None else ""
        if isolated:
            rows += paper.rows(isolated, " " * 10)
        blocks.append(rows)
    if blocks:
        blocks[0] = ["", *paper.rows(ALSO_DUE), *blocks[0]]
    return blocks


def also_due_words(summary: Summary, item: AlsoDue) -> str:
    """An action in its writer's words: number, text, when it is due, who opened it."""
    action = item.line.action
    zone = summary.snapshot.mill.zone
    # one without a number is closed by its time
    number = f"no {action.number} " if action.number is not None else ""
    by = action.by or "somebody"
    opened = by if number else f"{by} {clock(action.opened, summary.as_of, zone)}"
    may = "MAY FALL DUE, " if item.pressing is Pressing.MAY_COME else ""
    whom = f", for {action.whom}" if action.whom else ""
    return f"{number}{action.text}; {may}{due_words(summary, item.line)}{whom} ({opened})"


# -- the end ---------------------------------------------------------------------------------


def _foot(found: Round, paper: _Paper) -> list[Lines]:
    blocks: list[Lines] = []
    rows = [row for text in closing_words(found) for row in paper.rows(text, "", "  ")]
    if rows:
        blocks.append(["", *rows])
    who = "measured by "
    line = f"{who}{'_' * 20}  date, time "
    blocks.append(["", *paper.rows(WRITE), f"{line}{'_' * (paper.cells - len(line))}"])
    return blocks


def closing_words(found: Round) -> list[str]:
    """What is not on the round, and why, one paragraph each."""
    told = []
    if found.past:
        named = ", ".join(f"{w.loom} {w.name}" for w in found.past)
        told.append(f"PAST LIMIT on record, not on this round: {named}")
    if found.left_off:
        told.append(left_off_words(found))
    if found.laid_up:
        told.append(f"LAID UP, not on this round: {', '.join(found.laid_up)}")
    told += [
        f"NEVER TOLD OF in the log: {never.words} of {', '.join(never.looms)}"
        for never in found.never_told
    ]
    return told


def cautions_of(summary: Summary, found: Round) -> list[tuple[str, str]]:
    """The caution of each part on the round, once, in the register's order."""
    there = {item.at.part for item in found.lines}
    parts = summary.snapshot.mill.parts
    return [(part.name, part.caution) for part in parts if part.name in there and part.caution]


def left_off_words(found: Round) -> str:
    """How many did not fit and why; the likeliest to pass their limit by name, the rest by loom."""
    lines = found.left_off
    reasons = ", ".join(
        f"{sum(item.why is why for item in lines)} {why.value}"
        for why in Why
        if any(item.why is why for item in lines)
    )
    told = [f"LEFT OFF {len(lines)} ({reasons})"]
    likely = sorted(lines, key=_unlikely)[:LIKELIEST]
    likely = [item for item in likely if -_unlikely(item) >= LEAST_CHANCE]
    if likely:
        named = ", ".join(
            f"{item.loom.loom} {item.name} {_percent(-_unlikely(item))}" for item in likely
        )
        told.append(f"likeliest to pass: {named}")
    rest = [item for item in lines if not any(item is named for named in likely)]
    if rest:
        told.append(f"{len(rest)} {'more ' if likely else ''}on {_looms_of(rest, found)}")
    told.append(f"--most {len(found.lines) + len(lines)} prints all")
    return "; ".join(told)


def _unlikely(item: RoundLine) -> float:
    return 0.0 if isinstance(item.chance, Refusal) else -item.chance


def _looms_of(lines: Iterable[RoundLine], found: Round) -> str:
    """The looms of some lines in walking order."""
    there = {item.loom.loom for item in lines}
    return " ".join(loom for loom in found.order if loom in there)
