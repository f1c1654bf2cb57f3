"""Lines that may hide an isolation: whole on every screen, with day and writer, on the map too."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from board.reckon.summary import Summary, summarise
from board.show.live_view import Frame, Looking, Page, frame
from board.show.must_see import View
from board.show.text import width
from tests.conftest import Run
from tests.state.shed import NIGHT, night, read

AT = ("--at", "2026-11-25T06:00")
OLD = "day 2026-11-17 early by KM\n"
DINNER = "12:00 B03 note left for dinner, isolated by TN and nobody else may start it"
LOG = f"{OLD}09:00 A04 isolatd by JO\n{DINNER}\n{NIGHT}22:30 A03 running\n23:50 A03 isolated by\n"
SIZES = [(80, 24), (60, 20), (50, 20), (40, 12), (130, 50)]


def everything(
    summary: Summary, cells: int, rows: int, looking: Looking | None = None, trouble: str = ""
) -> str:
    """What comes by on a live screen, as one line of words."""
    view = View(width=cells, height=rows, not_current=trouble)
    seen: list[str] = []
    for turn in range(100):
        made = frame(summary, looking or Looking(), view, tick=5.0 * turn)
        assert len(made.lines) == rows
        assert max(width(x.plain) for x in made.lines) <= cells
        told = " ".join(rows_of(made))
        if told in seen[:1]:  # it begins again
            break
        seen.append(told)
    return "\n".join(seen)


def rows_of(made: Frame) -> list[str]:
    return [" ".join(row.plain.split()) for row in made.lines]


def flat(text: str) -> str:
    return " ".join(text.split())


# -- never cut -----------------------------------------------------------------------------


@pytest.mark.parametrize(("cells", "rows"), SIZES)
@pytest.mark.parametrize("page", [Page.OVERVIEW, Page.FULL, Page.HELP])
def test_the_whole_line_comes_by_on_a_live_screen(cells: int, rows: int, page: Page) -> None:
    seen = everything(summarise(read({"a.log": LOG})), cells, rows, Looking(page=page))
    for text in ("09:00 A04 isolatd by JO", DINNER, "23:50 A03 isolated by"):
        assert text in seen
    assert "(early of 17 Nov by KM)" in seen


@pytest.mark.parametrize(("cells", "rows"), SIZES)
def test_a_printed_board_wraps_it(
    shed: Callable[..., Path], run: Run, cells: int, rows: int
) -> None:
    size = ("--width", str(cells), "--height", str(rows))
    out = run("board", str(shed({"a.log": LOG})), *AT, *size).out
    assert max(map(width, out.splitlines())) <= cells
    assert DINNER in flat(out)
    assert "09:00 A04 isolatd by JO (early of 17 Nov by KM)" in flat(out)


@pytest.mark.parametrize("cells", [40, 60, 80])
def test_a_looms_page_wraps_it(shed: Callable[..., Path], run: Run, cells: int) -> None:
    asked = ("loom", "B03", "--folder", str(shed({"a.log": LOG})), *AT, "--width", str(cells))
    out = run(*asked).out
    above = out.partition("HISTORY")[0]
    assert f"{DINNER} (early of 17 Nov by KM)" in flat(above)
    assert "isolation: none recorded, which is no proof" in flat(above)
    assert "isolatd by JO" not in out


def test_forty_of_them_are_all_whole_at_80x24() -> None:
    lines = [f"22:{n:02} A0{n % 9 + 1} isolatd by P{n:02}" for n in range(40)]
    made = frame(summarise(night(*lines)), Looking(), View(width=80, height=24), tick=0.0)
    assert not made.turning
    assert all(line in "\n".join(rows_of(made)) for line in lines)
    seen = everything(summarise(night(*lines)), 40, 12)
    assert all(line in seen for line in lines)


HOSTILE = {
    "left and right of it": f"{'left ' * 300}isolatd by KM {'right ' * 250}",
    "words of a thousand letters": f"{'x' * 1500} isolatd by KM {'y' * 1000}",
    "no blank at all": f"{'ä' * 900};isolatd;by;KM;{'界' * 300}",
    "many of them": "isolatd by KM, " * 200,
    "beyond what is read": f"{'left ' * 3000}isolated by KM {'right ' * 900}",
    "blanks": f"{' ' * 2000}isolatd{' ' * 900}by{' ' * 900}KM",
}


@pytest.mark.parametrize("words", HOSTILE.values(), ids=HOSTILE)
@pytest.mark.parametrize(("cells", "rows"), [(80, 24), (40, 12)])
def test_of_a_line_of_thousands_of_characters_what_may_be_an_isolation_is_shown(
    words: str, cells: int, rows: int
) -> None:
    summary = summarise(night(f"22:10 A07 {words}"))
    seen = everything(summary, cells, rows)
    told = flat(seen)
    assert "22:10 A07" in told
    assert "isolat" in told
    assert "KM" in told
    assert len(seen) < 12_000


# -- when and by whom ----------------------------------------------------------------------


def test_a_line_of_a_week_ago_is_dated_and_one_of_today_is_not(
    shed: Callable[..., Path], run: Run
) -> None:
    ahead = "day 2026-11-26 early by EP\n07:00 A05 isolatd by EP\n"
    bare = {"b.log": "08:00 A06 isolatd by JO\n"}
    folder = shed({"a.log": LOG + ahead, **bare})
    out = flat(run("board", str(folder), *AT, "--width", "120", "--all").out)
    assert "09:00 A04 isolatd by JO (early of 17 Nov by KM)" in out
    assert "23:50 A03 isolated by (night by KM)" in out
    assert "07:00 A05 isolatd by EP (early of 26 Nov by EP, a time still to come)" in out
    assert "08:00 A06 isolatd by JO (day not known, b.log:1)" in out
    later = ("--at", "2027-11-26T06:00", "--width", "120", "--all")
    assert "isolatd by JO (early of 2026-11-17 by KM)" in flat(
        run("board", str(folder), *later).out
    )


def test_a_line_with_a_full_time_and_a_writer_of_its_own() -> None:
    line = "2026-11-17T09:00 A04 isolatd by JO; by DW\n"
    seen = everything(summarise(read({"a.log": line})), 120, 40)
    assert "2026-11-17T09:00 A04 isolatd by JO; by DW (17 Nov by DW)" in seen


def test_a_lock_seen_that_nobody_recorded_has_its_day_and_its_writer() -> None:
    text = f"{OLD}09:00 A04 lock seen by RB; by DW\n"
    assert "lock seen by RB; by DW (early of 17 Nov by DW)" in everything(
        summarise(read({"a.log": text})), 120, 40
    )


def test_the_sheets_name_the_writer_and_the_day(shed: Callable[..., Path], run: Run) -> None:
    folder = shed({"a.log": LOG})
    out = flat(run("handover", str(folder), *AT, "--width", "100").out)
    told = "09:00 A04 isolatd by JO (early of 17 Nov by KM; a.log:2)"
    assert f"not understood, may be an isolation: {told}" in out
    assert "A04: is there a lock? look at the machine, and ask KM (a.log:2)" in out
    assert told in flat(run("round", str(folder), *AT).out)


def test_the_documents_tell_when_by_whom_and_of_which_looms(
    shed: Callable[..., Path], run: Run
) -> None:
    folder = shed({"a.log": f"{LOG}day 2026-11-26 early\nA isolatd by EP\n"})
    told = json.loads(run("board", str(folder), *AT, "--json").out)
    first, *_, last = told["may_be_isolation"]
    assert first == {
        "path": "a.log", "line": 2, "text": "09:00 A04 isolatd by JO",
        "when": "2026-11-17T09:00+00:00", "still_to_come": False, "day": "2026-11-17",
        "shift": "early", "by": "KM", "gone_since": None, "looms": ["A04"],
    }  # fmt: skip
    assert (last["when"], last["still_to_come"]) == ("2026-11-26T06:00+00:00", True)
    assert (last["shift"], last["by"], last["looms"][0]) == ("early", None, "A01")
    may = {x["loom"]: x["isolation"]["may_be_isolated"] for x in told["looms"]}
    assert (may["A04"], may["B03"], may["B01"]) == (True, True, False)
    for command in ("round", "handover"):
        shown = json.loads(run(command, str(folder), *AT, "--json").out)
        assert shown["may_be_isolation"] == told["may_be_isolation"]
    asked = next(q for q in shown["questions"] if q["about"] == "may be an isolation")
    assert (asked["by"], asked["looms"][0]["loom"]) == ("KM", "A04")


# -- the map and the table -----------------------------------------------------------------


@pytest.mark.parametrize("cells", ["120", "130"])
def test_the_map_marks_its_loom(shed: Callable[..., Path], run: Run, cells: str) -> None:
    locked = f"{LOG}22:40 A05 isolated by RB\n22:50 A05 isolatd by JO\n"
    size = ("--width", cells, "--height", "50")
    out = run("board", str(shed({"a.log": locked})), *AT, *size).out
    for mark in ("A03M", "A04M", "B03M", "A05X", "M may be isolated"):
        assert mark in out
    assert "A06M" not in out
    assert "blank: running" in out
    assert "~" not in out.partition("SHED ---")[2]


@pytest.mark.parametrize("cells", ["80", "120"])
def test_the_row_of_its_loom_says_so(shed: Callable[..., Path], run: Run, cells: str) -> None:
    out = run("board", str(shed({"a.log": LOG})), *AT, "--all", "--width", cells).out
    rows = [row for row in out.partition("EVERY LOOM")[2].splitlines() if "may be isolated" in row]
    assert [row.split()[0] for row in rows] == ["A03", "A04", "B03"]


def test_a_line_that_was_understood_is_not_called_otherwise(
    shed: Callable[..., Path], run: Run
) -> None:
    folder = shed({"a.log": "day 2026-11-24 night by KM\n22:40 A07 isolated by KM and RB\n"})
    for command in ("board", "handover", "round"):
        out = run(command, str(folder), "--at", "2026-11-25T06:00").out.casefold()
        assert "may be an isolation: 22:40 a07 isolated by km and rb" in out
        assert "not understood, may be" not in out


def test_a_second_loom_in_the_text_of_a_lock_is_marked_too(
    shed: Callable[..., Path], run: Run
) -> None:
    log = f"{NIGHT}22:30 A04 running\n22:40 A03 isolated by KM lock 14, same on A04\n"
    folder = str(shed({"a.log": log}))
    (told,) = json.loads(run("board", folder, *AT, "--json").out)["may_be_isolation"]
    assert told["looms"] == ["A03", "A04"]
    assert "same on A04" in flat(run("loom", "A04", "--folder", folder, *AT).out)
    log = f"{NIGHT}22:40 A03 isolated by KM and TN lock 14, parts from A04; note as on A05\n"
    folder = str(shed({"a.log": log}))
    (told,) = json.loads(run("board", folder, *AT, "--json").out)["may_be_isolation"]
    assert told["looms"] == ["A03"]


@pytest.mark.parametrize(
    ("line", "looms"),
    [
        ("22:30 A01, A02, A03 isolated by KM lock 14", ["A01", "A02", "A03"]),
        ("22:30 isolated A02 and A03 by KM", ["A02", "A03"]),
        ("22:30 A01 and A02 und A03 isolatd by KM", ["A01", "A02", "A03"]),
        ("22:30 A01+A02/A03 isolated by KM", ["A01", "A02", "A03"]),
        ("22:30 A01isolated by KM", ["A01"]),
        ("22:30 A01 isolated by KM; note A02 isolated by KM too", ["A01", "A02"]),
        ("22:30 A01 isolated by KM lock 14; note lock of KM on A02", ["A01", "A02"]),
        ("22:30 A01 stopped for fault; open look at A02 isolatd by KM", ["A01", "A02"]),
        ("22:30 stopped A01 isolated by KM; by RB; by TN", ["A01"]),
    ],
)
def test_every_loom_that_a_line_names_may_be_isolated(
    shed: Callable[..., Path], run: Run, line: str, looms: list[str]
) -> None:
    folder = shed({"a.log": f"day 2026-11-24 night by KM\n{line}\n"})
    told = json.loads(run("board", str(folder), *AT, "--json").out)
    (may,) = told["may_be_isolation"]
    assert may["looms"] == looms
    marked = [x["loom"] for x in told["looms"] if x["isolation"]["may_be_isolated"]]
    assert marked == looms
