"""Recorded availability and spans: edges, a slow reference, and limits under simulation."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from board.reckon.availability import (
    Availability,
    OpenStop,
    PooledAvailability,
    Stop,
    availability,
    pooled_availability,
)
from board.reckon.limits import Limits
from board.reckon.refusal import Refusal
from board.reckon.spans import Span, common, joined, total

SPANS = st.lists(
    st.builds(
        lambda start, length: Span(start=float(start), end=float(start + length)),
        st.integers(0, 60),
        st.integers(1, 20),
    ),
    max_size=8,
)


def span(start: float, end: float) -> Span:
    return Span(start=start, end=end)


def known(required: list[Span], stops: list[Stop], as_of: float) -> Availability:
    answer = availability(required, stops, as_of=as_of)
    assert isinstance(answer, Availability)
    return answer


def covered(spans: list[Span], hour: int) -> bool:
    return any(each.start <= hour < each.end for each in spans)


@pytest.mark.parametrize(
    ("start", "end"), [(5.0, 5.0), (6.0, 5.0), (0.0, math.inf), (math.nan, 1.0)]
)
def test_empty_or_endless_span_raises(start: float, end: float) -> None:
    with pytest.raises(ValueError, match="a span needs"):
        Span(start=start, end=end)


def test_spans_that_touch_are_joined() -> None:
    assert joined([span(3, 5), span(1, 3), span(8, 9)]) == (span(1, 5), span(8, 9))


def test_spans_are_to_be_joined_before_they_are_compared() -> None:
    with pytest.raises(ValueError, match="joined"):
        common((span(0, 5), span(4, 9)), (span(0, 1),))


@given(SPANS, SPANS)
def test_joining_and_comparing_agree_with_counting_hours(
    left: list[Span], right: list[Span]
) -> None:
    both = common(joined(left), joined(right))
    hours = sum(covered(left, hour) and covered(right, hour) for hour in range(90))
    assert total(both) == hours
    assert total(joined(left)) == sum(covered(left, hour) for hour in range(90))


@given(SPANS, SPANS, st.lists(st.integers(0, 80).map(float), max_size=2), st.integers(1, 90))
def test_availability_agrees_with_counting_hours(
    required: list[Span], ended: list[Span], opened: list[float], as_of: int
) -> None:
    stops: list[Stop] = [*ended, *(OpenStop(start=start) for start in opened)]
    answer = availability(required, stops, as_of=as_of)
    wanted = [hour for hour in range(as_of) if covered(required, hour)]
    if not wanted:
        assert isinstance(answer, Refusal)
        return
    assert isinstance(answer, Availability)
    lost = sum(covered(ended, hour) or any(start <= hour for start in opened) for hour in wanted)
    assert answer.required == len(wanted)
    assert answer.down == lost
    assert answer.share == pytest.approx(1 - lost / len(wanted))
    assert answer.up + answer.down == pytest.approx(answer.required)
    assert 0.0 <= answer.share <= 1.0


def test_no_stop_is_wholly_available() -> None:
    answer = known([span(0, 8)], [], 8)
    assert (answer.share, answer.stops, answer.still_open) == (1.0, 0, 0)


def test_stop_outside_required_time_does_not_count() -> None:
    answer = known([span(8, 16)], [span(2, 6), span(17, 20)], 24)
    assert (answer.share, answer.stops) == (1.0, 0)


def test_stop_still_open_from_before_required_time_counts_whole() -> None:
    answer = known([span(8, 16)], [OpenStop(start=2)], 12)
    assert (answer.share, answer.required, answer.still_open) == (0.0, 4, 1)


def test_stop_that_begins_after_the_moment_asked_for_is_not_seen() -> None:
    answer = known([span(0, 24)], [OpenStop(start=20), span(21, 22)], 12)
    assert (answer.required, answer.down, answer.stops) == (12, 0, 0)


def test_stop_whose_end_is_not_known_yet_counts_to_the_moment_asked_for() -> None:
    assert known([span(0, 24)], [span(10, 20)], 12).down == 2


def test_no_required_time_is_refused() -> None:
    answer = availability([span(10, 20)], [], as_of=10)
    assert isinstance(answer, Refusal)


def test_pooled_share_weighs_looms_by_their_required_time() -> None:
    looms = [known([span(0, 100)], [span(0, 10)], 100), known([span(0, 300)], [], 300)]
    answer = pooled_availability(looms)
    assert isinstance(answer, PooledAvailability)
    assert answer.share == pytest.approx(1 - 10 / 400)
    assert (answer.units, answer.stops) == (2, 1)
    assert isinstance(answer.limits, Refusal)
    assert "2 looms or days" in answer.limits.reason


def test_pooling_nothing_is_refused() -> None:
    assert isinstance(pooled_availability([]), Refusal)


def test_pooled_limits_hold_at_about_their_level() -> None:
    random = np.random.default_rng(1)
    held = 0
    for _ in range(600):
        looms = []
        for _ in range(20):
            hours = float(random.uniform(100, 400))
            down = hours * float(random.beta(4, 36))
            looms.append(known([span(0, hours)], [span(0, down)], hours))
        answer = pooled_availability(looms, level=0.90)
        assert isinstance(answer, PooledAvailability)
        assert isinstance(answer.limits, Limits)
        held += answer.limits.low <= 0.9 <= answer.limits.high
    assert 0.86 <= held / 600 <= 0.93


def test_pooled_limits_stay_within_a_share() -> None:
    looms = [known([span(0, 10)], [span(0, 9)] if turn == 0 else [], 10) for turn in range(6)]
    answer = pooled_availability(looms, level=0.99)
    assert isinstance(answer, PooledAvailability)
    assert isinstance(answer.limits, Limits)
    assert answer.limits.high == 1.0
