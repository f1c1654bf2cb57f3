"""Which lines count: doubled ones, later ones, unfinished ones, and two files in one minute."""

from __future__ import annotations

from itertools import permutations

import pytest

from board.state.fleet import Isolation, Motion
from grammar.entries import Reason
from grammar.reader import LastLine
from tests.state.shed import at, codes, loom, night, read

KM = "day 2026-11-24 night by KM\n"
RB = "day 2026-11-24 night by RB\n"


# -- line-twice ----------------------------------------------------------------------------


def test_a_line_copied_into_another_file_counts_once() -> None:
    line = "22:10 A07 open no 31 recheck left tape\n"
    shed = read({"a.log": KM + line, "copy.log": KM + line})
    assert len(loom(shed).actions) == 1
    assert codes(shed) == ["line-twice"]


@pytest.mark.parametrize(
    ("other", "complaints"),
    [
        (RB + "22:10 A07 note x\n", ["line-twice"]),  # another writer, the same shift
        (KM + "  22:10 A07 note x  \n", ["line-twice"]),
        (KM + "22:10 A07 note X\n", []),
        (KM + "22:11 A07 note x\n", []),
        (KM.replace("11-24", "11-23") + "22:10 A07 note x\n", []),
        (KM.replace("night", "late") + "22:10 A07 note x\n", []),
    ],
)
def test_what_makes_a_line_the_same(other: str, complaints: list[str]) -> None:
    assert codes(read({"a.log": KM + "22:10 A07 note x\n", "b.log": other})) == complaints


def test_an_isolation_in_a_line_that_stands_twice_counts_each_time() -> None:
    shed = night(
        "22:10 A07 isolated by KM", "22:10 A07 lock removed by KM", "22:10 A07 isolated by KM"
    )
    assert loom(shed).isolation is Isolation.ISOLATED
    assert codes(shed) == ["line-twice"]


def test_a_removal_that_stands_twice_counts_once() -> None:
    shed = night(
        "22:10 A07 isolated by KM", "22:20 A07 lock removed by KM", "22:20 A07 isolated by KM",
        "22:20 A07 lock removed by KM",
    )  # fmt: skip
    assert loom(shed).isolation is Isolation.ISOLATED


# -- later than now ------------------------------------------------------------------------


def test_of_a_later_entry_only_the_isolation_counts() -> None:
    lines = ("22:10 A07 running", "23:50 A07 stopped for part; isolated by KM; left tape 2.5 mm")
    early = night(*lines, now="2026-11-24 23:00")
    assert (loom(early).isolation, loom(early).stopped_for) == (Isolation.ISOLATED, None)
    assert loom(early).parts == {}
    assert codes(early) == ["in-the-future"]
    assert early.fleet.last_entry == loom(early).last_entry == at("2026-11-24 22:10")
    then = night(*lines, now="2026-11-24 23:50")
    assert (loom(then).stopped_for, codes(then)) == (Reason.PART, [])


def test_a_later_removal_takes_no_lock_off_yet() -> None:
    lines = ("22:10 A07 isolated by KM", "23:50 A07 lock removed by KM")
    assert loom(night(*lines, now="2026-11-24 23:49")).isolation is Isolation.ISOLATED
    assert loom(night(*lines, now="2026-11-24 23:50")).isolation is Isolation.NONE_RECORDED


# -- unfinished last lines -----------------------------------------------------------------


def test_an_isolation_in_an_unfinished_line_counts_and_a_removal_does_not() -> None:
    growing = LastLine.GROWING
    isolated = read({"a.log": KM + "22:10 A07 isolated by KM"}, last_line=growing)
    assert loom(isolated).isolation is Isolation.ISOLATED
    assert [u.text for u in isolated.unfinished] == ["22:10 A07 isolated by KM"]
    lines = KM + "22:10 A07 isolated by KM\n22:20 A07 lock removed by KM"
    assert loom(read({"a.log": lines}, last_line=growing)).isolation is Isolation.ISOLATED
    assert loom(read({"a.log": lines})).isolation is Isolation.NONE_RECORDED


def test_of_an_unfinished_line_nothing_else_counts() -> None:
    shed = read(
        {"a.log": KM + "22:10 A07 stopped for part; isolated by KM"}, last_line=LastLine.GROWING
    )
    assert (loom(shed).motion, loom(shed).stopped_for) == (Motion.STOPPED, None)
    assert shed.tally.entries == 0


# -- two files in one minute ---------------------------------------------------------------

# what each file says at 22:40, after these lines at 22:10 -> isolation, motion, complaints
SAME = [
    ("isolated by KM", ["lock removed by KM", "isolated by KM"], Isolation.ISOLATED, Motion.STOPPED, ["same-minute"]),
    ("isolated by KM", ["lock removed by KM", "isolated by RB"], Isolation.ISOLATED, Motion.STOPPED, []),
    ("isolated by KM", ["lock removed by KM", "running"], Isolation.NONE_RECORDED, Motion.RUNNING, []),
    ("stopped", ["isolated by KM", "running"], Isolation.ISOLATED, Motion.STOPPED, ["same-minute"]),
    ("stopped", ["running", "stopped"], Isolation.NONE_RECORDED, Motion.STOPPED, ["same-minute"]),
    ("running", ["stopped for part", "stopped for part; note x"], Isolation.NONE_RECORDED, Motion.STOPPED, []),
    ("running", ["left tape 2.90 mm", "stopped"], Isolation.NONE_RECORDED, Motion.STOPPED, []),
    ("running", ["left tape 2.90 mm", "left tape 2.80 mm"], Isolation.NONE_RECORDED, Motion.RUNNING, ["same-minute", "better-without-work"]),
    ("running", ["left tape 2.90 mm", "right tape 2.80 mm"], Isolation.NONE_RECORDED, Motion.RUNNING, []),
    ("running", ["left tape 2.90 mm", "left tape 2.90 mm; note x"], Isolation.NONE_RECORDED, Motion.RUNNING, []),
    ("running", ["note x", "note y"], Isolation.NONE_RECORDED, Motion.RUNNING, []),
    ("open no 5 oil", ["done no 5 oiled", "open no 5 again"], Isolation.NONE_RECORDED, Motion.UNKNOWN, []),
    ("fault left head noisy", ["fault cleared", "fault left tape frays"], Isolation.NONE_RECORDED, Motion.UNKNOWN, ["same-minute"]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("before", "says", "isolation", "motion", "complaints"),
    SAME,
    ids=[f"{s[0]}: {' | '.join(s[1])}" for s in SAME],
)
def test_the_order_that_isolates_then_stops_is_taken(
    before: str, says: list[str], isolation: Isolation, motion: Motion, complaints: list[str]
) -> None:
    for names in permutations(["a.log", "b.log"]):
        files = {"0.log": KM + f"22:10 A07 {before}\n"}
        for name, heading, said in zip(names, (KM, RB), says, strict=True):
            files[name] = heading + f"22:40 A07 {said}\n"
        shed = read(files)
        assert (loom(shed).isolation, loom(shed).motion) == (isolation, motion)
        assert sorted(codes(shed)) == sorted(complaints)


def test_lines_of_one_file_keep_their_order_within_a_minute() -> None:
    shed = night("22:40 A07 isolated by KM", "22:40 A07 lock removed by KM", "22:40 A07 running")
    assert (loom(shed).isolation, loom(shed).motion) == (Isolation.NONE_RECORDED, Motion.RUNNING)
    assert codes(shed) == []


def test_many_files_in_one_minute_miss_no_isolation() -> None:
    files = {
        f"{n}.log": KM + "22:40 A07 lock removed by KM; note " + "x" * n + "\n" for n in range(7)
    }
    files["3.log"] = KM + "22:40 A07 lock removed by KM; isolated by KM\n"
    files["9.log"] = KM + "22:40 A07 isolated by RB; lock removed by RB; running\n"
    shed = read(files)
    assert loom(shed).isolation is Isolation.ISOLATED
    assert "same-minute" in codes(shed)


def test_a_group_and_a_loom_in_one_minute() -> None:
    shed = read(
        {"a.log": KM + "22:40 shed running\n", "b.log": RB + "22:40 A07 stopped for warp\n"}
    )
    assert loom(shed).motion is Motion.STOPPED
    assert codes(shed) == ["same-minute"]
