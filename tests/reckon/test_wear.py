"""The forecast: what it refuses, what moves it, and its numbers against slow references."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from board.reckon.crossing import Crossing
from board.reckon.fleetcurve import mean_curves, straight
from board.reckon.forecast import Forecast, Method, NoForecast, Unbounded, p_before, soonest
from board.reckon.kinds import Kind
from board.reckon.learning import bracketed, crossings
from board.reckon.ownline import own_lines
from board.reckon.refusal import Refusal
from board.reckon.series import Life, Origin, Quantity, Series, Toward, exact_series, pack
from board.reckon.student import student_cdf, student_quantile
from board.reckon.tracking import (
    AGE,
    OFFSET,
    RATE,
    Fleet,
    Grid,
    Readings,
    Straightened,
    evidence,
    track,
)
from board.reckon.wear import forecasts, study

TAPE = Quantity(limit=2.40, toward=Toward.DOWN, uncertainty=0.03, new=3.10)
YOUNG = Refusal(reason="0 past lives with two readings, a fleet needs 4")


def tape_life(rate: float, seed: int, power: float = 1.0) -> Life:
    """A tape that wears from 3.10 mm, read every 100 h until past 2.40 mm."""
    noise = np.random.default_rng(seed).normal(0.0, 0.015, 40)
    use = np.arange(40) * 100.0
    value = 3.10 - 0.70 * (use * rate / 1000.0) ** power + noise
    last = int(np.argmax(value <= 2.40))
    return Life(series=exact_series(use[: last + 1], value[: last + 1]), ended=use[last])


def tape_fleet(lives: int = 12, power: float = 1.0) -> list[Life]:
    rates = np.random.default_rng(4).normal(1.0, 0.15, lives)
    return [tape_life(rate, 100 + i, power) for i, rate in enumerate(rates)]


def one(series: Series, quantity: Quantity, known) -> Forecast:
    answer = forecasts([series], quantity, known)[0]
    assert isinstance(answer, Forecast), answer
    return answer


def reason(series: Series, quantity: Quantity, known) -> str:
    answer = forecasts([series], quantity, known)[0]
    assert isinstance(answer, NoForecast), answer
    return answer.reason


def with_bound(series: Series, use: float, value: float, kind: Kind) -> Series:
    return Series(
        use=np.append(series.use, use),
        value=np.append(series.value, value),
        kind=np.append(series.kind, int(kind)),
        level=np.append(series.level, series.level[-1]),
        now=use,
        origin=series.origin,
    )


NOTHING = Series(
    use=np.zeros(0), value=np.zeros(0), kind=np.zeros(0, int), level=np.zeros(0, int), now=50.0
)
PART = exact_series([0, 100, 200, 300], [3.10, 3.04, 2.95, 2.89])


# --- refusals -------------------------------------------------------------------------------------


def test_no_past_life_and_fewer_than_three_readings_is_refused():
    known = study([], TAPE)
    assert known == YOUNG
    assert "0 past lives" in reason(exact_series([0, 100], [3.1, 3.0]), TAPE, known)
    assert "2 so far" in reason(exact_series([0, 100], [3.1, 3.0]), TAPE, known)
    answer = one(PART, TAPE, known)
    assert answer.method is Method.OWN
    assert (answer.readings, answer.past_lives) == (4, 0)
    assert answer.basis.startswith("own straight line of 4 readings; 0 past lives")


def test_three_past_lives_are_no_fleet_yet_and_four_are():
    assert study(tape_fleet(3), TAPE) == Refusal(
        reason="3 past lives with two readings, a fleet needs 4"
    )
    assert not isinstance(study(tape_fleet(4), TAPE), Refusal)


def test_lives_with_one_reading_do_not_count():
    single = Life(series=exact_series([0], [3.1]), ended=900.0)
    assert isinstance(study([*tape_fleet(3), single, single], TAPE), Refusal)


def test_no_reading_since_fitting_is_refused():
    assert reason(NOTHING, TAPE, study(tape_fleet(), TAPE)) == "no reading since it was fitted"
    assert reason(NOTHING, TAPE, YOUNG) == "no reading since it was fitted"


def test_past_the_limit_is_refused_but_at_the_limit_is_forecast():
    known = study(tape_fleet(), TAPE)
    past = exact_series([0, 500, 1000], [3.1, 2.7, 2.36])
    assert reason(past, TAPE, known) == "the last reading is past the limit"
    at_limit = one(exact_series([0, 500, 1000], [3.1, 2.74, 2.38]), TAPE, known)
    assert (at_limit.low, at_limit.median) == (0.0, 0.0)
    assert at_limit.p_before(0.0) > 0.5


def test_a_gauge_past_the_limit_is_refused():
    known = study(tape_fleet(), TAPE)
    enters = with_bound(PART, 350.0, 2.40, Kind.BELOW)
    assert reason(enters, TAPE, known) == "the last reading is past the limit"


def test_readings_that_do_not_wear():
    flat = exact_series([0, 100, 200, 300], [3.00, 3.00, 3.00, 3.00])
    assert "show no wear toward the limit" in reason(flat, TAPE, YOUNG)
    rising = exact_series([0, 100, 200, 300], [3.00, 3.01, 3.02, 3.04])
    assert "show no wear toward the limit" in reason(rising, TAPE, YOUNG)
    hardly = one(exact_series([0, 100, 200], [3.00, 3.01, 2.99]), TAPE, YOUNG)
    assert isinstance(hardly.high, Unbounded)
    assert hardly.p_before(1e9) < 0.95


def test_a_fleet_that_wears_the_other_way_is_refused():
    wrong = Quantity(limit=2.40, toward=Toward.UP, uncertainty=0.03)
    assert study(tape_fleet(), wrong) == Refusal(
        reason="the readings of past lives do not go toward the limit"
    )


def test_a_fleet_replaced_at_a_third_of_its_wear_is_refused_and_at_four_fifths_is_told():
    def cut(share: float) -> list[Life]:
        lives = []
        for life in tape_fleet():
            kept = int((life.series.value > 3.10 - 0.70 * share).sum())
            use, value = life.series.use[:kept], life.series.value[:kept]
            lives.append(Life(series=exact_series(use, value), ended=float(use[-1])))
        return lives

    early = study(cut(0.4), TAPE)
    assert isinstance(early, Refusal)
    assert "of their wear, the rest is unknown" in early.reason
    later, whole = study(cut(0.85), TAPE), study(tape_fleet(), TAPE)
    told, sure = one(PART, TAPE, later), one(PART, TAPE, whole)
    assert "past lives seen only to" in told.basis
    assert "seen only" not in sure.basis
    # What nobody has seen is less certain.
    assert told.high - told.low > sure.high - sure.low


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"value": np.array([3.1, 3.0])}, "one length"),
        ({"use": np.array([0.0, 200.0, 100.0, 300.0])}, "step back"),
        ({"now": 200.0}, "step back"),
        ({"value": np.array([3.1, 3.0, np.nan, 2.9])}, "finite"),
        ({"now": math.inf}, "finite"),
        ({"kind": np.array([0, 0, 2, 0])}, "BELOW, EXACT or ABOVE"),
    ],
)
def test_malformed_series_raise(change, message):
    with pytest.raises(ValueError, match=message):
        forecasts([replace(PART, **change)], TAPE, YOUNG)


def test_no_series_no_forecasts():
    assert forecasts([], TAPE, YOUNG) == []


# --- what a forecast says -------------------------------------------------------------------------


@pytest.mark.parametrize("known", [study(tape_fleet(), TAPE), YOUNG], ids=["fleet", "own line"])
def test_band_and_chances_agree(known):
    answer = one(PART, TAPE, known)
    assert answer.level == 0.90
    assert 0.0 < answer.low < answer.median < answer.high
    assert answer.p_before(answer.low) == pytest.approx(0.05, abs=1e-9)
    assert answer.p_before(answer.median) == pytest.approx(0.50, abs=1e-9)
    assert answer.p_before(answer.high) == pytest.approx(0.95, abs=1e-9)
    asked = np.linspace(0.0, 3000.0, 61)
    chances = p_before([answer, answer], asked)
    assert chances.shape == (2, 61)
    assert (np.diff(chances[0]) >= -1e-12).all()
    assert chances[1, 7] == answer.p_before(asked[7])


def test_p_before_of_nothing():
    assert p_before([], np.array([8.0, 24.0])).shape == (0, 2)


def test_hours_go_by():
    known = study(tape_fleet(), TAPE)
    now, later = one(PART, TAPE, known), one(replace(PART, now=400.0), TAPE, known)
    assert later.median == pytest.approx(now.median - 100.0, rel=1e-6)
    overdue = one(replace(PART, now=2500.0), TAPE, known)
    assert overdue.median == 0.0
    assert overdue.p_before(0.0) > 0.9


def test_straight_fleet_is_seen_as_a_line_and_a_curved_one_on_its_curve():
    straight_study, curved = study(tape_fleet(), TAPE), study(tape_fleet(power=2.0), TAPE)
    assert straight_study.method is Method.LINE
    assert curved.method is Method.CURVE
    errors = dict(curved.errors)
    assert errors[Method.CURVE] < 0.5 * errors[Method.LINE]
    answer = one(PART, TAPE, straight_study)
    assert answer.basis == "line of 4 readings shrunk toward 12 past lives"
    curve_answer = one(PART, TAPE, curved)
    assert curve_answer.basis == (
        "effective age from 4 readings on the mean curve of 12 past lives"
    )


def test_the_line_is_shrunk_toward_the_fleet():
    known = study(tape_fleet(), TAPE)
    fast = exact_series([0, 100, 200], [3.10, 2.96, 2.83])
    own, shrunk = one(fast, TAPE, YOUNG), one(fast, TAPE, known)
    fleet_rate = one(exact_series([0], [3.10]), TAPE, known).approach.rate
    own_rate = own.approach.rate / 0.70
    assert fleet_rate < shrunk.approach.rate < own_rate


def test_more_readings_narrow_the_band():
    known = study(tape_fleet(), TAPE)
    use, value = np.arange(8) * 100.0, 3.10 - 0.07 * np.arange(8)
    relative = []
    for n in (1, 3, 5, 7):
        answer = one(exact_series(use[:n], value[:n]), TAPE, known)
        relative.append(answer.high - answer.low)
    assert sorted(relative, reverse=True) == relative


def test_a_gauge_reading_moves_the_forecast():
    known = study(tape_fleet(), TAPE)
    plain = one(replace(PART, now=600.0), TAPE, known)
    # Still above 2.75 at 600 h, where the line expects less: longer. Below 2.60: shorter.
    longer = one(with_bound(PART, 600.0, 2.75, Kind.ABOVE), TAPE, known)
    shorter = one(with_bound(PART, 600.0, 2.60, Kind.BELOW), TAPE, known)
    assert shorter.median < plain.median < longer.median
    own_plain = one(replace(PART, now=600.0), TAPE, YOUNG)
    own_longer = one(with_bound(PART, 600.0, 2.75, Kind.ABOVE), TAPE, YOUNG)
    assert own_plain.median < own_longer.median
    # A bound that was certain anyway says nothing.
    idle = one(with_bound(PART, 600.0, 3.60, Kind.BELOW), TAPE, known)
    assert idle.median == pytest.approx(plain.median, rel=1e-3)


def gauged(rate: float, checks: int | None = None) -> Series:
    """A gap gauge at the limit: stays out until the wear has passed it."""
    gauge = np.arange(1, 40) * 100.0
    kind = np.where(gauge * rate / 1000.0 >= 1.0, int(Kind.ABOVE), int(Kind.BELOW))
    end = int(np.argmax(kind > 0)) + 1 if checks is None else checks
    return Series(
        use=gauge[:end],
        value=np.full(end, 1.5),
        kind=kind[:end],
        level=np.zeros(end, int),
        now=gauge[end - 1],
    )


def test_a_part_read_only_by_a_gauge_has_a_forecast():
    gap = Quantity(limit=1.5, toward=Toward.UP, uncertainty=0.05, new=0.2)
    rates = np.random.default_rng(2).normal(1.0, 0.2, 12)
    lives = [Life(series=s, ended=s.now) for s in (gauged(rate) for rate in rates)]
    known = study(lives, gap)
    young, old = one(gauged(1.0, 1), gap, known), one(gauged(0.8, 11), gap, known)
    assert 700 < young.median + 100 < 1300
    # A part that has outlived the typical life is expected to end soon, but has not ended.
    assert 0 < old.median < 400
    assert young.low > 100


def test_an_adjustment_restarts_the_level_and_keeps_the_rate():
    known = study(tape_fleet(), TAPE)
    use = np.arange(7) * 100.0
    value = 3.10 - 0.07 * np.arange(7)
    value[5:] += 0.25
    set_anew = Series(
        use=use,
        value=value,
        kind=np.zeros(7, int),
        level=np.array([0, 0, 0, 0, 0, 1, 1]),
        now=600.0,
    )
    for taught in (known, YOUNG):
        answer = one(set_anew, TAPE, taught)
        assert answer.median == pytest.approx((value[-1] - 2.40) / 0.0007, rel=0.12)
    not_told = one(replace(set_anew, level=np.zeros(7, int)), TAPE, YOUNG)
    assert not_told.median > one(set_anew, TAPE, YOUNG).median


def test_own_line_after_an_adjustment_needs_a_reading_more():
    level = np.array([0, 0, 1])
    series = replace(exact_series([0, 100, 200], [3.1, 3.0, 3.05]), level=level)
    assert "one more each time the reading was set anew: 3 so far" in reason(series, TAPE, YOUNG)


def test_own_line_needs_readings_at_different_uses():
    series = exact_series([100, 100, 100], [3.0, 3.01, 2.99])
    assert "at different uses" in reason(series, TAPE, YOUNG)


def test_a_part_of_unknown_age_is_taken_by_its_reading():
    curved = study(tape_fleet(power=2.0), TAPE)
    # 2.75 mm is half worn, and on this curve seven tenths of a life old.
    series = exact_series([0, 50], [2.76, 2.70], origin=Origin.FIRST_READING)
    answer = one(series, TAPE, curved)
    assert 150 < answer.median < 450
    fitted = one(exact_series([0, 50], [2.76, 2.70]), TAPE, curved)
    assert fitted.median != pytest.approx(answer.median, rel=0.05)


def test_soonest_of_the_two_ends_of_a_band():
    known = study(tape_fleet(), TAPE)
    near, far = one(replace(PART, now=500.0), TAPE, known), one(PART, TAPE, known)
    none = NoForecast(reason="x")
    assert soonest(near, far) is near
    assert soonest(far, near) is near
    assert soonest(none, far) is far
    assert soonest(far, none) is far
    assert soonest(none, none) is none


# --- properties -----------------------------------------------------------------------------------


def test_a_batch_answers_like_one_at_a_time():
    for known in (study(tape_fleet(), TAPE), study(tape_fleet(power=2.0), TAPE), YOUNG):
        batch = [
            PART,
            NOTHING,
            exact_series([0, 100, 200, 250, 280, 300], [3.1, 3.0, 2.96, 2.9, 2.88, 2.85]),
            with_bound(PART, 600.0, 2.60, Kind.BELOW),
            exact_series([0, 700], [3.1, 2.3]),
        ]
        together = forecasts(batch, TAPE, known)
        for series, answer in zip(batch, together, strict=True):
            alone = forecasts([series], TAPE, known)[0]
            assert type(alone) is type(answer)
            if isinstance(answer, Forecast) and isinstance(alone, Forecast):
                assert alone.median == pytest.approx(answer.median, rel=1e-9)
                assert alone.low == pytest.approx(answer.low, rel=1e-9)
            else:
                assert alone == answer


@settings(max_examples=25, deadline=None)
@given(unit=st.floats(0.01, 1000.0), hours=st.floats(0.01, 1000.0), seed=st.integers(0, 50))
def test_units_and_direction_change_nothing_but_the_hours(unit, hours, seed):
    power = 1.0 + (seed % 2)
    lives = tape_fleet(6, power)
    mine = one(PART, TAPE, study(lives, TAPE))

    def turned(series: Series) -> Series:
        return exact_series(series.use * hours, 10.0 * unit - unit * series.value)

    mirror = Quantity(
        limit=10.0 * unit - unit * 2.40,
        toward=Toward.UP,
        uncertainty=unit * 0.03,
        new=10.0 * unit - unit * 3.10,
    )
    other_lives = [Life(series=turned(x.series), ended=x.ended * hours) for x in lives]
    theirs = one(turned(PART), mirror, study(other_lives, mirror))
    for name in ("low", "median", "high"):
        assert getattr(theirs, name) == pytest.approx(hours * getattr(mine, name), rel=1e-5)


def test_the_order_of_past_lives_changes_nothing():
    lives = tape_fleet(9, 2.0)
    forth, back = study(lives, TAPE), study(lives[::-1], TAPE)
    assert one(PART, TAPE, forth).high == pytest.approx(one(PART, TAPE, back).high, rel=1e-9)


# --- slow references ------------------------------------------------------------------------------


def dense_readings(rng: np.random.Generator, n: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return np.sort(rng.uniform(0, 1, n)), rng.normal(0.5, 0.3, n), rng.uniform(0.001, 0.01, n)


def test_filter_agrees_with_conditioning_one_big_normal_distribution():
    rng = np.random.default_rng(1)
    use, wear, noise = dense_readings(rng, 7)
    start, rate, v_start, cov, v_rate, process, scatter = 0.1, 0.9, 0.04, 0.01, 0.09, 0.02, 0.003
    prior = v_start + cov * (use[:, None] + use) + v_rate * use[:, None] * use
    prior += process * np.minimum(use[:, None], use)
    total = prior + np.diag(noise + scatter)
    # Covariance of the readings with the final age, rate and offset.
    with_rate = cov + v_rate * use
    with_offset = v_start + cov * use
    with_age = use[-1] * (cov + v_rate * use) + process * np.minimum(use, use[-1])
    links = np.stack([with_age, with_rate, with_offset])
    solved = np.linalg.solve(total, wear - start - rate * use)
    expected = np.array([rate * use[-1], rate, start]) + links @ solved
    own = np.array(
        [
            [v_rate * use[-1] ** 2 + process * use[-1], v_rate * use[-1], cov * use[-1]],
            [v_rate * use[-1], v_rate, cov],
            [cov * use[-1], cov, v_start],
        ]
    )
    spread = own - links @ np.linalg.solve(total, links.T)

    readings = Readings(
        use=use[None],
        wear=wear[None],
        noise=noise[None],
        kind=np.zeros((1, 7), int),
        fresh=np.zeros((1, 7), bool),
        there=np.ones((1, 7), bool),
        fitted=np.ones(1, bool),
    )
    names = ("start", "rate", "var_start", "cov", "var_rate", "process", "scatter")
    numbers = (start, rate, v_start, cov, v_rate, process, scatter)
    fleet = Fleet(**{name: np.array([v]) for name, v in zip(names, numbers, strict=True)})
    path = track(readings, fleet, straight(1))
    assert path.mean[:, 0, -1] == pytest.approx(expected, rel=1e-9)
    assert path.cov[:, :, 0, -1] == pytest.approx(spread, rel=1e-8, abs=1e-12)


def test_evidence_agrees_with_the_multivariate_normal_density():
    rng = np.random.default_rng(2)
    use, wear, noise = dense_readings(rng, 6)
    slope = rng.uniform(0.5, 2.0, 6)
    grid = Grid(var_rate=np.array([0.09]), process=np.array([0.02]), scatter=np.array([0.003]))
    lives = Straightened(
        use=use[None],
        wear=wear[None],
        slope=slope[None],
        noise=noise[None],
        fresh=np.zeros((1, 6), bool),
        there=np.ones((1, 6), bool),
        fitted=np.ones(1, bool),
    )
    got = evidence(lives, grid, 0.04)
    means = np.array([0.1, 0.9])
    age = 0.09 * use[:, None] * use + 0.02 * np.minimum(use[:, None], use)
    total = slope[:, None] * age * slope + 0.04 + np.diag(noise + 0.003)
    expected = stats.multivariate_normal(means[0] + slope * means[1] * use, total).logpdf(wear)
    twice = (
        got.log_det[0, 0]
        + got.square[0, 0]
        - 2 * means @ got.cross[0, 0]
        + means @ got.information[0, 0] @ means
        + 6 * math.log(2 * math.pi)
    )
    assert -0.5 * twice == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize("kind", [Kind.BELOW, Kind.ABOVE])
@pytest.mark.parametrize("bound", [-0.4, 0.2, 0.5, 1.4])
def test_a_bound_leaves_the_moments_of_the_cut_distribution(kind, bound):
    # One bound read at use 1: the exact posterior of the offset, by numerical integration.
    fleet = Fleet(
        start=np.array([0.3]),
        rate=np.array([0.0]),
        var_start=np.array([0.09]),
        cov=np.zeros(1),
        var_rate=np.array([1e-12]),
        process=np.zeros(1),
        scatter=np.zeros(1),
    )
    readings = Readings(
        use=np.ones((1, 1)),
        wear=np.array([[bound]]),
        noise=np.array([[0.01]]),
        kind=np.array([[int(kind)]]),
        fresh=np.zeros((1, 1), bool),
        there=np.ones((1, 1), bool),
        fitted=np.ones(1, bool),
    )
    path = track(readings, fleet, straight(1))
    x = np.linspace(-3, 4, 20001)
    weight = stats.norm.pdf(x, 0.3, 0.3) * stats.norm.cdf(int(kind) * (x - bound) / 0.1)
    weight /= weight.sum()
    mean = (weight * x).sum()
    assert path.mean[OFFSET, 0, 0] == pytest.approx(mean, abs=1e-6)
    assert path.cov[OFFSET, OFFSET, 0, 0] == pytest.approx(
        (weight * (x - mean) ** 2).sum(), rel=1e-5
    )


@given(t=st.floats(-30, 30), df=st.integers(1, 80))
def test_student_agrees_with_the_reference_library(t, df):
    # Near zero the reference is the coarser one: for t = 1e-9, df = 1 it answers 0.5 flat.
    assert float(student_cdf(t, df)) == pytest.approx(stats.t.cdf(t, df), abs=1e-8)
    tail = float(student_cdf(-abs(t) - 0.1, df))
    assert tail == pytest.approx(stats.t.cdf(-abs(t) - 0.1, df), abs=1e-12)


@given(t=st.floats(-60, 60), df=st.integers(60, 20_000))
def test_student_of_many_degrees_of_freedom_is_within_its_bound(t, df):
    assert float(student_cdf(t, df)) == pytest.approx(stats.t.cdf(t, df), abs=2e-14)


@given(p=st.floats(0.001, 0.999), df=st.integers(1, 300))
def test_student_quantile_agrees_with_the_reference_library(p, df):
    assert student_quantile(p, df) == pytest.approx(stats.t.ppf(p, df), rel=1e-9, abs=1e-9)


def test_student_refuses_nonsense():
    with pytest.raises(ValueError, match="degrees"):
        student_cdf(1.0, 0)
    with pytest.raises(ValueError, match="probability"):
        student_quantile(1.0, 3)
    line = own_lines(pack([PART], TAPE), 0.015).crossing
    with pytest.raises(ValueError, match="probability"):
        line.quantile(0.0)


def decimal(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers such as arise: none so small that squaring them is nothing."""
    return st.floats(low, high).map(lambda v: round(v, 5))


@settings(max_examples=300, deadline=None)
@given(
    margin=decimal(0.01, 2.0),
    rate=decimal(-0.5, 3.0),
    v0=decimal(0.0, 0.2),
    vr=decimal(0.0, 1.0),
    correlation=decimal(-0.9, 0.9),
    process=decimal(0.0, 0.2),
    df=st.integers(1, 40),
    p=st.sampled_from([0.05, 0.25, 0.75, 0.95]),
)
def test_quantiles_agree_with_a_root_search(margin, rate, v0, vr, correlation, process, df, p):
    assume(v0 + vr + process > 1e-6)
    line = Crossing(
        margin=np.array([margin]),
        rate=np.array([rate]),
        var_margin=np.array([v0]),
        cov=np.array([correlation * math.sqrt(v0 * vr)]),
        var_rate=np.array([vr]),
        process=np.array([process]),
        df=np.array([df]),
    )
    found = float(line.quantile(p)[0])

    def over(h: float) -> float:
        return float(line.p_before(h)[0]) - p

    if found == 0.0:
        assert over(0.0) >= -1e-9
        return
    if math.isinf(found):
        # The limit is never that likely, however long; or a falling line only grazes that chance.
        assert over(1e7) < 1e-6 or rate <= 0.0
        return
    assert over(found) == pytest.approx(0.0, abs=1e-6)
    if p < 0.5 and rate > 0.0:
        first = next((h for h in np.linspace(0, found, 200)[1:-1] if over(h) > 1e-6), None)
        assert first is None
    if p < 0.5 and rate > 0.0 and over(10 * margin / rate) > 0 > over(0.0):
        root = optimize.brentq(over, 0.0, margin / rate)
        assert found == pytest.approx(root, rel=1e-5)


def test_mean_curve_finds_the_curve_and_leaves_lives_out():
    rng = np.random.default_rng(0)
    age = np.tile(np.linspace(0.0, 1.0, 11), 8)
    life = np.repeat(np.arange(8), 11)
    wear = age**1.8 + rng.normal(0, 0.005, age.size)
    wear[life == 3] += 0.3
    curves = mean_curves(age, wear, life, 8)
    at = np.linspace(0.1, 0.95, 12)
    without = curves.rows(np.full(12, 3))
    assert without.wear(at) == pytest.approx(at**1.8, abs=0.02)
    assert (curves.rows(np.full(12, 8)).wear(at) > without.wear(at) + 0.02).all()
    assert without.age(without.wear(at)) == pytest.approx(at, abs=1e-9)
    # Beyond the last reading it goes on as a power: 1.8 again, not a straight line.
    assert without.wear(np.full(12, 1.35))[0] == pytest.approx(1.35**1.8, rel=0.06)
    assert AGE != RATE


def test_readings_on_a_ruler_keep_the_noise_of_their_gauge():
    exact = exact_series([0, 100, 200, 300], [3.10, 3.04, 2.98, 2.92])
    perfect = one(exact, replace(TAPE, uncertainty=0.0), YOUNG)
    gauged_line = one(exact, TAPE, YOUNG)
    assert perfect.high - perfect.low < 1e-3
    assert gauged_line.high - gauged_line.low > 100.0


def test_two_verdicts_about_one_bound_are_one_reading_halfway_between_them():
    gap = Quantity(limit=1.5, toward=Toward.UP)
    packed, doubt = bracketed(pack([gauged(0.91), replace(PART, level=np.zeros(4, int))], gap))
    # It stayed out at 1000 h and entered at 1100 h.
    assert crossings(packed)[0] == 1050.0
    assert doubt[0, 10] == pytest.approx(100.0 / math.sqrt(12.0))
    assert doubt[0, :10].sum() == 0.0
    assert doubt[1].sum() == 0.0
    assert packed.kind[0].tolist()[:11] == [-1] * 10 + [0]
