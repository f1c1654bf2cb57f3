"""The handover sheet as plain text for paper: no colour, long texts wrapped, never cut.

What must be seen comes first; what does not fit on a page goes on to the next under the same
head. The words come from ``sheet_rows``; ``letters`` writes them in ASCII where that is all that
the output takes.
"""

from __future__ import annotations

from dataclasses import replace

from board.reckon.handing_over import Sheet
from board.show.paper import paper_rows
from board.show.plain_letters import LEGEND, SIGNS
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
from board.show.text import Letters, as_written, fill, to_ascii, width

PAGE_LINES = 60  # what an A4 side takes at six lines an inch, with margins
NARROWEST = 60
_REMARK_LINES = 3

Lines = list[str]
_Block = list[Lines]  # lines that stay together on a page, its heading first


def text_pages(sheet: Sheet, cells: int = 80, letters: Letters = as_written) -> list[Lines]:
    """The sheet as pages of lines, each line at most ``cells`` wide."""
    found = parts(sheet)
    told = [head(sheet).shed, *(row.where + row.text for part in found for row in part.rows)]
    top, found = _head_in(letters, head(sheet)), tuple(_part_in(letters, part) for part in found)
    blocks = [_block(part, cells) for part in found]
    if letters is to_ascii and not all(map(_is_plain, told)):
        blocks.append([paper_rows(LEGEND, cells)])
    blocks.append([_signing(sheet, cells, letters)])
    rows = PAGE_LINES - len(_head_lines(top, cells, "page 1 of 1"))
    pages = _paged(blocks, rows)
    return [
        [*_head_lines(top, cells, f"page {i} of {len(pages)}"), *page]
        for i, page in enumerate(pages, start=1)
    ]


def _is_plain(text: str) -> bool:
    """Whether ASCII can show a text: its signs may be written otherwise, its letters not."""
    return "".join(c for c in text if c not in SIGNS).isascii()


def _head_in(letters: Letters, top: Head) -> Head:
    return Head(
        shed=letters(top.shed), change=letters(top.change), as_of=top.as_of, read=letters(top.read),
        counts=top.counts, caution=top.caution,
    )  # fmt: skip


def _part_in(letters: Letters, part: Part) -> Part:
    rows = tuple(
        replace(row, where=letters(row.where), text=letters(row.text)) for row in part.rows
    )
    return replace(part, title=letters(part.title), hint=letters(part.hint), rows=rows)


def _head_lines(top: Head, cells: int, page: str) -> Lines:
    left = f"{top.shed}  SHIFT HANDOVER"
    gap = cells - width(left) - len(page)
    first = [f"{left}{' ' * gap}{page}"] if gap > 1 else [*paper_rows(left, cells), page]
    return [
        *first,
        *paper_rows(f"{top.change}   {top.as_of}", cells),
        *paper_rows(top.read, cells),
        *paper_rows(top.counts, cells),
        *paper_rows(top.caution, cells),
    ]


def _block(part: Part, cells: int) -> _Block:
    where = max((width(row.where) for row in part.rows), default=0)
    where = min(where, cells // 4)
    return [_title(part, cells), *(_row(row, where, cells) for row in part.rows)]


def _title(part: Part, cells: int) -> Lines:
    left = part.heading
    right = f" {part.hint}" if part.hint else ""
    rule = cells - width(left) - width(right) - 1
    if rule >= 1:
        return [f"{left} {'-' * rule}{right}"]
    return paper_rows(f"{left} {part.hint}".rstrip(), cells)


def _row(row: Row, where: int, cells: int) -> Lines:
    tick = f"{Box.TICK.value} " if row.box is Box.TICK else ""
    indent = tick + (f"{fill(row.where, where)}  " if where else "")
    if width(row.where) > where:
        hanging = " " * (len(tick) + where + 2)
        lines = paper_rows(f"{row.where}  {row.text}", cells, tick, hanging)
    else:
        lines = paper_rows(row.text, cells, indent, " " * width(indent))
    if row.box is Box.SEEN:
        box = row.box.value
        if width(lines[-1]) + 2 + len(box) > cells:
            lines.append("")
        lines[-1] += " " * (cells - width(lines[-1]) - len(box)) + box
    return lines


def _signing(sheet: Sheet, cells: int, letters: Letters) -> Lines:
    """Room for remarks, the steps to tick, and the two signatures: never parted."""
    rule = "_" * cells
    lines = [f"REMARKS {'_' * (cells - 8)}", *([rule] * (_REMARK_LINES - 1)), ""]
    for step in steps(sheet):
        lines += paper_rows(letters(step), cells, "[ ] ", "    ")
    for who, record in signers(sheet):
        lines.append("")
        third = (cells - len(who) - 24) // 3
        blanks = f"{who} name {'_' * third}  date, time {'_' * third}  signed "
        lines.append(blanks + "_" * (cells - len(blanks)))
        lines += paper_rows(letters(record), cells, "         ")
    return [*lines, "", *paper_rows(FOOT, cells)]


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
