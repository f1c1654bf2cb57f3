"""Looking at a folder: which names are logs, and what differs from what is remembered."""

import errno
import os
from pathlib import Path

import pytest

from board.record.sweep import (
    Stamp,
    Sweep,
    Unread,
    differences,
    is_log_name,
    is_watched,
    stamp,
    sweep,
)


@pytest.mark.parametrize(
    "name",
    ["2026-11-25-night-KM.log", "a.log", "Überlauf.log", "a b.log", "x.sync-conflict-1.log"],
)
def test_logs(name: str) -> None:
    assert is_log_name(name)


# Names that editors give their own copies; from watching vim, nano, emacs, sed and office
# programs at work, no single source.
@pytest.mark.parametrize(
    "name",
    [
        ".a.log.swp", ".a.log.swx", "a.log~", "4913", "#a.log#", ".#a.log", "a.log.bak",
        "a.log.1", "sedXb2K1q", "~$a.log", ".~lock.a.log#", ".goutputstream-ABC", ".a.log",
        ".a.log.Ab3dEf", "a.log.tmp", "a.log.save", "shed.toml", "a.LOG.swp", ".log",
    ],
)  # fmt: skip
def test_not_logs(name: str) -> None:
    assert not is_log_name(name)


@pytest.mark.parametrize(
    ("path", "watched"),
    [
        ("/l/a.log", True),
        ("/l/2026/11/a.log", True),
        ("/l/shed.toml", True),
        ("/l/2026/shed.toml", False),
        ("/l/.git/a.log", False),
        ("/l/2026/.trash/a.log", False),
        ("/l2/a.log", False),
        ("/l", False),
        ("/a.log", False),
    ],
)
def test_watched(path: str, watched: bool) -> None:
    assert is_watched(path, "/l") is watched


def test_sweep_finds_logs_and_the_register_only(tmp_path: Path) -> None:
    (tmp_path / "2026" / "11").mkdir(parents=True)
    (tmp_path / ".git").mkdir()
    wanted = {tmp_path / "shed.toml", tmp_path / "a.log", tmp_path / "2026" / "11" / "b.log"}
    for path in (
        *wanted,
        tmp_path / ".git" / "c.log",
        tmp_path / "a.log~",
        tmp_path / "2026/shed.toml",
    ):
        path.write_text("x\n", encoding="utf-8")
    (tmp_path / "folder.log").mkdir()
    found = sweep(tmp_path)
    assert set(found.seen) == {str(path) for path in wanted}
    assert found.unread == ()
    assert found.links == ()
    for name, mark in found.seen.items():
        status = os.stat(name)
        assert mark == stamp(name)
        assert (mark.size, mark.modified_ns, mark.inode) == (2, status.st_mtime_ns, status.st_ino)


def test_links_are_reported_and_not_followed(tmp_path: Path) -> None:
    inside, outside = tmp_path / "logs", tmp_path / "elsewhere"
    inside.mkdir()
    outside.mkdir()
    (outside / "far.log").write_text("x", encoding="utf-8")
    (inside / "far.log").symlink_to(outside / "far.log")
    (inside / "away").symlink_to(outside)
    (inside / "loop").symlink_to(inside)
    (inside / "self.log").symlink_to("self.log")
    (inside / ".#lock.log").symlink_to("nowhere")
    (inside / "readme").symlink_to(outside / "far.log")
    found = sweep(inside)
    assert found.seen == {}
    assert [Path(link).name for link in found.links] == ["away", "far.log", "loop", "self.log"]
    assert found.link_count == 4
    assert stamp(str(inside / "far.log")) is None


def test_missing_folder_raises_and_missing_log_is_none(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        sweep(tmp_path / "none")
    assert stamp(str(tmp_path / "none.log")) is None
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert stamp(str(tmp_path / "file" / "a.log")) is None


def test_a_folder_that_may_not_be_read_is_said_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "closed").mkdir()
    (tmp_path / "open").mkdir()
    (tmp_path / "open" / "a.log").write_text("x", encoding="utf-8")
    listing = os.scandir

    def refusing(path: str) -> object:
        if path.endswith("closed"):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), path)
        return listing(path)

    monkeypatch.setattr(os, "scandir", refusing)
    found = sweep(tmp_path)
    assert found.unread == (Unread(path=str(tmp_path / "closed"), reason="permission denied"),)
    assert set(found.seen) == {str(tmp_path / "open" / "a.log")}


def mark(size: int) -> Stamp:
    return Stamp(size=size, modified_ns=1, inode=1, changed_ns=1)


def test_differences() -> None:
    known = {
        "/l/same.log": mark(1),
        "/l/grown.log": mark(1),
        "/l/gone.log": mark(1),
        "/l/told.log": None,
    }
    seen = {
        "/l/same.log": mark(1),
        "/l/grown.log": mark(2),
        "/l/new.log": mark(1),
        "/l/told.log": mark(1),
    }
    found = Sweep(seen=seen, unread=(), links=(), link_count=0)
    assert differences(known, found) == {
        "/l/grown.log": mark(2),
        "/l/new.log": mark(1),
        "/l/told.log": mark(1),
        "/l/gone.log": None,
    }


def test_what_could_not_be_read_is_not_taken_for_deleted() -> None:
    known = {"/l/2026/a.log": mark(1), "/l/2026-b.log": mark(1), "/l/c.log": mark(1)}
    unread = (
        Unread(path="/l/2026", reason="input/output error"),
        Unread(path="/l/c.log", reason="?"),
    )
    found = Sweep(seen={}, unread=unread, links=(), link_count=0)
    assert differences(known, found) == {"/l/2026-b.log": None}
