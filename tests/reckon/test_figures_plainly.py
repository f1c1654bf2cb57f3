"""Required time, stops, availability and checks, against their definitions said plainly.

Plainly: one spell, one stop and one interval after the other, each asked of the clock alone.
"""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from board.reckon.availability import OpenStop, availability
from board.reckon.checks_due import checks_done, overdue_by
from board.reckon.refusal import Refusal
from board.reckon.required import MaintenanceStop, hours, loom_times, shift_spans
from board.reckon.spans import Span, common, joined, total
from board.reckon.summary import MAINTENANCE
from board.snapshot import Snapshot
from board.state.fleet import LoomState, Motion
from board.state.history import Ending, PartLife, Spell
from board.state.later import Later
from board.state.shifts import ShiftCalendar
from board.state.spells import SpellPieces, made_of
from board.state.usage import clocks
from grammar.entries import Reason
from tests.reckon.random_logs import random_shed
from tests.state.shed import at

SEEDS = range(40)
# the time looked at: all of it, or a part that begins within a stop, an interval or a life
TIMES = [
    (at("2026-11-02 06:00"), at("2026-11-12 06:00")),
    (at("2026-11-05 03:10"), at("2026-11-12 06:00")),
    (at("2026-11-03 11:20"), at("2026-11-09 00:40")),
]


def _calendar(shed: Snapshot) -> ShiftCalendar:
    return ShiftCalendar(shed.mill.shifts, shed.mill.zone)


def _spells(shed: Snapshot, loom: str) -> list[Spell]:
    state = shed.fleet.looms[loom]
    own = [s for s in shed.fleet.history.spells if s.loom == loom]
    since = state.spell_since or state.motion_since
    if since is not None:
        own.append(
            Spell(loom=loom, motion=state.motion, start=since, end=None,
                  reason=state.stopped_for, style=state.style)
        )  # fmt: skip
    return sorted(own, key=lambda spell: spell.start)


# -- required time and stops ---------------------------------------------------------------


def _required(shed: Snapshot, loom: str, start: datetime, end: datetime) -> tuple[Span, ...]:
    told = [
        Span(start=hours(spell.start), end=hours(min(spell.end or end, end)))
        for spell in _spells(shed, loom)
        if spell.motion is not Motion.UNKNOWN
        and spell.reason is not Reason.LAID_UP
        and spell.start < min(spell.end or end, end)
    ]
    return common(shift_spans(shed.mill, _calendar(shed), start, end), joined(told))


def _stops(shed: Snapshot, loom: str, start: datetime, end: datetime) -> list[MaintenanceStop]:
    spells = _spells(shed, loom)
    faults = [c.fault.since for c in shed.fleet.history.cleared if c.loom == loom]
    faults += [fault.since for fault in shed.fleet.looms[loom].faults]
    runs: list[list[Spell]] = []
    for spell in spells:
        is_stop = spell.motion is Motion.STOPPED and spell.reason in MAINTENANCE
        if not is_stop or (spell.end is not None and spell.end <= spell.start):
            continue
        before = runs[-1][-1].end if runs else None
        if before is not None and before >= spell.start:
            runs[-1].append(spell)
        else:
            runs.append([spell])
    behind = {spell.start: then for spell, then in pairwise(spells)}
    found = []
    for run in runs:
        since, until = run[0].start, run[-1].end
        then = behind.get(run[-1].start)
        found.append(
            MaintenanceStop(
                loom=loom,
                start=since,
                end=until,
                restored=until is not None and then is not None and then.motion is Motion.RUNNING,
                failure=any(since <= f and (until is None or f < until) for f in faults)
                or any(spell.reason is Reason.FAULT for spell in run),
            )
        )
    return [s for s in found if s.start < end and (s.end is None or s.end > start)]


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(("start", "end"), TIMES)
def test_required_time_and_stops_are_those_of_spell_after_spell(
    seed: int, start: datetime, end: datetime
) -> None:
    shed = random_shed(seed)
    told = loom_times(shed.fleet, shed.mill, _calendar(shed), start, end)
    assert list(told) == list(shed.mill.looms)
    for loom, each in told.items():
        assert each.required == _required(shed, loom, start, end)
        assert list(each.stops) == _stops(shed, loom, start, end)


def _odd_spells(dice: random.Random) -> list[Spell]:
    """Spells of one loom as no log is meant to leave them: of no time, overlapping, begun alike."""
    begin = datetime(2026, 11, 3, 6, tzinfo=UTC)
    spells = []
    for _ in range(dice.randrange(40)):
        start = begin + timedelta(minutes=30 * dice.randrange(120))
        spells.append(
            Spell(
                loom="A01",
                motion=dice.choice(list(Motion)),
                start=start,
                end=start + timedelta(minutes=dice.choice((0, 0, 30, 60, 61, 400))),
                reason=dice.choice((None, Reason.FAULT, Reason.PART, Reason.WEFT, Reason.LAID_UP)),
                style=None,
            )
        )
    return sorted(spells, key=lambda spell: spell.end or begin)


@pytest.mark.parametrize("seed", SEEDS)
def test_spells_kept_in_columns_tell_the_same_without_being_made(seed: int) -> None:
    shed = random_shed(seed)
    spells = _odd_spells(random.Random(seed))
    cut = len(spells) // 3
    pieces = SpellPieces((made_of(spells[:cut]), made_of(spells[cut:])))

    def never(since: datetime | None) -> list[Spell]:
        raise AssertionError("a spell was made")

    since = datetime(2026, 11, 3, 6, tzinfo=UTC) + timedelta(hours=seed)
    going_on = LoomState(
        loom="A01", motion=Motion.STOPPED, spell_since=since, stopped_for=Reason.PART
    )

    def having(spells: tuple[Spell, ...] | Later[Spell]) -> Snapshot:
        fleet = replace(
            shed.fleet,
            history=replace(shed.fleet.history, spells=spells),
            looms={**shed.fleet.looms, "A01": going_on},
        )
        return replace(shed, fleet=fleet)

    kept = having(Later(never, columns=lambda: pieces))
    plain = having(tuple(spells))
    for start, end in TIMES:
        times = loom_times(kept.fleet, kept.mill, _calendar(kept), start, end)
        assert times["A01"].required == _required(plain, "A01", start, end)
        assert list(times["A01"].stops) == _stops(plain, "A01", start, end)


@pytest.mark.parametrize("seed", SEEDS)
def test_availability_is_that_of_stop_after_stop(seed: int) -> None:
    dice = random.Random(seed)

    def spans(count: int, longest: int) -> list[Span]:
        starts = [float(dice.randrange(100)) for _ in range(count)]
        return [Span(start=s, end=s + dice.randrange(1, longest)) for s in starts]

    required, as_of = spans(dice.randrange(1, 12), 20), float(dice.randrange(1, 120))
    stops = [*spans(dice.randrange(12), 30), *(OpenStop(start=s.start) for s in spans(2, 9))]
    wanted = [Span(start=s.start, end=min(s.end, as_of)) for s in joined(required)
              if s.start < as_of]  # fmt: skip
    down, touching, still_open = [], 0, 0
    for stop in stops:
        until = as_of if isinstance(stop, OpenStop) else min(stop.end, as_of)
        if stop.start < until:
            within = common(wanted, (Span(start=stop.start, end=until),))
            down += within
            touching += bool(within)
            still_open += bool(within) and isinstance(stop, OpenStop)
    told = availability(required, stops, as_of=as_of)
    if not wanted:
        assert isinstance(told, Refusal)
        return
    assert not isinstance(told, Refusal)
    assert told.down == total(joined(down))
    assert told.required == total(wanted)
    assert (told.stops, told.still_open) == (touching, still_open)


# -- checks --------------------------------------------------------------------------------


def _lives(shed: Snapshot) -> list[PartLife]:
    fleet = shed.fleet
    over = [life for life in fleet.history.lives if life.ending is not Ending.ABSENT]
    in_service = [
        life
        for state in fleet.looms.values()
        for life in state.parts.values()
        if life.ending is Ending.IN_SERVICE
    ]
    return [*over, *in_service]


def _judged(shed: Snapshot, start: datetime, end: datetime) -> list[tuple[str, float | Refusal]]:
    """Every interval of a check that counts: whether it was read, and how far it was exceeded."""
    usage, calendar = clocks(shed.fleet, shed.mill), _calendar(shed)
    found = []
    for life in _lives(shed):
        for quantity in shed.mill.part[life.at.part].quantities:
            every = quantity.check_every
            if every is None:
                continue
            moments = {r.when for r in life.readings.get(quantity.name, ())}
            moments |= {life.fitted} if life.fitted is not None else set()
            marks = [("read", *pair) for pair in pairwise(sorted(moments)) if
                     start <= pair[1] <= end]  # fmt: skip
            last = min(life.ended or end, end)
            if moments and start <= last and max(moments) < last:
                marks.append(("ran out", max(moments), last))
            for what, before, after in marks:
                over = overdue_by(life, every, before, after, usage, calendar)
                if isinstance(over, float | int) and what == "read" and over > 0:
                    what = "little late" if over <= 0.10 * every.amount else "very late"
                elif isinstance(over, float | int) and what == "read" and over < -every.amount / 2:
                    what = "early"
                found.append((what, over))
    return found


def _assert_judged_together_as_alone(shed: Snapshot, start: datetime, end: datetime) -> None:
    done = checks_done(
        shed.fleet, shed.mill, clocks(shed.fleet, shed.mill), _calendar(shed), start, end
    )
    judged = _judged(shed, start, end)
    known = [(what, over) for what, over in judged if not isinstance(over, Refusal)]
    assert done.unknown == len(judged) - len(known)
    assert done.little_late == sum(what == "little late" for what, _ in known)
    assert done.late == sum(what.endswith("late") for what, _ in known)
    assert done.in_time == sum(what == "read" for what, _ in known)
    assert done.not_done == sum(what == "ran out" and over > 0 for what, over in known)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(("start", "end"), TIMES)
def test_checks_are_judged_together_as_each_alone(
    seed: int, start: datetime, end: datetime
) -> None:
    _assert_judged_together_as_alone(random_shed(seed, entries=250), start, end)


@pytest.mark.parametrize("seed", SEEDS)
def test_checks_count_only_while_the_part_was_on_its_loom(seed: int) -> None:
    """Though the readings of a life may lie outside of its stay, and the stay outside of the log.

    No fold leaves such lives: what is judged together must not lean on that.
    """
    dice = random.Random(seed)
    shed = random_shed(seed, entries=250)

    def shifted(life: PartLife) -> PartLife:
        if len(life.stays) > 1:
            return life
        start, end = (
            dice.choice((None, TIMES[0][0] + timedelta(hours=dice.randrange(-50, 300))))
            for _ in range(2)
        )
        stay = replace(life.stays[0], start=start, end=end)
        return replace(life, stays=(stay,), ended=dice.choice((life.ended, end)))

    looms = {
        name: replace(state, parts={place: shifted(x) for place, x in state.parts.items()})
        for name, state in shed.fleet.looms.items()
    }
    history = replace(shed.fleet.history, lives=tuple(shifted(x) for x in shed.fleet.history.lives))
    fleet = replace(shed.fleet, looms=looms, history=history)
    for start, end in TIMES:
        _assert_judged_together_as_alone(replace(shed, fleet=fleet), start, end)


def test_random_sheds_hold_checks_of_every_kind() -> None:
    """Or the comparison above would compare nothing."""
    found: set[str] = set()
    for seed in range(8):
        for what, over in _judged(random_shed(seed, entries=250), *TIMES[0]):
            found.add("unknown" if isinstance(over, Refusal) else what)
    assert found == {"early", "read", "little late", "very late", "ran out", "unknown"}
