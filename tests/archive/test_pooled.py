"""Repeats, lives and past forecasts of an archive: one mill as its folder, several as their union."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from board.reckon.life_record import lives_on_record
from board.reckon.life_study import study_of
from board.reckon.recurrence import Rate, poisson_rate
from board.state.shifts import ShiftCalendar
from board.state.usage import clocks
from tests.archive.conftest import OCTOBER_AT, Answer, built, command
from tests.archive.mills import AT
from tests.archive.reading_folders import snapshot_of_folder
from tests.conftest import EXAMPLE, Run

HERE = ("--workers", "1")


def _on(folder: Path) -> tuple[str, ...]:
    return "--folder", str(folder), "--at", OCTOBER_AT


def test_repeats_of_one_mill_are_those_of_its_folder(
    october: Path, example_archive: Path, asked: Answer
) -> None:
    more = ("--part", "head", "--window", "10 days")
    alone = asked("repeats", *more, *_on(october))
    found = asked("repeats", *more, "--archive", str(example_archive), *HERE)
    chains = alone.pop("chains")
    assert found["chains"] == [{"mill": "quillbank", **chain} for chain in chains]
    (mill,) = found["mills"]
    assert mill["report"] == alone
    assert mill["chains"] == len(chains)
    assert mill["repeats"] == sum(len(chain["times"]) - 1 for chain in chains)
    assert mill["faults"] == alone["faults"]


@pytest.mark.parametrize(
    "more", [(), ("tape", "--by", "batch", "--by", "side"), ("--unit", "picks")], ids=" ".join
)
def test_lives_of_one_mill_are_those_of_its_folder(
    october: Path, example_archive: Path, asked: Answer, more: tuple[str, ...]
) -> None:
    alone = asked("lives", *more, *_on(october))
    found = asked("lives", *more, "--archive", str(example_archive), *HERE)
    assert {key: found[key] for key in ("unit", "level", "lives", "comparisons")} == {
        key: value for key, value in alone.items() if key != "as_of"
    }
    assert found["mills"][0]["as_of"] == alone["as_of"]
    assert found["mills"][0]["lives"] == sum(each["on_record"] for each in alone["lives"])


def _less(record: dict[str, Any], *keys: str) -> dict[str, Any]:
    return {key: value for key, value in record.items() if key not in keys}


def test_the_audit_of_one_mill_is_that_of_its_folder(
    october: Path, example_archive: Path, asked: Answer
) -> None:
    alone = asked("wear", "--audit", *_on(october))
    found = asked("wear", "--audit", "--archive", str(example_archive), *HERE)
    assert [_less(group, "limits", "mills") for group in found["groups"]] == [
        _less(group, "limit") for group in alone["groups"]
    ]
    assert [group["limits"] for group in found["groups"]] == [
        [group["limit"]] for group in alone["groups"]
    ]
    for key in ("level", "held", "judged", "replaced_before_judgement"):
        assert found[key] == alone[key]


# -- several mills -------------------------------------------------------------------------


def test_repeats_of_three_mills_are_those_of_each_in_one_order(
    group: Path, mills: dict[str, Path], asked: Answer
) -> None:
    found = asked("repeats", "--window", "60 days", "--archive", str(group), *HERE)
    for name, folder in mills.items():
        alone = asked("repeats", "--window", "60 days", "--folder", str(folder), "--at", AT)
        own = [_less(c, "mill") for c in found["chains"] if c["mill"] == name]
        assert own == alone["chains"]
        (mill,) = [m for m in found["mills"] if m["mill"] == name]
        assert mill["report"] == _less(alone, "chains")
        rate = poisson_rate(alone["faults"], alone["running_h"], level=0.90)
        assert isinstance(rate, Rate)
        assert mill["faults_per_1000_h"]["low"] == pytest.approx(rate.limits.low * 1000, rel=1e-4)
    order = [(-len(c["times"]), c["mill"]) for c in found["chains"]]
    lengths = [length for length, _ in order]
    assert lengths == sorted(lengths)
    assert len({mill for _, mill in order[:3]}) == 3  # the longest of each mill come first


def test_lives_of_three_mills_are_counted_together(
    group: Path, mills: dict[str, Path], asked: Answer
) -> None:
    found = asked("lives", "tape", "--archive", str(group), *HERE)
    (tape,) = found["lives"]
    alone = [asked("lives", "tape", "--folder", str(f), "--at", AT) for f in mills.values()]
    for key in ("on_record", "used", "failed", "undecided", "taken_out", "in_service"):
        assert tape[key] == sum(each["lives"][0][key] for each in alone), key
    assert [each["lives"] for each in found["mills"]] == [
        each["lives"][0]["on_record"]
        for _, each in sorted(zip(mills, alone, strict=True), key=lambda pair: pair[0])
    ]
    endings: dict[tuple[str, str], int] = {}
    for each in alone:
        for ending in each["lives"][0]["endings"]:
            key = ending["verdict"], ending["why"]
            endings[key] = endings.get(key, 0) + ending["count"]
    assert {(e["verdict"], e["why"]): e["count"] for e in tape["endings"]} == endings


def test_pooled_lives_are_studied_as_one_record(
    group: Path, mills: dict[str, Path], asked: Answer, kept: Path
) -> None:
    """The curve of all is that of the lives of all, put through the same study."""
    records = []
    for folder in mills.values():
        whole = snapshot_of_folder(folder)
        usage = clocks(whole.fleet, whole.mill)
        calendar = ShiftCalendar(whole.mill.shifts, whole.mill.zone)
        records += [
            r
            for r in lives_on_record(whole.fleet, whole.mill, usage, calendar)
            if r.at.part == "tape"
        ]
    study = study_of("tape", records, "h")
    found = asked("lives", "tape", "--archive", str(group), *HERE)["lives"][0]
    for way, told in zip(study.ways, found["ways"], strict=True):
        assert told["failures"] == sum(life.is_failure for life in way.lives)
        assert [step["surviving"] for step in told["curve"]] == [
            round(step.surviving, 5)
            for step in way.curve.steps  # type: ignore[union-attr]
        ]


def test_mills_are_compared(group: Path, asked: Answer) -> None:
    found = asked("lives", "tape", "--by", "mill", "--archive", str(group), *HERE)
    (one,) = found["comparisons"]
    assert (one["by"], one["unnamed"]) == ("mill", 0)
    assert [each["group"] for each in one["groups"]] == ["east", "north", "south"]
    assert sum(each["used"] for each in one["groups"]) == found["lives"][0]["used"]


def test_a_part_of_one_mill_alone(group: Path, asked: Answer) -> None:
    found = asked("lives", "hook", "--archive", str(group), *HERE)
    assert [each["mill"] for each in found["unknown_in"]] == ["east", "north"]
    assert [each["mill"] for each in found["mills"]] == ["south"]


def test_the_audit_of_three_mills_adds_up(
    group: Path, mills: dict[str, Path], asked: Answer
) -> None:
    found = asked("wear", "--audit", "--archive", str(group), *HERE)
    alone = {
        name: asked("wear", "--audit", "--folder", str(folder), "--at", AT)
        for name, folder in mills.items()
    }
    for key in ("held", "judged", "replaced_before_judgement"):
        assert found[key] == sum(each[key] for each in alone.values())
        for mill in found["mills"]:
            assert mill[key] == alone[mill["mill"]][key]
    (left,) = [g for g in found["groups"] if (g["part"], g["side"]) == ("tape", "left")]
    assert left["lives"] == sum(each["groups"][0]["lives"] for each in alone.values())


# -- as of another moment, and refusals ----------------------------------------------------


@pytest.mark.parametrize(
    "words", [("lives",), ("wear", "--audit"), ("find", "frays")], ids=" ".join
)
def test_another_moment_is_asked_by_the_index(
    group: Path, mills: dict[str, Path], asked: Answer, words: tuple[str, ...]
) -> None:
    then = ("--at", "2025-07-01T06:00")
    found = asked(*words, "--archive", str(group), *HERE, *then)
    alone = [asked(*words, "--folder", str(folder), *then) for folder in mills.values()]
    if words[0] == "lives":
        assert found["lives"][0]["on_record"] == sum(a["lives"][0]["on_record"] for a in alone)
    elif words[0] == "wear":
        assert found["judged"] == sum(each["judged"] for each in alone)
    else:
        assert found["total"] == sum(each["total"] for each in alone) > 0
        assert max(hit["when"] for hit in found["hits"]) < "2025-07-01"
        return
    assert found["mills"][0]["as_of"].startswith("2025-07-01T06:00")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("lives", "tapr"), "there is no part tapr; did you mean tape?"),
        (("wear", "--audit", "--part", "x"), "there is no part x; there are tape"),
        (("repeats", "--part", "tapr"), "there is no part tapr; did you mean tape?"),
        (("repeats", "--window", "soon"), "--window takes a span like"),
        (("wear",), "--archive tells of --audit alone"),
        (("lives", "--workers", "0"), "--workers takes a count, 1 or more"),
        (("lives", "--index", "none"), "--archive has an index for each mill"),
    ],
)
def test_what_makes_no_sense_is_refused_in_a_sentence(
    group: Path, run: Run, words: tuple[str, ...], sentence: str
) -> None:
    here = () if "--workers" in words else HERE
    done = run(*words, "--archive", str(group), *here)
    assert (done.code, done.out, done.err.count("\n")) == (2, "", 1)
    assert sentence in done.err


def test_mills_are_not_compared_in_one_folder(run: Run) -> None:
    done = run("lives", "--by", "mill", "--folder", str(EXAMPLE))
    assert done.code == 2
    assert done.err == "loomslate: --by mill compares the mills of an archive: --archive OUT\n"


# -- screens -------------------------------------------------------------------------------

ASKED = [
    ("repeats", "--window", "60 days", "--most", "1"),
    ("lives", "tape", "--by", "mill"),
    ("lives",),
    ("wear", "--audit"),
]


@pytest.mark.parametrize("words", ASKED, ids=" ".join)
def test_screens_keep_to_their_width_and_carry_the_caution(
    group: Path, run: Run, words: tuple[str, ...]
) -> None:
    done = run(*words, "--archive", str(group), *HERE, "--width", "40", "--ascii")
    assert (done.code, done.err) == (0, "")
    assert done.out.isascii()
    assert "safe" not in done.out.casefold()
    assert max(map(len, done.out.splitlines())) <= 40
    assert done.out.splitlines()[-2:] == ["a record, not a permit: prove dead at", "the machine"]


def test_the_screen_of_repeats_tells_the_mills_and_their_chains(group: Path, run: Run) -> None:
    done = run("repeats", "--window", "60 days", "--archive", str(group), *HERE, "--width", "80")
    lines = done.out.splitlines()
    assert lines[0].startswith("REPEAT FAULTS 18 chains of 3 mills ")
    table = [line.split() for line in lines if line.startswith(("north", "south", "east"))]
    assert [row[0] for row in table[:3]] == ["east", "north", "south"]
    assert "    again after" in done.out
    assert '"right tape frays at row 1"' in done.out


def test_a_mill_that_gave_no_answer_stands_on_the_screen(
    kept: Path, mills: dict[str, Path], tmp_path: Path
) -> None:
    out = built(kept, tmp_path / "group", {n: mills[n] for n in ("north", "east")})
    (out / "east" / "shed.toml").unlink()
    for words in ASKED:
        done = command(kept, *words, "--archive", str(out), *HERE, "--width", "80")
        assert done.code == 0
        assert max(map(len, done.out.splitlines())) <= 80
        assert done.out.splitlines()[-1] == "a record, not a permit: prove dead at the machine"
        assert "MISSING east: its register in the archive cannot be read" in done.out
        assert done.err.startswith("loomslate: east is missing from the answer: its register")
        document = command(kept, *words, "--archive", str(out), *HERE, "--json")
        assert [m["mill"] for m in json.loads(document.out)["missing"]] == ["east"]
        assert [m["mill"] for m in json.loads(document.out)["mills"]] == ["north"]
    (out / "north" / "shed.toml").unlink()
    for words in ASKED:
        done = command(kept, *words, "--archive", str(out), *HERE)
        assert (done.code, done.out, done.err.count("\n")) == (2, "", 1)
