"""Which checkpoints stay: few, and of any age one that is not much older."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Sequence

import pytest

from board.index import segments

DAY_US = 86_400_000_000


def stay_after(moments: Sequence[int]) -> list[int]:
    """How old the checkpoints are that stay, of those made at these moments [us], oldest last."""
    connection = sqlite3.connect(":memory:")
    connection.execute(
        "CREATE TABLE checkpoint (number INTEGER PRIMARY KEY, upto INTEGER UNIQUE, state BLOB)"
    )
    for moment in moments:
        segments.mark(connection, moment, b"")
    rows = connection.execute("SELECT upto FROM checkpoint ORDER BY upto DESC").fetchall()
    connection.close()
    return [moments[-1] - upto for (upto,) in rows]


def evenly(days: float, times: int) -> list[int]:
    return [int(n * days * DAY_US) for n in range(1, times + 1)]


@pytest.mark.parametrize(
    "moments",
    [
        evenly(1, 1_500),
        evenly(28, 50),
        evenly(0.3, 2_000),
        sorted(random.Random(2).sample(range(10**6 * DAY_US // 10**6, 900 * DAY_US), 400)),
        [*evenly(28, 40), *(evenly(28, 40)[-1] + m for m in evenly(1, 90))],
    ],
    ids=["daily", "as first built", "thrice a day", "at random", "built, then daily"],
)
def test_of_any_age_one_is_left_that_is_not_much_older(moments: list[int]) -> None:
    ages = stay_after(moments)
    assert ages[0] == 0
    made = [moments[-1] - moment for moment in moments]
    for age in range(DAY_US, max(made), DAY_US):
        older = min((a for a in ages if a >= age), default=None)
        nearest = min(a for a in made if a >= age)
        assert older is not None
        # as near as one ever made, or not much farther than the age
        assert older <= max(nearest, 1.7 * age)
    assert len(ages) <= 30


def test_the_oldest_stays() -> None:
    assert stay_after(evenly(1, 100))[-1] == 99 * DAY_US
