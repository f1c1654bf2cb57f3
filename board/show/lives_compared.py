"""Groups of lives on a screen: what is clear in plain words first, then each group and the test."""

from __future__ import annotations

from collections.abc import Sequence

from board.reckon.comparison import LogRank
from board.reckon.life_record import Way
from board.reckon.life_study import CLEAR, ENOUGH, By, Comparison, StandsOut
from board.reckon.lives import SurvivalCurve
from board.reckon.refusal import Refusal
from board.show.charts import step_chart
from board.show.lines import Bit, Line, Tone, line, title
from board.show.lives_screen import (
    CHART_ROWS,
    UNIT_WORDS,
    age_words,
    lives_words,
    steps_of,
    way_rows,
)
from board.show.moments import counted
from board.show.prose import prose
from board.show.text import clean, fill, wrapped

_MARKS = "=#ox*%&abcdefghijklmnpqrstuvwyz"  # no capital: a section's name is one


def compared_lines(comparisons: Sequence[Comparison], cells: int) -> list[Line]:
    """Every comparison, in the order asked for."""
    rows = [row for one in comparisons for row in _comparison(one, cells)]
    return [row.fitted(cells) for row in rows]


def _comparison(one: Comparison, cells: int) -> list[Line]:
    rows = [title(f"{clean(one.part).upper()} BY {one.by.value.upper()}", _left_out(one), cells)]
    for found in one.stands_out:
        rows += _stands_out(one, found, cells)
    for group in one.groups:
        head = f"{fill(clean(group.group), 8)}  "
        counts = group.counts
        text = (
            f"{lives_words(counts.used)}: {counts.failed} failed, {counts.undecided} undecided,"
            f" {counts.used - counts.failed - counts.undecided} unfinished"
        )
        for i, row in enumerate(prose(text, cells - len(head))):
            rows.append(line(Bit(head if i == 0 else " " * len(head), Tone.STRONG), row.plain))
        for answer in group.ways:
            rows += way_rows(group, answer, cells)
    for way, test in one.tests.items():
        rows += _test(one, way, test, cells)
    rows += _group_picture(one, cells)
    return rows


def _stands_out(one: Comparison, found: StandsOut, cells: int) -> list[Line]:
    """What the comparison shows, in plain words; said only of what is clear both ways."""
    unit = one.groups[0].unit
    who = f"{one.by.value} {clean(found.group)}"
    if one.by is By.SIDE:
        who = f"the {clean(found.group)} side"
    when = "sooner" if found.sooner else "later"
    if found.medians:
        own, rest = _several(found.medians, unit), _several(found.others, unit)
        told = f"median {own} {UNIT_WORDS[unit]} against {rest} {UNIT_WORDS[unit]}"
    else:
        failed = " or ".join(dict.fromkeys(f"{n}" for n in found.failed))
        expected = " or ".join(dict.fromkeys(f"{n:.0f}" for n in found.expected))
        told = f"{failed} failed where {expected} were to be expected"
    the_others = "the others" if len(one.groups) > 2 else "the other"
    ways = ", undecided lives either way" if any(g.counts.undecided for g in one.groups) else ""
    text = f"{who} failed {when} than {the_others}: {told}; {p_words(found.p)} after Holm{ways}."
    rows = [line(Bit(row.plain, Tone.ABNORMAL)) for row in prose(text, cells)]
    cause = f"Why is not shown: what goes with the {one.by.value} (looms, dates) may be the cause."
    return [*rows, *prose(cause, cells)]


def _several(ages: Sequence[float], unit: str) -> str:
    """Medians of both ways as one, or from the lower to the higher."""
    words = list(dict.fromkeys(age_words(age, unit) for age in sorted(ages)))
    return words[0] if len(words) == 1 else f"{words[0]} to {words[-1]}"


def p_words(p: float) -> str:
    """``p < 0.001`` or ``p = 0.02``."""
    return "p < 0.001" if p < 0.001 else f"p = {p:.1g}"


def _left_out(one: Comparison) -> str:
    return f"{lives_words(one.unnamed)} without one left out" if one.unnamed else ""


def _test(one: Comparison, way: Way, test: LogRank | Refusal, cells: int) -> list[Line]:
    decided = all(group.counts.undecided == 0 for group in one.groups)
    if decided and way is Way.AS_UNFINISHED:
        return []
    head = "" if decided else f"{way.value}: "
    if isinstance(test, Refusal):
        return prose(f"{head}not compared: {test.reason}", cells)
    groups = "; ".join(
        f"{group.name} {group.failures} failed, {group.expected:.1f} expected if alike"
        for group in test.groups
    )
    adjusted = "" if test.p_adjusted == test.p_value else f", {chance(test.p_adjusted)} by Holm"
    found = (
        "so great a difference is rare where groups live alike"
        if test.p_adjusted < CLEAR
        else "no difference shown, which is no proof that there is none"
    )
    rough = ""
    if test.smallest_expected < ENOUGH:
        rough = "; the chance is rough, fewer than 5 failures expected in a group"
    text = (
        f"{head}log-rank chi-square {test.chi_square:.1f} with {_degrees(test.degrees)} of freedom,"
        f" chance {chance(test.p_value)}{adjusted}: {found}{rough}. {groups}"
    )
    return prose(clean(text), cells)


def _degrees(number: int) -> str:
    return f"{number} degree" if number == 1 else f"{number} degrees"


def chance(value: float) -> str:
    """A small chance in words and digits."""
    return "below 0.001" if value < 0.001 else f"{value:.3f}" if value < 0.1 else f"{value:.2f}"


def _group_picture(one: Comparison, cells: int) -> list[Line]:
    curves, drawn = [], []
    shown = [group for group in one.groups if isinstance(group.ways[0].curve, SurvivalCurve)]
    for mark, group in zip(_MARKS, shown, strict=False):
        way = group.ways[0]
        if isinstance(way.curve, SurvivalCurve):
            curves.append(steps_of(way.curve, way.lives, mark, group.unit, False))
            drawn.append(f"{mark} {clean(group.group)}")
    if len(shown) > len(drawn):
        drawn.append(f"{counted(len(shown) - len(drawn), 'group')} more not drawn")
    if not curves:
        return []
    chart = step_chart(curves, width=min(cells, 100), height=CHART_ROWS, top=1.0)
    if isinstance(chart, Refusal):
        return [line(f"no picture: {chart.reason}")]
    undecided = any(group.counts.undecided for group in one.groups)
    told = "undecided as failures" if undecided else ""
    return [
        title("SHARE SURVIVING", told, cells),
        *(line(row) for row in wrapped(drawn, cells)),
        *(line(row) for row in chart),
    ]
