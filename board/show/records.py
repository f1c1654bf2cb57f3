"""What the JSON documents share: a record, a moment and the name of a part in it."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from grammar.entries import PartAt

if TYPE_CHECKING:
    from board.reckon.summary import Summary

Record = dict[str, Any]


def iso(summary: Summary, when: datetime | None) -> str | None:
    """A moment as ISO 8601 with the shed's offset."""
    if when is None:
        return None
    return when.astimezone(summary.snapshot.mill.zone).isoformat(timespec="minutes")


def part_record(at: PartAt | None) -> Record:
    """A part's name, side and number."""
    return {
        "part": at.part if at else None,
        "side": at.side if at else None,
        "number": at.number if at else None,
    }
