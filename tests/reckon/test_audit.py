"""The audit: only the past of each moment, one score a life, honest counts."""

from dataclasses import replace

import numpy as np
import pytest

from board.reckon.audit import HORIZONS, Audit, DatedLife, Outcome, Scored, audit
from board.reckon.forecast import NoForecast, Unbounded
from board.reckon.kinds import Kind
from board.reckon.learning import bracketed, crossings
from board.reckon.ownline import own_lines
from board.reckon.refusal import Refusal
from board.reckon.series import Life, Quantity, Series, Toward, exact_series, pack
from board.reckon.wear import forecasts, study

GAP = Quantity(limit=1.0, toward=Toward.UP, uncertainty=0.04, new=0.0)


def dated(
    began: float, rate: float, seed: int, until: float = 1.0, power: float = 1.0
) -> DatedLife:
    """A gap read every 100 h until it passes `until`; its clock runs in hours of the shed."""
    noise = np.random.default_rng(seed).normal(0.0, 0.02, 60)
    use = np.arange(60) * 100.0
    value = (use * rate / 1000.0) ** power + noise
    last = int(np.argmax(value >= until)) + 1
    return DatedLife(
        life=Life(series=exact_series(use[:last], value[:last]), ended=use[last - 1] + 10.0),
        read_at=began + use[:last],
        ended_at=began + use[last - 1] + 10.0,
    )


def shed(lives: int = 30, until: float = 1.0, power: float = 1.0) -> list[DatedLife]:
    rates = np.random.default_rng(8).normal(1.0, 0.15, lives)
    return [dated(400.0 * i, rate, 50 + i, until, power) for i, rate in enumerate(rates)]


def done(lives: list[DatedLife], seed: int = 1) -> Audit:
    found = audit(lives, GAP, seed)
    assert isinstance(found, Audit)
    return found


def test_counts_add_up_and_the_sentence_says_them():
    found = done(shed())
    assert len(found.lives) == 30
    assert found.all.judged + found.replaced_early + found.no_forecast + found.no_moment == 30
    assert found.all.held == sum(s.outcome is Outcome.HELD for s in found.lives)
    # The first lives had no fleet yet: three readings gave an own line, fewer nothing.
    assert found.no_forecast >= 1
    assert found.sentence == (
        f"held {found.all.held} of {found.all.judged} lives,"
        f" {found.no_forecast} had no forecast then"
    )
    assert sum(tally.judged for _, tally in found.horizons) == found.all.judged
    assert [high for high, _ in found.horizons] == [*HORIZONS, np.inf]


@pytest.mark.parametrize("power", [0.6, 1.0, 2.0])
def test_the_band_holds_and_the_rivals_lose(power):
    found = done(shed(80, power=power))
    # 90 % of about 75 lives, give or take three standard deviations.
    assert found.all.judged >= 70
    assert 0.80 <= found.all.held / found.all.judged <= 0.99
    assert found.all.error < 0.5 * found.all.ignoring
    # On a straight fleet a part's own line, of up to a dozen readings, is nearly as good.
    assert found.all.error < (1.1 if power == 1.0 else 0.6) * found.all.own_line


def test_a_seed_gives_the_same_audit_and_another_another():
    lives = shed()
    assert done(lives, 1) == done(lives, 1)
    assert done(lives, 1).lives != done(lives, 2).lives


def test_nothing_from_after_the_moment_is_used():
    lives = shed()
    before = done(lives)
    # Everything that ends later is changed beyond recognition: the early scores stay as they were.
    cut = lives[15].ended_at
    changed = [
        one if one.ended_at <= cut else dated(one.read_at[0], 3.0, 999 + i)
        for i, one in enumerate(lives)
    ]
    after = done(changed)
    same = [i for i, one in enumerate(lives) if one.ended_at <= cut]
    assert len(same) >= 12
    for i in same:
        assert after.lives[i] == before.lives[i]
    assert after.lives != before.lives


def test_readings_after_the_moment_do_not_move_the_forecast():
    lives = shed()
    found = done(lives)
    i = next(
        i
        for i, s in enumerate(found.lives)
        if s.outcome is Outcome.HELD and s.readings < len(lives[i].life.series.use) - 2
    )
    series = lives[i].life.series
    value = series.value.copy()
    # Between the moment and the crossing the readings bend, the crossing stays.
    value[found.lives[i].readings : -2] -= 0.05
    bent = replace(
        lives[i], life=Life(series=replace(series, value=value), ended=lives[i].life.ended)
    )
    again = done([*lives[:i], bent, *lives[i + 1 :]]).lives[i]
    assert again == found.lives[i]


def test_parts_replaced_before_the_limit_are_counted_apart():
    lives = shed(24) + [
        replace(one, read_at=one.read_at + 12000.0, ended_at=one.ended_at + 12000.0)
        for one in shed(6, until=0.6)
    ]
    found = done(lives)
    early = [s for s in found.lives[24:] if s.outcome is Outcome.REPLACED_EARLY]
    assert found.replaced_early == len(early) >= 4
    assert f", {found.replaced_early} replaced before judgement" in found.sentence
    assert all(isinstance(s.left, Refusal) for s in early)


def test_a_part_that_outlived_its_band_is_a_miss_though_it_never_crossed():
    lives = shed(24)
    late = lives[-1].ended_at + 10.0
    use = np.arange(0, 4001, 100.0)
    slow = DatedLife(
        life=Life(series=exact_series(use, np.minimum(use / 1000.0, 0.3)), ended=4100.0),
        read_at=late + use,
        ended_at=late + 4100.0,
    )
    outcomes = {done([*lives, slow], seed).lives[-1].outcome for seed in range(8)}
    assert Outcome.MISSED in outcomes
    assert outcomes <= {Outcome.MISSED, Outcome.REPLACED_EARLY}


def test_gauge_verdicts_are_judged_by_the_middle_of_their_bracket():
    def gauged(began: float, rate: float) -> DatedLife:
        use = np.arange(1, 40) * 100.0
        kind = np.where(use * rate / 1000.0 >= 1.0, int(Kind.ABOVE), int(Kind.BELOW))
        n = int(np.argmax(kind > 0)) + 1
        series = Series(
            use=use[:n], value=np.ones(n), kind=kind[:n], level=np.zeros(n, int), now=use[n - 1]
        )
        return DatedLife(
            life=Life(series=series, ended=use[n - 1]),
            read_at=began + use[:n],
            ended_at=began + use[n - 1],
        )

    rates = np.random.default_rng(5).normal(1.0, 0.15, 20)
    found = done([gauged(300.0 * i, rate) for i, rate in enumerate(rates)])
    assert found.all.judged >= 12
    assert found.all.held >= 0.75 * found.all.judged


def test_no_life_is_a_refusal_and_few_lives_have_no_numbers():
    assert audit([], GAP, 1) == Refusal(reason="no past life on record")
    brief = DatedLife(
        life=Life(series=exact_series([0, 100], [0.0, 1.1]), ended=100.0),
        read_at=np.array([0.0, 100.0]),
        ended_at=100.0,
    )
    found = done([brief])
    assert found.all.judged == 0
    assert isinstance(found.all.error, Refusal)
    assert found.sentence == "held 0 of 0 lives, 1 had no forecast then"


@pytest.mark.parametrize("seed", range(3))
def test_one_life_more_changes_no_earlier_moment(seed):
    lives = shed(20)
    later = dated(1e6, 1.0, 7)
    assert done([*lives, later], seed).lives[:20] == done(lives, seed).lives


def test_a_life_scores_alike_whatever_lives_are_scored_with_it():
    """Lives that begin at once share what is known: forecasts and own lines are made together."""
    rates = np.random.default_rng(3).normal(1.0, 0.15, 24)
    lives = [_gauged(dated(800.0 * (i // 4), rate, i), i % 3 == 0) for i, rate in enumerate(rates)]
    whole = done(lives)
    draws = np.random.default_rng(1).random(len(lives))
    for place, draw in enumerate(draws.tolist()):
        assert whole.lives[place] == _alone(place, draw, lives)


def _gauged(life: DatedLife, gauged: bool) -> DatedLife:
    """A life whose second reading is a gauge's, so that its own line is fitted step by step."""
    if not gauged:
        return life
    series = life.life.series
    kind = series.kind.copy()
    kind[1] = int(Kind.BELOW)
    return replace(life, life=replace(life.life, series=replace(series, kind=kind)))


def _alone(place: int, draw: float, lives: list[DatedLife]) -> Scored:
    """The score of one life by the plain definition: its own study, forecast and line."""
    ends = crossings(bracketed(pack([one.life.series for one in lives], GAP))[0])
    life, end = lives[place], float(ends[place])
    whole = life.life.series
    before = np.where(whole.kind == Kind.EXACT, whole.value < GAP.limit, whole.kind < 0)
    before &= whole.use < end
    moments = [int(i) + 1 for i in np.flatnonzero(before) if i + 1 < len(whole.use)]
    count = moments[int(draw * len(moments))]
    seen = replace(
        whole,
        use=whole.use[:count],
        value=whole.value[:count],
        kind=whole.kind[:count],
        level=whole.level[:count],
        now=float(whole.use[count - 1]),
    )
    known = [i for i, one in enumerate(lives) if one.ended_at < life.read_at[count - 1]]
    (answer,) = forecasts([seen], GAP, study([lives[i].life for i in known], GAP))
    nothing = Refusal(reason=Outcome.NO_FORECAST.value)
    if isinstance(answer, NoForecast):
        return Scored(
            outcome=Outcome.NO_FORECAST,
            readings=count,
            left=nothing,
            error=nothing,
            ignoring=nothing,
            own_line=nothing,
        )
    left = end - seen.now
    inside = answer.low <= left and (isinstance(answer.high, Unbounded) or left <= answer.high)
    lines = own_lines(pack([seen], GAP), 0.5 * GAP.uncertainty)
    crossed = ends[known][np.isfinite(ends[known])]
    own: float | Refusal = Refusal(reason="a line needs two readings")
    if (seen.kind == Kind.EXACT).sum() >= 2 and lines.spare[0] >= 0:
        own = 100.0 * abs(float(lines.crossing.quantile(0.5)[0]) - left) / left
    ignoring: float | Refusal = Refusal(reason="no past life had reached the limit")
    if crossed.size:
        ignoring = 100.0 * abs(max(float(np.median(crossed)) - seen.now, 0.0) - left) / left
    return Scored(
        outcome=Outcome.HELD if inside else Outcome.MISSED,
        readings=count,
        left=left,
        error=100.0 * abs(answer.median - left) / left,
        ignoring=ignoring,
        own_line=own,
    )
