"""Moves that the two halves of the example's story share.

Reserving looms, jobs in one line, parts that change looms, wear that must come out at a given
minute. What is told is left to `weeks` and `lastnight`.
"""

from __future__ import annotations

from .diary import HOUR, at
from .jobs import job
from .planted import PLANTED
from .prose import STYLES
from .wear import Place
from .world import Loom, Process, World


def reserve(w: World, loom: str, since: str, until: str) -> None:
    """Keep chance away from a loom between two local times."""
    w.looms[loom].reserved.append((at(since), at(until)))


def planted_at(when: str) -> str:
    """What the line planted at that local time says after its time."""
    return next(p.line for p in PLANTED if p.at == when)


def swap(w: World, one: Loom, other: Loom, label: str) -> None:
    """Let the parts of a place change looms, wear and all."""
    one.advance(w.now)
    other.advance(w.now)
    first, second = one.places[label], other.places[label]
    first.wears, second.wears = second.wears, first.wears
    first.empty, second.empty = second.empty, first.empty
    first.fitted = second.fitted = -1


def renew(w: World, loom: Loom, label: str, *, why: str = "") -> Process:
    """Replace a part with all its proofs in one entry."""
    yield from w.pause(loom.name)
    work, proofs = job(w, loom, f"replaced {label}{why}", loom.places[label])
    loom.wanted.pop(label, None)
    w.write(loom, *work, *proofs)


def fault(w: World, loom: Loom, text: str) -> Process:
    """Stop a loom for a fault."""
    yield from w.say(loom, "stopped for fault", f"fault {text}")


def answer(w: World, loom: Loom, work: str, place: Place, result: str) -> Process:
    """Do one job on a fault and start the loom again."""
    yield from w.pause(loom.name)
    clauses, proofs = job(w, loom, work, place)
    w.write(loom, *clauses, *proofs, f"fault cleared {result}", "running")


def open_action(w: World, loom: Loom, text: str, *more: str) -> int:
    """Open a numbered action on a loom at this minute and give its number."""
    w.number += 1
    w.write(loom, f"open no {w.number} {text}", *more)
    return w.number


def prescribe(w: World, loom: Loom, label: str, name: str, *, used: float, by: int) -> Process:
    """Let a new part be worn by a share of its way from new to limit at a minute.

    Its life is set anew twice a day from what it has worn so far and the hours to come, of which
    the loom is taken to run 94 % in its present style.
    """
    place = loom.places[label]
    place.held = True
    wear = place.wears[name]
    while w.now < by:
        loom.advance(w.now)
        to_come = (by - w.now) / HOUR * 0.94 * loom.efficiency * STYLES[loom.style]
        wear.life = (wear.worn + to_come) / used ** (1 / wear.shape)
        yield 12 * HOUR


def seen(w: World, loom: Loom, label: str, name: str, low: float, high: float) -> str:
    """A reading of a prescribed part as a clause, held within the range that the story tells of."""
    loom.advance(w.now)
    wear = loom.places[label].wears[name]
    q = wear.quantity
    shown = min(max(wear.read(w.rng), low), high)
    if wear.worst is not None and q.sense * (shown - wear.worst) < -0.5 * q.tool:
        shown = wear.worst
    wear.saw(shown)
    return f"{label} {name} {shown:.{q.places}f} {q.unit}"
