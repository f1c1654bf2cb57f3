"""The nearest word, against the distance computed slowly by its definition."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grammar.nearest import all_nearest, allowed_slips, did_you_mean, distance, nearest

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


def test_none_of_equals_is_offered_and_a_few_are_named() -> None:
    assert nearest("cat", ("bat", "hat")) is None
    assert all_nearest("cat", ("bat", "hat", "dog", "bat")) == ("bat", "hat")
    assert did_you_mean("cat", ("bat", "hat")) == "did you mean bat or hat?"
    assert did_you_mean("cat", ("bat", "hat", "mat")) == "did you mean bat, hat or mat?"
    assert did_you_mean("cat", ("bat", "hat", "mat", "rat")) == ""
    assert did_you_mean("cat", ("dog", "bat")) == "did you mean bat?"
    assert did_you_mean("cat", ("dog",)) == ""


def test_one_slip_goes_before_two_however_many_have_two() -> None:
    assert nearest("isolatd", ("insolate", "isolated", "isolate")) is None
    assert nearest("isoladed", ("insolated", "isolated", "isolate")) == "isolated"


def test_words_that_mean_the_same_are_one() -> None:
    assert nearest("cat", {"bat": "animal", "hat": "cloth"}) is None
    assert nearest("cat", {"bat": "animal", "rat": "animal"}) == "bat"
    words = {"bat": "animal", "rat": "animal", "hat": "cloth"}
    assert did_you_mean("cat", words) == "did you mean bat or hat?"


def test_short_words_allow_fewer_slips() -> None:
    assert [allowed_slips("x" * n) for n in (0, 1, 2, 5, 6, 20)] == [0, 0, 1, 1, 2, 2]
