"""Appending entries: whole, once, on the disk, whoever else writes and whatever the disk does."""

from __future__ import annotations

import errno
import os
import random
import re
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest

from board.record import writer
from board.record.files import Listing
from board.record.listing import list_logs
from board.record.writer import LOCK_NAME, NotWritten, Written, append_entry

KM = "day 2026-11-24 night by KM"
RB = "day 2026-11-24 night by RB"
LINE = "22:40 A07 stopped"
PATH = "2026/11/2026-11-24-night-KM.log"
ROOT = Path(__file__).parents[2]

Sneak = Callable[[], None]


def append(folder: Path, line: str = LINE, heading: str = KM, path: str = PATH) -> Written:
    outcome = append_entry(folder, path, heading, line)
    assert isinstance(outcome, Written), outcome
    return outcome


def refused(folder: Path, line: str = LINE, path: str = PATH, patience: float = 10.0) -> str:
    outcome = append_entry(folder, path, KM, line, patience=patience)
    assert isinstance(outcome, NotWritten), outcome
    return outcome.sentence


def text(folder: Path, path: str = PATH) -> str:
    return (folder / path).read_bytes().decode()


def everything(folder: Path) -> dict[str, bytes | None]:
    """All that stands in a folder but its lock."""
    found = {}
    for one in sorted(folder.rglob("*")):
        if one.name != LOCK_NAME:
            found[one.relative_to(folder).as_posix()] = one.read_bytes() if one.is_file() else None
    return found


# -- the usual way -------------------------------------------------------------------------


def test_a_new_log_begins_with_its_heading(tmp_path: Path) -> None:
    assert append(tmp_path) == Written(path=PATH, line=2)
    assert text(tmp_path) == f"{KM}\n{LINE}\n"


def test_further_entries_follow_without_another_heading(tmp_path: Path) -> None:
    append(tmp_path)
    assert append(tmp_path, "22:41 A07 running").line == 3
    assert append(tmp_path, "22:42 A08 stopped", RB).line == 5
    assert append(tmp_path, "22:43 A08 running").line == 7
    assert text(tmp_path) == (
        f"{KM}\n{LINE}\n22:41 A07 running\n{RB}\n22:42 A08 stopped\n{KM}\n22:43 A08 running\n"
    )


def test_a_last_line_without_its_newline_is_completed_first(tmp_path: Path) -> None:
    append(tmp_path)
    with (tmp_path / PATH).open("ab") as file:
        file.write(b"22:41 A07 runn")
    assert append(tmp_path).line == 4
    assert text(tmp_path) == f"{KM}\n{LINE}\n22:41 A07 runn\n{LINE}\n"


def test_readers_of_the_folder_see_the_log_and_not_the_lock(tmp_path: Path) -> None:
    append(tmp_path)
    assert (tmp_path / LOCK_NAME).exists()
    found = list_logs(tmp_path)
    assert isinstance(found, Listing)
    assert [log.path for log in found.logs] == [PATH]
    assert found.skipped == ()


def test_one_write_and_then_a_sync_of_file_and_folders(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[str] = []
    write, fsync = os.write, os.fsync

    def name(descriptor: int) -> str:
        return os.path.relpath(os.readlink(f"/proc/self/fd/{descriptor}"), tmp_path)

    def writing(descriptor: int, data: bytes) -> int:
        done.append(f"write {name(descriptor)}")
        return write(descriptor, data)

    def syncing(descriptor: int) -> None:
        done.append(f"sync {name(descriptor)}")
        fsync(descriptor)

    monkeypatch.setattr(writer.os, "write", writing)
    monkeypatch.setattr(writer.os, "fsync", syncing)
    append(tmp_path)
    first = ["sync 2026/11", "sync 2026", "sync ."]
    assert done == [f"write {PATH}", f"sync {PATH}", *first]
    done.clear()
    append(tmp_path)
    assert done == [f"write {PATH}", f"sync {PATH}"]


# -- what is refused before anything is touched --------------------------------------------


@pytest.mark.parametrize(
    ("line", "path", "says"),
    [
        ("22:40 A07 stopped\n22:41 A07 running", PATH, "an entry is one line"),
        ("", PATH, "the line is empty"),
        (LINE, "../x.log", "leads out of the log folder"),
        (LINE, "/tmp/x.log", "leads out of the log folder"),
        (LINE, "x.txt", "not that of a log"),
        (LINE, LOCK_NAME, "not that of a log"),
    ],
)
def test_no_such_line_or_path(tmp_path: Path, line: str, path: str, says: str) -> None:
    sentence = refused(tmp_path, line, path)
    assert sentence.startswith(f"nothing was written to {path}: ")
    assert says in sentence
    assert list(tmp_path.iterdir()) == []


def test_no_folder_is_made_for_a_mistyped_one(tmp_path: Path) -> None:
    assert "there is no folder" in refused(tmp_path / "logz")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("part", ["2026", "2026/11"])
def test_a_linked_folder_is_not_written_to_for_no_one_reads_it(tmp_path: Path, part: str) -> None:
    outside, folder = tmp_path / "outside", tmp_path / "logs"
    (outside / "11").mkdir(parents=True)
    (folder / part).parent.mkdir(parents=True)
    (folder / part).symlink_to(outside)
    assert "is no folder of its own" in refused(folder)
    assert everything(outside) == {"11": None}


@pytest.mark.parametrize("kind", ["link", "dead link", "pipe", "folder"])
def test_a_log_that_is_no_ordinary_file(tmp_path: Path, kind: str) -> None:
    file = tmp_path / PATH
    file.parent.mkdir(parents=True)
    other = tmp_path / "other"
    match kind:
        case "link":
            other.write_text("kept\n")
            file.symlink_to(other)
        case "dead link":
            file.symlink_to(other)
        case "pipe":
            os.mkfifo(file)
        case _:
            file.mkdir()
    assert "it is no ordinary file" in refused(tmp_path)
    assert not other.exists() or other.read_text() == "kept\n"


# -- the disk ------------------------------------------------------------------------------


def failing(number: int, on: str = "") -> Callable[..., int]:
    """A system call that fails, only on files whose name ends so."""
    real = os.fsync

    def fail(descriptor: int, *_: object) -> int:
        if os.readlink(f"/proc/self/fd/{descriptor}").endswith(on):
            raise OSError(number, os.strerror(number))
        real(descriptor)
        return 0

    return fail


DISK = [
    (errno.ENOSPC, "the disk is full"),
    (errno.EDQUOT, "your share of the disk is used up"),
    (errno.EROFS, "the disk cannot be written to"),
    (errno.EIO, "the disk reports an error"),
    (errno.EFBIG, "the file may not grow any further"),
    (errno.ESTALE, os.strerror(errno.ESTALE).lower()),
]


@pytest.mark.parametrize(("number", "says"), DISK, ids=[errno.errorcode[n] for n, _ in DISK])
@pytest.mark.parametrize("call", ["write", "fsync"])
@pytest.mark.parametrize("standing", ["new", "old"])
def test_what_the_disk_refuses_leaves_all_as_it_was(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    number: int,
    says: str,
    call: str,
    standing: str,
) -> None:
    if standing == "old":
        append(tmp_path)
    before = everything(tmp_path)
    with monkeypatch.context() as broken:
        broken.setattr(writer.os, call, failing(number))
        if call == "write":
            assert refused(tmp_path) == f"nothing was written to {PATH}: {says}"
        else:  # the taking back cannot be synced either, and that has to be said
            assert says in refused(tmp_path)
    assert everything(tmp_path) == before
    append(tmp_path)
    assert text(tmp_path).endswith(f"\n{LINE}\n")


def test_a_sync_that_fails_once_is_taken_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    append(tmp_path)
    before = everything(tmp_path)
    real, times = os.fsync, iter([OSError(errno.EIO, "x"), None])

    def once(descriptor: int) -> None:
        error = next(times)
        if error:
            raise error
        real(descriptor)

    monkeypatch.setattr(writer.os, "fsync", once)
    assert refused(tmp_path) == f"nothing was written to {PATH}: the disk reports an error"
    assert everything(tmp_path) == before


@pytest.mark.parametrize(
    ("number", "outcome"),
    [(errno.EIO, NotWritten), (errno.EINVAL, Written), (errno.ENOTSUP, Written)],
    ids=["EIO", "EINVAL", "ENOTSUP"],
)
def test_a_folder_that_cannot_be_synced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, outcome: type
) -> None:
    monkeypatch.setattr(writer.os, "fsync", failing(number, on="/11"))
    assert isinstance(append_entry(tmp_path, PATH, KM, LINE), outcome)
    assert (tmp_path / "2026").exists() is (outcome is Written)


def test_a_drive_that_knows_no_locks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_: object) -> None:
        raise NotImplementedError

    monkeypatch.setattr(writer.FileLock, "acquire", refuse)
    assert "knows no locks" in refused(tmp_path)
    assert everything(tmp_path) == {}


def run(script: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", script, *arguments],
        cwd=ROOT, capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip


LIMITED = """
import resource, sys
from pathlib import Path
from board.record.writer import append_entry
most = int(sys.argv[2])
resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
print(append_entry(Path(sys.argv[1]), *sys.argv[3:6]).sentence)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the limit of a file's size as Linux keeps it")
@pytest.mark.parametrize("room", [0, 1, 10, len(LINE)])
def test_a_write_cut_short_by_the_system_is_taken_back(tmp_path: Path, room: int) -> None:
    """A real short write: the system takes what fits below the limit of the file's size."""
    append(tmp_path)
    before = everything(tmp_path)
    size = (tmp_path / PATH).stat().st_size
    sentence = run(LIMITED, str(tmp_path), str(size + room), PATH, KM, LINE).stdout.strip()
    why = (
        f"only {room} of {len(LINE) + 1} bytes could be written, the disk may be full"
        if room
        else "the file may not grow any further"
    )
    assert sentence == f"nothing was written to {PATH}: {why}"
    assert everything(tmp_path) == before


@pytest.mark.skipif(sys.platform != "linux", reason="the limit of a file's size as Linux keeps it")
def test_a_new_log_cut_short_leaves_neither_file_nor_folders(tmp_path: Path) -> None:
    sentence = run(LIMITED, str(tmp_path), "5", PATH, KM, LINE).stdout
    assert "only 5 of" in sentence
    assert everything(tmp_path) == {}


# -- other programs at the same file -------------------------------------------------------


def sneaking(monkeypatch: pytest.MonkeyPatch, *acts: Sneak) -> None:
    """Lets another program act just before each of our writes."""
    write, left = os.write, list(acts)

    def writing(descriptor: int, data: bytes) -> int:
        if left:
            left.pop(0)()
        return write(descriptor, data)

    monkeypatch.setattr(writer.os, "write", writing)


def put(file: Path, data: bytes) -> Sneak:
    """Another program that appends without asking for the lock."""

    def act() -> None:
        descriptor = os.open(file, os.O_WRONLY | os.O_APPEND)
        os.truncate(descriptor, 0) if data == b"" else None
        with os.fdopen(descriptor, "ab") as other:
            other.write(data)

    return act


def test_half_a_line_that_came_between_is_not_written_into(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    append(tmp_path)
    sneaking(monkeypatch, put(tmp_path / PATH, b"22:39 A0"))
    append(tmp_path, "22:41 A07 running")
    assert text(tmp_path) == f"{KM}\n{LINE}\n22:39 A0\n22:41 A07 running\n"


def test_a_heading_that_came_between_does_not_capture_the_entry(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    append(tmp_path)
    sneaking(monkeypatch, put(tmp_path / PATH, f"{RB}\n".encode()))
    append(tmp_path, "22:41 A07 running")
    assert text(tmp_path) == f"{KM}\n{LINE}\n{RB}\n{KM}\n22:41 A07 running\n"


def test_an_editor_that_saves_by_renaming_does_not_take_the_entry_along(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    append(tmp_path)
    file = tmp_path / PATH

    def save() -> None:
        file.rename(file.with_name("old.log"))
        file.write_text(f"{KM}\n{LINE}\nedited\n")

    sneaking(monkeypatch, save)
    append(tmp_path, "22:41 A07 running")
    assert text(tmp_path) == f"{KM}\n{LINE}\nedited\n22:41 A07 running\n"
    assert file.with_name("old.log").read_text() == f"{KM}\n{LINE}\n"


def test_a_log_deleted_under_our_hands_is_made_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    append(tmp_path)
    sneaking(monkeypatch, (tmp_path / PATH).unlink)
    append(tmp_path, "22:41 A07 running")
    assert text(tmp_path) == f"{KM}\n22:41 A07 running\n"


def test_a_log_that_others_keep_changing_is_given_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    append(tmp_path)
    sneaking(monkeypatch, *[put(tmp_path / PATH, b"#\n")] * 20)
    sentence = refused(tmp_path, "22:41 A07 running")
    assert sentence == f"nothing was written to {PATH}: other programs keep changing it"
    assert "running" not in text(tmp_path)


def test_another_programs_line_is_never_cut_off_with_ours(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    append(tmp_path)
    add, fsync = put(tmp_path / PATH, b"22:50 A09 isolated by RB\n"), os.fsync

    def fail(descriptor: int) -> None:
        monkeypatch.setattr(writer.os, "fsync", fsync)
        add()
        raise OSError(errno.EIO, "x")

    monkeypatch.setattr(writer.os, "fsync", fail)
    sentence = refused(tmp_path, "22:41 A07 running")
    assert sentence.startswith("the entry was not written whole, look at the end of")
    assert text(tmp_path).endswith("22:50 A09 isolated by RB\n")


# -- the lock ------------------------------------------------------------------------------

HOLDER = """
import sys, time
from filelock import FileLock
lock = FileLock(sys.argv[1])
lock.acquire()
print("held", flush=True)
time.sleep(60)
"""


def test_the_lock_of_a_dead_process_falls_with_it(tmp_path: Path) -> None:
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(tmp_path / LOCK_NAME)], stdout=subprocess.PIPE, text=True
    )
    try:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        sentence = refused(tmp_path, patience=0.1)
        assert (
            sentence
            == f"nothing was written to {PATH}: others have been writing for 0.1 s; try again"
        )
        assert everything(tmp_path) == {}
    finally:
        holder.kill()
        holder.communicate()
    started = time.monotonic()
    append(tmp_path)
    assert time.monotonic() - started < 5


def test_a_lock_left_by_another_user_may_be_taken(tmp_path: Path) -> None:
    append(tmp_path)
    assert (tmp_path / LOCK_NAME).stat().st_mode & 0o666 == 0o666


WRITER = """
import os, sys
from pathlib import Path
from board.record.writer import Written, append_entry
folder, who, name, acknowledged = Path(sys.argv[1]), sys.argv[2], sys.argv[3], int(sys.argv[4])
number = 0
while True:
    number += 1
    line = f"22:40 A07 note {who} {name}-{number} " + "x" * (number * 37 % 3000)
    outcome = append_entry(folder, "all.log", f"day 2026-11-24 night by {who}", line, patience=60)
    if not isinstance(outcome, Written):
        os.write(2, repr(outcome).encode())
        sys.exit(1)
    os.write(acknowledged, f"{name}-{number}\\n".encode())
"""


def test_eight_writers_and_kill_9_in_between(tmp_path: Path) -> None:
    """Every acknowledged line stands once and whole, under its own heading, whoever was killed."""
    folder = tmp_path / "logs"
    folder.mkdir()
    chance = random.Random(20261124)
    acknowledged = os.open(tmp_path / "acknowledged", os.O_CREAT | os.O_WRONLY | os.O_APPEND)

    def start(name: str) -> subprocess.Popen[bytes]:
        who = "KM" if len(running) % 2 else "RB"
        return subprocess.Popen(
            [sys.executable, "-c", WRITER, str(folder), who, name, str(acknowledged)],
            cwd=ROOT,
            stderr=subprocess.PIPE,
            pass_fds=[acknowledged],
        )

    running: list[subprocess.Popen[bytes]] = []
    try:
        for index in range(8):
            running.append(start(f"w{index}"))
        killed = 0
        begun = time.monotonic()
        written = tmp_path / "acknowledged"
        while time.monotonic() - begun < 5.0 or killed < 10 or len(written.read_bytes()) < 1000:
            assert time.monotonic() - begun < 120.0
            time.sleep(chance.uniform(0.05, 0.25))
            index = chance.randrange(8)
            victim = running[index]
            assert victim.poll() is None, victim.communicate()[1]
            victim.send_signal(signal.SIGKILL)
            victim.communicate()
            killed += 1
            running[index] = start(f"w{index}k{killed}")
    finally:
        for one in running:
            one.kill()
            one.communicate()
        os.close(acknowledged)

    lines = (folder / "all.log").read_text().split("\n")
    assert lines.pop() == ""
    heading, found = "", Counter[str]()
    for line in lines:
        if line.startswith("day "):
            heading = line
            continue
        whole = re.fullmatch(r"22:40 A07 note (KM|RB) (w\d(?:k\d+)?)-(\d+) (x*)", line)
        assert whole, line[:80]
        assert len(whole[4]) == int(whole[3]) * 37 % 3000
        assert heading == f"day 2026-11-24 night by {whole[1]}"
        found[f"{whole[2]}-{whole[3]}"] += 1
    told = (tmp_path / "acknowledged").read_text().split()
    assert set(told) <= set(found)
    assert set(found.values()) == {1}
    # what stands there untold is at most the one line of each process that was killed over it
    assert len(found) - len(told) <= killed + 8
    assert killed >= 10
    assert len(told) > 100
