"""A small shed with every kind of part, and the write command run in it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pytest

from tests.conftest import Outcome, Run

REGISTER = """
[shed]
name = "Testshed"
zone = "Europe/London"
languages = ["de"]
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
recheck = "in 24 h"

[part.tape.caution]
text = "The tape end springs back."

[part.guide]
sides = ["left", "right"]

[part.guide.gap]
unit = "mm"
replace_above = 0.40
tool_uncertainty = 0.02
plausible = [0.02, 1.8]

[part.brake.angle]
unit = "deg"
new = 33.0
band = [26.0, 44.0]
tool_uncertainty = 1.0

[part.brake.lining]
unit = "mm"
replace_below = 3.20

[part.filter.pressure]
unit = "bar"
replace_above = 1.20

[symptom."drops weft"]
words = ["loses weft"]

[words.de]
"gesperrt durch" = "isolated by"
getauscht = "replaced"
offen = "open"
steht = "stopped"
links = "left"
"""

LOG = "2026/11/2026-11-24-night-KM.log"


@dataclass(frozen=True)
class Shed:
    """A log folder and the command in it."""

    folder: Path
    run: Run

    def write(self, *arguments: str, now: datetime, stdin: str | None = None) -> Outcome:
        """Run ``write`` in the folder."""
        return self.run("write", *arguments, "--folder", str(self.folder), now=now, stdin=stdin)

    def check(self, now: datetime) -> str:
        """What ``check`` says of the folder."""
        return self.run("check", str(self.folder), now=now).out

    @property
    def logs(self) -> dict[str, str]:
        """Every log by its path."""
        found = sorted(self.folder.rglob("*.log"))
        return {f.relative_to(self.folder).as_posix(): f.read_text("utf-8") for f in found}


@pytest.fixture
def folder(shed: Callable[..., Path]) -> Callable[[Mapping[str, str]], Path]:
    """Makes a log folder with the register above."""
    return lambda files: shed(dict(files), REGISTER)


@pytest.fixture
def mill_shed(folder: Callable[[Mapping[str, str]], Path], run: Run) -> Callable[..., Shed]:
    """Makes a shed from logs by path."""

    def make(files: Mapping[str, str] | None = None) -> Shed:
        return Shed(folder=folder(files or {}), run=run)

    return make
