"""The live board's pages, pure: what is looked at, what a key makes of it, and its lines.

The head and every isolation stand on every page, help and single looms included; where they alone
are taller than the screen they turn by themselves. Below them an overview shares the rows; page
keys go through everything in full.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import Enum

from board.keys import Key, Name
from board.reckon.summary import Summary
from board.show.lines import Bit, Line, Tone, line, title
from board.show.loom_screen import loom_lines, loom_table
from board.show.screens import View, board_lines, must_lines

WALL_TURN_S = 12  # [s] a page stays on a wall screen
_MUST_TURN_S = 5  # [s] a part of the isolations stays, where they are taller than the screen
_LEAST_BODY = 4  # rows kept below the isolations

HELP = (
    "page up, page down, home, end   go through every list in full",
    "up, down, left, right           one row back or on",
    "a loom's name and Enter         that loom alone, like a7; Escape goes back",
    "?                               this page",
    "q                               end",
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
    """What a key makes of what is looked at; ``rows`` is how many body rows a page has."""
    looking = replace(looking, wrong="")
    match key.name:
        case Name.CHARACTER if key.text == "?":
            return Looking(page=Page.HELP), Wish.STAY
        case Name.CHARACTER if key.text in "qQ" and not looking.typed:
            return looking, Wish.END
        case Name.CHARACTER if key.text.isprintable() and not key.text.isspace():
            return replace(looking, typed=(looking.typed + key.text)[:12]), Wish.STAY
        case Name.BACKSPACE:
            return replace(looking, typed=looking.typed[:-1]), Wish.STAY
        case Name.ENTER if looking.typed:
            loom = summary.snapshot.mill.vocabulary.loom(looking.typed)
            if loom is None or all(x.loom != loom for x in summary.looms):
                return replace(looking, typed="", wrong=looking.typed), Wish.STAY
            return Looking(page=Page.LOOM, loom=loom), Wish.STAY
        case Name.ESCAPE:
            return Looking(), Wish.STAY
        case Name.CONTROL if key.text == "c":
            return looking, Wish.END
        case _:
            return _moved(looking, key.name, rows), Wish.STAY


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
    summary: Summary, looking: Looking, view: View, *, tick: float, notices: tuple[str, ...] = ()
) -> Frame:
    """The screen for a size; ``tick`` [s] lets too many isolations turn by themselves."""
    height = view.height or 24
    whole_must = must_lines(summary, view)
    must = _turning(whole_must, height, tick)
    foot = _foot(looking, notices)
    room = max(height - len(must) - 1, 0)
    if looking.page is Page.OVERVIEW:
        # the overview is the board itself; its own first rows are the isolations just made
        whole = board_lines(summary, replace(view, height=max(height - 1, len(must))))
        body = whole[len(whole_must) :][:room]
        clamped = looking
    else:
        rows = _body(summary, looking, view)
        last = max(len(rows) - room, 0)
        clamped = replace(looking, offset=min(looking.offset, last))
        body = rows[clamped.offset : clamped.offset + room]
    lines = [*must, *body]
    lines += [line("")] * (height - 1 - len(lines))
    return Frame(
        lines=tuple(x.fitted(view.width) for x in [*lines[: height - 1], foot]),
        looking=clamped,
        rows=room,
        turning=len(must) != len(whole_must),
    )


def _turning(must: list[Line], height: int, tick: float) -> list[Line]:
    """The isolations, in turning parts where they are taller than the screen."""
    room = max(height - _LEAST_BODY, 3)
    if len(must) <= room:
        return must
    head, rows = must[:3], must[3:]
    each = max(room - len(head) - 1, 1)
    parts = [rows[i : i + each] for i in range(0, len(rows), each)]
    now = int(tick // _MUST_TURN_S) % len(parts)
    told = f"isolations, part {now + 1} of {len(parts)}, turning by itself: the screen is too small"
    return [*head, line(Bit(told, Tone.DANGER)), *parts[now]]


def _body(summary: Summary, looking: Looking, view: View) -> list[Line]:
    match looking.page:
        case Page.LOOM:
            return loom_lines(summary, looking.loom, view.width, most=500)
        case Page.HELP:
            return [title("HELP", "", view.width), *(line(text) for text in HELP)]
        case Page.FULL | Page.OVERVIEW:
            full = replace(view, height=None)
            rest = board_lines(summary, full)[len(must_lines(summary, full)) :]
            return [*rest, *loom_table(summary, view.width)]


def _foot(looking: Looking, notices: tuple[str, ...]) -> Line:
    if looking.typed:
        return line(Bit(f"loom: {looking.typed}_   Enter shows it", Tone.STRONG))
    if looking.wrong:
        return line(Bit(f"no loom {looking.wrong} is on this board", Tone.ABNORMAL))
    if notices:
        return line(Bit(f"notice: {'; '.join(notices)}", Tone.FAINT))
    back = "Escape back  " if looking.page is not Page.OVERVIEW else ""
    return line(Bit(f"{back}page keys  loom name + Enter  ? help  q end", Tone.FAINT))


def turned(looking: Looking, summary: Summary, view: View, rows: int) -> Looking:
    """The next page of a wall screen: the overview, then everything page by page, and again."""
    if looking.page is Page.OVERVIEW:
        return Looking(page=Page.FULL)
    total = len(_body(summary, replace(looking, page=Page.FULL), view))
    if looking.offset + rows >= total:
        return Looking()
    return replace(looking, offset=looking.offset + max(rows - 1, 1))
