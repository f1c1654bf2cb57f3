"""The benchmark's own parts: logs that are understood and always the same, and a whole table."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.bench import run
from tests.bench._place import Place
from tests.bench._row import Reached, Result, Row, Target
from tests.bench._rows import ROWS
from tests.bench._table import growth_table, main_table, markdown
from tests.bench.generate import AS_OF, SIZES, Size, write_folder
from tests.robust.running import ran

DENSE = Size(entries=1_200, files=6, looms=60)
LONG = Size(entries=3_000, files=730, looms=10)  # over both clock changes of a year
FEW = 0.01  # of all entries: flagged


def files(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_the_same_seed_gives_the_same_bytes_and_another_does_not(tmp_path: Path) -> None:
    for name, seed in (("one", 1), ("again", 1), ("other", 2)):
        write_folder(tmp_path / name, DENSE, seed)
    assert files(tmp_path / "one") == files(tmp_path / "again")
    assert files(tmp_path / "one") != files(tmp_path / "other")


@pytest.mark.parametrize("size", [DENSE, LONG], ids=["dense", "long"])
def test_every_line_is_understood(size: Size, tmp_path: Path) -> None:
    write_folder(tmp_path / "logs", size)
    checked = ran(
        "check", str(tmp_path / "logs"), "--at", AS_OF, "--json", cache=tmp_path / "cache"
    )
    told = json.loads(checked.out)
    assert [c for c in told["complaints"] if c["severity"] == "refused"] == []
    assert len(told["complaints"]) <= FEW * size.entries
    assert (told["files"], told["entries"]) == (size.files, size.entries)


def test_the_last_shift_ends_at_the_fixed_moment_and_all_kinds_are_there(tmp_path: Path) -> None:
    write_folder(tmp_path, Size(entries=20_000, files=100))
    found = files(tmp_path)
    assert max(found) == "shed.toml"
    last = max(path for path in found if path.endswith(".log"))
    assert last.startswith("2026/11/2026-11-24-night-")
    text = b"".join(data for path, data in found.items() if path.endswith(".log")).decode()
    for word in (
        "isolated by", "lock seen by", "lock removed by", "replaced", "torque", "thread-locked",
        "checked joint", "fault", "fault cleared", "counter", "style", "open no", "done no", "note",
        "handed over", "; sealed", "struck", "moved", "A stopped for power", "gauge", "batch",
    ):  # fmt: skip
        assert word in text, word


def test_too_many_entries_for_the_looms_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="too many entries"):
        write_folder(tmp_path, Size(entries=10_000, files=10, looms=2))
    with pytest.raises(ValueError, match="too few entries"):
        write_folder(tmp_path, Size(entries=30, files=10, looms=2))


def test_the_table_has_every_row_and_a_row_is_measured(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(SIZES, "10k", DENSE)  # the row itself reads what it finds there
    run.main(
        ["--sheds", str(tmp_path), "--sizes", "10k", "--rows", "reading-lark", "--passes", "1",
         "--markdown"]
    )  # fmt: skip
    out = capsys.readouterr().out
    table = [line for line in out.splitlines() if line.startswith("| ")]
    assert len(table) == len(ROWS) + 1
    for row in ROWS:
        (line,) = [line for line in table if line.startswith(f"| {row.what}, 10k |")]
        assert row.target() in line
        assert ("not asked for" in line) is (row.key != "reading-lark")
    (line,) = [line for line in table if "Lark alone" in line]
    assert " lines/s |" in line
    assert "x orjson.loads" in line
    assert "MiB" in line


def _not_asked(place: Place) -> Reached:
    raise AssertionError(place)


def _row(*targets: Target) -> Row:
    return Row(key="k", what="w", targets=targets, measure=_not_asked, grows=True)


def test_a_target_is_met_by_all_its_figures_and_only_at_its_size() -> None:
    row = _row(
        Target(figure="median", bound=10, unit="ms"),
        Target(figure="rate", bound=5, unit="x", at_least=True),
    )
    units = {"median": "ms", "rate": "x"}

    def met(size: str, median: float, rate: float) -> str:
        reached = Reached(figures={"median": median, "rate": rate}, units=units)
        return Result(row=row, size=size, reached=reached).met()

    assert row.target() == "median at most 10 ms, rate at least 5 x"
    assert met("1m", 10, 5) == "yes"
    assert met("1m", 10.1, 5) == "NO"
    assert met("1m", 10, 4.9) == "NO"
    assert met("10k", 10.1, 4.9) == ""


def test_what_was_not_measured_is_told_with_its_reason() -> None:
    row = _row(Target(figure="", bound=8, unit="s"))
    reached = Reached(figures={"": 1.5}, units={"": "s"}, more="well")
    results = {
        ("k", "10k"): Result(row=row, size="10k", reached=reached),
        ("k", "1m"): Result(row=row, size="1m", why="not measured: no index"),
    }
    assert main_table([row], results, ["10k", "1m"])[1][:4] == [
        "w, 1m", "at most 8 s", "not measured: no index", "",
    ]  # fmt: skip
    assert growth_table([row], results, ["10k", "1m"])[1] == ["w", "1.5 s", "-"]
    assert markdown([["a", "b"], ["1", "2"]]) == "| a | b |\n|---|---|\n| 1 | 2 |"
