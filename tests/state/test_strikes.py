"""Struck entries: which one is meant, and what is left of it."""

from __future__ import annotations

import pytest

from board.state.fleet import Isolation, Motion
from tests.state.shed import at, codes, loom, night, read

ISOLATED, NONE, CONFLICT = Isolation.ISOLATED, Isolation.NONE_RECORDED, Isolation.CONFLICT


def test_a_struck_reading_no_longer_counts_and_stays_visible() -> None:
    shed = night("22:55 A07 left tape 2.10 mm", "23:05 A07 struck 22:55 read the wrong tape")
    assert loom(shed).parts == {}
    struck, strike = shed.entries
    assert struck.struck_by == strike.source
    assert struck.struck_for == frozenset({"A07"})


@pytest.mark.parametrize(
    ("lines", "isolation"),
    [
        (["22:10 A07 isolated by KM", "22:20 A07 struck 22:10 wrong loom"], ISOLATED),
        (["22:10 A07 stopped for part; isolated by KM", "22:20 A07 struck 22:10 wrong"], ISOLATED),
        (["22:10 A07 isolated by KM", "22:15 A07 lock removed by KM", "22:20 A07 struck 22:15 not yet"], ISOLATED),
        (["22:10 A07 isolated by KM", "22:15 A07 lock removed by KM", "22:20 A07 struck 22:10 wrong"], NONE),
        (["22:10 A07 isolated by KM", "22:15 A07 running", "22:20 A07 struck 22:15 wrong loom"], ISOLATED),
        (["22:10 A07 isolated by KM", "22:15 A07 running", "22:17 A07 stopped", "22:20 A07 struck 22:17 no"], CONFLICT),
        (["22:10 A07 isolated by KM", "22:15 A07 lock removed by KM; running", "22:20 A07 struck 22:15 no"], ISOLATED),
    ],
)  # fmt: skip
def test_striking_never_ends_an_isolation_and_restores_a_lock(
    lines: list[str], isolation: Isolation
) -> None:
    shed = night(*lines)
    assert loom(shed).isolation is isolation
    assert [c for c in codes(shed) if c != "running-while-isolated"] == []


# lines, codes
WHICH = [
    (["22:55 A07 note a", "23:05 A07 struck 22:54 none"], ["which-entry"]),
    (["22:55 A08 note a", "23:05 A07 struck 22:55 other loom"], ["which-entry"]),
    (["22:55 A07 note a", "22:55 A07 note b", "23:05 A07 struck 22:55 two"], ["which-entry"]),
    (["22:55 A07 note a", "23:05 A07 struck 22:55 a", "23:10 A07 struck 23:05 not so"], ["which-entry"]),
    (["22:55 A07 note a", "22:55 A07 struck 22:55 a"], []),
    (["22:55 A07 note a", "22:55 A07 struck 22:55 a; left tape 2.9 mm"], []),
    (["22:55 A07 note a", "2026-11-24T22:55:30 A07 note b", "23:05 A07 struck 2026-11-24T22:55:30 b"], []),
    (["22:55 A07 note a", "23:05 A07 struck 2026-11-24T22:55 a"], []),
    (["22:55 A07 left tpae 2 mm", "22:55 A07 note a", "23:05 A07 struck 22:55 the note"], ["unknown-part"]),
    (["22:55 A07 left tpae 2 mm", "23:05 A07 struck 22:55 was refused"], ["unknown-part", "which-entry"]),
    (["22:55 A07 isolated by KM; left tpae 2 mm", "23:05 A07 struck 22:55 was refused"], ["unknown-part", "which-entry"]),
    (["22:55 A stopped", "22:55 A07 note own", "23:05 A07 struck 22:55 own"], []),
]  # fmt: skip


@pytest.mark.parametrize(("lines", "complaints"), WHICH, ids=[" / ".join(w[0]) for w in WHICH])
def test_which_entry_is_struck(lines: list[str], complaints: list[str]) -> None:
    assert codes(night(*lines)) == complaints


def test_a_line_with_a_strike_and_more_may_be_struck_and_strikes_all_the_same() -> None:
    shed = night(
        "22:55 A07 left tape 2.10 mm",
        "23:05 A07 struck 22:55 wrong; left tape 2.20 mm",
        "23:10 A07 struck 23:05 wrong again",
    )
    assert loom(shed).parts == {}
    assert [x.struck_by is not None for x in shed.entries] == [True, True, False]


def test_a_groups_entry_is_struck_for_one_loom() -> None:
    shed = night("22:10 A running", "22:20 A03 struck 22:10 stood")
    assert loom(shed, "A03").motion is Motion.UNKNOWN
    assert loom(shed, "A04").motion is Motion.RUNNING


def test_a_strike_counts_when_its_own_time_has_come() -> None:
    lines = ("22:10 A07 running", "22:50 A07 struck 22:10 wrong loom")
    assert loom(night(*lines, now="2026-11-24 22:30")).motion is Motion.RUNNING
    assert loom(night(*lines, now="2026-11-24 22:50")).motion is Motion.UNKNOWN


def test_an_entry_later_than_now_may_be_struck() -> None:
    lines = ("05:50 A07 left tape 2.50 mm", "23:50 A07 struck 05:50 wrong time")
    assert codes(night(lines[0], now="2026-11-25 00:00")) == ["in-the-future"]
    assert codes(night(*lines, now="2026-11-25 00:00")) == []
    shed = night(*lines, now="2026-11-25 07:00")
    assert (codes(shed), loom(shed).parts) == ([], {})


def test_a_later_isolation_stands_though_its_line_is_struck() -> None:
    shed = night(
        "05:50 A07 isolated by KM", "23:50 A07 struck 05:50 wrong time", now="2026-11-25 00:00"
    )
    assert loom(shed).isolation is ISOLATED
    assert codes(shed) == ["in-the-future"]


def test_a_strike_from_another_file_and_shift() -> None:
    shed = read(
        {
            "a.log": "day 2026-11-23 night by KM\n22:55 A07 left tape 2.10 mm\n",
            "b.log": "day 2026-11-24 night by RB\n22:10 A07 struck 2026-11-23T22:55 wrong tape\n",
        }
    )
    assert loom(shed).parts == {}
    assert shed.entries[0].struck_by is not None
    assert loom(shed).last_entry == at("2026-11-24 22:10")
