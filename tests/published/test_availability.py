"""Availability and restoration: published data and results, recomputed by the product.

Where a number was not read but remembered, the test says "number from memory".
"""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.stats import chi2, invgauss

from board.reckon.availability import Availability, OpenStop, Stop, availability
from board.reckon.durations import (
    Restoration,
    TimeBetweenFailures,
    restoration,
    time_between_failures,
)
from board.reckon.limits import Limits
from board.reckon.spans import Span

# Von Alven 1964: 46 repair times of an airborne transceiver, h; also Chhikara and Folks 1977.
REPAIRS = (
    0.2, 0.3, *[0.5] * 4, 0.6, 0.6, 0.7, 0.7, 0.7, 0.8, 0.8, *[1.0] * 4, 1.1, 1.3, *[1.5] * 4, 2.0,
    2.0, 2.2, 2.5, 2.7, 3.0, 3.0, 3.3, 3.3, 4.0, 4.0, 4.5, 4.7, 5.0, 5.4, 5.4, 7.0, 7.5, 8.8, 9.0,
    10.3, 22.0, 24.5,
)  # fmt: skip


def span(start: float, end: float) -> Span:
    return Span(start=start, end=end)


def known(required: list[Span], stops: list[Stop], as_of: float) -> Availability:
    answer = availability(required, stops, as_of=as_of)
    assert isinstance(answer, Availability)
    return answer


def repairs() -> Restoration:
    stops = [span(100.0 * place, 100.0 * place + hours) for place, hours in enumerate(REPAIRS)]
    answer = restoration(stops, as_of=10_000, level=0.90)
    assert isinstance(answer, Restoration)
    return answer


def test_a1_mean_and_median_repair_time() -> None:
    """Mean 3.61 h, median 1.75 h: von Alven 1964, Chhikara and Folks 1977 (from memory)."""
    answer = repairs()
    assert answer.completed == len(REPAIRS) == 46
    assert answer.mean == pytest.approx(3.606522, abs=5e-7)
    assert answer.median == pytest.approx(1.75)


def test_a1_repair_times_are_not_exponential() -> None:
    """Exponential 90 % limits would be 2.8755 to 4.6810; inverse-Gaussian lambda 1.6589.

    Chhikara and Folks 1977 fit the inverse Gaussian, lambda 1.66 (from memory). The scatter of
    these times is greater than their mean, so the product's limits are wider than the exponential
    ones, which claim more than the times bear.
    """
    answer = repairs()
    assert isinstance(answer.mean_limits, Limits)
    twice = 2 * sum(REPAIRS)
    naive = twice / chi2.ppf(0.95, 92), twice / chi2.ppf(0.05, 92)
    assert naive == pytest.approx((2.8755, 4.6810), abs=5e-5)
    _, _, scale = invgauss.fit(REPAIRS, floc=0)
    assert scale == pytest.approx(1.658853, abs=5e-5)
    assert np.std(REPAIRS, ddof=1) > 1.3 * answer.mean
    assert answer.mean_limits.low < naive[0]
    assert answer.mean_limits.high > naive[1]


def markov(mtbf: float, mttr: float, time: float) -> tuple[float, float]:
    """Availability of a two-state loom, up at the start: at a time, and mean up to it."""
    fail, mend = 1 / mtbf, 1 / mttr
    steady, decay = mend / (fail + mend), fail + mend
    at = steady + (1 - steady) * math.exp(-decay * time)
    return at, steady + (1 - steady) * (1 - math.exp(-decay * time)) / (decay * time)


def recorded_share(horizon: float, histories: int) -> float:
    """Up time of simulated two-state looms as the product records it, MTBF 100 h, MTTR 4 h."""
    random = np.random.default_rng(4)
    required = down = 0.0
    for _ in range(histories):
        stops: list[Stop] = []
        clock = random.exponential(100)
        while clock < horizon:
            end = clock + random.exponential(4)
            stops.append(span(clock, end) if end < horizon else OpenStop(start=clock))
            clock = end + random.exponential(100)
        answer = known([span(0, horizon)], stops, horizon)
        required, down = required + answer.required, down + answer.down
    return 1 - down / required


def test_a2_two_state_markov_availability() -> None:
    """0.9615384615 in the end, 0.9643951376 at 10 h, 0.9752326394 over 10 h: closed form.

    The definitions are those of IEC 60050-192. The product's recorded availability of simulated
    histories comes to the same, and a short record that starts with a running loom flatters.
    """
    at, over = markov(100, 4, 10)
    assert at == pytest.approx(0.9643951376, abs=5e-11)
    assert over == pytest.approx(0.9752326394, abs=5e-11)
    assert markov(100, 4, 1e9)[1] == pytest.approx(0.9615384615, abs=1e-8)
    solved = solve_ivp(
        lambda _, up: (1 - up) / 4 - up / 100, (0, 10), [1.0], rtol=1e-10, atol=1e-12
    )
    assert solved.y[0, -1] == pytest.approx(at, abs=1e-8)
    assert recorded_share(10, 20_000) == pytest.approx(over, abs=0.002)
    assert recorded_share(40_000, 10) == pytest.approx(0.9615384615, abs=0.002)


def test_a3_inherent_from_operational_availability() -> None:
    """0.83 operational, 10.8 h of work, 40.4 h of waiting: 0.9585852206 inherent.

    The help page of the R package mcotear, example of ai_from_ao. The same stops, counted whole and
    counted without the wait: the product says which by which stops it is given.
    """
    up = 0.83 / 0.17 * 51.2
    starts = [(up + 51.2) * turn + up for turn in range(50)]
    end = (up + 51.2) * 50
    whole = known([span(0, end)], [span(start, start + 51.2) for start in starts], end)
    assert whole.share == pytest.approx(0.83, abs=1e-12)
    work: list[Stop] = [span(start + 40.4, start + 51.2) for start in starts]
    waits = [span(start, start + 40.4) for start in starts]
    edges = [0.0, *(edge for wait in waits for edge in (wait.start, wait.end)), end]
    without = [span(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    assert known(without, work, end).share == pytest.approx(0.9585852206, abs=5e-11)


def test_a4_definitions_worked_by_hand() -> None:
    """The definitions of EN 13306 and EN 15341 on one day, by hand (no published example).

    Required 08:00 to 20:00; two stops that overlap, a third, and one still open at 20:00.
    """
    stops: list[Stop] = [
        span(9, 9 + 40 / 60),
        span(9.5, 10 + 10 / 60),
        span(15, 15 + 20 / 60),
        OpenStop(start=19.5),
    ]
    answer = known([span(8, 20)], stops, 20)
    assert answer.down * 60 == pytest.approx(120)
    assert answer.share == pytest.approx(600 / 720)
    assert (answer.stops, answer.still_open) == (4, 1)
    between = time_between_failures(3, answer.up * 60)
    assert isinstance(between, TimeBetweenFailures)
    assert between.mean == pytest.approx(200)
    # The two that overlap were one time down, begun at 09:00 and ended at 10:10.
    restored = restoration([span(9, 10 + 10 / 60), *stops[2:]], as_of=20)
    assert isinstance(restored, Restoration)
    assert restored.mean * 60 == pytest.approx(45)
    assert (restored.completed, restored.open) == (2, 1)
