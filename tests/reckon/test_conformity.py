"""Margins, words, chances and decisions: borders, roundings, refusals."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from board.mill import Limits
from board.reckon.conformity import (
    WearWord,
    conformance_probability,
    decide,
    gauge_word,
    margin,
    near_by_forecast,
    near_by_share,
    wear_word,
)
from board.reckon.kinds import Kind
from board.reckon.refusal import Refusal
from board.torque import Decision, Tolerance, reference_torque, torque_conformity

BELOW, ABOVE = Limits(low=2.40), Limits(high=1.5)
BAND = Limits.band(4.5, 5.5)


def test_the_words_are_exactly_these():
    assert [word.value for word in WearWord] == [
        "PAST LIMIT",
        "AT LIMIT",
        "near limit",
        "within limit",
        "gauge past",
        "gauge within",
        "gauge says neither",
        "no limit given",
    ]


@pytest.mark.parametrize(
    ("value", "limits", "uncertainty", "word"),
    [
        (2.38, BELOW, 0.02, WearWord.AT_LIMIT),
        (2.42, BELOW, 0.02, WearWord.AT_LIMIT),
        (2.3799, BELOW, 0.02, WearWord.PAST_LIMIT),
        (2.4201, BELOW, 0.02, WearWord.WITHIN_LIMIT),
        (2.40, BELOW, 0.0, WearWord.AT_LIMIT),
        (2.39, BELOW, 0.0, WearWord.PAST_LIMIT),
        (0.50, Limits(low=0.50), 0.02, WearWord.AT_LIMIT),
        (1.1, Limits(high=1.0), 0.1, WearWord.AT_LIMIT),
        (0.3, Limits(high=0.1), 0.2, WearWord.AT_LIMIT),
        (1.53, ABOVE, 0.02, WearWord.PAST_LIMIT),
        (1.0, ABOVE, 0.02, WearWord.WITHIN_LIMIT),
        (4.4, BAND, 0.05, WearWord.PAST_LIMIT),
        (5.46, BAND, 0.05, WearWord.AT_LIMIT),
        (5.0, BAND, 0.05, WearWord.WITHIN_LIMIT),
        (5.6, BAND, 0.05, WearWord.PAST_LIMIT),
        (5.0, Limits(), 0.05, WearWord.NO_LIMIT),
        (-5.47, Limits(high=-5.40), 0.07, WearWord.AT_LIMIT),
    ],
)
def test_word_of_a_reading(value, limits, uncertainty, word):
    assert wear_word(value, limits, uncertainty) is word


@given(
    limit=st.integers(10, 99999),
    uncertainty=st.integers(0, 500),
    places=st.integers(1, 4),
    side=st.sampled_from([-1, 1]),
)
def test_a_decimal_reading_exactly_the_uncertainty_away_is_at_the_limit(
    limit, uncertainty, places, side
):
    # As a fitter writes them: decimal numbers, which binary fractions only come near to.
    scale = 10.0**places
    value, border, u = (limit + side * uncertainty) / scale, limit / scale, uncertainty / scale
    assert wear_word(value, Limits(low=border), u) is WearWord.AT_LIMIT
    assert wear_word(value, Limits(high=border), u) is WearWord.AT_LIMIT
    one_more = (limit + side * (uncertainty + 1)) / scale
    past = WearWord.PAST_LIMIT if side < 0 else WearWord.WITHIN_LIMIT
    assert wear_word(one_more, Limits(low=border), u) is past


def test_margin_is_positive_inside_and_to_the_nearest_limit():
    assert margin(2.5, BELOW) == pytest.approx(0.1)
    assert margin(2.3, BELOW) == pytest.approx(-0.1)
    assert margin(1.4, ABOVE) == pytest.approx(0.1)
    assert margin(4.7, BAND) == pytest.approx(0.2)
    assert margin(5.7, BAND) == pytest.approx(-0.2)
    assert margin(1.0, Limits()) == Refusal(reason="no limit given")


def test_near_limit_by_forecast_or_by_share_of_life():
    within = WearWord.WITHIN_LIMIT
    assert near_by_forecast(within, low=90.0, until_check=100.0) is WearWord.NEAR_LIMIT
    assert near_by_forecast(within, low=110.0, until_check=100.0) is within
    assert near_by_forecast(WearWord.PAST_LIMIT, 0.0, 100.0) is WearWord.PAST_LIMIT
    assert near_by_forecast(WearWord.AT_LIMIT, 0.0, 100.0) is WearWord.AT_LIMIT
    assert near_by_share(within, 2.54, BELOW, new=3.10, share=0.20) is WearWord.NEAR_LIMIT
    assert near_by_share(within, 2.55, BELOW, new=3.10, share=0.20) is within
    assert near_by_share(WearWord.NO_LIMIT, 2.0, Limits(), 3.1, 0.2) is WearWord.NO_LIMIT


@pytest.mark.parametrize(
    ("kind", "bound", "limits", "word"),
    [
        # A 1.5 mm side-wear gauge that enters fully asks for replacement: common practice, no source.
        (Kind.ABOVE, 1.5, ABOVE, WearWord.GAUGE_PAST),
        (Kind.BELOW, 1.5, ABOVE, WearWord.GAUGE_WITHIN),
        (Kind.ABOVE, 1.6, ABOVE, WearWord.GAUGE_PAST),
        (Kind.BELOW, 1.2, ABOVE, WearWord.GAUGE_WITHIN),
        (Kind.BELOW, 2.40, BELOW, WearWord.GAUGE_PAST),
        (Kind.ABOVE, 2.40, BELOW, WearWord.GAUGE_WITHIN),
        (Kind.ABOVE, 5.5, BAND, WearWord.GAUGE_PAST),
        (Kind.BELOW, 4.5, BAND, WearWord.GAUGE_PAST),
        (Kind.ABOVE, 1.0, Limits(), WearWord.NO_LIMIT),
    ],
)
def test_word_of_a_gauge(kind, bound, limits, word):
    assert gauge_word(kind, bound, limits) is word


@pytest.mark.parametrize(
    ("kind", "bound", "limits"),
    [
        (Kind.ABOVE, 1.2, ABOVE),
        (Kind.BELOW, 1.7, ABOVE),
        (Kind.BELOW, 2.5, BELOW),
        (Kind.BELOW, 5.0, BAND),
        (Kind.ABOVE, 5.0, BAND),
    ],
)
def test_a_gauge_that_leaves_both_sides_open_is_refused(kind, bound, limits):
    answer = gauge_word(kind, bound, limits)
    assert isinstance(answer, Refusal)
    assert "says nothing about the limit" in answer.reason


def test_a_plain_reading_is_no_gauge_verdict():
    with pytest.raises(ValueError, match="plain reading"):
        gauge_word(Kind.EXACT, 1.5, ABOVE)


def test_chance_without_uncertainty_or_limits():
    assert conformance_probability(2.40, BELOW, 0.0) == 1.0
    assert conformance_probability(2.39, BELOW, 0.0) == 0.0
    assert conformance_probability(99.0, Limits(), 0.1) == 1.0


@given(value=st.floats(3.0, 7.0), u=st.floats(1e-6, 2.0), shift=st.floats(0.0, 1.0))
def test_chances_of_the_sides_add_up(value, u, shift):
    inside = conformance_probability(value, BAND, u)
    below = 1.0 - conformance_probability(value, Limits(low=4.5), u)
    above = 1.0 - conformance_probability(value, Limits(high=5.5), u)
    assert 0.0 <= inside <= 1.0
    assert inside + below + above == pytest.approx(1.0, abs=1e-9)
    higher = conformance_probability(value + shift, Limits(low=4.5), u)
    assert higher >= 1.0 - below - 1e-12


def test_decision_with_a_guard_band():
    assert decide(2.43, BELOW, 0.03) is Decision.CONFORMING
    assert decide(2.42, BELOW, 0.03) is Decision.UNDECIDED
    assert decide(2.38, BELOW, 0.03) is Decision.UNDECIDED
    assert decide(2.36, BELOW, 0.03) is Decision.NOT_CONFORMING
    assert decide(2.42, BELOW, 0.03, guard_factor=0.5) is Decision.CONFORMING
    assert decide(2.40, BELOW, 0.03, guard_factor=0.0) is Decision.CONFORMING
    assert decide(2.39, BELOW, 0.0) is Decision.NOT_CONFORMING
    assert isinstance(decide(1.0, Limits(), 0.1), Refusal)


@given(indicated=st.floats(0.1, 200.0), tool=st.floats(0.0, 20.0), wider=st.floats(0.0, 10.0))
def test_a_worse_tool_never_turns_a_torque_around(indicated, tool, wider):
    tolerance = Tolerance.percent(10.0, 8.0)
    sharp = torque_conformity(indicated, tolerance, tool)
    blunt = torque_conformity(indicated, tolerance, tool + wider)
    assert blunt in (sharp, Decision.UNDECIDED)


def test_absolute_tolerance_and_guard_factor():
    tolerance = Tolerance(required=0.80, allowed=0.05)
    assert torque_conformity(0.85, tolerance) is Decision.CONFORMING
    assert torque_conformity(0.86, tolerance) is Decision.NOT_CONFORMING
    assert torque_conformity(0.80, tolerance, tool_tolerance=6.0) is Decision.UNDECIDED
    assert torque_conformity(0.80, tolerance, 6.0, guard_factor=0.5) is Decision.CONFORMING


def test_nonsense_is_refused():
    with pytest.raises(ValueError, match="band"):
        Limits.band(5.0, 5.0)
    with pytest.raises(ValueError, match="uncertainty"):
        wear_word(1.0, BELOW, -0.1)
    with pytest.raises(ValueError, match="uncertainty"):
        wear_word(1.0, BELOW, float("nan"))
    with pytest.raises(ValueError, match="tolerance"):
        Tolerance(required=1.0, allowed=-0.1)
    with pytest.raises(ValueError, match="tool tolerance"):
        torque_conformity(1.0, Tolerance(required=1.0, allowed=0.1), -1.0)
    with pytest.raises(ValueError, match="no reference torque"):
        reference_torque(1.0, -100.0)
