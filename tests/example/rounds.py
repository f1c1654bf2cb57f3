"""The example's routine: handovers, locks seen, readings, meters, weavers' notes, small actions.

Processes of `world` that run shift by shift. What a reading leads to (a part wanted, a job) is
handed to `jobs`; the told story is left to `story`.
"""

from __future__ import annotations

from collections.abc import Iterable

from . import jobs
from .diary import CLOSED, DAY, END, HOUR, Shift, all_shifts, at, closed, wall
from .prose import ACTIONS, DROPS, NOTES
from .voices import VOICES
from .wear import Place
from .world import PICKS_METERS, SPEEDS, Loom, Process, World

# What is looked at together, and how often [days].
CHECKS: dict[str, float] = {
    "tapes": 4.1,
    "heads": 4.6,
    "left guides": 8.5,
    "right guides": 8.5,
    "brake": 9.7,
    "belt": 12.6,
    "lenos": 8.0,
    "filter": 5.6,
}
_LENGTHS = {"tapes": 3, "heads": 2, "left guides": 3, "right guides": 3, "brake": 2, "lenos": 2}
_LONGEST = 5  # readings in an entry
_MOST = 19  # checks in a section and shift
_STEPS = (0.20, 0.30, 0.40)  # of the gauge [mm]
SILENT = "A21"
_SILENT_FROM = at("2026-11-22 09:40")


def start(w: World) -> None:
    """Put the routine of the whole example on the clock."""
    for loom in w.looms.values():
        for kind, days in CHECKS.items():
            loom.checked[kind] = w.now - w.rng.uniform(0.0, days * DAY)
    shifts = [s for s in all_shifts() if not closed(s.start + HOUR)]
    for shift, following in zip(shifts, [*shifts[1:], shifts[-1].after()], strict=True):
        w.spawn(_handover(w, shift, following, first=shifts[0]), at=shift.start)
        for section in "AB":
            w.spawn(_round(w, section, shift), at=shift.start + w.rng.randint(25, 60))
            w.spawn(_notes(w, section), at=shift.start + w.rng.randint(30, 400))
            if shift.turn == 0 and shift.day.weekday() == "AB".index(section):
                w.spawn(_meters(w, section), at=shift.start + w.rng.randint(20, 50))
        if w.rng.random() < 0.35:
            w.spawn(_action(w), at=shift.start + w.rng.randint(40, 420))


def quiet(w: World, loom: Loom) -> bool:
    """Whether the story wants no line about this loom: one falls silent toward the end."""
    return loom.name == SILENT and w.now >= _SILENT_FROM - 3 * HOUR


def _handover(w: World, shift: Shift, following: Shift, *, first: Shift) -> Process:
    lead = shift.crew()[0]
    last = following.start >= END
    if shift != first:
        opens = CLOSED[1] if shift.start <= CLOSED[1] < shift.end else shift.start
        yield from w.until(max(shift.start + w.rng.randint(1, 6), opens))
        w.write_group("shed", [], f"taken over by {lead}")
        yield w.rng.randint(14, 32)
        for loom in list(w.looms.values()):
            if loom.lock and loom.lock not in shift.crew():
                yield from w.pause(loom.name)
                if loom.lock and not any(start <= w.now < end for start, end in loom.reserved):
                    w.write(loom, f"lock seen by {w.writer(loom.section)}")
                    yield w.rng.randint(2, 6)
    close = min(shift.end, CLOSED[0]) if w.now < CLOSED[0] else shift.end
    yield from w.until(close - 4 if last else close - w.rng.randint(2, 6))
    w.write_group("shed", [], f"handed over {lead} to {following.crew()[0]}")


def _round(w: World, section: str, shift: Shift) -> Process:
    looms = [loom for loom in w.looms.values() if loom.section == section]
    due = [
        ((w.now - loom.checked[kind]) / (days * DAY), loom, kind)
        for loom in looms
        for kind, days in CHECKS.items()
    ]
    if w.now > END - 30 * HOUR:  # nobody but one loom goes unseen into the last handover
        due += [(2.0, loom, "tapes") for loom in looms if loom.last_entry < w.now - 20 * HOUR]
    due = sorted((d for d in due if d[0] > 0.93), key=lambda d: -d[0])[:_MOST]
    todo: dict[str, list[str]] = {}
    for _, loom, kind in sorted(due, key=lambda d: d[1].name):
        todo.setdefault(loom.name, []).append(kind)
    for name, kinds in todo.items():
        loom = w.looms[name]
        if w.now > shift.end - 35 or not w.idle(loom) or quiet(w, loom):
            continue
        for several in _entries(dict.fromkeys(kinds)):
            yield from w.pause(name)
            read(w, loom, several)
            yield w.rng.randint(3, 25)


def _entries(kinds: Iterable[str]) -> list[list[str]]:
    """What is written in one entry: as many kinds of check as make a line of five readings."""
    entries: list[list[str]] = []
    length = _LONGEST
    for kind in kinds:
        length += _LENGTHS.get(kind, 1)
        if length > _LONGEST:
            entries.append([])
            length = _LENGTHS.get(kind, 1)
        entries[-1].append(kind)
    return entries


def read(w: World, loom: Loom, kinds: list[str]) -> None:
    """Write what a check of a loom shows in one entry, and note what it makes wanted."""
    loom.advance(w.now)
    loom.checked |= dict.fromkeys(kinds, w.now)
    places = [place for kind in kinds for place in _places(w, loom, kind)]
    clauses = [c for place in places for c in _readings(w, loom, place)]
    if clauses:
        w.write(loom, *clauses)


def _places(w: World, loom: Loom, kind: str) -> list[Place]:
    wanted = {
        "tapes": ["left tape", "right tape", "cutter"],
        "heads": ["left head", "right head"],
        "left guides": ["left guide 1", "left guide 2", "left guide 3"],
        "right guides": ["right guide 4", "right guide 5", "right guide 6"],
        "lenos": ["left leno", "right leno"],
    }.get(kind, [kind])
    return [loom.places[label] for label in wanted if not loom.places[label].empty]


def _readings(w: World, loom: Loom, place: Place) -> list[str]:
    clauses = []
    for name, wear in place.wears.items():
        if name == "lining" and w.rng.random() < 0.5:
            continue
        if place.part == "guide" and w.rng.random() < 0.35:
            clauses.append(_gauge(w, place))
        else:
            shown = wear.read(w.rng)
            clauses.append(_number(place, name, shown))
        jobs.consider(w, loom, place, name)
    return clauses


def _number(place: Place, name: str, shown: float) -> str:
    q = place.wears[name].quantity
    return f"{place.label} {name} {shown:.{q.places}f} {q.unit}"


def _gauge(w: World, place: Place) -> str:
    wear = place.wears["gap"]
    seen = max(wear.value() + w.rng.gauss(0.0, 0.006), wear.worst or 0.0)
    in_ = [step for step in _STEPS if step <= seen]
    out = [step for step in _STEPS if step > seen]
    if in_ and (not out or w.rng.random() < 0.5):
        return f"{place.label} gap gauge {wear.saw(in_[-1]):.2f} mm enters"
    return f"{place.label} gap gauge {out[0]:.2f} mm stays out"


def _meters(w: World, section: str) -> Process:
    for loom in [loom for loom in w.looms.values() if loom.section == section]:
        if quiet(w, loom) or not loom.running:
            continue
        yield from w.pause(loom.name)
        loom.advance(w.now)
        w.write(loom, meter(loom))
        yield w.rng.randint(1, 4)


def meter(loom: Loom) -> str:
    """What the loom's own meter shows, as a clause."""
    if loom.name in PICKS_METERS:
        return f"counter {round(loom.meter * 60 * SPEEDS[loom.section])} picks"
    return f"counter {loom.meter:.1f} h"


def _notes(w: World, section: str) -> Process:
    if w.rng.random() < 0.5:
        return
    loom = w.rng.choice([loom for loom in w.looms.values() if loom.section == section])
    if w.idle(loom) and not quiet(w, loom):
        yield from w.say(loom, f"note {w.rng.choice(NOTES)}")


def _action(w: World) -> Process:
    """An action is opened on some loom, and mostly closed hours or days later."""
    loom = w.rng.choice(list(w.looms.values()))
    if not w.idle(loom) or w.now > END - 9 * HOUR or quiet(w, loom):
        return
    text, result = w.rng.choice(ACTIONS)
    yield from w.pause(loom.name)
    due = _due(w)
    named = w.rng.random() < 0.9
    opened = f"{wall(w.now):%Y-%m-%dT%H:%M}"
    if named:
        w.number += 1
    number = f"no {w.number} " if named else ""
    voice = VOICES[w.writer(loom.section)]
    clauses = [f"open {number}{text}", *([f"due {due}"] if due else [])]
    if not voice.german and w.rng.random() < 0.2:
        clauses.append(f"for {w.rng.choice(['KM', 'RB', 'DW'])}")
    w.write(loom, *clauses)
    yield round(w.rng.uniform(3, 52) * HOUR)
    yield from w.wait_idle(loom)
    if quiet(w, loom) or w.rng.random() < 0.025:
        return
    yield from w.pause(loom.name)
    which = number.strip() or opened
    if w.rng.random() < 0.1:
        w.write(loom, f"dropped {which} {w.rng.choice(DROPS)}")
    else:
        w.write(loom, f"done {which} {result}")


def _due(w: World) -> str:
    day = wall(w.now + 2 * DAY)
    in_use = ("in 200 h", "in 2000000 picks", "before start")
    in_time = ("early", "late", "night", "06:00", f"{day:%Y-%m-%d}", f"{day:%Y-%m-%dT14:00}")
    return w.rng.choice(("", "", *in_time, *in_use))
