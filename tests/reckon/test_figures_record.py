"""Little logs to figures: every number by hand, from the definitions."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from board.reckon.availability import Availability, PooledAvailability, availability
from board.reckon.durations import NoFailures, Restoration, TimeBetweenFailures
from board.reckon.figures_record import Figures, figures_on_record
from board.reckon.proportion import Proportion
from board.reckon.refusal import Refusal
from board.reckon.spans import Span
from tests.reckon.little_log import summary_at

Make = Callable[..., Path]

REGISTER = """
[shed]
name = "Dayshed"
zone = "UTC"
shifts = { long = "08:00-20:00" }
[section.A]
looms = ["A01-A02"]
[section.B]
looms = ["B01"]
[part.tape]
[part.tape.thickness]
unit = "mm"
new = 3.0
replace_below = 2.0
check_every = "5 h"
"""
EVENING = datetime(2026, 11, 2, 20, 0, tzinfo=UTC)  # a Monday

# EN 13306 and EN 15341 style, by hand: required 08:00 to 20:00; down 09:00 to 09:40 and, while the
# loom stands, for a part from 09:30 to 10:10; 15:00 to 15:20; 19:30 and still down.
A4 = """day 2026-11-02 long by KM
08:00 A01 running
09:00 A01 stopped for fault
09:30 A01 stopped for part
10:10 A01 running
15:00 A01 stopped for fault
15:20 A01 running
19:30 A01 stopped; fault it knocks
"""


def figures(
    shed: Make, text: str, at: datetime = EVENING, start: datetime | None = None,
    register: str = REGISTER,
) -> Figures:  # fmt: skip
    found = figures_on_record(summary_at(shed({"a.log": text}, register), at), start)
    assert isinstance(found, Figures)
    return found


def test_a4_the_overlap_counts_once_and_the_open_stop_to_now(shed: Make) -> None:
    found = figures(shed, A4)
    pooled = found.shed.pooled
    assert isinstance(pooled, PooledAvailability)
    assert pooled.down * 60 == pytest.approx(120.0)  # 70 + 20 + 30 min
    assert pooled.required * 60 == pytest.approx(720.0)  # the other looms tell no motion
    assert pooled.share == pytest.approx(600 / 720)
    assert found.shed.not_told == pytest.approx(24.0)
    assert isinstance(pooled.limits, Refusal)
    assert (pooled.stops, found.shed.still_open) == (3, 1)


def test_a4_only_completed_pairs_have_a_time_to_restore(shed: Make) -> None:
    found = figures(shed, A4)
    assert isinstance(found.restoration, Restoration)
    assert found.restoration.mean * 60 == pytest.approx((70 + 20) / 2)
    assert found.restoration.median * 60 == pytest.approx(45.0)
    assert isinstance(found.pairs, Proportion)
    assert (found.pairs.count, found.pairs.of) == (2, 3)


def test_a4_time_between_failures_is_running_time_by_failures(shed: Make) -> None:
    between = figures(shed, A4).failures.between
    assert isinstance(between, TimeBetweenFailures)
    assert between.failures == 3
    assert between.mean * 60 == pytest.approx(600 / 3)


def test_sections_stand_apart_and_the_shed_is_their_sum(shed: Make) -> None:
    text = A4 + "08:00 B01 running\n12:00 B01 stopped for check\n15:00 B01 running\n"
    found = figures(shed, text)
    shares = {one.name: one.pooled for one in found.sections}
    a, b = shares["A"], shares["B"]
    assert isinstance(a, PooledAvailability)
    assert isinstance(b, PooledAvailability)
    assert a.share == pytest.approx(600 / 720)
    assert b.share == pytest.approx(9 / 12)
    pooled = found.shed.pooled
    assert isinstance(pooled, PooledAvailability)
    assert pooled.share == pytest.approx(1 - (2 + 3) / 24)


@pytest.mark.parametrize(
    ("reason", "down"),
    [(" for warp", 0), (" for weft", 0), (" for style", 0), (" for order", 0), (" for power", 0),
     (" for other", 0), (" for fault", 60), (" for part", 60), (" for check", 60), ("", 60)],
)  # fmt: skip
def test_only_these_reasons_are_maintenance(reason: str, down: int, shed: Make) -> None:
    text = f"day 2026-11-02 long by KM\n08:00 A01 running\n09:00 A01 stopped{reason}\n10:00 A01 running\n"
    pooled = figures(shed, text).shed.pooled
    assert isinstance(pooled, PooledAvailability)
    assert pooled.down * 60 == pytest.approx(down)
    assert pooled.required * 60 == pytest.approx(720)


def test_a_loom_laid_up_is_not_required(shed: Make) -> None:
    text = "day 2026-11-02 long by KM\n08:00 A01 running\n10:00 A01 stopped for laid-up\n"
    pooled = figures(shed, text).shed.pooled
    assert isinstance(pooled, PooledAvailability)
    assert pooled.required == pytest.approx(2.0)
    assert pooled.down == 0.0


def test_closed_hours_and_closed_days_are_not_required(shed: Make) -> None:
    """Monday 19:00 to Wednesday 09:00, Tuesday closed: 1 h and 1 h of shifts; all of it down."""
    register = REGISTER + '[calendar]\ndays = "mon-fri"\nclosed = ["2026-11-03"]\n'
    text = "day 2026-11-02 long by KM\n18:00 A01 running\n19:00 A01 stopped for fault\n"
    at = datetime(2026, 11, 4, 9, 0, tzinfo=UTC)
    start = datetime(2026, 11, 2, 19, 0, tzinfo=UTC)
    pooled = figures(shed, text, at, start, register).shed.pooled
    assert isinstance(pooled, PooledAvailability)
    assert pooled.required == pytest.approx(2.0)
    assert pooled.down == pytest.approx(2.0)


def test_a_stop_that_ends_in_waiting_is_no_complete_pair(shed: Make) -> None:
    text = (
        "day 2026-11-02 long by KM\n08:00 A01 running\n09:00 A01 stopped for fault\n"
        "09:30 A01 stopped for warp\n11:00 A01 running\n"
    )
    found = figures(shed, text)
    pooled = found.shed.pooled
    assert isinstance(pooled, PooledAvailability)
    assert pooled.down * 60 == pytest.approx(30)
    assert isinstance(found.restoration, Refusal)
    assert isinstance(found.pairs, Proportion)
    assert (found.pairs.count, found.pairs.of) == (0, 1)


def test_no_failure_gives_a_bound_and_no_number(shed: Make) -> None:
    """None in 12 h: 12 / -ln(0.1) = 5.21 h, one-sided with 90 %."""
    between = figures(shed, "day 2026-11-02 long by KM\n08:00 A01 running\n").failures.between
    assert isinstance(between, NoFailures)
    assert between.operating == pytest.approx(12.0)
    assert between.bound.low == pytest.approx(5.2115, abs=1e-4)


def test_checks_in_time_late_and_not_done(shed: Make) -> None:
    """Every 5 running h: 08:00, 13:00 in time, 18:30 late (5.5 h, little); B01 08:00 and no more."""
    text = (
        "day 2026-11-02 long by KM\n08:00 A01 running; tape 2.9 mm\n08:00 B01 running; tape 2.9 mm\n"
        "13:00 A01 tape 2.8 mm\n18:30 A01 tape 2.7 mm\n"
    )
    found = figures(shed, text)
    checks = found.checks
    assert (checks.in_time, checks.late, checks.little_late, checks.not_done) == (1, 1, 1, 1)
    assert isinstance(found.checks_in_time, Proportion)
    assert (found.checks_in_time.count, found.checks_in_time.of) == (1, 3)


def test_a_look_long_before_it_is_due_is_no_check(shed: Make) -> None:
    """Of 5 h: ten looks within minutes, one after half of the interval, then none."""
    looks = "".join(f"08:0{n} A01 tape 2.8 mm\n" for n in range(10))
    begin = "day 2026-11-02 long by KM\n08:00 A01 running\n" + looks
    checks = figures(shed, begin + "10:39 A01 tape 2.8 mm\n").checks
    assert (checks.in_time, checks.not_done) == (1, 1)  # it was measured at 08:09 for the last time
    checks = figures(shed, begin + "10:38 A01 tape 2.8 mm\n").checks
    assert (checks.in_time, checks.not_done) == (0, 1)


def test_use_that_is_not_known_is_not_judged(shed: Make) -> None:
    text = "day 2026-11-02 long by KM\n08:00 A01 tape 2.9 mm\n13:00 A01 tape 2.8 mm\n"
    found = figures(shed, text)
    assert found.checks.unknown == 2  # from 08:00 to 13:00, and from then on
    assert isinstance(found.checks_in_time, Refusal)
    assert isinstance(found.shed.pooled, Refusal)
    assert isinstance(found.failures.between, Refusal)


def test_repeats_are_of_all_faults(shed: Make) -> None:
    text = (
        "day 2026-11-02 long by KM\n08:00 A01-B01 running\n09:00 A01 fault tape frays\n"
        "09:30 A01 fault cleared trimmed\n11:00 A01 fault tape frays\n11:30 A01 fault cleared\n"
        "12:00 A02 fault tape frays\n"
    ).replace("A01-B01", "shed")
    share = figures(shed, text).repeats.share
    assert isinstance(share, Proportion)
    assert (share.count, share.of) == (1, 3)


def test_backlog_and_lines(shed: Make) -> None:
    text = (
        "day 2026-11-02 long by KM\n08:00 A01 running\n08:10 A01 open no 1 look; due 09:00\n"
        "08:20 A01 open no 2 oil it\n14:20 A01 done no 2\n15:00 A01 open no 3 tidy\n"
        "15:10 A01 dropped no 3 not needed\n16:00 A01 whatever this is\n"
    )
    found = figures(shed, text)
    backlog = found.backlog
    assert (backlog.open, backlog.overdue, backlog.done, backlog.dropped) == (1, 1, 1, 1)
    assert backlog.median_days == pytest.approx(0.25)
    assert (found.lines.entries, found.lines.not_understood) == (6, 1)


def test_nothing_written_gives_no_figures(shed: Make) -> None:
    summary = summary_at(shed({"a.log": "# nothing\n"}, REGISTER), EVENING)
    assert isinstance(figures_on_record(summary), Refusal)


def test_loom_efficiency_from_its_stops() -> None:
    """180 picks/min; in 100 000 picks 20 warp, 15 weft and 6 other stops of 0.85, 0.30, 0.12 min.

    100 000 / 180 = 555.6 min running, 17 + 4.5 + 0.72 = 22.2 min standing: 96.2 %. Common practice,
    no source.
    """
    stops, at = [], 0.0
    lengths = [0.85] * 20 + [0.30] * 15 + [0.12] * 6
    between = 100_000 / 180 / (len(lengths) + 1)
    for length in lengths:
        at += between
        stops.append(Span(start=at / 60, end=(at + length) / 60))
        at += length
    end = (at + between) / 60
    answer = availability([Span(start=0.0, end=end)], stops, as_of=end)
    assert isinstance(answer, Availability)
    assert answer.up * 60 == pytest.approx(555.6, abs=0.05)
    assert answer.down * 60 == pytest.approx(22.2, abs=0.05)
    assert answer.share == pytest.approx(0.962, abs=0.0005)
