"""The command line: exit codes, sentences for what goes wrong, and the contract of the JSON."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import EXAMPLE, ROOT, SMALL_REGISTER, Run

AT = ("--at", "2026-11-25T06:00")
NIGHT = "day 2026-11-24 night by KM\n"


def test_check_of_the_example_finds_refused_lines(run: Run) -> None:
    outcome = run("check", str(EXAMPLE), *AT)
    assert outcome.code == 1
    assert "did you mean tape?" in outcome.out


def test_check_without_a_refused_line_is_fine(shed: Callable[..., Path], run: Run) -> None:
    folder = shed({"a.log": NIGHT + "22:40 A07 running\n"})
    outcome = run("check", str(folder), *AT)
    assert outcome.code == 0
    assert outcome.out == "1 file, 2 lines, 1 entry understood; 0 lines refused, 0 flagged\n"


def test_check_on_a_narrow_screen_breaks_its_sentences_between_words(
    shed: Callable[..., Path], run: Run
) -> None:
    folder = shed({"a.log": "22:40 A07 running\n"})
    rows = run("check", str(folder), *AT, "--width", "50").out.splitlines()
    assert rows[:2] == [
        "a.log:1:1: refused no-day: this entry stands",
        "  under no heading that was understood",
    ]
    assert max(map(len, rows[:-1])) <= 50
    whole = run("check", str(folder), *AT).out.splitlines()
    assert whole[0] == " ".join(row.strip() for row in rows[:2])


def test_check_of_one_file_finds_the_register_above(shed: Callable[..., Path], run: Run) -> None:
    folder = shed({"2026/a.log": NIGHT + "22:40 A07 runing\n"})
    outcome = run("check", str(folder / "2026" / "a.log"), *AT)
    assert outcome.code == 1
    assert "did you mean running?" in outcome.out


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (("board", "/no/such/folder"), "there is no folder /no/such/folder"),
        (("board", str(EXAMPLE), "--at", "yesterday"), "--at takes a time like 2026-11-25T06:00"),
        (
            ("board", str(EXAMPLE), "--at", "2026-03-29T01:30"),
            "--at: the clocks went forward over 2026-03-29T01:30",
        ),
        (("board", str(EXAMPLE), *AT, "--section", "Z"), "there is no section Z"),
        (("board", str(EXAMPLE), *AT, "--since", "QQ"), "QQ has not taken the shed over"),
        (("board", str(EXAMPLE), *AT, "--width", "7"), "--width takes 40 columns or more"),
        (("loom", "A99", "--folder", str(EXAMPLE)), "no loom A99 stands in the register"),
        (("nonsense",), "there is no command nonsense; see loomslate --help"),
        (("borad", str(EXAMPLE)), "there is no command borad; did you mean board?"),
        (("check", "/no/such/file"), "there is no file or folder /no/such/file"),
        (("board", "--sideways"), "unrecognized arguments: --sideways"),
        ((), "required"),
    ],
)
def test_what_cannot_run_says_why_in_one_sentence(
    arguments: tuple[str, ...], sentence: str, run: Run
) -> None:
    outcome = run(*arguments)
    assert outcome.code == 2
    assert outcome.err.startswith("loomslate: ")
    assert sentence in outcome.err
    assert outcome.err.count("\n") == 1
    assert outcome.out == ""


def test_a_folder_without_logs_says_so_on_the_board(shed: Callable[..., Path], run: Run) -> None:
    outcome = run("board", str(shed({})), *AT)
    assert outcome.code == 0
    assert "no .log file stands in" in outcome.out


def test_a_wrong_register_gives_its_sentence_and_the_isolations(
    shed: Callable[..., Path], run: Run
) -> None:
    register = SMALL_REGISTER.replace("replace_below", "replace_bellow")
    log = (
        NIGHT
        + "22:40 A07 isolated by KM lock 14\n22:41 A08 isolated by KM\n"
        + "22:50 a8 lock removed by KM\n22:55 A09 isolatd by RB\n22:56 A10 thread-locked\n"
    )
    outcome = run("board", str(shed({"a.log": log}, register)), *AT)
    assert outcome.code == 2
    assert "replace_bellow" in outcome.err
    assert "line " in outcome.err
    assert "A07 isolated by KM lock 14" in outcome.out
    assert "A09 isolatd by RB" in outcome.out
    assert "A08" not in outcome.out
    assert "A10" not in outcome.out


def test_a_bad_line_costs_only_itself(shed: Callable[..., Path], run: Run) -> None:
    log = NIGHT + "22:40 A07 running\n22:41 A08 rnning fast\n22:42 A09 stopped for warp\n"
    whole = json.loads(run("board", str(shed({"a.log": log})), *AT, "--json").out)
    motions = {loom["loom"]: loom["motion"] for loom in whole["looms"]}
    assert (motions["A07"], motions["A08"], motions["A09"]) == ("RUNNING", "UNKNOWN", "STOPPED")
    assert whole["not_understood"] == 1


# -- JSON: the keys that others rely on ----------------------------------------------------

BOARD_KEYS = {
    "": "as_of shift counts looms shed handovers changed may_be_isolation not_understood current",
    "counts": "isolated conflict stopped running unknown past_limit at_limit silent"
    " proofs_missing actions not_understood",
    "looms.0": "loom motion motion_since stopped_for isolation faults actions proofs_missing wear"
    " last_entry silent_shifts",
    "looms.0.isolation": "state locks",
    "locks": "by text since seen_this_shift",
    "faults": "since text side part",
    "actions": "number text due overdue opened opened_by age_shifts",
    "proofs_missing": "part side what since by",
    "wear": "part side number quantity value unit uncertainty read_at old limit margin word"
    " forecast no_forecast",
    "handovers.0": "what by to said taken",
    "may_be_isolation.0": "path line text",
}


def test_board_json_has_the_keys_of_the_contract(run: Run) -> None:
    whole = json.loads(run("board", str(EXAMPLE), *AT, "--json").out)
    looms = whole["looms"]
    some = {
        "": whole,
        "counts": whole["counts"],
        "looms.0": looms[0],
        "looms.0.isolation": looms[0]["isolation"],
        "locks": next(x for loom in looms for x in loom["isolation"]["locks"]),
        "faults": next(x for loom in looms for x in loom["faults"]),
        "actions": next(x for loom in looms for x in loom["actions"]),
        "proofs_missing": next(x for loom in looms for x in loom["proofs_missing"]),
        "wear": next(x for loom in looms for x in loom["wear"]),
        "handovers.0": whole["handovers"][0],
        "may_be_isolation.0": whole["may_be_isolation"][0],
    }
    for where, keys in BOARD_KEYS.items():
        assert set(keys.split()) <= set(some[where]), where


@pytest.mark.parametrize("line", ["fault cleared", "lock removed by KM"])
def test_a_line_refused_by_the_state_is_not_counted_as_understood(
    line: str, shed: Callable[..., Path], run: Run, tmp_path: Path
) -> None:
    folder = shed({"a.log": f"day 2026-11-24 early by KM\n06:30 A01 running\n08:00 A02 {line}\n"})
    for index in ("none", str(tmp_path / "x.sqlite")):
        asked = (str(folder), "--at", "2026-11-24T10:00", "--index", index)
        out = run("check", *asked).out
        assert out.endswith(
            "3 lines, 2 entries read, 1 of them refused in part or whole; 1 line refused, 0 flagged\n"
        )
        told = json.loads(run("check", *asked, "--json").out)
        assert (told["entries"], told["partly_refused"]) == (2, 1)
        out = " ".join(run("figures", *asked).out.split())
        assert "2 entries used, 1 of them refused in part or whole; 0 lines not understood" in out


def test_board_json_counts_are_the_lengths_of_its_lists(run: Run) -> None:
    whole = json.loads(run("board", str(EXAMPLE), *AT, "--json").out)
    looms, counts = whole["looms"], whole["counts"]
    assert counts["isolated"] == sum(x["isolation"]["state"] != "none recorded" for x in looms)
    assert counts["stopped"] == sum(x["motion"] == "STOPPED" for x in looms)
    assert counts["stopped"] + counts["running"] + counts["unknown"] == len(looms) == 48
    assert counts["proofs_missing"] == sum(len(x["proofs_missing"]) for x in looms)
    assert counts["actions"] == sum(len(x["actions"]) for x in looms) + len(
        whole["shed"]["actions"]
    )
    words = [w["word"] for x in looms for w in x["wear"]]
    assert counts["past_limit"] == words.count("PAST LIMIT") + words.count("gauge past")
    assert counts["at_limit"] == words.count("AT LIMIT")


def test_check_json_points_at_the_span(shed: Callable[..., Path], run: Run) -> None:
    folder = shed({"a.log": NIGHT + "22:40 A07 left tpae 2.35 mm\n"})
    whole = json.loads(run("check", str(folder), *AT, "--json").out)
    (complaint,) = whole["complaints"]
    assert complaint["code"] == "unknown-part"
    assert complaint["text"][complaint["column"] - 1 : complaint["end_column"] - 1] == "tpae"
    assert (whole["files"], whole["lines"], whole["entries"]) == (1, 2, 0)


def test_loom_json_is_the_loom_of_the_board(run: Run) -> None:
    one = json.loads(run("loom", "a7", "--folder", str(EXAMPLE), *AT, "--json").out)
    assert one["loom"] == "A07"
    assert one["isolation"]["state"] == "ISOLATED"


# -- the real process ----------------------------------------------------------------------


def process(*arguments: str, **more: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "board", *arguments],
        cwd=ROOT,
        env={**os.environ, **more},
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=60,
        check=False,
    )


RAW = """\
day 2026-11-23 night by KM
22:40 A01 isolated by KM lock 1
22:50 A01 lock removed by KM; running
22:44 A10 gesperrt durch KM
22:45 A11 gesperrt durch JO
22:46 A11 Schloss weg von JO
22:52 A15 isolated by KM
22:53 A15 lock removed by KM
22:54 A15 struck 22:53 not so
23:20 A18 isolated by KM
23:15 A18 lock removed by KM
23:21 A19 isolated by KM
23:22 A20 isolated by KM lock 14; isolatd by RB lock 15
23:23 A21 isolated by KM and RB
23:24 A22 isolated by KM; isolated by RB
23:50 A23 isolated by KM
00:10 A23 lock removed by KM
00:20 A20 lock removed by KM
00:21 A21 lock removed by KM
00:22 A22 lock removed by RB for KM
00:23 A24 thread-locked
"""


def test_a_broken_register_tells_every_isolation_that_may_still_stand(
    shed: Callable[..., Path], run: Run
) -> None:
    words = '[words.de]\n"gesperrt durch" = "isolated by"\n"Schloss weg von" = "lock removed by"\n'
    folder = shed({"a.log": RAW}, "[shed]\nname = 3\n" + words)
    outcome = run("board", str(folder), *AT)
    head, *lines = outcome.out.splitlines()
    assert outcome.code == 2
    assert head.endswith("Not listed is not proof. Prove dead at the machine.")
    assert [line.split()[1] for line in lines] == ["A10", "A15", "A18", "A19", "A20", "A21", "A22"]
    as_json = run("board", str(folder), *AT, "--json")
    assert (as_json.out, as_json.code) == ("", 2)  # one JSON document, or nothing
    assert all(line in as_json.err for line in lines)


def test_ascii_where_the_output_takes_no_more(shed: Callable[..., Path]) -> None:
    log = NIGHT + "22:10 A07 running\n22:20 A07 fault linkes Band früh müde 疲れた\n"
    folder = shed({"a.log": log})
    done = process("board", str(folder), *AT, LC_ALL="C", PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert done.returncode == 0, done.stderr
    assert done.stdout.isascii()
    assert 'fru"h mu"de' in done.stdout


def test_a_closed_pipe_is_no_error() -> None:
    command = (
        f"{sys.executable} -m board board logs_example --at 2026-11-25T06:00 --all | head -n 1"
    )
    done = subprocess.run(
        ["bash", "-o", "pipefail", "-c", command],
        cwd=ROOT, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert done.stdout.startswith("QUILLBANK shed")


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="threads are counted by Linux")
def test_a_board_keeps_no_other_core_at_work() -> None:
    # numpy's linear algebra starts a thread for each further core, which waits by turning round
    counted = (
        "import atexit, os, sys\n"
        "threads = lambda: print(len(os.listdir('/proc/self/task')), 'numpy' in sys.modules)\n"
        "atexit.register(threads)\n"
        "sys.argv[1:] = ['wear', 'logs_example', '--at', '2026-11-25T06:00', '--index', 'none']\n"
        "from board.cli import main\n"
        "main()\n"
    )
    environ = {k: v for k, v in os.environ.items() if not k.endswith("_NUM_THREADS")}
    done = subprocess.run(
        [sys.executable, "-c", counted],
        cwd=ROOT, env=environ, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1] == "1 True"
