"""The proofs that a job asks for, and which of them a clause gives."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from board.conformity import TorqueVerdict, torque_verdict
from board.mill import Mill, Part, TorqueProof
from board.state.fleet import LoomState, Proof, ProofFault
from grammar.entries import Checked, PartAt, ThreadLocked, Torqued, Worked
from grammar.folding import fold_word
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
        found.append(replace(blank, what=torque_words(part.after.torque)))
    found += [replace(blank, what=what) for what in part.after.needs]
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

    None: no part misses it. With several, the one that the clause's text names.
    """
    if job is not None:
        return job
    text = clause.text if not isinstance(clause, ThreadLocked) else ""
    missing = {
        p.at for p in state.proofs if p.at is not None and _fits(p, clause)
    }  # fmt: skip
    if not missing:
        return None
    named, side = mill.vocabulary.found_in(fold_word(text))
    if len(missing) == 1:
        return next(iter(missing))
    if named is not None or side is not None:
        fitting = [
            at
            for at in missing
            if (named is None or at.part == named.part) and (side is None or at.side == side)
        ]
        if len(fitting) == 1:
            return fitting[0]
    return SeveralParts(parts=tuple(sorted(at.words() for at in missing)))


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
) -> tuple[Proof, ...]:
    """The proofs still missing or failed after a clause spoke of a part.

    A good proof ends the one asked for; a bad one turns it into a failure. A check that was bad
    stays until the same check is ok, whether it was asked for or not.
    """
    rest: list[Proof] = []
    met = False
    for proof in proofs:
        if not (proof.at == at and _fits(proof, clause)):
            rest.append(proof)
            continue
        met = True
        failure = _failure(clause, at, mill)
        if failure:
            rest.append(replace(proof, fault=ProofFault.FAILED, why=failure, source=blank.source))
    if not met and isinstance(clause, Checked) and not clause.good:
        what = f"checked {clause.text}"
        rest.append(replace(blank, at=at, what=what, fault=ProofFault.FAILED, why="found bad"))
    return tuple(rest)


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
            verdict = torque_verdict(
                value,
                required=asked.value,
                tolerance=asked.tolerance.around(asked.value),
                tool=asked.tool_tolerance.around(value) if asked.tool_tolerance else None,
            )
            if verdict is TorqueVerdict.CONFORMS:
                return ""
            tolerance = asked.tolerance.around(asked.value)
            told = f"{amount.written} for {asked.value:g} +/- {tolerance:.2g} {asked.unit}"
            if verdict is TorqueVerdict.UNDECIDED:
                return f"{told}: the tool's tolerance leaves it open"
            return told


def without(proofs: tuple[Proof, ...], job: Worked) -> tuple[Proof, ...]:
    """Proofs of a part that a new replacement makes void."""
    return tuple(p for p in proofs if p.at != job.at)
