"""Proofs asked for after a job: which are missing, which failed, and which part a proof is of."""

from __future__ import annotations

import pytest

from board.state.fleet import ProofFault
from grammar.entries import PartAt
from tests.state.shed import at, codes, loom, night

JOB = "22:10 A07 replaced left tape"
RIGHT = "22:12 A07 replaced right tape"
HEAD = "22:14 A07 replaced left head"
GUIDES = ("22:15 A07 replaced left guide 3", "22:16 A07 replaced left guide 5")

ALL = ["left tape: torque 1.40 N.m missing", "left tape: thread-locked missing",
       "left tape: checked joint missing"]  # fmt: skip
TORQUE, THREAD, JOINT = ALL

# lines, proofs missing or failed, codes
CASES: list[tuple[list[str], list[str], list[str]]] = [
    ([JOB], ALL, []),
    ([JOB + "; torque clamp screws 1.40 N.m; thread-locked; checked joint ok"], [], []),
    ([JOB, "22:30 A07 torque 1.40 N.m", "22:40 A07 thread-locked; checked joint ok"], [], []),
    ([JOB + "; torque 1.2 N.m"], ["left tape: torque 1.40 N.m failed", THREAD, JOINT], []),
    ([JOB + "; torque 1.2 N.m", "22:30 A07 torque 1.41 N.m"], [THREAD, JOINT], []),
    ([JOB + "; torque 12.4 lbf.in"], [THREAD, JOINT], []),
    ([JOB + "; checked joint bad"], [TORQUE, THREAD, "left tape: checked joint failed"], []),
    ([JOB + "; checked joint bad", "22:30 A07 checked joint ok"], [TORQUE, THREAD], []),
    ([JOB + "; checked joint bad", "22:30 A07 checked transfer ok"], [TORQUE, THREAD, "left tape: checked joint failed"], []),
    ([JOB, "22:30 A07 checked the new joint twice ok"], [TORQUE, THREAD], []),
    ([JOB, "22:30 A07 cleaned left head; thread-locked"], ALL, []),
    ([JOB, RIGHT, "22:30 A07 thread-locked"], [*ALL, *(p.replace("left", "right") for p in ALL)], ["which-part"]),
    ([JOB, RIGHT, "22:30 A07 torque right clamp 1.40 N.m"], [*ALL, *(p.replace("left", "right") for p in ALL if p != TORQUE)], []),
    ([JOB, RIGHT, "22:30 A07 torque clamp 1.40 N.m"], [*ALL, *(p.replace("left", "right") for p in ALL)], ["which-part"]),
    ([JOB, "22:30 A07 checked right tape joint ok"], ALL, []),
    ([JOB, "22:30 A07 checked right joint ok"], ALL, []),
    ([JOB, "22:30 A07 torque right clamp 1.40 N.m"], ALL, []),
    ([JOB, "22:30 A07 torque head screws 1.40 N.m"], [THREAD, JOINT], []),
    ([JOB, "22:30 A07 checked left tape 2 joint ok"], [TORQUE, THREAD], []),
    ([GUIDES[0], "22:30 A07 checked guide 5 alignment ok"], ["left guide 3: checked alignment missing"], []),
    ([JOB, RIGHT, "22:20 A07 checked joint left tape ok", "22:30 A07 checked left tape joint ok"], [TORQUE, THREAD, *(p.replace("left", "right") for p in ALL)], []),
    ([JOB, HEAD, "22:30 A07 thread-locked"], [TORQUE, JOINT, "left head: torque 2.20 N.m missing"], []),
    ([JOB, HEAD, "22:30 A07 torque head 2.20 N.m"], ALL, []),
    ([*GUIDES, "22:30 A07 checked guide 5 alignment ok"], ["left guide 3: checked alignment missing"], []),
    ([*GUIDES, "22:30 A07 checked alignment ok"], ["left guide 3: checked alignment missing", "left guide 5: checked alignment missing"], ["which-part"]),
    ([JOB + "; thread-locked", "23:30 A07 replaced left tape"], ALL, []),
    (["22:10 A07 adjusted left tape"], [], []),
    (["22:10 A07 torque 1.40 N.m; thread-locked; checked joint ok"], [], []),
    (["22:10 A07 checked stop motion bad"], ["none: checked stop motion failed"], []),
    (["22:10 A07 checked stop motion bad", "22:30 A07 checked stop motion ok"], [], []),
    (["22:10 A07 checked stop motion bad", "22:30 A07 cleaned belt; checked stop motion ok"], [], []),
    (["22:10 A07 checked left tape joint bad"], ["left tape: checked left tape joint failed"], []),
    (["22:10 A07 checked left tape joint bad", JOB + "; torque 1.4 N.m; thread-locked"], [JOINT], []),
    (["22:10 A07 cleaned left tape; checked joint bad"], ["left tape: checked joint failed"], []),
]  # fmt: skip


@pytest.mark.parametrize(
    ("lines", "missing", "complaints"), CASES, ids=[" / ".join(c[0]) for c in CASES]
)
def test_what_is_missing(lines: list[str], missing: list[str], complaints: list[str]) -> None:
    shed = night(*lines)
    told = [
        f"{p.at.words() if p.at else 'none'}: {p.what} {p.fault.value}" for p in loom(shed).proofs
    ]
    assert told == missing
    assert codes(shed) == complaints


def test_a_missing_proof_knows_its_job_and_a_failed_one_the_line_that_failed() -> None:
    lines = (JOB + "; by RB", "22:30 A07 torque 1.2 N.m; by TN")
    failed, missing, _ = loom(night(*lines)).proofs
    assert (missing.by, missing.since) == ("RB", at("2026-11-24 22:10"))
    assert (failed.by, failed.since) == ("RB", at("2026-11-24 22:10"))
    assert failed.source.text == "22:30 A07 torque 1.2 N.m; by TN"
    assert failed.why.startswith("1.2 N.m for 1.4 +/- 0.14 N.m")


def test_a_torque_that_the_tool_cannot_decide_is_no_proof() -> None:
    # asked 1.40 +/- 0.14, the tool 4 % of the value: from 1.26 on, but decided only from 1.3125
    assert loom(night(JOB + "; torque 1.28 N.m")).proofs[0].fault is ProofFault.FAILED
    assert (
        "the tool's tolerance leaves it open"
        in loom(night(JOB + "; torque 1.28 N.m")).proofs[0].why
    )
    assert loom(night(JOB + "; torque 1.32 N.m")).proofs[0].what == "thread-locked"


@pytest.mark.parametrize(
    ("lines", "batches", "complaints"),
    [
        ([JOB + "; batch 7F"], {"left tape": "7F"}, []),
        ([JOB, "22:30 A07 batch 7F"], {"left tape": "7F"}, []),
        ([JOB, "22:30 A07 torque 1.4 N.m; thread-locked; checked joint ok", "22:40 A07 batch 7F"], {"left tape": "7F"}, []),
        ([JOB, RIGHT, "22:30 A07 batch 7F"], {"left tape": None, "right tape": None}, ["which-part"]),
        ([JOB + "; batch 7F", RIGHT, "22:30 A07 batch 8A"], {"left tape": "7F", "right tape": "8A"}, []),
        (["22:30 A07 batch 7F"], {}, ["which-part"]),
    ],
)  # fmt: skip
def test_which_part_a_batch_is_of(
    lines: list[str], batches: dict[str, str | None], complaints: list[str]
) -> None:
    shed = night(*lines)
    assert {at.words(): life.batch for at, life in loom(shed).parts.items()} == batches
    assert codes(shed) == complaints


def test_every_proof_that_was_written_is_a_fact() -> None:
    shed = night(JOB + "; torque 1.2 N.m; thread-locked; checked joint bad; batch 7F")
    assert [(g.proof.what, g.proof.good, g.at) for g in shed.fleet.history.proofs] == [
        (what, good, PartAt(part="tape", side="left"))
        for what, good in (
            ("torque", False), ("thread-locked", True), ("checked joint", False), ("batch", True),
        )
    ]  # fmt: skip


def test_a_recheck_opens_by_itself_and_falls_away_with_the_next_job() -> None:
    shed = night(HEAD, "23:14 A07 replaced left head")
    (action,) = loom(shed).actions
    assert action.text == "recheck left head after it was replaced"
    assert action.opened == at("2026-11-24 23:14")
    (dropped,) = shed.fleet.history.closed
    assert (dropped.dropped, dropped.text, dropped.when) == (
        True, "replaced again", at("2026-11-24 23:14"),
    )  # fmt: skip


def test_a_recheck_is_closed_by_the_time_of_its_job() -> None:
    shed = night(HEAD, "23:30 A07 done 22:14 smooth")
    assert (loom(shed).actions, codes(shed)) == ((), [])


def test_a_recheck_may_fall_due_at_a_shift() -> None:
    (action,) = loom(night("22:10 A07 replaced cutter")).actions
    assert action.due is not None
    assert action.due.written == "early"
