"""A shift that was taken over is sealed: whoever edits an old file later is told by the text alone."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import EXAMPLE
from tests.robust.running import NOW, ran

ENTRIES = (
    ("22:40 A07 stopped for fault", "KM"),
    ("22:41 A07 isolated by KM lock 14", "KM"),
    ("23:10 A07 left tape 2.61 mm", "KM"),
    ("01:15 B03 fault drops weft at transfer", "RB"),
    ("02:30 A07 lock removed by KM", "KM"),
)


@pytest.fixture
def cache(tmp_path: Path) -> Path:
    return tmp_path / "cache"


@pytest.fixture
def sealed(tmp_path: Path, cache: Path) -> Path:
    """A night's logs, written and taken over by the real command."""
    folder = tmp_path / "logs"
    folder.mkdir()
    shutil.copy(EXAMPLE / "shed.toml", folder)
    where = ("--folder", str(folder))
    for entry, who in ENTRIES:
        done = ran("write", entry, "--by", who, *where, cache=cache, now=NOW - timedelta(hours=1))
        assert done.code == 0, done.out
    done = ran("write", "shed taken over by SB", "--by", "SB", *where, cache=cache)
    assert done.code == 0, done.out
    (line,) = [
        text
        for file in folder.rglob("*.log")
        for text in file.read_text().splitlines()
        if "taken" in text
    ]
    assert f"; sealed {len(ENTRIES)} " in line
    return folder


def changes(folder: Path, cache: Path) -> list[dict[str, Any]]:
    done = ran("check", "--json", "--folder", str(folder), cache=cache, now=NOW + timedelta(days=9))
    return [c for c in json.loads(done.out)["complaints"] if c["code"] == "changed-after-handover"]


def of(folder: Path, who: str) -> Path:
    (file,) = folder.rglob(f"*-night-{who}.log")
    return file


def edit(file: Path, old: str, new: str) -> None:
    text = file.read_text()
    assert old in text
    file.write_text(text.replace(old, new))


def a_digit(folder: Path) -> None:
    edit(of(folder, "KM"), "2.61", "2.67")


def a_line_gone(folder: Path) -> None:
    edit(of(folder, "KM"), "22:41 A07 isolated by KM lock 14\n", "")


def a_line_made_a_comment(folder: Path) -> None:
    edit(of(folder, "KM"), "22:41 A07", "# 22:41 A07")


def a_line_more(folder: Path) -> None:
    with of(folder, "KM").open("a") as log:
        log.write("05:59 A07 running\n")


def a_line_more_in_a_new_file(folder: Path) -> None:
    (folder / "late.log").write_text("day 2026-11-24 night by XX\n04:00 A09 note forgotten\n")


def one_for_another(folder: Path) -> None:
    edit(of(folder, "KM"), "02:30 A07 lock removed by KM", "02:31 A07 lock removed by KM")


def under_another_shift(folder: Path) -> None:
    edit(of(folder, "RB"), "day 2026-11-24 night", "day 2026-11-23 night")


def a_file_gone(folder: Path) -> None:
    of(folder, "RB").unlink()


def a_line_that_is_refused(folder: Path) -> None:
    with of(folder, "KM").open("a") as log:
        log.write("nonsense\n")


EDITS = (
    a_digit, a_line_gone, a_line_made_a_comment, a_line_more, a_line_more_in_a_new_file,
    one_for_another, under_another_shift, a_file_gone, a_line_that_is_refused,
)  # fmt: skip


@pytest.mark.parametrize("change", EDITS, ids=lambda change: change.__name__)
def test_an_old_file_that_was_edited_is_told(
    sealed: Path, cache: Path, change: Callable[[Path], None]
) -> None:
    assert changes(sealed, cache) == []
    before = {f: f.stat().st_mtime for f in sealed.rglob("*.log")}
    change(sealed)
    for file, when in before.items():
        if file.exists():
            os.utime(file, (when, when))  # nothing but the text tells of it
    (told,) = changes(sealed, cache)
    assert told["severity"] == "flagged"
    assert told["message"].startswith("the night shift of 2026-11-24 changed after it was handed")
    assert "; sealed " in told["text"]
    board = ran("check", "--folder", str(sealed), cache=cache, now=NOW + timedelta(days=9))
    assert "changed-after-handover" in board.out


def renamed(folder: Path) -> None:
    of(folder, "KM").rename(folder / "moved.log")


def sorted_otherwise(folder: Path) -> None:
    file = of(folder, "KM")
    head, *lines = file.read_text().splitlines()
    file.write_text("\n".join([head, *reversed(lines), ""]))


def other_line_ends(folder: Path) -> None:
    file = of(folder, "KM")
    file.write_bytes(file.read_bytes().replace(b"\n", b"\r\n"))


def put_together(folder: Path) -> None:
    km, rb = of(folder, "KM"), of(folder, "RB")
    km.write_text(km.read_text() + rb.read_text())
    rb.unlink()


def another_shift_goes_on(folder: Path) -> None:
    (folder / "next.log").write_text("day 2026-11-25 early by SB\n07:00 A09 note next\n")


def a_comment_more(folder: Path) -> None:
    edit(of(folder, "KM"), "22:41 A07", "# copied from paper\n\n22:41 A07")


@pytest.mark.parametrize(
    "change",
    [
        renamed,
        sorted_otherwise,
        other_line_ends,
        put_together,
        another_shift_goes_on,
        a_comment_more,
    ],
    ids=lambda change: change.__name__,
)
def test_what_changes_no_line_of_the_shift_is_not_told(
    sealed: Path, cache: Path, change: Callable[[Path], None]
) -> None:
    change(sealed)
    assert changes(sealed, cache) == []
