"""What a chart is made of: readings, marks, forecasts and steps, laid out as strokes of one letter.

Pure numbers: which values are to be seen, what is drawn where, and which values an axis names. No
number that leaves this module is infinite or none, and none lies outside the frame. The drawing
itself is left to ``charts``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from statistics import median

from board.reckon.refusal import Refusal
from board.state.history import Bound
from grammar.frozen import dataclass

READING, AT_LEAST, AT_MOST = "o", "^", "v"
LIMIT, BAND, MEDIAN, OUTSIDE = "-", ".", "x", "*"

_MARKERS = {Bound.EXACT: READING, Bound.AT_LEAST: AT_LEAST, Bound.AT_MOST: AT_MOST}
_FAR = 6.0  # a value so many middle spans away is drawn at the edge

Ends = tuple[float, float]
Named = tuple[float, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """Places and the letter they are drawn with, joined to a line or not."""

    xs: tuple[float, ...]
    ys: tuple[float, ...]
    letter: str
    joined: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What is drawn, later strokes above earlier ones, between the ends of both axes."""

    strokes: tuple[Stroke, ...]
    across: Ends
    upright: Ends
    x_names: tuple[Named, ...]
    y_names: tuple[Named, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A reading: where it stands, its uncertainty to each side, and what it bounds."""

    x: float
    y: float
    reach: float = 0.0
    bound: Bound = Bound.EXACT


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """Something that happened at ``x``, drawn as an upright line of its letter."""

    x: float
    letter: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cone:
    """A forecast from the present value to the limit; ``high`` None: unbounded."""

    x: float
    y: float
    limit: float
    low: float
    median: float
    high: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """One part's series: readings, what happened to it, its limits and what lies ahead.

    ``x`` in one unit throughout, running hours or seconds; ``ticks`` names places on it, which are
    chosen round where none is given.
    """

    points: tuple[Point, ...]
    marks: tuple[Mark, ...] = ()
    limits: tuple[float, ...] = ()
    ahead: Cone | None = None
    ticks: tuple[tuple[float, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """A step curve: its value from each ``xs`` on, with limits where they are known.

    ``start`` is the value before the first step, at ``x`` 0; ``end`` where the curve stops;
    ``ticked`` places are marked ``+`` on the curve, as what was taken out of watching.
    """

    xs: tuple[float, ...]
    ys: tuple[float, ...]
    end: float
    start: float
    lows: tuple[float | None, ...] = ()
    highs: tuple[float | None, ...] = ()
    ticked: tuple[float, ...] = ()
    letter: str = "="


def trend_frame(trend: Trend, width: int, height: int) -> Frame | Refusal:
    """A part's readings against their limit. Refuses where there is no reading."""
    points = [p for p in trend.points if math.isfinite(p.x) and math.isfinite(p.y)]
    if not points:
        return Refusal(reason="no reading to draw")
    limits = [y for y in trend.limits if math.isfinite(y)]
    low, high = _range_of([p.y for p in points], limits)
    right = _right_edge(points, trend)
    left = min([p.x for p in points] + [m.x for m in trend.marks if math.isfinite(m.x)])
    left -= 0.02 * max(right - left, 1e-6)
    strokes: list[Stroke] = []
    if trend.ahead is not None:
        strokes += _cone(trend.ahead, right)
    strokes += [_line((left, y), (right, y), LIMIT) for y in limits]
    if trend.ahead is not None and trend.ahead.median <= right:
        strokes.append(_dot(trend.ahead.median, trend.ahead.limit, MEDIAN))
    for mark in trend.marks:
        if left <= mark.x <= right:
            strokes.append(_line((mark.x, low), (mark.x, high), mark.letter[:1] or "|"))
    for p in points:
        y = min(max(p.y, low), high)
        if p.bound is Bound.EXACT and math.isfinite(p.reach) and p.reach > 0:
            ends = max(y - p.reach, low), min(y + p.reach, high)
            strokes.append(_line((p.x, ends[0]), (p.x, ends[1]), "|"))
    strokes += [_dot(p.x, min(max(p.y, low), high), _marker(p, low, high)) for p in points]
    inside = [p.y for p in points if low <= p.y <= high]
    named = [*limits, max(inside), min(inside)]
    return Frame(
        strokes=tuple(strokes),
        across=(left, right),
        upright=(low, high),
        x_names=trend.ticks or _round_ticks(left, right, width),
        y_names=_named_values(named, low, high, height),
    )


def step_frame(
    curves: Sequence[Steps], width: int, height: int, top: float | None
) -> Frame | Refusal:
    """Step curves with their limits, dotted. Refuses where there is no step."""
    sound = [_finite(curve) for curve in curves if math.isfinite(curve.end) and curve.end > 0]
    if not any(curve.xs for curve in sound):
        return Refusal(reason="no step to draw")
    right = max(max(curve.end, *curve.xs) if curve.xs else curve.end for curve in sound)
    highest = top
    if highest is None:
        values = [y for c in sound for y in (*c.ys, c.start)]
        outer = [y for c in sound for y in c.highs if y is not None and math.isfinite(y)]
        ceiling = 2.0 * max(values)
        highest = max([*values, *(min(y, ceiling) for y in outer)]) or 1.0
    strokes: list[Stroke] = []
    for curve in sound:
        thin = _thinned(curve, right, width)
        strokes += _limit_steps(thin, highest)
        strokes += _own_steps(thin, highest)
    return Frame(
        strokes=tuple(strokes),
        across=(0.0, right),
        upright=(0.0, highest),
        x_names=_round_ticks(0.0, right, width),
        y_names=_named_values(_steps_between(0.0, highest), 0.0, highest, height),
    )


# -- what is drawn -------------------------------------------------------------------------


def _line(start: Ends, end: Ends, letter: str) -> Stroke:
    return Stroke(xs=(start[0], end[0]), ys=(start[1], end[1]), letter=letter)


def _dot(x: float, y: float, letter: str) -> Stroke:
    return Stroke(xs=(x,), ys=(y,), letter=letter, joined=False)


def _marker(point: Point, low: float, high: float) -> str:
    return _MARKERS[point.bound] if low <= point.y <= high else OUTSIDE


def _range_of(values: list[float], limits: list[float]) -> Ends:
    """The values to be seen, with the limits, and a little room; far outliers are left outside."""
    middle = median(values)
    spread = median([abs(v - middle) for v in values])
    spread = max(spread, *(abs(y - middle) for y in limits), 1e-9 * max(abs(middle), 1.0), 1e-12)
    near = [v for v in values if abs(v - middle) <= _FAR * spread]
    low, high = min([*near, *limits]), max([*near, *limits])
    room = 0.08 * (high - low) or 0.5 * max(abs(high), 1e-6)
    return low - room, high + room


def _right_edge(points: Sequence[Point], trend: Trend) -> float:
    last = max(p.x for p in points)
    first = min(p.x for p in points)
    if trend.ahead is None:
        return last + 0.05 * max(last - first, 1e-6)
    ahead = trend.ahead
    ends = [x for x in (ahead.high, ahead.median, ahead.low) if x is not None and math.isfinite(x)]
    # what is past must stay readable, however far the band reaches
    past = last - first if last > first else max(ahead.low - last, 1e-6)
    most = last + min(max(1.5 * past, 1.1 * (ahead.median - last)), 3.0 * past)
    return min(max(last, ahead.x, *ends) + 0.03 * (most - first), most)


def _cone(ahead: Cone, right: float) -> list[Stroke]:
    """The two ends of the band as dotted lines from the present value to the limit."""
    strokes: list[Stroke] = []
    if not (math.isfinite(ahead.y) and math.isfinite(ahead.x) and ahead.x < right):
        return strokes
    for end in (ahead.low, ahead.high if ahead.high is not None else math.inf):
        if end <= ahead.x:
            continue
        if math.isinf(end):
            strokes.append(_line((ahead.x, ahead.y), (right, ahead.y), BAND))
            continue
        share = min((right - ahead.x) / (end - ahead.x), 1.0)
        x, y = ahead.x + share * (end - ahead.x), ahead.y + share * (ahead.limit - ahead.y)
        strokes.append(_line((ahead.x, ahead.y), (x, y), BAND))
    return strokes


def _finite(curve: Steps) -> Steps:
    """The curve without steps at places or of values that are no numbers."""
    keep = [
        i
        for i, (x, y) in enumerate(zip(curve.xs, curve.ys, strict=True))
        if math.isfinite(x) and x >= 0 and math.isfinite(y)
    ]
    return _only(replace(curve, ticked=tuple(filter(math.isfinite, curve.ticked))), keep)


def _thinned(curve: Steps, right: float, width: int) -> Steps:
    """The last step of each cell: more cannot be seen."""
    last = {int(x / right * width): i for i, x in enumerate(curve.xs)}
    return curve if len(curve.xs) <= width else _only(curve, sorted(last.values()))


def _only(curve: Steps, keep: Sequence[int]) -> Steps:
    """The curve with these steps alone."""
    return replace(
        curve,
        xs=tuple(curve.xs[i] for i in keep),
        ys=tuple(curve.ys[i] for i in keep),
        lows=tuple(curve.lows[i] for i in keep) if curve.lows else (),
        highs=tuple(curve.highs[i] for i in keep) if curve.highs else (),
    )


def _own_steps(curve: Steps, highest: float) -> list[Stroke]:
    xs = [0.0, *curve.xs, max(curve.end, *curve.xs)] if curve.xs else [0.0, curve.end]
    ys = [min(max(y, 0.0), highest) for y in (curve.start, *curve.ys)]
    flats = [_line((xs[i], y), (xs[i + 1], y), curve.letter) for i, y in enumerate(ys)]
    rises = [_line((xs[i], ys[i - 1]), (xs[i], ys[i]), "|") for i in range(1, len(ys))]
    marks: list[Stroke] = []
    for x in curve.ticked:
        if 0.0 <= x <= xs[-1]:
            below = sum(step <= x for step in curve.xs)
            marks.append(_dot(x, ys[below], "+"))
    return rises + flats + marks


def _limit_steps(curve: Steps, highest: float) -> list[Stroke]:
    strokes: list[Stroke] = []
    ends = [*curve.xs[1:], max(curve.end, *curve.xs)] if curve.xs else []
    for values in (curve.lows, curve.highs):
        for i, value in enumerate(values):
            if value is None or not math.isfinite(value) or not 0.0 <= value <= highest:
                continue
            strokes.append(_line((curve.xs[i], value), (ends[i], value), BAND))
    return strokes


# -- the axes ------------------------------------------------------------------------------


def _steps_between(low: float, high: float) -> list[float]:
    """Four or so round values from ``low`` to ``high``."""
    step = _round_step((high - low) / 3.0)
    first = math.ceil(low / step - 1e-9)
    return [step * n for n in range(first, first + 12) if step * n <= high * (1 + 1e-9)]


def _round_step(least: float) -> float:
    """The smallest of 1, 2, 5 times a power of ten that is not below ``least``."""
    power = 10.0 ** math.floor(math.log10(max(least, 1e-12)))
    return next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= least * (1 - 1e-9))


def _round_ticks(left: float, right: float, width: int) -> tuple[Named, ...]:
    step = _round_step((right - left) / max(width // 14, 2))
    first = math.ceil(left / step - 1e-9)
    places = [step * n for n in range(first, first + width) if step * n <= right]
    return tuple((x, f"{x:.6g}" if step < 1 else f"{x:.0f}") for x in places)


def _named_values(
    values: Sequence[float], low: float, high: float, height: int
) -> tuple[Named, ...]:
    """Values to name at the left, the first of those that would share a row."""
    row = (high - low) / max(height - 2, 1)
    kept: list[float] = []
    for value in values:
        if low <= value <= high and all(abs(value - other) >= row for other in kept):
            kept.append(value)
    return tuple((value, f"{value:.4g}") for value in sorted(kept))
