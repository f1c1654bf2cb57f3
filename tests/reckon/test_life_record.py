"""Little logs to part lives: ages by hand, what counts as a failure, and both ways."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from board.reckon.comparison import LogRank
from board.reckon.life_record import (
    BEFORE_THE_LOG,
    LifeOnRecord,
    Verdict,
    Way,
    as_lives,
    lives_on_record,
)
from board.reckon.life_study import By, StandsOut, compared, natural, study_of
from board.reckon.lives import Life, MedianLife, SurvivalCurve
from board.reckon.refusal import Refusal
from board.reckon.weibull import WeibullFit
from tests.reckon.little_log import summary_at

Make = Callable[..., Path]
AT = datetime(2026, 11, 20, 12, 0, tzinfo=UTC)

# A tape fitted on the 2nd at 00:00 of a loom that runs throughout, replaced on the 12th at 06:00:
# 10 days and 6 hours, 246 h.
BEGIN = "day 2026-11-01 night by KM\n22:00 A01 running\n00:00 A01 replaced left tape\n"
END = "06:00"


def lives(shed: Make, text: str, unit: str = "h", at: datetime = AT) -> list[LifeOnRecord]:
    s = summary_at(shed({"a.log": text}), at)
    return list(lives_on_record(s.snapshot.fleet, s.snapshot.mill, s.clocks, s.calendar, unit))


def ended(shed: Make, text: str) -> LifeOnRecord:
    """The life that a log's replacement of the 12th ended."""
    found = [r for r in lives(shed, text) if r.life.ended is not None and r.life.fitted is not None]
    assert len(found) == 1
    return found[0]


ENDINGS = {
    "worn": ("replaced left tape worn", Verdict.FAILED),
    "broken": ("replaced left tape broken", Verdict.FAILED),
    "early": ("replaced left tape early", Verdict.UNFINISHED),
    "no reason": ("replaced left tape", Verdict.UNDECIDED),
    "fault cleared by the job": (
        "fault left tape frays; fault cleared; replaced left tape", Verdict.FAILED,
    ),
    "fault without a side": ("fault tape frays; replaced left tape", Verdict.FAILED),
    "fault of the other side": ("fault right tape frays; replaced left tape", Verdict.UNDECIDED),
    "early and a fault": ("fault left tape frays; replaced left tape early", Verdict.UNDECIDED),
}  # fmt: skip


@pytest.mark.parametrize("name", ENDINGS)
def test_an_ending_counts_by_what_is_written_at_the_job(name: str, shed: Make) -> None:
    clauses, verdict = ENDINGS[name]
    life = ended(shed, f"{BEGIN}day 2026-11-12 early by RB\n{END} A01 {clauses}\n")
    assert life.verdict is verdict
    assert life.age == pytest.approx(246.0)


# The job is in the early of the 12th (06:00 to 14:00): "since the shift before" is since 22:00.
# The register: new 3.10, below 2.40 replace, tool 0.03; near limit is the last 20 %, to 2.54.
READINGS = {
    "past limit": ("day 2026-11-11 night by KM\n23:00 A01 left tape 2.30 mm", "", Verdict.FAILED),
    "at limit": ("day 2026-11-11 night by KM\n23:00 A01 left tape 2.43 mm", "", Verdict.FAILED),
    "just inside": ("day 2026-11-11 night by KM\n23:00 A01 left tape 2.44 mm", "", Verdict.UNDECIDED),
    "past limit, two shifts ago": (
        "day 2026-11-11 late by KM\n21:00 A01 left tape 2.30 mm", "", Verdict.UNDECIDED,
    ),
    "early, near its limit": (
        "day 2026-11-11 night by KM\n23:00 A01 left tape 2.50 mm", " early", Verdict.UNDECIDED,
    ),
    "early, not near": (
        "day 2026-11-11 night by KM\n23:00 A01 left tape 2.80 mm", " early", Verdict.UNFINISHED,
    ),
    "gauge past": (
        "day 2026-11-11 night by KM\n23:00 A01 left tape gauge 2.40 mm enters", "", Verdict.FAILED,
    ),
    "fault cleared in the shift before": (
        "day 2026-11-11 night by KM\n23:00 A01 fault left tape frays\n"
        "23:30 A01 fault cleared trimmed", "", Verdict.FAILED,
    ),
    "fault cleared long before": (
        "day 2026-11-10 night by KM\n23:00 A01 fault left tape frays\n"
        "23:30 A01 fault cleared trimmed", "", Verdict.UNDECIDED,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", READINGS)
def test_an_ending_counts_by_what_stands_since_the_shift_before(name: str, shed: Make) -> None:
    before, word, verdict = READINGS[name]
    job = f"day 2026-11-12 early by RB\n{END} A01 replaced left tape{word}\n"
    assert ended(shed, f"{BEGIN}{before}\n{job}").verdict is verdict


def test_a_fault_of_the_part_before_is_none_of_this_one(shed: Make) -> None:
    text = (
        "day 2026-11-12 early by RB\n06:00 A01 running\n06:05 A01 fault left tape frays\n"
        "06:10 A01 fault cleared; replaced left tape\n13:00 A01 replaced left tape\n"
    )
    assert ended(shed, text).verdict is Verdict.UNDECIDED


def test_a_part_older_than_the_log_has_no_age(shed: Make) -> None:
    text = "day 2026-11-01 early by KM\n06:00 A01 running; left tape 2.8 mm\n07:00 A01 replaced left tape\n"
    old, new = lives(shed, text)
    assert old.age == BEFORE_THE_LOG
    assert new.age == pytest.approx(19 * 24 + 5.0)  # 1st 07:00 to 20th 12:00
    assert new.verdict is Verdict.UNFINISHED
    assert isinstance(new.age, float)
    assert as_lives([old, new], Way.AS_FAILURES) == [Life.unfinished(new.age)]


def test_the_age_is_running_time_and_picks_are_by_speed(shed: Make) -> None:
    """Picks = picks/min x 60 x running h: common practice, no source."""
    text = (
        f"{BEGIN}02:00 A01 stopped for warp\nday 2026-11-02 early by RB\n08:00 A01 running\n"
        "13:00 A01 replaced left tape worn\n"
    )
    (life, _) = lives(shed, text)
    assert life.age == pytest.approx(2.0 + 5.0)
    (life, _) = lives(shed, text, "picks")
    assert life.age == pytest.approx(480 * 60 * 7.0)


def test_a_moved_part_takes_its_age_along_and_ends_no_life(shed: Make) -> None:
    text = (
        "day 2026-11-01 night by KM\n22:00 A01-A02 running\n00:00 A01 replaced left tape\n"
        "02:00 A02 replaced left tape\n"
        "day 2026-11-02 early by RB\n10:00 A01 stopped for part\n"
        "12:00 A02 moved left tape from A01\n13:00 A02 stopped for warp\n"
    )
    gave_way, moved = (r for r in lives(shed, text) if r.life.fitted is not None)
    assert gave_way.verdict is Verdict.UNFINISHED
    assert gave_way.age == pytest.approx(10.0)  # 02:00 to 12:00 on A02
    assert moved.loom == "A02"
    assert moved.age == pytest.approx(10.0 + 1.0)  # 00:00 to 10:00 on A01, 12:00 to 13:00 on A02


def test_a_part_that_gave_way_with_a_fault_open_has_failed(shed: Make) -> None:
    text = (
        "day 2026-11-01 night by KM\n22:00 A01-A02 running\n00:00 A01 replaced left tape\n"
        "02:00 A02 replaced left tape\n03:00 A02 fault left tape frays\n"
        "04:00 A02 moved left tape from A01\n"
    )
    (gave_way,) = (r for r in lives(shed, text) if r.life.ended is not None)
    assert gave_way.verdict is Verdict.FAILED


def test_a_part_that_never_ran_is_left_out(shed: Make) -> None:
    text = (
        "day 2026-11-01 early by KM\n06:00 A01 running\n07:00 A01 stopped for part\n"
        "07:10 A01 replaced left tape\n07:20 A01 replaced left tape broken\n"
    )
    (life,) = (r for r in lives(shed, text) if r.life.ended is not None)
    assert isinstance(life.age, Refusal)


def test_undecided_lives_are_reckoned_both_ways(shed: Make) -> None:
    """Lives of 24, 48, 72 h, the second undecided, and one of 84 h in service, by hand.

    As a failure: S = 3/4, 1/2, 1/4, so the median is 48; as unfinished: 3/4, then 3/4 x 1/2 = 3/8.
    """
    rows = ["day 2026-11-01 early by KM", "06:00 A01-A04 running"]
    rows += [f"06:00 A0{n} replaced left tape" for n in (1, 2, 3, 4)]
    for n, word in ((1, " worn"), (2, ""), (3, " broken")):
        rows += [
            f"day 2026-11-0{n + 1} early by KM",
            f"06:00 A0{n} replaced left tape{word}; stopped",
        ]
    at = datetime(2026, 11, 4, 18, 0, tzinfo=UTC)
    found = [r for r in lives(shed, "\n".join(rows) + "\n", at=at) if r.age != 0.0]
    study = study_of("tape", found, "h")
    assert (study.counts.failed, study.counts.undecided, study.counts.in_service) == (2, 1, 1)
    failures, unfinished = study.ways
    assert isinstance(failures.curve, SurvivalCurve)
    assert isinstance(unfinished.curve, SurvivalCurve)
    assert [s.age for s in failures.curve.steps] == pytest.approx([24.0, 48.0, 72.0])
    assert [s.surviving for s in failures.curve.steps] == pytest.approx([0.75, 0.5, 0.25])
    assert [s.surviving for s in unfinished.curve.steps] == pytest.approx([0.75, 0.375])
    assert isinstance(failures.median, MedianLife)
    assert failures.median.age == pytest.approx(48.0)
    assert isinstance(failures.weibull, WeibullFit)
    assert isinstance(unfinished.weibull, Refusal)
    assert "2 failures" in unfinished.weibull.reason


def test_groups_are_compared_and_adjusted_together(shed: Make) -> None:
    """Batch 1 lives 24 h, batch 2 lives 96 h: O - E and p by hand-checked log-rank elsewhere."""
    rows = ["day 2026-11-01 early by KM", "06:00 A01-A08 running"]
    rows += [f"06:00 A0{n} replaced left tape; batch {1 if n < 5 else 2}" for n in range(1, 9)]
    rows += ["day 2026-11-02 early by KM"]
    rows += [f"06:0{n} A0{n} replaced left tape worn; batch 3; stopped" for n in range(1, 5)]
    rows += ["day 2026-11-05 early by KM"]
    rows += [f"06:0{n} A0{n} replaced left tape worn; batch 3; stopped" for n in range(5, 9)]
    at = datetime(2026, 11, 5, 7, 0, tzinfo=UTC)
    found = [r for r in lives(shed, "\n".join(rows) + "\n", at=at) if r.life.batch != "3"]
    batch, side = compared({"tape": found}, [By.BATCH, By.SIDE], "h")
    test = batch.tests[Way.AS_FAILURES]
    assert isinstance(test, LogRank)
    observed = {g.name: (g.failures, g.expected) for g in test.groups}
    # at risk of batch 1 and 2 at its four failures: 4 of 8, 3 of 7, 2 of 6, 1 of 5, then none
    assert observed["1"][0] == 4
    assert observed["1"][1] == pytest.approx(4 / 8 + 3 / 7 + 2 / 6 + 1 / 5)
    assert observed["2"][0] == 4
    assert test.p_value < 0.01
    assert isinstance(side.tests[Way.AS_FAILURES], Refusal)
    assert test.p_adjusted == test.p_value  # a refused factor counts for nothing


def test_names_are_sorted_as_people_count() -> None:
    names = ["H10", "H2", "h1", "7F", "10A", "7D", ""]
    assert sorted(names, key=natural) == ["", "7D", "7F", "10A", "h1", "H2", "H10"]


def made(
    one: LifeOnRecord, batch: str, ages: Sequence[float], verdict: Verdict
) -> list[LifeOnRecord]:
    """Lives of a batch with these ages and this verdict, all else as of one on record."""
    return [
        replace(one, life=replace(one.life, batch=batch), age=age, verdict=verdict) for age in ages
    ]


def standing_out(
    shed: Make, *groups: tuple[str, Sequence[float], Verdict]
) -> tuple[StandsOut, ...]:
    one = ended(shed, f"{BEGIN}day 2026-11-12 early by RB\n{END} A01 replaced left tape worn\n")
    records = [r for name, ages, verdict in groups for r in made(one, name, ages, verdict)]
    (found,) = compared({"tape": records}, [By.BATCH], "h")
    return found.stands_out


FAILED, UNDECIDED = Verdict.FAILED, Verdict.UNDECIDED
USUAL = range(300, 340)
EARLY = range(200, 220)


def test_a_batch_that_fails_sooner_is_named_with_its_medians(shed: Make) -> None:
    (found,) = standing_out(shed, ("1", USUAL, FAILED), ("2", EARLY, FAILED), ("3", USUAL, FAILED))
    assert (found.group, found.sooner) == ("2", True)
    assert found.p < 0.001
    # of 20 and of 80 failures, all seen: the 10th, and the 40th in pairs from 300 on
    assert found.medians == (209, 209)
    assert found.others == (319, 319)
    assert found.failed == (20, 20)
    assert found.expected[0] < 10


def test_nothing_is_named_where_nothing_is_clear(shed: Make) -> None:
    alike = [(name, range(300 + n, 340 + n), FAILED) for n, name in enumerate("123")]
    assert standing_out(shed, *alike) == ()
    # clear one way only: sooner if the undecided had failed, not if they were unfinished
    assert standing_out(shed, ("1", USUAL, FAILED), ("2", EARLY, UNDECIDED)) == ()
    # a few failures only: the chance is rough, however small
    assert standing_out(shed, ("1", USUAL, FAILED), ("2", range(200, 204), FAILED)) == ()
