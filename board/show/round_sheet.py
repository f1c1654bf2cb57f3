"""The round as plain text for paper: ASCII, no colour, a box for each value, nothing cut.

Each line says why it is there. A loom that is isolated on record says so on each of its lines.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from board.mill import Every, Quantity
from board.reckon.refusal import Refusal
from board.reckon.rounds import LEAST_CHANCE, Round, RoundLine, Why
from board.reckon.summary import LoomLine, Summary
from board.show.moments import clock, counted, figure, long_clock
from board.show.screens import CAUTION
from board.show.text import clean, to_ascii
from board.state.fleet import Isolation
from board.state.history import Bound

PAGE_LINES = 60  # what an A4 side takes at six lines an inch, with margins
NARROWEST = 60
_BLANK = "______"
_HANDS = (
    "Stop and isolate the loom, with your own lock, before hands go in. What stands here is as of"
    " the time above: look for locks and ask at the machine."
)
_WRITE = "Write each value into the log by loom and part; a gauge: enters or stays out."

Lines = list[str]


def round_pages(summary: Summary, found: Round, cells: int) -> list[Lines]:
    """The sheet as pages of lines, each line at most ``cells`` wide and in ASCII."""
    head = _head(summary, found, cells)
    blocks = [
        *_top(summary, found, cells),
        *_looms(summary, found, cells),
        *_foot(summary, found, cells),
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


def _titled(left: str, right: str, cells: int) -> str:
    gap = cells - len(left) - len(right)
    return f"{left}{' ' * gap}{right}" if gap > 1 else f"{left}  {right}"[:cells]


def _wrapped(text: str, cells: int, first: str = "", later: str | None = None) -> Lines:
    return textwrap.wrap(
        to_ascii(clean(text)),
        width=cells,
        initial_indent=first,
        subsequent_indent=first if later is None else later,
        break_on_hyphens=False,
    ) or [first.rstrip()]


def _head(summary: Summary, found: Round, cells: int) -> Lines:
    mill = summary.snapshot.mill
    shift = found.shift
    begins = long_clock(shift.start, mill.zone)
    ends = f"{shift.end.astimezone(mill.zone):%H:%M}"
    count = f"{counted(len(found.lines), 'value')} to measure"
    if found.left_off:
        count += f", {len(found.left_off)} left off: see the end"
    name = to_ascii(clean(mill.name.upper()))
    return [
        f"{name} shed  ROUND {to_ascii(clean(shift.shift.name))}",
        *_wrapped(f"{begins} to {ends}   as of {long_clock(summary.as_of, mill.zone)}", cells),
        *_wrapped(count, cells),
        *_wrapped(CAUTION, cells),
    ]


def _top(summary: Summary, found: Round, cells: int) -> list[Lines]:
    """What must be known before the first loom."""
    by = long_clock(found.until, summary.snapshot.mill.zone)
    rows = ["", *_wrapped(_HANDS, cells)]
    rows += _wrapped(
        f"Chances are of passing the limit by {by}, before the next round ends.", cells
    )
    for line in summary.may_isolate:
        told = f"NOT UNDERSTOOD, MAY BE AN ISOLATION: {line.text} ({line.path} line {line.line})"
        rows += _wrapped(told, cells, "", "  ")
    refused = summary.counts.not_understood
    if refused:
        rows += _wrapped(f"{counted(refused, 'line')} of the log not understood", cells)
    for part, text in _cautions(summary, found):
        rows += _wrapped(f"caution, {part}: {text}", cells, "", "  ")
    return [[*rows, ""]]


# -- the lines -------------------------------------------------------------------------------


def _looms(summary: Summary, found: Round, cells: int) -> list[Lines]:
    blocks: list[Lines] = []
    section = None
    for item in found.lines:
        block = _item(summary, item, cells)
        if item.loom.section != section:
            section = item.loom.section
            block = [f"SECTION {to_ascii(clean(section))}", *block]
        blocks.append(block)
    if not blocks:
        blocks.append(_wrapped("Nothing is due, and nothing is likely to pass its limit.", cells))
    return blocks


def _item(summary: Summary, item: RoundLine, cells: int) -> Lines:
    loom = to_ascii(clean(item.loom.loom))
    box = f"[ {_BLANK} {to_ascii(item.quantity.unit)} ]"
    left = f"{loom:<5} {to_ascii(clean(item.name))}"
    last = f"{_last(summary, item)}"
    if len(left) + 2 + len(last) + 2 + len(box) <= cells:
        gap = max(29 - len(left), 2)
        left = f"{left}{' ' * gap}{last}"
        last = ""
    rows = [_titled(left, box, cells)]
    if len(left) + 2 + len(box) > cells:
        rows = [*_wrapped(left, cells), " " * (cells - len(box)) + box]
    indent = " " * 6
    isolated = isolated_words(item.loom)
    if isolated:
        rows += _wrapped(isolated, cells, indent)
    why = f"{last}; " if last else ""
    return [*rows, *_wrapped(f"{why}{_why(summary, item)}", cells, indent)]


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


def _last(summary: Summary, item: RoundLine) -> str:
    if item.last is None:
        return f"never measured, {limit_words(item)}"
    bound = "was" if item.last.bound is Bound.EXACT else item.last.bound.value
    return f"{bound} {_value(item.last.value, item.quantity)}, {limit_words(item)}"


def _value(value: float, quantity: Quantity) -> str:
    """A reading with no more decimals than its tool can tell."""
    u = quantity.tool_uncertainty
    if u is None:
        return f"{value:.4g}"
    return f"{value:.{0 if u >= 10 else 1 if u >= 0.5 else 2 if u >= 0.005 else 3}f}"


def limit_words(item: RoundLine) -> str:
    """The limit in words: ``replace below 2.45``."""
    limits = item.quantity.limits
    if limits.low is not None and limits.high is not None:
        return f"keep {limits.low:g} to {limits.high:g}"
    if limits.low is not None:
        return f"replace below {limits.low:g}"
    return f"replace above {limits.high:g}" if limits.high is not None else "no limit given"


def _why(summary: Summary, item: RoundLine) -> str:
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


# -- the end ---------------------------------------------------------------------------------


def _foot(summary: Summary, found: Round, cells: int) -> list[Lines]:
    blocks: list[Lines] = []
    rows: Lines = []
    if found.past:
        named = ", ".join(f"{w.loom} {w.name}" for w in found.past)
        rows += _wrapped(f"PAST LIMIT on record, not on this round: {named}", cells, "", "  ")
    if found.left_off:
        rows += _wrapped(_left_off(found.left_off), cells, "", "  ")
    if found.laid_up:
        rows += _wrapped(f"LAID UP, not on this round: {', '.join(found.laid_up)}", cells, "", "  ")
    for never in found.never_told:
        named = ", ".join(never.looms)
        rows += _wrapped(f"NEVER TOLD OF in the log: {never.part} of {named}", cells, "", "  ")
    if rows:
        blocks.append(["", *rows])
    who = "measured by "
    line = f"{who}{'_' * 20}  date, time "
    blocks.append(["", *_wrapped(_WRITE, cells), f"{line}{'_' * (cells - len(line))}"])
    return blocks


def _cautions(summary: Summary, found: Round) -> list[tuple[str, str]]:
    """The caution of each part on the round, once, in the register's order."""
    there = {item.at.part for item in found.lines}
    parts = summary.snapshot.mill.parts
    return [(part.name, part.caution) for part in parts if part.name in there and part.caution]


def _left_off(lines: Iterable[RoundLine]) -> str:
    """How many did not fit, why, and which looms they are on."""
    lines = list(lines)
    reasons = ", ".join(
        f"{sum(item.why is why for item in lines)} {why.value}"
        for why in Why
        if any(item.why is why for item in lines)
    )
    looms = " ".join(dict.fromkeys(item.loom.loom for item in lines))
    return f"LEFT OFF {len(lines)} ({reasons}): {looms}"
