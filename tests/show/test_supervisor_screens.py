"""The supervisor's screens: goldens of the example, their widths, and the same as JSON."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from board.show.text import width
from tests.conftest import EXAMPLE, Run

GOLDEN = Path(__file__).parent.parent / "golden"
AT = ("--at", "2026-11-25T06:00")

SCREENS = {
    "lives-80": ("lives", "--folder", str(EXAMPLE), *AT, "--width", "80"),
    "lives-tape-80": ("lives", "band", "--folder", str(EXAMPLE), *AT, "--width", "80"),
    "lives-tape-by-batch-120": (
        "lives", "tape", "--by", "batch", "--folder", str(EXAMPLE), *AT, "--width", "120",
    ),
    "lives-by-side-batch-ascii": (
        "lives", "tape", "--by", "side", "--by", "batch", "--folder", str(EXAMPLE), *AT,
        "--width", "80", "--ascii",
    ),
    "spares-80": ("spares", str(EXAMPLE), *AT, "--width", "80"),
    "figures-80": ("figures", str(EXAMPLE), *AT, "--width", "80"),
    "figures-november-120": (
        "figures", str(EXAMPLE), "--from", "2026-11-02", "--to", "2026-11-16", "--width", "120",
    ),
    "round": ("round", str(EXAMPLE), *AT),
}  # fmt: skip
COMMANDS = ("lives", "spares", "figures", "round")


@pytest.mark.parametrize("name", SCREENS)
def test_golden_screen(name: str, run: Run) -> None:
    outcome = run(*SCREENS[name])
    golden = GOLDEN / f"{name}.txt"
    if os.environ.get("BLESS"):
        golden.parent.mkdir(exist_ok=True)
        golden.write_text(outcome.out, encoding="utf-8")
    assert outcome.out == golden.read_text(encoding="utf-8")
    assert (outcome.err, outcome.code) == ("", 0)


@pytest.mark.parametrize("columns", [60, 80, 120])
@pytest.mark.parametrize(
    "arguments",
    [
        ("lives", "tape", "--by", "style", "--folder", str(EXAMPLE)),
        ("spares", str(EXAMPLE)),
        ("figures", str(EXAMPLE)),
        ("round", str(EXAMPLE)),
    ],
)
def test_nothing_is_cut_nor_too_wide(arguments: tuple[str, ...], columns: int, run: Run) -> None:
    out = run(*arguments, *AT, "--width", str(columns)).out
    rows = out.replace("\f", "").splitlines()
    assert max(map(width, rows)) <= columns
    assert not any(row.endswith("~") for row in rows if "---" not in row)


@pytest.mark.parametrize("name", SCREENS)
def test_the_word_that_no_screen_says_is_on_none(name: str) -> None:
    assert "safe" not in (GOLDEN / f"{name}.txt").read_text(encoding="utf-8").casefold()


def test_ascii_is_ascii(run: Run) -> None:
    for command in COMMANDS:
        assert run(command, "--folder", str(EXAMPLE), *AT, "--ascii").out.isascii()


def document(run: Run, *arguments: str) -> dict[str, Any]:
    outcome = run(*arguments, "--folder", str(EXAMPLE), *AT, "--json")
    assert (outcome.code, outcome.err) == (0, "")
    found: dict[str, Any] = json.loads(outcome.out)
    assert found["as_of"] == "2026-11-25T06:00+00:00"
    return found


def test_the_poor_batch_of_the_example_shows(run: Run) -> None:
    """Delivery 7F was made to live about two thirds as long; the log alone must tell it."""
    found = document(run, "lives", "tape", "--by", "batch")
    (one,) = found["comparisons"]
    groups = {group["group"]: group for group in one["groups"]}
    for way in range(2):
        poor, usual = (groups[batch]["ways"][way]["median"] for batch in ("7F", "7D"))
        assert poor["high"] < usual["low"]
        test = one["tests"][way]
        assert test["p_holm"] < 0.001
        assert groups["7F"]["ways"][way]["failures"] > 1.5 * test["expected"]["7F"]


def test_what_a_comparison_shows_is_said_only_where_it_is_clear(run: Run) -> None:
    batch = " ".join(run(*SCREENS["lives-tape-by-batch-120"]).out.split())
    assert (
        "batch 7F failed sooner than the others: median 272 to 281 h against 365 to 370 h" in batch
    )
    assert "p < 0.001 after Holm" in batch
    found = document(run, "lives", "tape", "--by", "batch", "--by", "side")
    named = {c["by"]: [x["group"] for x in c["stands_out"]] for c in found["comparisons"]}
    assert named == {"batch": ["7F"], "side": []}
    side = run("lives", "tape", "--by", "side", "--folder", str(EXAMPLE), *AT).out
    assert "sooner" not in side
    assert "later" not in side


def test_lives_take_no_name_of_a_loom_or_section_for_a_law_or_group(run: Run) -> None:
    """B10 is a loom of the example, and A and B are its sections."""
    for name in SCREENS:
        if name.startswith("lives"):
            out = run(*SCREENS[name]).out
            assert "B10" not in out
            assert not any(row.startswith(("A  ", "B  ", "C  ")) for row in out.splitlines())


def test_ages_have_no_more_digits_than_are_known(run: Run) -> None:
    for unit in ("h", "picks"):
        out = run("lives", "--by", "batch", "--folder", str(EXAMPLE), *AT, "--unit", unit).out
        assert not re.search(r"\d{3,}\.\d|\d\.\d{4,}|e\+", out)
    text = json.dumps([document(run, "lives", "--by", "batch")["comparisons"][0]["groups"]])
    assert not re.search(r"\d{3,}\.\d{2,}", text)


def test_spares_say_how_many_and_who_keeps_the_stock(run: Run) -> None:
    out = " ".join(run(*SCREENS["spares-80"]).out.split())
    assert "14 % chance that the stock runs out before a delivery ordered today comes" in out
    assert "whoever takes or stores a part writes the new count under [spares] in shed.toml" in out
    for record in document(run, "spares")["spares"]:
        far, lead = record["over_horizon"], record["over_lead"]
        assert record["order_at_least"] == max(far["stock_for_95"] - record["stock"], 0)
        assert lead["more_for_95"] == max(lead["stock_for_95"] - record["stock"], 0)
        if record["order_at_least"]:
            assert f": {record['order_at_least']} or more, to last 30 days with 95 %" in out
        if record["order"]["due"]:
            assert lead["more_for_95"] > 0


def test_figures_keep_to_at_and_to(run: Run) -> None:
    at = ("figures", "--folder", str(EXAMPLE), "--json")
    told = json.loads(run(*at, "--at", "2026-11-20T06:00").out)
    assert told["to"] == told["as_of"] == "2026-11-20T06:00+00:00"
    both = json.loads(run(*at, "--at", "2026-11-25T06:00", "--to", "2026-11-20T06:00").out)
    assert both == told
    assert json.loads(run(*at, "--to", "2026-11-20T06:00").out) == told


NATURAL = """
[shed]
name = "Natural"
zone = "Europe/London"
shifts = { early = "06:00-14:00", late = "14:00-22:00", night = "22:00-06:00" }
[section.N]
looms = ["N1-N12"]
[part.tape]
[part.tape.thickness]
unit = "mm"
new = 3.0
replace_below = 2.0
check_every = "1 days"
"""


def test_looms_stand_in_the_order_of_the_register(shed: Callable[..., Path], run: Run) -> None:
    rows = ["day 2026-11-20 early by KM", "06:00 shed running"]
    rows += [f"06:01 N{n} tape 2.9 mm" for n in (10, 2, 12, 9)]
    rows += [f"07:00 N{n} fault tape frays; fault cleared" for n in (10, 2)]
    rows += [f"08:00 N{n} fault tape frays" for n in (10, 2)]
    rows += [f"08:10 N{n} tape 1.9 mm" for n in (11, 3)]
    rows += [f"08:20 N{n} isolated by KM" for n in (11, 3)]
    folder = shed({"a.log": "\n".join(rows) + "\n"}, NATURAL)

    def order(*arguments: str) -> list[str]:
        out = run(*arguments, "--at", "2026-11-25T06:00", "--width", "100").out
        return [row.split()[0] for row in out.splitlines() if re.match(r"N\d+ ", row)]

    assert order("round", str(folder)) == ["N2", "N9", "N10", "N12"]
    assert order("repeats", "--folder", str(folder)) == ["N2", "N10"]
    sheet = order("handover", str(folder))
    assert [x for x in sheet if x in ("N3", "N11")][:2] == ["N3", "N11"]
    assert sheet.index("N2") < sheet.index("N10")
    found = run("find", "frays", "--folder", str(folder), *AT, "--width", "80").out
    assert "by loom:    N2 2  N10 2" in found


def test_lives_as_json_tell_counts_or_reasons(run: Run) -> None:
    found = document(run, "lives")
    for record in found["lives"]:
        told = record["failed"] + record["undecided"] + record["taken_out"] + record["in_service"]
        assert told == record["used"]
        assert sum(ending["count"] for ending in record["endings"]) == record["used"]
        for way in record["ways"]:
            for answer in ("median", "weibull", "curve"):
                assert (way[answer] is None) == isinstance(way[f"{answer}_reason"], str)


def test_spares_as_json_tell_numbers_or_reasons(run: Run) -> None:
    found = document(run, "spares", "--horizon", "20")
    assert {record["part"] for record in found["spares"]} >= {"tape", "head"}
    for record in found["spares"]:
        for demand in (record["over_lead"], record["over_horizon"]):
            assert (demand["reason"] is None) == (demand["mean"] is not None)
            if demand["mean"] is not None:
                assert demand["low"] <= demand["mean"] <= demand["high"]
        assert (record["order"]["by"] is None) == isinstance(record["order"]["reason"], str)


def test_figures_as_json_tell_numbers_or_reasons(run: Run) -> None:
    found = document(run, "figures")
    names = {record["figure"] for record in found["figures"]}
    assert names >= {"availability", "restoration_median", "between_failures", "repeat_ratio"}
    for record in found["figures"]:
        assert record["value"] is not None or isinstance(record["reason"], str)
        if record["low"] is not None and record["value"] is not None:
            assert record["low"] <= record["value"]
        assert record["counts"]
    assert found["lines"]["entries"] > 1000
    people = {"KM", "RB", "DW", "TN", "JO"}
    assert not people & set(run("figures", str(EXAMPLE), *AT).out.split())


def test_the_round_as_json_is_the_sheet(run: Run) -> None:
    found = document(run, "round")
    sheet = run("round", str(EXAMPLE), *AT).out
    assert sheet.count("[ ______ ") == len(found["lines"]) <= 36
    looms = [line["loom"] for line in found["lines"]]
    assert looms == sorted(looms)  # the example's walking order is that of its names
    for line in found["lines"]:
        assert (line["p"] is None) == isinstance(line["p_reason"], str)
        assert line["isolated"] == bool(line["locks_by"])
    assert any(line["isolated"] for line in found["lines"])


def test_an_empty_log_gives_sentences_and_no_numbers(shed: Callable[..., Path], run: Run) -> None:
    folder = shed({"a.log": "# nothing yet\n"})
    out = run("lives", "--folder", str(folder)).out
    assert "no life of known age on record" in out
    outcome = run("figures", str(folder))
    assert (outcome.code, outcome.err) == (2, "loomslate: no figures: no entry up to then\n")
    out = run("spares", str(folder)).out
    assert "no stock given: tape" in out
    assert "Nothing is due" in run("round", str(folder)).out


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (("lives", "tapes"), "there is no part tapes; did you mean tape?"),
        (("spares", "--horizon", "0"), "--horizon takes 1 to 366 days"),
        (("spares", "--horizon", "nan"), "--horizon takes 1 to 366 days"),
        (("figures", "--from", "2026-11-26"), "--from lies after the time"),
        (("figures", "--to", "soon"), "--to takes a time like"),
        (("figures", "--to", "2026-11-21", "--at", "2026-11-20"), "--to lies after --at"),
    ],
)
def test_bad_options_are_told_in_a_sentence(
    arguments: tuple[str, ...], sentence: str, run: Run
) -> None:
    outcome = run(*arguments, "--folder", str(EXAMPLE))
    assert (outcome.code, outcome.out) == (2, "")
    assert sentence in outcome.err


# -- wear ----------------------------------------------------------------------------------


@pytest.mark.parametrize("columns", [40, 60, 80])
def test_how_past_forecasts_held_is_told_whole_at_any_width(columns: int, run: Run) -> None:
    lines = run("wear", str(EXAMPLE), *AT, "--width", str(columns)).out.splitlines()
    assert max(map(width, lines)) <= columns
    begun = next(i for i, row in enumerate(lines) if row.startswith("90 % bands of past"))
    told = " ".join(lines[begun:])
    assert re.search(r" held \d+ of \d+ lives, \d+ replaced before judgement$", told)


def test_the_audit_counts_lives(run: Run) -> None:
    shown = run("wear", str(EXAMPLE), *AT, "--audit", "--width", "80").out
    assert re.search(r"h: held \d+ of 12 lives$", shown, re.MULTILINE)
    assert re.search(r"h: held \d of 1 life$", shown, re.MULTILINE)
    assert "lifes" not in shown


def stops_of(shed: Callable[..., Path], minutes: tuple[int, ...]) -> Path:
    text = "day 2026-11-24 early by KM\n"
    for n, long in enumerate(minutes):
        start = 6 * 60 + n * 60
        end = start + long
        text += f"2026-11-24T{start // 60:02}:{start % 60:02} A01 stopped for fault\n"
        text += f"2026-11-24T{end // 60:02}:{end % 60:02} A01 running\n"
    return shed({"a.log": text})


def test_one_stop_and_one_action_are_told_of_in_the_singular(
    shed: Callable[..., Path], run: Run
) -> None:
    log = stops_of(shed, (50,)) / "a.log"
    text = "2026-11-24T06:10 A01 open no 1 look\n2026-11-24T07:00 A01 done no 1\n"
    text += "2026-11-24T13:00 A01 open no 2 oil it\n"
    log.write_text(log.read_text("utf-8") + text, encoding="utf-8")
    out = run("figures", str(log.parent), "--at", "2026-11-24T15:00").out
    out = " ".join(out.split())
    assert "1 of 1 stop has both ends on record" in out
    assert "(no limits: 1 completed stop, limits need 5)" in out
    assert "age median 1 shift, oldest 1 shift." in out
    assert "done after 50 min in the median" in out


def test_a_fault_that_was_away_for_less_than_a_day(shed: Callable[..., Path], run: Run) -> None:
    log = (
        "day 2026-11-24 early by KM\n06:00 A01 running\n"
        "06:10 A01 fault left tape frays\n06:20 A01 replaced left tape; fault cleared\n"
        "07:10 A01 fault left tape frays\n"
    )
    out = run("repeats", "--folder", str(shed({"a.log": log})), *AT).out
    assert "again after 50 running min, in all 50 min" in out


@pytest.mark.parametrize(
    ("minutes", "pulled"),
    [
        ((5, 55, 56, 57, 58, 59), False),
        ((420,), False),
        ((10, 50), False),
        ((10, 10, 11, 12, 59), True),
    ],
)
def test_a_mean_is_pulled_up_only_well_above_the_median(
    minutes: tuple[int, ...], pulled: bool, shed: Callable[..., Path], run: Run
) -> None:
    folder = stops_of(shed, minutes)
    out = " ".join(run("figures", str(folder), "--at", "2026-11-24T20:00").out.split())
    assert ("pulled up by few long stops" in out) is pulled


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        # Laplace +0.01, chi-square 55.5 of 18
        ((1, 2, 3, 4, 1700, 1750, 1800, 1850, 1900), "slower than before"),
        # Laplace just below 0, chi-square of all in the middle 93.8 of 134
        (tuple(range(800, 1199, 6)), "faster than before"),
        ((100, 300, 500, 700, 900, 1100, 1300, 1500, 1700), "no trend seen"),
        ((1700, 1750, 1800, 1850, 1900, 1950), "faster than before"),
        ((1, 2, 3, 4, 5, 6, *range(1700, 1980, 15)), "the tests disagree"),
    ],
)
def test_a_trend_goes_the_way_of_the_test_that_sees_it(
    hours: tuple[int, ...], words: str, shed: Callable[..., Path], run: Run
) -> None:
    start = datetime(2026, 6, 1, 6, 0, tzinfo=UTC)

    def at(hour: int, text: str) -> str:
        return f"{start + timedelta(hours=hour):%Y-%m-%dT%H:%M}+00:00 A01 {text}\n"

    faults = [at(hour, "fault left tape frays; fault cleared") for hour in hours]
    log = "".join([at(0, "running"), *faults, at(2000, "note end")])
    until = f"{start + timedelta(hours=2000):%Y-%m-%dT%H:%M}+00:00"
    out = run("repeats", "--folder", str(shed({"a.log": log})), "--at", until, "--width", "80").out
    told = " ".join(out[out.index("all faults ") :].splitlines()[:2])
    assert words in told
    numbers = r"; +Laplace \S+ p (< )?\d\.\d\d, MIL \S+ p (< )?\d\.\d\d( |$)"
    assert re.search(numbers, told), told
