"""Facts of the trade through whole logs: gauge, face, torque, thread-lock and joint.

Every value here is common practice, no source: check values only, never built in as limits.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import Run

AT = ("--at", "2026-11-25T06:00")

REGISTER = """
[shed]
name = "Practice"
zone = "Europe/London"
shifts = { early = "06:00-14:00", late = "14:00-22:00", night = "22:00-06:00" }

[section.A]
looms = ["A01-A04"]

[part.clamp]
sides = ["left", "right"]

[part.clamp.side-wear]
unit = "mm"
replace_above = 1.5
plausible = [0.0, 5.0]

[part.clamp.face]               # measured 10 mm in from the tip
unit = "mm"
replace_below = 0.5
tool_uncertainty = 0.02
plausible = [0.05, 3.0]

[part.clamp.after]
torque = { value = 0.61, tolerance = "6 %", unit = "N.m" }
needs = ["thread-locked", "checked joint"]
"""


def loom(line: str, shed: Callable[..., Path], run: Run) -> dict[str, Any]:
    folder = shed({"a.log": f"day 2026-11-24 night by KM\n23:00 A01 {line}\n"}, REGISTER)
    outcome = run("board", str(folder), *AT, "--json")
    whole = json.loads(outcome.out)
    assert whole["not_understood"] == 0
    found: dict[str, Any] = whole["looms"][0]
    return found


@pytest.mark.parametrize(
    ("line", "word"),
    [
        ("left clamp side-wear gauge 1.5 mm enters", "gauge past"),
        ("left clamp side-wear gauge 1.5 mm stays out", "gauge within"),
        ("left clamp face 0.46 mm", "PAST LIMIT"),
        ("left clamp face 0.50 mm", "AT LIMIT"),
        ("left clamp face 0.60 mm", "within limit"),
    ],
)
def test_when_a_worn_clamp_is_replaced(
    line: str, word: str, shed: Callable[..., Path], run: Run
) -> None:
    assert [w["word"] for w in loom(line, shed, run)["wear"]] == [word]


@pytest.mark.parametrize(
    ("proofs", "missing"),
    [
        ("torque clamp screws 0.61 N.m; thread-locked; checked joint ok", []),
        ("torque clamp screws 61 cN.m; thread-locked; checked joint ok", []),
        ("torque clamp screws 0.70 N.m; thread-locked; checked joint ok", ["torque 0.61 N.m"]),
        ("torque clamp screws 6.1 N.m; thread-locked; checked joint ok", ["torque 0.61 N.m"]),
        ("torque clamp screws 0.61 N.m; checked joint ok", ["thread-locked"]),
        ("torque clamp screws 0.61 N.m; thread-locked; checked joint bad", ["checked joint"]),
        ("torque clamp screws 0.61 N.m; thread-locked", ["checked joint"]),
    ],
)
def test_what_makes_a_proved_job(
    proofs: str, missing: list[str], shed: Callable[..., Path], run: Run
) -> None:
    state = loom(f"replaced left clamp worn; {proofs}", shed, run)
    assert [p["what"] for p in state["proofs_missing"]] == missing
