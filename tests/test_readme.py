"""The README is true: its picture, its table of commands, its register and its commands."""

from __future__ import annotations

import re
import shlex
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from board import cli
from board.mill import Mill
from board.record.register import read_register
from grammar.diagnostics import CATALOGUE, Severity
from grammar.reader import Reader
from grammar.units import UNITS, unit_of
from tests.conftest import EXAMPLE, ROOT, SMALL_REGISTER, Run

README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_picture_is_the_board_of_the_example(run: Run) -> None:
    picture = re.search(r"## What it looks like\n\n```\n(.*?)\n```", README, re.DOTALL)
    assert picture is not None
    at = ("--at", "2026-11-25T06:00", "--width", "80", "--height", "24")
    assert run("board", str(EXAMPLE), *at).out.rstrip("\n") == picture[1]


def test_the_table_names_every_command_as_its_own_help_does() -> None:
    rows = re.findall(r"^\| `(\w+)` \| (.*?) \| `(loomslate .*?)` \|$", README, re.MULTILINE)
    known = [(n, cli.command(n).SUMMARY, cli.command(n).EXAMPLE) for n in cli.COMMANDS]
    assert rows == known


@pytest.mark.parametrize("name", [n for n in cli.COMMANDS if n not in ("watch", "write", "tables")])
def test_every_example_of_the_table_runs(
    name: str, run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    shutil.copytree(EXAMPLE, tmp_path / "logs_example")
    monkeypatch.chdir(tmp_path)
    outcome = run(*shlex.split(cli.command(name).EXAMPLE)[1:])
    assert outcome.code in (0, 1), outcome.err
    assert outcome.out
    assert outcome.err == ""


def test_the_register_of_the_first_day_is_a_good_one() -> None:
    register = re.search(r"```toml\n(.*?)```", README, re.DOTALL)
    assert register is not None
    text = "\n".join(line.removeprefix("   ") for line in register[1].splitlines())
    mill = read_register(text)
    assert isinstance(mill, Mill), mill
    assert len(mill.looms) == 24


def test_every_line_of_the_card_is_understood(shed: Callable[..., Path]) -> None:
    register = SMALL_REGISTER + (
        '[part.head]\nsides = ["left", "right"]\n[part.guide]\nsides = ["left", "right"]\n'
        '[part.guide.gap]\nunit = "mm"\nreplace_above = 0.4\nplausible = [0.0, 2.0]\n'
    )
    mill = read_register(register)
    assert isinstance(mill, Mill), mill
    card = README[README.index("## The language on one page") : README.index("## Your shed")]
    cells = re.findall(r"^\| (`.*?) \| ", card, re.MULTILINE)
    clauses = [c for cell in cells for c in re.findall(r"`([^`]+)`", cell)]
    assert len(clauses) > 25
    lines = ["day 2026-11-24 night by KM"]
    for clause in clauses:
        clause = clause.replace("REASON", "warp")
        place = "" if clause.startswith("shed ") else "A07 "
        clause = f"note x; {clause}" if clause == "by KM" else clause
        lines.append(f"22:40 {place}{clause}")
    reading = Reader(mill.vocabulary).read("\n".join(lines) + "\n")
    refused = [d for d in reading.diagnostics if d.severity is Severity.REFUSED]
    assert [(d.text, d.message) for d in refused] == []
    assert len(reading.entries) == len(clauses)


def test_every_unit_of_the_card_is_one() -> None:
    told = re.search(r"need their unit: (.*?)\. The words", README)
    assert told is not None
    units = re.findall(r"[^\s,]+", told[1])
    assert {unit_of(unit.casefold()) for unit in units} == set(UNITS.values())


def test_the_first_entry_of_the_first_day_is_written(run: Run, shed: Callable[..., Path]) -> None:
    register = re.search(r"```toml\n(.*?)```", README, re.DOTALL)
    command = re.search(r"Write a first entry, `loomslate (.*?)`", README)
    assert register is not None
    assert command is not None
    text = "\n".join(line.removeprefix("   ") for line in register[1].splitlines())
    folder = shed({}, text)
    words = [str(folder) if w == "OURSHED" else w for w in shlex.split(command[1])]
    assert run(*words).code == 0
    assert run("check", str(folder)).code == 0
    assert len(list(folder.rglob("*.log"))) == 1


def test_the_word_safe_is_not_in_it() -> None:
    assert "safe" not in README.casefold()


def test_it_opens_with_one_paragraph_and_the_two_commands() -> None:
    paragraphs = README.split("\n\n")
    assert paragraphs[0] == "# loomslate"
    assert "not an isolation permit" in paragraphs[1]
    commands = [p.strip() for p in paragraphs[2:6] if p.startswith("    ")]
    assert len(commands) == 2
    assert all("\n" not in command for command in commands)
    assert "board logs_example" in commands[0]
    assert commands[1].endswith("-m pytest")


def test_the_language_page_lists_every_complaint() -> None:
    page = (ROOT / "grammar" / "LANGUAGE.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| `([\w-]+)` \| (\w+) \| (.*?) \| (.*?) \|$", page, re.MULTILINE)
    known = [(c.value, k.severity.value, k.summary, k.remedy) for c, k in CATALOGUE.items()]
    assert rows == known
