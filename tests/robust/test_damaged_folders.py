"""Forty damaged copies of the example's logs: no traceback, and every line is counted once."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest

from board.loading import read_mill, reader_for
from board.mill import Mill
from board.record.files import LogFile, read_file
from board.record.listing import list_logs
from grammar.decoding import with_line_feeds
from grammar.reader import Reader
from tests.conftest import EXAMPLE
from tests.robust.counting import Count, count_of
from tests.robust.mutations import Damaged, damaged, damaged_folder
from tests.robust.running import NOW, Ran, ran

FOLDERS = 40


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("cache")


@pytest.fixture(scope="module")
def reader(cache: Path) -> Reader:
    mill = read_mill(EXAMPLE)
    assert isinstance(mill, Mill)
    return reader_for(mill.vocabulary, {"XDG_CACHE_HOME": str(cache)})


def document(damage: Damaged, cache: Path, *command: str) -> dict[str, Any]:
    done = ran(*command, "--json", "--folder", str(damage.folder), cache=cache)
    assert done.code in (0, 1), done.err
    assert done.err == ""
    found: dict[str, Any] = json.loads(done.out, parse_constant=pytest.fail)
    return found


def count_in(damage: Damaged, reader: Reader) -> Count:
    """The count of a whole folder, from the bytes and what the reader makes of each file."""
    total = Count()
    listing = list_logs(damage.folder)
    for log in getattr(listing, "logs", ()):
        file = read_file(log, NOW)
        assert isinstance(file, LogFile)
        assert file.data == with_line_feeds(damage.logs[log.path])
        reading = reader.read(file.data, file.last_line)
        count = count_of(file.data, reading, file.last_line)
        assert count.lines == count.right_side, log.path
        assert count.lines == reading.lines, log.path
        assert (reading.unfinished is not None) == count.unfinished, log.path
        total += count
    return total


def holds_together(damage: Damaged, reader: Reader, cache: Path) -> Count:
    """Checks `board` and `check` of a folder against the count of its lines."""
    count = count_in(damage, reader)
    board = document(damage, cache, "board")
    check = document(damage, cache, "check")
    refused = {(c["path"], c["line"]) for c in check["complaints"] if c["severity"] == "refused"}
    flagged = [c for c in check["complaints"] if c["severity"] == "flagged"]
    assert board["read"]["files"] == check["files"] == len(damage.logs)
    assert board["read"]["lines"] == check["lines"] == count.lines
    assert board["read"]["entries"] == check["entries"] == count.entries
    assert board["read"]["refused"] == len(refused) >= count.not_understood
    assert board["read"]["flagged"] == len(flagged)
    assert len(board["unfinished"]) == count.unfinished
    return count


def is_found_once(damage: Damaged, count: Count, cache: Path) -> None:
    """Checks that `find` has every line but headings, blank ones and comments, and each once."""
    find = document(damage, cache, "find", "--most", "0")
    assert find["total"] == len(find["hits"])
    places = [(hit["path"], hit["line"]) for hit in find["hits"]]
    assert len(places) == len(set(places)), "one line was found twice"
    assert len(places) == count.entries + count.not_understood + count.unfinished
    for path, line in places:
        assert 1 <= line <= with_line_feeds(damage.logs[path]).count(b"\n") + 1


def test_damaged_logs_are_read_and_every_line_is_counted(
    tmp_path: Path, reader: Reader, cache: Path
) -> None:
    total = Count()
    for seed in range(FOLDERS):
        damage = damaged_folder(seed, EXAMPLE, tmp_path / "logs", NOW)
        try:
            count = holds_together(damage, reader, cache)
            if seed % 8 == 0:
                is_found_once(damage, count, cache)
            total += count
        except Exception as error:
            raise AssertionError(f"damaged_folder({seed})") from error
    # the damage is real, and leaves enough that is good
    assert total.not_understood > 200
    assert total.entries > 400
    assert total.unfinished > 4


def test_a_damaged_register_is_refused_in_one_sentence(tmp_path: Path, cache: Path) -> None:
    whole = (EXAMPLE / "shed.toml").read_bytes()
    (tmp_path / "a.log").write_text("2026-11-24T22:40 A07 isolated by KM lock 14\n")
    refused = 0
    for seed in range(50):
        dice = random.Random(seed)
        (tmp_path / "shed.toml").write_bytes(damaged(dice, whole, most=2))
        done: Ran = ran("board", "--folder", str(tmp_path), cache=cache)
        assert done.code in (0, 2), seed
        if done.code == 2:
            refused += 1
            assert done.err.startswith("loomslate: "), seed
            assert done.err.count("\n") == 1, seed
            assert "isolated by KM lock 14" in done.out, seed
    assert refused > 15
