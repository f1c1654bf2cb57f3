"""Whatever stands in a log folder, and whatever happens to it: told in a sentence, none fatal."""

from __future__ import annotations

import errno
import json
import os
import shutil
import socket
import stat
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from board.record import files as reading_files
from board.record import shelf as shelves
from board.record.files import LogFile, LogName, Skipped
from tests.robust.running import LOCK, ran

AT = ("--at", "2026-11-25T06:00")
COMMANDS = (["board"], ["check"], ["find"], ["handover"], ["wear"], ["figures"], ["repeats"])


def read_of(folder: Path, cache: Path) -> dict[str, Any]:
    done = ran("board", "--json", *AT, "--folder", str(folder), cache=cache)
    assert (done.code, done.err) == (0, "")
    document: dict[str, Any] = json.loads(done.out)
    return document


def isolated(document: dict[str, Any]) -> list[str]:
    return [one["loom"] for one in document["looms"] if one["isolation"]["state"] == "ISOLATED"]


# -- what bears the name of a log ----------------------------------------------------------


def pipe(path: Path) -> None:
    os.mkfifo(path)


def device(path: Path) -> None:
    try:
        os.mknod(path, 0o600 | stat.S_IFCHR, os.makedev(1, 5))  # never ends, full of zeros
    except PermissionError:
        pytest.skip("only root makes devices")


def socket_file(path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as listening:
        here = os.open(path.parent, os.O_RDONLY)
        listening.bind(f"/proc/self/fd/{here}/{path.name}")  # a path may be 107 bytes, no more
        os.close(here)


def folder_of_that_name(path: Path) -> None:
    path.mkdir()
    (path / "inside.log").write_text("2026-11-24T22:41 A08 note inside\n")


def dead_link(path: Path) -> None:
    path.symlink_to(path.parent / "nowhere")


def link_outside(path: Path) -> None:
    path.symlink_to("/etc/hostname")


def link_to_itself(path: Path) -> None:
    path.symlink_to(path.name)


def linked_folder_outside(path: Path) -> None:
    path.with_name("linked").symlink_to("/etc", target_is_directory=True)


def linked_folder_above(path: Path) -> None:
    path.with_name("linked").symlink_to("..", target_is_directory=True)


def capitals(path: Path) -> None:
    path.with_name("ODD.LOG").write_text(LOCK)


ODD = {
    pipe: "it is a pipe",
    device: "it is a device",
    socket_file: "it is a socket",
    folder_of_that_name: "is a folder with the name of a log; the logs in it are read",
    dead_link: "it is a link, and links are not followed",
    link_outside: "it is a link, and links are not followed",
    link_to_itself: "it is a link, and links are not followed",
    linked_folder_outside: "is a link to a folder, and links are not followed",
    linked_folder_above: "is a link to a folder, and links are not followed",
    capitals: "only names ending in .log in small letters are logs",
}


@pytest.mark.parametrize("make", ODD, ids=lambda make: make.__name__)
def test_what_is_no_ordinary_log_is_told_and_the_rest_is_read(
    folder: Path, cache: Path, make: Callable[[Path], None]
) -> None:
    make(folder / "2026" / "odd.log")
    document = read_of(folder, cache)
    (told,) = document["read"]["not_read"]
    assert ODD[make] in told
    assert isolated(document) == ["A07"]
    for command in COMMANDS:
        done = ran(*command, *AT, "--folder", str(folder), cache=cache)
        assert done.code in (0, 1), done.err
        assert done.err == ""
    assert ODD[make] in ran("check", *AT, "--folder", str(folder), cache=cache).out


ODD_NAMES = (
    "a\nb.log",
    "\x1b[2J.log",
    "\udcff.log",
    "a\\b.log",
    "<b>[red].log",
    "=1+1.log",
    "‮x.log",
)


def test_odd_names_are_read_and_shown_without_what_they_do(folder: Path, cache: Path) -> None:
    for number, name in enumerate(ODD_NAMES, start=1):
        (folder / name).write_text(f"2026-11-24T22:4{number} A0{number} nonsense {number}\n")
    document = read_of(folder, cache)
    assert document["read"]["files"] == 1 + len(ODD_NAMES)
    assert document["read"]["refused"] == len(ODD_NAMES)
    found = json.loads(ran("check", "--json", *AT, "--folder", str(folder), cache=cache).out)
    paths = [complaint["path"] for complaint in found["complaints"]]
    assert len(set(paths)) == len(ODD_NAMES)
    assert all(path.isprintable() for path in paths)


# -- what happens while the folder is read -------------------------------------------------

Happening = Callable[[Path], None]


def vanishes(file: Path) -> None:
    file.unlink()


def whole_folder_vanishes(file: Path) -> None:
    shutil.rmtree(file.parent)


def replaced_by_a_pipe(file: Path) -> None:
    file.unlink()
    os.mkfifo(file)


def replaced_by_a_link(file: Path) -> None:
    file.unlink()
    file.symlink_to("/dev/zero")


def replaced_by_another(file: Path) -> None:
    other = file.with_name(".new")
    other.write_text("2026-11-24T22:45 A09 isolated by RB\n")
    other.rename(file)


@pytest.mark.parametrize(
    ("happens", "left", "told"),
    [
        (vanishes, [], "is not there"),
        (whole_folder_vanishes, [], "is not there"),
        (replaced_by_a_pipe, [], "it is a pipe"),
        (replaced_by_a_link, [], "it is a link"),
        (replaced_by_another, ["A09"], ""),
    ],
    ids=lambda value: getattr(value, "__name__", None),
)
def test_a_log_changes_between_listing_and_reading(
    folder: Path, cache: Path, monkeypatch: pytest.MonkeyPatch,
    happens: Happening, left: list[str], told: str,
) -> None:  # fmt: skip
    (folder / "z.log").write_text("2026-11-24T22:50 B01 isolated by RB\n")

    def reading(log: LogName, now: Any) -> LogFile | Skipped:
        if log.path == "2026/good.log" and log.file.exists():
            happens(log.file)
        return reading_files.read_file(log, now)

    monkeypatch.setattr(shelves, "read_file", reading)
    document = read_of(folder, cache)
    assert isolated(document) == [*left, "B01"]
    assert told in " ".join(document["read"]["not_read"]) or told == "is not there"


def emptied(file: Path) -> None:
    file.write_bytes(b"")


@pytest.mark.parametrize(
    ("happens", "left"),
    [
        (vanishes, ["A07"]),  # it was opened, and is read to its end
        (whole_folder_vanishes, ["A07"]),
        (replaced_by_another, ["A07"]),
        (replaced_by_a_pipe, ["A07"]),
        (emptied, []),  # it is shorter than it was, and is read again
    ],
    ids=lambda value: getattr(value, "__name__", None),
)
def test_a_log_changes_in_the_middle_of_being_read(
    folder: Path, cache: Path, monkeypatch: pytest.MonkeyPatch, happens: Happening, left: list[str]
) -> None:
    (folder / "z.log").write_text("2026-11-24T22:50 B01 isolated by RB\n")
    read, happened = reading_files._read_up_to, []

    def reading(descriptor: int, most: int) -> bytes:
        name = Path(os.readlink(f"/proc/self/fd/{descriptor}"))
        if name.name == "good.log" and not happened:
            happened.append(name)
            happens(name)
        return read(descriptor, most)

    monkeypatch.setattr(reading_files, "_read_up_to", reading)
    document = read_of(folder, cache)
    assert happened
    assert isolated(document) == [*left, "B01"]
    assert document["read"]["not_read"] == []


def test_a_log_that_shrinks_whenever_it_is_read_is_told(
    folder: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "z.log").write_text(LOCK.replace("A07", "A09"))
    read = reading_files._read_up_to

    def shrinking(descriptor: int, most: int) -> bytes:
        name = os.readlink(f"/proc/self/fd/{descriptor}")
        data = read(descriptor, most)
        return data[:-1] if name.endswith("good.log") else data

    monkeypatch.setattr(reading_files, "_read_up_to", shrinking)
    document = read_of(folder, cache)
    assert isolated(document) == ["A09"]
    assert document["read"]["not_read"] == [
        "2026/good.log was not read: it became shorter while it was read"
    ]


def test_a_drive_that_answers_with_an_error(
    folder: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "z.log").write_text(LOCK.replace("A07", "A09"))
    opening = os.open

    def failing(path: Any, flags: int, *rest: Any, **more: Any) -> int:
        if str(path).endswith("good.log"):
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return opening(path, flags, *rest, **more)

    monkeypatch.setattr(reading_files.os, "open", failing)
    document = read_of(folder, cache)
    assert isolated(document) == ["A09"]
    assert document["read"]["not_read"] == ["2026/good.log was not read: input/output error"]


# -- many files ----------------------------------------------------------------------------


def test_two_thousand_small_files(folder: Path, cache: Path) -> None:
    for number in range(2_000):
        place = folder / f"{2020 + number % 5}" / f"{number % 12 + 1:02}"
        if number < 60:
            place.mkdir(parents=True, exist_ok=True)
        minute = f"{number // 60 % 24:02}:{number % 60:02}"
        line = f"2026-11-{number // 1440 + 20}T{minute} A{number % 12 + 1:02} note n{number}\n"
        (place / f"{number}.log").write_text(line)
    document = read_of(folder, cache)
    assert document["read"] == {
        "files": 2_001, "lines": 2_001, "entries": 2_001, "refused": 0, "flagged": 0,
        "not_read": [],
    }  # fmt: skip
    assert isolated(document) == ["A07"]
