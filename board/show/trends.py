"""A loom's measured parts over their running hours: small charts, the most urgent first.

One chart a part with two readings or more: the readings of its life, those of the life before it
left of the R, its limit and the forecast's band to the crossing. What it rests on stands under it
in words. Drawing is left to ``charts``.
"""

from __future__ import annotations

from collections.abc import Sequence

from board.reckon.conformity import WearWord
from board.reckon.left import Ahead
from board.reckon.margins import WearLine
from board.reckon.refusal import Refusal
from board.reckon.series import Origin, Series
from board.reckon.summary import LoomLine, Summary
from board.reckon.wear_record import series_of, use_of
from board.show.chart_shapes import Cone, Mark, Point, Trend
from board.show.charts import LEGEND, trend_chart
from board.show.lines import Bit, Line, Tone, folded, line, title
from board.show.measures import plain
from board.show.moments import counted
from board.show.records import Record, iso, part_record
from board.show.text import width, wrapped
from board.state.history import Bound, PartLife, ReadingAt
from board.state.later import recent
from board.state.usage import UnknownUse
from grammar.entries import Verb
from grammar.frozen import dataclass

ROWS = 10
_URGENT = (WearWord.PAST_LIMIT, WearWord.GAUGE_PAST, WearWord.AT_LIMIT, WearWord.NEAR_LIMIT)
_LETTERS = {"R": "replaced", "A": "adjusted or repaired", "M": "moved here"}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shown:
    """A part's series as it is drawn: its readings with their use, and what happened to it."""

    wear: WearLine
    series: Series
    readings: tuple[ReadingAt, ...]
    before: tuple[tuple[float, ReadingAt], ...]  # of the life before, at negative hours
    marks: tuple[Mark, ...]


def trend_lines(
    summary: Summary, item: LoomLine, cells: int, most: int, asked: str = "--charts 99"
) -> list[Line]:
    """The charts of a loom's ``most`` most urgent parts, and the parts that are left out.

    ``asked`` is what draws all of them.
    """
    drawable = [w for w in sorted(item.wear, key=_urgency) if _count(w) >= 2]
    if not drawable or most <= 0:
        return []
    rows: list[Line] = []
    legend: set[str] = set()
    for wear in drawable[:most]:
        shown = _shown(summary, wear)
        rows.append(line(Bit(_heading(wear, shown), Tone.STRONG)))
        if isinstance(shown, Refusal):
            rows.append(line(f"  {shown.reason}"))
            continue
        chart = _chart(shown, cells)
        if isinstance(chart, Refusal):
            legend.add(chart.reason)
        else:
            rows += [line(text) for text in chart]
            legend |= {letter for text in chart for letter in text if letter in LEGEND}
            legend |= {mark.letter for mark in shown.marks}
        rows.append(line(_rests_on(shown)))
    left = [w.name for w in drawable[most:]]
    tail = folded([], _left_out(left, cells, asked), cells) if left else []
    shown_count = min(len(drawable), most)
    head = title("TRENDS", f"{shown_count} of {len(drawable)}, the most urgent first", cells)
    told = [line(text) for text in wrapped(_legend(legend), cells)]
    return [head, *told, *rows, *tail]


def series_records(summary: Summary, item: LoomLine) -> list[Record]:
    """The series of every measured part as JSON records."""
    return [_record(summary, wear) for wear in item.wear]


# -- which, and in which order -------------------------------------------------------------


def _urgency(wear: WearLine) -> tuple[int, float, float]:
    rank = _URGENT.index(wear.word) if wear.word in _URGENT else len(_URGENT)
    low = wear.ahead.hours.low if isinstance(wear.ahead, Ahead) else float("inf")
    return rank, low, -(wear.worn or 0.0)


def _count(wear: WearLine) -> int:
    return sum(r.counts for r in wear.life.readings.get(wear.quantity, ()))


# -- one part ------------------------------------------------------------------------------


def _shown(summary: Summary, wear: WearLine) -> _Shown | Refusal:
    made = series_of(wear.life, wear.quantity, summary.clocks, summary.as_of)
    if isinstance(made, Refusal):
        return made
    series, readings = made
    return _Shown(
        wear=wear,
        series=series,
        readings=tuple(readings),
        before=_before(summary, wear),
        marks=tuple(_marks(summary, wear)),
    )


def _before(summary: Summary, wear: WearLine) -> tuple[tuple[float, ReadingAt], ...]:
    """The readings of the part that stood there before, at the hours that were still to run."""
    fitted = wear.life.fitted
    if fitted is None or wear.life.loom != wear.life.stays[0].loom:
        return ()
    lives = recent(summary.snapshot.fleet.history.lives, fitted)
    last = [x for x in lives if (x.loom, x.at, x.ended) == (wear.loom, wear.life.at, fitted)]
    found = []
    for life in last[-1:]:
        for reading in life.readings.get(wear.quantity, ()):
            use = summary.clocks[wear.loom].between(reading.when, fitted)
            if reading.counts and not isinstance(use, UnknownUse):
                found.append((-use, reading))
    return tuple(found)


def _marks(summary: Summary, wear: WearLine) -> list[Mark]:
    life: PartLife = wear.life
    marks = []
    if life.fitted is not None:
        marks.append(Mark(x=0.0, letter="R"))
    moments = [("M", stay.start) for stay in life.stays[1:]]
    jobs = summary.snapshot.fleet.history.jobs
    for job in jobs if life.fitted is None else recent(jobs, life.fitted):
        if job.at != life.at or job.verb not in (Verb.ADJUSTED, Verb.REPAIRED):
            continue
        if any(
            s.loom == job.loom
            and (s.start is None or s.start <= job.when)
            and (s.end is None or job.when < s.end)
            for s in life.stays
        ) and (life.fitted is None or job.when > life.fitted):
            moments.append(("A", job.when))
    for letter, when in moments:
        use = use_of(life, when, summary.clocks) if when is not None else None
        if isinstance(use, float):
            marks.append(Mark(x=use, letter=letter))
    return marks


def _chart(shown: _Shown, cells: int) -> list[str] | Refusal:
    wear = shown.wear
    reach = wear.uncertainty or 0.0
    points = [
        *(Point(x=x, y=r.value, reach=reach, bound=r.bound) for x, r in shown.before),
        *(
            Point(x=float(x), y=r.value, reach=reach, bound=r.bound)
            for x, r in zip(shown.series.use, shown.readings, strict=True)
        ),
    ]
    trend = Trend(
        points=tuple(points), marks=shown.marks, limits=_limits(shown), ahead=_ahead(shown)
    )
    return trend_chart(trend, width=cells, height=ROWS)


def _limits(shown: _Shown) -> tuple[float, ...]:
    """The limit that it nears, and where a forecast goes to the other end of a band, that too."""
    ahead, limit = shown.wear.ahead, shown.wear.limit
    named = [] if limit is None else [limit]
    if isinstance(ahead, Ahead) and ahead.limit not in named:
        named.append(ahead.limit)
    return tuple(named)


def _ahead(shown: _Shown) -> Cone | None:
    """The forecast from the last exact reading to the limit, where there is one."""
    ahead = shown.wear.ahead
    exact = [
        (float(x), r.value)
        for x, r in zip(shown.series.use, shown.readings, strict=True)
        if r.bound is Bound.EXACT
    ]
    if not isinstance(ahead, Ahead) or not exact:
        return None
    now, hours = shown.series.now, ahead.hours
    return Cone(
        x=exact[-1][0],
        y=exact[-1][1],
        limit=ahead.limit,
        low=now + hours.low,
        median=now + hours.median,
        high=now + hours.high if hours.high is not None else None,
    )


# -- words ---------------------------------------------------------------------------------


def _heading(wear: WearLine, shown: _Shown | Refusal) -> str:
    since = "fitting"
    if not isinstance(shown, Refusal) and shown.series.origin is Origin.FIRST_READING:
        since = "first reading"
    return f"{wear.name} [{wear.reading.unit}] over running hours since {since}"


def _rests_on(shown: _Shown) -> str:
    wear, ahead = shown.wear, shown.wear.ahead
    told = f"  {counted(len(shown.readings), 'reading')}"
    if wear.uncertainty:
        told += f" +/- {wear.uncertainty:g} {wear.reading.unit}"
    if isinstance(ahead, Refusal):
        return f"{told}; no forecast: {ahead.reason}"
    hours = ahead.hours
    end = "or more" if hours.high is None else f"to {hours.high:.0f}"
    end = f"{max(hours.low, 0.0):.0f} {end}"
    lives = "1 past life" if ahead.past_lives == 1 else f"{ahead.past_lives} past lives"
    limit = f"limit {plain(ahead.limit)}" if wear.of_band else "limit"
    return f"{told}; {end} h to {limit} (90 % band); {lives}"


def _legend(letters: set[str]) -> list[str]:
    """What the letters in the pictures mean, or why there is no picture."""
    named = {**LEGEND, **_LETTERS}
    told = [f"{letter} {words}" for letter, words in named.items() if letter in letters]
    return [*told, *sorted(letters - set(named))]


def _left_out(names: Sequence[str], cells: int, asked: str) -> str:
    tail = f"; {asked} draws them all"
    text = "not drawn: "
    for i, name in enumerate(names):
        piece = name if i == 0 else f", {name}"
        if width(text + piece + tail) > cells - 4:
            return f"{text}, +{len(names) - i}{tail}"
        text += piece
    return text + tail


# -- JSON ----------------------------------------------------------------------------------


def _record(summary: Summary, wear: WearLine) -> Record:
    shown = _shown(summary, wear)
    head = {**part_record(wear.at), "quantity": wear.quantity, "unit": wear.reading.unit}
    if isinstance(shown, Refusal):
        return {**head, "points": None, "reason": shown.reason}
    return {
        **head,
        "hours_since": shown.series.origin.value,
        "now_h": round(shown.series.now, 3),
        "uncertainty": wear.uncertainty,
        "points": [
            {
                "use_h": round(float(x), 3),
                "value": r.value,
                "bound": r.bound.value,
                "level": r.level,
                "read_at": iso(summary, r.when),
            }
            for x, r in zip(shown.series.use, shown.readings, strict=True)
        ],
        "marks": [{"use_h": round(m.x, 3), "what": _LETTERS[m.letter]} for m in shown.marks],
    }
