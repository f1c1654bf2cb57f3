"""Locks whose line is gone from the logs: told by a live board, as nobody took them off."""

from __future__ import annotations

import time
from datetime import timedelta
from pathlib import Path

import pytest

from board.show.must_see import View, isolation_lines
from board.snapshot import Snapshot
from board.vanished import TOLD_FOR, Vanished
from tests.robust.watching import watching, without_logs
from tests.state.shed import at, night, read

NOW = at("2026-11-25 06:00")
BEFORE = "22:40 A07 isolated by KM lock 14"


def gone(*pictures: Snapshot) -> list[tuple[str, int, str]]:
    """What is told with the last of some pictures, a minute apart."""
    vanished = Vanished()
    for minute, picture in enumerate(pictures):
        told = vanished.of(picture.fleet, NOW + minute * timedelta(minutes=1))
    return [(may.path, may.line, may.text) for may in told]


GONE = [("a.log", 2, BEFORE)]


@pytest.mark.parametrize(
    ("after", "told"),
    [
        ([], GONE),  # the line was cut out
        (["22:40 A07 stopped"], GONE),
        (["# " + BEFORE], GONE),
        ([BEFORE], []),
        (["22:20 A01 running", BEFORE], []),  # it stands elsewhere now
        ([BEFORE, "23:40 A07 lock removed by KM"], []),
        ([BEFORE, "23:40 A07 lock removed by RB for KM"], []),
        (["22:40 A08 isolated by KM lock 14"], []),  # the line was put right
        (["22:40 A07 isolated by KL lock 14"], []),
        (["22:40 A07 isolatd by KM lock 14"], []),  # it is asked for as a line not understood
    ],
)
def test_a_lock_is_asked_for_when_its_line_is_gone(
    after: list[str], told: list[tuple[str, int, str]]
) -> None:
    assert gone(night(BEFORE), night(*after)) == told
    assert gone(night(BEFORE), night(*after), night(*after)) == told  # and goes on to be


def test_a_log_that_is_deleted_takes_its_locks_along() -> None:
    log = f"day 2026-11-24 night by KM\n{BEFORE}\n"
    other = {"b.log": "day 2026-11-24 night by RB\n22:10 A01 running\n"}
    before, after = (
        read({"a.log": log, **other}, "2026-11-25 06:00"),
        read(other, "2026-11-25 06:00"),
    )
    assert gone(before, after) == GONE
    assert gone(before, after, before) == []  # it is back


def test_it_is_told_for_a_day() -> None:
    vanished = Vanished()
    vanished.of(night(BEFORE).fleet, NOW)
    assert vanished.of(night().fleet, NOW)
    assert vanished.of(night().fleet, NOW + TOLD_FOR - timedelta(minutes=1))
    assert vanished.of(night().fleet, NOW + TOLD_FOR) == ()


def test_a_live_board_names_the_locks_of_a_log_that_is_deleted(tmp_path: Path) -> None:
    folder = without_logs(tmp_path)
    (folder / "a.log").write_text(f"day 2026-11-24 night by KM\n{BEFORE}\n")
    (folder / "b.log").write_text("day 2026-11-24 night by RB\n22:10 A01 running\n")
    with watching(folder, tmp_path / "cache") as seen:
        keeping = seen.keeping
        assert keeping is not None
        assert keeping.picture.summary.may_isolate == ()
        (folder / "a.log").unlink()
        limit = time.monotonic() + 20
        while not keeping.picture.summary.may_isolate:
            assert time.monotonic() < limit
            time.sleep(0.02)
        summary = keeping.picture.summary
        rows = [row.plain.strip() for row in isolation_lines(summary, View(width=80, height=24))]
        assert rows[0].startswith("ISOLATED 0 and 1 to ask about")
        told = " ".join(rows[2:])
        assert told.startswith("line gone since ")
        assert "no lock removed, may be an isolation: 22:40 A07 isolated by KM lock 14" in told
        assert told.endswith("(24 Nov by KM)")
