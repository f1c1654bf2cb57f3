"""An archive is built, brought up to date and put right: only what changed is written anew."""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pyarrow as pa
import pyarrow.dataset as ds
import pyarrow.parquet as pq
import pytest

from board.archive.catalogue import read_catalogue
from board.archive.columns import ALL_COLUMNS
from board.record.turns import turn
from board.table_columns import COLUMNS
from tests.archive.conftest import Answer, built, command
from tests.archive.mills import AT, NORTH, SOUTH, write_all
from tests.conftest import NOW, ROOT

HERE = ("--workers", "1")
PARTS = ds.partitioning(pa.schema([("mill", pa.string()), ("year", pa.int32())]), flavor="hive")


@pytest.fixture
def two(tmp_path: Path) -> dict[str, Path]:
    return write_all(tmp_path / "mills", ("north", "south"))


def stamps(out: Path) -> dict[str, tuple[int, int]]:
    """Which file stands at each place, and when it was written."""
    found = {}
    for file in (out / "tables").rglob("*.parquet"):
        stat = file.stat()
        found[str(file.relative_to(out / "tables"))] = (stat.st_ino, stat.st_mtime_ns)
    return found


def again(kept: Path, out: Path, *more: str) -> tuple[dict[str, object], str]:
    done = command(kept, "archive", str(out), *HERE, "--at", AT, "--json", *more)
    assert done.code in (0, 1), done.err
    return json.loads(done.out), done.err


def change(file: Path, text: str) -> None:
    with file.open("a", encoding="utf-8") as log:
        log.write(text)


# -- what stands in it ---------------------------------------------------------------------


@pytest.mark.parametrize("table", COLUMNS)
def test_the_dataset_holds_the_rows_of_the_tables_of_each_mill(
    group: Path, mills: dict[str, Path], kept: Path, tmp_path: Path, table: str
) -> None:
    found = ds.dataset(group / "tables" / table, partitioning=PARTS).to_table().to_pylist()
    for name, folder in mills.items():
        out = tmp_path / name
        assert command(kept, "tables", str(out), "--folder", str(folder), "--at", AT).code == 0
        alone = pq.read_table(out / f"{table}.parquet").to_pylist()
        own = [row for row in found if row["mill"] == name]
        less = [{k: v for k, v in row.items() if k not in ("mill", "year")} for row in own]
        assert sorted(map(repr, less)) == sorted(map(repr, alone))


def test_a_dataset_is_read_without_being_told_how(group: Path) -> None:
    found = ds.dataset(group / "tables" / "lives", partitioning="hive").to_table()
    assert set(found["mill"].to_pylist()) == {"north", "south", "east"}
    assert set(found["year"].to_pylist()) == {2024, 2025, 2026}


def test_rows_stand_in_the_year_of_their_time(group: Path) -> None:
    entries = ds.dataset(group / "tables" / "entries", partitioning=PARTS).to_table().to_pylist()
    for row in entries:
        assert row["when"] is None or row["when"].year == row["year"]
    undated = [row for row in entries if row["year"] == 0]
    assert [(row["mill"], row["text"]) for row in undated] == [("north", "A05 band without a day")]


def test_every_column_tells_what_it_holds(group: Path) -> None:
    for table, columns in ALL_COLUMNS.items():
        files = list((group / "tables" / table).rglob("*.parquet"))
        assert files
        for file in files:
            schema = pq.read_schema(file)
            assert schema.names == [c.name for c in columns]
            assert json.loads(schema.metadata[b"columns"]) == {c.name: c.holds for c in columns}


def test_the_catalogue_counts_what_stands_in_each_partition(group: Path) -> None:
    for mill in read_catalogue(group).mills:
        for partition in mill.partitions:
            file = partition.file(group, mill.name)
            assert pq.read_metadata(file).num_rows == partition.rows > 0
            assert file.stat().st_size == partition.bytes
        assert sum(p.rows for p in mill.of("entries")) >= mill.entries
    assert read_catalogue(group).mills[1].of("entries")[0].last is None  # of year 0


def test_the_document_and_the_screen_tell_every_mill(
    kept: Path, two: dict[str, Path], tmp_path: Path
) -> None:
    out = built(kept, tmp_path / "group", two)
    document, _ = again(kept, out)
    assert [mill["mill"] for mill in document["mills"]] == ["north", "south"]  # type: ignore[attr-defined]
    assert document["missing"] == []
    shown = command(kept, "archive", str(out), *HERE, "--at", AT, "--width", "80").out
    assert shown.startswith("ARCHIVE 2 mills ")
    assert "0 partitions written, the others stand as they were" in shown
    assert max(map(len, shown.splitlines())) <= 80


# -- what is written anew ------------------------------------------------------------------


def test_a_second_run_writes_nothing_anew(kept: Path, two: dict[str, Path], tmp_path: Path) -> None:
    out = built(kept, tmp_path / "group", two)
    before, catalogue = stamps(out), read_catalogue(out)
    document, told = again(kept, out)
    assert (document["written"], told) == (0, "")
    assert stamps(out) == before
    assert read_catalogue(out) == catalogue


def test_a_changed_log_writes_its_own_year_anew(
    kept: Path, two: dict[str, Path], tmp_path: Path
) -> None:
    out = built(kept, tmp_path / "group", two)
    before = stamps(out)
    change(two["south"] / "2025/05/2025-05-10-early-KM.log", "13:00 A05 note looked at again\n")
    document, _ = again(kept, out)
    after = stamps(out)
    changed = {name for name in after if after[name] != before.get(name)}
    assert changed == {"entries/mill=south/year=2025/part.parquet"}
    assert document["written"] == 1


def test_a_part_replaced_in_one_year_writes_what_lives_in_it(
    kept: Path, two: dict[str, Path], tmp_path: Path
) -> None:
    """The life that ends there, and the one behind it, which begins later than it did."""
    out = built(kept, tmp_path / "group", two)
    before = stamps(out)
    change(two["north"] / "2025/11/2025-11-10-early-KM.log", "13:00 A02 replaced right tape worn\n")
    again(kept, out)
    after = stamps(out)
    changed = {name for name in after if after[name] != before.get(name)}
    assert changed == {
        "entries/mill=north/year=2025/part.parquet",
        "lives/mill=north/year=2025/part.parquet",
        "lives/mill=north/year=2026/part.parquet",
    }


def test_a_strike_after_new_year_is_of_the_year_that_it_names(
    kept: Path, two: dict[str, Path], tmp_path: Path, asked: Answer
) -> None:
    out = built(kept, tmp_path / "group", two)
    strike = two["north"] / "2026/2026-01-01-early-RB.log"
    strike.write_text(strike.read_text().replace("A05 struck", "A05 note not struck"))
    again(kept, out)
    rows = ds.dataset(out / "tables" / "entries", partitioning=PARTS).to_table().to_pylist()
    (old,) = [row for row in rows if row["text"] == "21:50 A05 note old year band"]
    assert (old["year"], old["standing"]) == (2025, "counts")
    whole = built(kept, tmp_path / "whole", two)
    assert _contents(out) == _contents(whole)


def test_a_log_that_is_gone_and_a_year_with_it(
    kept: Path, two: dict[str, Path], tmp_path: Path
) -> None:
    out = built(kept, tmp_path / "group", two)
    for file in (two["south"] / "2024").rglob("*.log"):
        file.unlink()
    again(kept, out)
    assert "entries/mill=south/year=2024/part.parquet" not in stamps(out)
    assert _contents(out) == _contents(built(kept, tmp_path / "whole", two))


def test_a_changed_register_reads_its_mill_anew(
    kept: Path, two: dict[str, Path], tmp_path: Path, asked: Answer
) -> None:
    out = built(kept, tmp_path / "group", two)
    (two["south"] / "shed.toml").write_text(SOUTH.replace('"belt"', '"strap"'))
    again(kept, out)
    found = asked("find", "--part", "strap", "--archive", str(out), *HERE)
    assert {hit["mill"] for hit in found["hits"]} == {"south"}
    assert _contents(out) == _contents(built(kept, tmp_path / "whole", two))


def test_what_was_written_for_later_counts_once_it_has_come(
    kept: Path, two: dict[str, Path], tmp_path: Path
) -> None:
    change(two["south"] / "2026/hook.log", "day 2026-12-31 late by UB\n15:00 C02 note later\n")
    out = built(kept, tmp_path / "group", two)
    done = command(
        kept, "archive", str(out), *HERE, now=NOW + timedelta(days=60)
    )  # in the year after
    assert done.code == 0
    rows = ds.dataset(out / "tables" / "entries", partitioning=PARTS).to_table().to_pylist()
    (late,) = [row for row in rows if row["text"] == "15:00 C02 note later"]
    assert late["standing"] == "counts"


def _contents(out: Path) -> dict[str, str]:
    found = {}
    for mill in read_catalogue(out).mills:
        for p in mill.partitions:
            found[str(p.file(out, mill.name).relative_to(out))] = p.digest
    return found


def _same_as_new(kept: Path, out: Path, mills: dict[str, Path], tmp_path: Path) -> None:
    """An archive is what it would be if it were built now, with nothing left over."""
    whole = built(kept, tmp_path / "as-new", mills)
    assert _contents(out) == _contents(whole)
    assert {*stamps(out)} == {*stamps(whole)}
    for name in stamps(out):
        assert (out / "tables" / name).read_bytes() == (whole / "tables" / name).read_bytes()


# -- builds that are killed ----------------------------------------------------------------

KILLED = """
import os, signal, sys
from board import cli
from board.archive import building, partitions
from board.commands import archive
from board.shell import own_shell

where, count = sys.argv[1], int(sys.argv[2])
calls = 0

def dying(real):
    def instead(*arguments):
        global calls
        calls += 1
        if calls > count:
            os.kill(os.getpid(), signal.SIGKILL)
        return real(*arguments)
    return instead

if where == "put":
    building.put = dying(building.put)
elif where == "catalogue":
    from board.archive import catalogue
    catalogue.write_catalogue = dying(catalogue.write_catalogue)
elif where == "publish":
    partitions.publish = dying(partitions.publish)
elif where == "replace":
    import pathlib
    pathlib.Path.replace = dying(pathlib.Path.replace)
cli.run(sys.argv[3:], own_shell())
"""


@pytest.mark.parametrize(
    ("where", "count"),
    [("put", 5), ("catalogue", 1), ("publish", 2), ("replace", 12)],
)
def test_a_build_that_is_killed_leaves_the_old_or_the_new_and_goes_on(
    kept: Path, two: dict[str, Path], tmp_path: Path, asked: Answer, where: str, count: int
) -> None:
    out = built(kept, tmp_path / "group", two)
    old = asked("lives", "--archive", str(out), *HERE)
    for name in ("north", "south"):
        log = two[name] / "2025/11/2025-11-10-early-KM.log"
        change(log, "13:00 A02 replaced right tape worn\n")
    words = ("archive", str(out), *HERE, "--at", AT)
    environ = os.environ | {"XDG_CACHE_HOME": str(kept), "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-c", KILLED, where, str(count), *words],
        env=environ, capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode == -9, done.stderr
    # what was killed in the middle is asked all the same: each mill as it was, or as it is
    between = asked("lives", "--archive", str(out), *HERE)
    again(kept, out)
    new = asked("lives", "--archive", str(out), *HERE)
    lives = [sum(x["on_record"] for x in each["lives"]) for each in (old, between, new)]
    assert lives[1] in (lives[0], lives[0] + 1, lives[2])
    assert lives[2] == lives[0] + 2  # in each mill one that ended earlier than another
    _same_as_new(kept, out, two, tmp_path)


# -- faults --------------------------------------------------------------------------------


def test_two_builds_at_once_are_refused_in_a_sentence(
    kept: Path, two: dict[str, Path], tmp_path: Path
) -> None:
    out = built(kept, tmp_path / "group", two)
    with turn(out):
        done = command(kept, "archive", str(out), *HERE)
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith(f"loomslate: the archive {out} was left as it is: others have been")
    assert done.err.count("\n") == 1


def test_a_mill_whose_folder_is_away_is_told_and_stays_as_it_was(
    kept: Path, two: dict[str, Path], tmp_path: Path, asked: Answer
) -> None:
    out = built(kept, tmp_path / "group", two)
    before = asked("find", "tape", "--archive", str(out), *HERE)
    two["south"].rename(tmp_path / "away")
    document, told = again(kept, out)
    assert [each["mill"] for each in document["missing"]] == ["south"]  # type: ignore[attr-defined]
    assert told == (
        f"loomslate: south was not brought up to date: there is no folder {two['south']}\n"
    )
    assert asked("find", "tape", "--archive", str(out), *HERE) == before
    two["north"].rename(tmp_path / "away too")
    assert command(kept, "archive", str(out), *HERE).code == 2


def test_a_register_that_is_wrong_is_told_by_its_mill(
    kept: Path, two: dict[str, Path], tmp_path: Path
) -> None:
    (two["north"] / "shed.toml").write_text(NORTH.replace("zone", "zoen"))
    named = [w for name, folder in two.items() for w in ("--mill", f"{name}={folder}")]
    done = command(kept, "archive", str(tmp_path / "group"), *named, *HERE, "--at", AT)
    assert done.code == 1
    assert "north was not brought up to date: " in done.err
    assert [mill.name for mill in read_catalogue(tmp_path / "group").mills] == ["south"]


@pytest.mark.parametrize("damage", ["cut", "digit", "list", "version", "empty", "no text"])
def test_a_damaged_catalogue_is_told_and_made_anew(
    kept: Path, two: dict[str, Path], tmp_path: Path, damage: str
) -> None:
    out = built(kept, tmp_path / "group", {"north": two["north"]})
    file = out / "catalogue.json"
    good = file.read_text()
    file.write_bytes(
        {
            "cut": good[: len(good) // 2].encode(),
            "digit": good.replace('"rows": ', '"rows": 1', 1).encode(),
            "list": b"[]",
            "version": good.replace('"version": 1', '"version": 99').encode(),
            "empty": b"",
            "no text": b"\xff\xfe\x00",
        }[damage]
    )
    asked = command(kept, "find", "tape", "--archive", str(out), *HERE)
    assert (asked.code, asked.out, asked.err.count("\n")) == (2, "", 1)
    assert "catalogue" in asked.err
    bare = command(kept, "archive", str(out), *HERE)
    assert (bare.code, bare.err.count("\n")) == (2, 1)
    named = ("--mill", f"north={two['north']}", "--at", AT)
    done = command(kept, "archive", str(out), *HERE, *named)
    assert done.code == 0
    assert done.err.count("\n") == 1
    assert "made anew from the mills that are named" in done.err
    assert file.read_text() == good


def test_a_damaged_partition_is_told_and_put_right(
    kept: Path, two: dict[str, Path], tmp_path: Path
) -> None:
    out = built(kept, tmp_path / "group", two)
    file = out / "tables/lives/mill=south/year=2025/part.parquet"
    data = file.read_bytes()
    for broken in (data[:100], data[:200] + b"\x00\x01" + data[202:], b""):
        file.write_bytes(broken)
        done = command(kept, "lives", "--archive", str(out), *HERE, "--json")
        assert done.code == 0
        assert json.loads(done.out)["missing"] == [
            {"mill": "south", "reason": "the table lives of 2025 is not what was written; bring"
             " the archive up to date"}
        ]  # fmt: skip
        assert done.err.startswith("loomslate: south is missing from the answer: the table lives")
        again(kept, out)
        assert file.read_bytes() == data


def test_a_damaged_index_is_told_and_made_anew(
    kept: Path, two: dict[str, Path], tmp_path: Path, asked: Answer
) -> None:
    out = built(kept, tmp_path / "group", two)
    before = asked("find", "tape", "--archive", str(out), *HERE)
    file = out / "north" / "index.sqlite"
    file.write_bytes(b"no index" * 1000)
    done = command(kept, "find", "tape", "--archive", str(out), *HERE, "--json")
    assert [each["mill"] for each in json.loads(done.out)["missing"]] == ["north"]
    assert "north is missing from the answer: its index is damaged" in done.err
    file.unlink()
    done = command(kept, "find", "tape", "--archive", str(out), *HERE)
    assert "north is missing from the answer: its index is not there" in done.err
    again(kept, out)
    assert asked("find", "tape", "--archive", str(out), *HERE) == before


def test_an_index_of_another_version_is_left_as_it_is(
    kept: Path, two: dict[str, Path], tmp_path: Path
) -> None:
    out = built(kept, tmp_path / "group", {"north": two["north"]})
    file = out / "north" / "index.sqlite"
    with closing(sqlite3.connect(file)) as connection, connection:
        connection.execute("UPDATE meta SET value = 'other' WHERE key = 'fingerprint'")
    connection.close()
    done = command(kept, "find", "tape", "--archive", str(out), *HERE)
    assert done.code == 2
    assert "made by another version of loomslate" in done.err
    connection = sqlite3.connect(file)
    assert connection.execute("SELECT count(*) FROM file").fetchone()[0] > 30
    connection.close()


@pytest.mark.parametrize(
    "name",
    ["", ".", "..", "a/b", "../up", "a b", "tables", "TABLES", "-x", "_x", "a" * 41, "wéb", "con",
     "a\x1b[31m", "x;rm", "a.b", "LPT1"],
)  # fmt: skip
def test_a_name_that_is_no_folder_name_is_refused(
    kept: Path, two: dict[str, Path], tmp_path: Path, name: str
) -> None:
    out = tmp_path / "group"
    done = command(kept, "archive", str(out), f"--mill={name}={two['north']}", *HERE)
    assert (done.code, done.out, done.err.count("\n")) == (2, "", 1)
    assert "a mill cannot be called" in done.err
    assert "\x1b" not in done.err
    assert not (out / "catalogue.json").exists()
    assert [p.name for p in tmp_path.iterdir() if p.name not in ("mills", "group")] == []


def test_mills_are_told_apart_by_more_than_case(
    kept: Path, two: dict[str, Path], tmp_path: Path
) -> None:
    words = ("--mill", f"north={two['north']}", "--mill", f"North={two['south']}")
    done = command(kept, "archive", str(tmp_path / "group"), *words, *HERE)
    assert (done.code, done.err) == (2, "loomslate: two mills cannot be called north and North\n")
    done = command(kept, "archive", str(tmp_path / "group"), "--mill", "north", *HERE)
    assert (done.code, done.err) == (2, "loomslate: --mill takes NAME=FOLDER, not north\n")


def test_an_archive_that_cannot_be_written_is_one_sentence(
    kept: Path, two: dict[str, Path], tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("here already")
    words = ("--mill", f"north={two['north']}", *HERE)
    done = command(kept, "archive", str(tmp_path / "file"), *words)
    assert (done.code, done.out, done.err.count("\n")) == (2, "", 1)
    assert "cannot write the archive" in done.err


def test_there_is_no_archive(kept: Path, tmp_path: Path) -> None:
    done = command(kept, "archive", str(tmp_path / "none"), *HERE)
    assert (done.code, done.err.count("\n")) == (2, 1)
    done = command(kept, "find", "x", "--archive", str(tmp_path / "none"), *HERE)
    assert (done.code, done.err.count("\n")) == (2, 1)
    assert "there is no archive in" in done.err
