"""What to look out for before and after a line is written: one line each, and each only once.

The register's caution of a part that is worked on, the usual ones of the trade where the line
belongs to them, and what the board will make of the line later.
"""

from __future__ import annotations

from board.judging import Judged
from board.show.moments import clock
from board.state.fleet import Isolation
from grammar import entries as e

HANDS_OUT = "isolate and lock before hands go in"
GLOVES = "thread-locker can sensitise skin: gloves"
RECORD_ONLY = "a record, not a permit: prove dead at the machine"


def cautions(judged: Judged) -> tuple[str, ...]:
    """The cautions of a line, in the order in which they matter."""
    entry = judged.draft.entry
    found: list[str] = []
    if entry is not None:
        found += _of_isolation(judged, entry)
        found += _of_parts(judged, entry)
        if any(isinstance(c, e.ThreadLocked) for c in entry.clauses):
            found.append(GLOVES)
    return tuple(dict.fromkeys(found))


def remarks(judged: Judged) -> tuple[str, ...]:
    """What is to be known of how the line is filed."""
    found = [judged.draft.said] if judged.draft.said else []
    sealed = judged.sealed_by
    if sealed is not None and sealed.taken is not None:
        when = clock(sealed.taken, judged.now, judged.mill.zone)
        shift = judged.draft.shift
        found.append(
            f"the {shift.name} of {shift.day} was taken over by {sealed.taken_by} at {when}: the"
            " line will show as written after the handover"
        )
    return tuple(found)


def _of_isolation(judged: Judged, entry: e.Entry) -> list[str]:
    if entry.place.kind is not e.PlaceKind.LOOM:
        return []
    if any(isinstance(c, e.Isolated | e.LockRemoved) for c in entry.clauses):
        return [RECORD_ONLY]
    loom = entry.place.name
    worked = any(isinstance(c, e.Worked | e.Moved) for c in entry.clauses)
    bare = judged.then.looms[loom].isolation is Isolation.NONE_RECORDED
    return [f"no isolation of {loom} on record: {HANDS_OUT}"] if worked and bare else []


def _of_parts(judged: Judged, entry: e.Entry) -> list[str]:
    parts = [c.at.part for c in entry.clauses if isinstance(c, e.Worked | e.Moved)]
    texts = ((part, judged.mill.part[part].caution) for part in dict.fromkeys(parts))
    return [f"{part}: {' '.join(text.split())}" for part, text in texts if text]
