"""A history saved in any order, in any manner: the kept picture is that of a fresh reading."""

from __future__ import annotations

import random
import time
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from board.record import shelf as shelves
from board.record.watch import Manner
from tests.robust.saves import CANARIES, Saver
from tests.robust.watching import (
    SETTLED_S,
    clock,
    history,
    standing,
    watching,
    without_logs,
)

SAVES = 30


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("cache")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return without_logs(tmp_path)


@pytest.mark.parametrize(("seed", "manner"), [(1, Manner.SIGNALS), (2, Manner.POLLING)])
def test_the_picture_is_that_of_a_fresh_reading(
    folder: Path, cache: Path, seed: int, manner: Manner
) -> None:
    saver = Saver(folder, history(12), seed)
    slow: list[float] = []
    dice = random.Random(seed)
    with watching(folder, cache, manner=manner) as keeper:
        for number in range(SAVES):
            saver.save()
            time.sleep(dice.choice((0.0, 0.0, 0.02, 0.2)))
            if saver.slow_until:
                slow.append(saver.slow_until)
            if number % 10 == 9:
                keeper.must_agree()
        saver.finish()
        assert saver.whole
        keeper.must_agree()
    assert len(keeper.pictures) > 4
    for at, picture, trouble in keeper.pictures:
        borne = any(at < until < at + 4.0 for until in slow)
        assert borne or standing(picture) == set(CANARIES)
        assert trouble == ""


def test_the_register_saved_meanwhile(folder: Path, cache: Path) -> None:
    register = folder / "shed.toml"
    text = register.read_text()
    dice = random.Random(3)
    saver = Saver(folder, history(8), 3)
    with watching(folder, cache) as keeper:
        for number in range(24):
            saver.save()
            match number % 8:
                case 1:
                    register.write_text(text.replace('name = "Quillbank"', f'name = "Q{number}"'))
                case 3:
                    register.write_text(text.replace("Europe/London", "Asia/Tokyo"))
                case 5:
                    register.write_text(text.replace('"band", "rapier tape"', '"rapier tape"'))
                case 4 | 7:
                    keeper.must_agree()
            time.sleep(dice.random() * 0.05)
        saver.finish()
        register.write_text(text)
        keeper.must_agree()
    assert {picture.mill.zone.key for _, picture, _ in keeper.pictures} >= {  # type: ignore[attr-defined]
        "Europe/London",
        "Asia/Tokyo",
    }


def test_a_register_removed_or_broken_while_it_is_watched(folder: Path, cache: Path) -> None:
    register = folder / "shed.toml"
    text = register.read_bytes()
    Saver(folder, {}, 1)
    with watching(folder, cache) as keeper:
        for wrong in (None, b"", b"\xff\x00", text[: len(text) // 2] + b"[[["):
            register.unlink(missing_ok=True)
            if wrong is not None:
                register.write_bytes(wrong)
            until = time.monotonic() + SETTLED_S
            assert keeper.keeping is not None
            while "the last good register stays in force" not in keeper.keeping.picture.trouble:
                assert time.monotonic() < until
                time.sleep(0.02)
            assert standing(keeper.now) == set(CANARIES)
            register.write_bytes(text)
            while keeper.keeping.picture.trouble:
                assert time.monotonic() < until
                time.sleep(0.02)
        keeper.must_agree()


@pytest.mark.parametrize("years", [-10, 10], ids=["set back", "set ahead"])
def test_a_clock_that_is_set(folder: Path, cache: Path, years: int) -> None:
    saver = Saver(folder, history(4), 4)
    saver.finish()
    shift = timedelta(0)
    with watching(folder, cache, lambda: clock() + shift) as keeper:
        keeper.must_agree()
        shift = timedelta(days=365 * years)
        for number in range(3):
            saver.save()
            time.sleep(0.3)
            assert standing(keeper.now) == set(CANARIES), number
        saver.finish()
        keeper.must_agree()
        assert keeper.keeping is not None
        assert keeper.keeping.picture.trouble == ""
        assert abs(keeper.now.fleet.as_of - clock() - shift) < timedelta(minutes=2)


@pytest.mark.parametrize("way", ["truncated", "absent"])
def test_a_save_that_begins_between_the_signal_and_the_reading(
    folder: Path, cache: Path, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    """The next signal tells what came of it; until then the last lines stay."""
    saver = Saver(folder, {}, 5)
    whole = saver.canary.read_bytes()
    read = shelves.read_file
    begun: list[float] = []

    with watching(folder, cache) as keeper:
        keeper.must_agree()

        def reading(log: shelves.LogName, now: datetime) -> shelves.LogFile | shelves.Skipped:
            if log.path == "canary.log" and not begun and log.file.stat().st_size > len(whole):
                begun.append(time.monotonic())
                if way == "truncated":
                    log.file.write_bytes(b"")
                else:
                    log.file.unlink()
                found = read(log, now)
                log.file.write_bytes(whole + b"2026-11-02T06:00 A01 note saved\n")
                return found
            return read(log, now)

        monkeypatch.setattr(shelves, "read_file", reading)
        with saver.canary.open("ab") as log:
            log.write(b"2026-11-02T06:00 A01 note appended\n")
        until = time.monotonic() + SETTLED_S
        while not (begun and any(b"saved" in e.entry.text.encode() for e in keeper.now.entries)):
            assert time.monotonic() < until
            time.sleep(0.02)
        monkeypatch.undo()
        keeper.must_agree()
    assert all(standing(picture) == set(CANARIES) for _, picture, _ in keeper.pictures)
