"""The nearest word, against the distance computed slowly by its definition."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grammar.nearest import allowed_slips, distance, nearest

words = st.text(alphabet="abcd", max_size=9)


def slow(a: str, b: str) -> int:
    """Optimal string alignment, the whole table (Damerau 1964, as is commonly tabulated)."""
    table = {(i, 0): i for i in range(len(a) + 1)} | {(0, j): j for j in range(len(b) + 1)}
    for i in range(1, len(a) + 1):
        for j in range(1, len(b) + 1):
            table[i, j] = min(
                table[i - 1, j] + 1,
                table[i, j - 1] + 1,
                table[i - 1, j - 1] + (a[i - 1] != b[j - 1]),
            )
            if i > 1 and j > 1 and a[i - 1] == b[j - 2] and a[i - 2] == b[j - 1]:
                table[i, j] = min(table[i, j], table[i - 2, j - 2] + 1)
    return table[len(a), len(b)]


@given(words, words, st.integers(0, 4))
@settings(max_examples=1500)
def test_the_distance(a: str, b: str, most: int) -> None:
    assert distance(a, b, most) == min(slow(a, b), most + 1)


@pytest.mark.parametrize(
    ("a", "b", "slips"),
    [
        ("tape", "tpae", 1),
        ("tape", "tap", 1),
        ("tape", "taape", 1),
        ("tape", "tope", 1),
        ("", "", 0),
    ],
)
def test_one_slip_of_each_kind(a: str, b: str, slips: int) -> None:
    assert distance(a, b, 3) == slips


@pytest.mark.parametrize(
    ("word", "found"),
    [
        ("tpae", "tape"),
        ("TPAE", "tape"),
        ("hed", "head"),
        ("x", None),
        ("brake lning", "brake lining"),
        ("gearbox", None),
        ("t" * 5000, None),
        ("", None),
    ],
)
def test_nearest(word: str, found: str | None) -> None:
    assert nearest(word, ("tape", "head", "brake lining", "guide")) == found


def test_the_first_of_equals_is_offered() -> None:
    assert nearest("cat", ("bat", "hat")) == "bat"


def test_short_words_allow_fewer_slips() -> None:
    assert [allowed_slips("x" * n) for n in (0, 1, 2, 5, 6, 20)] == [0, 0, 1, 1, 2, 2]
