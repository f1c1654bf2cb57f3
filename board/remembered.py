"""What is costly to reckon and seldom changes, kept in the cache folder between runs.

Only derived numbers, keyed by everything they were derived from: the folder may be deleted at any
time, and a damaged file is reckoned anew.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path

from board.mill import Mill
from board.reckon.audit import DatedLife
from board.reckon.past_forecasts import SEED, GroupAudit, Held, audits, held
from board.reckon.refusal import Refusal
from board.reckon.series import Life
from board.reckon.series import Quantity as Wearing
from board.reckon.study_record import as_record, digest, from_record
from board.reckon.wear import Study, study
from board.reckon.wear_record import Group, wearing
from board.record.cache_folder import default_cache_folder

_VERSION = 2  # of the forecast's method; another one reckons anew
MOST_STUDIES = 200  # in the folder: the older ones are thrown away
MOST_LIVES = 1500  # more take long: the board then waits for somebody to ask for the audit


def held_so_far(
    past: Mapping[Group, Sequence[DatedLife]], mill: Mill, environ: Mapping[str, str]
) -> Held | None:
    """How past forecasts turned out; None where nothing can be judged or it would take long."""
    total = sum(map(len, past.values()))
    if total == 0:
        return None
    file = _file(past, mill, environ)
    kept = _read(file)
    if kept is None:
        if total > MOST_LIVES:
            return None
        kept = remember(audits(past, mill), past, mill, environ)
    return kept if kept.judged else None


def remember(
    found: Sequence[GroupAudit],
    past: Mapping[Group, Sequence[DatedLife]],
    mill: Mill,
    environ: Mapping[str, str],
) -> Held:
    """Keep the counts of the audit of all groups, which was found of these past lives."""
    counts = held(found)
    file = _file(past, mill, environ)
    if file is not None:
        with suppress(OSError):  # nothing is lost but time
            file.write_text(json.dumps(asdict(counts)), encoding="utf-8")
    return counts


def _file(
    past: Mapping[Group, Sequence[DatedLife]], mill: Mill, environ: Mapping[str, str]
) -> Path | None:
    folder = default_cache_folder(environ)
    if folder is None:
        return None
    digest = hashlib.sha256(repr((_VERSION, SEED)).encode())
    for group in sorted(past, key=repr):
        quantity = mill.quantity(group.part, group.quantity)
        digest.update(repr((group, wearing(quantity) if quantity else ())).encode())
        for dated in past[group]:
            series = dated.life.series
            for name in ("use", "value", "kind", "level", "step"):
                digest.update(getattr(series, name).tobytes())
            digest.update(dated.read_at.tobytes())
            digest.update(repr((dated.life.ended, dated.ended_at, series.origin)).encode())
    return folder / f"held-{digest.hexdigest()[:24]}.json"


def _read(file: Path | None) -> Held | None:
    if file is None:
        return None
    try:
        found = json.loads(file.read_text(encoding="utf-8"))
        return Held(**{key: int(found[key]) for key in Held.__slots__})
    except (OSError, ValueError, KeyError, TypeError):
        return None


class Studies:
    """What past lives teach, asked again and again: learned once, and kept in the cache folder."""

    def __init__(self, environ: Mapping[str, str]) -> None:
        self._folder = default_cache_folder(environ)
        self._known: dict[str, Study | Refusal] = {}

    def __call__(self, lives: Sequence[Life], quantity: Wearing) -> Study | Refusal:
        """What `board.reckon.wear.study` makes of past lives."""
        key = digest(lives, quantity)
        found = self._known.get(key)
        if found is None:
            found = self._read(key, quantity)
            if found is None:
                found = study(lives, quantity)
                self._write(key, found)
            while len(self._known) >= MOST_STUDIES:
                del self._known[next(iter(self._known))]
            self._known[key] = found
        return found

    def _read(self, key: str, quantity: Wearing) -> Study | Refusal | None:
        if self._folder is None:
            return None
        try:
            text = (self._folder / f"study-{key[:24]}.json").read_text(encoding="utf-8")
            return from_record(json.loads(text), quantity)
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def _write(self, key: str, known: Study | Refusal) -> None:
        if self._folder is None:
            return
        with suppress(OSError):  # nothing is lost but time
            text = json.dumps(as_record(known))
            (self._folder / f"study-{key[:24]}.json").write_text(text, encoding="utf-8")
            kept = sorted(self._folder.glob("study-*.json"), key=lambda f: f.stat().st_mtime)
            for old in kept[:-MOST_STUDIES]:
                old.unlink(missing_ok=True)
