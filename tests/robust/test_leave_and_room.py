"""No leave to read or to write, no room, no register, no output: told in a sentence, none fatal."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import EXAMPLE, ROOT
from tests.robust.leave import Leave, program
from tests.robust.running import LOCK, Ran, ran
from tests.robust.test_odd_files import AT, COMMANDS, isolated, link_to_itself


@pytest.fixture
def closed_folder(folder: Path) -> Iterator[Path]:
    """A log folder with a log and a sub-folder that may not be read, and nothing to be written."""
    (folder / "2026" / "closed.log").write_text(LOCK.replace("A07", "A08"))
    (folder / "2027").mkdir()
    (folder / "2027" / "away.log").write_text(LOCK.replace("A07", "A09"))
    (folder / "2026" / "closed.log").chmod(0)
    (folder / "2027").chmod(0)
    for place in (folder, folder / "2026"):
        place.chmod(0o555)
    yield folder
    for place in (folder, folder / "2026", folder / "2027"):
        place.chmod(0o755)


def test_no_leave_to_read_nor_to_write(closed_folder: Path, cache: Path) -> None:
    where = ("--folder", str(closed_folder))
    done = program(
        "board", "--json", *AT, *where, leave=Leave.AS_ANYBODY, XDG_CACHE_HOME=str(cache)
    )
    assert (done.returncode, done.stderr) == (0, "")
    document = json.loads(done.stdout)
    assert isolated(document) == ["A07"]
    assert document["read"]["not_read"] == [
        "2026/closed.log was not read: permission denied",
        "the folder 2027 cannot be listed: permission denied",
    ]
    before = sorted(closed_folder.rglob("*"))
    written = program(
        "write", "A01 stopped", "--by", "KM", *AT, *where, leave=Leave.AS_ANYBODY,
        XDG_CACHE_HOME=str(cache),
    )  # fmt: skip
    assert written.returncode == 2
    assert re.search(r"loomslate: nothing was written.*(no leave|denied)", written.stderr)
    assert "Traceback" not in written.stderr
    assert sorted(closed_folder.rglob("*")) == before


def test_a_register_without_leave_or_of_another_kind(folder: Path, cache: Path) -> None:
    register = folder / "shed.toml"
    register.chmod(0)
    done = program(
        "board", "--folder", str(folder), leave=Leave.AS_ANYBODY, XDG_CACHE_HOME=str(cache)
    )
    assert done.returncode == 2
    assert "permission denied" in done.stderr
    assert "isolated by KM lock 14" in done.stdout  # as raw text
    for make, why in ((os.mkfifo, "it is a pipe"), (link_to_itself, "it is a link")):
        register.unlink()
        make(register)
        wrong = ran("board", "--folder", str(folder), cache=cache)
        assert wrong.code == 2
        assert why in wrong.err
        assert "isolated by KM lock 14" in wrong.out


@pytest.mark.parametrize(
    "command",
    [*COMMANDS, ["round"], ["spares"], ["lives"], ["loom", "A07"], ["watch"], ["tables", "out"]],
    ids=" ".join,
)
def test_no_register_is_told_and_the_isolations_are_shown_as_they_stand(
    folder: Path, cache: Path, command: list[str]
) -> None:
    (folder / "shed.toml").unlink()
    done = ran(*command, "--folder", str(folder), cache=cache)
    assert done.code == 2
    assert done.err.startswith("loomslate: ")
    assert done.err.count("\n") == 1
    assert "shed.toml" in done.err
    assert "isolated by KM lock 14" in done.out


def test_nothing_is_written_without_a_register(folder: Path, cache: Path) -> None:
    (folder / "shed.toml").unlink()
    before = sorted(folder.rglob("*"))
    done = ran("write", "A01 stopped", "--by", "KM", *AT, "--folder", str(folder), cache=cache)
    assert done.code == 2
    assert "shed.toml" in done.err
    assert sorted(folder.rglob("*")) == before


def test_the_zone_of_the_machine_changes_nothing(folder: Path, cache: Path) -> None:
    """The shed's clock is that of its register."""
    (folder / "b.log").write_text(
        "day 2026-10-24 night by KM\n01:30 A09 stopped\n01:10 A09 running\n"
    )
    where = ("--folder", str(folder))
    shown = {
        program("board", "--all", *AT, *where, TZ=zone, XDG_CACHE_HOME=str(cache)).stdout
        for zone in ("UTC", "Pacific/Auckland", "no such zone")
    }
    (board,) = shown
    assert "A07" in board


def test_the_disk_is_full_while_an_entry_is_written(folder: Path, cache: Path) -> None:
    arguments = ("write", "A01 stopped", "--by", "KM", *AT, "--folder", str(folder))
    first = ran(*arguments, cache=cache)
    assert first.code == 0
    (log,) = [f for f in folder.rglob("*.log") if f.name != "good.log"]
    before = log.read_bytes()
    done = program(
        *arguments[:1], "A02 stopped", *arguments[2:], limit=len(before) + 5,
        XDG_CACHE_HOME=str(cache),
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr.startswith("loomslate: nothing was written to ")
    assert log.read_bytes() == before


def full_disk(cache: Path, _: Path) -> dict[str, Any]:
    return {"limit": 0, "XDG_CACHE_HOME": str(cache)}


def file_in_its_place(cache: Path, _: Path) -> dict[str, Any]:
    cache.write_text("in the way")
    return {"XDG_CACHE_HOME": str(cache)}


def nothing_there(_: Path, __: Path) -> dict[str, Any]:
    return {"XDG_CACHE_HOME": "/proc/nowhere", "HOME": "/proc/nowhere"}


def damaged_cache(cache: Path, folder: Path) -> dict[str, Any]:
    ran("board", "--folder", str(folder), cache=cache)
    kept = list((cache / "loomslate").iterdir())
    assert kept
    for file in kept:
        file.write_bytes(file.read_bytes()[: file.stat().st_size // 2])
    return {"XDG_CACHE_HOME": str(cache)}


def folders_for_files(cache: Path, folder: Path) -> dict[str, Any]:
    environ = damaged_cache(cache, folder)
    for file in (cache / "loomslate").iterdir():
        file.unlink()
        (file / "x").mkdir(parents=True)
    return environ


@pytest.mark.parametrize(
    "broken",
    [full_disk, file_in_its_place, nothing_there, damaged_cache, folders_for_files],
    ids=lambda broken: broken.__name__,
)
def test_a_cache_that_cannot_be_used_costs_nothing_but_time(
    folder: Path, cache: Path, tmp_path: Path, broken: Callable[[Path, Path], dict[str, Any]]
) -> None:
    shutil.copy(EXAMPLE / "shed.toml", folder)
    arguments = ("board", "--ascii", *AT, "--folder", str(folder))
    done = program(*arguments, **broken(tmp_path / "broken", folder))
    assert done.returncode == 0
    for sentence in done.stderr.splitlines():
        assert sentence.startswith("loomslate: the index "), sentence
    assert done.stdout == ran(*arguments, cache=cache).out


@pytest.mark.parametrize(
    "command", [["board"], ["check"], ["find"], ["wear", "--json"]], ids=" ".join
)
def test_an_output_that_takes_no_more_is_told(
    folder: Path, cache: Path, command: list[str]
) -> None:
    with open("/dev/full", "w") as full:
        done = program(*command, "--folder", str(folder), out=full, XDG_CACHE_HOME=str(cache))
    assert done.returncode == 2
    assert done.stderr == "loomslate: not all could be written: no space left on device\n"


def test_streams_that_were_closed_before_the_start(folder: Path, cache: Path) -> None:
    for closed in ((0,), (1,), (2,), (0, 1, 2)):
        ending = " ".join(f"{number}>&-" for number in closed)
        done = subprocess.run(
            ["sh", "-c", f'exec "$0" -m board board --folder "$1" {ending}', sys.executable, folder],
            cwd=ROOT, capture_output=True, text=True, timeout=60, check=False,
            env={**os.environ, "XDG_CACHE_HOME": str(cache)},
        )  # fmt: skip
        assert (done.returncode, done.stderr) == (0, ""), closed


def test_the_working_folder_is_gone(tmp_path: Path, cache: Path) -> None:
    gone = tmp_path / "gone"
    gone.mkdir()
    script = f'cd "{gone}" && rmdir "{gone}" && exec "$0" -m board board'
    done: subprocess.CompletedProcess[str] = subprocess.run(
        ["sh", "-c", script, sys.executable],
        cwd=ROOT, capture_output=True, text=True, timeout=60, check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(cache)},
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr.startswith("loomslate: ")
    assert "Traceback" not in done.stderr


def test_raw_isolations_stay_short_where_a_line_runs_away(folder: Path, cache: Path) -> None:
    (folder / "shed.toml").write_text("this is no register")
    behind = "06:10 A09 note " + "word " * 9_000 + "isolated by EP " + "word " * 9_000
    long = "06:00 A08 isolated by RB " + "x" * 3_000_000
    (folder / "long.log").write_text(f"{long}\n{behind}\n{LOCK}")
    done: Ran = ran("board", "--folder", str(folder), cache=cache)
    assert done.code == 2
    assert "A08 isolated by RB" in done.out
    assert "A09 note word" in done.out
    assert "isolated by EP" in done.out
    assert "A07 isolated by KM lock 14" in done.out
    assert len(done.out) < 2_000
