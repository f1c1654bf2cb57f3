"""Faults: opened by a text, closed by the side and part that a text names."""

from __future__ import annotations

import pytest

from tests.state.shed import at, codes, loom, night

HEAD = "22:10 A07 fault left head drops weft at transfer"
TAPE = "22:20 A07 fault left tape frays"
RIGHT = "22:30 A07 fault right head noisy"
GUIDE3 = "22:31 A07 fault left guide 3 bent"
GUIDE5 = "22:32 A07 fault left guide 5 bent"
GUIDE = "22:33 A07 fault left guide rattles"
PLAIN = "22:34 A07 fault odd smell"

# faults, the clause that clears, texts of the faults left open, codes
CASES: list[tuple[list[str], str, list[str], list[str]]] = [
    ([], "fault cleared", [], ["which-fault"]),
    ([HEAD], "fault cleared", [], []),
    ([HEAD], "fault cleared new clamp spring", [], []),
    ([HEAD], "fault cleared right tape changed", [], []),
    ([HEAD, TAPE], "fault cleared", ["left head drops weft at transfer", "left tape frays"], ["which-fault"]),
    ([HEAD, TAPE], "fault cleared new clamp spring", ["left head drops weft at transfer", "left tape frays"], ["which-fault"]),
    ([HEAD, TAPE], "fault cleared left head", ["left tape frays"], []),
    ([HEAD, TAPE], "fault cleared head, new spring", ["left tape frays"], []),
    ([HEAD, TAPE], "fault cleared left", ["left head drops weft at transfer", "left tape frays"], ["which-fault"]),
    ([HEAD, TAPE], "fault cleared right head", ["left head drops weft at transfer", "left tape frays"], ["which-fault"]),
    ([HEAD, TAPE], "fault cleared band glued", ["left head drops weft at transfer"], []),
    ([HEAD, RIGHT], "fault cleared head", ["left head drops weft at transfer", "right head noisy"], ["which-fault"]),
    ([HEAD, RIGHT], "fault cleared right", ["left head drops weft at transfer"], []),
    ([HEAD, TAPE], "fault cleared all", [], []),
    ([HEAD, HEAD.replace("22:10", "22:40"), TAPE], "fault cleared left head", ["left tape frays"], []),
    ([GUIDE3, GUIDE5], "fault cleared left guide 3", ["left guide 5 bent"], []),
    ([GUIDE3, GUIDE5], "fault cleared left guide", [], []),
    ([GUIDE3, GUIDE], "fault cleared left guide 3", ["left guide rattles"], []),
    ([GUIDE, HEAD], "fault cleared left guide 3", ["left head drops weft at transfer"], []),
    ([PLAIN, HEAD], "fault cleared left head", ["odd smell"], []),
    ([PLAIN, HEAD], "fault cleared smell gone", ["left head drops weft at transfer", "odd smell"], ["which-fault"]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("faults", "clause", "left", "complaints"), CASES,
    ids=[f"{len(c[0])} open: {c[1]}" + f" [{i}]" for i, c in enumerate(CASES)],
)  # fmt: skip
def test_which_fault_is_cleared(
    faults: list[str], clause: str, left: list[str], complaints: list[str]
) -> None:
    shed = night(*faults, f"23:00 A07 {clause}")
    assert sorted(f.text for f in loom(shed).faults) == sorted(left)
    assert codes(shed) == complaints
    assert len(shed.fleet.history.cleared) == len(faults) - len(left)


def test_a_cleared_fault_tells_how_and_by_whom() -> None:
    shed = night(HEAD, "23:00 A07 fault cleared new clamp spring; by RB")
    (cleared,) = shed.fleet.history.cleared
    assert (cleared.cleared, cleared.by, cleared.text) == (
        at("2026-11-24 23:00"), "RB", "new clamp spring",
    )  # fmt: skip
    assert (cleared.fault.since, cleared.fault.symptom) == (at("2026-11-24 22:10"), "drops weft")


def test_faults_stand_in_the_order_of_time_whatever_the_lines() -> None:
    assert [f.text for f in loom(night(TAPE, HEAD)).faults] == [
        "left head drops weft at transfer", "left tape frays",
    ]  # fmt: skip
