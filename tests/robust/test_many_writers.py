"""Eight at once at the real command, killed in between: nothing acknowledged is lost or torn."""

from __future__ import annotations

import errno
import fcntl
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from board.record import writer
from board.record.writer import LOCK_NAME, NotWritten, Written, append_entry
from tests.conftest import EXAMPLE, ROOT
from tests.robust.running import ran
from tests.robust.writers import write_at_once

HEADING = "day 2026-11-24 night by KM"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "logs"
    place.mkdir()
    shutil.copy(EXAMPLE / "shed.toml", place)
    return place


def test_lines_of_eight_writers_killed_at_random(folder: Path, tmp_path: Path) -> None:
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    done = write_at_once(folder, scratch, lines=240, kills=4, seed=1)
    assert done.killed >= 3
    assert done.told >= 240 - done.killed
    read = ran("check", "--folder", str(folder), "--at", "2026-11-25T06:00", cache=scratch)
    assert read.code == 0, read.out


def test_killed_while_it_holds_its_turn(folder: Path, tmp_path: Path) -> None:
    """The lock of the one that gives out numbers falls with its process."""
    script = (
        "import os, signal, sys\nfrom board.record import writer\nfrom board import cli\n"
        "writer.append_entry = lambda *a, **k: os.kill(os.getpid(), signal.SIGKILL)\n"
        "cli.main()\n"
    )
    arguments = ["write", "A01 open look again", "--by", "KM", "--folder", str(folder)]
    dead = subprocess.run(
        [sys.executable, "-c", script, *arguments], cwd=ROOT, check=False, capture_output=True
    )
    assert dead.returncode == -signal.SIGKILL
    done = ran(*arguments, cache=tmp_path / "cache")
    assert done.code == 0
    assert "no 1 look again" in "".join(f.read_text() for f in folder.rglob("*.log"))


# -- drives of other machines --------------------------------------------------------------

LOCKING = [
    (errno.ENOLCK, "no locks available"),
    (errno.ENOTSUP, "operation not supported"),
    (errno.ESTALE, "stale file handle"),
    (errno.EIO, "the disk reports an error"),
    (errno.EACCES, "others have been writing for 0.2 s; try again"),
]


@pytest.mark.parametrize(("number", "says"), LOCKING, ids=[errno.errorcode[n] for n, _ in LOCKING])
def test_a_drive_that_refuses_its_lock(
    folder: Path, monkeypatch: pytest.MonkeyPatch, number: int, says: str
) -> None:
    def refusing(_: int, how: int) -> None:
        if how != fcntl.LOCK_UN:
            raise OSError(number, os.strerror(number))

    monkeypatch.setattr(fcntl, "flock", refusing)
    outcome = append_entry(folder, "a.log", HEADING, "22:40 A01 note x", patience=0.2)
    assert outcome == NotWritten(sentence=f"nothing was written to a.log: {says}")
    assert not (folder / "a.log").exists()


def without_flock(_: int, how: int) -> None:
    if how != fcntl.LOCK_UN:
        raise OSError(errno.ENOSYS, os.strerror(errno.ENOSYS))


def test_a_drive_without_locks_of_the_system(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fcntl, "flock", without_flock)
    for number in range(3):
        outcome = append_entry(folder, "a.log", HEADING, f"22:40 A01 note {number}")
        assert isinstance(outcome, Written)
    (folder / LOCK_NAME).write_text("99\nanother-machine\n")  # it died, and its file is left
    outcome = append_entry(folder, "a.log", HEADING, "22:40 A01 note 4", patience=0.2)
    assert isinstance(outcome, NotWritten)
    assert f"remove {LOCK_NAME} if the program that made it has died" in outcome.sentence


@pytest.mark.parametrize("stale", ["half a line", "one line", "an empty file"])
def test_what_another_machine_wrote_is_seen_late(
    folder: Path, monkeypatch: pytest.MonkeyPatch, stale: str
) -> None:
    """The log is longer than it looked when it was read: the entry is taken back, written anew."""
    for number in range(3):
        append_entry(folder, "a.log", HEADING, f"22:4{number} A01 note {number}")
    real: Callable[[int], bytes] = writer._contents
    seen: list[bytes] = []

    def late(descriptor: int) -> bytes:
        data = real(descriptor)
        if not seen:
            seen.append(data)
            cuts = {"half a line": len(data) - 7, "one line": len(data) - 17, "an empty file": 0}
            return data[: cuts[stale]]
        return data

    monkeypatch.setattr(writer, "_contents", late)
    outcome = append_entry(folder, "a.log", HEADING, "22:50 A01 note after")
    assert outcome == Written(path="a.log", line=5)
    lines = (folder / "a.log").read_text().splitlines()
    assert lines == [HEADING, *(f"22:4{n} A01 note {n}" for n in range(3)), "22:50 A01 note after"]
