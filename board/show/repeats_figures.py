"""How often faults come, as the supervisor reads it: rates, trend, mean curve, looms compared.

Counts stand before every rate, and a rate is per 1,000 running hours with its exact limits; what
a test or a comparison cannot tell is said under it. Chains stand in ``repeats_screen``.
"""

from __future__ import annotations

from zoneinfo import ZoneInfo

from board.reckon.cumulative import MeanCumulative
from board.reckon.recurrence import Rate, TrendTests
from board.reckon.refusal import Refusal
from board.reckon.repeat_rates import Q, SymptomRate, TrendOf
from board.reckon.repeat_report import RepeatReport
from board.reckon.symptoms import How
from board.show.chart_shapes import Steps
from board.show.charts import step_chart
from board.show.lines import Bit, Line, Tone, columns, line, title
from board.show.moments import counted, figure
from board.show.text import clean, width, wrapped

_ROWS = 11
_MOST_RATES = 12
_SIGNIFICANT = 0.05
LIMITS_OF_COMPARISON = (
    "Not modelled: common causes such as a style, a yarn lot or a bad delivery. Several culprits"
    " can hide one another. Where looms differ much, hardly any culprit is found. No loom above the"
    " fleet is no proof that all are alike."
)
THE_LOGGING = (
    "The record is younger than half a year: a rate that grows in the first months may be the"
    " logging and not the looms."
)


def figure_lines(report: RepeatReport, cells: int, zone: ZoneInfo) -> list[Line]:
    """Rates, trend, mean curve, looms compared, and how texts were grouped."""
    return [
        *_rates(report, cells),
        *_trends(report, cells),
        *_cumulative(report, cells, zone),
        *_compared(report, cells),
        *_grouping(report, cells),
    ]


# -- rates ---------------------------------------------------------------------------------


def _rates(report: RepeatReport, cells: int) -> list[Line]:
    hours = sum(report.hours.values())
    looms = sum(h > 0 for h in report.hours.values())
    right = f"{hours:,.0f} running h of {counted(looms, 'loom')}"
    rows = [line(), title(f"RATES {counted(report.faults, 'fault')}", right, cells)]
    if not report.rates:
        return rows
    wide = 24 if cells < 100 else 36
    head = [("part, symptom", wide), ("faults", 6), ("repeats", 7), ("looms", 5)]
    rows.append(line(columns([*head, ("per 1,000 h, 90 % exact limits", 32)])))
    for rate in report.rates[:_MOST_RATES]:
        name = f"{rate.part or '-'}, {rate.symptom or 'none told'}"
        numbers = [(f"{rate.faults:>6}", 6), (f"{rate.repeats:>7}", 7), (f"{rate.looms:>5}", 5)]
        rows.append(line(columns([(name, wide), *numbers, (_per_1000(rate), 32)])))
    left = report.rates[_MOST_RATES:]
    if left:
        told = f"{sum(r.faults for r in left)} faults of {counted(len(left), 'symptom')} more"
        rows.append(line(told))
    return rows


def _per_1000(rate: SymptomRate) -> str:
    if isinstance(rate.rate, Refusal):
        return rate.rate.reason
    found: Rate = rate.rate
    low, high = found.limits.low * 1000, found.limits.high * 1000
    return f"{figure(found.rate * 1000, 2)} ({figure(low, 2)} to {figure(high, 2)})"


# -- trend ---------------------------------------------------------------------------------


def _trends(report: RepeatReport, cells: int) -> list[Line]:
    right = "by fleet running hours, time-truncated"
    rows = [line(), title("TREND, Laplace and MIL-HDBK-189", right, cells)]
    if isinstance(report.trends, Refusal):
        return [*rows, *_text(report.trends.reason, cells)]
    wide = 12 if cells < 100 else 24
    thin: list[str] = []
    for trend in report.trends:
        if isinstance(trend.tests, Refusal):
            thin.append(f"{trend.what} {trend.faults}")
            continue
        names = [trend.what, ""]
        for name, told in zip(names, _tested(trend, cells - wide - 2), strict=False):
            rows.append(line(columns([(name, wide), (told, cells - wide - 2)])))
    if thin:
        rows += _text(f"too few for a test: {', '.join(thin)}", cells)
    rows += _text(
        "p after Holm over all tests of a kind. No test of a chain: it was picked because it"
        " repeats.",
        cells,
    )
    if report.span.is_young:
        rows += _text(THE_LOGGING, cells)
    return rows


def _tested(trend: TrendOf, cells: int) -> list[str]:
    """What the two tests say, and their numbers: below it where both need more than one row."""
    tests = trend.tests
    assert not isinstance(tests, Refusal)
    size = f"{tests.military:.1f}" if tests.military < 1000 else f"{tests.military:.0f}"
    words = f"{trend.faults:>4}  {_direction(trend, tests)};"
    numbers = (
        f"Laplace {tests.laplace:+.2f} {_p(trend.laplace_adjusted)},"
        f" MIL {size}/{tests.degrees} {_p(trend.military_adjusted)}"
    )
    row = f"{words} {numbers}"
    return [row] if width(row) <= cells else [words, f"      {numbers}"]


def _direction(trend: TrendOf, tests: TrendTests) -> str:
    """Faster or slower, by the tests that are significant: they may differ.

    Laplace's score looks at the middle of the failure times, the chi-square at their logarithms.
    """
    later = []  # of each significant test, whether failures crowd towards the end
    if (trend.laplace_adjusted or 0.0) < _SIGNIFICANT:
        later.append(tests.laplace > 0)
    if (trend.military_adjusted or 0.0) < _SIGNIFICANT:
        later.append(tests.military < tests.degrees)
    if not later:
        return "no trend seen"
    if len(set(later)) > 1:
        return "the tests disagree"
    return "faster than before" if later[0] else "slower than before"


def _p(value: float | None) -> str:
    return "p ?" if value is None else f"p {value:.2f}" if value >= 0.005 else "p < 0.01"


# -- the mean curve ------------------------------------------------------------------------


def _cumulative(report: RepeatReport, cells: int, zone: ZoneInfo) -> list[Line]:
    start = f"{report.span.start.astimezone(zone):%Y-%m-%d}"
    right = f"= by its running hours since {start}, . 90 % limits"
    rows = [line(), title("MEAN FAULTS OF A LOOM", right, cells)]
    curve = report.cumulative
    if isinstance(curve, Refusal):
        return [*rows, *_text(curve.reason, cells)]
    chart = step_chart([_steps(curve)], width=cells, height=_ROWS)
    if isinstance(chart, Refusal):
        rows.append(line(chart.reason))
    else:
        rows += [line(text) for text in chart]
    last = curve.steps[-1]
    limits = "" if isinstance(last.limits, Refusal) else (
        f" ({figure(last.limits.low)} to {figure(last.limits.high)})"
    )  # fmt: skip
    told = (
        f"{figure(last.mean)}{limits} faults a loom after {last.age:.0f} running h;"
        f" {counted(curve.faults, 'fault')} on {counted(curve.looms, 'loom')}. A straight curve:"
        " an even rate; bent upwards: faster and faster."
    )
    return [*rows, *_text(told, cells)]


def _steps(curve: MeanCumulative) -> Steps:
    lows = [None if isinstance(s.limits, Refusal) else s.limits.low for s in curve.steps]
    highs = [None if isinstance(s.limits, Refusal) else s.limits.high for s in curve.steps]
    return Steps(
        xs=tuple(s.age for s in curve.steps),
        ys=tuple(s.mean for s in curve.steps),
        lows=tuple(lows),
        highs=tuple(highs),
        start=0.0,
        end=curve.steps[-1].age,
    )


# -- looms compared ------------------------------------------------------------------------


def _compared(report: RepeatReport, cells: int) -> list[Line]:
    found = report.compared.answer
    head = "LOOMS ABOVE THE FLEET"
    if isinstance(found, Refusal):
        return [line(), title(head, "not compared", cells), *_text(found.reason, cells)]
    right = f"q = {Q:.2f}, {counted(found.looms, 'loom')} compared"
    rows = [line(), title(f"{head} {len(found.above)}", right, cells)]
    for loom in found.above:
        rate = f"{loom.count} in {loom.exposure:.0f} h, {figure(loom.expected)} expected"
        tail = f"   q {loom.adjusted:.2f}"
        rows.append(line(Bit(f"{loom.name}  ", Tone.STRONG), f"{rate}{tail}"))
    told = f"q: of {1 / Q:.0f} such lists in fleets without a culprit, 1 at most names a loom"
    rows += _text(told, cells)
    if not found.above:
        told = f"none of {counted(found.looms, 'loom')} stands out by {found.count} faults"
        rows.append(line(told))
    spread = report.compared.spread
    if not isinstance(spread, Refusal):
        told = f"counts scatter {spread.index:.2f} times as much as those of alike looms would"
        rows += _text(told, cells)
    if report.compared.power:
        pieces = [
            f"at {p.factor:g} times its rate in {p.found.count} of {p.found.of}"
            for p in report.compared.power
        ]
        told = f"one loom alone would be named, by simulation, {' and '.join(pieces)} fleets"
        rows += _text(told, cells)
    if found.left_out:
        rows += _text(f"no running time on record: {', '.join(found.left_out)}", cells)
    return [*rows, *_text(LIMITS_OF_COMPARISON, cells)]


# -- how texts were grouped ----------------------------------------------------------------


def _grouping(report: RepeatReport, cells: int) -> list[Line]:
    by_register = sum(t.count for t in report.texts if t.how is How.REGISTER)
    rows = [line(), title("SYMPTOMS", "how the texts were grouped", cells)]
    rows += _text(f"{by_register} of {report.faults} faults by the register's words", cells)
    for text in report.texts:
        if text.how in (How.LIKE, How.NEAR):
            told = f'"{text.text}" {text.count} as {text.symptom}: {text.how.value}'
            rows += _text(told, cells, "  ")
        if text.how is How.BETWEEN:
            told = f'"{text.text}" {text.count} by itself: fits {" and ".join(text.fits)} alike'
            rows += _text(told, cells, "  ")
    alone = [
        f'"{t.text}" {t.count}' if t.text else f"none told {t.count}"
        for t in report.texts
        if t.how is How.ITSELF
    ]
    if alone:
        rows += _text(f"by their own words: {', '.join(alone)}", cells)
    rows += _text(
        'to group otherwise, name the words in shed.toml: [symptom."NAME"] words = ["..."]', cells
    )
    return rows


def _text(text: str, cells: int, head: str = "") -> list[Line]:
    pieces = wrapped(clean(text).split(" "), max(cells - len(head), 20), gap=" ")
    return [line(f"{head}{piece}") for piece in pieces]
