"""A sealed shift that changed is told with the lines that went and came, while an index saw them."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import pytest

from tests.conftest import NOW, SMALL_REGISTER, Run

LATER = NOW + timedelta(days=9)


@pytest.fixture
def folder(run: Run, tmp_path: Path) -> Path:
    """A night that was written and taken over by the real command."""
    place = tmp_path / "logs"
    place.mkdir()
    (place / "shed.toml").write_text(SMALL_REGISTER, encoding="utf-8")
    for entry in ("A01 stopped for fault", "A01 note oil on the floor", "A02 running"):
        done = run(
            "write", entry, "--by", "KM", "--folder", str(place), now=NOW - timedelta(hours=1)
        )
        assert done.code == 0, done.out
    done = run("write", "shed taken over by SB", "--by", "SB", "--folder", str(place))
    assert done.code == 0, done.out
    assert "sealed 3 " in "".join(f.read_text() for f in place.rglob("*.log"))
    return place


def help_of(run: Run, folder: Path, index: str) -> str:
    done = run("check", "--json", "--folder", str(folder), "--index", index, now=LATER)
    found = [c for c in json.loads(done.out)["complaints"] if c["code"] == "changed-after-handover"]
    assert len(found) <= 1
    return str(found[0]["help"]) if found else ""


def edit(folder: Path, old: str, new: str) -> None:
    (file,) = [f for f in folder.rglob("*.log") if "night-KM" in f.name]
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")


def test_an_index_that_saw_the_lines_tells_which_went_and_came(
    run: Run, folder: Path, tmp_path: Path
) -> None:
    index = str(tmp_path / "kept.sqlite")
    assert help_of(run, folder, index) == ""
    edit(folder, "oil on the floor", "nothing")
    told = help_of(run, folder, index)
    assert told.startswith("ask who changed it; went: '")
    assert "oil on the floor'; came: '" in told
    assert told.endswith("note nothing'")
    edit(folder, "note nothing", "note oil on the floor")
    assert help_of(run, folder, index) == ""
    edit(folder, "A02 running", "A02 running; note late")
    assert "came: '" in help_of(run, folder, index)


def test_without_it_the_seal_alone_tells(run: Run, folder: Path) -> None:
    assert help_of(run, folder, "none") == ""
    edit(folder, "oil on the floor", "nothing")
    assert help_of(run, folder, "none") == "ask who changed it"


def test_a_log_that_is_gone_is_told_line_by_line(run: Run, folder: Path, tmp_path: Path) -> None:
    index = str(tmp_path / "kept.sqlite")
    assert help_of(run, folder, index) == ""
    (file,) = [f for f in folder.rglob("*.log") if "night-KM" in f.name]
    file.unlink()
    told = help_of(run, folder, index)
    assert "went: '" in told
    assert told.endswith(" and 1 more")
