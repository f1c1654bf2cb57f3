"""How past forecasts turned out: the shed's own record, each forecast made from its past alone.

What it does: takes whole lives with the time of every reading, goes back to one moment in each
life, makes the forecast that would have been made then, and scores it against what became of the
part; beside it two rivals, "readings ignored" and "own straight line".
What it leaves to others: the wording on the screen, and where times and running hours come from.

One moment a life, drawn by a seeded generator among its readings before the limit, so that a life
with many readings weighs no more than one with few. At that moment only lives that had ended by
then are known: learning, the choice of method and the width of the band all start anew from them.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum
from itertools import pairwise

import numpy as np

from board.reckon.forecast import Forecast, NoForecast, Unbounded
from board.reckon.kinds import Kind
from board.reckon.learning import bracketed, crossings
from board.reckon.ownline import own_lines
from board.reckon.refusal import Refusal
from board.reckon.series import Array, Life, Quantity, Series, pack
from board.reckon.wear import LEVEL, forecasts, study
from grammar.frozen import dataclass

# Ends of the classes of use that was left [running h]; the last class is open.
HORIZONS = (100.0, 500.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class DatedLife:
    """A past life in time: `read_at` of each reading and `ended_at`, on one clock for all lives.

    A life is known from the moment after its end.
    """

    life: Life
    read_at: Array
    ended_at: float


class Outcome(Enum):
    """What became of one past forecast."""

    HELD = "held"
    MISSED = "missed"
    REPLACED_EARLY = "replaced before judgement"
    NO_FORECAST = "no forecast then"
    NO_MOMENT = "no reading before the limit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scored:
    """One life: its outcome and, judged by its crossing, the use that was left [h] and errors [%].

    A refusal says why there is no number. `error` is of the forecast's median, `ignoring` of the
    fleet's median life less the part's age, `own_line` of a line through the part's own readings
    (infinite where that never reaches the limit).
    """

    outcome: Outcome
    readings: int
    left: float | Refusal
    error: float | Refusal
    ignoring: float | Refusal
    own_line: float | Refusal


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """Counts of a set of lives, and their median errors [% of the use that was left]."""

    judged: int
    held: int
    error: float | Refusal
    ignoring: float | Refusal
    own_line: float | Refusal


@dataclass(frozen=True, slots=True, kw_only=True)
class Audit:
    """How forecasts held over a shed's past: all lives, and by the use that was left [h].

    `horizons` pairs the upper end of each class with its tally, `inf` for the last.
    """

    level: float
    seed: int
    all: Tally
    horizons: tuple[tuple[float, Tally], ...]
    replaced_early: int
    no_forecast: int
    no_moment: int
    lives: tuple[Scored, ...]

    @property
    def sentence(self) -> str:
        """The count in words, as `held 17 of 19 lives, 6 replaced before judgement`."""
        said = f"held {self.all.held} of {self.all.judged} lives"
        if self.replaced_early:
            said += f", {self.replaced_early} replaced before judgement"
        if self.no_forecast:
            said += f", {self.no_forecast} had no forecast then"
        return said


def audit(lives: Sequence[DatedLife], quantity: Quantity, seed: int) -> Audit | Refusal:
    """Score one past forecast a life; the order of `lives` and `seed` fix the moments.

    A part taken out before its limit is judged only if it had outlived the whole band, as a miss:
    that much is certain of it. Raises ValueError where a series is malformed.
    """
    if not lives:
        return Refusal(reason="no past life on record")
    packed, _ = bracketed(pack([dated.life.series for dated in lives], quantity))
    ends = crossings(packed)
    generator = np.random.default_rng(seed)
    # Drawn for every life, moment or not, so that one life more does not change those before it.
    draws = generator.random(len(lives))
    asked: list[_Asked | None] = [
        _asked(dated, end, draw, quantity)
        for dated, end, draw in zip(lives, ends.tolist(), draws.tolist(), strict=True)
    ]
    answers = iter(_answers([one for one in asked if one is not None], lives, ends, quantity))
    scored = tuple(
        _unscored(Outcome.NO_MOMENT, 0) if one is None else next(answers) for one in asked
    )
    return audit_of(scored, seed)


def audit_of(scored: tuple[Scored, ...], seed: int) -> Audit:
    """What scored lives add up to."""
    counted = {outcome: sum(one.outcome is outcome for one in scored) for outcome in Outcome}
    edges = (0.0, *HORIZONS, np.inf)
    return Audit(
        level=LEVEL,
        seed=seed,
        all=_tally(scored),
        horizons=tuple(
            (
                float(high),
                _tally(
                    tuple(s for s in scored if isinstance(s.left, float) and low < s.left <= high)
                ),
            )
            for low, high in pairwise(edges)
        ),
        replaced_early=counted[Outcome.REPLACED_EARLY],
        no_forecast=counted[Outcome.NO_FORECAST],
        no_moment=counted[Outcome.NO_MOMENT],
        lives=scored,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """The moment that a life is gone back to: its time, the readings `seen` by then.

    `end` [running h]: the use at which the life passed its limit, nan where it never did; `ended`
    the use at which it was over.
    """

    then: float
    seen: Series
    end: float
    ended: float


def _asked(dated: DatedLife, end: float, draw: float, quantity: Quantity) -> _Asked | None:
    """The moment drawn for a life, or None where it has none."""
    whole = dated.life.series
    moments = _moments(whole, end, quantity)
    if not moments:
        return None
    count = moments[int(draw * len(moments))]
    return _Asked(
        then=float(dated.read_at[count - 1]),
        seen=_first(whole, count),
        end=end,
        ended=dated.life.ended,
    )


def _answers(
    asked: Sequence[_Asked], lives: Sequence[DatedLife], ends: Array, quantity: Quantity
) -> list[Scored]:
    """The forecast at each moment against what became of the life.

    Moments by which the same lives had ended share what these taught, and are forecast together.
    """
    ended_at = np.array([dated.ended_at for dated in lives])
    alike: dict[int, list[int]] = {}
    for place, one in enumerate(asked):
        alike.setdefault(int((ended_at < one.then).sum()), []).append(place)
    own = _own_lines([one.seen for one in asked], quantity)
    scored: dict[int, Scored] = {}
    for places in alike.values():
        known = np.flatnonzero(ended_at < asked[places[0]].then)
        taught = study([lives[i].life for i in known.tolist()], quantity)
        made = forecasts([asked[place].seen for place in places], quantity, taught)
        for place, answer in zip(places, made, strict=True):
            scored[place] = _score(asked[place], answer, ends[known], own[place])
    return [scored[place] for place in range(len(asked))]


def _score(one: _Asked, answer: Forecast | NoForecast, ends: Array, own: float | Refusal) -> Scored:
    """One forecast; `ends` are of the lives known then, `own` is the use left by its own line."""
    count = len(one.seen.use)
    if isinstance(answer, NoForecast):
        return _unscored(Outcome.NO_FORECAST, count)
    if np.isnan(one.end):
        outlived = _beyond(answer, one.ended - one.seen.now)
        return _unscored(Outcome.MISSED if outlived else Outcome.REPLACED_EARLY, count)

    left = one.end - one.seen.now
    held = answer.low <= left and not _beyond(answer, left)
    return Scored(
        outcome=Outcome.HELD if held else Outcome.MISSED,
        readings=count,
        left=left,
        error=_percent(answer.median, left),
        ignoring=_ignoring(ends, one.seen.now, left),
        own_line=own if isinstance(own, Refusal) else _percent(own, left),
    )


def _moments(series: Series, end: float, quantity: Quantity) -> list[int]:
    """Numbers of readings after which a forecast could have been asked for, before the limit."""
    progress = quantity.sign * (series.value - quantity.limit)
    before = np.where(series.kind == Kind.EXACT, progress < 0.0, series.kind * quantity.sign < 0.0)
    if not np.isnan(end):
        before &= series.use < end
    # The last reading of a life is no moment: nothing is left of the life to judge it by.
    return [int(i) + 1 for i in np.flatnonzero(before) if i + 1 < len(series.use)]


def _first(series: Series, count: int) -> Series:
    return Series(
        use=series.use[:count],
        value=series.value[:count],
        kind=series.kind[:count],
        level=series.level[:count],
        now=float(series.use[count - 1]),
        origin=series.origin,
        step=series.step[:count],
    )


def _beyond(answer: Forecast, left: float) -> bool:
    return not isinstance(answer.high, Unbounded) and left > answer.high


def _percent(said: float, left: float) -> float:
    return 100.0 * abs(said - left) / left


def _ignoring(ends: Array, age: float, left: float) -> float | Refusal:
    crossed = ends[np.isfinite(ends)]
    if crossed.size == 0:
        return Refusal(reason="no past life had reached the limit")
    return _percent(max(float(np.median(crossed)) - age, 0.0), left)


def _own_lines(several: Sequence[Series], quantity: Quantity) -> list[float | Refusal]:
    """Use left to the limit by a line through each series' own readings [running h]."""
    if not several:
        return []
    packed = pack(several, quantity)
    plain = (packed.there & (packed.kind == 0)).sum(axis=1)
    lines = own_lines(packed, 0.5 * quantity.uncertainty)
    # Two readings on one level make a line, though not one to trust: it is a rival here, no
    # forecast.
    lacking = (plain < 2) | (lines.spare < 0)
    left = lines.crossing.quantile(0.5).tolist()
    none = Refusal(reason="a line needs two readings")
    return [none if lacks else use for lacks, use in zip(lacking.tolist(), left, strict=True)]


def _unscored(outcome: Outcome, readings: int) -> Scored:
    reason = Refusal(reason=outcome.value)
    return Scored(
        outcome=outcome,
        readings=readings,
        left=reason,
        error=reason,
        ignoring=reason,
        own_line=reason,
    )


def _tally(scored: tuple[Scored, ...]) -> Tally:
    judged = [one for one in scored if one.outcome in (Outcome.HELD, Outcome.MISSED)]
    return Tally(
        judged=len(judged),
        held=sum(one.outcome is Outcome.HELD for one in judged),
        error=_median([one.error for one in judged]),
        ignoring=_median([one.ignoring for one in judged]),
        own_line=_median([one.own_line for one in judged]),
    )


def _median(errors: list[float | Refusal]) -> float | Refusal:
    numbers = [error for error in errors if not isinstance(error, Refusal)]
    if not numbers:
        return Refusal(reason="no life to judge by")
    middle = float(np.median(numbers))
    if not np.isfinite(middle):
        return Refusal(reason="more than half of these lines never reach the limit")
    return middle
