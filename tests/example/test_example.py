"""The example is what it says: made by its seed, full of life, and wrong only where it is meant.

Checks the generator against the program: what `planted` lists is all that is complained of, and
the story that `lastnight` tells is the state that the fold ends in. That is agreement of two parts
of this project, no proof from outside it.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

import pytest

from board.mill import Mill
from board.record.register import read_register
from board.snapshot import FileReading, Snapshot, snapshot
from board.state.fleet import Motion
from grammar.reader import Reader
from tests.example.planted import expected
from tests.make_logs_example import FOLDER, SEED, build

ROOT = Path(__file__).parents[2]
AS_OF = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)


def _read(files: dict[str, str]) -> Snapshot:
    mill = read_register(files["shed.toml"])
    assert isinstance(mill, Mill), mill
    reader = Reader(mill.vocabulary)
    logs = [
        FileReading(path=path, reading=reader.read(text))
        for path, text in files.items()
        if path.endswith(".log")
    ]
    return snapshot(logs, mill, AS_OF)


@pytest.fixture(scope="module")
def files() -> dict[str, str]:
    return build(SEED)


@pytest.fixture(scope="module")
def shed(files: dict[str, str]) -> Snapshot:
    return _read(files)


def _digest(files: dict[str, str]) -> str:
    return sha256(repr(sorted(files.items())).encode()).hexdigest()


def test_same_seed_same_bytes_whatever_the_hash_order(files: dict[str, str]) -> None:
    program = (
        "from tests.make_logs_example import build, SEED\n"
        "from tests.example.test_example import _digest\n"
        "import sys; sys.stdout.write(_digest(build(SEED)))"
    )
    other = subprocess.run(
        [sys.executable, "-c", program],
        cwd=ROOT,
        env={**os.environ, "PYTHONHASHSEED": "7", "TZ": "Pacific/Auckland"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert other.stdout == _digest(files)
    assert _digest(build(SEED + 1)) != _digest(files)


def test_the_folder_is_what_the_seed_makes(files: dict[str, str]) -> None:
    on_disk = {
        path.relative_to(FOLDER).as_posix(): path.read_bytes().decode("utf-8")
        for path in FOLDER.rglob("*")
        if path.suffix in (".log", ".toml")
    }
    assert on_disk == files


def test_paths_and_headings_agree(files: dict[str, str]) -> None:
    form = re.compile(
        r"(\d{4})/(\d{2})/(?P<day>\1-\2-\d{2})-(?P<shift>early|late|night)-(?P<who>[A-Z]{2})\.log"
    )
    for path, text in files.items():
        if path == "shed.toml":
            continue
        name = form.fullmatch(path)
        assert name is not None, path
        heading = text.lstrip("\ufeff").splitlines()[0]
        assert heading == f"day {name['day']} {name['shift']} by {name['who']}"


@pytest.mark.parametrize("seed", [SEED, 1, 2])
def test_only_what_is_planted_is_complained_of(seed: int) -> None:
    made = build(seed)
    told = sorted(
        (c.path, c.diagnostic.line, c.diagnostic.code.value) for c in _read(made).complaints
    )
    logs = {path: text for path, text in made.items() if path.endswith(".log")}
    assert told == expected(logs)


def test_size(shed: Snapshot) -> None:
    assert 3500 <= shed.tally.entries <= 6000
    assert len(shed.mill.looms) == 48
    whens = [logged.entry.when for logged in shed.entries]
    assert max(whens) == datetime(2026, 11, 25, 5, 58, tzinfo=UTC)
    assert min(whens) == datetime(2026, 10, 16, 5, 2, tzinfo=UTC)


def test_figures_that_must_not_stand_in_the_register(files: dict[str, str]) -> None:
    """The register's limits are invented, and differ from these: mm, mm, mm, N.m."""
    numbers = {float(n) for n in re.findall(r"\d+(?:\.\d+)?", _values(files["shed.toml"]))}
    assert not numbers & {1.5, 0.5, 10.0, 0.61}


def _values(register: str) -> str:
    parts = tomllib.loads(register)["part"]
    for part in parts.values():
        part.pop("caution", None)
        part.pop("words", None)
        for torque in part.get("after", {}), *part.values():
            if isinstance(torque, dict):
                torque.pop("check_every", None)
                torque.pop("recheck", None)
    return re.sub(r"'\d+ %'", "", repr(parts))


def test_the_last_night_ends_as_told(shed: Snapshot) -> None:
    fleet = shed.fleet
    locks = {name: [k.by for k in loom.locks] for name, loom in fleet.looms.items() if loom.locks}
    assert locks == {"A07": ["KM"], "B11": ["JO"]}
    assert fleet.looms["A07"].locks[0].seen is None
    seen = fleet.looms["B11"].locks[0].seen
    assert seen is not None
    assert seen.by == "TN"
    stopped = {n for n, loom in fleet.looms.items() if loom.motion is not Motion.RUNNING}
    assert stopped == {"A07", "A18", "B03", "B11", "B17", "B20", "B22"}
    faults = {n for n, loom in fleet.looms.items() if loom.faults}
    assert faults == {"A07", "B03"}
    missing = {n: [p.what for p in loom.proofs] for n, loom in fleet.looms.items() if loom.proofs}
    assert missing == {"A07": ["thread-locked"]}
    silent = fleet.looms["A21"].last_entry
    assert silent == datetime(2026, 11, 22, 9, 40, tzinfo=UTC)
    others = [loom.last_entry for n, loom in fleet.looms.items() if n not in ("A21", "B17")]
    assert all(last is not None and (AS_OF - last).days < 2 for last in others)
    garbled = [(m.path.rpartition("/")[2], m.text) for m in fleet.may_isolate]
    assert [name for name, text in garbled if "B19 isolatd by" in text] == [
        "2026-11-24-night-TN.log"
    ]
