"""The proofs that a job asks for, which of them a clause gives, and to which part it belongs."""

from __future__ import annotations

import re
from collections.abc import Iterable

from board.mill import Mill, Part, TorqueProof
from board.mill import Tolerance as ToolTolerance
from board.state import made
from board.state.fleet import LoomState, Proof, ProofFault
from board.state.happening import Happening, Stepped
from board.state.history import Ending, GivenProof, PartLife, ProofGiven
from board.torque import Decision, Tolerance, torque_conformity
from grammar.diagnostics import Code
from grammar.entries import Batch, Checked, PartAt, ThreadLocked, Torqued
from grammar.folding import fold_word
from grammar.frozen import dataclass
from grammar.making import changed
from grammar.units import UNITS, convert

THREAD_LOCK = "thread-locked"


@dataclass(frozen=True, slots=True, kw_only=True)
class SeveralParts:
    """A proof could belong to several parts: they are named."""

    parts: tuple[str, ...]


def asked_after(part: Part, blank: Proof) -> tuple[Proof, ...]:
    """The proofs that the register asks for after a part was replaced; ``blank`` tells the job."""
    found = []
    if part.after.torque is not None:
        found.append(changed(blank, what=torque_words(part.after.torque)))
    found += [changed(blank, what=what) for what in part.after.needs]
    return tuple(found)


def torque_words(proof: TorqueProof) -> str:
    """The torque asked for, in words."""
    return f"torque {proof.value:.2f} {proof.unit}"


def kind_of(clause: Torqued | ThreadLocked | Checked) -> str:
    """The first word of the proofs that a clause can give."""
    match clause:
        case Torqued():
            return "torque"
        case ThreadLocked():
            return THREAD_LOCK
        case Checked():
            return "checked"


def part_meant(
    state: LoomState, clause: Torqued | ThreadLocked | Checked, job: PartAt | None, mill: Mill
) -> PartAt | SeveralParts | None:
    """The part that a proof belongs to: its job's, else the one that misses such a proof.

    With several, the one that the clause's text names. Where none misses it, or one of the other
    side, the part that the text names in full; None: it names none.
    """
    if job is not None:
        return job
    missing = {p.at for p in state.proofs if p.at is not None and _fits(p, clause)}
    text = clause.text if not isinstance(clause, ThreadLocked) else ""
    named, side = mill.vocabulary.found_in(fold_word(text))
    if len(missing) == 1:
        (only,) = missing
        if not _is_another(only, named, side):
            return only
    if len(missing) < 2:
        return named if named is not None and _is_whole(named, mill) else None
    fitting = [at for at in missing if _is_named(at, named, side)]
    if len(fitting) == 1 and (named is not None or side is not None):
        return fitting[0]
    return SeveralParts(parts=tuple(sorted(at.words() for at in missing)))


def _is_whole(at: PartAt, mill: Mill) -> bool:
    part = mill.part.get(at.part)
    return part is not None and (not part.sides or at.side is not None)


def _is_another(at: PartAt, named: PartAt | None, side: str | None) -> bool:
    """Whether a text speaks of the other side, or another number, of such a part.

    The word of another part may stand in it all the same: ``torque clamp screws``.
    """
    if side is not None and at.side is not None and at.side != side:
        return True
    numbers = (named.number, at.number) if named is not None and named.part == at.part else ()
    return None not in numbers and len(set(numbers)) == 2


def _is_named(at: PartAt, named: PartAt | None, side: str | None) -> bool:
    if side is not None and at.side != side:
        return False
    if named is None:
        return True
    return at.part == named.part and named.number in (None, at.number)


def _fits(proof: Proof, clause: Torqued | ThreadLocked | Checked) -> bool:
    if not proof.what.startswith(kind_of(clause)):
        return False
    return not isinstance(clause, Checked) or _same_check(proof.what, clause.text)


def _same_check(asked: str, text: str) -> bool:
    wanted = set(re.findall(r"\w+", fold_word(asked.removeprefix("checked"))))
    return wanted <= set(re.findall(r"\w+", fold_word(text)))


def given(
    proofs: tuple[Proof, ...],
    clause: Torqued | ThreadLocked | Checked,
    at: PartAt | None,
    blank: Proof,
    mill: Mill,
) -> tuple[tuple[Proof, ...], bool]:
    """The proofs still missing or failed after a clause spoke of a part, and whether it was good.

    A good proof ends the one asked for; a bad one turns it into a failure. A check that was bad
    stays until the same check is ok, whether it was asked for or not; one that was written for no
    part ends with the same check of any part.
    """
    rest: list[Proof] = []
    met, good = False, True
    for proof in proofs:
        if proof.at not in (at, None) or not _fits(proof, clause):
            rest.append(proof)
            continue
        met = True
        failure = _failure(clause, at, mill)
        if failure:
            good = False
            rest.append(changed(proof, fault=ProofFault.FAILED, why=failure, source=blank.source))
    if not met and isinstance(clause, Checked) and not clause.good:
        good = False
        what = f"checked {clause.text}"
        rest.append(changed(blank, at=at, what=what, fault=ProofFault.FAILED, why="found bad"))
    return tuple(rest), good


def _failure(clause: Torqued | ThreadLocked | Checked, at: PartAt | None, mill: Mill) -> str:
    match clause:
        case ThreadLocked():
            return ""
        case Checked(good=good):
            return "" if good else "found bad"
        case Torqued(amount=amount):
            part = mill.part.get(at.part) if at else None
            asked = part.after.torque if part else None
            if asked is None:
                return ""
            value = convert(amount.value, UNITS["N.m"], UNITS[asked.unit])
            tolerance = asked.tolerance.around(asked.value)
            verdict = torque_conformity(
                value,
                Tolerance(required=asked.value, allowed=tolerance),
                _percent(asked.tool_tolerance, value),
                mill.rules.guard_band,
            )
            if verdict is Decision.CONFORMING:
                return ""
            told = f"{amount.written} for {asked.value:g} +/- {tolerance:.2g} {asked.unit}"
            if verdict is Decision.UNDECIDED:
                return f"{told}: the tool's tolerance leaves it open"
            return told


def _percent(tool: ToolTolerance | None, value: float) -> float | None:
    """A tool's tolerance at a value [%], under 100; None where the register gives none."""
    if tool is None or value == 0:
        return None
    return min(100.0 * tool.around(value) / abs(value), 99.0)


def without(proofs: tuple[Proof, ...], at: PartAt) -> tuple[Proof, ...]:
    """The proofs less those of a part that is gone."""
    return tuple(p for p in proofs if p.at != at)


# -- the clauses ---------------------------------------------------------------------------


def proved(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    """``torque``, ``thread-locked`` or ``checked``: a proof or finding joins its job."""
    clause = happening.clause
    assert isinstance(clause, Torqued | ThreadLocked | Checked)
    meant = part_meant(state, clause, happening.job, mill)
    if isinstance(meant, SeveralParts):
        return _which_part(state, happening, kind_of(clause), meant.parts)
    blank = Proof(at=meant, what="", since=happening.when, by=happening.by, source=happening.source)
    left, good = given(state.proofs, clause, meant, blank, mill)
    what = kind_of(clause)
    if isinstance(clause, Checked):
        what = f"checked {clause.text}"
    fact = _fact(happening, state.loom, meant, what, clause.as_text(), good)
    return made.Stepped(state=changed(state, proofs=left), facts=(fact,))


def batched(state: LoomState, happening: Happening, mill: Mill) -> Stepped:
    """``batch WORD``: the delivery that the part of the job came from.

    Without a job in its entry: the one part without a batch that still misses a proof, else the
    one part without a batch whose fitting is on record.
    """
    clause = happening.clause
    assert isinstance(clause, Batch)
    at = happening.job
    if at is None:
        waiting = _without_batch(state, (p.at for p in state.proofs if p.at is not None))
        waiting = waiting or _without_batch(
            state, (life.at for life in state.parts.values() if life.fitted is not None)
        )
        if len(waiting) != 1:
            return _which_part(state, happening, "batch", tuple(a.words() for a in waiting))
        at = waiting[0]
    life = state.parts.get(at)
    if life is None or life.ending is Ending.ABSENT:
        life = PartLife(at=at, stays=(made.Stay(loom=state.loom, start=None),))
    known = changed(life, batch=clause.word)
    fact = _fact(happening, state.loom, at, "batch", clause.as_text(), good=True)
    return made.Stepped(state=changed(state, parts={**state.parts, at: known}), facts=(fact,))


def _without_batch(state: LoomState, parts: Iterable[PartAt]) -> list[PartAt]:
    unknown = {at for at in parts if at not in state.parts or state.parts[at].batch is None}
    return sorted(unknown, key=PartAt.words)


def _which_part(
    state: LoomState, happening: Happening, what: str, parts: tuple[str, ...]
) -> Stepped:
    message = f"{what} may belong to {' or '.join(parts)}"
    if not parts:
        message = f"no job on {state.loom} waits for its {what}"
    help = "name the part, or write it behind the job in one entry"
    if isinstance(happening.clause, ThreadLocked | Batch):
        help = "write it behind a job on that part in one entry"
    complaint = happening.complaint(Code.WHICH_PART, message, help=help)
    return made.Stepped(state=state, complaints=(complaint,))


def _fact(
    happening: Happening, loom: str, at: PartAt | None, what: str, written: str, good: bool
) -> ProofGiven:
    proof = GivenProof(what=what, written=written, good=good, when=happening.when)
    return ProofGiven(loom=loom, at=at, proof=proof, by=happening.by)
