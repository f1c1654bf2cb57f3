"""Parts: series of readings, levels, implausible ones, moves between looms and empty places."""

from __future__ import annotations

import pytest

from board.state.fleet import LoomState
from board.state.history import Bound, Ending, PartLife
from grammar.entries import PartAt, WhyReplaced
from tests.state.shed import at, codes, loom, night, read

TAPE = PartAt(part="tape", side="left")
HEAD = PartAt(part="head", side="left")
CUTTER = PartAt(part="cutter")


def _life(state: LoomState, part: PartAt = TAPE) -> PartLife:
    return state.parts[part]


def _values(state: LoomState, part: PartAt = TAPE, quantity: str = "thickness") -> list[float]:
    return [r.value for r in _life(state, part).readings.get(quantity, ())]


# -- readings ------------------------------------------------------------------------------


def test_readings_stand_in_the_order_of_time_whatever_the_lines() -> None:
    state = loom(night("23:10 A07 left tape 2.90 mm", "22:10 A07 left tape 3.00 mm"))
    assert _values(state) == [3.0, 2.9]
    assert _life(state).fitted is None
    assert _life(state).stays[0].start is None


@pytest.mark.parametrize(
    ("line", "bound"),
    [
        ("left guide 3 gap gauge 0.30 mm enters", Bound.AT_LEAST),
        ("left guide 3 gap gauge 0.30 mm stays out", Bound.AT_MOST),
        ("left tape thickness gauge 2.50 mm enters", Bound.AT_MOST),
        ("left tape thickness gauge 2.50 mm stays out", Bound.AT_LEAST),
    ],
)
def test_what_a_gauge_bounds(line: str, bound: Bound) -> None:
    (life,) = loom(night(f"22:10 A07 {line}")).parts.values()
    ((reading,),) = life.readings.values()
    assert reading.bound is bound


@pytest.mark.parametrize(
    ("lines", "counting"),
    [
        (["22:10 A07 left tape 28.1 mm"], [False]),
        # sqrt(2) x 0.03 mm = 0.0424 mm is the most that two readings of one thing may differ
        (["22:10 A07 left tape 28.1 mm", "22:20 A07 left tape 28.14 mm"], [True, True]),
        (["22:10 A07 left tape 28.1 mm", "22:20 A07 left tape 28.15 mm"], [False, False]),
        (["22:10 A07 left tape 28.1 mm", "22:20 A07 left tape 2.81 mm"], [False, True]),
        (["22:10 A07 left tape 28.1 mm", "22:15 A07 left tape 2.81 mm", "22:20 A07 left tape 28.1 mm"], [False, True, False]),
        (["22:10 A07 left tape 4.21 mm", "22:20 A07 left tape 4.19 mm"], [True, True]),
        (["22:10 A07 left tape 28.1 mm", "22:15 A07 adjusted left tape", "22:20 A07 left tape 28.1 mm"], [False, False]),
    ],
)  # fmt: skip
def test_an_implausible_reading_waits_for_a_second(lines: list[str], counting: list[bool]) -> None:
    state = loom(night(*lines))
    assert [r.counts for r in _life(state).readings["thickness"]] == counting


# the lines, and whether the last reading is flagged as better than the one before it
BETTER = [
    (["22:10 A07 left tape 2.80 mm", "23:10 A07 left tape 2.84 mm"], False),  # within sqrt(2) U
    (["22:10 A07 left tape 2.80 mm", "23:10 A07 left tape 2.85 mm"], True),
    (["22:10 A07 left tape 2.80 mm", "23:10 A07 left tape 2.70 mm"], False),
    (["22:10 A07 left guide gap 0.30 mm", "23:10 A07 left guide gap 0.20 mm"], True),
    (["22:10 A07 left guide gap 0.20 mm", "23:10 A07 left guide gap 0.30 mm"], False),
    (["22:10 A07 belt tension 50 Hz", "23:10 A07 belt tension 60 Hz"], False),  # a band has no way
    (["22:10 A07 left tape 2.80 mm", "23:10 A07 cleaned left tape; left tape 2.90 mm"], False),
    (["22:10 A07 left tape 2.80 mm", "23:10 A07 adjusted left tape", "23:20 A07 left tape 3.10 mm"], False),
    (["22:10 A07 left tape 2.80 mm", "23:10 A07 replaced left tape", "23:20 A07 left tape 3.20 mm"], False),
    (["22:10 A07 left tape 28.0 mm", "23:10 A07 left tape 2.80 mm"], False),
    # a gauge that enters a slot says how thick the tape is at most; a gap is at least so wide
    (["22:10 A07 left tape gauge 2.5 mm enters", "23:10 A07 left tape 2.80 mm"], True),
    (["22:10 A07 left tape gauge 2.5 mm stays out", "23:10 A07 left tape 2.80 mm"], False),
    (["22:10 A07 left guide gap 0.45 mm", "23:10 A07 left guide gauge 0.42 mm stays out"], True),
    (["22:10 A07 left guide gap 0.45 mm", "23:10 A07 left guide gauge 0.43 mm stays out"], False),  # within U
    (["22:10 A07 left guide gap 0.45 mm", "23:10 A07 left guide gauge 0.35 mm enters"], False),
    (["22:10 A07 left guide gauge 0.45 mm enters", "23:10 A07 left guide gauge 0.35 mm stays out"], True),
    (["22:10 A07 left guide gauge 0.35 mm stays out", "23:10 A07 left guide gauge 0.45 mm enters"], False),
    (["22:10 A07 left guide gauge 0.30 mm enters", "23:10 A07 left guide gauge 0.29 mm stays out"], False),
    # past the limit of 0.40 and then within it, however near: one of the two is wrong
    (["22:10 A07 left guide gauge 0.41 mm enters", "23:10 A07 left guide gauge 0.40 mm stays out"], True),
    (["22:10 A07 left guide gauge 0.42 mm enters", "23:10 A07 left guide gap 0.35 mm"], True),
    (["22:10 A07 left guide gauge 0.42 mm enters", "23:10 A07 left guide gap 0.40 mm"], False),
    (["22:10 A07 left guide gauge 0.42 mm enters; left guide gauge 0.45 mm stays out", "23:10 A07 left guide gap 0.35 mm"], True),
    (["22:10 A07 left guide gauge 0.42 mm enters", "23:10 A07 left guide gap 0.42 mm", "23:20 A07 left guide gap 0.41 mm"], False),
    (["22:10 A07 left guide gap 0.45 mm", "23:10 A07 cleaned left guide; left guide gauge 0.35 mm stays out"], False),
    (["22:10 A07 left guide gap 0.45 mm", "23:10 A07 adjusted left guide", "23:20 A07 left guide gauge 0.35 mm stays out"], False),
    (["22:10 A07 belt gauge 50 Hz stays out", "23:10 A07 belt 60 Hz"], False),
    (["22:10 A07 left tape 2.80 mm; cleaned left tape; left tape 2.90 mm"], False),
    # one work betters every quantity of the part, each until it has been read
    (["22:10 A07 cutter play 0.10 mm; cutter blade 8.0 mm", "23:10 A07 cleaned cutter; cutter play 0.05 mm", "23:20 A07 cutter blade 8.4 mm"], False),
    (["22:10 A07 cutter play 0.10 mm", "23:10 A07 cleaned cutter", "23:20 A07 cutter play 0.08 mm", "23:30 A07 cutter play 0.05 mm"], True),
]  # fmt: skip


# what stays out of a gap after 0.45 mm, and how many of these are flagged
AGAIN = [
    ((0.35, 0.35, 0.36), 1),  # what was flagged once is not told anew each time
    ((0.42, 0.35), 2),  # what goes farther is
    ((0.42, 0.43, 0.42), 1),
]


@pytest.mark.parametrize(("gauges", "flagged"), AGAIN)
def test_a_verdict_that_says_no_more_than_one_before_is_not_flagged_again(
    gauges: tuple[float, ...], flagged: int
) -> None:
    lines = ["22:10 A07 left guide gap 0.45 mm"]
    lines += [
        f"23:{10 + n} A07 left guide gauge {size} mm stays out" for n, size in enumerate(gauges)
    ]
    assert codes(night(*lines)) == ["better-without-work"] * flagged


def test_a_better_verdict_that_waited_for_a_second_one_is_flagged_with_it() -> None:
    lines = [f"23:1{n} A07 left guide gauge 0.01 mm stays out" for n in range(3)]
    found = codes(night("22:10 A07 left guide gap 0.45 mm", *lines))
    assert [c for c in found if c != "implausible"] == ["better-without-work"]


@pytest.mark.parametrize(("lines", "flagged"), BETTER, ids=[" / ".join(b[0]) for b in BETTER])
def test_better_without_work(lines: list[str], flagged: bool) -> None:
    found = [c for c in codes(night(*lines)) if c != "implausible"]
    assert found == (["better-without-work"] if flagged else [])


# -- work ----------------------------------------------------------------------------------


def test_a_replacement_ends_a_life_and_begins_another() -> None:
    shed = night("22:10 A07 left tape 2.40 mm", "23:10 A07 replaced left tape worn at the clamp")
    (old,) = shed.fleet.history.lives
    assert (old.ending, old.ended, old.why, old.end_text) == (
        Ending.REPLACED, at("2026-11-24 23:10"), WhyReplaced.WORN, "worn at the clamp",
    )  # fmt: skip
    assert [r.value for r in old.readings["thickness"]] == [2.4]
    life = _life(loom(shed))
    assert (life.fitted, life.readings) == (at("2026-11-24 23:10"), {})


@pytest.mark.parametrize(("verb", "level"), [("adjusted", 1), ("repaired", 1), ("cleaned", 0)])
def test_only_adjusting_and_repairing_restart_the_level(verb: str, level: int) -> None:
    shed = night(
        "22:10 A07 left tape 2.40 mm", f"23:10 A07 {verb} left tape", "23:20 A07 left tape 2.4 mm"
    )
    life = _life(loom(shed))
    assert [r.level for r in life.readings["thickness"]] == [0, level]
    assert shed.fleet.history.lives == ()


@pytest.mark.parametrize(
    ("lines", "faulty"),
    [
        (["22:10 A07 fault left tape frays", "23:00 A07 replaced left tape"], True),
        (["22:10 A07 fault tape frays", "23:00 A07 replaced left tape"], True),
        (["22:10 A07 fault right tape frays", "23:00 A07 replaced left tape"], False),
        (["22:10 A07 fault left tape frays", "23:00 A07 fault cleared left tape; replaced left tape"], True),
        (["22:10 A07 fault left tape frays", "22:30 A07 fault cleared", "23:00 A07 replaced left tape"], False),
    ],
)  # fmt: skip
def test_a_life_knows_of_a_fault_at_its_end(lines: list[str], faulty: bool) -> None:
    (old,) = night("22:05 A07 left tape 2.40 mm", *lines).fleet.history.lives
    assert old.fault_at_end is faulty


def test_a_number_makes_a_place_of_its_own() -> None:
    shed = night("22:10 A07 left guide 3 gap 0.41 mm", "23:10 A07 replaced left guide")
    numbered = PartAt(part="guide", side="left", number=3)
    assert _values(loom(shed), numbered, "gap") == [0.41]
    assert loom(shed).parts[PartAt(part="guide", side="left")].fitted is not None


# -- moves ---------------------------------------------------------------------------------

MEASURED = ("22:10 A09 replaced left head", "22:20 A09 left head force 30 N")


def test_a_moved_part_brings_its_life_readings_proofs_and_recheck() -> None:
    shed = night(*MEASURED, "23:10 A07 moved left head from A09")
    life = _life(loom(shed), HEAD)
    assert (life.fitted, _values(loom(shed), HEAD, "force")) == (at("2026-11-24 22:10"), [30.0])
    assert [(s.loom, s.start, s.end) for s in life.stays] == [
        ("A09", at("2026-11-24 22:10"), at("2026-11-24 23:10")),
        ("A07", at("2026-11-24 23:10"), None),
    ]
    assert [p.what for p in loom(shed).proofs] == ["torque 2.20 N.m"]
    (recheck,) = loom(shed).actions  # as it was opened: to move a part puts nothing off
    assert (recheck.opened, recheck.place.name) == (at("2026-11-24 22:10"), "A07")
    assert (recheck.text, recheck.by) == ("recheck left head after it was replaced", "KM")
    origin = loom(shed, "A09")
    assert (origin.proofs, origin.actions) == ((), ())
    assert _life(origin, HEAD).ending is Ending.ABSENT


def test_the_part_that_gives_way_ends_with_what_was_open_for_it() -> None:
    shed = night(
        "22:05 A07 replaced left head", "22:06 A09 left head force 30 N",
        "23:10 A07 moved left head from A09",
    )  # fmt: skip
    (old,) = shed.fleet.history.lives
    assert (old.ending, old.fitted) == (Ending.GAVE_WAY, at("2026-11-24 22:05"))
    assert (loom(shed).proofs, loom(shed).actions) == ((), ())
    (dropped,) = shed.fleet.history.closed
    assert (dropped.dropped, dropped.text) == (True, "the part gave way to that of A09")


def test_a_fault_stays_with_its_loom() -> None:
    shed = night("22:10 A09 fault left head noisy", "23:10 A07 moved left head from A09")
    assert [len(loom(shed, name).faults) for name in ("A07", "A09")] == [0, 1]


def test_an_empty_place_is_filled_by_replacing_and_by_a_reading() -> None:
    gone = (*MEASURED, "23:10 A07 moved left head from A09")
    replaced = _life(loom(night(*gone, "23:20 A09 replaced left head"), "A09"), HEAD)
    assert (replaced.ending, replaced.fitted) == (Ending.IN_SERVICE, at("2026-11-24 23:20"))
    read_there = _life(loom(night(*gone, "23:20 A09 left head force 33 N"), "A09"), HEAD)
    assert (read_there.ending, read_there.fitted) == (Ending.IN_SERVICE, None)
    assert read_there.stays[0].start == at("2026-11-24 23:20")
    worked = _life(loom(night(*gone, "23:20 A09 adjusted left head"), "A09"), HEAD)
    assert worked.ending is Ending.IN_SERVICE
    assert night(*gone, "23:20 A09 replaced left head").fleet.history.lives == ()


@pytest.mark.parametrize("swapped", [("A07", "A09"), ("A09", "A07")])
def test_two_mutual_moves_in_one_minute_are_a_swap(swapped: tuple[str, str]) -> None:
    one, other = swapped
    shed = night(
        "22:10 A07 left head force 25 N", "22:11 A09 left head force 33 N",
        f"23:10 {one} moved left head from {other}", f"23:10 {other} moved left head from {one}",
    )  # fmt: skip
    assert _values(loom(shed, "A07"), HEAD, "force") == [33.0]
    assert _values(loom(shed, "A09"), HEAD, "force") == [25.0]
    assert (shed.fleet.history.lives, codes(shed)) == ((), [])


def test_what_a_loom_s_lines_say_in_the_minute_of_a_move_leaves_with_the_part() -> None:
    shed = night(
        "23:10 A07 moved left head from A09",
        "23:10 A09 left head force 30 N; replaced left head; left head force 34 N",
    )
    assert _values(loom(shed, "A07"), HEAD, "force") == [30.0]
    assert _values(loom(shed, "A09"), HEAD, "force") == [34.0]
    assert codes(shed) == []


def test_a_chain_of_moves_in_one_minute() -> None:
    shed = night(
        "22:10 A01 left head force 21 N", "22:10 A02 left head force 22 N",
        "23:10 A03 moved left head from A02", "23:10 A02 moved left head from A01",
    )  # fmt: skip
    assert [_values(loom(shed, n), HEAD, "force") for n in ("A02", "A03")] == [[21.0], [22.0]]
    assert _life(loom(shed, "A01"), HEAD).ending is Ending.ABSENT


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        (("23:10 A07 moved left head from A09", "23:20 A08 moved left head from A09"), "the left head of A09 was moved away before"),
        (("23:10 A07 moved left head from A09", "23:10 A08 moved left head from A09"), "the left head of A09 was moved away before"),
        (("23:10 A07 moved left head from A07",), "the left head cannot come to A07 from A07 itself"),
    ],
)  # fmt: skip
def test_a_part_that_is_not_there_cannot_come(lines: tuple[str, ...], message: str) -> None:
    shed = night(*lines)
    assert [c.diagnostic.message for c in shed.complaints] == [message]
    assert codes(shed) == ["which-part"]


def test_a_struck_move_leaves_the_part_where_it_was() -> None:
    shed = night(
        *MEASURED, "23:10 A07 moved left head from A09", "23:30 A07 struck 23:10 wrong loom"
    )
    assert _values(loom(shed, "A09"), HEAD, "force") == [30.0]
    assert HEAD not in loom(shed).parts


def test_a_move_reads_the_same_from_two_files() -> None:
    one = "day 2026-11-24 night by KM\n"
    lines = {
        "A07": "23:10 A07 moved left head from A09\n",
        "A09": "23:10 A09 left head force 30 N\n",
    }
    for first, second in (("a.log", "b.log"), ("b.log", "a.log")):
        shed = read({first: one + lines["A07"], second: one + lines["A09"]})
        assert _values(loom(shed), HEAD, "force") == [30.0]


# -- counters ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lines", "last", "complaints"),
    [
        (["22:10 A07 counter 100 h", "23:10 A07 counter 101 h"], 101.0, []),
        (["22:10 A07 counter 100 h", "23:10 A07 counter 99 h"], 99.0, ["counter-backwards"]),
        (["22:10 A07 counter 100 h", "23:10 A07 counter 0 h new"], 0.0, []),
        (["22:10 A07 counter 100 h", "23:10 A07 counter 9 h", "23:20 A07 counter 101 h"], 101.0, ["counter-backwards"]),
        (["22:10 A07 counter 1000 h", "23:10 A07 counter 101 h", "23:20 A07 counter 102 h"], 102.0, ["counter-backwards"]),
    ],
)  # fmt: skip
def test_a_meter_that_falls_is_flagged_once(
    lines: list[str], last: float, complaints: list[str]
) -> None:
    shed = night(*lines)
    assert loom(shed).counters == (("h", last),)
    assert codes(shed) == complaints
    assert len(shed.fleet.history.counters) == len(lines)
