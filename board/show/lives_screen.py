"""Part lives on a screen: counts first, then curve, median and Weibull law, both ways.

Groups compared stand in ``lives_compared``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from board.reckon.life_record import Way
from board.reckon.life_study import Comparison, LifeCounts, LifeStudy, LivesOneWay
from board.reckon.limits import Limits
from board.reckon.lives import Life, SurvivalCurve
from board.reckon.refusal import Refusal
from board.show.chart_shapes import Steps
from board.show.charts import step_chart
from board.show.lines import Bit, Line, Tone, line, title
from board.show.moments import figure
from board.show.prose import prose
from board.show.text import clean, pad, width, wrapped

CHART_ROWS = 14
_UNIT = {"h": "running h", "picks": "million picks"}
UNIT_WORDS = {"h": "h", "picks": "million picks"}

_RULE = (
    "A life is the age at replacement. Failed: worn or broken is written, or since the shift before"
    " the job a fault of it was open or it was read at or past its limit. Undecided: no reason, or"
    " early though near its limit; such lives are reckoned both ways, the truth lies between."
)


def lives_lines(
    studies: Sequence[LifeStudy], comparisons: Sequence[Comparison], unit: str, cells: int
) -> list[Line]:
    """Each part; the picture and the endings only where one part is asked for alone.

    The comparisons themselves stand in ``lives_compared``, below this.
    """
    rows = [title(f"LIVES {len(studies)}", f"in {_UNIT[unit]}; limits are 90 %", cells)]
    rows += prose(_RULE, cells)
    for study in studies:
        rows += _study(study, cells)
        if len(studies) == 1 and not comparisons:
            rows += _picture(study, cells)
            rows += _endings(study)
    return [row.fitted(cells) for row in rows]


def lives_words(number: int) -> str:
    """``1 life``, ``3 lives``."""
    return "1 life" if number == 1 else f"{number} lives"


def _study(study: LifeStudy, cells: int) -> list[Line]:
    words = _counts(study.counts)
    words = [*(f"{word}," for word in words[:-1]), words[-1]]
    head = wrapped(words, cells - 10, gap=" ")
    rows = [line(Bit(f"{pad(clean(study.part), 8)}  ", Tone.STRONG), head[0])]
    rows += [line(f"{'':<10}{more}") for more in head[1:]]
    for way in study.ways:
        rows += way_rows(study, way, cells)
    return rows


def _counts(counts: LifeCounts) -> list[str]:
    words = [
        f"{lives_words(counts.used)} of known age: {counts.failed} failed",
        f"{counts.undecided} undecided",
        f"{counts.taken_out} taken out otherwise",
        f"{counts.in_service} in service",
    ]
    left_out = []
    if counts.before_the_log:
        left_out.append(f"{counts.before_the_log} fitted before the log")
    if counts.age_unknown:
        left_out.append(f"{counts.age_unknown} of unknown age")
    if left_out:
        words[-1] += f"; left out: {left_out[0]}"
        words += left_out[1:]
    return words


def way_rows(study: LifeStudy, way: LivesOneWay, cells: int) -> list[Line]:
    """Median and law of a part or a group, undecided lives taken one way."""
    unit = study.unit
    failures = sum(life.is_failure for life in way.lives)
    head = ""
    if len(study.ways) > 1:
        head = f"{way.way.value} ({failures}):"
    pieces = [_median(way, unit), *_weibull(way, unit)]
    if not way.lives:
        pieces = ["no life of known age on record"]
    elif isinstance(way.curve, Refusal):
        pieces = [f"no curve and no law: {way.curve.reason}"]
    rows = _laid([*([head] if head else []), *pieces], cells - 10)
    return [line(f"{'':<10}{row}") for row in rows]


def _laid(pieces: list[str], cells: int) -> list[str]:
    """Pieces in lines, kept whole where they fit into one, else broken between words."""
    rows: list[str] = []
    held: list[str] = []
    for piece in pieces:
        if width(piece) <= cells:
            held.append(piece)
            continue
        rows += wrapped(held, cells) + wrapped(piece.split(), cells, gap=" ")
        held = []
    return rows + wrapped(held, cells)


def _median(way: LivesOneWay, unit: str) -> str:
    if isinstance(way.median, Refusal):
        if isinstance(way.curve, SurvivalCurve):
            last = way.curve.steps[-1]
            return (
                f"no median: {100 * last.surviving:.0f} % survive the last failure on record, at"
                f" {age_words(last.age, unit)} {UNIT_WORDS[unit]}, so half have not failed yet"
            )
        return f"no median: {way.median.reason}"
    return f"median {age_words(way.median.age, unit)} {_span(way.median.limits, unit)}"


def _weibull(way: LivesOneWay, unit: str) -> list[str]:
    fit = way.weibull
    if isinstance(fit, Refusal):
        return [f"no law: {fit.reason if unit == 'h' else f'{fit.reason} (ages in picks)'}"]
    shape = f"{fit.shape_limits.low:.2f} to {fit.shape_limits.high:.2f}"
    # not called B10, which is the name of a loom in many sheds
    tenth = f"{age_words(fit.b10, unit)} {UNIT_WORDS[unit]} {_span(fit.b10_limits, unit)}"
    return [
        f"Weibull shape {fit.shape:.2f} ({shape})",
        f"scale {age_words(fit.scale, unit)} {_span(fit.scale_limits, unit)}",
        f"10 % failed by {tenth}",
    ]


def age_words(age: float, unit: str) -> str:
    """An age in the screen's unit: hours without decimals, but for those of the first shifts."""
    if unit == "picks":
        return figure(age / 1e6)
    return f"{age:.0f}" if age >= 10 or age == 0 else figure(age, 2)


def _span(limits: Limits, unit: str) -> str:
    if math.isinf(limits.high):
        return f"({age_words(limits.low, unit)} or more)"
    return f"({age_words(limits.low, unit)} to {age_words(limits.high, unit)})"


# -- one part --------------------------------------------------------------------------------


def _picture(study: LifeStudy, cells: int) -> list[Line]:
    letters = {Way.AS_FAILURES: "=", Way.AS_UNFINISHED: "#"}
    curves = []
    for way in study.ways:
        if isinstance(way.curve, SurvivalCurve):
            limits = way.way is Way.AS_FAILURES
            curves.append(steps_of(way.curve, way.lives, letters[way.way], study.unit, limits))
    if not curves:
        return []
    told = "= share, . its limits"
    if len(curves) > 1:
        told = "undecided = as failures, . limits, # as unfinished"
    chart = step_chart(curves, width=min(cells, 100), height=CHART_ROWS, top=1.0)
    rows = [title("SHARE SURVIVING", told, cells)]
    if isinstance(chart, Refusal):
        rows.append(line(f"no picture: {chart.reason}"))
    else:
        rows += [line(row) for row in chart]
    return rows + _table(study)


def steps_of(
    curve: SurvivalCurve, lives: Sequence[Life], letter: str, unit: str, limits: bool
) -> Steps:
    """A survival curve as it is drawn, with or without its limits."""
    size = 1.0 if unit == "h" else 1e6
    return Steps(
        xs=tuple(step.age / size for step in curve.steps),
        ys=tuple(step.surviving for step in curve.steps),
        end=max(life.lower for life in lives) / size,
        start=1.0,
        lows=tuple(step.limits.low for step in curve.steps) if limits else (),
        highs=tuple(step.limits.high for step in curve.steps) if limits else (),
        letter=letter,
    )


def _table(study: LifeStudy) -> list[Line]:
    """Survival at round ages, of the first way that has a curve."""
    for way in study.ways:
        if isinstance(way.curve, SurvivalCurve):
            return _rows(way.curve, way.lives, study.unit)
    return []


def _rows(curve: SurvivalCurve, lives: Sequence[Life], unit: str) -> list[Line]:
    rows = [line(f"{'age':>8}  {'watched':>8}  {'surviving':>9}  90 % limits")]
    for age in _round_ages(curve.steps[-1].age):
        watched = sum(life.entry < age <= life.lower for life in lives)
        past = [step for step in curve.steps if step.age <= age]
        share, span = "100 %", ""
        if past:
            share = f"{past[-1].surviving:.0%}".replace("%", " %")
            span = f"{100 * past[-1].limits.low:.0f} to {100 * past[-1].limits.high:.0f} %"
        rows.append(line(f"{age_words(age, unit):>8}  {watched:>8}  {share:>9}  {span}"))
    return rows


def _round_ages(last: float) -> list[float]:
    step = 10.0 ** math.floor(math.log10(last))
    for divisor in (1, 2, 5, 10):
        if last / (step / divisor) >= 5:
            step /= divisor
            break
    return [step * n for n in range(1, int(last / step) + 1)]


def _endings(study: LifeStudy) -> list[Line]:
    rows = [line(Bit("HOW THE LIVES OF KNOWN AGE ENDED", Tone.STRONG))]
    rows += [
        line(f"{number:>6}  {pad(verdict.value, 11)} {why}")
        for verdict, why, number in study.reasons
    ]
    return rows
