"""Locks whose line is gone from the logs: told by the next look, as nobody took them off."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from board.show.must_see import View, isolation_lines
from board.snapshot import Snapshot
from board.vanished import TOLD_FOR, Vanished, file_of
from tests.conftest import Run
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
        (["22:40 A07 stopped", "22:50 A08 isolated by KM lock 14"], GONE),
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


BELOW = "22:45 A08 isolated by RB lock 15"
DOUBTFUL = "22:45 A08 isolatd by RB lock 15"


@pytest.mark.parametrize("below", [BELOW, DOUBTFUL])
def test_a_line_that_moves_up_into_its_place_does_not_put_it_right(below: str) -> None:
    assert gone(night(BEFORE, below), night(below)) == GONE
    assert gone(night(BEFORE, below), night(below), night(below)) == GONE


@pytest.mark.parametrize(
    "other",
    [
        "22:40 A08 isolated by RB lock 15",  # an old copy was saved over it
        "23:40 A08 isolated by KM lock 14",  # the log was begun anew
        "22:50 A07 fault KM is in the machine",
        "22:40 A08 isolatd by RB",
    ],
)
def test_another_lock_in_its_place_does_not_put_it_right(other: str) -> None:
    assert gone(night(BEFORE), night(other)) == GONE
    assert gone(night(BEFORE), night(), night(other)) == GONE


@pytest.mark.parametrize("last", [[], ["22:40 A07 note brake"]])
def test_a_slip_in_its_line_that_goes_too_leaves_it_asked_for(last: list[str]) -> None:
    slipped, shed = night("22:40 A07 isolatd by KM lock 14"), night(*last)
    assert gone(night(BEFORE), slipped) == []  # that line is asked for
    assert gone(night(BEFORE), slipped, slipped, shed) == GONE
    assert gone(night(BEFORE), slipped, night(BEFORE, "23:40 A07 lock removed by KM"), shed) == []


def test_a_removal_that_finds_no_lock_any_more_answers_for_it() -> None:
    removal = "23:40 A07 lock removed by KM"
    assert gone(night(BEFORE), night(), night(removal)) == []
    earlier = "22:10 A07 lock removed by KM"
    assert gone(night(BEFORE, earlier), night(earlier), night(earlier)) == GONE
    other = night(), night("23:40 A07 lock removed by RB")
    assert gone(night(BEFORE), *other) == GONE


@pytest.mark.parametrize(
    "moved", ["22:40 A08 isolated by KM lock 14", "22:40 A07 isolated by KL lock 14"]
)
def test_a_line_that_was_put_right_may_stand_elsewhere_now(moved: str) -> None:
    assert gone(night(BEFORE), night("22:20 A01 running", moved)) == []


def test_an_editor_may_save_in_two_steps() -> None:
    assert gone(night(BEFORE), night(), night("22:40 A08 isolated by KM")) == []


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


# -- by whoever looks next -----------------------------------------------------------------

HEADING = "day 2026-11-24 night by KM\n"


def test_another_program_misses_it_too(tmp_path: Path) -> None:
    file = tmp_path / "locks.json"
    assert Vanished(file).of(night(BEFORE).fleet, NOW) == ()
    told = Vanished(file).of(night().fleet, NOW + timedelta(hours=1))
    assert [(may.text, may.gone) for may in told] == [(BEFORE, NOW + timedelta(hours=1))]
    assert Vanished(file).of(night().fleet, NOW + timedelta(hours=3)) == told
    assert Vanished(file).of(night().fleet, NOW + timedelta(hours=25)) == ()
    assert Vanished(file).of(night(BEFORE).fleet, NOW + timedelta(hours=26)) == ()


@pytest.mark.parametrize(
    "held",
    [b"", b"{", b"{}", b"\xff", b"[1]", b'[{"loom": "A07"}]',
     b'[{"loom": "A07", "by": "KM", "since": "2026-11-24T22:40", "path": "a.log",'
     b' "line": 2, "text": "", "gone": null, "refused": 0}]'],
)  # fmt: skip
def test_a_damaged_file_is_written_anew(tmp_path: Path, held: bytes) -> None:
    file = tmp_path / "locks.json"
    file.write_bytes(held)
    assert Vanished(file).of(night(BEFORE).fleet, NOW) == ()
    assert Vanished(file).of(night().fleet, NOW) != ()


def test_a_folder_has_one_memory_however_it_is_named(tmp_path: Path) -> None:
    folder, environ = tmp_path / "shed", {"XDG_CACHE_HOME": str(tmp_path / "cache")}
    folder.mkdir()
    (tmp_path / "link").symlink_to(folder)
    named = (folder, folder / ".." / "shed", tmp_path / "link")
    assert len({file_of(each, environ) for each in named}) == 1
    assert file_of(tmp_path, environ) != file_of(folder, environ)


def test_where_nothing_can_be_kept_one_program_still_misses_it(tmp_path: Path) -> None:
    assert file_of(tmp_path, {}) is None
    vanished = Vanished(tmp_path / "no such folder" / "locks.json")
    assert vanished.of(night(BEFORE).fleet, NOW) == ()
    assert vanished.of(night().fleet, NOW) != ()


@pytest.mark.parametrize("index", [(), ("--index", "none")])
def test_the_commands_of_a_shift_ask_for_it(
    shed: Callable[..., Path], run: Run, index: tuple[str, ...]
) -> None:
    folder = shed({"a.log": HEADING + BEFORE + "\n", "b.log": HEADING + "22:10 A01 running\n"})

    def shown(name: str, *options: str) -> str:
        command = (*name.split(), *options, "--folder", str(folder), *index)
        return " ".join(run(*command).out.split())

    assert "ISOLATED 1 ---" in shown("board")
    (folder / "a.log").unlink()
    asked = "no lock removed, may be an isolation: 22:40 A07 isolated by KM lock 14"
    for command in ("board", "loom A07", "handover", "round"):
        assert asked.casefold() in shown(command).casefold(), command
    assert asked not in shown("board", "--at", "2026-11-25T06:00")
    assert asked not in shown("loom A08")
    (may,) = json.loads(shown("board", "--json"))["may_be_isolation"]
    assert (may["text"], may["line"], may["looms"]) == (BEFORE, 2, ["A07"])
    assert datetime.fromisoformat(may["gone_since"])
    (folder / "b.log").write_text(HEADING + BEFORE + "\n23:50 A07 lock removed by KM\n")
    assert "may be an isolation" not in shown("board")
