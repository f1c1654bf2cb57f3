"""The log folder: what is a log, what is not, and what is said of everything that cannot be read."""

from __future__ import annotations

import errno
import os
import signal
import socket
import stat
import tempfile
from collections.abc import Callable, Iterator
from contextlib import nullcontext
from dataclasses import FrozenInstanceError
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from board.record import files
from board.record.cache_folder import default_cache_folder
from board.record.files import (
    FolderEmpty,
    FolderMissing,
    Listing,
    LogFile,
    LogName,
    Skipped,
    last_line,
    read_file,
    read_register_file,
)
from board.record.listing import list_logs
from board.record.shown_names import shown_name, shown_path
from board.record.sweep import sweep
from grammar.reader import LastLine

NOW = datetime(2026, 11, 24, 23, 0, tzinfo=UTC)


def made(file: Path, data: bytes = b"x\n", age: float = 3600.0) -> Path:
    """A file with a modification time of its own, so many seconds before NOW."""
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(data)
    moment = NOW.timestamp() - age
    os.utime(file, (moment, moment))
    return file


def listing(folder: Path) -> Listing:
    found = list_logs(folder)
    assert isinstance(found, Listing), found
    return found


def paths(folder: Path) -> list[str]:
    return [log.path for log in listing(folder).logs]


def told(folder: Path) -> dict[str, str]:
    found = list_logs(folder)
    assert not isinstance(found, FolderMissing)
    return {one.path: one.sentence for one in found.skipped}


def named(folder: Path, name: str = "x.log") -> LogName:
    return LogName(path=name, where=str(folder / name))


def skipped(read: LogFile | Skipped) -> str:
    assert isinstance(read, Skipped), read
    return read.sentence


# -- which files are logs ------------------------------------------------------------------


def test_logs_of_all_sub_folders_sorted_by_path(tmp_path: Path) -> None:
    for name in ("b.log", "a/z.log", "2026/11/2.log", "2026/11/10.log", "a.log", "Ä.log"):
        made(tmp_path / name)
    expected = ["2026/11/10.log", "2026/11/2.log", "a.log", "a/z.log", "b.log", "Ä.log"]
    assert paths(tmp_path) == expected
    assert told(tmp_path) == {}


@pytest.mark.parametrize(
    "name",
    [
        ".x.log.swp",
        ".x.log",
        "x.log~",
        "#x.log#",
        ".#x.log",
        "4913",
        ".goutputstream-ABC123",
        "~$x.log",
        "x.log.bak",
        "x.log.tmp",
        "x.log.BAK",
        "x.log.txt~",
        "x.log.txt.bak",
        "~$x.log.docx",
        ".x.log.txt",
        "x.txt",
        "log.txt",
        "log",
        "shed.toml",
        ".hidden/x.log",
        ".git/logs/x.log",
    ],
)
def test_what_editors_leave_behind_is_no_log(tmp_path: Path, name: str) -> None:
    made(tmp_path / "real.log")
    made(tmp_path / name)
    assert paths(tmp_path) == ["real.log"]
    assert told(tmp_path) == {}


def test_the_suffix_is_compared_in_its_own_letters_and_the_rest_told(tmp_path: Path) -> None:
    made(tmp_path / "x.log")
    made(tmp_path / "y.LOG")
    if len(os.listdir(tmp_path)) == 2:
        assert paths(tmp_path) == ["x.log"]
        assert "only names ending in .log in small letters" in told(tmp_path)["y.LOG"]


@pytest.mark.parametrize("name", ["KM.log.txt", "KM.log.TXT", "KM.LOG.txt", "a/x.log.txt.txt"])
def test_a_log_with_the_ending_of_another_program_is_told(tmp_path: Path, name: str) -> None:
    made(tmp_path / "KM.log")
    made(tmp_path / name)
    assert paths(tmp_path) == ["KM.log"]
    sentence = f"{name} was not read: its name must end in .log, not in {Path(name).suffix}"
    assert told(tmp_path) == {name: sentence}


def test_a_folder_with_that_ending_is_no_log(tmp_path: Path) -> None:
    made(tmp_path / "KM.log")
    (tmp_path / "x.log.txt").mkdir()
    assert told(tmp_path) == {}


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    assert list_logs(tmp_path / "no") == FolderMissing(
        sentence=f"there is no folder {tmp_path.as_posix()}/no"
    )


def test_a_file_for_a_folder(tmp_path: Path) -> None:
    made(tmp_path / "x.log")
    found = list_logs(tmp_path / "x.log")
    assert isinstance(found, FolderMissing)
    assert found.sentence.endswith("x.log is no folder")


def test_an_empty_folder_is_told_with_what_was_passed_over(tmp_path: Path) -> None:
    (tmp_path / "x.log").symlink_to("y")
    found = list_logs(tmp_path)
    assert isinstance(found, FolderEmpty)
    assert found.sentence == f"no .log file stands in {tmp_path.as_posix()}"
    assert [one.path for one in found.skipped] == ["x.log"]


# -- links ---------------------------------------------------------------------------------


def test_links_are_told_and_not_followed(tmp_path: Path) -> None:
    made(tmp_path / "outside" / "secret.log", b"secret\n")
    folder = tmp_path / "logs"
    made(folder / "real.log")
    (folder / "out.log").symlink_to(tmp_path / "outside" / "secret.log")
    (folder / "in.log").symlink_to(folder / "real.log")
    (folder / "out").symlink_to(tmp_path / "outside")
    (folder / "dead.log").symlink_to("nowhere")
    (folder / "passwd").symlink_to("/etc/passwd")
    assert paths(folder) == ["real.log"]
    assert sorted(told(folder)) == ["dead.log", "in.log", "out", "out.log"]
    assert (
        told(folder)["out.log"] == "out.log was not read: it is a link, and links are not followed"
    )
    assert told(folder)["out"] == "out is a link to a folder, and links are not followed"


def test_a_loop_of_links_ends(tmp_path: Path) -> None:
    made(tmp_path / "a" / "real.log")
    (tmp_path / "a" / "up").symlink_to(tmp_path)
    (tmp_path / "a" / "here").symlink_to(".")
    (tmp_path / "one.log").symlink_to("two.log")
    (tmp_path / "two.log").symlink_to("one.log")
    assert paths(tmp_path) == ["a/real.log"]
    assert sorted(told(tmp_path)) == ["a/here", "a/up", "one.log", "two.log"]


def test_the_folder_itself_may_be_a_link(tmp_path: Path) -> None:
    made(tmp_path / "there" / "x.log")
    (tmp_path / "here").symlink_to("there")
    assert paths(tmp_path / "here") == ["x.log"]


def test_a_link_put_in_place_of_a_log_is_not_followed(tmp_path: Path) -> None:
    made(tmp_path / "secret", b"secret\n")
    (tmp_path / "x.log").symlink_to("secret")
    assert "links are not followed" in skipped(read_file(named(tmp_path), NOW))


@pytest.mark.skipif(not hasattr(os, "O_NOFOLLOW"), reason="no O_NOFOLLOW here")
def test_a_link_put_in_place_just_before_opening(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    regular = os.lstat(made(tmp_path / "secret", b"secret\n"))
    (tmp_path / "x.log").symlink_to("secret")
    monkeypatch.setattr(files.os, "lstat", lambda _: regular)  # what stood there a moment ago
    assert "was not read" in skipped(read_file(named(tmp_path), NOW))


# -- what is no ordinary file --------------------------------------------------------------


def as_folder(file: Path) -> None:
    made(file / "inside.log")


def as_socket(file: Path) -> None:
    # the path of a socket may be 107 bytes long, which a temporary folder may exceed
    own = os.getcwd()
    os.chdir(file.parent)
    try:
        with socket.socket(socket.AF_UNIX) as one:
            one.bind(file.name)
    finally:
        os.chdir(own)


def as_device(file: Path) -> None:
    try:
        os.mknod(file, stat.S_IFCHR | 0o666, os.makedev(1, 3))
    except PermissionError:
        pytest.skip("no leave to make a device")


@pytest.mark.parametrize(
    ("make", "kind"),
    [(os.mkfifo, "a pipe"), (as_socket, "a socket"), (as_device, "a device")],
    ids=["FIFO", "socket", "device"],
)
def test_what_is_no_ordinary_file_is_never_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, make: Callable[[Path], None], kind: str
) -> None:
    make(tmp_path / "x.log")
    made(tmp_path / "real.log")

    def no_opening(*_: object) -> int:
        raise AssertionError("opened")

    monkeypatch.setattr(files.os, "open", no_opening)
    assert paths(tmp_path) == ["real.log"]
    assert told(tmp_path) == {"x.log": f"x.log was not read: it is {kind}"}
    assert skipped(read_file(named(tmp_path), NOW)) == f"x.log was not read: it is {kind}"


def test_a_pipe_put_in_place_just_before_opening_does_not_hang(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    regular = os.lstat(made(tmp_path / "y.log"))
    os.mkfifo(tmp_path / "x.log")
    monkeypatch.setattr(files.os, "lstat", lambda _: regular)

    def too_long(*_: object) -> None:
        raise AssertionError("hung at the pipe")

    before = signal.signal(signal.SIGALRM, too_long)
    signal.alarm(5)
    try:
        assert skipped(read_file(named(tmp_path), NOW)) == "x.log was not read: it is a pipe"
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def test_a_folder_with_the_name_of_a_log(tmp_path: Path) -> None:
    as_folder(tmp_path / "x.log")
    assert paths(tmp_path) == ["x.log/inside.log"]
    assert told(tmp_path) == {
        "x.log": "x.log is a folder with the name of a log; the logs in it are read"
    }
    assert skipped(read_file(named(tmp_path), NOW)) == "x.log was not read: it is a folder"


# -- no leave, gone, changing --------------------------------------------------------------


def refusing(number: int) -> Callable[..., int]:
    def refuse(path: object, *_: object, **__: object) -> int:
        raise OSError(number, os.strerror(number), str(path))

    return refuse


@pytest.mark.parametrize(
    ("number", "says"),
    [(errno.EACCES, "permission denied"), (errno.EIO, "input/output error")],
    ids=["EACCES", "EIO"],
)
def test_a_log_that_cannot_be_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, says: str
) -> None:
    made(tmp_path / "x.log")
    monkeypatch.setattr(files.os, "open", refusing(number))
    assert skipped(read_file(named(tmp_path), NOW)) == f"x.log was not read: {says}"


def as_nobody(act: Callable[[], list[str]]) -> list[str]:
    """What an act tells when done without the rights of root, in a process of its own."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            if os.geteuid() == 0:
                os.setgroups([])
                os.setgid(65534)
                os.setuid(65534)
            os.write(writing, "\n".join(act()).encode())
        except BaseException as error:
            os.write(writing, repr(error).encode())
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading) as told_by_child:
        lines = told_by_child.read().split("\n")
    os.waitpid(child, 0)
    return lines


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that others may enter, which pytest's own are not."""
    with tempfile.TemporaryDirectory() as folder:
        os.chmod(folder, 0o755)
        yield Path(folder)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no rights to give up here")
def test_a_log_and_a_folder_without_leave(open_folder: Path) -> None:
    made(open_folder / "real.log")
    made(open_folder / "x.log").chmod(0)
    made(open_folder / "shut" / "y.log")
    (open_folder / "shut").chmod(0)
    made(open_folder / "names only" / "z.log")
    (open_folder / "names only" / "deeper").mkdir()
    (open_folder / "names only").chmod(0o744)

    def act() -> list[str]:
        found = [*paths(open_folder), *told(open_folder).values()]
        return [*found, skipped(read_file(named(open_folder), NOW))]

    try:
        assert as_nobody(act) == [
            "real.log",
            "x.log",
            "names only/deeper was not read: permission denied",
            "names only/z.log was not read: permission denied",
            "the folder shut cannot be listed: permission denied",
            "x.log was not read: permission denied",
        ]
    finally:
        (open_folder / "shut").chmod(0o700)
        (open_folder / "names only").chmod(0o700)


def test_a_sub_folder_that_cannot_be_listed_stops_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made(tmp_path / "real.log")
    made(tmp_path / "shut" / "y.log")
    scandir = os.scandir

    def some(path: Path) -> object:
        if Path(path).name == "shut":
            raise PermissionError(errno.EACCES, "Permission denied")
        return scandir(path)

    monkeypatch.setattr(files.os, "scandir", some)
    assert paths(tmp_path) == ["real.log"]
    assert told(tmp_path) == {"shut": "the folder shut cannot be listed: permission denied"}


def test_a_log_that_vanished_meanwhile(tmp_path: Path) -> None:
    made(tmp_path / "x.log")
    (log,) = listing(tmp_path).logs
    log.file.unlink()
    assert skipped(read_file(log, NOW)) == "x.log was not read: it is not there"


def test_a_log_cut_off_while_it_is_read_is_read_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = made(tmp_path / "x.log", b"one\ntwo\n")
    read, cuts = os.read, [b"three\n"]

    def cutting(descriptor: int, count: int) -> bytes:
        if cuts:
            file.write_bytes(cuts.pop())
        return read(descriptor, count)

    monkeypatch.setattr(files.os, "read", cutting)
    found = read_file(named(tmp_path), NOW)
    assert isinstance(found, LogFile)
    assert (found.data, found.size) == (b"three\n", 6)


def test_a_log_that_keeps_shrinking_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = made(tmp_path / "x.log", b"x" * 100)
    read = os.read

    def cutting(descriptor: int, count: int) -> bytes:
        file.write_bytes(b"x" * (file.stat().st_size - 1))
        return read(descriptor, count)

    monkeypatch.setattr(files.os, "read", cutting)
    says = "x.log was not read: it became shorter while it was read"
    assert skipped(read_file(named(tmp_path), NOW)) == says


def test_a_log_that_grows_is_read_as_far_as_it_went_with_its_earlier_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = made(tmp_path / "x.log", b"one\n")
    before = file.stat().st_mtime_ns
    read, more = os.read, [b"two\n"]

    def growing(descriptor: int, count: int) -> bytes:
        if more:
            with file.open("ab") as other:
                other.write(more.pop())
        return read(descriptor, count)

    monkeypatch.setattr(files.os, "read", growing)
    found = read_file(named(tmp_path), NOW)
    assert isinstance(found, LogFile)
    assert found.data == b"one\ntwo\n"
    assert found.mtime_ns == before  # so that the next look sees a difference
    assert file.stat().st_mtime_ns > before


def test_a_runaway_log_does_not_fill_the_memory(tmp_path: Path) -> None:
    file = tmp_path / "x.log"
    with file.open("wb") as sparse:
        sparse.truncate(files.LARGEST + 1)
    assert (
        skipped(read_file(named(tmp_path), NOW)) == "x.log was not read: it is larger than 256 MiB"
    )


def test_no_descriptor_stays_open(tmp_path: Path) -> None:
    made(tmp_path / "x.log")
    os.mkfifo(tmp_path / "y.log")
    before = len(os.listdir("/proc/self/fd"))
    for _ in range(5):
        read_file(named(tmp_path), NOW)
        read_file(named(tmp_path, "y.log"), NOW)
    assert len(os.listdir("/proc/self/fd")) == before


# -- the unfinished last line --------------------------------------------------------------


@pytest.mark.parametrize(
    ("age", "expected"),
    [
        (0.0, LastLine.GROWING),
        (59.5, LastLine.GROWING),
        (60.0, LastLine.SETTLED),
        (3600.0, LastLine.SETTLED),
        (-3600.0, LastLine.GROWING),  # a file from the future
    ],
)
def test_a_last_line_settles_after_a_minute_of_quiet(
    tmp_path: Path, age: float, expected: LastLine
) -> None:
    made(tmp_path / "x.log", b"22:40 A07 sto", age)
    found = read_file(named(tmp_path), NOW)
    assert isinstance(found, LogFile)
    assert found.last_line is expected
    if expected is LastLine.GROWING:
        assert found.settles_at == NOW + timedelta(seconds=60 - age)
    else:
        assert found.settles_at is None


@pytest.mark.parametrize("data", [b"", b"22:40 A07 stopped\n"])
def test_a_finished_log_waits_for_nothing(tmp_path: Path, data: bytes) -> None:
    made(tmp_path / "x.log", data, age=0.0)
    found = read_file(named(tmp_path), NOW)
    assert isinstance(found, LogFile)
    assert found.settles_at is None


@pytest.mark.parametrize(
    ("mtime_ns", "expected"),
    [
        (2**62 * 1000, LastLine.GROWING),
        (-(2**62) * 1000, LastLine.SETTLED),
        (0, LastLine.SETTLED),
    ],
)
def test_times_outside_the_calendar(mtime_ns: int, expected: LastLine) -> None:
    assert last_line(mtime_ns, NOW) is expected


# -- names ---------------------------------------------------------------------------------


def test_names_that_are_not_utf8_are_shown_with_a_mark(tmp_path: Path) -> None:
    raw = os.path.join(os.fsencode(tmp_path), b"sch\xfctz.log")
    try:
        with open(raw, "wb") as file:
            file.write(b"x\n")
    except OSError:
        pytest.skip("this file system takes only UTF-8")
    (log,) = listing(tmp_path).logs
    assert log.path == "sch\\xfctz.log"
    found = read_file(log, NOW)
    assert isinstance(found, LogFile)
    assert found.data == b"x\n"


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("plain ä 漢.log", "plain ä 漢.log"),
        ("a\x1b[31m.log", "a\\x1b[31m.log"),
        ("a\nb", "a\\x0ab"),
        ("a\u202eb", "a\\u202eb"),
        ("a\\xfc", "a\\x5cxfc"),
        ("a\udcfc", "a\\xfc"),
        ("a\x85", "a\\u0085"),
    ],
)
def test_shown_names_hide_nothing_and_can_always_be_printed(name: str, shown: str) -> None:
    assert shown_name(name) == shown
    assert shown.encode("utf-8")
    assert shown.isprintable()


def test_a_path_of_windows_is_shown_with_slashes() -> None:
    from pathlib import PureWindowsPath

    assert shown_path(PureWindowsPath("C:\\logs\\2026")) == "C:/logs/2026"  # type: ignore[arg-type]


def test_results_cannot_be_changed(tmp_path: Path) -> None:
    made(tmp_path / "x.log")
    (log,) = listing(tmp_path).logs
    with pytest.raises(FrozenInstanceError):
        log.path = "y"  # type: ignore[misc]


# -- the register's file -------------------------------------------------------------------


def test_the_register_is_read_as_bytes(tmp_path: Path) -> None:
    made(tmp_path / "shed.toml", b"[shed]\n")
    assert read_register_file(tmp_path) == b"[shed]\n"


def test_a_register_that_is_not_there(tmp_path: Path) -> None:
    found = read_register_file(tmp_path)
    assert isinstance(found, Skipped)
    assert found.sentence == "shed.toml was not read: it is not there"


# -- the cache folder ----------------------------------------------------------------------


def test_the_cache_folder_is_where_the_environment_says(tmp_path: Path) -> None:
    given = {"XDG_CACHE_HOME": str(tmp_path / "cache"), "HOME": str(tmp_path)}
    assert default_cache_folder(given) == tmp_path / "cache" / "loomslate"
    assert stat.S_IMODE((tmp_path / "cache" / "loomslate").stat().st_mode) == 0o700


@pytest.mark.parametrize("cache", ["", "relative/cache"])
def test_a_relative_cache_home_is_passed_over(tmp_path: Path, cache: str) -> None:
    found = default_cache_folder({"XDG_CACHE_HOME": cache, "HOME": str(tmp_path)})
    assert found == tmp_path / ".cache" / "loomslate"


def test_without_a_home_there_is_no_cache() -> None:
    assert default_cache_folder({}) is None


def test_where_no_folder_can_be_made_there_is_no_cache(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    assert default_cache_folder({"XDG_CACHE_HOME": str(tmp_path / "file")}) is None
    assert default_cache_folder({"XDG_CACHE_HOME": "/proc/self"}) is None
    assert default_cache_folder({"XDG_CACHE_HOME": "/a\0b"}) is None


def test_a_cache_folder_that_cannot_be_written_to(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(files.os, "access", lambda *_: False)
    assert default_cache_folder({"HOME": str(tmp_path)}) is None


# -- what goes away meanwhile ----------------------------------------------------------------


def _between(monkeypatch: pytest.MonkeyPatch, meanwhile: Callable[[], None]) -> None:
    """Once, when the names of a folder have been listed and none of them was asked for."""
    listed, done = os.scandir, list[bool]()

    def scandir(folder: Path) -> object:
        found = listed(folder)
        names = list(found)
        if not done and names:
            done.append(True)
            meanwhile()
        return nullcontext(iter(names))

    monkeypatch.setattr(os, "scandir", scandir)


def _is_gone(looked: Callable[[Path], object], folder: Path) -> bool:
    try:
        return isinstance(looked(folder), FolderMissing)
    except OSError:
        return True


@pytest.mark.parametrize("looked", [list_logs, sweep])
def test_a_folder_that_is_moved_away_while_it_is_looked_at_is_gone_and_not_empty(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, looked: Callable[[Path], object]
) -> None:
    folder = tmp_path / "logs"
    made(folder / "a.log")
    made(folder / "2026" / "b.log")
    _between(monkeypatch, lambda: folder.rename(tmp_path / "away") and None)
    assert _is_gone(looked, folder)


def test_what_is_moved_while_it_is_looked_at_is_found_where_it_came_to(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "logs"
    made(folder / "2026" / "b.log")
    made(folder / "a.log")

    def moves() -> None:
        (folder / "2026").rename(folder / "2027")
        (folder / "a.log").unlink()

    with monkeypatch.context() as patch:
        _between(patch, moves)
        assert paths(folder) == ["2027/b.log"]
    with monkeypatch.context() as patch:
        _between(patch, lambda: (folder / "2027").rename(folder / "2028") and None)
        assert set(sweep(folder).seen) == {str(folder / "2028" / "b.log")}


def test_an_empty_folder_is_told_apart_from_an_empty_place_by_its_register(tmp_path: Path) -> None:
    made(tmp_path / "sub" / "shed.toml")
    place = list_logs(tmp_path)
    assert isinstance(place, FolderEmpty)
    assert not place.register
    made(tmp_path / "shed.toml")
    folder = list_logs(tmp_path)
    assert isinstance(folder, FolderEmpty)
    assert folder.register
