"""An archive on a screen and as JSON: what was brought up to date, and which mills are missing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from board.archive.catalogue import MillKept
from board.show.cautions import RECORD_ONLY
from board.show.lines import Bit, Line, Tone, line, title
from board.show.moments import counted
from board.show.prose import prose
from board.show.records import Record
from board.show.text import clean, fill

Missing = Sequence[tuple[str, str]]  # mills and why they gave no answer


def archive_lines(
    out: Path, mills: Sequence[MillKept], missing: Missing, written: int, cells: int
) -> list[Line]:
    """Every mill of an archive with how much is on record, and how much was written anew."""
    rows = [title(f"ARCHIVE {counted(len(mills), 'mill')}", str(out), cells)]
    wide = widest(mill.name for mill in mills)
    for mill in mills:
        size = sum(p.bytes for p in mill.partitions)
        years = sorted({p.year for p in mill.partitions if p.year})
        span = f"{years[0]} to {years[-1]}" if years else "no year"
        text = (
            f"{mill.entries:,} entries of {span},"
            f" {counted(len(mill.partitions), 'partition')}, {size / 1e6:.1f} MB,"
            f" as of {moment(mill.as_of, mill.zone)}"
        )
        head = f"{fill(clean(mill.name), wide)}  "
        for i, row in enumerate(prose(text, cells - len(head))):
            start = head if i == 0 else " " * len(head)
            rows.append(line(Bit(start, Tone.STRONG), row.plain))
        for notice in mill.notices:
            rows += prose(clean(notice), cells, " " * len(head))
    rows += missing_lines(missing, cells)
    rows.append(line(f"{counted(written, 'partition')} written, the others stand as they were"))
    return [row.fitted(cells) for row in rows]


def archive_document(
    out: Path, mills: Sequence[MillKept], missing: Missing, written: int
) -> Record:
    """The same as JSON."""
    return {
        "archive": str(out),
        "mills": [
            {
                "mill": mill.name,
                "folder": mill.folder,
                "shed": mill.shed,
                "as_of": moment(mill.as_of, mill.zone, iso=True),
                "entries": mill.entries,
                "lines": mill.lines,
                "refused": mill.refused,
                "not_read": list(mill.notices),
                "partitions": [
                    {
                        "table": p.table,
                        "year": p.year,
                        "rows": p.rows,
                        "bytes": p.bytes,
                        "first": p.first,
                        "last": p.last,
                        "digest": p.digest,
                    }
                    for p in mill.partitions
                ],
            }
            for mill in mills
        ],
        "missing": missing_records(missing),
        "written": written,
    }


def moment(as_of: str, zone: str, *, iso: bool = False) -> str:
    """A moment that is kept in UTC, by a mill's own clock."""
    local = datetime.fromisoformat(as_of).astimezone(ZoneInfo(zone))
    return local.isoformat(timespec="minutes") if iso else f"{local:%Y-%m-%d %H:%M}"


def missing_lines(missing: Missing, cells: int) -> list[Line]:
    """Which mills gave no answer: nothing of them is in what stands above or below."""
    rows: list[Line] = []
    for name, reason in missing:
        text = f"MISSING {clean(name)}: {clean(reason)}"
        rows += [line(Bit(row.plain, Tone.ABNORMAL)) for row in prose(text, cells)]
    return rows


def missing_records(missing: Missing) -> list[Record]:
    """The same as JSON."""
    return [{"mill": name, "reason": reason} for name, reason in missing]


def caution_lines(cells: int) -> list[Line]:
    """What an answer from an archive is not."""
    return [line(Bit(row.plain, Tone.FAINT)) for row in prose(RECORD_ONLY, cells)]


def widest(names: Iterable[str]) -> int:
    """The cells of the longest name, which is of ASCII."""
    return max(map(len, names), default=0)
