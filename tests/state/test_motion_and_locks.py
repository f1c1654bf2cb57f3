"""Motion, locks and conflicts: lines under one heading, and what the loom is after them."""

from __future__ import annotations

import pytest

from board.state.fleet import Isolation, Motion
from grammar.entries import Reason
from tests.state.shed import at, codes, loom, night, read

RUNNING, STOPPED, UNKNOWN = Motion.RUNNING, Motion.STOPPED, Motion.UNKNOWN
ISOLATED, NONE, CONFLICT = Isolation.ISOLATED, Isolation.NONE_RECORDED, Isolation.CONFLICT

# lines -> motion, reason, isolation, owners of the locks, codes
CASES: list[tuple[list[str], Motion, Reason | None, Isolation, list[str], list[str]]] = [
    ([], UNKNOWN, None, NONE, [], []),
    (["22:10 A07 stopped"], STOPPED, None, NONE, [], []),
    (["22:10 A07 stopped for warp"], STOPPED, Reason.WARP, NONE, [], []),
    (["22:10 A07 stopped for warp", "22:20 A07 running slow"], RUNNING, None, NONE, [], []),
    (["22:10 A07 stopped for warp", "22:20 A07 stopped for part"], STOPPED, Reason.PART, NONE, [], []),
    (["22:10 A07 isolated by KM lock 14"], STOPPED, None, ISOLATED, ["KM"], []),
    (["22:05 A07 running", "22:10 A07 isolated by KM"], STOPPED, None, ISOLATED, ["KM"], []),
    (["22:05 A07 stopped for weft", "22:10 A07 isolated by KM"], STOPPED, Reason.WEFT, ISOLATED, ["KM"], []),
    (["22:10 A07 isolated by KM", "22:11 A07 isolated by km lock 9"], STOPPED, None, ISOLATED, ["KM"], []),
    (["22:10 A07 isolated by KM", "22:11 A07 isolated by RB"], STOPPED, None, ISOLATED, ["KM", "RB"], []),
    (["22:10 A07 isolated by KM; isolated by RB; lock removed by KM"], STOPPED, None, ISOLATED, ["RB"], []),
    (["22:10 A07 isolated by KM; isolated by RB", "22:30 A07 lock removed by RB", "22:31 A07 lock removed by KM"], STOPPED, None, NONE, [], []),
    (["22:10 A07 isolated by KM", "22:30 A07 lock removed by RB"], STOPPED, None, ISOLATED, ["KM"], ["no-lock"]),
    (["22:10 A07 isolated by KM", "22:30 A07 lock removed by RB for KM"], STOPPED, None, NONE, [], []),
    (["22:10 A07 isolated by KM", "22:30 A07 lock removed by KM for RB"], STOPPED, None, ISOLATED, ["KM"], ["no-lock"]),
    (["22:10 A07 lock seen by RB"], UNKNOWN, None, NONE, [], ["no-lock"]),
    (["22:10 A07 isolated by KM", "22:30 A07 running"], RUNNING, None, CONFLICT, ["KM"], ["running-while-isolated"]),
    (["22:10 A07 isolated by KM", "22:30 A07 running", "22:31 A07 stopped"], STOPPED, None, ISOLATED, ["KM"], ["running-while-isolated"]),
    (["22:10 A07 isolated by KM", "22:30 A07 running", "22:31 A07 lock removed by KM"], RUNNING, None, NONE, [], ["running-while-isolated"]),
    (["22:10 A07 isolated by KM; isolated by RB", "22:30 A07 running", "22:31 A07 lock removed by KM"], RUNNING, None, CONFLICT, ["RB"], ["running-while-isolated"]),
    (["22:10 A07 isolated by KM", "22:30 A07 running", "22:31 A07 isolated by RB"], STOPPED, None, CONFLICT, ["KM", "RB"], ["running-while-isolated"]),
    (["22:10 A07 isolated by KM", "22:30 A running"], STOPPED, None, ISOLATED, ["KM"], ["running-while-isolated"]),
    (["22:10 A07 isolated by KM", "22:30 shed stopped for power"], STOPPED, Reason.POWER, ISOLATED, ["KM"], []),
]  # fmt: skip


@pytest.mark.parametrize(
    ("lines", "motion", "reason", "isolation", "owners", "complaints"),
    CASES,
    ids=[" / ".join(case[0]) or "nothing" for case in CASES],
)
def test_lines_to_state(
    lines: list[str],
    motion: Motion,
    reason: Reason | None,
    isolation: Isolation,
    owners: list[str],
    complaints: list[str],
) -> None:
    shed = night(*lines)
    state = loom(shed)
    assert (state.motion, state.stopped_for, state.isolation) == (motion, reason, isolation)
    assert [lock.by for lock in state.locks] == owners
    assert codes(shed) == complaints


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        (["lock 14", "lock 15"], "lock 14; lock 15"),  # it may be a second padlock
        (["lock 14", "", "LOCK 14"], "lock 14"),
        (["", "lock 14"], "lock 14"),
        (["lock 1", "lock 2", "lock 1"], "lock 1; lock 2"),
        ([f"lock {n}" for n in range(1, 8)], "lock 1; lock 5; lock 6; lock 7"),
    ],
)
def test_a_lock_keeps_its_first_time_and_all_its_words(said: list[str], kept: str) -> None:
    lines = (f"22:{n + 10} A07 isolated by KM {text}" for n, text in enumerate(said))
    (lock,) = loom(night(*lines)).locks
    assert (lock.since, lock.text) == (at("2026-11-24 22:10"), kept)


def test_lock_seen_marks_every_lock_and_ends_none() -> None:
    state = loom(night("22:10 A07 isolated by KM; isolated by RB", "23:00 A07 lock seen by TN"))
    assert [(k.seen.by, k.seen.when) for k in state.locks if k.seen] == [
        ("TN", at("2026-11-24 23:00"))
    ] * 2


def test_a_removal_for_someone_else_stays_visible() -> None:
    state = loom(night("22:10 A07 isolated by KM", "22:30 A07 lock removed by RB for KM"))
    assert [(r.by, r.owner) for r in state.removed_for_others] == [("RB", "KM")]
    own = loom(night("22:10 A07 isolated by KM", "22:30 A07 lock removed by KM for km"))
    assert own.removed_for_others == ()


def test_removals_for_others_are_kept_for_a_year_and_not_for_ever() -> None:
    """A state is taken up at every look; it must not grow with the years."""
    days = ("2024-01-10", "2025-11-01", "2026-03-05", "2026-11-24")
    shed = read(
        {
            "a.log": "".join(
                f"{day}T0{hour}:00 A07 {words}\n"
                for day in days
                for hour, words in ((6, "isolated by KM"), (7, "lock removed by RB for KM"))
            )
        }
    )
    assert [f"{r.when:%Y-%m-%d}" for r in loom(shed).removed_for_others] == list(days[1:])


def test_a_seen_lock_that_nobody_recorded_stands_among_what_may_isolate() -> None:
    shed = night("22:10 A07 lock seen by RB")
    assert [m.text for m in shed.fleet.may_isolate] == ["22:10 A07 lock seen by RB"]
    struck = night("22:10 A07 lock seen by RB", "22:20 A07 struck 22:10 wrong loom")
    assert struck.fleet.may_isolate == ()


def test_a_stop_lasts_over_a_new_reason_and_a_new_style() -> None:
    state = loom(night("22:10 A07 stopped for warp", "22:40 A07 stopped for part; style 7"))
    assert state.motion_since == at("2026-11-24 22:10")
    assert state.spell_since == at("2026-11-24 22:40")


def test_a_spell_ends_where_motion_reason_or_style_changes() -> None:
    shed = night(
        "22:10 A07 running; style 7",
        "22:30 A07 stopped for warp",
        "22:40 A07 stopped for warp",
        "22:50 A07 stopped for part",
        "23:00 A07 running",
        "23:30 A07 style 8",
    )
    spells = [(s.motion, s.start, s.end, s.reason, s.style) for s in shed.fleet.history.spells]
    t = {m: at(f"2026-11-24 {m}") for m in ("22:10", "22:30", "22:50", "23:00", "23:30")}
    assert spells == [
        (RUNNING, t["22:10"], t["22:10"], None, None),  # the style came a word later
        (RUNNING, t["22:10"], t["22:30"], None, "7"),
        (STOPPED, t["22:30"], t["22:50"], Reason.WARP, "7"),
        (STOPPED, t["22:50"], t["23:00"], Reason.PART, "7"),
        (RUNNING, t["23:00"], t["23:30"], None, "7"),
    ]


def test_a_style_said_again_is_no_change() -> None:
    shed = night("22:10 A07 style 4410", "23:10 A07 style 4410")
    assert loom(shed).style_since == at("2026-11-24 22:10")
    assert len(shed.fleet.history.styles) == 1


def test_a_groups_running_names_every_isolated_loom_in_one_complaint() -> None:
    shed = night("22:10 A07 isolated by KM", "22:11 A02 isolated by RB", "22:30 A running")
    (complaint,) = shed.complaints
    assert complaint.diagnostic.message.startswith("A02, A07 are isolated on record")
    assert [loom(shed, name).motion for name in ("A01", "A02", "A07", "B01")] == [
        RUNNING, STOPPED, STOPPED, UNKNOWN,
    ]  # fmt: skip


def test_a_running_in_an_entry_before_its_isolation_is_no_conflict() -> None:
    assert loom(night("22:10 A07 running; isolated by KM")).isolation is ISOLATED
    assert loom(night("22:10 A07 isolated by KM; running")).isolation is CONFLICT


def test_every_refused_line_with_an_isolation_still_isolates() -> None:
    shed = night("22:10 A07 isolated by KM; left tpae thickness 2 mm")
    assert loom(shed).isolation is ISOLATED
    assert [m.line for m in shed.fleet.may_isolate] == [2]
    removed = night(
        "22:10 A07 isolated by KM; left tpae thickness 2 mm", "22:30 A07 lock removed by KM"
    )
    assert removed.fleet.may_isolate == ()


@pytest.mark.parametrize(
    "line",
    [
        "22:40 A07 isolated by KM lock 14; isolatd by RB lock 15",
        "22:40 A07 isolated by KM lock 14; RB lock 15",
        "22:40 A07 isolated by KM, isolated by RB lock 15",
        "22:40 A07 isolated by KM lock 14, RB lock 15",
        "22:40 A07 isolated by KM; note isolated by RB",
    ],
)
@pytest.mark.parametrize("before", [[], ["22:10 A07 isolated by KM lock 14"]])
def test_a_line_that_may_hide_another_lock_stays_when_one_of_it_comes_off(
    line: str, before: list[str]
) -> None:
    shed = night(*before, line)
    assert [m.text for m in shed.fleet.may_isolate] == [line]
    removed = night(*before, line, "23:00 A07 lock removed by KM; running")
    assert loom(removed).isolation is NONE
    assert [m.text for m in removed.fleet.may_isolate] == [line]


def test_a_lock_below_its_removal_is_asked_for_as_a_heading_may_be_missing() -> None:
    forgotten = (
        "22:40 A07 isolated by KM",
        "23:10 A07 lock removed by KM; running",
        "22:45 A07 isolated by KM",  # on the evening of the 25th
    )
    shed = night(*forgotten, now="2026-11-26 05:59")
    assert loom(shed).isolation is NONE
    assert codes(shed) == ["isolated-below"]
    assert [m.line for m in shed.fleet.may_isolate] == [4]
    assert night(*forgotten, now="2026-11-27 05:59").fleet.may_isolate == ()
    in_order = night(
        "22:40 A07 isolated by KM", "22:45 A07 isolated by KM", "23:10 A07 lock removed by KM"
    )
    assert (codes(in_order), in_order.fleet.may_isolate) == ([], ())
    other = read(
        {"a.log": "day 2026-11-24 night\n23:10 A07 lock removed by KM\n",
         "b.log": "day 2026-11-24 night\n22:40 A07 isolated by KM\n"},
        "2026-11-25 06:00",
    )  # fmt: skip
    assert codes(other) == []  # what stands in another log tells nothing of an order


@pytest.mark.parametrize("time", ["22:10", "22:40", "22:45", "22:55"])
def test_a_lock_below_its_removal_may_have_any_time_before_it(time: str) -> None:
    shed = night(
        "22:30 A07 isolated by KM; by RB",
        "22:50 A07 isolated by KM; by RB",
        "23:10 A07 lock removed by TN for KM; by TN",
        f"{time} A07 isolated by KM; by JO",  # on the next evening
    )
    assert codes(shed) == ["isolated-below"]
    assert [(m.line, m.by) for m in shed.fleet.may_isolate] == [(5, "JO")]  # who wrote it is asked


def test_a_line_in_another_log_hides_no_lock_below_its_removal() -> None:
    shed = read(
        {"a.log": "day 2026-11-24 night\n22:30 A07 isolated by KM\n23:10 A07 lock removed by KM\n"
                  "22:40 A07 isolated by KM\n",
         "b.log": "day 2026-11-24 night\n22:55 A07 isolated by KM\n"},
        "2026-11-25 06:00",
    )  # fmt: skip
    assert [(m.path, m.line) for m in shed.fleet.may_isolate] == [("a.log", 4)]


@pytest.mark.parametrize("writers", ["by RB; by TN", "by RB; by RB; by TN"])
def test_the_lock_of_a_line_with_two_writers_counts(writers: str) -> None:
    shed = night(f"22:40 A07 isolated by KM lock 14; {writers}", "22:50 A07 running; by QX")
    (lock,) = loom(shed).locks
    assert (lock.by, loom(shed).isolation) == ("KM", Isolation.CONFLICT)


def test_a_refused_line_takes_no_lock_off() -> None:
    shed = night("22:10 A07 isolated by KM", "22:30 A07 lock removed by KM; left tpae gone")
    assert loom(shed).isolation is ISOLATED


def test_silence_is_measured_from_the_last_line_that_speaks_of_the_loom() -> None:
    shed = night("22:10 A07 running", "22:30 A07 done no 9 nothing", "23:00 shed note quiet")
    assert codes(shed) == ["no-such-action"]
    assert loom(shed).last_entry == at("2026-11-24 22:30")
    assert loom(shed, "A01").last_entry is None
    assert shed.fleet.last_entry == at("2026-11-24 23:00")
    assert loom(night("22:10 A stopped for power"), "A01").last_entry == at("2026-11-24 22:10")


def test_a_struck_line_breaks_no_silence_and_its_strike_does() -> None:
    shed = night("22:30 A07 note hm", "22:10 A07 running", "22:20 A07 struck 22:30 wrong loom")
    assert loom(shed).last_entry == at("2026-11-24 22:20")


def test_isolations_of_several_files_stand_together() -> None:
    shed = read(
        {
            "b.log": "day 2026-11-24 night by RB\n23:10 A07 isolated by RB\n",
            "a.log": "day 2026-11-24 night by KM\n22:10 A07 isolated by KM\n",
        }
    )
    assert [k.by for k in loom(shed).locks] == ["KM", "RB"]
