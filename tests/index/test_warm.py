"""What a start need not do again, and what it need not load."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

from tests.conftest import ROOT


def test_a_search_starts_without_arrays_and_reckoning() -> None:
    found = subprocess.run(
        [sys.executable, "-c", "import sys, board.commands.find; print(*sys.modules)"],
        capture_output=True, text=True, check=True, cwd=ROOT,
    )  # fmt: skip
    loaded = set(found.stdout.split())
    assert "board.search" in loaded
    assert not loaded & {"numpy", "lark", "board.reckon.summary", "board.reckon.ahead"}


def test_the_same_program_installed_anew_goes_on(tmp_path: Path) -> None:
    known = []
    for place, changed in (("one", ""), ("two", ""), ("other", "\n")):
        for room in ("board", "grammar"):
            shutil.copytree(ROOT / room, tmp_path / place / room, copy_function=shutil.copyfile)
        with (tmp_path / place / "board" / "state" / "fold.py").open("a") as module:
            module.write(changed)
        asked = "from board.index.fingerprint import _program; print(_program())"
        found = subprocess.run(
            [sys.executable, "-c", asked], cwd=tmp_path / place,
            capture_output=True, text=True, check=True, env={**os.environ, "PYTHONPATH": "."},
        )  # fmt: skip
        known.append(found.stdout)
    assert known[0] == known[1] != known[2]
