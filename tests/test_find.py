"""Searching the history: words, the mill's own words, filters, what stands around, and no hit."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import EXAMPLE, SMALL_REGISTER, Run

AT = ("--at", "2026-11-25T06:00")

GERMAN = (
    SMALL_REGISTER.replace('zone = "Europe/London"', 'zone = "Europe/London"\nlanguages = ["de"]')
    + """
[symptom."drops weft"]
words = ["loses weft", "verliert den schuss"]

[words.de]
"störung" = "fault"
"störung behoben" = "fault cleared"
"läuft" = "running"
links = "left"
"""
)

LOG = """day 2026-11-23 late by KM
15:00 A01 running; style 4410
15:10 A02 fault left tape frays
16:00 A01 left tape 2.80 mm
16:30 A01 replaced left tape worn; torque 0.80 N.m; thread-locked; batch 7F
17:00 shed handed over KM to RB
day 2026-11-24 early by HS
6:30 A01 Störung links Band verliert den Schuss
7:10 A01 note left band looked fine, right one not seen
7:20 A1 Störung behoben Feder; läuft
7:30 A01 style 5120
8:00 A01 left tpae 2.7 mm
9:00 A02 right tape 2.90 mm
9:05 A02 struck 09:00 read the wrong side
9:30 A-7 note nothing of this kind
"""


@pytest.fixture
def folder(shed: Callable[..., Path]) -> Path:
    return shed({"2026/a.log": LOG}, GERMAN)


def lines(run: Run, folder: Path, *arguments: str) -> list[int]:
    out = run("find", *arguments, "--folder", str(folder), *AT, "--json").out
    return [hit["line"] for hit in json.loads(out)["hits"]]


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (("frays",), [3]),
        (("FRAYS",), [3]),
        (("fra",), [3]),
        (("fault",), [3, 8, 10]),
        (("störung",), [3, 8, 10]),
        (("fault", "cleared"), [10]),
        (("loses", "weft"), [8]),
        (("drops weft",), [8]),
        (("band",), [3, 4, 5, 8, 9, 13]),
        (("tape", "left"), [3, 4, 5, 8, 9]),
        (("a1", "running"), [2, 10]),
        (("tpae",), [12]),
        (("2.7", "mm"), [12]),
        (("nothing",), [15]),
        (("--loom", "a1"), [2, 4, 5, 8, 9, 10, 11, 12]),
        (("--part", "band"), [3, 4, 5, 8, 9, 13]),
        (("--part", "tape", "--side", "right"), [9, 13]),
        (("--side", "links", "--kind", "reading"), [4]),
        (("--kind", "störung"), [3, 8]),
        (("--kind", "replaced"), [5]),
        (("--kind", "work"), [5]),
        (("--kind", "adjusted"), []),
        (("--by", "hs", "--kind", "note"), [9]),
        (("--style", "4410", "--loom", "A01"), [2, 4, 5, 8, 9, 10]),
        (("--style", "5120"), [11, 12]),
        (("--from", "2026-11-24", "--kind", "fault"), [8]),
        (("--to", "2026-11-23", "--kind", "fault"), [3]),
        (("--to", "2026-11-24T07:10", "--loom", "A01", "--from", "2026-11-24"), [8]),
        (("frays", "--loom", "A01"), []),
        (("left", "--most", "2"), [9, 12]),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else None,
)
def test_what_is_found(
    arguments: tuple[str, ...], expected: list[int], folder: Path, run: Run
) -> None:
    assert lines(run, folder, *arguments) == expected


LOCKS = """day 2026-11-24 early by HS
6:30 A01 gesperrt durch HS Schloss 22
6:40 A02 Isolated by KM lock 14
6:50 A01 Schloss entfernt von HS
7:00 A02 lock removed by KM
7:10 A02 Schloss gesehen von TN
7:20 A03 Störung links Band
7:30 A03 Störung behoben
7:40 A03 fault cleared
7:50 shed übergeben KM to HS
8:00 shed übernommen von HS
8:10 A04 note done by hand, von Hand
8:20 A05 isolatd durch HS
"""

LOCK_WORDS = """
"gesperrt durch" = "isolated by"
"schloss gesehen von" = "lock seen by"
"schloss entfernt von" = "lock removed by"
"übergeben" = "handed over"
"übernommen von" = "taken over by"
"von" = "by"
"""


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (("isolated",), [2, 3]),
        (("isolated", "by"), [2, 3]),
        (("isolated", "HS"), [2]),
        (("gesperrt",), [2, 3]),
        (("GESPERRT", "KM"), [3]),
        (("gesperrt", "durch"), [2, 3]),
        (("lock",), [3, 4, 5, 6]),
        (("schloss",), [2, 4, 5, 6]),
        (("removed",), [4, 5]),
        (("entfernt",), [4, 5]),
        (("seen",), [6]),
        (("cleared",), [8, 9]),
        (("behoben",), [8, 9]),
        (("handed",), [10]),
        (("taken",), [11]),
        (("over",), [10, 11]),
        (("durch",), [2, 13]),  # no word of a phrase but its "by", which tells nothing of it
        (("hand",), [12]),
        (("lock removed",), [4, 5]),
        (("lock", "removed"), [4, 5]),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else None,
)
def test_one_word_of_a_key_phrase_finds_it_in_the_mills_words_too(
    arguments: tuple[str, ...],
    expected: list[int],
    shed: Callable[..., Path],
    run: Run,
    tmp_path: Path,
) -> None:
    folder = shed({"a.log": LOCKS}, GERMAN + LOCK_WORDS)
    for index in ("none", str(tmp_path / "x.sqlite")):
        assert lines(run, folder, *arguments, "--index", index) == expected


def test_a_word_that_was_looked_for_in_all_its_wordings_is_not_sent_to_them(
    shed: Callable[..., Path], run: Run
) -> None:
    folder = shed({"a.log": "day 2026-11-24 early by HS\n6:30 A01 stopped\n"}, GERMAN + LOCK_WORDS)
    told = run("find", "gesperrt", "--folder", str(folder), *AT).err
    assert told == "loomslate: nothing found for gesperrt\n"


def test_a_kind_given_again_is_asked_for_beside_the_first(
    shed: Callable[..., Path], run: Run, tmp_path: Path
) -> None:
    folder = shed(
        {
            "a.log": "day 2026-11-24 early by HS\n6:30 A01 stopped\n7:00 A01 replaced left tape\n"
            "7:10 A01 cleaned left tape\n7:20 A01 note x\n7:30 A01 fault noisy\n"
        }
    )
    for index in ("none", str(tmp_path / "x.sqlite")):
        asked = (folder, "--index", index)
        assert lines(run, *asked, "--kind", "replaced", "--kind", "note") == [3, 5]
        assert lines(run, *asked, "--kind", "note", "--kind", "replaced") == [3, 5]
        assert lines(run, *asked, "--kind", "cleaned", "--kind", "work") == [3, 4]
        assert lines(run, *asked, "--kind", "stopped", "--loom", "A01", "--kind", "fault") == [2, 6]
    told = run("find", "--kind", "done", "--kind", "moved", "--folder", str(folder), *AT)
    assert told.err == "loomslate: nothing found for --kind done --kind moved\n"
    told = run("find", "--kind", "note", "--kind", "nota", "--folder", str(folder), *AT)
    assert (told.code, told.err) == (2, "loomslate: there is no kind nota; did you mean note?\n")


@pytest.mark.parametrize(
    ("since", "until", "refused"),
    [
        ("2026-11-24", "2026-11-23", True),
        ("2026-11-24T08:00", "2026-11-24T07:59", True),
        ("2026-11-24T08:00", "2026-11-24T08:00", True),
        ("2026-11-24", "2026-11-24", False),  # a date is included whole
        ("2026-11-24T08:00", "2026-11-24", False),
    ],
)
@pytest.mark.parametrize("command", ["find", "repeats"])
def test_a_time_that_ends_before_it_begins_is_refused(
    command: str, since: str, until: str, refused: bool, folder: Path, run: Run
) -> None:
    told = run(command, "--from", since, "--to", until, "--folder", str(folder), *AT)
    sentence = f"--from {since} is not before --to {until}: nothing lies between them"
    assert (told.code == 2) is refused
    assert (sentence in told.err) is refused


def test_a_question_with_no_word_finds_every_line(folder: Path, run: Run) -> None:
    assert lines(run, folder) == [2, 3, 4, 5, 6, 8, 9, 10, 11, 12, 13, 14, 15]


def test_hits_carry_what_the_reference_says(folder: Path, run: Run) -> None:
    out = json.loads(run("find", "7F", "--folder", str(folder), *AT, "--json").out)
    assert out["total"] == 1
    hit = out["hits"][0]
    assert (hit["path"], hit["line"], hit["loom"], hit["by"]) == ("2026/a.log", 5, "A01", "KM")
    assert hit["when"] == "2026-11-23T16:30+00:00"
    assert hit["text"].startswith("16:30 A01 replaced left tape worn")
    assert hit["kinds"] == ["work", "torque", "thread-locked", "batch"]


def test_struck_and_refused_lines_are_found_and_marked(folder: Path, run: Run) -> None:
    out = run("find", "tape", "--loom", "A02", "--folder", str(folder), *AT).out
    assert "[struck by line 14]" in out
    out = run("find", "tpae", "--folder", str(folder), *AT).out
    assert out.startswith("2026/a.log:12: 2026-11-24T08:00+00:00 A01 ? ")
    assert out.rstrip().endswith("[not understood]")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("22:41 M07 isolated by TN lock 4", "2026-11-24T22:41+00:00 ? ? M07 isolated by TN lock 4"),
        ("22:55 N05isolated by RB", "2026-11-24T22:55+00:00 ? ? N05isolated by RB"),
        ("A02 isolated by RB", "? ? ? A02 isolated by RB"),
        ("22:55 A02 isolated RB", "2026-11-24T22:55+00:00 A02 ? isolated RB"),
    ],
)
def test_nothing_of_a_line_that_was_not_understood_is_left_out(
    line: str, said: str, shed: Callable[..., Path], run: Run, tmp_path: Path
) -> None:
    folder = shed({"a.log": f"day 2026-11-24 night by TN\n{line}\n"})
    for index in ("none", str(tmp_path / "x.sqlite")):
        asked = ("find", "isolated", "--folder", str(folder), *AT, "--index", index)
        assert run(*asked).out == f"a.log:2: {said} [not understood]\n"
        wide = run(*asked, "--width", "90").out.splitlines()[1]
        assert f"{said.split('? ')[-1]}  [not understood]" in wide


@pytest.mark.parametrize(
    ("line", "shown", "written"),
    [
        ("04:41 A02 isolatd by TN", "04:41", "2026-11-25T04:41+00:00"),
        ("4:41; A02 isolatd by TN", "04:41", "2026-11-25T04:41+00:00"),
        ("0441 A02 isolatd by TN", "04:41", "2026-11-25T04:41+00:00"),
        ("22:10 A02 isolatd by TN", "22:10", "2026-11-24T22:10+00:00"),
        ("2026-11-25T05:41+01:00 A02 isolatd by TN", "04:41", "2026-11-25T04:41+00:00"),
        ("4.41 A02 isolatd by TN", "~04:28", None),
        ("24:41 A02 isolatd by TN", "~04:28", None),
        ("2026-11-09T04:41 A02 isolatd by TN", "~04:28", None),  # far from its shift
        ("A02 isolatd by TN", "~04:28", None),
    ],
)
def test_a_refused_line_has_the_time_that_it_says(
    line: str, shown: str, written: str | None, shed: Callable[..., Path], run: Run, tmp_path: Path
) -> None:
    log = f"day 2026-11-24 night by TN\n04:28 B01 stopped\n{line}\n05:10 B01 note isolatd\n"
    folder = shed({"a.log": log})
    for index in ("none", str(tmp_path / "x.sqlite")):
        asked = ("find", "isolatd", "--folder", str(folder), *AT, "--index", index)
        (hit, other) = json.loads(run(*asked, "--json").out)["hits"]
        assert (hit["when"], hit["reason"]) == (None, "the line was not understood")
        assert hit["written"] == written
        assert "written" not in other
        row = run(*asked, "--width", "80").out.splitlines()[1]
        assert row.startswith(f"{shown} ")


def test_a_refused_time_that_came_twice_is_not_guessed_at(
    shed: Callable[..., Path], run: Run
) -> None:
    log = "day 2026-10-24 night by TN\n00:28 A02 stopped\n01:30 A02 isolatd by TN\n"
    folder = shed({"a.log": log})
    out = run("find", "isolatd", "--folder", str(folder), *AT, "--json").out
    assert json.loads(out)["hits"][0]["written"] is None


def test_around_shows_the_same_loom_only(folder: Path, run: Run) -> None:
    out = run("find", "Feder", "--around", "2", "--folder", str(folder), *AT).out
    assert [row.split(":")[0].split("-")[0] for row in out.splitlines()] == ["2026/a.log"] * 5
    assert [row for row in out.splitlines() if row.startswith("2026/a.log:10:")]
    record = json.loads(
        run("find", "Feder", "--around", "2", "--folder", str(folder), *AT, "--json").out
    )["hits"][0]
    assert [f["line"] for f in record["before"]] == [8, 9]
    assert [f["line"] for f in record["after"]] == [11, 12]


def test_a_part_taken_off_a_loom_is_about_that_loom_too(
    shed: Callable[..., Path], run: Run, tmp_path: Path
) -> None:
    folder = shed(
        {
            "a.log": "day 2026-11-24 early by KM\n6:30 A01 left tape 2.80 mm\n"
            "7:00 A02 note before it\n7:10 A02 moved left tape from A01\n7:20 A02 running\n"
            "7:30 A01 note behind it\n"
        },
        SMALL_REGISTER,
    )
    for index in ("none", str(tmp_path / "x.sqlite")):
        asked = (*AT, "--folder", str(folder), "--index", index)
        found = json.loads(run("find", "--loom", "A01", *asked, "--json").out)
        assert [hit["line"] for hit in found["hits"]] == [2, 4, 6]
        assert found["hits"][1]["loom"] == "A02"
        out = run("loom", "A01", *asked).out
        assert "HISTORY 3 " in out
        assert "moved left tape from A01" in out
        around = run("find", "--kind", "moved", "--around", "1", *asked, "--json").out
        (hit,) = json.loads(around)["hits"]  # its neighbours are those of the loom it is written of
        assert [x["line"] for x in (*hit["before"], *hit["after"])] == [3, 5]


def test_around_shows_struck_and_refused_lines_with_their_marks(folder: Path, run: Run) -> None:
    out = run("find", "struck", "--around", "1", "--folder", str(folder), *AT).out
    assert "2026/a.log-13- 2026-11-24T09:00+00:00 A02 HS right tape 2.90 mm [struck by" in out
    out = run("find", "style", "5120", "--around", "1", "--folder", str(folder), *AT).out
    assert "2026/a.log-12- 2026-11-24T08:00+00:00 A01 ? left tpae 2.7 mm [not understood]" in out


def test_around_a_line_of_no_one_loom_shows_its_file(folder: Path, run: Run) -> None:
    for words, lines in (("handed", [5, 6, 8]), ("nothing", [14, 15])):
        found = run("find", words, "--around", "1", "--folder", str(folder), *AT).out
        assert [
            int(re.split("[:-]", row.split("a.log")[1])[1]) for row in found.splitlines()
        ] == lines


def test_most_0_is_all_and_most_n_the_newest(folder: Path, run: Run) -> None:
    for wide in ((), ("--width", "80"), ("--json",)):
        whole = run("find", "--most", "0", "--folder", str(folder), *AT, *wide).out
        assert whole == run("find", "--folder", str(folder), *AT, *wide).out
        assert "nothing of this kind" in whole
        newest = run("find", "--most", "1", "--folder", str(folder), *AT, *wide).out
        assert "nothing of this kind" in newest
        assert "frays" not in newest.split("TOTALS")[0].split('"totals"')[0]


def test_what_is_later_than_at_is_not_found(folder: Path, run: Run) -> None:
    out = run("find", "fault", "--folder", str(folder), "--at", "2026-11-24T06:00").out
    assert len(out.splitlines()) == 1


def test_totals_by_loom_part_and_symptom(folder: Path, run: Run) -> None:
    out = json.loads(run("find", "--kind", "fault", "--folder", str(folder), *AT, "--json").out)
    assert out["totals"] == {
        "loom": {"A01": 1, "A02": 1},
        "part": {"left tape": 2},
        "symptom": {"drops weft": 1, "frays": 1},
    }


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("fryas",), "fryas: did you mean frays?"),
        (("wetf",), "wetf: did you mean weft?"),
        (("zzzzzzzz",), "nothing found for zzzzzzzz"),
        (("loses",), "loses: did you mean loses weft?"),
    ],
)
def test_nothing_found_offers_near_spellings_and_ends_with_1(
    arguments: tuple[str, ...], words: str, folder: Path, run: Run
) -> None:
    outcome = run("find", *arguments, "--folder", str(folder), *AT)
    assert outcome.code == 1
    assert outcome.out == ""
    assert words in outcome.err
    assert outcome.err.count("\n") == 1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--loom", "A99"), "there is no loom A99"),
        (("--part", "tpae"), "there is no part tpae; did you mean tape?"),
        (("--side", "lleft"), "did you mean left?"),
        (("--kind", "zap"), "there is no kind zap; there are stopped, running"),
        (("--from", "yesterday"), "--from takes a time like"),
        (("--around", "-1"), "0 or more"),
    ],
)
def test_what_is_unknown_is_one_sentence_and_2(
    arguments: tuple[str, ...], words: str, folder: Path, run: Run
) -> None:
    outcome = run("find", *arguments, "--folder", str(folder), *AT)
    assert outcome.code == 2
    assert outcome.out == ""
    assert words in outcome.err
    assert outcome.err.count("\n") == 1


def test_hostile_text_does_nothing(shed: Callable[..., Path], run: Run) -> None:
    note = "note \x1b[31m[bold]x[/] [/] (.*) \u202eflip \x9b2J"
    folder = shed({"a.log": f"day 2026-11-24 night by KM\n22:10 A07 running\n22:20 A07 {note}\n"})
    for width in ((), ("--width", "80")):
        for word in ("(.*)", "[bold]", "*", "\\"):
            out = run("find", word, "--folder", str(folder), *AT, *width).out
            assert not any(ord(c) < 0x20 and c != "\n" for c in out)
            assert "\u202e" not in out
    assert "[bold]x[/] [/]" in run("find", "(.*)", "--folder", str(folder), *AT).out


def test_a_word_of_the_mill_finds_both_languages_in_the_example(run: Run) -> None:
    english = run("find", "loses weft", "--folder", str(EXAMPLE), *AT).out
    german = run("find", "verliert den schuss", "--folder", str(EXAMPLE), *AT).out
    assert english == german
    assert "Schuss" in english
    assert "drops weft" in english


@pytest.mark.parametrize("name", ["=1+1.log", "+2.log", "-3.log", "@SUM(1).log"])
def test_a_log_named_like_a_formula_begins_no_line_as_one(
    run: Run, tmp_path: Path, name: str
) -> None:
    (tmp_path / "shed.toml").write_text(SMALL_REGISTER)
    (tmp_path / name).write_text("2026-11-24T06:10 A01 note smells hot\n")
    found = run("find", "hot", "--folder", str(tmp_path), *AT)
    path, line, _ = found.out.split(":", 2)
    assert (path, line) == (f"./{name}", "1")
    assert (tmp_path / path).exists()
