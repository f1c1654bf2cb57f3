"""The example's weeks before its last night, but for the repairs. Times are local.

- 16 Oct: the log begins: both sections running, the style of each loom.
- 25 Oct, 01:00 to 02:00 twice, section A: the clocks go back. A05 stops for warp in the first
  pass and runs in the second; A14 is noted in the first and measured, with its offset, in the
  second.
- 1 Nov: the shed is closed for the day, all looms stopped; from 2 Nov B17 is laid up.
- 9 Nov B07 to B12: one line sets the style of six looms.
- 10 Nov B18: an implausible reading, then the right one. 11 Nov A20: a new meter.
- 16 Nov A17: a note with a time far outside its shift; A04: a line written up late.
- 17 Nov A19, 20 Nov B05: struck entries: the wrong tape read, the wrong loom.

The lines that are wrong on purpose stand in `planted`, the told repairs in `mishaps`.
"""

from __future__ import annotations

from .diary import CLOSED, at, shift_at, wall
from .planted import PLANTED
from .rounds import meter
from .scenes import answer, fault, planted_at, reserve
from .world import Loom, Process, World

# Looms that chance leaves alone, from some hours before a scene to its end.
_RESERVED = (
    ("A05", "2026-10-24 18:00", "2026-10-25 04:00"),
    ("A14", "2026-10-24 18:00", "2026-10-25 04:00"),
    ("B17", "2026-11-02 00:00", "2026-11-26 00:00"),
    ("B18", "2026-11-10 17:00", "2026-11-11 00:30"),
    ("A20", "2026-11-11 03:00", "2026-11-11 11:00"),
    ("A17", "2026-11-16 13:00", "2026-11-16 19:00"),
    ("A19", "2026-11-17 18:00", "2026-11-18 00:30"),
    ("B04", "2026-11-20 11:00", "2026-11-20 17:30"),
    ("B05", "2026-11-20 11:00", "2026-11-20 17:30"),
)


def start(w: World) -> None:
    """Put the story of the weeks on the clock."""
    for loom, since, until in _RESERVED:
        reserve(w, loom, since, until)
    for planted in PLANTED:
        if not planted.staged:
            w.spawn(_plant(w, planted.section, planted.line), at=at(planted.at))
    for scene, when in (
        (_opening(w), "2026-10-16 06:02"),
        (_clocks_back(w), "2026-10-25 01:12"),
        (_closed_day(w), "2026-11-01 05:38"),
        (_laid_up(w), "2026-11-02 07:12"),
        (_six_styles(w), "2026-11-09 22:48"),
        (_implausible(w), "2026-11-10 23:15"),
        (_new_meter(w), "2026-11-11 10:05"),
        (_late_lines(w), "2026-11-16 12:50"),
        (_wrong_tape(w), "2026-11-17 23:05"),
        (_wrong_loom(w), "2026-11-20 16:44"),
    ):
        w.spawn(scene, at=at(when))


def _plant(w: World, section: str, line: str) -> Process:
    w.raw(section, line)
    yield from ()


def _opening(w: World) -> Process:
    looms = list(w.looms.values())
    w.write_group("A", looms[:24], "running")
    yield 2
    w.write_group("B", looms[24:], "running")
    yield 4
    for loom in looms:  # what is on each loom, as the log is begun
        yield from w.say(loom, f"style {loom.style}")
        yield w.rng.choice((1, 1, 2))


def _clocks_back(w: World) -> Process:
    a05 = w.looms["A05"]
    a14 = w.looms["A14"]
    w.write(a05, "stopped for warp", time="01:12")
    yield 36
    w.write(a14, "note weaver says noisy on the left", time="01:48")
    yield 18
    w.write(a05, "running", time="01:06")
    yield 35
    a14.advance(w.now)
    shown = a14.places["right tape"].wears["thickness"].read(w.rng)
    w.write(a14, f"right tape thickness {shown:.2f} mm", time="2026-10-25T01:41+00:00")


def _closed_day(w: World) -> Process:
    standing = [loom for loom in w.looms.values() if loom.running]
    for place, looms in groups(w, standing):
        yield from w.pause(*(loom.name for loom in looms))
        w.write_group(place, looms, "stopped for power")
        yield 1
    w.write_group("shed", [], "note closed for the day, main switch board renewed")
    yield from w.until(CLOSED[1] + 4)
    for place, looms in groups(w, standing):
        yield from w.pause(*(loom.name for loom in looms))
        w.write_group(place, looms, "running")
        yield 1


def groups(w: World, looms: list[Loom]) -> list[tuple[str, list[Loom]]]:
    """The fewest sections, ranges and single looms that cover these looms, in walking order."""
    chosen = {loom.name for loom in looms}
    found: list[tuple[str, list[Loom]]] = []
    for section in "AB":
        row = [loom for loom in w.looms.values() if loom.section == section]
        run: list[Loom] = []
        runs = [run]
        for loom in row:
            if loom.name in chosen:
                run.append(loom)
            elif run:
                run = []
                runs.append(run)
        for run in filter(None, runs):
            name = run[0].name if len(run) == 1 else f"{run[0].name}-{run[-1].name}"
            found.append((section if len(run) == len(row) else name, run))
    return found


def _laid_up(w: World) -> Process:
    loom = w.looms["B17"]
    yield from w.say(loom, "stopped for laid-up", "note no order for it until Christmas")


def _six_styles(w: World) -> Process:
    looms = [w.looms[f"B{n:02}"] for n in range(7, 13)]
    yield from w.pause(*(loom.name for loom in looms))
    w.write_group("B07-B12", looms, "style 6203")


def _implausible(w: World) -> Process:
    loom = w.looms["B18"]
    w.raw("B", planted_at("2026-11-10 23:15"))
    w.book.taken.add((loom.name, w.now))
    yield 2
    loom.advance(w.now)
    shown = loom.places["right tape"].wears["thickness"].read(w.rng)
    w.write(loom, f"right tape thickness {shown:.2f} mm")


def _new_meter(w: World) -> Process:
    loom = w.looms["A20"]
    yield from w.say(loom, "stopped for check")
    loom.advance(w.now)
    yield 3
    yield from w.say(loom, meter(loom))
    yield 12
    yield from w.pause(loom.name)
    loom.meter = 0.0
    w.write(loom, "counter 0 h new", "running")


def _late_lines(w: World) -> Process:
    loom = w.looms["A17"]
    w.book.taken.add((loom.name, at("2026-11-16 18:40")))
    yield 5
    late = at("2026-11-16 11:05")
    while ("A04", late) in w.book.taken:
        late -= 1
    shift, lead = shift_at(w.now), w.writer("A")
    w.book.add(shift, lead, f"{wall(late):%H:%M} A04 note watched over the break, no start marks")
    w.book.taken.add(("A04", late))
    yield from w.until(at("2026-11-16 13:46"))
    w.book.add(shift, lead, f"18:40 {planted_at('2026-11-16 18:40')}")


def _wrong_tape(w: World) -> Process:
    loom = w.looms["A19"]
    yield from w.pause(loom.name)
    loom.advance(w.now)
    place = loom.places["right tape"]
    wear = place.wears["thickness"]
    before = wear.worst if wear.worst is not None else wear.value()
    when = w.now
    w.write(loom, f"right tape thickness {before:.2f} mm")
    yield 9
    yield from w.pause(loom.name)
    w.write(loom, f"struck {wall(when):%H:%M} read the wrong tape")
    yield 2
    yield from w.pause(loom.name)
    loom.advance(w.now)
    w.write(loom, f"right tape thickness {wear.read(w.rng):.2f} mm")


def _wrong_loom(w: World) -> Process:
    wrong = w.looms["B05"]
    right = w.looms["B04"]
    when = w.now
    w.write(wrong, "fault left leno loose selvedge")
    yield 4
    yield from w.say(wrong, f"struck {wall(when):%H:%M} wrong loom, it is B04")
    yield 1
    yield from fault(w, right, "left leno loose selvedge")
    yield 18
    yield from answer(w, right, "cleaned left leno", right.places["left leno"], "fly in the disc")
