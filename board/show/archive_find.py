"""What was found in an archive, for people, for a pipe and as JSON: each hit with its mill."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from board.archive.finding import Counts, Found, near_words
from board.searched import behind
from board.show.archive_screen import (
    Missing,
    caution_lines,
    missing_lines,
    missing_records,
    widest,
)
from board.show.lines import Bit, Line, Tone, line, title
from board.show.moments import clock, counted
from board.show.prose import prose
from board.show.records import Record
from board.show.text import clean, fill, pad, width, wrapped

_MOST_TOTALS = 12


def archive_found_lines(found: Found, missing: Missing, cells: int, now: datetime) -> list[Line]:
    """The hits in time order, each by its mill's own clock, then how they are spread."""
    hits, total = _records(found), _total(found)
    right = "oldest first"
    if len(hits) < total:
        right = f"the newest {len(hits)}, oldest first; --most 0 shows all"
    rows = [title(f"FOUND {total} in {counted(len(found[1]), 'mill')}", right, cells)]
    wide = widest(name for name, _, _, _ in found[1])
    zones = {name: ZoneInfo(zone) for name, zone, _, _ in found[1]}
    for i, hit in enumerate(hits):
        if i and (hit.get("before") or hit.get("after") or hits[i - 1].get("after")):
            rows.append(line(Bit("-" * min(cells, 24), Tone.FAINT)))
        mill = str(hit["mill"])
        for each, tone in _with_neighbours(hit):
            head = f"{pad(_when(each, now, zones[mill]), 12)} {fill(mill, wide)} "
            rows += _rows(each, head, cells, tone)
    rows += _totals(found, cells)
    rows += _refusals(found, cells)
    rows += missing_lines(missing, cells)
    return [row.fitted(cells) for row in (*rows, *caution_lines(cells))]


def archive_piped_lines(found: Found) -> list[Line]:
    """One hit a line: ``mill/path:line:``, to be searched again by other tools."""
    rows = []
    for i, hit in enumerate(_records(found)):
        if i and (hit.get("before") or hit.get("after")):
            rows.append(line("--"))
        for each, tone in _with_neighbours(hit):
            when = each["when"] or each.get("written") or "?"
            sign = "-" if tone is Tone.FAINT else ":"
            mark = f" [{_mark(each)}]" if _mark(each) else ""
            rows.append(
                line(
                    f"{hit['mill']}/{each['path']}{sign}{each['line']}{sign}"
                    f" {when} {each['loom'] or '?'} {each['by'] or '?'}"
                    f" {' '.join(_words(each).split())}{mark}"
                )
            )
    return rows


def archive_nothing_found(found: Found, asked: str) -> str:
    """One sentence for no hit, with near spellings where there are some."""
    near = [f"{word}: did you mean {' or '.join(n)}?" for word, n in near_words(found).items()]
    hint = f"; {'; '.join(near)}" if near else ""
    return f"nothing found in {counted(len(found[1]), 'mill')} for {asked}{hint}"


def archive_found_document(found: Found, missing: Missing, out: Path) -> Record:
    """The hits as one JSON document."""
    looms, parts, symptoms = (dict(counts) for counts in found[2])
    return {
        "archive": str(out),
        "hits": _records(found),
        "total": _total(found),
        "totals": {
            "mill": {name: count for name, _, count, _ in found[1]},
            "loom": looms,
            "part": parts,
            "symptom": symptoms,
        },
        "near": {word: list(words) for word, words in near_words(found).items()},
        "unknown_in": [
            {"mill": name, "reason": reason} for name, _, _, reason in found[1] if reason
        ],
        "missing": missing_records(missing),
    }


def _records(found: Found) -> list[Record]:
    return [json.loads(text) for _, _, _, text in found[0]]


def _total(found: Found) -> int:
    return sum(count for _, _, count, _ in found[1])


def _with_neighbours(hit: Record) -> list[tuple[Record, Tone]]:
    return [
        *((each, Tone.FAINT) for each in hit.get("before", ())),
        (hit, Tone.STRONG),
        *((each, Tone.FAINT) for each in hit.get("after", ())),
    ]


def _words(record: Record) -> str:
    if not (record["when"] or record.get("written")):
        return str(record["text"]).strip()
    return behind(str(record["text"]), 1 if record["loom"] is None else 2)


def _mark(record: Record) -> str:
    return "" if record["standing"] == "counts" else str(record["standing"])


def _rows(record: Record, head: str, cells: int, tone: Tone) -> list[Line]:
    """When and in which mill; then where, who and what; then file and line, at the right."""
    head += f"{pad(clean(record['loom'] or '?'), 4)} {pad(clean(record['by'] or ''), 3)} "
    mark = f"  [{_mark(record)}]" if _mark(record) else ""
    where = clean(f"{record['path']}:{record['line']}")
    room = max(cells - width(head), 12)
    texts = wrapped(clean(f"{_words(record)}{mark}").split(" "), room, gap=" ") or [""]
    rows = []
    for i, text in enumerate(texts):
        start = Bit(head if i == 0 else " " * width(head), tone)
        rows.append([start, Bit(text, Tone.FAINT if tone is Tone.FAINT else Tone.PLAIN)])
    gap = cells - width(head) - width(texts[-1]) - width(where)
    if gap >= 2:
        rows[-1].append(Bit(f"{' ' * gap}{where}", Tone.FAINT))
    else:
        rows.append([Bit(f"{' ' * max(cells - width(where), 2)}{where}", Tone.FAINT)])
    return [line(*bits) for bits in rows]


def _when(record: Record, now: datetime, zone: ZoneInfo) -> str:
    when = record["when"] or record.get("written")
    return clock(datetime.fromisoformat(when), now, zone) if when else "time unread"


def _totals(found: Found, cells: int) -> list[Line]:
    mills: Counts = tuple((name, count) for name, _, count, _ in found[1] if count)
    rows = []
    names = ("by mill", "by loom", "by part", "by symptom")
    for name, counts in zip(names, (mills, *found[2]), strict=True):
        pieces = [f"{word} {count}" for word, count in counts[:_MOST_TOTALS]]
        if len(counts) > _MOST_TOTALS:
            pieces.append(f"and {len(counts) - _MOST_TOTALS} more")
        for i, text in enumerate(wrapped([clean(p) for p in pieces], cells - 12)):
            rows.append(line(Bit(pad(f"{name}: " if i == 0 else "", 12), Tone.STRONG), text))
    if rows:
        told = f"{counted(_total(found), 'hit')}; a hit counts for each that it names"
        rows.insert(0, title("TOTALS", told, cells))
    return rows


def _refusals(found: Found, cells: int) -> list[Line]:
    rows: list[Line] = []
    for name, _, _, reason in found[1]:
        if reason:
            rows += prose(clean(f"{name}: {reason}"), cells)
    return rows
