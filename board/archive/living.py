"""Part lives of many mills pooled: the same part is one, whatever mill it was worn in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from board.archive.asking import Archive
from board.archive.parts import Parts, parts_of
from board.archive.reading import rows_of
from board.archive.spreading import Lost, Spread
from board.reckon.life_record import LifeOnRecord, Verdict
from board.reckon.life_study import By, Comparison, LifeStudy, compared, study_of
from board.reckon.refusal import Refusal
from board.state.history import Ending, PartLife, Stay
from grammar.entries import PartAt

_COLUMNS = (
    "loom", "part", "side", "number", "fitted", "ended", "ending", "batch", "style", "verdict",
    "verdict_why",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Pooled:
    """The lives of all mills: each part's study, the comparisons, and which mills are in them."""

    unit: str
    studies: tuple[LifeStudy, ...]
    comparisons: tuple[Comparison, ...]
    lives: dict[str, int]  # on record in each mill
    unknown: tuple[tuple[str, str], ...]
    missing: Lost


def pooled_lives(
    where: Spread, archive: Archive, word: str | None, factors: Sequence[By], unit: str
) -> Pooled:
    """The lives of the parts asked for, of every mill. Raises CannotRun."""
    parts = parts_of(archive, word)
    age = f"age_{unit}"
    found = rows_of(where, archive, "lives", (*_COLUMNS, age, f"{age}_unknown"), parts.of)
    of_part: dict[str, list[LifeOnRecord]] = {name: [] for name in parts.names.values()}
    missing = tuple(sorted((*parts.missing, *found.missing)))
    lives = {name: 0 for name in parts.of if name not in dict(missing)}
    for row in found.rows:
        record = _record(row, parts)
        if record is not None and record.mill in lives:
            of_part[record.at.part].append(record)
            lives[record.mill] += 1
    return Pooled(
        unit=unit,
        studies=tuple(study_of(name, own, unit) for name, own in of_part.items()),
        comparisons=compared(of_part, factors, unit),
        lives=lives,
        unknown=parts.unknown,
        missing=missing,
    )


def _record(row: tuple[Any, ...], parts: Parts) -> LifeOnRecord | None:
    """A life as the reckoning takes it; None for one that the reckoning of its mill leaves out."""
    mill, loom, part, side, number, fitted, ended, ending, batch, style, verdict, why, *ages = row
    if verdict is None:
        return None
    age, unknown = ages
    return LifeOnRecord(
        life=PartLife(
            at=PartAt(part=parts.name(part), side=side, number=number),
            stays=(Stay(loom=loom, start=_moment(fitted), end=_moment(ended)),),
            fitted=_moment(fitted),
            ended=_moment(ended),
            ending=Ending(ending),
            batch=batch,
            style=style,
        ),
        age=Refusal(reason=unknown) if age is None else float(age),
        verdict=Verdict(verdict),
        why=why,
        mill=mill,
    )


def _moment(value: Any) -> datetime | None:
    return value if isinstance(value, datetime) else None
