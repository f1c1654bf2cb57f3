"""Whatever stands in a log folder, and whatever happens to it: told in a sentence, none fatal."""

from __future__ import annotations

import errno
import json
import os
import re
import resource
import shutil
import socket
import stat
import subprocess
import sys
from collections.abc import Callable, Iterator
from enum import Enum
from pathlib import Path
from typing import Any

import pytest

from board.record import files as reading_files
from board.record import shelf as shelves
from board.record.files import LogFile, LogName, Skipped
from tests.conftest import EXAMPLE, ROOT
from tests.robust.leave import as_anybody
from tests.robust.running import Ran, ran

LOCK = "2026-11-24T22:40 A07 isolated by KM lock 14\n"
AT = ("--at", "2026-11-25T06:00")
COMMANDS = (["board"], ["check"], ["find"], ["handover"], ["wear"], ["figures"], ["repeats"])


@pytest.fixture
def folder(shed: Callable[..., Path]) -> Path:
    return shed({"2026/good.log": LOCK})


@pytest.fixture
def cache(tmp_path: Path) -> Path:
    return tmp_path / "cache"


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


def test_five_thousand_small_files(folder: Path, cache: Path) -> None:
    for number in range(5_000):
        place = folder / f"{2020 + number % 5}" / f"{number % 12 + 1:02}"
        if number < 60:
            place.mkdir(parents=True, exist_ok=True)
        minute = f"{number // 60 % 24:02}:{number % 60:02}"
        line = f"2026-11-{number // 1440 + 20}T{minute} A{number % 12 + 1:02} note n{number}\n"
        (place / f"{number}.log").write_text(line)
    document = read_of(folder, cache)
    assert document["read"] == {
        "files": 5_001, "lines": 5_001, "entries": 5_001, "refused": 0, "flagged": 0,
        "not_read": [],
    }  # fmt: skip
    assert isolated(document) == ["A07"]


# -- leave, space ---------------------------------------------------------------------------


class Leave(Enum):
    """Whether the program may read and write what the leaves of files forbid, as root may."""

    AS_IT_IS = "as it is"
    AS_ANYBODY = "as anybody"


def program(
    *arguments: str,
    limit: int | None = None,
    leave: Leave = Leave.AS_IT_IS,
    out: Any = subprocess.PIPE,
    **environ: str,
) -> subprocess.CompletedProcess[str]:
    """The real program as a process of its own; ``limit`` [bytes] is how long a file may grow."""

    def limited() -> None:
        if limit is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
        if leave is Leave.AS_ANYBODY:
            as_anybody()

    return subprocess.run(
        [sys.executable, "-m", "board", *arguments],
        cwd=ROOT, stdout=out, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True,
        timeout=120, check=False, preexec_fn=limited,
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1", **environ},
    )  # fmt: skip


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
    (folder / "long.log").write_text("06:00 A08 isolated by RB " + "x" * 3_000_000 + "\n" + LOCK)
    done: Ran = ran("board", "--folder", str(folder), cache=cache)
    assert done.code == 2
    assert "A08 isolated by RB" in done.out
    assert "A07 isolated by KM lock 14" in done.out
    assert len(done.out) < 2_000
