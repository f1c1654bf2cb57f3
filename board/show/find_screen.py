"""What was found, for people, for a pipe and as JSON.

In a terminal each hit with its file and line and what it says, wrapped and never cut; in a pipe one
hit a line, as tools that search text write it: ``path:line:`` for a hit, ``path-line-`` for what
stands around it.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from board.search import Answer, Hit
from board.searched import Found, Standing
from board.show.lines import Bit, Line, Tone, line, title
from board.show.moments import clock, counted
from board.show.records import Record
from board.show.text import clean, pad, width, wrapped

_MOST_TOTALS = 12


def found_lines(answer: Answer, cells: int, zone: ZoneInfo, now: datetime, most: int) -> list[Line]:
    """The newest ``most`` hits (0: all) in time order, then how they are spread."""
    hits = answer.hits[-most:] if most > 0 else answer.hits
    total = len(answer.hits)
    right = "oldest first"
    if len(hits) < total:
        right = f"the newest {len(hits)}, oldest first; --most 0 shows all"
    rows = [title(f"FOUND {total}", right, cells)]
    for i, hit in enumerate(hits):
        if i and (hit.before or hit.after or hits[i - 1].after):
            rows.append(line(Bit("-" * min(cells, 24), Tone.FAINT)))
        rows += [row for f in hit.before for row in _rows(f, cells, zone, now, Tone.FAINT)]
        rows += _rows(hit.found, cells, zone, now, Tone.STRONG)
        rows += [row for f in hit.after for row in _rows(f, cells, zone, now, Tone.FAINT)]
    rows += _totals(answer, cells)
    return rows


def piped_lines(answer: Answer, zone: ZoneInfo, most: int) -> list[Line]:
    """One hit a line, to be searched again by other tools."""
    hits = answer.hits[-most:] if most > 0 else answer.hits
    rows = []
    for i, hit in enumerate(hits):
        if i and (hit.before or hit.after):
            rows.append(line("--"))
        rows += [line(_piped(f, "-", zone)) for f in hit.before]
        rows.append(line(_piped(hit.found, ":", zone)))
        rows += [line(_piped(f, "-", zone)) for f in hit.after]
    return rows


def nothing_found(answer: Answer, asked: str) -> str:
    """One sentence for no hit, with near spellings where there are some."""
    near = [f"{word}: did you mean {' or '.join(words)}?" for word, words in answer.near.items()]
    hint = f"; {'; '.join(near)}" if near else ""
    return f"nothing found for {asked}{hint}"


def find_document(answer: Answer, zone: ZoneInfo, most: int) -> Record:
    """The hits as one JSON document."""
    hits = answer.hits[-most:] if most > 0 else answer.hits
    return {
        "hits": [_hit_record(hit, zone) for hit in hits],
        "total": len(answer.hits),
        "totals": {
            "loom": dict(answer.totals.looms),
            "part": dict(answer.totals.parts),
            "symptom": dict(answer.totals.symptoms),
        },
        "near": {word: list(words) for word, words in answer.near.items()},
    }


# -- a terminal ----------------------------------------------------------------------------


def _rows(found: Found, cells: int, zone: ZoneInfo, now: datetime, tone: Tone) -> list[Line]:
    """When, where, who and what; then file and line, at the right where there is room."""
    own = found.when or found.written
    when = clock(own, now, zone) if own else _about(found, now, zone)
    head = f"{pad(when, 12)} {pad(found.loom or '?', 4)} {pad(found.by or '', 3)} "
    mark = f"  [{_mark(found)}]" if _mark(found) else ""
    where = f"{found.path}:{found.line}"
    room = cells - width(clean(head))
    texts = wrapped(clean(f"{found.words}{mark}").split(" "), max(room, 12), gap=" ") or [""]
    rows = []
    for i, text in enumerate(texts):
        start = Bit(head if i == 0 else " " * width(clean(head)), tone)
        rows.append([start, Bit(text, Tone.FAINT if tone is Tone.FAINT else Tone.PLAIN)])
    used = width(clean(head)) + width(texts[-1])
    gap = cells - used - width(clean(where))
    if gap >= 2:
        rows[-1].append(Bit(f"{' ' * gap}{where}", Tone.FAINT))
    else:
        rows.append([Bit(f"{' ' * max(cells - width(clean(where)), 2)}{where}", Tone.FAINT)])
    return [line(*bits).fitted(cells) for bits in rows]


def _about(found: Found, now: datetime, zone: ZoneInfo) -> str:
    return f"~{clock(found.near, now, zone)}" if found.near else "time unread"


def _mark(found: Found) -> str:
    if found.struck_by is not None:
        return f"struck by line {found.struck_by.line}"
    return found.standing.value


def _totals(answer: Answer, cells: int) -> list[Line]:
    rows = []
    for name, counts in (
        ("by loom", answer.totals.looms),
        ("by part", answer.totals.parts),
        ("by symptom", answer.totals.symptoms),
    ):
        if not counts:
            continue
        pieces = [f"{word} {count}" for word, count in counts[:_MOST_TOTALS]]
        left = len(counts) - len(pieces)
        if left:
            pieces.append(f"and {left} more")
        head = f"{name}: "
        for i, text in enumerate(wrapped([clean(p) for p in pieces], cells - 12)):
            rows.append(line(Bit(pad(head if i == 0 else "", 12), Tone.STRONG), text))
    if rows:
        told = f"{counted(len(answer.hits), 'hit')}; a hit counts for each that it names"
        rows.insert(0, title("TOTALS", told, cells))
    return rows


# -- a pipe --------------------------------------------------------------------------------


_FORMULA = ("=", "+", "-", "@")


def _piped(found: Found, sign: str, zone: ZoneInfo) -> str:
    when = _iso(found.when or found.written, zone) or "?"
    mark = f" [{_mark(found)}]" if _mark(found) else ""
    words = " ".join(found.words.split())
    # a log may be named like a formula: to a spreadsheet the line must be a text
    path = f"./{found.path}" if found.path.startswith(_FORMULA) else found.path
    return (
        f"{path}{sign}{found.line}{sign} {when} {found.loom or '?'} {found.by or '?'} {words}{mark}"
    )


# -- JSON ----------------------------------------------------------------------------------


def _hit_record(hit: Hit, zone: ZoneInfo) -> Record:
    record = _record(hit.found, zone)
    if hit.before or hit.after:
        record["before"] = _records(hit.before, zone)
        record["after"] = _records(hit.after, zone)
    return record


def _records(lines: Sequence[Found], zone: ZoneInfo) -> list[Record]:
    return [_record(found, zone) for found in lines]


def _record(found: Found, zone: ZoneInfo) -> Record:
    record: Record = {
        "path": found.path,
        "line": found.line,
        "when": _iso(found.when, zone),
        "loom": found.loom,
        "by": found.by,
        "text": found.text,
        "kinds": list(found.kinds),
        "struck": found.standing is Standing.STRUCK,
        "standing": found.standing.value or "counts",
        "shift": f"{found.shift.day} {found.shift.name}" if found.shift else None,
    }
    if found.when is None:
        record["reason"] = "the line was not understood"
        record["written"] = _iso(found.written, zone)
    return record


def _iso(moment: datetime | None, zone: ZoneInfo) -> str | None:
    return moment.astimezone(zone).isoformat(timespec="minutes") if moment is not None else None
