"""Little logs to spares: what counts as used up, ages and paces by hand, and the order date."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from scipy import stats

from board.reckon.laws import LikelyLaws, WeibullLaw
from board.reckon.limits import Limits
from board.reckon.ordering import NoOrderYet, OrderBy
from board.reckon.refusal import Refusal
from board.reckon.spares_record import Spares, SparesOf, spares_on_record
from board.reckon.stock import AgedPart, Demand, ForecastPart, demand, demand_at_rate, together
from tests.reckon.little_log import summary_at

Make = Callable[..., Path]
REGISTER = """
[shed]
name = "Storeshed"
zone = "UTC"
shifts = { early = "06:00-14:00", late = "14:00-22:00", night = "22:00-06:00" }
[section.A]
looms = ["A01-A04"]
[part.tape]
[part.tape.thickness]
unit = "mm"
new = 3.0
replace_below = 2.0
tool_uncertainty = 0.02
[part.belt]
[spares]
tape = { stock = STOCK, lead_time = "5 days" }
"""
AT = datetime(2026, 11, 11, 6, 0, tzinfo=UTC)
RUNNING = "day 2026-11-01 early by KM\n06:00 shed running\n"


def spares(shed: Make, text: str, stock: int = 2, days: float = 10.0) -> Spares:
    folder = shed({"a.log": text}, REGISTER.replace("STOCK", str(stock)))
    return spares_on_record(summary_at(folder, AT), horizon=timedelta(days=days))


def of_tape(shed: Make, text: str, stock: int = 2, days: float = 10.0) -> SparesOf:
    (one,) = spares(shed, text, stock, days).parts
    return one


def known(answer: Demand | Refusal) -> Demand:
    assert isinstance(answer, Demand)
    return answer


def test_below_three_replacements_only_a_rate_is_left(shed: Make) -> None:
    """Two replacements in 4 looms x 10 days; 4 parts for 5 days more: negative binomial.

    Fitted at the log's beginning are three; the fourth is told of on the 11th only, its use since
    the log's beginning counts all the same.
    """
    text = RUNNING + "".join(f"06:00 A0{n} replaced tape\n" for n in (1, 2, 3))
    text += (
        "day 2026-11-06 early by KM\n06:00 A01 replaced tape worn\n06:00 A02 replaced tape early\n"
    )
    text += "day 2026-11-11 early by KM\n06:00 A04 tape 2.9 mm\n"
    one = of_tape(shed, text)
    assert isinstance(one.law, Refusal)
    assert (one.replaced, one.aged) == (2, 2)
    assert one.use == pytest.approx(4 * 240.0)
    assert (one.in_service.by_age, one.in_service.at_least, one.in_service.not_told) == (4, 1, 0)
    by_hand = stats.nbinom(2.5, 960 / (960 + 4 * 120))
    over = known(one.over_lead)
    assert over.probabilities[0] == pytest.approx(by_hand.pmf(0))
    assert over.runs_out(2) == pytest.approx(by_hand.sf(2))


def test_every_replacement_uses_a_spare_and_ages_count_from_three_on(shed: Make) -> None:
    """Early, worn and without reason alike: 48, 72 and 96 h are three lives that ended."""
    text = RUNNING + "".join(f"06:00 A0{n} replaced tape\n" for n in (1, 2, 3, 4))
    for n, day, why in ((1, 3, " early"), (2, 4, " worn"), (3, 5, "")):
        text += f"day 2026-11-0{day} early by KM\n06:00 A0{n} replaced tape{why}\n"
    one = of_tape(shed, text)
    assert isinstance(one.law, LikelyLaws)
    assert (one.replaced, one.aged, one.law.failures) == (3, 3, 3)
    assert one.in_service.by_age == 4
    ages = (192.0, 168.0, 144.0, 240.0)  # from the 3rd, 4th, 5th and 1st to the 11th
    by_hand = demand([AgedPart(age=a, pace=24.0) for a in ages], one.law, horizon=5.0)
    assert known(one.over_lead).mean == pytest.approx(known(by_hand).mean)


def wearing(readings: int, first: float, step: float, loom: str = "A01") -> str:
    """A part read each morning up to the 11th."""
    days = range(11 - readings + 1, 12)
    values = [first - step * i for i in range(readings)]
    return "".join(
        f"day 2026-11-{d:02} early by KM\n06:00 {loom} tape {v:.2f} mm\n"
        for d, v in zip(days, values, strict=True)
    )


def test_a_part_on_its_way_to_the_limit_is_wanted_by_its_forecast(shed: Make) -> None:
    """0.1 mm a day, 2.20 now: at 2.00 in two days; another at 2.90 after 10 days, never so soon."""
    text = RUNNING + wearing(9, 3.0, 0.1) + wearing(9, 3.0, 0.012, "A02")
    one = of_tape(shed, text)
    assert one.in_service.by_forecast == 2
    over = known(one.over_lead)
    assert 0.95 < over.mean < 1.1
    assert over.runs_out(2) < 0.01


def test_a_part_past_its_limit_is_wanted_now(shed: Make) -> None:
    one = of_tape(shed, RUNNING + "day 2026-11-10 early by KM\n06:00 A01 tape 1.5 mm\n", stock=0)
    assert known(one.over_lead).mean == pytest.approx(1.0, abs=1e-6)
    assert isinstance(one.order, OrderBy)
    assert one.order.offset < 0


def test_where_limits_are_answered_by_adjusting_no_forecast_is_used(shed: Make) -> None:
    text = RUNNING + "06:10 A02 adjusted tape\n" + wearing(9, 3.0, 0.1)
    one = of_tape(shed, text)
    assert one.adjusted == 1
    assert not one.forecasts_used
    assert one.in_service.by_forecast == 0


def test_a_loom_of_unknown_use_is_left_out_and_counted(shed: Make) -> None:
    one = of_tape(shed, "day 2026-11-10 early by KM\n06:00 A01 tape 2.8 mm\n")
    assert one.in_service.left_out == 1
    assert isinstance(one.over_lead, Refusal)
    assert isinstance(one.order, Refusal)


def test_a_place_whose_part_was_moved_away_is_empty_and_was_told_of(shed: Make) -> None:
    text = RUNNING + "06:00 A01 tape 2.9 mm\n06:00 A02 tape 2.9 mm\n07:00 A03 tape 2.9 mm\n"
    text += "08:00 A02 moved tape from A01\n"
    found = of_tape(shed, text).in_service
    assert (found.reckoned, found.emptied, found.not_told) == (2, 1, 1)
    fitted = of_tape(shed, text + "09:00 A01 replaced tape\n").in_service
    assert (fitted.reckoned, fitted.emptied, fitted.not_told) == (3, 0, 1)


def test_parts_without_a_stock_are_named(shed: Make) -> None:
    found = spares(shed, RUNNING + "06:00 A01 replaced tape\n", stock=50)
    assert found.no_stock_given == ("belt",)
    assert isinstance(found.parts[0].order, NoOrderYet)


def test_closed_days_ahead_slow_the_pace(shed: Make) -> None:
    """The looms run every day behind; of the 10 days ahead the calendar has half closed."""
    closed = ", ".join(f'"2026-11-{d}"' for d in range(16, 21))
    text = RUNNING + "06:00 A01 replaced tape\n"
    folder = shed(
        {"a.log": text}, REGISTER.replace("STOCK", "2") + f"[calendar]\nclosed = [{closed}]\n"
    )
    (one,) = spares_on_record(summary_at(folder, AT), horizon=timedelta(days=10)).parts
    by_hand = demand_at_rate(0, 240.0, ahead=5 * 12.0, horizon=5.0, parts=1)
    assert known(one.over_lead).mean == pytest.approx(known(by_hand).mean)


# -- what was added to the stock's mathematics for this ----------------------------------------


def test_a_forecast_that_follows_the_law_is_an_aged_part() -> None:
    """The chance of failing by each time taken from the law: then successors agree as well."""
    law = WeibullLaw(shape=2.5, scale=100.0, failures=9)
    times = tuple(float(t) for t in range(1, 401))
    chances = tuple(1 - math.exp(-(((30 + t) / 100) ** 2.5 - 0.3**2.5)) for t in times)
    followed = ForecastPart(times=times, chances=chances, pace=1.0)
    aged = known(demand([AgedPart(age=30.0, pace=1.0)], law, horizon=300.0))
    forecast = known(demand([followed], law, horizon=300.0))
    assert forecast.mean == pytest.approx(aged.mean, rel=2e-3)
    assert forecast.first == pytest.approx(aged.first, rel=2e-3)


def test_independent_demands_add_up() -> None:
    one = known(demand_at_rate(2, 100.0, ahead=40.0, horizon=5.0, parts=3))
    law = WeibullLaw(shape=1.0, scale=1.0, failures=0)
    other = known(demand([ForecastPart(times=(5.0,), chances=(0.4,))], law, horizon=5.0))
    both = together(one, other)
    assert both.mean == pytest.approx(one.mean + 0.4)
    assert both.probabilities[0] == pytest.approx(0.6 * one.probabilities[0])
    assert both.parts == 4
    assert isinstance(both.limits, Limits)
    with pytest.raises(ValueError, match="horizons"):
        together(one, known(demand_at_rate(2, 100.0, ahead=40.0, horizon=6.0, parts=3)))


@pytest.mark.parametrize("pace", [-1.0, math.inf, math.nan])
def test_a_successors_pace_is_not_negative(pace: float) -> None:
    with pytest.raises(ValueError, match="pace"):
        ForecastPart(times=(1.0,), chances=(0.5,), pace=pace)
