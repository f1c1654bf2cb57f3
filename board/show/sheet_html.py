"""The handover sheet as one HTML file: black on white, for one A4 side, nothing fetched.

Texts from logs are cleaned and escaped, and each stands by itself, so that neither markup nor the
direction of its letters reaches what is beside it. A policy in the head forbids scripts and every
fetch. What does not fit goes on to the next side under the same head.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable
from hashlib import sha256
from html import escape

from board.reckon.handing_over import Sheet
from board.show.sheet_parts import parts
from board.show.sheet_rows import FOOT, Box, Head, Part, Row, head, signers, steps

STYLE = """
@page { size: A4 portrait; margin: 8mm 9mm 7mm 12mm; }
* { box-sizing: border-box; }
html { background: #fff; color: #000; font: 8.5pt/1.12 "Liberation Sans", Arial, Helvetica,
  "DejaVu Sans Condensed", sans-serif; }
body { margin: 0 auto; max-width: 190mm; }
table.sheet { width: 100%; border-collapse: collapse; }
table.sheet > * > tr > td { padding: 0; }
.head { border-bottom: 0.5mm solid #000; padding-bottom: 0.6mm; margin-bottom: 0.8mm; }
.head p { margin: 0; }
.head b { white-space: pre-wrap; }
h1 { display: inline; font-size: 13pt; margin: 0 4mm 0 0; }
.change { font-size: 10.5pt; font-weight: bold; }
.caution { font-weight: bold; border: 0.3mm solid #000; padding: 0.3mm 1.5mm; font-size: 9.5pt; }
section { margin: 0 0 0.9mm; }
h2 { font-size: 8.5pt; margin: 0; border-bottom: 0.2mm solid #000; break-after: avoid; }
h2 small { float: right; font-size: 8.5pt; font-weight: normal; }
.first h2 { font-size: 10pt; }
.columns { columns: 2; column-gap: 5mm; column-rule: 0.2mm solid #000; }
.row { display: flex; gap: 1.5mm; break-inside: avoid; }
.row b { flex: none; min-width: 7mm; }
.row .text { flex: 1; min-width: 0; overflow-wrap: anywhere; }
.box { flex: none; display: inline-block; width: 2.8mm; height: 2.8mm; border: 0.3mm solid #000; }
.seen { flex: none; white-space: nowrap; }
.value { display: inline-block; width: 14mm; height: 4.5mm; border-bottom: 0.2mm solid #000; }
.end { break-inside: avoid; border-top: 0.5mm solid #000; padding-top: 0.8mm; }
.line { border-bottom: 0.2mm solid #000; height: 5.5mm; }
.steps { columns: 2; column-gap: 5mm; margin: 1mm 0; }
.sign { display: flex; gap: 2mm; align-items: flex-end; height: 7.5mm; }
.sign b { width: 19mm; }
.sign i { font-style: normal; width: 37mm; line-height: 1; }
.sign span { flex: 1; border-bottom: 0.2mm solid #000; }
.sign em { font-style: normal; }
.foot { margin: 0.8mm 0 0; }
@media screen { body { padding: 8mm; } }
"""


def html_page(sheet: Sheet) -> str:
    """The whole file, in ASCII: every other letter is a character reference."""
    return page_of("shift handover", head(sheet), parts(sheet), _end(sheet))


def page_of(name: str, top: Head, found: Iterable[Part], end: str) -> str:
    """A sheet of a name as one file: its head on every side, its parts, and the end as HTML."""
    found = tuple(found)
    first = "".join(_part(part) for part in found if part.first)
    rest = "".join(_part(part) for part in found if not part.first)
    digest = b64encode(sha256(STYLE.encode()).digest()).decode()
    title = escape(f"{top.shed} {name} {top.change}")
    text = (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta http-equiv="Content-Security-Policy"'
        f" content=\"default-src 'none'; style-src 'sha256-{digest}'\">\n"
        f"<title>{title}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n"
        '<table class="sheet" role="presentation">\n'
        f"<thead><tr><td>{_head(name, top)}</td></tr></thead>\n"
        f'<tbody><tr><td>\n<div class="first">\n{first}</div>\n'
        f'<div class="columns">\n{rest}</div>\n{end}'
        "</td></tr></tbody>\n</table>\n</body>\n</html>\n"
    )
    return text.encode("ascii", "xmlcharrefreplace").decode("ascii")


def _head(name: str, top: Head) -> str:
    return (
        f'<div class="head"><p><h1>{_own(top.shed)} {escape(name)}</h1>'
        f'<span class="change">{_own(top.change)}</span></p>'
        f"<p>{_own(top.as_of)}; {_own(top.read)}<br><b>{_own(top.counts)}</b></p>"
        f'<p class="caution">{escape(top.caution)}</p></div>'
    )


def _own(text: str) -> str:
    """A text by itself: escaped, and its direction kept from its neighbours."""
    return f"<bdi>{escape(text)}</bdi>"


def _part(part: Part) -> str:
    hint = f"<small>{escape(part.hint)}</small>" if part.hint else ""
    rows = "".join(_row(row) for row in part.rows)
    return f"<section><h2>{hint}{_own(part.heading)}</h2>\n{rows}</section>\n"


def _row(row: Row) -> str:
    box = '<span class="box"></span>'
    tick = box if row.box is Box.TICK else ""
    seen = f'<span class="seen">{box} seen at the machine</span>' if row.box is Box.SEEN else ""
    if row.unit:
        seen = f'<span class="seen"><span class="value"></span> {_own(row.unit)}</span>'
    where = f"<b>{_own(row.where)}</b>" if row.where else ""
    return f'<div class="row">{tick}{where}<span class="text">{_own(row.text)}</span>{seen}</div>\n'


def _end(sheet: Sheet) -> str:
    ticks = "".join(_row(Row("", step, Box.TICK)) for step in steps(sheet))
    signs = "".join(
        f'<div class="sign"><b>{escape(who)}</b><i>{_own(record)}</i><em>name</em><span></span>'
        f"<em>date, time</em><span></span><em>signed</em><span></span></div>\n"
        for who, record in signers(sheet)
    )
    return (
        f'<div class="end"><h2>REMARKS</h2>{"<div class=line></div>" * 3}'
        f'<div class="steps">\n{ticks}</div>\n{signs}<p class="foot">{escape(FOOT)}</p></div>\n'
    )
