"""Value, limit, margin and word of measured parts; every number worked out by hand.

The register: tape 3.20 new, 2.45 to replace, U 0.03; guide gap 0.12 new, 0.40 to replace, U 0.02;
belt 61 new, band 47 to 68, U 1. Near is the last 20 % of new-to-limit: the tape's from 2.60 on.
"""

from __future__ import annotations

import pytest

from board.reckon.margins import WearLine, wear_lines
from board.reckon.summary import summarise
from board.state.shifts import ShiftCalendar
from board.state.usage import clocks
from tests.state.shed import NIGHT, REGISTER, night, read

PAST, AT, NEAR, WITHIN = "PAST LIMIT", "AT LIMIT", "near limit", "within limit"
GAUGE_PAST, GAUGE_WITHIN, NEITHER = "gauge past", "gauge within", "gauge says neither"


def measured(*lines: str, register: str = REGISTER, loom: str = "A07") -> tuple[WearLine, ...]:
    """The wear lines of a loom without forecasts."""
    shot = night(*lines, register=register)
    calendar = ShiftCalendar(shot.mill.shifts, shot.mill.zone)
    use = clocks(shot.fleet, shot.mill)
    return wear_lines(shot.fleet, shot.mill, use, calendar)[loom]


def one(*lines: str, register: str = REGISTER) -> WearLine:
    (line,) = measured(*lines, register=register)
    return line


@pytest.mark.parametrize(
    ("reading", "word", "margin"),
    [
        ("left tape 3.20 mm", WITHIN, 0.75),
        ("left tape 2.61 mm", WITHIN, 0.16),
        ("left tape 2.60 mm", NEAR, 0.15),  # 20 % of 0.75
        ("left tape 2.49 mm", NEAR, 0.04),
        ("left tape 2.48 mm", AT, 0.03),  # within U of the limit, on either side
        ("left tape 2.45 mm", AT, 0.0),
        ("left tape 2.42 mm", AT, -0.03),
        ("left tape 2.41 mm", PAST, -0.04),
        ("left guide 1 gap 0.34 mm", WITHIN, 0.06),  # near from 0.056 on
        ("left guide 1 gap 0.35 mm", NEAR, 0.05),
        ("left guide 1 gap 0.42 mm", AT, -0.02),
        ("left guide 1 gap 0.43 mm", PAST, -0.03),
        # a band: the nearer limit counts; from new the nearer one is 7 away, near is 1.4
        ("belt 61 Hz", WITHIN, 7.0),
        ("belt 49 Hz", WITHIN, 2.0),
        ("belt 48.2 Hz", NEAR, 1.2),
        ("belt 66.8 Hz", NEAR, 1.2),
        ("belt 48 Hz", AT, 1.0),
        ("belt 68.5 Hz", AT, -0.5),
        ("belt 45.9 Hz", PAST, -1.1),
        ("belt 69.1 Hz", PAST, -1.1),
    ],
)
def test_word_and_margin(reading: str, word: str, margin: float) -> None:
    line = one(f"22:10 A07 {reading}")
    assert line.word.value == word
    assert line.margin == pytest.approx(margin, abs=1e-9)


@pytest.mark.parametrize(
    ("reading", "limit", "worn"),
    [
        ("left tape 2.90 mm", 2.45, 0.4),  # 0.30 of 0.75
        ("left tape 3.30 mm", 2.45, 0.0),  # thicker than new: nothing worn
        ("left tape 2.30 mm", 2.45, 1.2),
        ("left guide 1 gap 0.26 mm", 0.40, 0.5),
        ("belt 54 Hz", 47.0, 0.5),  # slackened by 7 of 14
        ("belt 64.5 Hz", 68.0, 0.5),  # tightened by 3.5 of 7
    ],
)
def test_share_of_the_way_from_new(reading: str, limit: float, worn: float) -> None:
    line = one(f"22:10 A07 {reading}")
    assert line.limit == limit
    assert line.worn == pytest.approx(worn)


@pytest.mark.parametrize(
    ("verdict", "word"),
    [
        # a gap: what enters bounds it from below, what stays out from above
        ("left guide 1 gap gauge 0.40 mm enters", GAUGE_PAST),
        ("left guide 1 gap gauge 0.50 mm enters", GAUGE_PAST),
        ("left guide 1 gap gauge 0.30 mm enters", NEITHER),
        ("left guide 1 gap gauge 0.40 mm stays out", GAUGE_WITHIN),
        ("left guide 1 gap gauge 0.50 mm stays out", NEITHER),
        # a thickness in a slot: what enters bounds it from above
        ("left tape gauge 2.45 mm enters", GAUGE_PAST),
        ("left tape gauge 2.60 mm enters", NEITHER),
        ("left tape gauge 2.45 mm stays out", GAUGE_WITHIN),
    ],
)
def test_a_gauge_gives_a_verdict_and_no_margin(verdict: str, word: str) -> None:
    line = one(f"22:10 A07 {verdict}")
    assert line.word.value == word
    assert line.margin is None
    assert line.worn is None


# what a gap of 0.40 to replace is told by, and which word then stands, by which reading
G = "left guide 1 gap"
SEVERAL: list[tuple[list[str], str, float]] = [
    # what decides nothing takes no "past" away, in whatever order
    ([f"{G} gauge 0.42 mm enters", f"{G} gauge 0.45 mm stays out"], GAUGE_PAST, 0.42),
    ([f"{G} gauge 0.45 mm stays out", f"{G} gauge 0.42 mm enters"], GAUGE_PAST, 0.42),
    ([f"{G} gauge 0.42 mm enters; {G} gauge 0.45 mm stays out"], GAUGE_PAST, 0.42),
    ([f"{G} gauge 0.45 mm stays out; {G} gauge 0.42 mm enters"], GAUGE_PAST, 0.42),
    ([f"{G} 0.30 mm", f"{G} gauge 0.42 mm enters", f"{G} gauge 0.45 mm stays out"], GAUGE_PAST, 0.42),
    ([f"{G} gauge 0.42 mm enters", f"{G} gauge 0.30 mm enters"], GAUGE_PAST, 0.42),
    ([f"{G} gauge 0.42 mm enters", f"{G} gauge 0.41 mm stays out"], GAUGE_PAST, 0.42),
    # in one minute past goes before within, whichever is written first
    ([f"{G} gauge 0.42 mm enters; {G} gauge 0.38 mm stays out"], GAUGE_PAST, 0.42),
    ([f"{G} gauge 0.38 mm stays out; {G} gauge 0.42 mm enters"], GAUGE_PAST, 0.42),
    # later the newest that decides stands
    ([f"{G} gauge 0.42 mm enters", f"{G} gauge 0.38 mm stays out"], GAUGE_WITHIN, 0.38),
    ([f"{G} gauge 0.38 mm stays out", f"{G} gauge 0.42 mm enters"], GAUGE_PAST, 0.42),
    ([f"{G} 0.30 mm", f"{G} gauge 0.42 mm enters", f"{G} gauge 0.40 mm stays out"], GAUGE_WITHIN, 0.40),
    # a "within" stands until the part has worn on, and then takes no "past" away either
    ([f"{G} gauge 0.38 mm stays out", f"{G} gauge 0.45 mm stays out"], GAUGE_WITHIN, 0.38),
    ([f"{G} gauge 0.35 mm stays out", f"{G} gauge 0.30 mm enters"], GAUGE_WITHIN, 0.35),
    ([f"{G} gauge 0.35 mm stays out", f"{G} gauge 0.35 mm enters"], GAUGE_WITHIN, 0.35),
    ([f"{G} gauge 0.35 mm stays out", f"{G} gauge 0.36 mm enters"], NEITHER, 0.36),
    ([f"{G} gauge 0.39 mm stays out", f"{G} gauge 0.35 mm stays out", f"{G} gauge 0.36 mm enters"], NEITHER, 0.36),
    ([f"{G} gauge 0.42 mm enters", f"{G} gauge 0.35 mm stays out", f"{G} gauge 0.36 mm enters"], GAUGE_PAST, 0.42),
    ([f"{G} 0.30 mm", f"{G} gauge 0.35 mm stays out", f"{G} gauge 0.36 mm enters"], NEITHER, 0.36),
    ([f"{G} 0.45 mm", f"{G} gauge 0.35 mm stays out", f"{G} gauge 0.36 mm enters"], PAST, 0.45),
    # where none decides the value stands, unless a newer verdict shows the part worse
    ([f"{G} 0.30 mm", f"{G} gauge 0.32 mm enters"], NEITHER, 0.32),
    ([f"{G} 0.30 mm", f"{G} gauge 0.32 mm enters", f"{G} gauge 0.45 mm stays out"], NEITHER, 0.32),
    ([f"{G} 0.30 mm", f"{G} gauge 0.45 mm stays out"], WITHIN, 0.30),
    # and one at or past its limit in any case, but for a verdict that decides
    ([f"{G} 0.45 mm", f"{G} gauge 0.42 mm stays out"], PAST, 0.45),
    ([f"{G} 0.45 mm", f"{G} gauge 0.42 mm enters"], PAST, 0.45),
    ([f"{G} 0.45 mm", f"{G} gauge 0.50 mm enters"], GAUGE_PAST, 0.50),
    ([f"{G} 0.45 mm", f"{G} gauge 0.35 mm stays out"], GAUGE_WITHIN, 0.35),
    ([f"{G} 0.38 mm", f"{G} gauge 0.39 mm enters"], AT, 0.38),
    ([f"{G} 0.38 mm", f"{G} gauge 0.39 mm stays out"], AT, 0.38),
    ([f"{G} 0.41 mm", f"{G} gauge 0.405 mm enters"], GAUGE_PAST, 0.405),
    # a value after all of them is the last word, and work begins anew
    ([f"{G} gauge 0.42 mm enters", f"{G} 0.30 mm", f"{G} gauge 0.45 mm stays out"], WITHIN, 0.30),
    ([f"{G} gauge 0.42 mm enters", "adjusted left guide 1", f"{G} gauge 0.45 mm stays out"], NEITHER, 0.45),
    ([f"{G} gauge 0.42 mm enters", "cleaned left guide 1", f"{G} gauge 0.45 mm stays out"], GAUGE_PAST, 0.42),
    # a struck one no longer counts
    ([f"{G} gauge 0.42 mm enters", f"{G} gauge 0.45 mm stays out", "struck 22:10 wrong guide"], NEITHER, 0.45),
    # a thickness in a slot, turned round
    (["left tape gauge 2.40 mm enters", "left tape gauge 2.30 mm stays out"], GAUGE_PAST, 2.40),
    (["left tape gauge 2.60 mm stays out", "left tape gauge 2.55 mm enters"], NEITHER, 2.55),
    (["left tape 2.30 mm", "left tape gauge 2.40 mm stays out"], PAST, 2.30),
    (["left tape 2.80 mm", "left tape gauge 2.70 mm enters", "left tape gauge 2.30 mm stays out"], NEITHER, 2.70),
    # a band: a gauge can only prove it past, at either end
    (["belt gauge 70 Hz enters", "belt gauge 75 Hz stays out"], GAUGE_PAST, 70.0),
    (["belt gauge 45 Hz stays out", "belt gauge 40 Hz enters"], GAUGE_PAST, 45.0),
    (["belt gauge 45 Hz stays out", "belt gauge 50 Hz enters"], GAUGE_PAST, 45.0),
    (["belt gauge 45 Hz stays out", "belt gauge 70 Hz enters"], GAUGE_PAST, 70.0),
    (["belt 45 Hz", "belt gauge 50 Hz enters"], PAST, 45.0),
    (["belt 60 Hz", "belt gauge 50 Hz stays out"], NEITHER, 50.0),
]  # fmt: skip


@pytest.mark.parametrize(
    ("lines", "word", "value"), SEVERAL, ids=[" / ".join(each[0]) for each in SEVERAL]
)
def test_which_of_several_verdicts_stands(lines: list[str], word: str, value: float) -> None:
    line = one(*(f"22:{10 * (i + 1)} A07 {text}" for i, text in enumerate(lines)))
    assert (line.word.value, line.reading.value) == (word, value)


def test_verdicts_that_leave_a_reading_standing_are_told_beside_it() -> None:
    line = one(f"22:10 A07 {G} gauge 0.42 mm enters", f"22:20 A07 {G} gauge 0.45 mm stays out")
    assert [(r.value, r.bound.value) for r in line.since] == [(0.45, "at most")]
    line = one(f"22:10 A07 {G} gauge 0.45 mm stays out", f"22:20 A07 {G} gauge 0.42 mm enters")
    assert line.since == ()


def test_a_moved_part_takes_a_verdict_of_past_along() -> None:
    lines = [
        f"22:10 A09 {G} gauge 0.42 mm enters",
        "22:20 A07 moved left guide 1 from A09",
        f"22:30 A07 {G} gauge 0.45 mm stays out",
    ]
    assert one(*lines).word.value == GAUGE_PAST


@pytest.mark.parametrize(
    ("lines", "value", "bound"),
    [
        # a gauge that agrees with the reading before it does not replace its value
        (("left guide 1 gap 0.30 mm", "left guide 1 gap gauge 0.40 mm stays out"), 0.30, "exact"),
        (("left guide 1 gap 0.30 mm", "left guide 1 gap gauge 0.25 mm enters"), 0.30, "exact"),
        # one that contradicts it does
        (("left guide 1 gap 0.30 mm", "left guide 1 gap gauge 0.40 mm enters"), 0.40, "at least"),
        (("left guide 1 gap 0.30 mm", "left guide 1 gap gauge 0.20 mm stays out"), 0.20, "at most"),
        # and a reading after it stands
        (("left guide 1 gap gauge 0.40 mm enters", "left guide 1 gap 0.39 mm"), 0.39, "exact"),
    ],
)
def test_which_reading_stands(lines: tuple[str, str], value: float, bound: str) -> None:
    line = one(f"22:10 A07 {lines[0]}", f"22:20 A07 {lines[1]}")
    assert (line.reading.value, line.reading.bound.value) == (value, bound)


def test_an_implausible_reading_waits_for_a_second_one() -> None:
    assert one("22:10 A07 left tape 2.90 mm", "22:20 A07 left tape 29 mm").reading.value == 2.90
    assert measured("22:20 A07 left tape 29 mm") == ()


def test_adjusting_restarts_the_level_and_the_old_reading_no_longer_stands() -> None:
    lines = ("22:10 A07 belt 45 Hz", "22:20 A07 adjusted belt")
    assert measured(*lines) == ()
    assert one(*lines, "22:30 A07 belt 60 Hz").word.value == WITHIN


def test_a_moved_part_takes_its_reading_along_and_leaves_an_empty_place() -> None:
    lines = ("22:10 A09 left head force 24 N", "22:20 A07 moved left head from A09")
    assert [x.reading.value for x in measured(*lines)] == [24.0]
    assert measured(*lines, loom="A09") == ()


def test_a_replaced_part_has_no_reading_yet() -> None:
    assert measured("22:10 A07 left tape 2.30 mm", "22:20 A07 replaced left tape") == ()


NO_TOOL = REGISTER.replace("tool_uncertainty = 0.03\n", "")
NO_NEW = REGISTER.replace("new = 3.20\n", "")
NO_LIMIT = REGISTER.replace("replace_below = 2.45\n", "")


@pytest.mark.parametrize(
    ("value", "word"),
    [("2.46", NEAR), ("2.45", AT), ("2.44", PAST)],
)
def test_without_a_tool_uncertainty_only_the_limit_itself_is_at_it(value: str, word: str) -> None:
    line = one(f"22:10 A07 left tape {value} mm", register=NO_TOOL)
    assert line.word.value == word
    assert line.uncertainty is None


def test_without_a_new_value_nothing_is_said_of_near_or_worn() -> None:
    line = one("22:10 A07 left tape 2.50 mm", register=NO_NEW)
    assert line.word.value == WITHIN
    assert line.worn is None
    assert line.margin == pytest.approx(0.05)


def test_without_a_limit_there_is_no_margin() -> None:
    line = one("22:10 A07 left tape 2.50 mm", register=NO_LIMIT)
    assert line.word.value == "no limit given"
    assert line.margin is None
    assert line.limit is None


# -- old readings --------------------------------------------------------------------------


def every(interval: str) -> str:
    return REGISTER.replace(
        "tool_uncertainty = 0.03", f'tool_uncertainty = 0.03\ncheck_every = "{interval}"'
    )


@pytest.mark.parametrize(
    ("interval", "now", "old"),
    [
        ("2 days", "2026-11-26 22:10", False),
        ("2 days", "2026-11-26 22:11", True),
        ("1 shifts", "2026-11-25 13:59", False),
        ("1 shifts", "2026-11-25 14:00", True),
        ("10 h", "2026-11-25 08:10", False),  # it runs since before the reading
        ("10 h", "2026-11-25 08:11", True),
        ("300000 picks", "2026-11-25 08:10", False),  # 10 h at 500 a minute
        ("300000 picks", "2026-11-25 08:11", True),
    ],
)
def test_old_reading(interval: str, now: str, old: bool) -> None:
    log = NIGHT + "22:00 A07 running\n22:10 A07 left tape 2.20 mm\n"
    shot = read({"a.log": log}, now, register=every(interval))
    (line,) = summarise(shot).loom("A07").wear
    assert line.old is old
    assert line.words == ("PAST LIMIT, old reading" if old else "PAST LIMIT")
    assert line.old_unknown == ""


def test_without_a_usage_clock_it_cannot_be_told_whether_a_reading_is_old() -> None:
    line = one("22:10 A07 left tape 2.90 mm", register=every("10 h"))
    assert not line.old
    assert "no motion and no counter of A07" in line.old_unknown
