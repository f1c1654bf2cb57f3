"""What all tests share: the example shed, read once, and the command line run in this process."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest

from board import cli
from board.shell import Shell

ROOT = Path(__file__).parent.parent
EXAMPLE = ROOT / "logs_example"
NOW = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)  # six in the morning in the example's zone, winter


@dataclass(frozen=True)
class Outcome:
    """What a command printed and how it ended."""

    out: str
    err: str
    code: int


Run = Callable[..., Outcome]


@pytest.fixture(scope="session")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One cache folder for all tests: what is kept there must never change an answer."""
    return tmp_path_factory.mktemp("cache")


@pytest.fixture
def run(kept: Path) -> Run:
    """Runs a command line in this process, piped, with a clock of its own."""

    def command(*arguments: str, now: datetime = NOW, stdin: str | None = None) -> Outcome:
        out, err = io.StringIO(), io.StringIO()
        shell = Shell(
            stdin=io.StringIO(stdin) if stdin is not None else None,
            stdout=out,
            stderr=err,
            environ={"XDG_CACHE_HOME": str(kept), "PYTHONUTF8": "1"},
            clock=lambda: now,
        )
        code = cli.run(arguments, shell)
        return Outcome(out.getvalue(), err.getvalue(), code)

    return command


@pytest.fixture
def shed(tmp_path: Path) -> Callable[..., Path]:
    """Makes a small log folder: a register and files by path."""

    def make(files: dict[str, str], register: str | None = None) -> Path:
        folder = tmp_path / "logs"
        folder.mkdir(exist_ok=True)
        (folder / "shed.toml").write_text(register or SMALL_REGISTER, encoding="utf-8")
        for path, text in files.items():
            file = folder / path
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(text, encoding="utf-8")
        return folder

    return make


SMALL_REGISTER = """
[shed]
name = "Smallshed"
zone = "Europe/London"
shifts = { early = "06:00-14:00", late = "14:00-22:00", night = "22:00-06:00" }

[section.A]
looms = ["A01-A12"]
speed = 480

[section.B]
looms = ["B01-B04"]

[part.tape]
sides = ["left", "right"]
words = ["band"]

[part.tape.thickness]
unit = "mm"
new = 3.10
replace_below = 2.40
tool_uncertainty = 0.03
plausible = [1.5, 4.0]

[part.tape.after]
torque = { value = 0.80, tolerance = "6 %", unit = "N.m" }
needs = ["thread-locked", "checked joint"]
"""

BIG_REGISTER = """
[shed]
name = "Bigshed"
zone = "Europe/London"
shifts = { early = "06:00-14:00", late = "14:00-22:00", night = "22:00-06:00" }
[section.A]
looms = ["A001-A300"]
"""
