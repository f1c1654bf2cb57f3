"""The hour that a clock change repeats: where it decides on an isolation, the isolation stands.

London, 25 October 2026: 02:00 becomes 01:00 again. 28 March 2027: 01:00 becomes 02:00.
"""

from __future__ import annotations

import pytest

from board.state.fleet import Isolation
from tests.state.shed import at, codes, loom, read

KM = "day 2026-10-24 night by KM\n"
RB = "day 2026-10-24 night by RB\n"
NOW = "2026-10-25 09:00"

STANDS, ENDED = Isolation.ISOLATED, Isolation.NONE_RECORDED

# one file's lines, another's -> isolation; both are read in the same words "01:30"
TWO_FILES = [
    ("01:30 A07 isolated by KM", "01:40 A07 lock removed by RB for KM", STANDS),
    ("01:30 A07 isolated by KM", "2026-10-25T01:40+01:00 A07 lock removed by RB for KM", STANDS),
    ("01:30 A07 isolated by KM", "2026-10-25T01:40+00:00 A07 lock removed by RB for KM", ENDED),
    ("01:30 A07 isolated by KM", "02:10 A07 lock removed by RB for KM", ENDED),
    ("2026-10-25T01:30+01:00 A07 isolated by KM", "01:40 A07 lock removed by RB for KM", ENDED),
    ("2026-10-25T01:30+00:00 A07 isolated by KM", "01:40 A07 lock removed by RB for KM", STANDS),
    ("00:50 A07 isolated by KM", "01:40 A07 lock removed by RB for KM", ENDED),
    # said again in the doubtful hour: the lock may have been put on after the removal
    ("00:50 A07 isolated by KM\n01:30 A07 isolated by KM", "01:40 A07 lock removed by RB for KM", STANDS),
    ("01:30 A07 isolated by KM lock 3", "01:35 A07 isolated by KM lock 4\n01:40 A07 lock removed by KM", STANDS),
]  # fmt: skip


@pytest.mark.parametrize(("one", "other", "isolation"), TWO_FILES)
def test_a_removal_that_may_be_older_ends_nothing(
    one: str, other: str, isolation: Isolation
) -> None:
    for names in (("a.log", "b.log"), ("b.log", "a.log")):
        shed = read({names[0]: KM + one + "\n", names[1]: RB + other + "\n"}, NOW)
        assert loom(shed).isolation is isolation


def test_in_one_file_the_order_of_lines_tells() -> None:
    lines = KM + "01:30 A07 isolated by KM\n01:40 A07 lock removed by KM\n"
    assert loom(read({"a.log": lines}, NOW)).isolation is ENDED
    # the file's times step back: what follows is the second pass
    again = KM + "01:40 A07 lock removed by KM\n01:30 A07 isolated by KM\n"
    shed = read({"a.log": again}, NOW)
    assert loom(shed).isolation is STANDS
    assert loom(shed).locks[0].since == at("2026-10-25 01:30").replace(hour=1)


@pytest.mark.parametrize(
    ("lines", "isolation"),
    [
        # the times step back to the removal: of the second pass, or of the first and written late
        ("00:50 A07 isolated by KM\n01:30 A07 isolated by KM lock 15\n01:20 A07 lock removed by KM", STANDS),
        ("01:30 A07 isolated by KM\n01:20 A07 lock removed by KM", STANDS),
        ("01:30 A07 isolated by KM\n2026-10-25T01:20 A07 lock removed by KM", STANDS),
        ("01:30 A07 isolated by KM\n2026-10-25T01:20+00:00 A07 lock removed by KM", ENDED),
        ("01:30 A07 isolated by KM\n01:20 A07 note back\n01:40 A07 lock removed by KM", ENDED),
        ("01:30 A07 isolated by KM\n01:20 A07 note back\n02:10 A07 lock removed by KM", ENDED),
        ("00:50 A07 isolated by KM\n01:30 A01 running\n01:20 A07 lock removed by KM", ENDED),
    ],
)  # fmt: skip
def test_a_removal_that_the_times_step_back_to_ends_no_lock_of_that_hour(
    lines: str, isolation: Isolation
) -> None:
    assert loom(read({"a.log": KM + lines + "\n"}, NOW)).isolation is isolation


def test_what_is_said_where_an_isolation_stands_for_doubt() -> None:
    shed = read(
        {"a.log": KM + "01:30 A07 isolated by KM\n", "b.log": RB + "01:40 A07 lock removed by RB for KM\n"},
        NOW,
    )  # fmt: skip
    assert codes(shed) == ["hour-twice", "hour-twice", "hour-twice"]
    assert "the isolation stands" in shed.complaints[-1].diagnostic.message
