"""Past forecasts of many mills pooled: how they turned out by part, side and quantity, by mill."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from board.archive.asking import Archive
from board.archive.columns import FORECASTS
from board.archive.parts import parts_of
from board.archive.reading import rows_of
from board.archive.spreading import Lost, Spread
from board.reckon.audit import Audit, Outcome, Scored, audit_of
from board.reckon.ended import Group
from board.reckon.past_forecasts import SEED, GroupAudit, Held, held
from board.reckon.refusal import Refusal
from board.reckon.series import Toward
from grammar.folding import fold_word

_COLUMNS = (
    "part", "side", "quantity", "toward", "limit", "place", "outcome", "readings", "left", "error",
    "ignoring", "own_line",
)  # fmt: skip
_TOWARD = (Toward.DOWN.value, Toward.UP.value)  # as one mill tells them, too
_UNKNOWN = Refusal(reason="not known")


@dataclass(frozen=True, slots=True, kw_only=True)
class PooledGroup:
    """One part, side and quantity worn toward one side, over all mills, and in each of them.

    ``limits`` are those of the mills' registers, which may differ.
    """

    group: Group
    limits: tuple[float, ...]
    audit: Audit
    mills: dict[str, Held]


@dataclass(frozen=True, slots=True, kw_only=True)
class PooledAudit:
    """The past forecasts of all mills."""

    groups: tuple[PooledGroup, ...]
    all: Held
    mills: dict[str, Held]
    unknown: tuple[tuple[str, str], ...]
    missing: Lost


def pooled_audit(where: Spread, archive: Archive, word: str | None) -> PooledAudit:
    """How the past forecasts of the parts asked for turned out. Raises CannotRun."""
    parts = parts_of(archive, word)
    found = rows_of(where, archive, FORECASTS, _COLUMNS, parts.of)
    order = {name: i for i, name in enumerate(parts.names.values())}
    names: dict[tuple[str, str, str], Group] = {}
    rows: dict[tuple[int, str, str, int], list[tuple[Any, ...]]] = defaultdict(list)
    missing = tuple(sorted((*parts.missing, *found.missing)))
    for row in found.rows:
        if row[0] in dict(missing):
            continue
        part, side, quantity = (str(v) if v is not None else "" for v in row[1:4])
        name = parts.name(part)
        alike = name, fold_word(side), fold_word(quantity)
        names.setdefault(alike, Group(part=name, side=side or None, quantity=quantity))
        rows[order[name], alike[1], alike[2], _TOWARD.index(row[4])].append(row)
    by_order = {(order[p], s, q): group for (p, s, q), group in names.items()}
    groups = tuple(_pooled(by_order[key[:3]], own) for key, own in sorted(rows.items()))
    every = [one for own in rows.values() for one in own]
    return PooledAudit(
        groups=groups,
        all=held(tuple(_alone(one.group, one.audit) for one in groups)),
        mills={
            name: _held([row for row in every if row[0] == name])
            for name in parts.of
            if name not in dict(missing)
        },
        unknown=parts.unknown,
        missing=missing,
    )


def _pooled(group: Group, rows: list[tuple[Any, ...]]) -> PooledGroup:
    return PooledGroup(
        group=group,
        limits=tuple(sorted({float(row[5]) for row in rows})),
        audit=audit_of(tuple(map(_scored, rows)), SEED),
        mills={
            name: _held([row for row in rows if row[0] == name])
            for name in sorted({str(row[0]) for row in rows})
        },
    )


def _held(rows: list[tuple[Any, ...]]) -> Held:
    return held((_alone(_NO_GROUP, audit_of(tuple(map(_scored, rows)), SEED)),))


_NO_GROUP = Group(part="", side=None, quantity="")


def _alone(group: Group, audit: Audit) -> GroupAudit:
    return GroupAudit(group=group, limit=math.nan, audit=audit, lives=len(audit.lives))


def _scored(row: tuple[Any, ...]) -> Scored:
    outcome, readings, left, error, ignoring, own_line = row[7:]
    return Scored(
        outcome=Outcome(outcome),
        readings=int(readings),
        left=_number(left),
        error=_number(error),
        ignoring=_number(ignoring),
        own_line=_number(own_line),
    )


def _number(value: Any) -> float | Refusal:
    return _UNKNOWN if value is None else float(value)
