"""Groups compared, and corrections for several comparisons, against reference libraries."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lifelines.statistics import multivariate_logrank_test
from scipy.stats import false_discovery_control
from statsmodels.stats.multitest import multipletests

from board.reckon.comparison import (
    LogRank,
    against_the_rest,
    against_the_rest_each,
    log_rank,
    log_rank_each,
)
from board.reckon.life_study import CLEAR, ENOUGH
from board.reckon.lives import Life
from board.reckon.refusal import Refusal
from board.reckon.several import benjamini_hochberg, holm

PROBABILITIES = st.lists(st.floats(0.0, 1.0), min_size=1, max_size=20)


def sample(random: np.random.Generator, number: int, scale: float) -> list[Life]:
    ages, ends = random.exponential(scale, number), random.uniform(0.2, 2.0, number)
    return [
        Life.failed(age) if age <= end else Life.unfinished(end)
        for age, end in zip(ages.round(1).tolist(), ends.round(1).tolist(), strict=True)
        if age > 0
    ]


def compared(groups: dict[str, list[Life]]) -> LogRank:
    answer = log_rank(groups)
    assert isinstance(answer, LogRank)
    return answer


@pytest.mark.parametrize("seed", range(5))
def test_three_groups_with_ties_agree_with_lifelines(seed: int) -> None:
    random = np.random.default_rng(seed)
    groups = {name: sample(random, 25, scale) for name, scale in (("a", 1), ("b", 1), ("c", 2))}
    answer = compared(groups)
    every = [(life, name) for name, lives in groups.items() for life in lives]
    reference = multivariate_logrank_test(
        [life.lower for life, _ in every],
        [name for _, name in every],
        [life.is_failure for life, _ in every],
    )
    assert answer.degrees == 2
    assert answer.chi_square == pytest.approx(reference.test_statistic, rel=1e-9)
    assert answer.p_value == pytest.approx(reference.p_value, rel=1e-9)


def test_expected_failures_add_up_to_those_seen() -> None:
    random = np.random.default_rng(1)
    answer = compared({"a": sample(random, 30, 1.0), "b": sample(random, 10, 1.0)})
    seen = sum(group.failures for group in answer.groups)
    assert sum(group.expected for group in answer.groups) == pytest.approx(seen)
    assert answer.smallest_expected == min(group.expected for group in answer.groups)


def test_late_entry_keeps_a_part_out_of_earlier_risk_sets() -> None:
    """Two parts at risk at age 1 and two at age 3: by hand."""
    groups = {
        "new": [Life.failed(1), Life.failed(3)],
        "late": [Life.failed(4, entry=2), Life.unfinished(1.5)],
    }
    answer = compared(groups)
    # At 1: risk 2 new, 1 late; at 3: 1 and 1; at 4: 0 and 1.
    assert [group.expected for group in answer.groups] == pytest.approx([2 / 3 + 1 / 2, 11 / 6])
    assert answer.chi_square == pytest.approx((2 - 7 / 6) ** 2 / (2 / 9 + 1 / 4))


def test_false_finds_come_at_their_rate() -> None:
    random = np.random.default_rng(2)
    finds = sum(
        compared({"a": sample(random, 20, 1.0), "b": sample(random, 20, 1.0)}).p_value <= 0.05
        for _ in range(600)
    )
    assert 0.025 <= finds / 600 <= 0.08


@pytest.mark.parametrize(
    ("groups", "reason"),
    [
        ({}, "0 groups with lives"),
        ({"a": [Life.failed(1)] * 5, "b": []}, "1 groups with lives"),
        ({"a": [Life.failed(1)], "b": [Life.failed(2)]}, "2 failures on record"),
        ({"a": [Life.unfinished(1)], "b": [Life.unfinished(2)]}, "no failure among 2 lives"),
        ({"a": [Life.between(1, 2)] * 3, "b": [Life.failed(2)]}, "3 of 4 ages at failure"),
        (
            {"a": [Life.failed(1)] * 3, "b": [Life.unfinished(9, entry=5)] * 3},
            "no failure happened while parts of two groups",
        ),
    ],
    ids=["no group", "one group", "two failures", "no failure", "between", "apart in age"],
)
def test_comparison_is_refused_with_its_reason(groups: dict[str, list[Life]], reason: str) -> None:
    answer = log_rank(groups)
    assert isinstance(answer, Refusal)
    assert reason in answer.reason


def test_several_factors_are_adjusted_together_and_refusals_do_not_count() -> None:
    random = np.random.default_rng(3)
    side = {"left": sample(random, 30, 0.5), "right": sample(random, 30, 2.0)}
    batch = {"1": sample(random, 30, 1.0), "2": sample(random, 30, 1.0)}
    answers = log_rank_each({"side": side, "batch": batch, "style": {"x": [Life.failed(1)]}})
    assert isinstance(answers["style"], Refusal)
    first, second = answers["side"], answers["batch"]
    assert isinstance(first, LogRank)
    assert isinstance(second, LogRank)
    assert first.p_value < second.p_value
    assert first.p_adjusted == pytest.approx(2 * first.p_value)
    assert second.p_adjusted == pytest.approx(max(second.p_value, first.p_adjusted))


def test_each_group_against_the_rest_agrees_with_lifelines_and_statsmodels() -> None:
    """Each a two-sample test of lifelines, all three adjusted by statsmodels' Holm."""
    random = np.random.default_rng(4)
    groups = {name: sample(random, 25, scale) for name, scale in (("a", 1), ("b", 1), ("c", 3))}
    answers = against_the_rest_each({"batch": groups})["batch"]
    every = [(life, name) for name, lives in groups.items() for life in lives]
    alone = [
        multivariate_logrank_test(
            [life.lower for life, _ in every],
            [name == one for _, name in every],
            [life.is_failure for life, _ in every],
        ).p_value
        for one in groups
    ]
    adjusted = multipletests(alone, method="holm")[1]
    for one, p_value, p_adjusted in zip(groups, alone, adjusted, strict=True):
        answer = answers[one]
        assert isinstance(answer, LogRank)
        assert answer.groups[0].name == one
        assert answer.p_value == pytest.approx(p_value, rel=1e-9)
        assert answer.p_adjusted == pytest.approx(p_adjusted, rel=1e-9)


def test_of_two_groups_each_against_the_rest_is_one_question() -> None:
    random = np.random.default_rng(5)
    groups = {"left": sample(random, 25, 1.0), "right": sample(random, 25, 2.0)}
    whole = compared(groups)
    for answer in against_the_rest_each({"side": groups})["side"].values():
        assert isinstance(answer, LogRank)
        assert answer.p_adjusted == pytest.approx(whole.p_value)


def test_alike_groups_are_singled_out_no_more_often_than_promised() -> None:
    """Four groups of one law: the chance of any adjusted p below 0.05 is 0.05 or less."""
    random = np.random.default_rng(6)
    finds = 0
    for _ in range(400):
        groups = {name: sample(random, 20, 1.0) for name in "abcd"}
        answers = against_the_rest_each({"batch": groups})["batch"].values()
        finds += min(a.p_adjusted for a in answers if isinstance(a, LogRank)) < 0.05
    assert finds / 400 <= 0.08  # 3 standard errors above 0.05


def test_a_small_group_is_named_no_more_often_than_promised() -> None:
    """8 lives against 60 of one law, named where 5 failures are seen or expected on each side.

    The chi-square alone would err in 7 to 8 of 100 (measured with 5 and 6 lives).
    """
    random = np.random.default_rng(7)
    named = 0
    for _ in range(600):
        answer = compared({"a": sample(random, 8, 0.6), "b": sample(random, 60, 0.6)})
        enough = all(max(group.failures, group.expected) >= ENOUGH for group in answer.groups)
        named += enough and answer.p_value < CLEAR
    assert named / 600 <= 0.08


def test_a_group_without_lives_is_asked_about_nothing() -> None:
    assert set(against_the_rest({"a": [Life.failed(1)] * 3, "b": [Life.failed(2)], "c": []})) == {
        "a",
        "b",
    }


@settings(max_examples=15, deadline=None)
@given(PROBABILITIES)
def test_holm_agrees_with_statsmodels(chances: list[float]) -> None:
    reference = multipletests(chances, method="holm")[1]
    assert holm(chances) == pytest.approx(list(reference), abs=1e-12)


@given(PROBABILITIES)
def test_benjamini_hochberg_agrees_with_scipy(chances: list[float]) -> None:
    reference = false_discovery_control(chances, method="bh")
    assert benjamini_hochberg(np.array(chances)) == pytest.approx(reference, abs=1e-12)


def test_benjamini_and_hochberg_1995_worked_example() -> None:
    """Their 15 p-values: the four smallest are named at 0.05, section 3.2 (from memory)."""
    chances = np.array(
        [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262,
         0.5719, 0.6528, 0.7590, 1.0]
    )  # fmt: skip
    assert (benjamini_hochberg(chances) <= 0.05).sum() == 4
    assert sum(adjusted <= 0.05 for adjusted in holm(chances.tolist())) == 3
