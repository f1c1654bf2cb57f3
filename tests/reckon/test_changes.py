"""What is new since a moment, and what is looked at first; worked out by hand from the lines."""

from __future__ import annotations

import pytest

from board.reckon.changes import changed_since, reason_since
from board.reckon.first_looks import FirstKind, FirstLook, look_first, shared_out
from board.reckon.summary import Summary, summarise
from tests.state.shed import at, night, read


def summed(*lines: str, now: str = "2026-11-25 06:00") -> Summary:
    return summarise(night(*lines, now=now))


def words(summary: Summary, since: str) -> list[tuple[str, str, str]]:
    return [(c.loom, c.what, c.words) for c in changed_since(summary, at(since))]


def test_changes_stand_newest_first_and_in_their_own_words() -> None:
    summary = summed(
        "22:10 A01 running",  # what runs is no change to tell
        "22:20 A01 fault left head drops weft",
        "22:30 A02 isolated by KM lock 14",
        "22:40 A03 stopped for part",
        "22:45 A03 stopped for warp",  # waiting is told elsewhere
        "22:50 A04 stopped for other",
        "23:00 A05 replaced left tape worn",
        "23:10 A05 open no 4 oil the cam",
        "23:20 A05 done no 4 oiled",
        "23:30 A06 style 4410",
        "23:40 A01 fault cleared new clamp",
        "23:50 A07 cleaned left head",
    )
    assert words(summary, "2026-11-24 22:00") == [
        ("A01", "fault cleared", "cleared left head drops weft: new clamp"),
        ("A06", "style", "style 4410"),
        ("A05", "done", "done no 4 oil the cam"),
        ("A05", "job", "replaced left tape worn"),
        ("A04", "stopped", "stopped for other"),
        ("A02", "isolated", "isolated by KM lock 14"),
    ]


def test_the_minute_of_the_taking_over_itself_is_new() -> None:
    summary = summed("22:05 A02 isolated by KM", "22:05 A03 fault noisy")
    assert {x[0] for x in words(summary, "2026-11-24 22:05")} == {"A02", "A03"}
    assert words(summary, "2026-11-24 22:06") == []


def test_a_loom_that_stood_and_runs_again_is_a_change() -> None:
    summary = summed(
        "22:10 A01 stopped for fault",
        "22:10 A02 stopped for warp",  # a loom that waited is no news
        "22:10 A03 stopped for part",
        "22:10 A04 isolated by KM",
        "22:10 A05 running",
        "22:10 A06 stopped",
        "22:10 A07 stopped for warp",
        "22:10 A08 isolated by KM",
        "22:20 A06 running",  # before it
        "22:40 A07 stopped for fault",
        "23:00 A01 running on trial",
        "23:00 A01 style 4410",
        "23:10 A02 running",
        "23:20 A03 stopped for fault",
        "23:30 A03 running",
        "23:40 A04 lock removed by KM; running",
        "23:45 A05 stopped for fault",  # stood for a while since then
        "23:50 A05 running",
        "23:55 A07 running",
        "23:56 A08 running",  # a conflict is told elsewhere
    )
    told = [x for x in words(summary, "2026-11-24 22:30") if x[1] == "running"]
    assert told == [
        ("A07", "running", "running again, was stopped for fault"),
        ("A04", "running", "running again, was stopped"),
        ("A03", "running", "running again, was stopped for fault"),
        ("A01", "running", "running again, was stopped for fault on trial"),
    ]


def test_a_lock_that_was_on_and_is_off_again_is_a_change() -> None:
    summary = summed(
        "22:10 A01 isolated by KM lock 14",
        "22:10 A02 isolated by KM",
        "22:10 A02 isolated by RB",
        "22:10 A03 isolated by KM",
        "23:10 A01 lock removed by km",  # the same person
        "23:20 A02 lock removed by RB",  # the other lock is still on
        "23:30 A03 lock removed by RB for KM",
        "23:40 A04 isolated by TN",  # put on and taken off since: nothing is new
        "23:50 A04 lock removed by TN",
        "23:50 A04 running",
        "23:55 A01 isolated by KM",  # and on again
    )
    assert words(summary, "2026-11-24 22:30") == [
        ("A01", "isolated", "isolated by KM"),
        ("A03", "lock removed", "lock of KM removed by RB"),
        ("A02", "lock removed", "lock removed by RB"),
        ("A01", "lock removed", "lock removed by km"),
    ]
    assert [x for x in words(summary, "2026-11-24 22:10") if x[1] == "lock removed"] == [
        ("A03", "lock removed", "lock of KM removed by RB")
    ]


def test_a_lock_written_for_later_is_a_change() -> None:
    summary = summed("2026-11-25T07:30 A02 isolated by KM")
    assert words(summary, "2026-11-25 05:00") == [("A02", "isolated", "isolated by KM")]


def test_of_one_section_its_changes_and_those_of_groups() -> None:
    lines = ("22:10 A01 fault noisy", "22:20 B01 fault hot", "22:30 shed open sweep")
    only = summarise(night(*lines), section="B")
    assert [x[0] for x in words(only, "2026-11-24 22:00")] == ["shed", "B01"]


# -- what is looked at first ---------------------------------------------------------------


def looks(summary: Summary) -> list[tuple[str, str, str]]:
    return [
        (i.kind.value, i.loom, i.words)
        for i in look_first(summary)
        if i.kind is not FirstKind.SILENT
    ]


def test_each_part_and_writer_has_a_row_for_what_is_not_proved() -> None:
    summary = summed(
        "22:00 A08 replaced left guide 1",
        "22:05 A08 replaced right guide 4; by TN",
        "22:10 A08 checked brake bad; by RB",  # of no part, and of no job
    )
    assert looks(summary) == [
        ("PROOF", "A08", "left guide 1: checked alignment missing, job by KM"),
        ("PROOF", "A08", "right guide 4: checked alignment missing, job by TN"),
        ("PROOF", "A08", "checked brake FAILED, found bad, by RB"),
    ]


def test_kinds_in_their_order_and_the_worst_first() -> None:
    summary = summed(
        "22:00 A01 stopped for warp",
        "22:01 A02 stopped for warp; fault left head noisy",  # the fault is what matters
        "22:02 A03 stopped",
        "22:03 A04 stopped for other",
        "22:04 A05 running; fault right head loses weft",
        "22:05 A06 left tape 2.30 mm",  # past by more than 0.03
        "22:06 A07 left tape 2.44 mm",  # at the limit
        "22:07 A08 replaced left guide 1",
        "22:08 A09 stopped for laid-up; fault left head noisy",  # out of use
        "22:09 B01 isolated by KM",  # stands above this list
    )
    assert looks(summary) == [
        ("FAULT", "A05", "running with open fault: right head loses weft"),
        ("WORN", "A06", "left tape thickness"),
        ("WORN", "A07", "left tape thickness"),
        ("PROOF", "A08", "left guide 1: checked alignment missing, job by KM"),
        ("STOPPED", "A02", "for warp  left head noisy"),
        ("STOPPED", "A03", ""),
        ("STOPPED", "A04", "for other"),
        ("WAITING", "A01", "for warp"),
    ]


@pytest.mark.parametrize(
    ("starts", "told"),
    [
        ((), "left head noisy"),
        (("2026-11-23T12:00",), "left head noisy, 2nd time in 2 days"),  # 34 h and a bit
        (("2026-11-19T00:00", "2026-11-22T00:00"), "left head noisy, 3rd time in 6 days"),
        (("2026-11-10T22:29",), "left head noisy"),  # 14 days and a minute ago
        (("2026-11-10T22:30",), "left head noisy, 2nd time in 14 days"),
    ],
)
def test_how_often_a_fault_came_again(starts: tuple[str, ...], told: str) -> None:
    lines = [f"{s} A07 fault left head noisy\n{s[:-1]}9 A07 fault cleared\n" for s in starts]
    lines.append("2026-11-24T22:30 A07 running; fault left head noisy\n")
    summary = summarise(read({"a.log": "".join(lines)}, "2026-11-25 06:00"))
    assert [x[2] for x in looks(summary)] == [f"running with open fault: {told}"]


def test_another_side_or_a_fault_still_open_is_no_repeat() -> None:
    summary = summed(
        "22:10 A07 fault right head noisy",
        "22:20 A07 fault cleared",
        "22:30 A07 fault left head noisy",
    )
    assert [x[2] for x in looks(summary)] == ["motion unknown with open fault: left head noisy"]


def test_a_stop_is_told_since_its_present_reason() -> None:
    lines = ("22:00 A07 stopped for warp", "23:00 A07 stopped for fault", "23:30 A07 style 4410")
    summary = summed(*lines)
    assert reason_since(summary, summary.loom("A07").state) == at("2026-11-24 23:00")
    (item,) = [i for i in look_first(summary) if i.kind is FirstKind.STOPPED]
    assert (item.words, item.since) == ("for fault", at("2026-11-24 23:00"))


# -- quotas --------------------------------------------------------------------------------


def many(**counts: int) -> tuple[FirstLook, ...]:
    return tuple(
        FirstLook(kind=FirstKind[kind], loom=f"{kind[0]}{n:02}", words="", rank=float(n))
        for kind, count in counts.items()
        for n in range(count)
    )


@pytest.mark.parametrize(
    ("rows", "kept"),
    [
        (0, []),
        (2, ["W00", "S00"]),
        (4, ["W00", "W01", "S00", "S01"]),
        (7, ["W00", "W01", "S00", "S01", "S02", "S03", "S04"]),  # no worn one is left
        (99, None),
    ],
)
def test_many_stopped_looms_leave_room_for_the_worn_ones(rows: int, kept: list[str] | None) -> None:
    items = many(WORN=2, STOPPED=22)
    shown, left = shared_out(items, rows)
    assert [i.loom for i in shown] == (kept if kept is not None else [i.loom for i in items])
    assert len(shown) + len(left) == 24
    assert set(shown).isdisjoint(left)


def test_waits_and_silence_join_the_shared_rows_in_later_turns() -> None:
    def item(kind: FirstKind, loom: str) -> FirstLook:
        return FirstLook(kind=kind, loom=loom, words="", rank=0.0)

    items = (
        *(item(FirstKind.WORN, f"A{n}") for n in range(5)),
        item(FirstKind.STOPPED, "B1"),
        *(item(FirstKind.SILENT, f"C{n}") for n in range(2)),
        *(item(FirstKind.WAITING, f"D{n}") for n in range(4)),
    )
    kept, left = shared_out(items, 6)
    assert [i.loom for i in kept] == ["A0", "A1", "A2", "B1", "C0", "C1"]
    assert {i.loom for i in left} == {"A3", "A4", "D0", "D1", "D2", "D3"}
