"""The printed board: golden screens of the example, and what must never leave the screen."""

from __future__ import annotations

import fcntl
import json
import os
import pty
import struct
import termios
from collections.abc import Callable
from pathlib import Path

import pytest

from board import cli
from board.shell import Shell
from board.show.text import width
from board.state.seals import seal_of
from tests.conftest import BIG_REGISTER, EXAMPLE, NOW, SMALL_REGISTER, Run

GOLDEN = Path(__file__).parent.parent / "golden"
AT = ("--at", "2026-11-25T06:00")

SCREENS = {
    "board-80x24": ("board", str(EXAMPLE), *AT, "--width", "80", "--height", "24"),
    "board-120x40": ("board", str(EXAMPLE), *AT, "--width", "120", "--height", "40"),
    "board-200x60": ("board", str(EXAMPLE), *AT, "--width", "200", "--height", "60"),
    "board-ascii": ("board", str(EXAMPLE), *AT, "--width", "80", "--height", "24", "--ascii"),
    "board-section-a": (
        "board", str(EXAMPLE), *AT, "--width", "80", "--height", "24", "--section", "a",
    ),
    "board-since-rb": (
        "board", str(EXAMPLE), *AT, "--width", "80", "--height", "24", "--since", "RB",
    ),
    "board-all": ("board", str(EXAMPLE), *AT, "--width", "120", "--all"),
    "loom-a07": ("loom", "a7", "--folder", str(EXAMPLE), *AT, "--width", "80"),
    "loom-b03-120": ("loom", "B03", "--folder", str(EXAMPLE), *AT, "--width", "120"),
    "check": ("check", str(EXAMPLE), *AT, "--width", "80"),
}  # fmt: skip


@pytest.mark.parametrize("name", SCREENS)
def test_golden_screen(name: str, run: Run) -> None:
    outcome = run(*SCREENS[name])
    golden = GOLDEN / f"{name}.txt"
    if os.environ.get("BLESS"):
        golden.parent.mkdir(exist_ok=True)
        golden.write_text(outcome.out, encoding="utf-8")
    assert outcome.out == golden.read_text(encoding="utf-8")
    assert outcome.err == ""


@pytest.mark.parametrize(("columns", "rows"), [(80, 24), (100, 30), (120, 40), (200, 60), (80, 60)])
def test_board_fits_its_size(columns: int, rows: int, run: Run) -> None:
    outcome = run("board", str(EXAMPLE), *AT, "--width", str(columns), "--height", str(rows))
    lines = outcome.out.splitlines()
    assert len(lines) <= rows
    assert max(map(width, lines)) <= columns


def test_a_board_without_a_size_leaves_its_head_on_a_terminal_above_the_prompt(
    shed: Callable[..., Path], kept: Path
) -> None:
    rows = 24
    folder = shed({"a.log": "day 2026-11-24 night by KM\n22:40 A07 running\n"})
    printed = on_a_terminal("board", str(folder), *AT, columns=80, rows=rows, cache=kept)
    screen = printed.rstrip("\n").split("\n")
    assert screen[0].startswith("SMALLSHED")
    assert len(screen) == rows - 1


def on_a_terminal(*arguments: str, columns: int, rows: int, cache: Path) -> str:
    """What a command prints to a pseudo-terminal of that size, without its colours."""
    parent, child = pty.openpty()
    fcntl.ioctl(child, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
    environ = {"TERM": "dumb", "LANG": "C.UTF-8", "XDG_CACHE_HOME": str(cache)}
    with open(child, "w", encoding="utf-8") as output, open(parent, "rb", buffering=0) as shown:
        shell = Shell(stdin=None, stdout=output, stderr=output, environ=environ, clock=lambda: NOW)
        assert cli.run(arguments, shell) == 0
        return shown.read(65536).decode().replace("\r\n", "\n")


def test_a_shed_that_says_so_in_its_name_is_not_called_a_shed_twice(
    shed: Callable[..., Path], run: Run
) -> None:
    for name, head in (("Our shed", "OUR SHED  "), ("Washed wool", "WASHED WOOL shed  ")):
        folder = shed({}, SMALL_REGISTER.replace("Smallshed", name))
        for command in ("board", "handover", "round"):
            assert run(command, str(folder), *AT).out.startswith(head)
        for command in ("handover", "round"):
            assert f">{head.strip()}<" in run(command, str(folder), *AT, "--html", "-").out


def test_a_loom_whose_head_is_wider_than_the_screen_goes_on_below(
    shed: Callable[..., Path], run: Run
) -> None:
    lines = "22:40 A07 stopped for laid-up; style 4410\n"
    folder = shed({"a.log": "day 2026-11-24 night by KM\n" + lines})
    shown = run("loom", "A07", "--folder", str(folder), *AT, "--width", "60").out.splitlines()
    assert shown[0] == "A07  section A  Smallshed   STOPPED for laid-up since 22:40"
    assert shown[1] == "style 4410"


@pytest.mark.parametrize("columns", [40, 50, 60])
def test_a_narrow_loom_keeps_the_verdict_on_each_part(columns: int, run: Run) -> None:
    asked = ("loom", "A12", "--folder", str(EXAMPLE), *AT, "--charts", "0")
    lines = run(*asked, "--width", str(columns)).out.splitlines()
    assert max(map(width, lines)) <= columns
    begun = next(i for i, row in enumerate(lines) if row.startswith("WEAR")) + 1
    rows = lines[begun : begun + 12]
    assert "PAST LIMIT" in rows[0]
    verdicts = ("PAST LIMIT", "within limit", "near limit", "gauge past", "gauge within")
    assert all(any(words in row for words in verdicts) for row in rows)
    assert "2.35 mm PAST LIMIT" in " ".join(rows[0].split())
    assert not any(row.endswith("~") for row in rows)  # a margin cut would be another one


def test_the_word_safe_is_on_no_screen(run: Run) -> None:
    for arguments in SCREENS.values():
        assert "safe" not in run(*arguments).out.casefold()


def test_piped_board_in_ascii_is_ascii(run: Run) -> None:
    assert run(*SCREENS["board-ascii"]).out.isascii()


# -- isolations are never out of sight -----------------------------------------------------


def forty_isolations(shed: Callable[..., Path]) -> Path:
    lines = ["day 2026-11-24 night by KM"]
    lines += [f"23:{n:02} A{n * 7:03} isolated by KM lock {n}" for n in range(1, 41)]
    lines += [f"22:{n % 60:02} A{n:03} stopped for fault" for n in range(1, 300, 3) if n % 7]
    return shed({"a.log": "\n".join(lines) + "\n"}, BIG_REGISTER)


def test_forty_isolations_are_all_named_at_80x24(shed: Callable[..., Path], run: Run) -> None:
    folder = forty_isolations(shed)
    out = run("board", str(folder), *AT, "--width", "80", "--height", "24").out
    first_screen = "\n".join(out.splitlines()[:24])
    for n in range(1, 41):
        assert f"A{n * 7:03} KM" in first_screen
    assert "not yet seen this shift" in first_screen


@pytest.mark.parametrize(
    ("locks", "height", "whole"), [(6, 12, True), (7, 12, False), (10, 24, True), (11, 24, False)]
)
def test_locks_are_told_whole_while_a_screen_has_room(
    shed: Callable[..., Path], run: Run, locks: int, height: int, whole: bool
) -> None:
    lines = [f"23:{n:02} A{n:02} isolated by KM lock {n}" for n in range(1, locks + 1)]
    folder = shed({"a.log": "\n".join(["day 2026-11-24 night by KM", *lines]) + "\n"})
    out = run("board", str(folder), *AT, "--width", "80", "--height", str(height)).out
    assert (f"A{locks:02}  KM since 23:{locks:02}  lock {locks} " in out) is whole
    assert whole or f"A{locks:02} KM*" in out


def test_a_board_smaller_than_its_isolations_grows(shed: Callable[..., Path], run: Run) -> None:
    folder = forty_isolations(shed)
    out = run("board", str(folder), *AT, "--width", "80", "--height", "8").out
    assert all(f"A{n * 7:03} KM" in out for n in range(1, 41))


def test_many_stopped_looms_do_not_push_worn_ones_off(shed: Callable[..., Path], run: Run) -> None:
    lines = ["day 2026-11-24 night by KM"]
    lines += [f"22:{n:02} A{n:02} stopped for fault" for n in range(1, 12)]
    lines += ["23:00 A12 left tape thickness 2.20 mm", "23:01 A12 running"]
    folder = shed({"a.log": "\n".join(lines) + "\n"})
    out = run("board", str(folder), *AT, "--width", "80", "--height", "20").out
    assert "PAST LIMIT by 0.20 mm" in out
    named = next(line for line in out.splitlines() if line.startswith("+"))
    assert "A05" in named


def test_a_conflict_stands_above_everything(shed: Callable[..., Path], run: Run) -> None:
    log = "day 2026-11-24 night by KM\n22:10 A07 isolated by KM\n22:20 A07 running; by DW\n"
    out = run("board", str(shed({"a.log": log})), *AT, "--height", "24").out
    assert "CONFLICT 1" in out.splitlines()[2]
    assert "A07  CONFLICT  written as running 22:20 by DW" in out


@pytest.mark.parametrize("cells", [40, 60, 80])
def test_who_took_a_lock_off_and_whose_is_never_cut(
    shed: Callable[..., Path], run: Run, cells: int
) -> None:
    who, owner = "Wilhelmina-Theodora", "Bartholomew-Maximilian-Featherstonehaugh"
    log = (
        "day 2026-11-24 night by KM\n"
        f"22:30 A07 isolated by {owner} lock 14\n22:31 A08 isolated by {owner} lock 15\n"
        f"22:40 A07 lock removed by {who} for {owner}\n"
    )
    folder = shed({"a.log": log})
    for command in (("board", str(folder)), ("loom", "A07", "--folder", str(folder))):
        text = "".join(run(*command, *AT, "--width", str(cells)).out.split())
        assert f"lockof{owner}wasremovedby{who}22:40" in text
    assert f"A08{owner}since22:31" in "".join(run("board", str(folder), *AT).out.split())


def test_no_isolation_is_called_no_proof(shed: Callable[..., Path], run: Run) -> None:
    folder = shed({"a.log": "day 2026-11-24 night by KM\n22:10 A07 running\n"})
    out = run("board", str(folder), *AT).out
    assert "none recorded, which is no proof" in out


@pytest.mark.parametrize("height", ["24", "8"])
def test_a_board_of_one_section_names_the_isolations_of_the_others(
    shed: Callable[..., Path], run: Run, height: str
) -> None:
    lines = [f"22:{n:02} A{n:02} isolated by P{n}" for n in range(1, 13)]
    log = "\n".join(["day 2026-11-24 night by KM", *lines, "22:30 A02 running"]) + "\n"
    out = run("board", str(shed({"a.log": log})), *AT, "--section", "b", "--height", height).out
    assert "isolated 0 and 12 elsewhere" in out
    assert "none recorded in section B, which is no proof of anything" in out
    assert "ISOLATED 12 in other sections:" in out
    assert all(f"A{n:02} P{n}*" in out for n in range(1, 13))
    assert "A02 P2* CONFLICT" in out


@pytest.mark.parametrize("columns", [40, 60, 72, 80, 100, 200])
def test_caution_handover_and_marks_are_whole_at_any_width(
    shed: Callable[..., Path], run: Run, columns: int
) -> None:
    log = (
        "day 2026-11-24 night by KM\n22:10 A07 isolated by KM lock 14 behind the creel, ask first\n"
        "05:50 shed handed over KM to RB\n"
    )
    out = run("board", str(shed({"a.log": log})), *AT, "--width", str(columns)).out
    assert max(map(width, out.splitlines())) <= columns
    flat = " ".join(out.split())
    assert "Record only, not a permit. Not listed is not proof. Prove dead at the machine." in flat
    assert "of shed: KM to RB said 05:50, not yet taken over" in flat
    assert "entries to 05:50" in flat
    assert "not yet seen this shift" in flat
    assert "A07 KM" in flat


def test_a_shift_that_changed_after_it_was_taken_over_is_told(
    shed: Callable[..., Path], run: Run
) -> None:
    """At any size, and with it the lock that is no longer on record."""
    lines = ["22:30 A01 isolated by TN lock 3", "23:10 A02 left tape 2.30 mm"]
    seal = seal_of(lines)
    taken = f"06:02 shed taken over by RB; sealed {seal.lines} {seal.digest}\n"
    early = f"day 2026-11-25 early by RB\n{taken}"

    def board(night: list[str], *options: str) -> str:
        log = "\n".join(["day 2026-11-24 night by TN", *night]) + "\n"
        folder = shed({"night.log": log, "early.log": early})
        return run("board", str(folder), "--at", "2026-11-25T06:30", *options).out

    told = "the night shift of 2026-11-24 changed after it was handed over: 1 line where 2 were"
    for size in (("--width", "80", "--height", "24"), ("--width", "40"), ("--all",)):
        assert told not in " ".join(board(lines, *size).split())
        assert told in " ".join(board(lines[1:], *size).split())
    assert json.loads(board(lines, "--json"))["changed_after_handover"] == []
    (one,) = json.loads(board(lines[1:], "--json"))["changed_after_handover"]
    assert told in one["message"]
    assert (one["path"], one["line"]) == ("early.log", 2)


def test_blanks_do_not_push_a_line_that_may_isolate_off_the_screen(
    shed: Callable[..., Path], run: Run
) -> None:
    log = f"day 2026-11-24 night by KM\n{' ' * 100}22:10   A07{' ' * 60}isolatd by KM\n"
    out = run("board", str(shed({"a.log": log})), *AT, "--width", "80").out
    assert "not understood, may be an isolation: 22:10 A07 isolatd by KM" in out
    loom = run("loom", "a7", "--folder", str(shed({"a.log": log})), *AT, "--width", "80").out
    assert "not understood, may be an isolation: 22:10 A07 isolatd by KM" in loom
    other = run("loom", "a8", "--folder", str(shed({"a.log": log})), *AT, "--width", "80").out
    assert "isolatd" not in other


def test_lines_of_this_shift_that_were_not_understood_come_before_old_ones(
    shed: Callable[..., Path], run: Run
) -> None:
    old = "".join(f"22:{n:02} A01 runing {n}\n" for n in range(5))  # above any heading
    new = "day 2026-11-25 early by RB\n06:05 A03 runing\n"
    folder = shed({"2020/old.log": old, "2026/new.log": new})
    out = run(
        "board", str(folder), "--at", "2026-11-25T06:10", "--width", "80", "--height", "24"
    ).out
    first = next(x for x in out.splitlines() if x.startswith("NOT UNDERSTOOD"))
    assert "06:05 A03 runing" in first


# -- hostile text --------------------------------------------------------------------------


def test_controls_and_markup_in_a_note_do_nothing(shed: Callable[..., Path], run: Run) -> None:
    note = "fault left tape \x1b[31mred [bold]x[/] [/] :smile: \u202eflip \x00 \x9b2J"
    folder = shed({"a.log": f"day 2026-11-24 night by KM\n22:10 A07 running\n22:20 A07 {note}\n"})
    for arguments in (("board", str(folder)), ("loom", "A07", "--folder", str(folder))):
        out = run(*arguments, *AT, "--width", "200").out
        assert not any(ord(c) < 0x20 and c != "\n" for c in out)
        assert "\u202e" not in out
        assert "\x9b" not in out
        assert "[bold]x[/] [/] :smile:" in out
