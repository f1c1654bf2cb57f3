"""Tables for other tools: read back with pandas they say what the logs and the state say."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq
import pytest

from board.commands.tables import save_all
from board.shell import CannotRun
from board.table_columns import COLUMNS
from tests.conftest import EXAMPLE, Run

AT = ("--at", "2026-11-25T06:00")
LOG = """day 2026-11-23 late by KM
15:00 A01 running; style 4410
15:10 A02 fault left tape frays
16:00 A01 left tape 2,80 mm
16:30 A01 replaced left tape worn; torque 0.80 N.m; thread-locked; checked joint ok; batch 7F
17:00 A01 open no 31 recheck left tape; due 18:00; for RB
18:30 A01 left tape 3.05 mm; done no 31 smooth
19:00 A02 note =cmd|'/c calc'!A1 \x1b[31m
19:10 A02 right tape 2.90 mm
19:15 A02 struck 19:10 wrong side
20:00 A03 left tpae 2.7 mm
"""


@pytest.fixture
def out(tmp_path: Path) -> Path:
    return tmp_path / "a folder" / "out"


@pytest.fixture
def written(shed: Callable[..., Path], run: Run, out: Path) -> dict[str, pd.DataFrame]:
    folder = shed({"a.log": LOG})
    outcome = run("tables", str(out), "--folder", str(folder), *AT)
    assert outcome.code == 0, outcome.err
    return {name: pd.read_parquet(out / f"{name}.parquet") for name in COLUMNS}


def test_every_table_has_its_columns_and_they_tell_what_they_hold(
    written: dict[str, pd.DataFrame], out: Path
) -> None:
    for name, table in written.items():
        assert list(table.columns) == [c.name for c in COLUMNS[name]]
        schema = pq.read_schema(out / f"{name}.parquet")
        told = json.loads(schema.metadata[b"columns"])
        assert told == {c.name: c.holds for c in COLUMNS[name]}
        for column in COLUMNS[name]:
            assert schema.field(column.name).metadata[b"holds"].decode() == column.holds


def test_times_are_utc(written: dict[str, pd.DataFrame]) -> None:
    for name, table in written.items():
        for column in COLUMNS[name]:
            if column.kind == "time":
                assert str(table[column.name].dtype) == "datetime64[us, UTC]"
    first = written["entries"].iloc[0]
    assert first["when"] == pd.Timestamp("2026-11-23T15:00", tz="UTC")


def test_summer_time_is_taken_off(shed: Callable[..., Path], run: Run, out: Path) -> None:
    folder = shed({"a.log": "day 2026-07-01 late by KM\n15:00 A01 running\n"})
    run("tables", str(out), "--folder", str(folder), *AT)
    entries = pd.read_parquet(out / "entries.parquet")
    assert entries["when"][0] == pd.Timestamp("2026-07-01T14:00", tz="UTC")


def test_entries_hold_every_line_with_its_standing(written: dict[str, pd.DataFrame]) -> None:
    entries = written["entries"]
    assert list(entries["line"]) == [2, 3, 4, 5, 6, 7, 8, 9, 10, 11]
    by_line = entries.set_index("line")
    assert by_line.loc[9, "standing"] == "struck"
    assert by_line.loc[9, "struck_by"] == "a.log:10"
    assert by_line.loc[11, "standing"] == "not understood"
    assert pd.isna(by_line.loc[11, "when"])
    assert by_line.loc[5, "kinds"] == "work torque thread-locked checked batch"


def test_text_is_data_and_controls_are_marks(written: dict[str, pd.DataFrame]) -> None:
    note = written["entries"].set_index("line").loc[8, "text"]
    assert "=cmd|'/c calc'!A1" in note
    assert "\x1b" not in note
    assert "\u241b" in note


def test_readings_lives_faults_and_actions(written: dict[str, pd.DataFrame]) -> None:
    readings = written["readings"]
    assert list(readings["value"]) == [2.80, 3.05]
    assert list(readings["unit"]) == ["mm", "mm"]
    assert readings["use_h"].tolist() == [0.0, 2.0]
    lives = written["lives"][written["lives"]["loom"] == "A01"]
    assert lives["ending"].tolist() == ["replaced", "in service"]
    assert lives["batch"].tolist()[1] == "7F"
    assert lives["why"].tolist()[0] == "worn"
    fault = written["faults"].iloc[0]
    assert (fault["loom"], fault["part"], fault["side"]) == ("A02", "tape", "left")
    assert pd.isna(fault["cleared"])
    action = written["actions"].iloc[0]
    assert (action["number"], action["result"], action["whom"]) == (31, "smooth", "RB")
    assert action["due_at"] == pd.Timestamp("2026-11-23T18:00", tz="UTC")
    assert action["closed"] == pd.Timestamp("2026-11-23T18:30", tz="UTC")


def test_spells_cover_the_time_since_the_first_motion(written: dict[str, pd.DataFrame]) -> None:
    spells = written["spells"]
    own = spells[spells["loom"] == "A01"]
    assert own["hours"].sum() == pytest.approx(39.0)  # 23 Nov 15:00 to 25 Nov 06:00
    assert own["open"].tolist() == [False, True]  # a style is a spell of its own


def test_the_examples_tables_agree_with_its_board(run: Run, out: Path) -> None:
    outcome = run("tables", str(out), "--folder", str(EXAMPLE), *AT, "--json")
    rows = json.loads(outcome.out)["rows"]
    board = json.loads(run("board", str(EXAMPLE), *AT, "--json").out)
    actions = pd.read_parquet(out / "actions.parquet")
    faults = pd.read_parquet(out / "faults.parquet")
    assert rows["actions"] == len(actions)
    assert actions["closed"].isna().sum() == board["counts"]["actions"]
    assert faults["cleared"].isna().sum() == sum(len(x["faults"]) for x in board["looms"])
    spells = pd.read_parquet(out / "spells.parquet")
    running = spells[spells["open"] & (spells["motion"] == "RUNNING")]
    assert len(running) == board["counts"]["running"]


def test_writing_again_replaces_and_leaves_nothing_behind(
    shed: Callable[..., Path], run: Run, out: Path
) -> None:
    folder = shed({"a.log": LOG})
    for _ in range(2):
        run("tables", str(out), "--folder", str(folder), *AT)
    assert sorted(p.name for p in out.iterdir()) == sorted(f"{n}.parquet" for n in COLUMNS)


def test_an_empty_shed_has_empty_tables(shed: Callable[..., Path], run: Run, out: Path) -> None:
    folder = shed({"a.log": ""})
    assert run("tables", str(out), "--folder", str(folder), *AT).code == 0
    for name in COLUMNS:
        table = pd.read_parquet(out / f"{name}.parquet")
        assert len(table) == 0
        assert list(table.columns) == [c.name for c in COLUMNS[name]]


def test_a_disk_that_fails_is_one_sentence_and_keeps_the_old_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import os

    save_all(tmp_path, {"a.parquet": b"old", "b.parquet": b"old"})
    calls = []

    def full(descriptor: int) -> None:
        calls.append(descriptor)
        if len(calls) == 2:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CannotRun, match="no space left on device"):
        save_all(tmp_path, {"a.parquet": b"new", "b.parquet": b"new"})
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.parquet", "b.parquet"]
    assert (tmp_path / "a.parquet").read_bytes() == b"old"


def test_a_file_in_the_place_of_the_folder_is_one_sentence(
    shed: Callable[..., Path], run: Run, tmp_path: Path
) -> None:
    (tmp_path / "out").write_text("here already")
    outcome = run("tables", str(tmp_path / "out"), "--folder", str(shed({"a.log": LOG})), *AT)
    assert outcome.code == 2
    assert outcome.err.count("\n") == 1
    assert "cannot write tables" in outcome.err
