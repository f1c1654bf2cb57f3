"""What is missing or failed on a loom, each part and each writer by itself, in words."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from board.state.fleet import LoomState, Proof, ProofFault
from grammar.entries import PartAt


def unproved(state: LoomState) -> Iterator[tuple[str, datetime]]:
    """The words for each part and writer, and since when: nobody answers for another."""
    rows: dict[tuple[PartAt | None, str | None], list[Proof]] = {}
    for proof in state.proofs:
        rows.setdefault((proof.at, proof.by), []).append(proof)
    for (at, by), proofs in rows.items():
        about = f"{at.words()}: " if at else ""
        # without a part it is a check that found something, and no job asked for it
        who = f", {'job ' if at else ''}by {by}" if by else ""
        since = min(proof.since for proof in proofs)
        yield f"{about}{', '.join(map(_words, proofs))}{who}", since


def _words(proof: Proof) -> str:
    """What is missing, or what was tried and proves nothing."""
    if proof.fault is ProofFault.MISSING:
        return f"{proof.what} missing"
    return f"{proof.what} FAILED{f', {proof.why}' if proof.why else ''}"
