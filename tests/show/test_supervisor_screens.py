"""The supervisor's screens: goldens of the example, their widths, and the same as JSON."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
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
        (("figures", "--to", "2026-11-20", "--at", "2026-11-20"), "choose one of --to and --at"),
    ],
)
def test_bad_options_are_told_in_a_sentence(
    arguments: tuple[str, ...], sentence: str, run: Run
) -> None:
    outcome = run(*arguments, "--folder", str(EXAMPLE))
    assert (outcome.code, outcome.out) == (2, "")
    assert sentence in outcome.err
