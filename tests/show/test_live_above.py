"""What stands above each page of the live board: the caution and why it is not current, whole."""

from __future__ import annotations

import pytest

from board.reckon.summary import summarise
from board.show.live_view import Looking, Page, frame
from board.show.must_see import View
from tests.show.test_may_rows import everything, rows_of
from tests.state.shed import night

PERMIT = "Record only, not a permit. Not listed is not proof. Prove dead at the machine."


@pytest.mark.parametrize("looking", [Looking(), Looking(page=Page.FULL), Looking(page=Page.HELP)])
@pytest.mark.parametrize("count", range(12))
def test_the_caution_is_whole_on_each_frame_of_a_small_screen(looking: Looking, count: int) -> None:
    lines = [f"22:{n:02} A0{n % 9 + 1} isolated by P{n}" for n in range(count)]
    summary = summarise(night(*lines, "22:50 A09 isolatd by JO"))
    for frame_of in everything(summary, 40, 12, looking).splitlines():
        assert PERMIT in frame_of


@pytest.mark.parametrize(("cells", "rows"), [(20, 8), (20, 12), (40, 5), (80, 4)])
def test_the_caution_comes_by_on_a_tiny_screen(cells: int, rows: int) -> None:
    seen = everything(summarise(night("22:50 A09 isolated by JO")), cells, rows)
    words = "Prove dead at the machine." if cells > 20 else "Record only, not a"
    assert words in seen


@pytest.mark.parametrize(
    ("since", "told"), [("2026-11-25", "05:00"), ("2026-11-24", "24 Nov 05:00")]
)
def test_since_when_and_why_the_board_is_not_current_is_whole_at_40x12(
    since: str, told: str
) -> None:
    why = "the log folder /srv/weaving/shed-two/logs is gone"
    for lines in ((), ("22:10 A01 isolated by KM", "22:20 A02 isolatd by RB")):
        seen = everything(summarise(night(*lines)), 40, 12, trouble=f"{since} 05:00:00: {why}")
        for frame_of in seen.splitlines():
            assert f"board not current since {told}: {why}" in frame_of
            assert PERMIT in frame_of


def test_a_cause_too_long_for_the_screen_comes_by_in_turn() -> None:
    why = "shed.toml line 3: nobody knows replace_bellow; " + "mend it " * 24 + "at once"
    seen = everything(summarise(night()), 40, 12, trouble=f"2026-11-25 05:00:00: {why}")
    assert "at once" in seen


@pytest.mark.parametrize("cells", range(32, 60))
def test_no_count_of_a_title_is_cut(cells: int) -> None:
    rows = rows_of(frame(summarise(night()), Looking(), View(width=cells, height=20), tick=0.0))
    titles = [r for r in rows if r.startswith(("ISOLATED", "OPEN ACTIONS", "CHANGED SINCE"))]
    assert not any(row.endswith("~") for row in titles if cells >= 40)
    doubtful = summarise(night("22:10 A01 isolatd by KM"))
    made = frame(doubtful, Looking(), View(width=cells, height=30), tick=0.0)
    (head,) = (row for row in rows_of(made) if row.startswith("ISOLATED"))
    assert head.endswith("do not start")


@pytest.mark.parametrize("rows", [12, 16, 24, 30])
def test_who_is_in_which_loom_stays_while_what_may_be_an_isolation_turns(rows: int) -> None:
    locks = [f"22:{n:02} A0{n} isolated by P{n} lock 1{n}" for n in range(1, 9)]
    asked = [f"23:{n:02} B0{n % 3 + 1} note TN lock {n} still on, he went home" for n in range(40)]
    frames = everything(summarise(night(*locks, *asked)), 80, rows).splitlines()
    for told in frames:
        assert "ISOLATED 8 and 40 to ask about" in told
        assert all(f"A0{n} P{n}*" in told for n in range(1, 9))
    assert all(f"TN lock {n} still on" in " ".join(frames) for n in range(40))
