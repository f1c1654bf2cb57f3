"""How long until a worn part reaches its limit: a forecast with its band, or a reason why not.

What it does: studies the past lives of one part, side and quantity once, and from that study
forecasts any number of parts in service: use left to the limit with a 90 % band, and the chance
that the limit passes before a horizon. A young fleet leaves each part to its own straight line.
What it leaves to others: what a reading is, running hours, words on a screen, and the honest audit
of all this (`audit`).

Which way of seeing the fleet is used, straight or along its mean curve, is chosen by how well each
forecast past lives that it had not seen; the band is widened or narrowed on the same past.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import assert_never

import numpy as np

from board.reckon import made
from board.reckon.calibration import Judgement, error, judge, way_to, widening
from board.reckon.crossing import Crossing
from board.reckon.fleetcurve import Curves
from board.reckon.forecast import Forecast, Method, NoForecast, Unbounded
from board.reckon.kinds import Kind
from board.reckon.learning import Lesson, Scale, curve_lesson, line_lesson, prepare
from board.reckon.ownline import LEAST_READINGS, own_lines
from board.reckon.refusal import Refusal
from board.reckon.series import Array, Life, Packed, Quantity, Series, pack
from board.reckon.tracked import ends
from board.reckon.tracking import AGE, OFFSET, Fleet, Readings, ahead
from grammar.frozen import dataclass

LEVEL = 0.90
# Fewer past lives than this say too little about how lives differ.
LEAST_LIVES = 4
# The curve is used only where it errs clearly less than the line, which has less to get wrong.
CLEARLY = 0.95
# Where parts are replaced before their limit, nobody has seen how wear ends: the unseen stretch is
# taken to be this uncertain, as a share of itself.
UNSEEN = 0.2
LEAST_SEEN = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """What the past lives of one part, side and quantity teach; it changes only when a life ends.

    `seen` is the wear that past lives show (new 0, limit 1); `errors`: each way of seeing with its
    mean error over past lives it had not seen [running h].
    """

    quantity: Quantity
    method: Method
    scale: Scale
    fleet: Fleet
    curve: Curves
    seen: float
    widening: Array
    df: int
    past_lives: int
    errors: tuple[tuple[Method, float], ...]


def study(
    lives: Sequence[Life],
    quantity: Quantity,
    ways: tuple[Method, ...] = (Method.LINE, Method.CURVE),
) -> Study | Refusal:
    """Learn from past lives, or say why they are too few.

    `ways` are the ways of seeing to choose from; lives that show no curve are seen as lines.
    Raises ValueError where a series is malformed (see `pack`).
    """
    usable = [life for life in lives if _tells(life.series)]
    short = f"{len(usable)} past lives with two readings, a fleet needs {LEAST_LIVES}"
    if len(usable) < LEAST_LIVES:
        return Refusal(reason=short)
    prepared = prepare(usable, quantity)
    if prepared is None:
        return Refusal(reason="the readings of past lives do not go toward the limit")
    packed, readings, scale = prepared
    lessons: list[tuple[Method, Lesson]] = []
    if Method.CURVE in ways:
        curved = curve_lesson(readings, packed, scale, LEAST_LIVES)
        if curved is not None:
            lessons.append((Method.CURVE, curved))
    if Method.LINE in ways or not lessons:
        lessons.insert(0, (Method.LINE, line_lesson(readings)))
    judged = [(method, lesson, judge(readings, lesson)) for method, lesson in lessons]
    if judged[0][2].judged.any(axis=1).sum() < LEAST_LIVES - 1:
        return Refusal(reason="past lives have too few readings to judge a forecast by")
    errors = tuple((method, error(j) * scale.typical) for method, _, j in judged)
    method, lesson, judgement = _choose(judged)
    if lesson.seen < LEAST_SEEN:
        percent = 100 * max(lesson.seen, 0.0)
        return Refusal(
            reason=f"past lives were replaced at {percent:.0f} % of their wear, the rest is unknown"
        )
    factor, df = widening(judgement)
    whole = np.array([len(usable)])
    return Study(
        quantity=quantity,
        method=method,
        scale=scale,
        fleet=lesson.fleet.rows(whole),
        curve=lesson.curves.rows(whole),
        seen=lesson.seen,
        widening=factor,
        df=df,
        past_lives=len(usable),
        errors=errors,
    )


def _tells(series: Series) -> bool:
    """Whether a past life says anything about a rate: two plain readings, or a bracketed limit."""
    kinds = series.kind.tolist()
    return kinds.count(int(Kind.EXACT)) >= 2 or {int(Kind.BELOW), int(Kind.ABOVE)} <= set(kinds)


def _choose(judged: list[tuple[Method, Lesson, Judgement]]) -> tuple[Method, Lesson, Judgement]:
    best = judged[0]
    for other in judged[1:]:
        if error(other[2]) < CLEARLY * error(best[2]):
            best = other
    return best


def forecasts(
    series: Sequence[Series], quantity: Quantity, known: Study | Refusal
) -> list[Forecast | NoForecast]:
    """Forecast each series, in order; `known` is what `study` made of the past lives.

    Raises ValueError where a series is malformed (see `pack`).
    """
    return forecasts_of_all([(pack(series, quantity), quantity, known)])[0]


def forecasts_of_all(
    asked: Sequence[tuple[Packed, Quantity, Study | Refusal]],
    meanwhile: Callable[[], None] = lambda: None,
) -> list[list[Forecast | NoForecast]]:
    """The same of several quantities at once, each with what is known of its past lives.

    ``meanwhile`` is called before each quantity's answers; what it raises ends the reckoning.
    """
    studied = [
        (own, known) for own, _, known in asked if isinstance(known, Study) and len(own.count)
    ]
    crossings = iter(_fleet_crossings(studied))
    found: list[list[Forecast | NoForecast]] = []
    for own, quantity, known in asked:
        meanwhile()
        if not len(own.count):
            found.append([])
            continue
        refusals = _refusals(own, quantity)
        match known:
            case Study():
                crossing, method = next(crossings), known.method
            case Refusal():
                lines = own_lines(own, 0.5 * quantity.uncertainty)
                crossing, method = lines.crossing, Method.OWN
                for i in np.flatnonzero((lines.spare < 1) & (own.count > 0)):
                    refusals.setdefault(int(i), _too_few(known, int(lines.plain[i])))
            case _:
                assert_never(known)
        found.append(_answers(own, crossing, method, refusals, known))
    return found


def _too_few(known: Refusal, plain: int) -> str:
    return (
        f"{known.reason}; its own line needs {LEAST_READINGS} plain readings at different uses, and"
        f" one more each time the reading was set anew: {plain} so far"
    )


def _refusals(packed: Packed, quantity: Quantity) -> dict[int, str]:
    """Series that no method should forecast, and why."""
    last = np.maximum(packed.count - 1, 0)
    row = np.arange(len(last))
    progress, kind = packed.progress[row, last], packed.kind[row, last]
    slack = 1e-9 * max(abs(quantity.limit), quantity.uncertainty)
    past = (kind == 0) & (progress > quantity.uncertainty + slack)
    past |= (kind > 0) & (progress >= -slack)
    reasons = {int(i): "the last reading is past the limit" for i in np.flatnonzero(past)}
    for i in np.flatnonzero(packed.count == 0):
        reasons[int(i)] = "no reading since it was fitted"
    return reasons


def _fleet_crossings(asked: Sequence[tuple[Packed, Study]]) -> list[Crossing]:
    readings = [known.scale.readings(packed) for packed, known in asked]
    fleets = [
        (own, known.fleet, known.curve) for own, (_, known) in zip(readings, asked, strict=True)
    ]
    return [
        _crossing(packed, own, known, *state)
        for (packed, known), own, state in zip(asked, readings, ends(fleets), strict=True)
    ]


def _crossing(
    packed: Packed, readings: Readings, known: Study, mean: Array, cov: Array
) -> Crossing:
    """The lines of parts from their states after the last reading, as `tracked.ends` has them."""
    rows = np.zeros(len(packed.count), dtype=np.int64)
    fleet, curves = known.fleet.rows(rows), known.curve.rows(rows)
    since = packed.now / known.scale.typical - readings.use[:, -1]
    mean, cov = ahead(mean, cov, since, fleet)
    way = way_to(np.ones(len(rows)), mean, cov, fleet, curves)
    factor = known.widening[np.clip(packed.count - 1, 0, len(known.widening) - 1)]
    hours = known.scale.typical
    shown = curves.age(np.full(len(rows), known.seen) - mean[OFFSET])
    unseen = np.clip(mean[AGE] + way.margin - np.maximum(shown, mean[AGE]), 0.0, None)
    return Crossing(
        margin=way.margin,
        rate=way.rate / hours,
        var_margin=factor * way.var_margin + (UNSEEN * unseen) ** 2,
        cov=factor * way.cov / hours,
        var_rate=np.zeros(len(rows)),
        process=factor * way.drift / hours,
        df=np.full(len(rows), known.df),
    )


def _answers(
    packed: Packed,
    crossing: Crossing,
    method: Method,
    refusals: dict[int, str],
    known: Study | Refusal,
) -> list[Forecast | NoForecast]:
    tail = 0.5 * (1.0 - LEVEL)
    low, median, high = (crossing.quantile(p).tolist() for p in (tail, 0.5, 1.0 - tail))
    columns = zip(
        *(
            getattr(crossing, name).tolist()
            for name in ("margin", "rate", "var_margin", "cov", "var_rate", "process", "df")
        ),
        strict=True,
    )
    endless = Unbounded(reason="the readings leave room for no wear at all")
    remark, counts = _remark(known), packed.count.tolist()
    past_lives = known.past_lives if isinstance(known, Study) else 0
    basis = {count: _basis(method, count, past_lives) + remark for count in set(counts)}
    answers: list[Forecast | NoForecast] = []
    for i, (numbers, count) in enumerate(zip(columns, counts, strict=True)):
        if i in refusals:
            answers.append(NoForecast(reason=refusals[i]))
            continue
        if median[i] == np.inf:
            answers.append(NoForecast(reason=f"{count} readings show no wear toward the limit"))
            continue
        margin, rate, var_margin, cov, var_rate, process, df = numbers
        answers.append(
            made.Forecast(
                median=median[i],
                low=low[i],
                high=endless if high[i] == np.inf else high[i],
                level=LEVEL,
                method=method,
                basis=basis[count],
                readings=count,
                past_lives=past_lives,
                approach=made.Approach(
                    margin=margin,
                    rate=rate,
                    var_margin=var_margin,
                    cov=cov,
                    var_rate=var_rate,
                    process=process,
                    df=df,
                ),
            )
        )
    return answers


def _remark(known: Study | Refusal) -> str:
    match known:
        case Study() if known.seen < 0.95:
            return f"; past lives seen only to {100 * known.seen:.0f} % of the wear"
        case Study():
            return ""
        case Refusal():
            return f"; {known.reason}"
        case _:
            assert_never(known)


def _basis(method: Method, readings: int, past_lives: int) -> str:
    counted = f"{readings} reading" if readings == 1 else f"{readings} readings"
    match method:
        case Method.LINE:
            return f"line of {counted} shrunk toward {past_lives} past lives"
        case Method.CURVE:
            return f"effective age from {counted} on the mean curve of {past_lives} past lives"
        case Method.OWN:
            return f"own straight line of {counted}"
        case _:
            assert_never(method)
