"""The reference of the JSON documents tells every key that the commands print, and no other."""

from __future__ import annotations

import json
import re
from collections import defaultdict
from collections.abc import Callable, Iterator
from datetime import date, datetime
from math import copysign
from pathlib import Path
from typing import Any

import pytest

from board import cli
from board.show.json_keys import Key, Kind
from board.show.json_reference import BEGIN, DOCUMENTS, END, RECORDS, page
from tests.archive.mills import write_all
from tests.conftest import EXAMPLE, ROOT, SMALL_REGISTER, Run

AT = ("--at", "2026-11-25T06:00")
ON_EXAMPLE = ("--folder", str(EXAMPLE), *AT, "--json")


def _is_time(value: object) -> bool:
    return isinstance(value, str) and datetime.fromisoformat(value).tzinfo is not None


def _is_date(value: object) -> bool:
    return isinstance(value, str) and str(date.fromisoformat(value)) == value


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value >= 0


def _is_share(value: Any) -> bool:
    return _is_number(value) and 0 <= value <= 1 and copysign(1.0, value) > 0  # no -0.0


def _by_name(of: Callable[[object], bool]) -> Callable[[object], bool]:
    return lambda value: isinstance(value, dict) and all(map(of, value.values()))


IS: dict[Kind, Callable[[object], bool]] = {
    Kind.TEXT: lambda value: isinstance(value, str),
    Kind.COUNT: _is_count,
    Kind.NUMBER: _is_number,
    Kind.SHARE: _is_share,
    Kind.TRUTH: lambda value: isinstance(value, bool),
    Kind.TIME: _is_time,
    Kind.DATE: _is_date,
    Kind.COUNTS: _by_name(_is_count),
    Kind.NUMBERS: _by_name(_is_number),
    Kind.WORDS: _by_name(lambda words: all(isinstance(word, str) for word in words)),  # type: ignore[attr-defined]
}


class Seen:
    """What was met in documents: keys by the name of their object, and every fault found."""

    def __init__(self) -> None:
        self.keys: dict[str, set[str]] = defaultdict(set)
        self.faults: dict[str, str] = {}

    def look(self, value: dict[str, Any], name: str, keys: tuple[Key, ...]) -> None:
        """Compare an object with the keys that are told of it, and so all that it holds."""
        told = {key.name: key for key in keys}
        for missing in told.keys() - value.keys():
            if not told[missing].when:
                self.faults[f"{name}.{missing}"] = "is told and not there"
        for found, inner in value.items():
            if found not in told:
                self.faults[f"{name}.{found}"] = f"is there and not told: {inner!r:.60}"
                continue
            self.keys[name].add(found)
            self._value(inner, f"{name}.{found}", told[found])

    def _value(self, value: Any, where: str, key: Key) -> None:
        if value is None:
            if not key.null:
                self.faults[where] = "is null"
            return
        values = value if key.listed else [value]
        if not isinstance(values, list):
            self.faults[where] = "is no list"
            return
        for one in values:
            if key.kind is Kind.RECORD and isinstance(one, dict):
                self.look(one, key.record, RECORDS[key.record].keys)
            elif key.kind is Kind.RECORD or not IS[key.kind](one):
                self.faults[where] = f"is no {key.kind.value}: {one!r:.60}"


# -- documents to look at --------------------------------------------------------------------------

NIGHT = "day 2026-11-24 night by KM\n"
BUSY = (
    "day 2026-11-24 late by RB\n"
    "14:05 shed taken over by RB\n"
    "15:00 A03 isolated by KM lock 3\n"
    "15:10 A03 running\n"
    "16:00 A04 isolated by KM lock 4\n"
    "16:20 A04 lock removed by RB for KM\n"
    "16:30 A06 replaced left tape worn; torque clamp screws 0.20 N.m; thread-locked\n"
    "16:40 A05 fault left tape frays\n"
    "16:45 A05 running\n"
    "17:00 B02 isolated by TN lock 9\n"
    "17:10 A08 stopped for laid-up\n"
    "17:20 A09 note noisy\n"
    "17:30 shed open no 4 sweep the floor; due late\n"
    "21:55 shed handed over RB to KM\n"
) + NIGHT + (
    "22:02 shed taken over by TN\n"
    "22:20 A07 left tape 2.30 mm\n"
    "22:30 A01 left tpae 2.3 mm\n"
    "22:31 A02 isolatd by RB\n"
    "22:40 A01 struck 22:20 wrong\n"
    "23:00 A07 right tape 2.9 mm; note a\n"
    "23:05 shed taken over by TN; sealed 1 000000\n"
    "23:10 A10 isolated by TN lock 1"
)  # fmt: skip

# One loom of twelve that has most of the faults, each on its own day.
ONE_BAD = "".join(
    f"day 2026-{month:02}-{day:02} early by KM\n"
    + ("".join(f"06:10 A{loom:02} running\n" for loom in range(1, 13)) if first else "")
    + "07:00 A01 fault left tape frays\n08:00 A01 fault cleared\n"
    for first, (month, day) in zip(
        [True, *[False] * 50], [(m, d) for m in (10, 11) for d in range(1, 25)], strict=False
    )
)

REGISTER = (
    SMALL_REGISTER
    + """
[part.hook]
[part.hook.gap]
unit = "mm"
check_every = "90 h"
[spares]
tape = { stock = 2, lead_time = "5 days" }
"""
)


def documents(run: Run, shed: Callable[..., Path], out: Path) -> Iterator[tuple[str, Any]]:
    """What each way of asking prints, on the example and on small sheds where lists differ."""
    asked = {
        "board --json": ("board",),
        "check --json": ("check",),
        "loom A07 --json": ("loom", "A07"),
        "find --json": ("find", "tape", "--around", "1"),
        "repeats --json": ("repeats",),
        "wear --json": ("wear",),
        "wear --audit --json": ("wear", "--audit"),
        "lives --json": ("lives", "--by", "batch", "--by", "side"),
        "spares --json": ("spares",),
        "figures --json": ("figures",),
        "round --json": ("round",),
        "handover --json": ("handover",),
    }
    for name, words in asked.items():
        yield name, _printed(run, *words, *ON_EXAMPLE)
    yield from small_documents(run, shed, out, asked)


def small_documents(
    run: Run, shed: Callable[..., Path], out: Path, asked: dict[str, tuple[str, ...]]
) -> Iterator[tuple[str, Any]]:
    """The same on small sheds, and what writes."""
    rest = (*AT, "--index", "none", "--json")
    empty = ("--folder", str(shed({})), *rest)
    for name, words in asked.items():
        if name != "figures --json":  # which needs an entry
            yield name, _printed(run, *words, *empty)
    yield (
        "repeats --json",
        _printed(run, "repeats", "--folder", str(shed({"a.log": ONE_BAD})), *rest),
    )
    busy = ("--folder", str(shed({"a.log": BUSY}, REGISTER)), *rest)
    for name, words in asked.items():
        yield name, _printed(run, *words, *busy)
    for words in (("tpae", "--around", "2"), ("noizy",)):
        yield "find --json", _printed(run, "find", *words, *busy)
    yield "board --json", _printed(run, "board", *busy, "--section", "A")
    yield "tables OUT --json", _printed(run, "tables", str(out), *busy)
    good = ("write", "A07 left tape 2.80 mm", "--by", "KM", *busy)
    yield "write 'ENTRY' --json", _printed(run, *good)
    yield "write 'ENTRY' --json", _printed(run, "write", "A07 tpae", *busy)
    yield "write 'ENTRY' --json", _printed(run, "write", "day 2026-11-24 late", *busy)
    lines = "A07 running\nA07 rnning\n"
    yield "write --json, from a pipe", _printed(run, "write", "--by", "KM", *busy, stdin=lines)
    yield from archive_documents(run, out.parent)


def archive_documents(run: Run, top: Path) -> Iterator[tuple[str, Any]]:
    """What an archive of small mills prints, with one of them away."""
    mills = write_all(top / "mills", ("north", "south"))
    named = [f"--mill={name}={folder}" for name, folder in mills.items()]
    nowhere = f"--mill=nowhere={top / 'nowhere'}"
    out, rest = str(top / "group"), ("--workers", "1", "--json")
    yield "archive OUT --json", _printed(run, "archive", out, *named, nowhere, *AT, *rest)
    asked = {
        "find --archive OUT --json": ("find", "tape", "--around", "1"),
        "repeats --archive OUT --json": ("repeats", "--window", "60 days"),
        "wear --audit --archive OUT --json": ("wear", "--audit"),
        "lives --archive OUT --json": ("lives", "--by", "batch", "--by", "mill"),
    }
    for name, words in asked.items():
        yield name, _printed(run, *words, "--archive", out, *rest)
    yield "find --archive OUT --json", _printed(run, "find", "noizy", "--archive", out, *rest)
    hook = ("find", "--part", "hook", "--archive", out, *rest)
    yield "find --archive OUT --json", _printed(run, *hook)
    Path(out, "south", "shed.toml").unlink()
    yield "find --archive OUT --json", _printed(run, *asked["find --archive OUT --json"],
                                                "--archive", out, *rest)  # fmt: skip


def _printed(run: Run, *arguments: str, stdin: str | None = None) -> Any:
    done = run(*arguments, stdin=stdin)
    assert done.code in (0, 1), done.err
    return json.loads(done.out)


@pytest.mark.slow
def test_every_key_that_is_printed_is_told_and_every_told_key_is_printed(
    run: Run, shed: Callable[..., Path], tmp_path: Path
) -> None:
    seen = Seen()
    of = {document.asked: document for document in DOCUMENTS}
    for asked, value in documents(run, shed, tmp_path / "out"):
        seen.look(value, asked, of[asked].keys)
    assert seen.faults == {}
    for name, keys in [(d.asked, d.keys) for d in DOCUMENTS] + [
        (record.name, record.keys) for record in RECORDS.values()
    ]:
        assert {key.name for key in keys} - seen.keys[name] == set(), name


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"files": -1}, "is no whole number"),
        ({"files": None}, "is null"),
        ({"complaints": {}}, "is no list"),
        ({"not_read": [1]}, "is no text"),
        ({"new": 1}, "is there and not told"),
        ({"complaints": [{}]}, "is told and not there"),
    ],
)
def test_a_document_that_is_told_wrongly_is_noticed(change: dict[str, Any], fault: str) -> None:
    (check,) = (d for d in DOCUMENTS if d.command == "check")
    fine = {
        "files": 1,
        "lines": 2,
        "entries": 0,
        "partly_refused": 0,
        "complaints": [],
        "not_read": [],
    }
    seen = Seen()
    seen.look(fine, check.asked, check.keys)
    assert seen.faults == {}
    seen.look(fine | change, check.asked, check.keys)
    assert seen.faults
    assert all(told.startswith(fault) for told in seen.faults.values())


def test_every_command_that_prints_json_is_told() -> None:
    printing = {n for n in cli.COMMANDS if "--json" in _help(n)}
    assert {document.command for document in DOCUMENTS} == printing


def _help(name: str) -> str:
    top = cli.parser(name)
    actions = [a for a in top._actions if hasattr(a, "choices") and isinstance(a.choices, dict)]
    return str(actions[0].choices[name].format_help())


@pytest.mark.parametrize("record", RECORDS.values(), ids=lambda record: record.name)
def test_records_are_named_once_and_lead_to_others(record: Any) -> None:
    names = [key.name for key in record.keys]
    assert len(names) == len(set(names))
    assert {key.record for key in record.keys if key.record} <= set(RECORDS)
    for key in record.keys:
        assert key.told
        assert not key.told.endswith(".")


def test_the_page_on_the_disk_is_what_the_module_makes() -> None:
    text = (ROOT / "board" / "JSON.md").read_text(encoding="utf-8")
    assert text == page()
    assert text.index(BEGIN) < text.index(END)
    assert "safe" not in text.casefold()
    assert "`board/JSON.md`" in (ROOT / "README.md").read_text(encoding="utf-8")


def test_every_link_of_the_page_leads_to_a_heading() -> None:
    text = page()
    headings = {h.replace(" ", "-") for h in re.findall(r"^### (.*)$", text, re.MULTILINE)}
    links = set(re.findall(r"\]\(#(.*?)\)", text))
    assert links
    assert links == headings == {name.replace(" ", "-") for name in RECORDS}
