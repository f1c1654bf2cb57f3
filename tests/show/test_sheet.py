"""The handover sheet for paper: what stands on it, in which order, and that nothing is cut.

What a handover must serve is taken from two published guides: UK Health and Safety Executive,
Human factors: shift handover (preparation, exchange face to face with written support,
cross-checking by the incoming), and DOE-STD-1038-93, Guide to good practices for operations
turnover, 4.1.2 (date, time and signatures of both on the sheet), 4.2 and 4.3 (log review,
walkdown).
"""

from __future__ import annotations

import io
import json
import os
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from board import cli
from board.shell import Shell
from board.show.screens import CAUTION
from board.show.sheet import PAGE_LINES
from board.show.text import to_ascii, width
from tests.conftest import BIG_REGISTER, EXAMPLE, NOW, SMALL_REGISTER, Run

GOLDEN = Path(__file__).parent.parent / "golden"
AT = ("--at", "2026-11-25T06:00")
SHEETS = {
    "handover": ("handover", str(EXAMPLE), *AT),
    "handover-since-rb-100": ("handover", str(EXAMPLE), *AT, "--since", "RB", "--width", "100"),
}
NIGHT = "day 2026-11-24 night by KM\n"
HOSTILE = (
    NIGHT
    + "22:10 A07 isolated by KM <script>alert(1)</script> & lock\n"
    + "22:20 A08 fault \x1b[31mred\x1b]0;title\x07 \u202egnorw\u202c [/] :smile: [bold]\n"
    + "22:30 A09 note \u05e9\u05dc\u05d5\u05dd </td></table> <img src=http://a.example/x>\n"
    + "22:40 A10 stoped <b onload=x>\n"
)


@pytest.mark.parametrize("name", SHEETS)
def test_golden_sheet(name: str, run: Run) -> None:
    outcome = run(*SHEETS[name])
    golden = GOLDEN / f"{name}.txt"
    if os.environ.get("BLESS"):
        golden.parent.mkdir(exist_ok=True)
        golden.write_text(outcome.out, encoding="utf-8", newline="")
    assert outcome.out == golden.read_bytes().decode("utf-8")
    assert outcome.err == ""


def pages(text: str) -> list[list[str]]:
    return [page.removesuffix("\n").split("\n") for page in text.split("\f")]


@pytest.mark.parametrize("cells", [60, 80, 100, 132])
def test_every_page_fits_and_has_the_head(cells: int, run: Run) -> None:
    found = pages(run("handover", str(EXAMPLE), *AT, "--width", str(cells)).out)
    assert len(found) >= 2
    for number, page in enumerate(found, start=1):
        assert len(page) <= PAGE_LINES
        assert max(map(len, page)) <= cells
        top = " ".join(page[:9])
        assert f"page {number} of {len(found)}" in top
        assert "night 2026-11-24 -> early 2026-11-25" in top
        assert CAUTION in top


def test_the_sheet_is_ascii_without_control_characters(shed: Callable[..., Path], run: Run) -> None:
    out = run("handover", str(shed({"a.log": HOSTILE})), *AT).out
    assert out.isascii()
    assert set(re.findall(r"[^\x20-\x7e]", out)) <= {"\n", "\f"}
    assert "<script>alert(1)</script> & lock" in out
    assert "?[31mred?]0;title?" in out
    assert "?gnorw? [/] :smile: [bold]" in out
    assert r"note \u05e9\u05dc\u05d5\u05dd </td>" in out.replace("22:30 ", "note ")
    assert "? was a control character" in out


def test_the_word_safe_is_on_no_sheet(run: Run) -> None:
    for form in ((), ("--html", "-"), ("--json",)):
        assert "safe" not in run("handover", str(EXAMPLE), *AT, *form).out.casefold()


# -- nothing is left out -------------------------------------------------------------------


def squeezed(text: str) -> str:
    """The text of all pages without heads of pages and line breaks."""
    rows = [line for page in pages(text) for line in page[5:]]
    return re.sub(r"\s+", " ", " ".join(rows))


def test_rows_equal_the_counts_of_the_summary(run: Run) -> None:
    whole = json.loads(run("handover", str(EXAMPLE), *AT, "--json").out)
    counts = whole["counts"]
    assert len({x["loom"] for x in whole["isolations"]}) == counts["isolated"]
    assert len(whole["conflicts"]) == counts["conflict"]
    stopped = [*whole["down"], *whole["waiting"], *whole["laid_up"]]
    assert len(stopped) == counts["stopped"]
    assert len(whole["worn"]) == counts["past_limit"] + counts["at_limit"]
    assert len(whole["half_done"]) == counts["proofs_missing"]
    assert len(whole["actions"]) == counts["actions"]
    unread = len(whole["not_understood"]) + len(whole["may_be_isolation"])
    assert unread + whole["older_not_understood"] == counts["not_understood"]
    silent = next(q for q in whole["questions"] if q["about"] == "silence")
    assert len(silent["looms"]) == counts["silent"]
    text = run("handover", str(EXAMPLE), *AT).out
    for title, count in [
        ("ISOLATED ON RECORD", counts["isolated"]),
        ("TO ASK", len(whole["questions"])),
        ("DOWN", len(whole["down"])),
        ("WORN PAST LIMIT", counts["past_limit"]),
        ("WORN AT LIMIT", counts["at_limit"]),
        ("EXPECTED TO PASS LIMIT IN THE COMING SHIFT", len(whole["passing_limit"])),
        ("OPEN ACTIONS", counts["actions"]),
        ("LINES NOT UNDERSTOOD", counts["not_understood"]),
    ]:
        assert f"\n{title} {count} " in text
    flat = squeezed(text)
    for record in (*whole["actions"], *whole["changed"], *whole["notes"]):
        assert " ".join(to_ascii(record["text"]).split()) in flat
    for line in (*whole["may_be_isolation"], *whole["not_understood"]):
        assert f"{line['path']}:{line['line']}" in flat


def test_forty_isolations_are_all_named_with_a_box(shed: Callable[..., Path], run: Run) -> None:
    lines = [f"23:{n:02} A{n * 7:03} isolated by KM lock {n}" for n in range(1, 41)]
    lines += [f"22:{n % 60:02} A{n:03} stopped for fault" for n in range(1, 300, 3) if n % 7]
    folder = shed({"a.log": NIGHT + "\n".join(lines) + "\n"}, BIG_REGISTER)
    out = run("handover", str(folder), *AT).out
    assert out.count("[ ] seen at the machine") == 40
    flat = squeezed(out)
    assert all(f"A{n * 7:03} KM since 23:{n:02}, lock {n};" in flat for n in range(1, 41))
    first = pages(out)[0]
    assert first[5].startswith("ISOLATED ON RECORD 40 ")
    assert flat.index("A280 KM") < flat.index("TO ASK") < flat.index("DOWN")


def test_a_long_text_is_wrapped_and_not_cut(shed: Callable[..., Path], run: Run) -> None:
    words = " ".join(f"word{n}" for n in range(120))
    endless = "x" * 300
    folder = shed({"a.log": NIGHT + f"22:10 A07 fault {words}\n22:20 A08 note {endless}\n"})
    out = run("handover", str(folder), *AT, "--width", "60").out
    assert words in squeezed(out)
    assert endless in re.sub(r"\s", "", out)
    assert max(len(line) for page in pages(out) for line in page) <= 60


def test_a_row_is_not_parted_between_pages(shed: Callable[..., Path], run: Run) -> None:
    lines = [
        f"23:{n:02} A07 note n{n} begins and goes on to a line of its own, to its end e{n}"
        for n in range(60)
    ]
    out = run(
        "handover", str(shed({"a.log": NIGHT + "\n".join(lines) + "\n"})), *AT, "--width", "60"
    )
    found = pages(out.out)
    assert sum("NOTES 60, continued" in page for page in found) >= 2
    for n in range(60):
        (page,) = (text for text in map("\n".join, found) if f" n{n} " in text)
        assert re.search(rf" n{n} begins [^\n]*\n[^\n]* e{n} \(KM\)", page)


def test_an_empty_shed_has_a_sheet(shed: Callable[..., Path], run: Run) -> None:
    outcome = run("handover", str(shed({})), *AT)
    assert outcome.code == 0
    assert "none recorded, which is no proof of anything" in outcome.out
    assert "no entries" in outcome.out
    assert "no .log file stands in" in squeezed(outcome.out)
    assert "OUTGOING name" in outcome.out


# -- what the guides ask for ---------------------------------------------------------------


def test_the_sheet_has_what_both_do_and_where_both_sign(run: Run) -> None:
    flat = squeezed(run("handover", str(EXAMPLE), *AT).out)
    for said in (
        "[ ] prepared by the outgoing lead before the shift ended",
        "[ ] gone through together, face to face",
        "[ ] log of the shift read by the incoming lead: 2026-11-24-night-KM.log (",
        "[ ] walk-round: isolations, conflicts and stops seen at the machines",
        "[ ] away for longer: read back to your own last taking over",
        "[ ] both lines are in the log",
        "local law, the site's own procedure and licensed people",
    ):
        assert said in flat
    for who in ("OUTGOING", "INCOMING"):
        assert re.search(rf"{who} name _+ date, time _+ signed _+", flat)
    assert "log: KM to RB, 05:56" in flat


def test_every_kind_of_question_is_asked(shed: Callable[..., Path], run: Run) -> None:
    night = (
        NIGHT
        + "22:05 shed taken over by KM\n"
        + "22:10 A01 isolated by KM lock 1\n22:30 A01 running; by TN\n"
        + "22:11 A02 isolated by KM lock 2\n22:40 A02 lock removed by TN for KM\n"
        + "22:12 A03 isolated by TN lock 3\n22:50 A04 isolatd by TN\n"
        + "23:00 A05 running; replaced left tape worn\n"
        + "23:10 A06 left tape 3.9 mm; right tape 39 mm\n"
    )
    out = squeezed(run("handover", str(shed({"n.log": night})), *AT).out)
    for question in (
        "A01 (KM): is it locked, or does it run? written as running 22:30 by TN",
        "A02 (KM): does KM know that TN took the lock off 22:40?",
        "A04: is there a lock? look at the machine, and ask KM (n.log:8)",
        "A01 (KM), A03 (TN): who has seen these locks this shift?",
        "who hands the night shift over, and to whom? no line says so",
        "A05 (KM): were the missing proofs done, and who writes them?",
        "(no entry at all)",
        "A06: does it run? no motion on record",
        "is this what was meant? 23:10 A06 left tape 3.9 mm; right tape 39 mm (n.log:10:",
    ):
        assert question in out
    assert "A02 lock of KM was removed by TN 22:40" in out
    assert "CONFLICTS 1" in out


LATE = "day 2026-11-24 late by DW\n15:00 A01 running\n21:56 shed handed over DW to KM\n"


def test_who_took_over_is_asked_about(shed: Callable[..., Path], run: Run) -> None:
    def asked(log: str) -> str:
        at = ("--at", "2026-11-24T22:10")
        return squeezed(run("handover", str(shed({"n.log": log})), *at).out)

    nobody = (
        "who has the shed now? DW said 21:56 to hand it over to KM, and nobody has taken it over"
    )
    assert nobody in asked(LATE)
    other = "EP took over 22:02 what DW handed to KM (shed): does KM know?"
    taken = LATE + "day 2026-11-24 night by EP\n22:02 shed taken over by EP\n"
    assert other in asked(taken)
    for quiet in (taken.replace("EP", "km"), taken + "22:05 shed taken over by KM\n"):
        assert "does KM know" not in asked(quiet)
        assert "nobody has taken" not in asked(quiet)


class Utf8(io.StringIO):
    """An output that takes every letter."""

    encoding = "utf-8"


def written(out: io.StringIO, *arguments: str, **environ: str) -> str:
    """What a command writes to an output with a locale of its own."""
    shell = Shell(
        stdin=None, stdout=out, stderr=io.StringIO(), clock=lambda: NOW,
        environ={"LANG": "en_GB.UTF-8", "LOOMSLATE_LOGS": "", **environ},
    )  # fmt: skip
    assert cli.run((*arguments, "--index", "none"), shell) == 0
    return out.getvalue()


NAMES = ("Олег", "Иван", "Łukasz", "王", "Müller", "Muller", "JÖ", "JO")


@pytest.fixture
def many_names(shed: Callable[..., Path]) -> str:
    locks = "".join(f"22:1{n} A01 isolated by {name}\n" for n, name in enumerate(NAMES))
    log = "day 2026-11-01 early by KM\n06:30 A01 running; left tape 3.00 mm\n" + NIGHT + locks
    return str(
        shed(
            {"a.log": log}, SMALL_REGISTER.replace("plausible", 'check_every = "5 days"\nplausible')
        )
    )


@pytest.mark.parametrize("command", ["handover", "round", "board", "loom"])
def test_names_are_written_as_they_are_where_the_output_takes_them(
    command: str, many_names: str
) -> None:
    where = ("A01", "--folder", many_names) if command == "loom" else (many_names,)
    out = written(Utf8(), command, *where, *AT)
    for name in NAMES:
        assert re.search(rf"(?<!\w){name}(?!\w)", out), name


@pytest.mark.parametrize("command", ["handover", "round", "board", "loom"])
@pytest.mark.parametrize("how", ["--ascii", "LANG=C", "ascii"])
def test_in_ascii_every_name_is_another_one(command: str, how: str, many_names: str) -> None:
    where = ("A01", "--folder", many_names) if command == "loom" else (many_names,)
    more = ("--ascii",) if how == "--ascii" else ()
    out = io.StringIO() if how == "ascii" else Utf8()
    environ = {"LANG": "C"} if how == "LANG=C" else {}
    text = written(out, command, *where, *AT, *more, **environ)
    assert text.isascii()
    for name in ("{Oleg}", "{Ivan}", "L/ukasz", r"\u738b", 'Mu"ller', "Muller", 'JO"', "JO"):
        assert re.search(rf"(?<!\w){re.escape(name)}(?![\w\"])", text), name


@pytest.mark.parametrize("cells", [60, 80])
def test_letters_of_two_cells_stay_within_the_sheet(cells: int, shed: Callable[..., Path]) -> None:
    folder = str(shed({"a.log": NIGHT + f"22:10 A07 fault {'疲れた ' * 40}{'疲' * 90}\n"}))
    out = written(Utf8(), "handover", folder, *AT, "--width", str(cells))
    assert max(width(row) for page in pages(out) for row in page) <= cells
    assert re.sub(r"[^疲れた]", "", out).startswith("疲れた" * 40 + "疲" * 90)


class Screen(io.StringIO):
    """An output that is a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("command", ["handover", "round"])
def test_on_a_terminal_it_says_how_many_pages_and_how_to_print(
    command: str, kept: Path, run: Run
) -> None:
    screen = Screen()
    shell = Shell(
        stdin=None,
        stdout=screen,
        stderr=io.StringIO(),
        environ={"XDG_CACHE_HOME": str(kept), "TERM": "dumb"},
        clock=lambda: NOW,
    )
    assert cli.run((command, str(EXAMPLE), *AT), shell) == 0
    piped = run(command, str(EXAMPLE), *AT).out
    number = piped.count("\f") + 1
    last = screen.getvalue().splitlines()[-1]
    assert last == (
        f"{number} pages of paper. To print: loomslate {command} | lp, or --html FILE for a browser."
    )
    assert "To print" not in piped
    assert "\f" not in screen.getvalue()


def test_a_line_added_after_taking_over_is_asked_about(shed: Callable[..., Path], run: Run) -> None:
    late = "day 2026-11-24 late by DW\n15:00 A01 running\n21:56 shed handed over DW to KM\n"
    night = NIGHT + "22:01 shed taken over by KM; sealed 1 000000\n"
    folder = shed({"l.log": late, "n.log": night})
    out = squeezed(run("handover", str(folder), *AT).out)
    assert "who changed it, and what? the late shift of 2026-11-24 changed" in out


# -- which change of shift, and since when -------------------------------------------------


@pytest.mark.parametrize(
    ("at", "change"),
    [
        ("2026-11-25T05:40", "night 2026-11-24 -> early 2026-11-25"),
        ("2026-11-25T06:00", "night 2026-11-24 -> early 2026-11-25"),
        ("2026-11-25T09:59", "night 2026-11-24 -> early 2026-11-25"),
        ("2026-11-25T10:01", "early 2026-11-25 -> late 2026-11-25"),
        ("2026-11-25T13:50", "early 2026-11-25 -> late 2026-11-25"),
        ("2026-11-24T23:00", "late 2026-11-24 -> night 2026-11-24"),
    ],
)
def test_the_change_of_shift_nearest_to_now(
    at: str, change: str, shed: Callable[..., Path], run: Run
) -> None:
    assert change in run("handover", str(shed({})), "--at", at).out


def test_shifts_that_overlap_follow_each_other(shed: Callable[..., Path], run: Run) -> None:
    register = """
[shed]
name = "Overlap"
zone = "Europe/London"
shifts = { early = "06:00-14:30", late = "14:00-22:00", night = "22:00-06:00" }
[section.A]
looms = ["A01"]
"""
    folder = shed({}, register)
    for at in ("2026-11-25T13:50", "2026-11-25T14:10"):
        out = run("handover", str(folder), "--at", at).out
        assert "early 2026-11-25 -> late 2026-11-25" in out


def test_in_closed_hours_the_last_shift_hands_to_the_next(
    shed: Callable[..., Path], run: Run
) -> None:
    register = """
[shed]
name = "Gap"
zone = "Europe/London"
shifts = { early = "06:00-14:00", late = "14:00-22:00" }
[section.A]
looms = ["A01"]
"""
    log = "day 2026-11-24 late by DW\n21:00 A01 note said before the night\n"
    out = run("handover", str(shed({"a.log": log}, register)), "--at", "2026-11-25T02:00").out
    assert "late 2026-11-24 -> early 2026-11-25" in out
    assert "21:00 said before the night (DW)" in out


def test_changed_reaches_back_to_the_last_taking_over(shed: Callable[..., Path], run: Run) -> None:
    logs = {
        "l.log": "day 2026-11-24 late by DW\n14:05 shed taken over by DW\n15:00 A01 running\n"
        "16:00 A01 fault in the late shift\n",
        "n.log": NIGHT + "22:01 shed taken over by KM\n22:30 A02 fault in the night\n",
        "e.log": "day 2026-11-25 early by RB\n06:05 shed taken over by RB\n",
    }
    folder = shed(logs)
    # taking over this change does not empty the sheet of it
    for at in ("2026-11-25T06:00", "2026-11-25T06:10"):
        out = run("handover", str(folder), "--at", at).out
        changed = out[out.index("CHANGED SINCE THE LAST TAKING OVER 22:01: 1 ") :]
        assert "fault in the night" in changed
        assert "fault in the late shift" not in changed
    longer = run("handover", str(folder), *AT, "--since", "dw").out
    assert "CHANGED SINCE DW TOOK OVER 14:05: 2 " in longer
    never = run("handover", str(shed({"l.log": "", "n.log": "", "e.log": ""})), *AT).out
    assert "CHANGED SINCE THE SHIFT BEGAN 22:00: 0" in never


def test_actions_of_the_coming_shift_are_marked(shed: Callable[..., Path], run: Run) -> None:
    log = (
        "day 2026-11-24 night by KM\n22:05 A01 running\n"
        "22:10 A01 open no 1 first; due 05:00\n"
        "22:11 A01 open no 2 second; due 09:00\n"
        "22:12 A01 open no 3 third; due 2026-11-27\n"
        "22:13 A01 open no 4 fourth; due in 12 h\n"
        "22:14 A01 open no 5 fifth; due in 100 h\n"
        "22:15 A01 open no 6 sixth; due before start\n"
    )
    whole = json.loads(run("handover", str(shed({"a.log": log})), *AT, "--json").out)
    assert {a["number"]: a["pressing"] for a in whole["actions"]} == {
        1: "overdue",
        2: "due in the coming shift",
        3: "later",
        4: "may fall due in the coming shift",
        5: "later",
        6: "before the loom starts",  # it ran already when the action was opened
    }
    flat = squeezed(run("handover", str(shed({"a.log": log})), *AT).out)
    assert "no 2 second; COMING SHIFT, due" in flat
    assert "no 4 fourth; MAY FALL IN COMING SHIFT, due in 12 h" in flat


def test_notes_that_were_struck_are_left_out(shed: Callable[..., Path], run: Run) -> None:
    log = NIGHT + "22:10 A01 note kept\n22:20 A02 note wrong loom\n22:30 A02 struck 22:20 not it\n"
    whole = json.loads(run("handover", str(shed({"a.log": log})), *AT, "--json").out)
    assert [n["text"] for n in whole["notes"]] == ["kept"]


# -- the command ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (("--width", "20"), "--width takes 60 columns or more"),
        (("--json", "--html", "-"), "choose one of --html and --json"),
        (("--since", "QQ"), "QQ has not taken the shed over"),
        (("--html", "/no/such/folder/sheet.html"), "cannot write /no/such/folder/sheet.html: no"),
        (("--html", "."), "cannot write .: it is a folder"),
        (("--html", "/dev/null"), "cannot write /dev/null: it is no ordinary file"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(
    arguments: tuple[str, ...], sentence: str, run: Run
) -> None:
    outcome = run("handover", str(EXAMPLE), *AT, *arguments)
    assert outcome.code == 2
    assert sentence in outcome.err
    assert outcome.err.count("\n") == 1
    assert outcome.out == ""


JSON_KEYS = {
    "as_of", "from_shift", "to_shift", "isolations", "conflicts", "down", "waiting",
    "running_with_faults", "worn", "half_done", "actions", "changed", "not_understood",
    "questions", "handover",
}  # fmt: skip


def test_json_has_the_keys_of_the_contract(run: Run) -> None:
    whole = json.loads(run("handover", str(EXAMPLE), *AT, "--json").out)
    assert set(whole) >= JSON_KEYS
    assert whole["from_shift"] == {"name": "night", "day": "2026-11-24"}
    assert whole["as_of"] == "2026-11-25T06:00+00:00"
    assert whole["handover"][0]["of_this_change"] is True
    for key in JSON_KEYS - {"as_of", "from_shift", "to_shift"}:
        assert all(isinstance(record, dict) for record in whole[key]), key
