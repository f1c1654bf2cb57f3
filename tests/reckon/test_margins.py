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
