"""Locks that stood on a live board and stand in no log any more, though nobody took them off.

A log that is deleted or emptied, or a line that is cut out of one, takes its locks with it; whoever
locked the loom may still be in it.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from board.state.fleet import Fleet, Lock, MayIsolate
from board.state.later import recent
from grammar.folding import fold_word
from grammar.frozen import dataclass

TOLD_FOR = timedelta(hours=24)

_Key = tuple[str, str]  # of a lock: its loom and whose it is, folded


@dataclass(frozen=True, slots=True, kw_only=True)
class _Gone:
    lock: Lock
    since: datetime


class Vanished:
    """Compares each picture of a shed with the one before it."""

    def __init__(self) -> None:
        self._stood: dict[_Key, Lock] = {}
        self._gone: dict[_Key, _Gone] = {}

    def of(self, fleet: Fleet, now: datetime) -> tuple[MayIsolate, ...]:
        """The lines of the locks that are gone, by now (UTC) and for a day.

        None of a lock that is on record again, or was taken off on record, or whose line says
        another isolation now or may do so: then it was corrected.
        """
        stand = {(s.loom, fold_word(k.by)): k for s in fleet.looms.values() for k in s.locks}
        lost = {key: lock for key, lock in self._stood.items() if key not in stand}
        gone = self._gone | {key: _Gone(lock=lock, since=now) for key, lock in lost.items()}
        told = {(k.source.path, k.source.line) for k in stand.values()}
        told |= {(m.path, m.line) for m in fleet.may_isolate}
        self._gone = {
            key: each
            for key, each in gone.items()
            if key not in stand
            and (each.lock.source.path, each.lock.source.line) not in told
            and now - each.since < TOLD_FOR
            and not _was_taken_off(fleet, key, each.lock)
        }
        self._stood = stand
        return tuple(
            MayIsolate(
                path=each.lock.source.path,
                line=each.lock.source.line,
                text=each.lock.source.text,
                by=each.lock.by,
                when=each.lock.since,
                gone=each.since,
            )
            for each in self._gone.values()
        )


def _was_taken_off(fleet: Fleet, key: _Key, lock: Lock) -> bool:
    ended = recent(fleet.history.locks, lock.since)
    return any((x.loom, fold_word(x.owner)) == key and x.ended >= lock.since for x in ended)
