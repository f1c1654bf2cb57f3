"""Part lives and past forecasts of many mills: on a screen and as JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from zoneinfo import ZoneInfo

from board.archive.asking import Archive
from board.archive.auditing import PooledAudit, PooledGroup
from board.archive.living import Pooled
from board.reckon.past_forecasts import Held
from board.reckon.wear import LEVEL
from board.show.archive_screen import (
    Missing,
    caution_lines,
    missing_lines,
    missing_records,
    widest,
)
from board.show.lines import Bit, Line, Tone, line, title
from board.show.lives_compared import compared_lines
from board.show.lives_json import lives_records
from board.show.lives_screen import lives_lines, lives_words
from board.show.moments import counted
from board.show.prose import prose
from board.show.records import Record
from board.show.text import clean, fill, wrapped
from board.show.wear_screen import audited_lines, audited_record


def archive_lives_lines(found: Pooled, cells: int) -> list[Line]:
    """The mills and how many lives each has; then the pooled lives as of one mill."""
    pieces = [f"{name} {lives_words(count)}" for name, count in found.lives.items()]
    rows = [title(f"POOLED OVER {counted(len(found.lives), 'mill')}", "", cells)]
    rows += [line(text) for text in wrapped(pieces, cells)]
    rows += lives_lines(found.studies, found.comparisons, found.unit, cells)
    rows += compared_lines(found.comparisons, cells)
    return _ended(rows, found.unknown, found.missing, cells)


def archive_lives_document(found: Pooled, archive: Archive) -> Record:
    """The same as JSON."""
    return {
        "archive": str(archive.out),
        "mills": [
            {"mill": name, "as_of": as_of, "lives": found.lives[name]}
            for name, as_of in moments_of(archive).items()
            if name in found.lives
        ],
        **lives_records(found.studies, found.comparisons, found.unit),
        "unknown_in": missing_records(found.unknown),
        "missing": missing_records(found.missing),
    }


def archive_audit_lines(found: PooledAudit, cells: int) -> list[Line]:
    """How often the bands held: of each part over all mills, then of each mill."""
    head = f"PAST FORECASTS of {counted(len(found.mills), 'mill')}"
    rows = [title(head, "each from the lines before its time only, one a life", cells)]
    text = (
        "held: the limit passed inside the 90 % band. error: of the median, in % of what was left;"
        " ignoring: the fleet's median life less the age; own line: through its own readings."
        " Each forecast was made from its own mill's lives."
    )
    rows += prose(text, cells)
    for one in found.groups:
        limits = " or ".join(f"{limit:g}" for limit in one.limits)
        rows += audited_lines(f"{one.group.words()} to {limits}", one.audit)
        if len(one.mills) > 1:
            rows += _by_mill(one.mills, cells)
    rows.append(title("BY MILL", "", cells))
    rows += _by_mill(found.mills, cells)
    rows.append(line(Bit(f"all: {found.all.sentence}", Tone.STRONG)))
    return _ended(rows, found.unknown, found.missing, cells)


def _by_mill(mills: Mapping[str, Held], cells: int) -> list[Line]:
    wide = widest(mills)
    return [line(f"    {fill(name, wide)}  {each.sentence}") for name, each in mills.items()]


def archive_audit_document(found: PooledAudit, archive: Archive) -> Record:
    """The same as JSON."""
    moments = moments_of(archive)
    return {
        "archive": str(archive.out),
        "level": LEVEL,
        "groups": [_group(one) for one in found.groups],
        "mills": [
            {"mill": name, "as_of": moments[name], **_held(each)}
            for name, each in found.mills.items()
        ],
        **_held(found.all),
        "unknown_in": missing_records(found.unknown),
        "missing": missing_records(found.missing),
    }


def _group(one: PooledGroup) -> Record:
    return {
        "part": one.group.part,
        "side": one.group.side,
        "quantity": one.group.quantity,
        "limits": list(one.limits),
        "lives": len(one.audit.lives),
        **audited_record(one.audit),
        "mills": [{"mill": name, **_held(each)} for name, each in one.mills.items()],
    }


def _held(each: Held) -> Record:
    return {
        "judged": each.judged,
        "held": each.held,
        "replaced_before_judgement": each.replaced_early,
    }


def moments_of(archive: Archive) -> dict[str, str]:
    """The moment that each mill is looked at, by its own clock, ISO 8601."""
    return {
        mill.name: at.astimezone(ZoneInfo(mill.zone)).isoformat(timespec="minutes")
        for mill, at in zip(archive.mills, archive.moments, strict=True)
    }


def _ended(rows: Sequence[Line], unknown: Missing, missing: Missing, cells: int) -> list[Line]:
    told: list[Line] = []
    for name, reason in unknown:
        told += prose(clean(f"{name}: {reason}"), cells)
    every = (*rows, *told, *missing_lines(missing, cells), *caution_lines(cells))
    return [row.fitted(cells) for row in every]
