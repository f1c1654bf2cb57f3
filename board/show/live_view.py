"""The live board's pages, pure: what is looked at, what a key makes of it, and its lines.

The head and every isolation stand on every page, help and single looms included. A small screen
has a shorter head; where it and the isolations are taller still, these turn by themselves. Below
them an overview shares the rows; page keys go through everything in full.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from enum import Enum

from board.keys import Key, Name
from board.reckon.summary import Summary
from board.show.lines import Bit, Line, Tone, line, title
from board.show.live_above import Above, above_of
from board.show.loom_screen import loom_lines, loom_table
from board.show.must_see import (
    View,
    caution_lines,
    head_lines,
    isolation_lines,
)
from board.show.screens import overview_lines
from board.show.text import fill, on_one_line, width, wrapped
from grammar.frozen import dataclass

WALL_TURN_S = 12  # [s] a page stays on a wall screen
_KEY_CELLS = 32  # the column of the keys on the help page
_LONGEST_NAME = 40  # letters of a loom's name that are taken

HELP = (
    ("page up, page down, home, end", "go through every list in full"),
    ("up, down, left, right", "one row back or on"),
    ("a loom's name and Enter", "that loom alone, like a7; Escape goes back"),
    ("?", "this page"),
)
HELP_END = ("q", "end")
HELP_END_ENTER = ("q and Enter, or Ctrl and C", "end, as looms here begin with q")
HELP_LAST = (
    "The board redraws itself when a log is saved.",
    "Isolations stand on every page. A written record, not an isolation permit.",
)


class Page(Enum):
    """What is shown below the isolations."""

    OVERVIEW = "overview"
    FULL = "everything"
    LOOM = "loom"
    HELP = "help"


class Wish(Enum):
    """What a key asks of the program."""

    STAY = "stay"
    END = "end"


@dataclass(frozen=True, slots=True, kw_only=True)
class Looking:
    """What is looked at: the page, how far down, the loom, and letters typed so far."""

    page: Page = Page.OVERVIEW
    offset: int = 0
    loom: str = ""
    typed: str = ""
    wrong: str = ""  # a name typed that is no loom


def pressed(looking: Looking, key: Key, summary: Summary, rows: int) -> tuple[Looking, Wish]:
    """What a key makes of what is looked at; ``rows`` is how many body rows a page has.

    ``q`` ends; in a shed with looms named Q12 it begins a name, and ``q`` and Enter end.
    """
    looking = replace(looking, wrong="")
    match key.name:
        case Name.CHARACTER if key.text == "?":
            return Looking(page=Page.HELP), Wish.STAY
        case Name.CHARACTER if _is_q(key.text) and not looking.typed and not _names_q(summary):
            return looking, Wish.END
        case Name.CHARACTER if key.text.isprintable() and not key.text.isspace():
            return replace(looking, typed=(looking.typed + key.text)[:_LONGEST_NAME]), Wish.STAY
        case Name.BACKSPACE:
            return replace(looking, typed=looking.typed[:-1]), Wish.STAY
        case Name.ENTER if looking.typed:
            loom = summary.snapshot.mill.vocabulary.loom(looking.typed)
            if loom is not None and _is_shown(summary, loom):
                return Looking(page=Page.LOOM, loom=loom), Wish.STAY
            if _is_q(looking.typed):
                return looking, Wish.END
            return replace(looking, typed="", wrong=looking.typed), Wish.STAY
        case Name.ESCAPE if looking.typed:
            return replace(looking, typed=""), Wish.STAY
        case Name.ESCAPE:
            return Looking(), Wish.STAY
        case Name.CONTROL if key.text == "c":
            return looking, Wish.END
        case _:
            return _moved(looking, key.name, rows), Wish.STAY


def _is_q(text: str) -> bool:
    return text in ("q", "Q")


def _names_q(summary: Summary) -> bool:
    return any(_is_q(line.loom[:1]) for line in summary.looms)


def _is_shown(summary: Summary, loom: str) -> bool:
    return any(line.loom == loom for line in summary.looms)


def _moved(looking: Looking, name: Name, rows: int) -> Looking:
    step = _STEPS.get(name)
    if step is None:
        return looking
    by = step * (max(rows - 1, 1) if name in (Name.PAGE_UP, Name.PAGE_DOWN) else 1)
    if name is Name.HOME:
        by = -looking.offset
    if name is Name.END:
        by = 1_000_000
    if looking.page is Page.OVERVIEW:
        return replace(looking, page=Page.FULL, offset=0) if by > 0 else looking
    if looking.page is Page.FULL and looking.offset + by < 0:
        return Looking()
    return replace(looking, offset=max(looking.offset + by, 0))


_STEPS: Mapping[Name, int] = {
    Name.UP: -1,
    Name.LEFT: -1,
    Name.PAGE_UP: -1,
    Name.HOME: -1,
    Name.DOWN: 1,
    Name.RIGHT: 1,
    Name.PAGE_DOWN: 1,
    Name.END: 1,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """A whole screen, what it looked at after clamping, and how many rows a page turns.

    ``turning``: the isolations are taller than the screen, so that it must be drawn again soon.
    """

    lines: tuple[Line, ...]
    looking: Looking
    rows: int
    turning: bool


def frame(
    summary: Summary,
    looking: Looking,
    view: View,
    *,
    tick: float,
    notices: tuple[str, ...] = (),
    standing: tuple[str, ...] = (),
) -> Frame:
    """The screen for a size; ``tick`` [s] lets too many isolations turn by themselves.

    ``notices`` stand in the last row of the overview now, ``standing`` ones on the help page.
    """
    height = max(view.height or 24, 1)
    if looking.page is Page.LOOM and not _is_shown(summary, looking.loom):
        looking = Looking(wrong=looking.loom)  # a saved register has taken it away
    above = above_of(summary, view)
    must = above.rows(tick, view.width)
    room = max(height - len(must) - 1, 0)
    if looking.page is Page.OVERVIEW:
        body = _cut_off(overview_lines(summary, view, room), room, view.width)
        clamped = looking
    else:
        rows = _body(summary, looking, view, above, standing)
        last = max(len(rows) - room, 0)
        clamped = replace(looking, offset=min(looking.offset, last))
        body = rows[clamped.offset : clamped.offset + room]
    lines = [*must, *body]
    lines += [line("")] * (height - 1 - len(lines))
    if len(lines) < height:
        lines.append(_foot(looking, notices, summary))
    return Frame(
        lines=tuple(x.fitted(view.width) for x in lines),
        looking=clamped,
        rows=room,
        turning=len(above.parts) > 1,
    )


def _cut_off(rows: list[Line], room: int, cells: int) -> list[Line]:
    """Rows of the overview that fit; where some do not, the last one says so."""
    if len(rows) <= room:
        return rows
    told = (
        f"{len(rows) - max(room - 1, 0)} rows more, of what was not read or taken over: page down"
    )
    return [*rows[: max(room - 1, 0)], line(Bit(told, Tone.ABNORMAL))][:room]


def _body(
    summary: Summary, looking: Looking, view: View, above: Above, standing: tuple[str, ...] = ()
) -> list[Line]:
    match looking.page:
        case Page.LOOM:
            own = loom_lines(summary, looking.loom, view.width, most=500, live=True)
            caution = caution_lines(view.width)  # by the head, where it has room for it
            said = caution if all(row in above.head for row in caution) else []
            return [row for row in own if row not in said]
        case Page.HELP:
            return _help(summary, view.width, standing)
        case Page.FULL | Page.OVERVIEW:
            full = replace(view, height=None)
            # the locks that stand above in short, each with its time and its text
            locks = isolation_lines(summary, full)
            known = {row.plain for row in isolation_lines(summary, view)}
            told = [] if all(row.plain in known for row in locks) else locks
            head = head_lines(summary, full)  # what is cut or left out above
            told = [*(row for row in head if row not in above.head), *told]
            return [*told, *overview_lines(summary, full, None), *loom_table(summary, view.width)]


def _help(summary: Summary, cells: int, standing: tuple[str, ...]) -> list[Line]:
    """Each key and what it does, in two columns where they fit, else wrapped."""
    keys = (*HELP, HELP_END_ENTER if _names_q(summary) else HELP_END)
    texts = [f"{fill(key, _KEY_CELLS)}{does}" for key, does in keys]
    if any(width(text) > cells for text in texts):
        texts = [f"{key}: {does}" for key, does in keys]
    rows = [title("HELP", "", cells)]
    for text in (*texts, *HELP_LAST, *(on_one_line(f"notice: {x}") for x in standing)):
        first, *others = [text] if width(text) <= cells else wrapped(text.split(), cells - 2, " ")
        rows += [line(first), *(line(f"  {more}") for more in others)]
    return rows


def _foot(looking: Looking, notices: tuple[str, ...], summary: Summary) -> Line:
    if looking.typed:
        end = " ends" if _is_q(looking.typed) else " shows it"
        return line(Bit(f"loom: {looking.typed}_   Enter{end}", Tone.STRONG))
    if looking.wrong:
        return line(Bit(f"no loom {looking.wrong} is on this board", Tone.ABNORMAL))
    if notices and looking.page is Page.OVERVIEW:
        return line(Bit(f"notice: {'; '.join(notices)}", Tone.FAINT))
    back = "Escape back  " if looking.page is not Page.OVERVIEW else ""
    end = "q + Enter end" if _names_q(summary) else "q end"
    return line(Bit(f"{back}page keys  loom name + Enter  ? help  {end}", Tone.FAINT))


def turned(looking: Looking, summary: Summary, view: View, rows: int) -> Looking:
    """The next page of a wall screen: the overview, then everything page by page, and again.

    A name that is being typed is left alone; a loom's page and the help give way to the overview.
    """
    if looking.typed:
        return looking
    match looking.page:
        case Page.OVERVIEW:
            return Looking(page=Page.FULL)
        case Page.LOOM | Page.HELP:
            return Looking()
        case Page.FULL:
            total = len(_body(summary, looking, view, above_of(summary, view)))
            if looking.offset + rows >= total:
                return Looking()
            return replace(looking, offset=looking.offset + max(rows - 1, 1))
