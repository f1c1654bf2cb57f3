"""A log that was saved with CR alone at the ends of its lines is read line by line."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from board.record.files import LogFile, LogName, read_file
from board.record.filing import addition
from grammar.decoding import with_line_feeds
from tests.conftest import Run

AT = ("--at", "2026-11-25T05:50")
NIGHT = "day 2026-11-24 night by KM"
LINES = (NIGHT, *(f"22:{m} A{m - 39:02} isolated by TN lock {m}" for m in range(40, 46)))
CR_ONLY = "".join(f"{line}\r" for line in LINES).encode()


@pytest.mark.parametrize(
    ("data", "turned"),
    [
        (b"", b""),
        (b"a", b"a"),
        (b"a\rb\r", b"a\nb\r"),  # an LF may be about to follow the last one
        (b"a\rb", b"a\nb"),
        (b"a\r\rb\r\r", b"a\n\nb\n\r"),
        (b"\ra\r", b"\na\r"),
        (b"a\rb\r\nc\rd\n", b"a\nb\r\nc\nd\n"),  # a line was written behind it since
        (b"a\nb\rc\n", b"a\nb\rc\n"),  # a character that somebody pasted
        (b"a\r\nb\rc\r\n", b"a\r\nb\rc\r\n"),
        (b"a\r\r\nb\r\r\n", b"a\r\r\nb\r\r\n"),
        (b"a\r", b"a\r"),
        (b"a\r\n", b"a\r\n"),
        ("a\r\nb\r\n".encode("utf-16"), "a\r\nb\r\n".encode("utf-16")),
        ("a\r\nb\r\n".encode("utf-16-be"), "a\r\nb\r\n".encode("utf-16-be")),
    ],
)
def test_a_lone_carriage_return_ends_a_line_where_it_ends_the_first(
    data: bytes, turned: bytes
) -> None:
    assert with_line_feeds(data) == turned
    assert len(turned) == len(data)
    assert with_line_feeds(turned) == turned or turned.endswith(b"\r")


def test_a_file_keeps_its_size(tmp_path: Path) -> None:
    (tmp_path / "a.log").write_bytes(CR_ONLY)
    name = LogName(path="a.log", where=str(tmp_path / "a.log"))
    read = read_file(name, datetime(2099, 1, 1, tzinfo=UTC))
    assert isinstance(read, LogFile)
    assert read.size == len(CR_ONLY)
    assert read.data.count(b"\n") == len(LINES) - 1


def test_each_lock_is_on_the_board(shed: Callable[..., Path], run: Run, tmp_path: Path) -> None:
    folder = shed({})
    (folder / "a.log").write_bytes(CR_ONLY)
    os.utime(folder / "a.log", (0, 0))  # long enough ago for its last line
    for index in ("none", str(tmp_path / "x.sqlite"), str(tmp_path / "x.sqlite")):
        told = json.loads(run("board", str(folder), *AT, "--index", index, "--json").out)
        assert told["counts"]["isolated"] == 6
        assert told["not_understood"] == 0
        found = run("find", "lock", "45", "--folder", str(folder), *AT, "--index", index).out
        assert found.startswith("a.log:7: ")
    checked = run("check", str(folder / "a.log"), "--folder", str(folder), *AT).out
    assert "7 lines, 6 entries understood; 0 lines refused" in checked
    (folder / "shed.toml").write_text("[shed]\nname = 1\n", encoding="utf-8")
    broken = run("board", str(folder), *AT)
    assert "(a.log line 7)" in broken.out + broken.err


def test_what_is_written_behind_it_stands_under_its_heading() -> None:
    behind = addition(CR_ONLY, NIGHT, "23:10 A07 isolated by KM")
    assert behind == b"\n23:10 A07 isolated by KM\n"
    lines = with_line_feeds(CR_ONLY + behind).splitlines()
    assert lines == [line.encode() for line in (*LINES, "23:10 A07 isolated by KM")]


def test_write_tells_the_line_that_it_is(shed: Callable[..., Path], run: Run) -> None:
    folder = shed({})
    now = datetime(2026, 11, 24, 23, 10, tzinfo=UTC)
    asked = ("write", "A07 note quiet", "--by", "KM", "--folder", str(folder), "--index", "none")
    first = run(*asked, now=now).out
    (log,) = folder.rglob("*.log")
    log.write_bytes(CR_ONLY)
    assert "line 8" in run(*asked, now=now).out
    assert "line 2" in first
