"""The handover sheet as plain text for paper: ASCII, no colour, long texts wrapped, never cut.

What must be seen comes first; what does not fit on a page goes on to the next under the same
head. The words come from ``sheet_rows``.
"""

from __future__ import annotations

import textwrap

from board.reckon.handing_over import Sheet
from board.show.sheet_parts import parts
from board.show.sheet_rows import (
    FOOT,
    Box,
    Head,
    Part,
    Row,
    head,
    signers,
    steps,
)
from board.show.text import to_ascii

PAGE_LINES = 60  # what an A4 side takes at six lines an inch, with margins
NARROWEST = 60
_REMARK_LINES = 3
_LOST = "? stands where plain letters have no form for what was written; --html keeps it"

Lines = list[str]
_Block = list[Lines]  # lines that stay together on a page, its heading first


def text_pages(sheet: Sheet, cells: int = 80) -> list[Lines]:
    """The sheet as pages of lines, each line at most ``cells`` wide and in ASCII."""
    top = head(sheet)
    found = parts(sheet)
    blocks = [_block(part, cells) for part in found]
    if _loses_letters(found, top):
        blocks.append([_wrapped(_LOST, cells)])
    blocks.append([_signing(sheet, cells)])
    rows = PAGE_LINES - len(_head_lines(top, cells, "page 1 of 1"))
    pages = _paged(blocks, rows)
    return [
        [*_head_lines(top, cells, f"page {i} of {len(pages)}"), *page]
        for i, page in enumerate(pages, start=1)
    ]


def _loses_letters(found: tuple[Part, ...], top: Head) -> bool:
    texts = [row.where + row.text for part in found for row in part.rows] + [top.shed]
    return any(to_ascii(text).count("?") > text.count("?") for text in texts)


def _head_lines(top: Head, cells: int, page: str) -> Lines:
    left = to_ascii(f"{top.shed}  SHIFT HANDOVER")
    gap = cells - len(left) - len(page)
    first = [f"{left}{' ' * gap}{page}"] if gap > 1 else [*_wrapped(left, cells), page]
    return [
        *first,
        *_wrapped(f"{top.change}   {top.as_of}", cells),
        *_wrapped(top.read, cells),
        *_wrapped(top.counts, cells),
        *_wrapped(top.caution, cells),
    ]


def _wrapped(text: str, cells: int, first: str = "", later: str | None = None) -> Lines:
    """A text in lines of at most so many characters, broken inside a word only where it must."""
    return textwrap.wrap(
        to_ascii(text),
        width=cells,
        initial_indent=first,
        subsequent_indent=first if later is None else later,
        break_on_hyphens=False,
        expand_tabs=False,
        replace_whitespace=False,
    ) or [first.rstrip()]


def _block(part: Part, cells: int) -> _Block:
    where = max((len(to_ascii(row.where)) for row in part.rows), default=0)
    where = min(where, cells // 4)
    return [_title(part, cells, ""), *(_row(row, where, cells) for row in part.rows)]


def _title(part: Part, cells: int, more: str) -> Lines:
    left = to_ascii(part.heading + more)
    right = f" {to_ascii(part.hint)}" if part.hint else ""
    rule = cells - len(left) - len(right) - 1
    if rule >= 1:
        return [f"{left} {'-' * rule}{right}"]
    return _wrapped(f"{part.heading}{more} {part.hint}".rstrip(), cells)


def _row(row: Row, where: int, cells: int) -> Lines:
    tick = f"{Box.TICK.value} " if row.box is Box.TICK else ""
    name = to_ascii(row.where)
    indent = tick + (f"{name:<{where}}  " if where else "")
    if len(name) > where:
        lines = _wrapped(f"{name}  {row.text}", cells, tick, " " * len(indent))
    else:
        lines = _wrapped(row.text, cells, indent, " " * len(indent))
    if row.box is Box.SEEN:
        box = row.box.value
        if len(lines[-1]) + 2 + len(box) > cells:
            lines.append("")
        lines[-1] += " " * (cells - len(lines[-1]) - len(box)) + box
    return lines


def _signing(sheet: Sheet, cells: int) -> Lines:
    """Room for remarks, the steps to tick, and the two signatures: never parted."""
    rule = "_" * cells
    lines = [f"REMARKS {'_' * (cells - 8)}", *([rule] * (_REMARK_LINES - 1)), ""]
    for step in steps(sheet):
        lines += _wrapped(step, cells, "[ ] ", "    ")
    for who, record in signers(sheet):
        lines.append("")
        third = (cells - len(who) - 24) // 3
        blanks = f"{who} name {'_' * third}  date, time {'_' * third}  signed "
        lines.append(blanks + "_" * (cells - len(blanks)))
        lines += _wrapped(record, cells, "         ")
    return [*lines, "", *_wrapped(FOOT, cells)]


def _paged(blocks: list[_Block], rows: int) -> list[Lines]:
    """Pages of at most so many rows; a row is parted only where it alone is longer than a page."""
    pages: list[Lines] = [[]]
    for block in blocks:
        title, *rest = block
        opening = [*title, *(rest[0] if rest else [])]
        if len(pages[-1]) + len(opening) > rows and pages[-1]:
            pages.append([])
        pages[-1] += title
        for piece in rest:
            if len(pages[-1]) + len(piece) > rows and len(pages[-1]) > len(title):
                pages.append(_continued(title))
            pages[-1] += piece
    return [part for page in pages for part in _parted(page, rows)]


def _continued(title: Lines) -> Lines:
    first = title[0].rstrip("- ")
    return [f"{first.split(' --')[0]}, continued"]


def _parted(page: Lines, rows: int) -> list[Lines]:
    return [page[i : i + rows] for i in range(0, len(page), rows)] or [[]]
