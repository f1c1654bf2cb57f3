"""Hostile text through every command: nothing is obeyed, nothing fails, the good lines come through.

What may be obeyed stands in ``obeyed``, with its sources. Most commands read a log without its
endless lines, which take long to read and are the same to all of them; some read those too.
"""

from __future__ import annotations

import json
import re
from html import unescape
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from tests.robust.hostile import GOOD_LOOMS, PAYLOADS, hostile_shed
from tests.robust.obeyed import unseen
from tests.robust.running import Ran, ran

AT = "2026-11-25T06:00"

SCREENS: list[list[str]] = [
    ["board", "--all", "--width", "200"],
    ["board", "--height", "24", "--width", "80"],
    ["check"],
    ["loom", "B01"],
    ["loom", "B08"],
    ["loom", "B17"],
    ["find"],
    ["find", "<script>alert(1)</script>"],
    ["wear"],
    ["wear", "--audit"],
    ["repeats"],
    ["figures"],
    ["spares"],
    ["lives"],
    ["lives", "tape", "--by", "batch"],
    ["handover"],
    ["round"],
    ["watch"],
]
DOCUMENTS: list[list[str]] = [
    ["board"],
    ["check"],
    ["loom", "B08"],
    ["find", "--around", "1"],
    ["wear"],
    ["repeats"],
    ["figures"],
    ["spares"],
    ["lives", "tape"],
    ["handover"],
    ["round"],
]


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("cache")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return hostile_shed(tmp_path_factory.mktemp("hostile") / "logs", each=5, longest=5_000)


@pytest.fixture(scope="module")
def endless(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same with lines of three megabytes and of twenty thousand clauses."""
    return hostile_shed(tmp_path_factory.mktemp("endless") / "logs", each=1)


def commanded(folder: Path, cache: Path, *arguments: str, **environ: str) -> Ran:
    at = () if arguments[0] == "watch" else ("--at", AT)  # that one shows now
    done = ran(*arguments, "--folder", str(folder), *at, cache=cache, environ=environ)
    assert done.code in (0, 1), done.err
    said = "no terminal to draw on" if arguments[0] == "watch" else ""
    assert (said in done.err) if said else done.err == ""
    return done


@pytest.mark.parametrize("command", SCREENS, ids=" ".join)
def test_no_control_reaches_a_screen(folder: Path, cache: Path, command: list[str]) -> None:
    out = commanded(folder, cache, *command).out
    # what is for paper begins each further sheet with a form feed, where no terminal takes it
    assert unseen(out, "\n\f" if command[0] in ("round", "handover") else "\n") == set()


@pytest.mark.parametrize("command", [["board", "--all"], ["loom", "B08"], ["wear"]], ids=" ".join)
def test_in_colour_there_are_colours_and_nothing_else(
    folder: Path, cache: Path, command: list[str]
) -> None:
    out = commanded(folder, cache, *command, FORCE_COLOR="1", TERM="xterm-256color").out
    assert "\x1b[" in out
    assert unseen(re.sub(r"\x1b\[[0-9;]*m", "", out)) == set()


@pytest.mark.parametrize("command", DOCUMENTS, ids=" ".join)
def test_json_is_one_document_of_plain_letters(
    folder: Path, cache: Path, command: list[str]
) -> None:
    """RFC 8259, sections 2, 6 and 7: one value, no NaN or Infinity, no control in a string."""
    out = commanded(folder, cache, *command, "--json").out
    assert out.isascii()
    assert unseen(out) == set()
    document = json.loads(out, parse_constant=pytest.fail)
    assert isinstance(document, dict)


class Page(HTMLParser):
    """The tags, attributes and texts of a page."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: set[str] = set()
        self.attributes: set[tuple[str, str | None]] = set()
        self.texts: list[str] = []
        self.others: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes |= set(attrs)

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    def handle_comment(self, data: str) -> None:
        self.others.append(data)

    def unknown_decl(self, data: str) -> None:
        self.others.append(data)


def test_a_page_holds_no_tag_of_a_log(folder: Path, cache: Path, tmp_path: Path) -> None:
    page = tmp_path / "sheet.html"
    commanded(folder, cache, "handover", "--html", str(page))
    text = page.read_text(encoding="utf-8")
    bare = hostile_free(tmp_path / "bare", cache)
    found, expected = Page(text), Page(bare)
    assert found.tags <= expected.tags
    assert {name for name, _ in found.attributes} <= {name for name, _ in expected.attributes}
    assert found.others == expected.others
    assert unseen(text) == set()
    assert unseen(unescape(text)) == set()  # nor by way of a character reference
    shown = "".join(found.texts)
    assert PAYLOADS["script"] in shown  # as text, to be read
    assert PAYLOADS["rich"] in shown


def hostile_free(folder: Path, cache: Path) -> str:
    """The same page of a quiet shed: the tags that the program itself writes."""
    from tests.example.shed import REGISTER

    folder.mkdir()
    (folder / "shed.toml").write_text(REGISTER)
    (folder / "a.log").write_text(
        "day 2026-11-24 early by KM\n"
        "06:00 A07 isolated by KM lock 1\n06:01 A08 fault x\n06:02 A08 open no 1 x\n"
        "06:03 A07 nonsense\n06:04 A09 stopped\n06:05 B01 replaced left tape\n"
    )
    return commanded(folder, cache, "handover", "--html", "-").out


def test_markup_is_shown_as_it_was_written(folder: Path, cache: Path) -> None:
    found = commanded(folder, cache, "find", "--most", "0", "--width", "300").out
    for name in ("rich", "rich close", "rich link", "emoji code", "script", "formula", "shell"):
        assert PAYLOADS[name] in found, name
    assert not (Path.cwd() / "owned").exists()


@pytest.mark.parametrize("which", ["folder", "endless"])
def test_the_good_lines_between_are_all_there(
    cache: Path, which: str, request: pytest.FixtureRequest
) -> None:
    folder: Path = request.getfixturevalue(which)
    document = json.loads(commanded(folder, cache, "board", "--json").out)
    looms: dict[str, Any] = {one["loom"]: one for one in document["looms"]}
    for minute, loom in enumerate(GOOD_LOOMS):
        locks = looms[loom]["isolation"]["locks"]
        assert [(lock["by"], lock["text"]) for lock in locks] == [(f"G{minute}", f"lock {minute}")]
        faults = [fault["text"] for fault in looms[loom]["faults"]]
        assert faults == [f"canary {loom.lower()} squeaks"]
    board = commanded(folder, cache, "board", "--all").out
    assert all(loom in board for loom in GOOD_LOOMS)


def test_every_line_that_was_not_understood_is_told_with_its_place(
    folder: Path, cache: Path
) -> None:
    document = json.loads(commanded(folder, cache, "check", "--json").out)
    complaints = document["complaints"]
    size = (folder / "2026" / "hostile.log").read_bytes().count(b"\n")
    assert {c["severity"] for c in complaints} == {"refused", "flagged"}
    for complaint in complaints:
        assert 1 <= complaint["line"] <= size
        assert 1 <= complaint["column"] <= complaint["end_column"]
        assert complaint["end_column"] <= len(complaint["text"]) + 2
        assert complaint["message"]


@pytest.mark.parametrize(
    "command", [["board", "--height", "24", "--width", "80"], ["check"], ["find"]], ids=" ".join
)
def test_endless_lines_do_not_run_over_the_screen(
    endless: Path, cache: Path, command: list[str]
) -> None:
    out = commanded(endless, cache, *command).out
    assert unseen(out) == set()
    assert max(map(len, out.split("\n"))) < 10_000  # a line of a log is 4,096 bytes at most
    assert "longer than 4,096 bytes" in commanded(endless, cache, "check").out


def test_the_tables_hold_the_text_as_it_was_written_but_for_controls(
    folder: Path, cache: Path, tmp_path: Path
) -> None:
    """A spreadsheet that opens them is told by the type of the column that it is text."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    commanded(folder, cache, "tables", str(tmp_path / "out"))
    tables = {file.stem: pq.read_table(file) for file in (tmp_path / "out").glob("*.parquet")}
    assert len(tables) == 6
    texts = set()
    for name, table in tables.items():
        assert table.schema.metadata[b"text"] == b"data, never a formula"
        for column in table.column_names:
            if pa.types.is_string(table.schema.field(column).type):
                held = {text for text in table.column(column).to_pylist() if text is not None}
                assert set().union(*map(unseen, held)) == set(), (name, column)
                texts |= held
    for payload in ("formula", "formula at", "formula plus", "formula minus"):
        written = [text for text in texts if PAYLOADS[payload] in text]
        assert written, payload
    assert all(pa.types.is_string(tables["entries"].schema.field(c).type) for c in ("text", "by"))


def test_no_line_that_is_printed_for_other_programs_begins_as_a_formula(
    folder: Path, cache: Path
) -> None:
    """What begins with = + - @ or a tab is reckoned by a spreadsheet that is given it as text."""
    for command in (
        ["find", "--most", "0"],
        ["check"],
        ["board", "--all"],
        ["handover"],
        ["round"],
    ):
        lines = commanded(folder, cache, *command).out.split("\n")
        for line in lines:
            cells = line.split("\t")
            assert len(cells) == 1, line
            assert not re.match(r"[=@+-](?![-+=])[A-Z0-9(]", line), line


ODD_ARGUMENTS = [
    ["loom", "\x1b[2J"],
    ["loom", "\udcff"],  # a byte that is no UTF-8, as the system hands it over
    ["loom", "[/]"],
    ["find", "\udcff\x1b]0;x\x07"],
    ["find", "--loom", "\u202eA01"],
    ["find", "--by", "<b>[red]"],
    ["find", "(" * 500],
    ["board", "--section", "\x1b[2J\udcff"],
    ["board", "--since", "\x1b[2J\udcff"],
    ["wear", "--part", "\x9b31m\udcff"],
    ["lives", "\x9b31m\udcff"],
    ["repeats", "--part", "\x9b31m\udcff"],
    ["spares", "--part", "\x9b31m\udcff"],
    ["round", "--shift", "\x9b31m\udcff"],
    ["check", "\x1b[2J\udcff.log"],
    ["handover", "--html", "/nowhere/\x1b[2J\udcff.html"],
    ["tables", "/proc/\x1b[2J\udcff"],
    ["board", "--width", "\x1b[2J\udcff"],
    ["\x1b[2J\udcff"],
    ["board", "--\x1b[2J\udcff"],
]


@pytest.mark.parametrize("command", ODD_ARGUMENTS, ids=[ascii(" ".join(a)) for a in ODD_ARGUMENTS])
def test_odd_arguments_are_answered_in_a_sentence(
    folder: Path, cache: Path, command: list[str]
) -> None:
    done = ran(*command, "--folder", str(folder), "--at", AT, cache=cache)
    assert done.code in (0, 1, 2)
    assert done.code != 2 or done.err.startswith("loomslate: ")
    assert unseen(done.out + done.err) == set()


@pytest.mark.parametrize("at", ["0001-01-01T00:00", "9999-12-31T23:59", "1900-02-28", "9999-12-31"])
def test_any_moment_of_the_calendar(folder: Path, cache: Path, at: str) -> None:
    for command in (["board", "--json"], ["handover"], ["round"]):
        done = ran(*command, "--folder", str(folder), "--at", at, cache=cache)
        assert done.code in (0, 2), (command, done.err)
        assert done.code == 0 or done.err.startswith("loomslate: ")
