"""Locks that stood when a shed was looked at last and stand in no log any more.

A log that is deleted or emptied, or a line that is cut out of one, takes its locks with it, though
nobody took them off: whoever locked the loom may still be in it. What stood is kept in the cache
folder, so that whoever looks next asks for it, be it by another program.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from board.record.cache_folder import default_cache_folder
from board.state.fleet import Fleet, MayIsolate
from board.state.later import recent
from grammar.diagnostics import Code
from grammar.folding import fold_word
from grammar.frozen import dataclass

TOLD_FOR = timedelta(hours=24)

_Key = tuple[str, str]  # of a lock: its loom and whose it is, folded


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stood:
    """A lock as it was on record, and where its line stood."""

    loom: str
    by: str
    since: datetime
    path: str
    line: int
    text: str
    gone: datetime | None = None  # when it was first missed
    refused: int = 0  # removals of it that had found no lock by then


def file_of(folder: Path, environ: Mapping[str, str]) -> Path | None:
    """Where the locks of a log folder are kept; None where nothing can be kept."""
    kept = default_cache_folder(environ)
    if kept is None:
        return None
    real = os.path.realpath(folder)  # however it is named: all who look must miss the same locks
    mark = hashlib.sha256(real.encode("utf-8", "surrogateescape")).hexdigest()
    return kept / f"locks-{mark[:20]}.json"


class Vanished:
    """Compares each picture of a shed with the one before it, in memory or by a ``file``."""

    def __init__(self, file: Path | None = None) -> None:
        self._file = file
        self._known: tuple[_Stood, ...] = ()

    def of(self, fleet: Fleet, now: datetime) -> tuple[MayIsolate, ...]:
        """The lines of the locks that are gone, by now (UTC) and for a day.

        None of a lock that is on record again or was taken off, on record or by a removal that
        found no lock any more, or whose line was put right: it tells the same time, and another
        loom or another person. While it only may do so that line is asked for, and not this one.
        """
        before = {(each.loom, fold_word(each.by)): each for each in self._read()}
        stand = _standing(fleet)
        new = [lock for key, lock in stand.items() if key not in before]
        missed = [
            _missed(fleet, lock, now)
            for key, lock in before.items()
            if key not in stand
            and not _is_over(fleet, lock, now)
            and not any(_corrects(each, lock) for each in new)
        ]
        asked = [lock for lock in missed if any(_may_correct(m, lock) for m in fleet.may_isolate)]
        gone = [lock for lock in missed if lock not in asked]
        self._keep((*stand.values(), *gone, *(replace(lock, gone=None) for lock in asked)))
        return tuple(
            MayIsolate(
                path=lock.path,
                line=lock.line,
                text=lock.text,
                by=lock.by,
                when=lock.since,
                gone=lock.gone,
            )
            for lock in gone
        )

    def _read(self) -> tuple[_Stood, ...]:
        if self._file is not None:
            with suppress(OSError, ValueError, KeyError, TypeError):
                found = json.loads(self._file.read_text(encoding="utf-8"))
                self._known = tuple(map(_from_record, found))
        return self._known

    def _keep(self, known: tuple[_Stood, ...]) -> None:
        if known == self._known:
            return
        self._known = known
        if self._file is None:
            return
        beside = self._file.with_name(f".{self._file.name}.{os.getpid()}.tmp")
        with suppress(OSError):  # then whoever looks next knows what stood before
            beside.write_text(json.dumps([_as_record(each) for each in known]), encoding="utf-8")
            beside.replace(self._file)


def _standing(fleet: Fleet) -> dict[_Key, _Stood]:
    return {
        (state.loom, fold_word(lock.by)): _Stood(
            loom=state.loom,
            by=lock.by,
            since=lock.since,
            path=lock.source.path,
            line=lock.source.line,
            text=lock.source.text,
        )
        for state in fleet.looms.values()
        for lock in state.locks
    }


def _missed(fleet: Fleet, lock: _Stood, now: datetime) -> _Stood:
    if lock.gone is not None:
        return lock
    return replace(lock, gone=now, refused=_refused(fleet, lock))


def _is_over(fleet: Fleet, lock: _Stood, now: datetime) -> bool:
    """Whether a lock that does not stand was taken off, or has been told for long enough."""
    if lock.gone is not None and (
        now - lock.gone >= TOLD_FOR or _refused(fleet, lock) > lock.refused
    ):
        return True
    key = lock.loom, fold_word(lock.by)
    ended = recent(fleet.history.locks, lock.since)
    return any((x.loom, fold_word(x.owner)) == key and x.ended >= lock.since for x in ended)


def _refused(fleet: Fleet, lock: _Stood) -> int:
    """How many removals of a lock found none on record."""
    told = fold_word(f"no lock of {lock.by} is on record on {lock.loom}")
    found = (c.diagnostic for c in fleet.complaints if c.diagnostic.code is Code.NO_LOCK)
    return sum(fold_word(d.message) == told for d in found)


def _corrects(new: _Stood, lock: _Stood) -> bool:
    """Whether a new lock is that of a line in which the loom, or whose lock it is, was put right.

    Its place proves nothing: what stood below a line that was cut out has moved up.
    """
    alike = new.loom == lock.loom or fold_word(new.by) == fold_word(lock.by)
    return alike and new.since == lock.since


def _may_correct(asked: MayIsolate, lock: _Stood) -> bool:
    """Whether a line that is asked about is that of a lock, with a slip in it."""
    before, now = (fold_word(text).split() for text in (lock.text, asked.text))
    return before[:1] == now[:1] and bool({fold_word(lock.loom), fold_word(lock.by)} & {*now})


def _as_record(lock: _Stood) -> dict[str, Any]:
    gone = lock.gone.isoformat() if lock.gone is not None else None
    return {**asdict(lock), "since": lock.since.isoformat(), "gone": gone}


def _from_record(record: dict[str, Any]) -> _Stood:
    gone = record["gone"]
    return _Stood(
        loom=str(record["loom"]),
        by=str(record["by"]),
        since=_moment(record["since"]),
        path=str(record["path"]),
        line=int(record["line"]),
        text=str(record["text"]),
        gone=_moment(gone) if gone is not None else None,
        refused=int(record["refused"]),
    )


def _moment(written: str) -> datetime:
    """A moment with its offset. Raises ValueError for one without."""
    moment = datetime.fromisoformat(written)
    if moment.tzinfo is None:
        raise ValueError(written)
    return moment
