"""Little logs to a round: what is on it, why, in which order, and what is told of the rest."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from board.reckon.refusal import Refusal
from board.reckon.rounds import Round, Why, round_for, shift_asked
from tests.conftest import EXAMPLE, Run
from tests.reckon.little_log import summary_at

Make = Callable[..., Path]
SIX = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
REGISTER = """
[shed]
name = "Roundshed"
zone = "UTC"
shifts = { early = "06:00-14:00", late = "14:00-22:00", night = "22:00-06:00" }
[section.A]
looms = ["A01-A04"]
[section.B]
looms = ["B01-B02"]
[part.tape]
[part.tape.thickness]
unit = "mm"
new = 3.0
replace_below = 2.0
tool_uncertainty = 0.02
check_every = "3 days"
[part.tape.caution]
text = "It springs back."
[part.belt]
[part.belt.tension]
unit = "Hz"
"""
# read at 06:00 on the 20th (5 days ago), the 22nd (3 days to the minute) and the 24th
LOG = """day 2026-11-20 early by KM
06:00 B02 running; tape 2.9 mm
06:01 A03 running; tape 2.9 mm
day 2026-11-22 early by KM
06:00 A01 running; tape 2.9 mm; belt 50 Hz
day 2026-11-24 early by KM
06:00 A02 running; tape 2.9 mm
06:00 B01 running; tape 1.5 mm
06:00 A04 stopped for laid-up; tape 2.9 mm
"""


def round_at(shed: Make, text: str = LOG, most: int = 36, at: datetime = SIX) -> Round:
    summary = summary_at(shed({"a.log": text}, REGISTER), at)
    return round_for(summary, shift_asked(summary, None), most)


def test_overdue_and_coming_checks_in_walking_order(shed: Make) -> None:
    found = round_at(shed)
    assert [(x.loom.loom, x.at.part, x.why) for x in found.lines] == [
        ("A01", "tape", Why.COMES_DUE),
        ("A03", "tape", Why.OVERDUE),
        ("B02", "tape", Why.OVERDUE),
    ]
    over = [x.over for x in found.lines]
    assert over == [pytest.approx(0.0), pytest.approx(2.0, abs=0.01), pytest.approx(2.0)]
    assert all(isinstance(x.chance, Refusal) for x in found.lines)  # one reading, no past life
    assert [(w.loom, w.at.part) for w in found.past] == [("B01", "tape")]
    assert found.laid_up == ("A04",)
    assert found.left_off == ()


def test_a_verdict_that_decides_nothing_is_told_behind_what_it_leaves_standing(
    shed: Make, run: Run
) -> None:
    verdict = "05:10 A03 tape gauge 1.9 mm stays out"
    text = f"{LOG}day 2026-11-24 night by KM\n05:00 A03 tape 2.01 mm\n{verdict}\n"
    folder = shed({"a.log": text}, REGISTER)
    asked = ("round", str(folder), "--at", "2026-11-25T06:00")
    shown = run(*asked).out
    assert "was 2.01, then at least 1.90, replace below 2; near its limit, no\n" in shown
    (line,) = [x for x in json.loads(run(*asked, "--json").out)["lines"] if x["loom"] == "A03"]
    assert (line["last"], line["bound"]) == (1.9, "at least")
    assert (line["stands"], line["stands_bound"]) == (2.01, "exact")
    other = [x for x in json.loads(run(*asked, "--json").out)["lines"] if x["loom"] == "A01"]
    assert [(x["stands"], x["stands_bound"]) for x in other] == [(None, None)]


def test_what_does_not_fit_is_named_and_the_longest_overdue_stays(shed: Make) -> None:
    found = round_at(shed, most=1)
    assert [x.loom.loom for x in found.lines] == ["B02"]
    assert [x.loom.loom for x in found.left_off] == ["A03", "A01"]  # the most urgent first


def test_a_likely_part_is_on_the_round_with_its_chance(shed: Make) -> None:
    """2.90 to 2.06 mm in 6 days at 0.14 a day: at 2.00 in some 10 h, before the late shift ends."""
    rows = [
        f"day 2026-11-{d} early by KM\n06:00 A02 tape {2.9 - 0.14 * (d - 18):.2f} mm\n"
        for d in range(18, 25)
    ]
    text = "day 2026-11-18 early by KM\n06:00 A02 running\n" + "".join(rows)
    (line,) = round_at(shed, text).lines
    assert line.why is Why.LIKELY
    assert isinstance(line.chance, float)
    assert line.chance > 0.5


FALLING = "day 2026-11-18 early by KM\n06:00 shed running\n" + "".join(
    f"day 2026-11-{d} early by KM\n06:00 A02 tape {2.9 - 0.14 * (d - 18):.2f} mm\n"
    for d in range(18, 25)
)


def test_what_likely_passes_its_limit_goes_before_a_check_overdue_by_hours(shed: Make) -> None:
    """A01 is 2 h overdue of 3 days, B02 2 days; A02 is likelier than not to pass by tonight."""
    text = FALLING + (
        "day 2026-11-20 early by KM\n06:00 B02 tape 2.9 mm\n"
        "day 2026-11-22 early by KM\n06:00 A01 tape 2.9 mm\n"
    )
    at = SIX.replace(hour=8)
    found = round_at(shed, text, most=1, at=at)
    assert [x.loom.loom for x in found.lines] == ["A02"]
    assert [x.loom.loom for x in found.left_off] == ["B02", "A01"]
    assert [x.why for x in found.left_off] == [Why.OVERDUE, Why.OVERDUE]


def test_no_row_left_off_is_more_urgent_than_one_kept(run: Run) -> None:
    """On the example: nothing left off more likely than not passes, nor is it long overdue."""
    whole = json.loads(
        run("round", str(EXAMPLE), "--at", "2026-11-25T06:00", "--json", "--most", "500").out
    )
    cut = json.loads(run("round", str(EXAMPLE), "--at", "2026-11-25T06:00", "--json").out)
    assert len(cut["lines"]) + len(cut["left_off"]) == len(whole["lines"])
    least = min(line["p"] or 0.0 for line in cut["lines"] if line["why"] != "check overdue")
    for line in cut["left_off"]:
        assert (line["p"] or 0.0) <= max(least, 0.5)
        assert line["overdue_by"] is None or line["overdue_by"] < 0.25 * 480


ACTIONS = LOG + (
    "06:05 A02 running\n"
    "06:10 A02 open no 1 overdue one; due 2026-11-24T09:00\n"
    "06:11 A02 open no 2 due this shift; due 2026-11-25T12:00\n"
    "06:12 A02 open no 3 due tomorrow; due 2026-11-26\n"
    "06:13 B02 open no 4 whenever\n"
    "06:14 shed open no 5 sweep the aisle; due 2026-11-25T13:00\n"
    "06:15 B02 isolated by KM\n"
    "06:16 B02 open no 6 fit guard; due 2026-11-25T10:00\n"
    "06:17 A02 open no 7 look at belt; due in 30 h\n"
)


def test_actions_due_by_the_end_of_the_shift_go_along(shed: Make, run: Run) -> None:
    folder = shed({"a.log": ACTIONS}, REGISTER)
    found = json.loads(run("round", str(folder), "--at", "2026-11-25T06:00", "--json").out)
    assert [(a["number"], a["place"], a["pressing"]) for a in found["also_due"]] == [
        (1, "A02", "overdue"),
        (2, "A02", "due in the coming shift"),
        (7, "A02", "may fall due in the coming shift"),
        (6, "B02", "due in the coming shift"),
        (5, "shed", "due in the coming shift"),
    ]
    assert [a["isolated"] for a in found["also_due"]] == [False, False, False, True, False]
    out = run("round", str(folder), "--at", "2026-11-25T06:00").out
    assert "5 actions also due" in out
    rows = out.splitlines()
    at = rows.index("ALSO DUE by the end of the shift, or overdue: open actions")
    assert rows[at + 1].startswith("[ ] A02   no 1 overdue one; OVERDUE since")
    assert rows[at + 3].startswith("[ ] A02   no 7 look at belt; MAY FALL DUE, due in 30 h")
    at = next(i for i, row in enumerate(rows) if "no 6 fit guard" in row)
    assert rows[at + 1].strip() == "ISOLATED: do not start, do not reach in; ask KM"


def test_the_likeliest_that_are_left_off_are_named_with_loom_and_part(run: Run) -> None:
    out = run("round", str(EXAMPLE), "--at", "2026-11-25T06:00", "--most", "5").out
    found = json.loads(
        run("round", str(EXAMPLE), "--at", "2026-11-25T06:00", "--most", "5", "--json").out
    )
    text = " ".join(out[out.index("LEFT OFF") :].split())
    likeliest = sorted(found["left_off"], key=lambda x: -(x["p"] or 0.0))[:10]
    for line in likeliest:
        words = [line["side"], line["part"], line["number"], line["quantity"]]
        name = " ".join(str(word) for word in words if word is not None)
        assert f"{line['loom']} {name} " in text
    assert f"--most {5 + len(found['left_off'])} prints all" in text


def test_the_round_as_html_has_every_value_and_fetches_nothing(shed: Make, run: Run) -> None:
    folder = shed({"a.log": ACTIONS.replace("fit guard", "fit <b>guard</b>")}, REGISTER)
    at = ("--at", "2026-11-25T06:00")
    found = json.loads(run("round", str(folder), *at, "--json").out)
    page = run("round", str(folder), *at, "--html", "-").out
    assert page.isascii()
    assert page.count('class="value"') == len(found["lines"])
    assert "fit &lt;b&gt;guard&lt;/b&gt;" in page
    assert "ISOLATED: do not start" in page
    assert "default-src &#x27;none&#x27;" in page or "default-src 'none'" in page
    assert "safe" not in page.casefold()
    assert not re.search(r"(?:src|href)=|https?:", page)
    file = folder.parent / "round.html"
    outcome = run("round", str(folder), *at, "--html", str(file))
    assert file.read_text(encoding="utf-8") == page
    assert "round written to" in outcome.out
    assert "choose one of" in run("round", str(folder), *at, "--html", "-", "--json").err


def test_a_part_never_measured_since_it_was_fitted_is_due_from_then(shed: Make) -> None:
    text = "day 2026-11-20 early by KM\n06:00 A01 running; replaced tape worn\n"
    (line,) = round_at(shed, text).lines
    assert line.last is None
    assert line.why is Why.OVERDUE
    assert line.over == pytest.approx(2.0)


def test_parts_that_the_log_never_tells_of_are_named(shed: Make) -> None:
    found = round_at(
        shed, "day 2026-11-24 early by KM\n06:00 shed running\n06:01 A01 tape 2.9 mm\n"
    )
    (never,) = found.never_told
    assert never.words == "tape"
    assert never.looms == ("A02", "A03", "A04", "B01", "B02")


def test_of_a_part_with_sides_the_side_that_is_never_told_of_is_named(shed: Make, run: Run) -> None:
    sided = REGISTER.replace("[part.tape]\n", '[part.tape]\nsides = ["left", "right"]\n')
    log = "day 2026-11-24 early by KM\n06:00 A01-A02 running\n06:01 A01 left tape 2.9 mm\n"
    arguments = ("round", str(shed({"a.log": log}, sided)), "--at", "2026-11-25T06:00")
    assert (
        "NEVER TOLD OF in the log: left tape of A02\n"
        "NEVER TOLD OF in the log: right tape of A01, A02\n"
    ) in run(*arguments).out
    assert json.loads(run(*arguments, "--json").out)["never_told"] == [
        {"part": "tape", "side": "left", "looms": ["A02"]},
        {"part": "tape", "side": "right", "looms": ["A01", "A02"]},
    ]


def test_the_shift_asked_for_is_the_coming_one_or_the_next_of_its_name(shed: Make) -> None:
    summary = summary_at(shed({"a.log": LOG}, REGISTER), SIX)
    assert shift_asked(summary, None).start == SIX
    assert shift_asked(summary, "night").start == datetime(2026, 11, 25, 22, 0, tzinfo=UTC)
    with pytest.raises(ValueError, match="no shift"):
        shift_asked(summary, "noon")
    found = round_for(summary, shift_asked(summary, "night"))
    assert found.until == datetime(2026, 11, 26, 14, 0, tzinfo=UTC)


def test_an_isolated_loom_is_marked_on_each_line_and_no_line_is_too_wide(
    shed: Make, run: Run
) -> None:
    text = LOG + "06:30 B02 isolated by KM lock 4\n06:40 B02 isolated by RB\n"
    folder = shed({"a.log": text}, REGISTER)
    out = run("round", str(folder), "--at", "2026-11-25T06:00").out
    rows = out.splitlines()
    at = next(i for i, row in enumerate(rows) if row.startswith("B02"))
    assert rows[at].endswith("[ ______ mm ]")
    assert rows[at + 1].strip() == "ISOLATED: do not start, do not reach in; ask KM, RB"
    assert "caution, tape: It springs back." in rows
    assert out.isascii()
    assert max(map(len, rows)) <= 80
    assert "Prove dead at the machine." in out


def test_a_conflict_is_isolated_too(shed: Make, run: Run) -> None:
    text = LOG + "06:30 B02 isolated by KM\n06:40 B02 running\n"
    out = run("round", str(shed({"a.log": text}, REGISTER)), "--at", "2026-11-25T06:00").out
    assert "ISOLATED: do not start, do not reach in; ask KM (CONFLICT: written as" in out


def test_a_line_that_may_be_an_isolation_stands_on_the_sheet(shed: Make, run: Run) -> None:
    text = LOG + "06:30 B02 isolatd by KM lock 4\n"
    out = run("round", str(shed({"a.log": text}, REGISTER)), "--at", "2026-11-25T06:00").out
    assert "NOT UNDERSTOOD, MAY BE AN ISOLATION: 06:30 B02 isolatd by KM lock 4" in out


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (("--shift", "noon"), "there is no shift noon; the register has early, late, night"),
        (("--most", "0"), "--most takes 1 line or more"),
        (("--width", "20"), "--width takes 60 columns or more"),
    ],
)
def test_bad_options_are_told_in_a_sentence(
    arguments: tuple[str, ...], sentence: str, shed: Make, run: Run
) -> None:
    outcome = run("round", str(shed({"a.log": LOG}, REGISTER)), *arguments)
    assert (outcome.code, outcome.out) == (2, "")
    assert sentence in outcome.err
