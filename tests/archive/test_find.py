"""A search of an archive finds what each mill's own folder holds, merged by time."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from board.show.archive_find import archive_piped_lines
from tests.archive.conftest import OCTOBER_AT, Answer, built, command
from tests.archive.mills import AT, NORTH, write, write_all
from tests.conftest import EXAMPLE, Run

HERE = ("--workers", "1")

QUESTIONS = [
    ("band",),
    ("tape", "--part", "tape", "--side", "left", "--around", "1"),
    ("--kind", "fault", "--from", "2025-06-01", "--to", "2026-02-28"),
    ("--by", "RB"),
    ("--kind", "replaced", "--loom", "A02"),
    ("--style", "4410", "--from", "2026-10-01"),
    ("row",),
]


def _less_mill(hits: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [{key: value for key, value in hit.items() if key != "mill"} for hit in hits]


@pytest.mark.parametrize(
    "question",
    [
        ("drops", "weft", "--kind", "fault"),
        ("guide", "--around", "2", "--from", "2026-10-25"),
        ("--kind", "note", "--by", "KM"),
        ("--kind", "note", "--kind", "replaced"),
        ("isolatd",),
        ("tpae",),
    ],
    ids=" ".join,
)
def test_an_archive_of_one_mill_answers_as_its_folder(
    october: Path, example_archive: Path, asked: Answer, question: tuple[str, ...]
) -> None:
    alone = asked("find", *question, "--folder", str(october), "--at", OCTOBER_AT)
    archive = ("--archive", str(example_archive), *HERE, "--at", OCTOBER_AT)
    found = asked("find", *question, *archive)
    assert _less_mill(found["hits"]) == alone["hits"]
    assert found["total"] == alone["total"]
    assert found["near"] == alone["near"]
    assert found["totals"]["part"] == alone["totals"]["part"]
    assert found["totals"]["symptom"] == alone["totals"]["symptom"]
    looms = {f"quillbank {loom}": count for loom, count in alone["totals"]["loom"].items()}
    assert found["totals"]["loom"] == looms


@pytest.mark.parametrize("question", ["find", "repeats"])
def test_a_time_that_ends_before_it_begins_is_refused(
    example_archive: Path, kept: Path, question: str
) -> None:
    span = ("--from", "2026-10-02", "--to", "2026-10-01")
    told = command(kept, question, *span, "--archive", str(example_archive), *HERE)
    assert told.code == 2
    assert "--from 2026-10-02 is not before --to 2026-10-01" in told.err


@pytest.mark.parametrize("question", QUESTIONS, ids=" ".join)
def test_an_archive_of_three_mills_answers_their_union_in_the_order_of_time(
    group: Path, mills: dict[str, Path], asked: Answer, question: tuple[str, ...]
) -> None:
    found = asked("find", *question, "--archive", str(group), *HERE, "--at", AT)
    for name, folder in mills.items():
        alone = asked("find", *question, "--folder", str(folder), "--at", AT)
        own = [hit for hit in found["hits"] if hit["mill"] == name]
        assert _less_mill(own) == alone["hits"]
        assert found["totals"]["mill"][name] == alone["total"]
    assert found["total"] == len(found["hits"]) > 0
    times = [datetime.fromisoformat(h["when"]) for h in found["hits"] if h["when"]]
    assert times == sorted(times)


def test_the_newest_of_all_mills_are_kept(group: Path, asked: Answer) -> None:
    every = asked("find", "tape", "--archive", str(group), *HERE)
    some = asked("find", "tape", "--archive", str(group), *HERE, "--most", "7")
    assert some["hits"] == every["hits"][-7:]
    assert some["total"] == every["total"]


def test_each_mills_own_register_decides_words(group: Path, asked: Answer) -> None:
    """``band`` is another word for a tape in two mills, ``belt`` in the third."""
    band = asked("find", "--part", "band", "--archive", str(group), *HERE)
    assert {hit["mill"] for hit in band["hits"]} == {"north", "east"}
    assert [each["mill"] for each in band["unknown_in"]] == ["south"]
    assert band["totals"]["mill"]["south"] == 0


def test_a_loom_of_one_mill_gives_nothing_in_the_others(group: Path, asked: Answer) -> None:
    found = asked("find", "--loom", "C01", "--archive", str(group), *HERE)
    assert {hit["mill"] for hit in found["hits"]} == {"south"}


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--part", "tapr"), "there is no part tapr; did you mean tape?"),
        (("--loom", "Z99"), "there is no loom Z99"),
        (("--kind", "falt"), "there is no kind falt; did you mean fault?"),
        (("--from", "yesterday"), "--from takes a time like 2026-11-25T06:00, not yesterday"),
    ],
)
def test_what_no_mill_knows_is_refused(
    group: Path, run: Run, words: tuple[str, ...], sentence: str
) -> None:
    done = run("find", *words, "--archive", str(group), *HERE)
    assert done.code == 2
    assert done.out == ""
    assert sentence in done.err


def test_nothing_found_offers_near_words_of_every_mill(group: Path, run: Run) -> None:
    done = run("find", "fryas", "--archive", str(group), *HERE)
    assert done.code == 1
    assert "nothing found in 3 mills for fryas; fryas: did you mean frays" in done.err


def test_lines_of_a_pipe_begin_with_the_mill(group: Path, run: Run) -> None:
    done = run("find", "old", "year", "--archive", str(group), *HERE)
    assert done.out == (
        "north/2025/2025-12-31-late-RB.log:2: 2025-12-31T21:50+00:00 A05 RB note old year band"
        " [struck]\n"
    )


def test_a_screen_of_80_columns_tells_the_mill_and_its_own_clock(group: Path, run: Run) -> None:
    done = run("find", "hook", "--archive", str(group), *HERE, "--width", "80")
    assert done.out.splitlines() == [
        "FOUND 1 in 3 mills ------------------------------------------------ oldest first",
        "01 Mar 07:00 south C01  UB  hook gap 0.20 mm                     2026/hook.log:2",
        "TOTALS ------------------------------ 1 hit; a hit counts for each that it names",
        "by mill:    south 1",
        "by loom:    south C01 1",
        "by part:    hook 1",
        "a record, not a permit: prove dead at the machine",
    ]


@pytest.mark.parametrize("width", [40, 80, 132])
def test_no_line_is_wider_than_asked(group: Path, run: Run, width: int) -> None:
    done = run("find", "tape", "--archive", str(group), *HERE, "--width", str(width))
    assert max(map(len, done.out.splitlines())) <= width


def test_answers_stand_when_the_folders_are_away(kept: Path, tmp_path: Path, asked: Answer) -> None:
    mills = write_all(tmp_path / "mills", ("north",))
    out = built(kept, tmp_path / "group", mills)
    before = asked("find", "tape", "--archive", str(out), *HERE)
    mills["north"].rename(tmp_path / "away")
    assert asked("find", "tape", "--archive", str(out), *HERE) == before


def test_text_of_a_log_and_of_a_path_is_never_obeyed(kept: Path, tmp_path: Path) -> None:
    hostile = "\x1b[31mred \x9b1m \u202e [bold]safe[/bold] =cmd|'/c calc'!A1"
    log = (
        "day 2026-11-20 late by KM\n15:00 A01 running\n"
        f"15:10 A01 fault left tape {hostile}\n15:20 A01 fault cleared {hostile}\n"
        f"15:30 A01 fault left tape {hostile}\n15:40 A01 replaced left tape worn; batch {hostile}\n"
        f"15:50 A01 left tpae {hostile}\n"
    )
    mill = write(tmp_path / "a\x1b[31m mill", {"a\x1b[1m.log": log}, NORTH)
    words = ("archive", str(tmp_path / "group"), f"--mill=north={mill}", "--at", AT, *HERE)
    shown = [command(kept, *words), command(kept, *words, "--json")]
    for question in (
        ("find", "red"),
        ("find", "red", "--width", "80"),
        ("find", "red", "--json"),
        ("find", "--part", hostile),
        ("repeats", "--width", "80"),
        ("lives", "--by", "batch", "--width", "80"),
        ("wear", "--audit", "--width", "80"),
    ):
        shown.append(command(kept, *question, "--archive", str(tmp_path / "group"), *HERE))
    for done in shown:
        for text in (done.out, done.err):
            assert not any(c in text for c in "\x1b\x9b\u202e")
    assert "red" in shown[2].out


def test_an_archive_and_a_folder_are_not_asked_at_once(group: Path, kept: Path) -> None:
    done = command(kept, "find", "tape", "--archive", str(group), "--folder", str(EXAMPLE))
    assert (done.code, done.out) == (2, "")
    done = command(kept, "find", "tape", "--folder", str(EXAMPLE), "--workers", "2")
    assert (done.code, done.err) == (2, "loomslate: --workers and --scheduler are for --archive\n")


def test_a_later_clock_changes_nothing_that_the_archive_saw(group: Path, asked: Answer) -> None:
    """Without ``--at`` an archive is asked as of when it was brought up to date."""
    found = asked("find", "tape", "--archive", str(group), *HERE)
    assert json.dumps(found) == json.dumps(
        asked("find", "tape", "--archive", str(group), *HERE, "--at", AT)
    )


def test_nothing_of_a_line_that_was_not_understood_is_left_out() -> None:
    said = {"line": 2, "path": "a.log", "by": None, "standing": "not understood", "when": None}
    known = {"written": "2026-11-24T22:41+00:00", "loom": None, "text": "22:41 M07 isolatd by TN"}
    other = {"written": None, "loom": None, "text": "M07 isolatd by TN"}
    hits = tuple(
        (0.0, "north", 0, json.dumps({**said, **each, "mill": "north"})) for each in (known, other)
    )
    rows = archive_piped_lines((hits, (), ((), (), ()), (), (), 0))
    assert [row.plain for row in rows] == [
        "north/a.log:2: 2026-11-24T22:41+00:00 ? ? M07 isolatd by TN [not understood]",
        "north/a.log:2: ? ? ? M07 isolatd by TN [not understood]",
    ]
