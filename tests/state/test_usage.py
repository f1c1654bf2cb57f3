"""The usage clock against hours and picks reckoned by hand.

Picks = picks/min x 60 x running h; 500/min x 24 h x 0.90 = 648 000 a day (common practice, no
source). The other numbers are sums and proportions written out beside each check. An hour of a
clock change is an hour: differences of UTC.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from board.reckon.summary import summarise
from board.snapshot import Snapshot
from board.state.fleet import Source
from board.state.history import CounterReading
from board.state.meters import meter_runs
from board.state.usage import UnknownUse, UsageClock, clocks
from tests.conftest import Run
from tests.state.shed import REGISTER, at, codes, mill, night, read


def _clock(shed: Snapshot, name: str = "A07") -> UsageClock:
    return clocks(shed.fleet, shed.mill)[name]


def _day(lines: str, now: str = "2026-11-24 22:00", register: str = REGISTER) -> UsageClock:
    return _clock(read({"a.log": f"day 2026-11-24 early by KM\n{lines}\n"}, now, register=register))


def _use(clock: UsageClock, start: str, end: str, unit: str = "h") -> float:
    use = clock.between(at(start), at(end), unit)
    assert not isinstance(use, UnknownUse), use.reason
    return use


def test_a_day_at_ninety_per_cent() -> None:
    # 24 h of which 2.4 h stand: 500/min x 60 x 21.6 h = 648 000 picks
    clock = _clock(
        night("22:00 A07 running", "22:36 A07 stopped", "2026-11-25T01:00 A07 running",
              now="2026-11-25 22:00")
    )  # fmt: skip
    assert _use(clock, "2026-11-24 22:00", "2026-11-25 22:00") == pytest.approx(21.6)
    assert _use(clock, "2026-11-24 22:00", "2026-11-25 22:00", "picks") == pytest.approx(648_000)


def test_only_running_counts_and_the_spell_goes_on_to_now() -> None:
    clock = _day(
        "06:00 A07 running\n08:30 A07 stopped for warp\n09:00 A07 running", "2026-11-24 10:00"
    )
    assert _use(clock, "2026-11-24 06:00", "2026-11-24 10:00") == pytest.approx(3.5)
    assert _use(clock, "2026-11-24 08:00", "2026-11-24 09:15") == pytest.approx(0.75)
    assert clock.since_begin(at("2026-11-24 09:00")) == pytest.approx(2.5)


def test_a_style_has_its_own_speed_in_any_case_of_its_name() -> None:
    # 1 h at the section's 500/min, 2 h at the style's 400/min: 30 000 + 48 000
    register = REGISTER.replace("[style.4410]", "[style.Rib]")
    clock = _day("06:00 A07 running\n07:00 A07 style RIB", "2026-11-24 09:00", register)
    assert _use(clock, "2026-11-24 06:00", "2026-11-24 09:00", "picks") == pytest.approx(78_000)


def test_picks_are_unknown_only_while_no_speed_is_known() -> None:
    shed = read(
        {"a.log": "day 2026-11-24 early by KM\n06:00 B01 running\n07:00 B01 style 4410\n"},
        "2026-11-24 09:00",
    )
    clock = _clock(shed, "B01")
    assert _use(clock, "2026-11-24 07:00", "2026-11-24 09:00", "picks") == pytest.approx(48_000)
    unknown = clock.between(at("2026-11-24 06:30"), at("2026-11-24 09:00"), "picks")
    assert isinstance(unknown, UnknownUse)
    assert _use(clock, "2026-11-24 06:00", "2026-11-24 09:00") == pytest.approx(3.0)
    never = _clock(read({"a.log": "day 2026-11-24 early by KM\n06:00 B01 running\n"}), "B01")
    assert never.between(at("2026-11-24 07:00"), at("2026-11-24 08:00"), "picks") == UnknownUse(
        reason="no speed and no meter of B01 tells its picks"
    )


@pytest.mark.parametrize(
    ("start", "end", "hours"),
    [
        ("2026-10-24 22:00", "2026-10-25 06:00", 9.0),  # the hour from one to two came twice
        ("2027-03-27 22:00", "2027-03-28 06:00", 7.0),  # and here it was left out
    ],
)
def test_an_hour_of_a_clock_change_is_an_hour(start: str, end: str, hours: float) -> None:
    day = start.split()[0]
    shed = read({"a.log": f"day {day} night by KM\n22:00 A07 running\n"}, end)
    assert _use(_clock(shed), start, end) == pytest.approx(hours)


# -- meters --------------------------------------------------------------------------------


def test_between_two_readings_the_motion_is_scaled_to_the_meter() -> None:
    # the motion makes 3 h from 06:00 to 10:00, the meter 2.4 h: each running hour counts 0.8
    clock = _day(
        "06:00 A07 running; counter 100 h\n08:00 A07 stopped\n09:00 A07 running\n"
        "10:00 A07 counter 102.4 h",
        "2026-11-24 12:00",
    )
    assert _use(clock, "2026-11-24 06:00", "2026-11-24 10:00") == pytest.approx(2.4)
    assert _use(clock, "2026-11-24 07:00", "2026-11-24 09:30") == pytest.approx(0.8 * 1.5)
    assert _use(clock, "2026-11-24 10:00", "2026-11-24 12:00") == pytest.approx(2.0)


def test_a_new_meter_begins_anew() -> None:
    # 2.4 h on the old one from 06:00 to 10:00, nothing known of the change but the motion
    # (1 h), then 0.5 h on the new one from 11:00 to 12:00
    clock = _day(
        "06:00 A07 running; counter 100 h\n10:00 A07 counter 102.4 h\n"
        "11:00 A07 counter 0 h new\n12:00 A07 counter 0.5 h",
        "2026-11-24 12:00",
    )
    assert _use(clock, "2026-11-24 06:00", "2026-11-24 12:00") == pytest.approx(2.4 + 1.0 + 0.5)


@pytest.mark.parametrize("wrong", ["10 h", "900 h"])
def test_a_misread_meter_is_left_out_whichever_way_it_is_wrong(wrong: str) -> None:
    clock = _day(
        f"06:00 A07 running; counter 100 h\n07:00 A07 counter {wrong}\n"
        "08:00 A07 counter 101.5 h\n09:00 A07 counter 102.5 h",
        "2026-11-24 09:00",
    )
    assert _use(clock, "2026-11-24 06:00", "2026-11-24 09:00") == pytest.approx(2.5)
    assert _use(clock, "2026-11-24 06:00", "2026-11-24 08:00") == pytest.approx(1.5)


def test_a_meter_alone_is_known_between_its_readings_and_not_beyond() -> None:
    clock = _day("06:00 A07 counter 100 h\n10:00 A07 counter 103 h", "2026-11-24 12:00")
    assert _use(clock, "2026-11-24 06:00", "2026-11-24 10:00") == pytest.approx(3.0)
    assert _use(clock, "2026-11-24 07:00", "2026-11-24 09:00") == pytest.approx(1.5)
    assert isinstance(clock.between(at("2026-11-24 09:00"), at("2026-11-24 12:00")), UnknownUse)


def test_between_a_meter_and_the_first_motion_nothing_is_known() -> None:
    clock = _day(
        "06:00 A07 counter 100 h\n08:00 A07 counter 101 h\n10:00 A07 running", "2026-11-24 12:00"
    )
    assert _use(clock, "2026-11-24 06:00", "2026-11-24 08:00") == pytest.approx(1.0)
    assert _use(clock, "2026-11-24 10:00", "2026-11-24 12:00") == pytest.approx(2.0)
    assert isinstance(clock.between(at("2026-11-24 07:00"), at("2026-11-24 11:00")), UnknownUse)


def test_an_hour_meter_scales_the_picks_as_it_scales_the_hours() -> None:
    # 500/min x 60: of the 4 h that the motion makes the meter shows 2.4; behind it the motion counts
    clock = _day("06:00 A07 running; counter 100 h\n10:00 A07 counter 102.4 h", "2026-11-24 12:00")
    start, end = "2026-11-24 06:00", "2026-11-24 10:00"
    assert _use(clock, start, end) == pytest.approx(2.4)
    assert _use(clock, start, end, "picks") == pytest.approx(30_000 * 2.4)
    assert _use(clock, "2026-11-24 07:00", "2026-11-24 08:00", "picks") == pytest.approx(18_000)
    assert _use(clock, end, "2026-11-24 12:00", "picks") == pytest.approx(60_000)


def test_each_style_under_an_hour_meter_keeps_its_speed() -> None:
    # 1 h at 500/min and 2 h at the style's 400/min, of which the meter shows half
    clock = _day(
        "06:00 A07 running; counter 100 h\n07:00 A07 style 4410\n09:00 A07 counter 101.5 h",
        "2026-11-24 12:00",
    )
    picks = _use(clock, "2026-11-24 06:00", "2026-11-24 09:00", "picks")
    assert picks == pytest.approx(0.5 * (30_000 + 2 * 24_000))


def test_hours_of_a_meter_while_the_log_has_the_loom_standing_make_picks() -> None:
    clock = _day("06:00 A07 stopped; counter 100 h\n10:00 A07 counter 101 h", "2026-11-24 12:00")
    start, end = "2026-11-24 06:00", "2026-11-24 10:00"
    assert _use(clock, start, end) == pytest.approx(1.0)
    assert _use(clock, start, end, "picks") == pytest.approx(30_000)
    assert _use(clock, start, "2026-11-24 08:00", "picks") == pytest.approx(15_000)


def test_a_meter_of_picks_tells_them_whatever_an_hour_meter_shows() -> None:
    clock = _day(
        "06:00 A07 running; counter 100 h\n07:00 A07 counter 5000 picks\n"
        "09:00 A07 counter 45000 picks\n10:00 A07 counter 102 h",
        "2026-11-24 10:00",
    )
    start, end = "2026-11-24 07:00", "2026-11-24 09:00"
    assert _use(clock, start, end, "picks") == pytest.approx(40_000)
    assert _use(clock, start, end) == pytest.approx(1.0)
    # before and behind the meter of picks the hours tell: half of 30 000 an hour
    assert _use(clock, "2026-11-24 06:00", start, "picks") == pytest.approx(15_000)


def test_a_meter_of_picks_leaves_the_hours() -> None:
    clock = _day(
        "06:00 A07 running; counter 5000 picks\n10:00 A07 counter 65000 picks", "2026-11-24 10:00"
    )
    start, end = "2026-11-24 06:00", "2026-11-24 10:00"
    assert _use(clock, start, end) == pytest.approx(4.0)
    assert _use(clock, start, end, "picks") == pytest.approx(60_000)


def test_of_a_meter_without_motion_no_speed_is_known() -> None:
    clock = _day("06:00 A07 counter 100 h\n10:00 A07 counter 103 h", "2026-11-24 12:00")
    picks = clock.between(at("2026-11-24 06:00"), at("2026-11-24 10:00"), "picks")
    assert isinstance(picks, UnknownUse)


def test_due_in_hours_and_due_in_as_many_picks_come_due_together() -> None:
    log = (
        "day 2026-11-16 early by KM\n06:00 A07 running; counter 1000 h\n"
        "06:00 A07 open no 1 look; due in 60 h\n06:00 A07 open no 2 look; due in 1800000 picks\n"
        "2026-11-21T06:00 A07 counter {} h\n"
    )
    for shown, overdue in ((1059, False), (1061, True)):
        summary = summarise(read({"a.log": log.format(shown)}, "2026-11-21 06:00"))
        lines = summary.loom("A07").actions
        assert [line.overdue for line in lines] == [overdue, overdue], shown


def test_a_meter_of_picks_tells_picks_where_no_speed_does() -> None:
    shed = read(
        {"a.log": "day 2026-11-24 early by KM\n06:00 B01 running; counter 1000 picks\n"
                  "08:00 B01 counter 61000 picks\n"},
        "2026-11-24 09:00",
    )  # fmt: skip
    clock = _clock(shed, "B01")
    assert _use(clock, "2026-11-24 06:00", "2026-11-24 07:00", "picks") == pytest.approx(30_000)
    assert isinstance(
        clock.between(at("2026-11-24 07:00"), at("2026-11-24 09:00"), "picks"), UnknownUse
    )


def test_no_motion_and_no_counter_is_unknown_and_never_calendar_time() -> None:
    clock = _clock(night("22:10 A07 left tape 2.90 mm"))
    nothing = UnknownUse(reason="no motion and no counter of A07 on record")
    assert clock.between(at("2026-11-24 22:10"), at("2026-11-25 05:00")) == nothing
    assert clock.hours_a_day(at("2026-11-25 05:00")) == nothing


def test_before_the_log_begins_nothing_is_known() -> None:
    clock = _day("07:00 A07 running", "2026-11-24 09:00")
    assert isinstance(clock.between(at("2026-11-24 06:00"), at("2026-11-24 08:00")), UnknownUse)
    assert isinstance(clock.since_begin(at("2026-11-24 06:00")), UnknownUse)


# -- recent use ----------------------------------------------------------------------------


def _half_days(first_day: int, days: int, month: int = 11) -> dict[str, str]:
    """A loom that runs from 06:00 to 18:00 of each day."""
    return {
        f"{n}.log": f"day 2026-{month:02d}-{first_day + n:02d} early by KM\n06:00 A07 running\n"
        f"day 2026-{month:02d}-{first_day + n:02d} late by KM\n18:00 A07 stopped\n"
        for n in range(days)
    }


def test_hours_a_day_over_the_last_two_weeks() -> None:
    clock = _clock(read(_half_days(1, 24), "2026-11-25 06:00"))
    assert clock.hours_a_day(at("2026-11-25 06:00")) == pytest.approx(12.0)


def test_a_closed_day_is_neither_capacity_nor_use() -> None:
    # 25 December is closed: 12 h of the 12 days before it and on it 3 h, left out
    files = _half_days(13, 12, month=12)
    files["x.log"] = "day 2026-12-25 early by KM\n10:00 A07 running\n13:00 A07 stopped\n"
    clock = _clock(read(files, "2026-12-26 06:00"))
    assert clock.hours_a_day(at("2026-12-26 06:00")) == pytest.approx(12.0)
    always = REGISTER.replace('closed = ["2026-12-25"]', "")
    counted = _clock(read(files, "2026-12-26 06:00", register=always))
    assert counted.hours_a_day(at("2026-12-26 06:00")) == pytest.approx((12 * 12 + 3) / 13)


def test_less_than_a_shift_on_record_is_no_rate() -> None:
    clock = _day("06:00 A07 running", "2026-11-24 13:59")
    assert isinstance(clock.hours_a_day(at("2026-11-24 13:59")), UnknownUse)
    clock = _day("06:00 A07 running", "2026-11-24 14:00")
    assert clock.hours_a_day(at("2026-11-24 14:00")) == pytest.approx(24.0)


# -- meter against motion ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shown", "days", "complaints"),
    [
        (160, 7, []),  # 168 h ran: 8 of 168 is less than a tenth
        (152, 7, []),
        (151, 7, ["counter-disagrees"]),  # 17 of 168 is more
        (187, 7, ["counter-disagrees"]),
        (186, 7, []),
        (10, 6, []),  # not yet a week
    ],
)
def test_a_meter_that_disagrees_over_a_week(shown: int, days: int, complaints: list[str]) -> None:
    later = (at("2026-11-02 06:00") + timedelta(days=days)).strftime("%Y-%m-%dT%H:%M")
    text = f"day 2026-11-02 early by KM\n06:00 A07 running; counter 100 h\n{later} A07 counter {100 + shown} h\n"
    assert codes(read({"a.log": text})) == complaints


def test_every_loom_has_a_clock() -> None:
    shed = night("22:10 A07 running")
    assert set(clocks(shed.fleet, shed.mill)) == set(mill().looms)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.integers(0, 8), min_size=1, max_size=9))
def test_the_kept_readings_against_trying_every_choice(values: list[int]) -> None:
    start = at("2026-11-02 06:00")
    source = Source(path="a.log", line=1, text="")
    run = [
        CounterReading(loom="A07", when=start + timedelta(hours=i), value=float(v), unit="h",
                       new_meter=False, source=source)
        for i, v in enumerate(values)
    ]  # fmt: skip
    choices = [
        chosen
        for size in range(1, len(values) + 1)
        for chosen in combinations(values, size)
        if list(chosen) == sorted(chosen)
    ]
    longest = max(map(len, choices))
    least = min(c[-1] - c[0] for c in choices if len(c) == longest)
    (kept,) = meter_runs(run)
    shown = [r.value for r in kept]
    assert shown == sorted(shown)
    assert (len(shown), shown[-1] - shown[0]) == (longest, least)


def test_a_life_is_as_long_in_picks_as_in_hours_with_an_index_or_without(
    shed: Callable[..., Path], run: Run, tmp_path: Path
) -> None:
    log = (
        "day 2026-11-02 early by KM\n07:00 A02 running; counter 1000 h; replaced left tape worn\n"
        "2026-11-10T15:00 A02 counter 1100 h; replaced left tape worn\n"
    )
    folder = str(shed({"a.log": log}))
    for index in ("none", str(tmp_path / "kept.sqlite"), str(tmp_path / "kept.sqlite")):
        asked = ("lives", "tape", "--folder", folder, "--at", "2026-11-10T15:00", "--json")
        ages = [
            json.loads(run(*asked, "--index", index, "--unit", unit).out)["lives"][0]["ways"][0]
            for unit in ("h", "picks")
        ]
        assert [way["curve"][0]["age"] for way in ages] == [100.0, 480 * 60 * 100.0]
