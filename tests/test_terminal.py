"""The live terminal on a pseudo-terminal: left as it was found, however the program ends.

The program under test runs as a process of its own with the pseudo-terminal as its controlling
terminal; what it sends is read from the other end, with deadlines.
"""

import fcntl
import io
import os
import pty
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import pyte
import pytest

from board.terminal import TerminalFacts, live_terminal, terminal_facts

ROOT = Path(__file__).resolve().parent.parent
DEADLINE_S = 10.0
ENTER, LEAVE = "\x1b[?1049h", "\x1b[?1049l"

# Draws what it reads; "x" raises, "w" wakes from another thread, "b" is busy without reading.
PROGRAM = """
import sys, threading, time
from board.keys import Key, Name
from board.terminal import Notice, SignalledToEnd, live_terminal

with live_terminal(sys.stdin, sys.stdout) as terminal:
    lines = ["ready %d %d" % terminal.size]
    while True:
        terminal.paint(lines[-terminal.size[1]:])
        got = terminal.read(30)
        match got:
            case Notice.TIMED_OUT:
                continue
            case Notice.HUNG_UP:
                break
            case Notice.RESIZED:
                lines.append("resized %d %d" % terminal.size)
            case Notice.WOKEN:
                lines.append("woken")
            case Key(text="q"):
                break
            case Key(text="x"):
                raise ValueError("on purpose")
            case Key(text="w"):
                threading.Timer(0.1, terminal.wake).start()
            case Key(text="b"):
                try:
                    while True:
                        time.sleep(60)
                except (KeyboardInterrupt, SignalledToEnd) as end:
                    print("caught", type(end).__name__, flush=True)
                    raise
            case Key():
                lines.append(f"key {got.name.name} {got.text}")
print("after", flush=True)
"""


class Session:
    """A program on a pseudo-terminal of 80 by 24."""

    def __init__(self, program: str = PROGRAM, arguments: Sequence[str] = ()) -> None:
        self.parent, child = pty.openpty()
        self.child = child
        self.resize(80, 24)
        self.before = termios.tcgetattr(child)
        self.output = ""
        self.seen = 0
        self.process = subprocess.Popen(
            [sys.executable, "-X", "utf8", "-c", program, *arguments],
            stdin=child,
            stdout=child,
            stderr=child,
            cwd=ROOT,
            env={"TERM": "xterm", "PATH": os.environ["PATH"], "LANG": "C.UTF-8", "NO_COLOR": "1"},
            start_new_session=True,
            preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
        )

    def resize(self, width: int, height: int) -> None:
        fcntl.ioctl(self.parent, termios.TIOCSWINSZ, struct.pack("HHHH", height, width, 0, 0))

    def send(self, data: bytes) -> None:
        os.write(self.parent, data)

    def signal(self, number: int) -> None:
        os.kill(self.process.pid, number)

    def read_for(self, seconds: float) -> None:
        ready, _, _ = select.select([self.parent], [], [], seconds)
        if ready:
            try:
                self.output += os.read(self.parent, 65536).decode()
            except OSError:
                time.sleep(seconds)

    def expect(self, text: str) -> None:
        """Read until `text` was sent, after what was expected before."""
        until = time.monotonic() + DEADLINE_S
        while (found := self.output.find(text, self.seen)) < 0:
            assert time.monotonic() < until, f"{text!r} not in {self.output[self.seen :]!r}"
            self.read_for(0.1)
        self.seen = found + len(text)

    def end(self) -> int:
        """Wait for the end; the status, and the rest of the output."""
        until = time.monotonic() + DEADLINE_S
        while self.process.poll() is None:
            assert time.monotonic() < until, "the program does not end"
            self.read_for(0.05)
        while select.select([self.parent], [], [], 0)[0]:
            length = len(self.output)
            self.read_for(0)
            if len(self.output) == length:
                break
        return self.process.returncode

    def mode_is_as_before(self) -> bool:
        return termios.tcgetattr(self.child) == self.before

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        for end in (self.child, self.parent):
            if end >= 0:
                os.close(end)


@pytest.fixture
def session() -> Iterator[Session]:
    running = Session()
    yield running
    running.close()


def assert_left_clean(session: Session) -> str:
    """The terminal was put back; answers what was written on the normal screen afterwards."""
    assert session.output.count(ENTER) == 1
    shown, left, after = session.output.rpartition(LEAVE)
    assert left, "the alternate screen was not left"
    assert ENTER not in after
    assert "\x1b[?25l" in shown
    assert shown.rfind("\x1b[?25h") > shown.rfind("\x1b[?25l"), "the cursor stayed hidden"
    assert shown.rfind("\x1b[?7h") > shown.rfind("\x1b[?7l"), "lines are not wrapped any more"
    assert session.mode_is_as_before()
    return after


def test_an_ordinary_end(session: Session) -> None:
    session.expect("ready 80 24")
    assert not session.mode_is_as_before(), "keys should come unbuffered and unseen"
    session.send(b"q")
    assert session.end() == 0
    assert assert_left_clean(session).strip() == "after"


@pytest.mark.parametrize(
    ("number", "status"),
    [(signal.SIGTERM, 143), (signal.SIGHUP, 129), (signal.SIGQUIT, 131), (signal.SIGINT, -2)],
    ids=lambda value: getattr(value, "name", str(value)),
)
@pytest.mark.parametrize("busy", ["waiting", "busy"])
def test_a_signal_leaves_the_terminal_clean(
    session: Session, number: int, status: int, busy: str
) -> None:
    session.expect("ready")
    if busy == "busy":
        session.send(b"b")
        time.sleep(0.2)
    session.signal(number)
    # Python ends itself by SIGINT after an uncaught KeyboardInterrupt.
    assert session.end() == status
    after = assert_left_clean(session)
    assert ("caught" in after) is (busy == "busy")
    assert "after\r\n" not in after


def test_a_signal_just_before_the_wait_does_not_wait_with_it() -> None:
    # A signal taken by another thread leaves the main thread in its wait, as does one that comes
    # after the last instruction of Python before the wait.
    elsewhere = """
import signal, threading
threading.Thread(target=threading.Event().wait, daemon=True).start()
signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGHUP, signal.SIGWINCH])
"""
    running = Session(elsewhere + PROGRAM)
    try:
        running.expect("ready")
        time.sleep(0.2)
        running.resize(100, 30)
        running.signal(signal.SIGWINCH)
        running.expect("resized 100 30")
        running.signal(signal.SIGHUP)
        assert running.end() == 129
        assert_left_clean(running)
    finally:
        running.close()


def test_ctrl_c_is_an_interrupt(session: Session) -> None:
    session.expect("ready")
    until = time.monotonic() + DEADLINE_S
    while session.process.poll() is None and time.monotonic() < until:
        # one that comes while Python is in a place where no exception may leave is lost
        session.send(b"\x03")
        time.sleep(1.0)
    assert session.end() == -signal.SIGINT
    assert_left_clean(session)


def test_an_exception_is_written_on_the_normal_screen(session: Session) -> None:
    session.expect("ready")
    session.send(b"x")
    assert session.end() == 1
    assert "ValueError: on purpose" in assert_left_clean(session)


def test_what_is_ignored_stays_ignored() -> None:
    running = Session("import signal; signal.signal(signal.SIGHUP, signal.SIG_IGN)" + PROGRAM)
    try:
        running.expect("ready")
        running.signal(signal.SIGHUP)
        running.send(b"z")
        running.expect("key CHARACTER z")
    finally:
        running.close()


def test_the_loss_of_the_terminal_ends_the_program_quietly(session: Session) -> None:
    session.expect("ready")
    os.close(session.child)
    os.close(session.parent)
    session.child = session.parent = -1
    assert session.process.wait(DEADLINE_S) in (0, 1, 120, 129)


def test_a_program_that_ignores_hangups_sees_the_loss_of_the_terminal(tmp_path: Path) -> None:
    told = tmp_path / "told"
    running = Session(
        "import signal; signal.signal(signal.SIGHUP, signal.SIG_IGN)"
        + PROGRAM.replace("print(", "open(sys.argv[1], 'w').write(").replace(", flush=True)", ")"),
        arguments=[str(told)],
    )
    try:
        running.expect("ready")
        os.close(running.child)
        os.close(running.parent)
        running.child = running.parent = -1
        assert running.process.wait(DEADLINE_S) in (0, 120)
        assert told.read_text(encoding="utf-8") == "after"
    finally:
        running.close()


def test_ctrl_z_stops_and_fg_continues() -> None:
    """Started by a shell of its own, for a process alone in its session is never stopped."""
    shell = f"""
import os, signal, sys, time
child = os.fork()
if child == 0:
    os.setpgid(0, 0)
    signal.signal(signal.SIGTTOU, signal.SIG_IGN); os.tcsetpgrp(0, os.getpid())
    signal.signal(signal.SIGTTOU, signal.SIG_DFL)
    os.execv(sys.executable, [sys.executable, "-c", {PROGRAM!r}])
_, status = os.waitpid(child, os.WUNTRACED)
signal.signal(signal.SIGTTOU, signal.SIG_IGN); os.tcsetpgrp(0, os.getpgrp())
print("stopped", os.WIFSTOPPED(status), flush=True)
time.sleep(0.3)
os.tcsetpgrp(0, child); os.kill(child, signal.SIGCONT)
_, status = os.waitpid(child, 0)
os.tcsetpgrp(0, os.getpgrp())
print("ended", os.waitstatus_to_exitcode(status), flush=True)
"""
    running = Session(shell)
    try:
        running.expect("ready")
        running.send(b"\x1a")
        running.expect(LEAVE)
        running.expect("stopped True")
        assert running.mode_is_as_before()
        running.expect(ENTER)
        running.expect("ready")
        running.send(b"q")
        running.expect(LEAVE)
        running.expect("ended 0")
        running.end()
        assert running.mode_is_as_before()
    finally:
        running.close()


def test_a_resize_is_told_and_painted_whole(session: Session) -> None:
    session.expect("ready 80 24")
    session.resize(100, 30)
    session.expect("ready 80 24")
    session.expect("resized 100 30")
    session.resize(40, 10)
    session.expect("resized 40 10")


def test_waking_by_another_thread(session: Session) -> None:
    session.expect("ready")
    started = time.monotonic()
    session.send(b"w")
    session.expect("woken")
    assert time.monotonic() - started < 2


@pytest.mark.parametrize(
    ("parts", "told"),
    [
        ([b"\x1b[A"], "key UP"),
        ([b"\x1b", b"[B"], "key DOWN"),
        ([b"\x1b[", b"5~"], "key PAGE_UP"),
        ([b"\x1b[1", b";5", b"H"], "key HOME"),
        ([b"\xc3", b"\xa4"], "key CHARACTER ä"),
        ([b"\x1b"], "key ESCAPE"),
        ([b"\r"], "key ENTER"),
        ([b"\x7f"], "key BACKSPACE"),
        ([b"\x13"], "key CONTROL s"),
    ],
    ids=lambda value: repr(value)[:24],
)
def test_keys_split_over_reads(session: Session, parts: list[bytes], told: str) -> None:
    session.expect("ready")
    for part in parts:
        session.send(part)
        time.sleep(0.03)
    session.expect(told)
    assert session.output.count("key ") == 1


def test_the_emulated_screen_shows_the_frame(session: Session) -> None:
    session.expect("ready")
    session.send(b"\x1b[A")
    session.expect("key UP")
    session.read_for(0.2)
    screen = pyte.Screen(80, 24)
    pyte.Stream(screen).feed(session.output)
    assert [line.rstrip() for line in screen.display[:3]] == ["ready 80 24", "key UP", ""]
    assert screen.cursor.hidden


def test_idle_reading_takes_no_time(session: Session) -> None:
    session.expect("ready")
    stat = Path(f"/proc/{session.process.pid}/stat")
    if not stat.exists():
        pytest.skip("no /proc to read the used time from")

    def used() -> int:
        return sum(map(int, stat.read_text(encoding="ascii").rsplit(")")[1].split()[11:13]))

    before = used()
    time.sleep(1.5)
    assert (used() - before) / os.sysconf("SC_CLK_TCK") / 1.5 < 0.02


def test_no_terminal_is_refused_before_anything_is_sent() -> None:
    parent, child = pty.openpty()
    reader, writer = os.pipe()
    with (
        open(child) as keys,
        open(writer, "w") as output,
        pytest.raises(OSError, match="Inappropriate ioctl"),
        live_terminal(keys, output),
    ):
        pass
    assert os.read(reader, 10) == b""
    os.close(reader)
    os.close(parent)


# The facts.


class Stream(io.StringIO):
    """An output that claims to be a terminal or not, with an encoding of its own."""

    def __init__(self, encoding: str | None = "utf-8", *, terminal: bool = True) -> None:
        super().__init__()
        self._encoding = encoding
        self._terminal = terminal

    @property
    def encoding(self) -> str:  # type: ignore[override]
        return self._encoding  # type: ignore[return-value]

    def isatty(self) -> bool:
        return self._terminal


UTF8 = {"TERM": "xterm-256color", "LANG": "en_GB.UTF-8"}


def facts(
    environ: dict[str, str], stdout: Stream | None = None, platform: str = "linux"
) -> TerminalFacts:
    return terminal_facts(environ, Stream(), stdout or Stream(), platform=platform)


def test_a_good_terminal() -> None:
    assert facts(UTF8) == TerminalFacts(
        width=80, height=24, unicode=True, colour=True, interactive=True
    )


# Source: no-color.org, "when present and not an empty string (regardless of its value)";
# FORCE_COLOR=0 as off is common practice, no source.
@pytest.mark.parametrize(
    ("environ", "terminal", "colour"),
    [
        ({}, True, True),
        ({}, False, False),
        ({"NO_COLOR": "1"}, True, False),
        ({"NO_COLOR": "0"}, True, False),
        ({"NO_COLOR": ""}, True, True),
        ({"FORCE_COLOR": "1"}, False, True),
        ({"FORCE_COLOR": "0"}, True, False),
        ({"FORCE_COLOR": "false"}, True, False),
        ({"FORCE_COLOR": "0"}, False, False),
        ({"FORCE_COLOR": ""}, False, False),
        ({"FORCE_COLOR": ""}, True, True),
        ({"FORCE_COLOR": "3", "NO_COLOR": "1"}, True, False),
        ({"TERM": "dumb"}, True, False),
        ({"TERM": "dumb", "FORCE_COLOR": "1"}, True, True),
    ],
)
def test_colour(environ: dict[str, str], terminal: bool, colour: bool) -> None:
    assert facts({**UTF8, **environ}, Stream(terminal=terminal)).colour is colour


@pytest.mark.parametrize(
    ("environ", "encoding", "platform", "unicode"),
    [
        ({"LANG": "de_DE.UTF-8"}, "utf-8", "linux", True),
        ({"LANG": "de_DE.UTF-8"}, "UTF8", "linux", True),
        ({"LANG": "de_DE.ISO-8859-1"}, "iso8859-1", "linux", False),
        ({"LANG": "zh_CN.GB18030"}, "gb18030", "linux", True),
        ({"LANG": "zh_CN.GBK"}, "gbk", "linux", False),
        # Python turns LANG=C into UTF-8 by itself (PEP 538), also telling LC_CTYPE so.
        ({"LANG": "C", "LC_CTYPE": "C.UTF-8"}, "utf-8", "linux", False),
        ({"LC_CTYPE": "C.UTF-8"}, "utf-8", "linux", False),
        ({}, "utf-8", "linux", False),
        ({"LANG": "C.UTF-8"}, "utf-8", "linux", True),
        ({"LANG": "C", "LC_CTYPE": "en_GB.UTF-8"}, "utf-8", "linux", True),
        ({"LANG": "en_GB.UTF-8", "LC_ALL": "C"}, "utf-8", "linux", False),
        ({"LANG": "C", "LC_ALL": "en_GB.UTF-8"}, "utf-8", "linux", True),
        ({"LANG": "C", "PYTHONIOENCODING": "utf-8"}, "utf-8", "linux", True),
        ({"LANG": "C", "PYTHONUTF8": "1"}, "utf-8", "linux", True),
        ({"LANG": "de_DE.UTF-8", "TERM": "dumb"}, "utf-8", "linux", False),
        ({}, "utf-8", "win32", True),
        ({}, "cp1252", "win32", False),
        ({}, "cp437", "win32", False),
        ({"LANG": "de_DE.UTF-8"}, None, "linux", False),
        ({"LANG": "de_DE.UTF-8"}, "no-such-code", "linux", False),
    ],
)
def test_unicode(
    environ: dict[str, str], encoding: str | None, platform: str, unicode: bool
) -> None:
    assert facts(environ, Stream(encoding), platform).unicode is unicode


def test_interactive() -> None:
    assert facts(UTF8).interactive
    assert not facts({**UTF8, "TERM": "dumb"}).interactive
    assert not facts(UTF8, Stream(terminal=False)).interactive
    assert not terminal_facts(UTF8, Stream(terminal=False), Stream()).interactive
    assert not terminal_facts(UTF8, None, Stream()).interactive
    assert terminal_facts(UTF8, None, None) == TerminalFacts(
        width=80, height=24, unicode=False, colour=False, interactive=False
    )
    closed = Stream()
    closed.close()
    assert terminal_facts(UTF8, io.StringIO(), io.StringIO()).interactive is False


@pytest.mark.parametrize(
    ("environ", "size"),
    [
        ({}, (80, 24)),
        ({"COLUMNS": "132", "LINES": "50"}, (132, 50)),
        ({"COLUMNS": "wide", "LINES": "-3"}, (80, 24)),
        ({"COLUMNS": "0", "LINES": ""}, (80, 24)),
    ],
)
def test_the_size_of_what_is_no_terminal(environ: dict[str, str], size: tuple[int, int]) -> None:
    found = facts({**UTF8, **environ}, Stream(terminal=False))
    assert (found.width, found.height) == size


def test_the_real_size_counts_more_than_an_exported_one() -> None:
    parent, child = pty.openpty()
    fcntl.ioctl(parent, termios.TIOCSWINSZ, struct.pack("HHHH", 33, 111, 0, 0))
    with open(child, "w") as output:
        found = terminal_facts({"COLUMNS": "70", "LINES": "20"}, None, output)
        assert (found.width, found.height) == (111, 33)
        fcntl.ioctl(parent, termios.TIOCSWINSZ, struct.pack("HHHH", 0, 0, 0, 0))
        found = terminal_facts({"COLUMNS": "70"}, None, output)
        assert (found.width, found.height) == (70, 24)
    os.close(parent)


@pytest.mark.parametrize("locale", ["C", "POSIX", ""])
def test_a_plain_locale_in_a_real_process(locale: str) -> None:
    """Python itself claims UTF-8 here; the facts must not believe it."""
    program = (
        "import os, sys; from board.terminal import terminal_facts;"
        "print(sys.stdout.encoding, terminal_facts(os.environ, sys.stdin, sys.stdout).unicode)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True, text=True, check=True, cwd=ROOT, env={"LANG": locale} if locale else {},
    )  # fmt: skip
    assert re.fullmatch(r"utf-8 False\n", done.stdout), done.stdout
