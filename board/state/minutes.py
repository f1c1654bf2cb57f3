"""Two files that speak of one loom in one minute: which order is taken, and whether it matters.

The lines of one file keep their order. Of the orders of files the one is taken that leaves the
loom isolated, then stopped; so the state never depends on the order of saves.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import permutations

from board.state.fleet import LoomState, Motion
from board.state.happening import Happening, Stepped
from board.state.history import PartLife
from grammar import entries as e
from grammar.diagnostics import CATALOGUE, Code, Diagnostic, Severity
from grammar.folding import fold_word
from grammar.frozen import dataclass

Block = list[Happening]  # what one file says of one loom in one minute
Trial = Callable[[Sequence[Happening]], list[Stepped]]

_TRIED_WHOLE = 4  # files up to which every order is tried

# Clauses that change no state, and so mind no order.
_TELLING = (e.Note, e.Struck, e.HandedOver, e.TakenOver)


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """The order that is taken, and the complaint if another would have ended otherwise."""

    happenings: list[Happening]
    complaint: Diagnostic | None = None


def order_taken(loom: str, blocks: list[Block], trial: Trial) -> Taken:
    """The order of several files' lines of a loom in one minute.

    ``trial`` tells how the loom would step through an order; nothing is changed by asking it.
    """
    blocks = sorted(blocks, key=_as_written)
    acting = [b for b in blocks if not all(isinstance(h.clause, _TELLING) for h in b)]
    if len(acting) < 2:
        return Taken(happenings=[h for block in blocks for h in block])
    tried = []
    for order in _orders(blocks):
        happenings = [h for block in order for h in block]
        tried.append((_Outcome.of(trial(happenings)), happenings))
    best, chosen = min(tried, key=lambda t: t[0].preference)  # the first by its words, if equal
    if all(outcome.same_as(best) for outcome, _ in tried):
        return Taken(happenings=chosen)
    last = chosen[-1]
    others = sorted({h.source.path for h in chosen} - {last.source.path})
    complaint = last.complaint(
        Code.SAME_MINUTE,
        f"{', '.join(others)} speaks of {loom} in the same minute and the order matters",
        help="the order that leaves the loom isolated, then stopped, was taken",
    )
    return Taken(happenings=chosen, complaint=complaint)


def _as_written(block: Block) -> tuple[tuple[str, str], ...]:
    """What a block says, whatever its file is called."""
    return tuple((h.source.text, h.by or "") for h in block)


def _orders(blocks: list[Block]) -> Iterable[Sequence[Block]]:
    """The orders to try: all of them, or beyond four files each file once as the last one.

    A lock stands after some order only if the last word on it in some file is ``isolated``, and
    then it stands with that file as the last: so no isolation is missed.
    """
    if len(blocks) <= _TRIED_WHOLE:
        return permutations(blocks)
    calm = sorted(blocks, key=_ends_stopped)
    return [[*(b for b in calm if b is not last), last] for last in calm]


def _ends_stopped(block: Block) -> bool:
    moving = [h.clause for h in block if isinstance(h.clause, e.Stopped | e.Running)]
    return bool(moving) and isinstance(moving[-1], e.Stopped)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Outcome:
    """Where an order ends: the state, and what was refused on the way."""

    state: LoomState
    refused: frozenset[tuple[Code, str]]

    @classmethod
    def of(cls, trial: Sequence[Stepped]) -> _Outcome:
        refused = {
            (d.code, d.text)
            for stepped in trial
            for d in stepped.complaints
            if CATALOGUE[d.code].severity is Severity.REFUSED
        }
        return cls(state=trial[-1].state, refused=frozenset(refused))

    @property
    def preference(self) -> tuple[object, ...]:
        """Smaller is preferred: more locks, then standing, then without conflict, then read."""
        state = self.state
        return (
            -len(state.locks),
            state.motion is Motion.RUNNING,
            state.conflict_since is not None,
            len(self.refused),
        )

    def same_as(self, other: _Outcome) -> bool:
        """Whether the loom ends the same, wherever its lines stand."""
        own, its = self.state.parts, other.state.parts
        return (
            self.refused == other.refused
            and _told(self.state) == _told(other.state)
            and own.keys() == its.keys()
            and all(own[at] is its[at] or _life_told(own[at]) == _life_told(its[at]) for at in own)
        )


def _told(state: LoomState) -> tuple[object, ...]:
    return (
        state.motion,
        state.stopped_for,
        state.conflict_since is None,
        {(fold_word(lock.by), lock.since, lock.latest) for lock in state.locks},
        {(look.by, look.when) for lock in state.locks if (look := lock.seen)},
        set(state.faults),
        set(state.actions),
        set(state.proofs),
        state.counters,
        state.style,
    )


def _life_told(life: PartLife) -> tuple[object, ...]:
    readings = {
        quantity: [(r.value, r.bound, r.level, r.counts) for r in series]
        for quantity, series in life.readings.items()
    }
    return life.fitted, life.stays, life.ending, life.batch, life.level, readings
