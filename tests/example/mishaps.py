"""The example's told repairs before its last night: heads, tapes and locks. Times are local.

- 27 Oct A02, 10 Nov B15: a tape replaced at the end of a shift, thread-locked by the next one.
- 4 Nov B10: a joint found bad after the job, good a little later.
- 6 to 13 Nov A09, A16: the left head of A09 drops weft three times; it changes places with that
  of A16, and the fault goes along with it.
- 12 Nov A03: written as running while a lock is on record (`planted`); the lock was forgotten.
- 12 Nov B08: its right head broke and no spare was there: B17's is moved over, and B17's place
  stands empty since.
- 13 Nov A11: two locks, one of them over the shift change.
- 19, 22 and 25 Nov B03: the right head drops weft three times in six days; adjusted, replaced.
"""

from __future__ import annotations

from .diary import at
from .scenes import answer, fault, open_action, renew, reserve, swap
from .world import Process, World

# Looms that chance leaves alone, from some hours before a scene to its end.
_RESERVED = (
    ("A02", "2026-10-27 07:30", "2026-10-27 16:00"),
    ("B10", "2026-11-04 11:00", "2026-11-04 19:00"),
    ("A09", "2026-11-06 01:00", "2026-11-06 09:30"),
    ("A09", "2026-11-09 10:00", "2026-11-09 18:30"),
    ("A09", "2026-11-10 03:00", "2026-11-10 12:00"),
    ("A16", "2026-11-10 03:00", "2026-11-10 12:00"),
    ("A16", "2026-11-12 20:00", "2026-11-13 05:30"),
    ("B15", "2026-11-10 15:00", "2026-11-10 23:59"),
    ("A03", "2026-11-12 03:00", "2026-11-12 13:30"),
    ("B08", "2026-11-12 08:00", "2026-11-12 17:30"),
    ("A11", "2026-11-13 06:00", "2026-11-13 15:30"),
    ("B03", "2026-11-19 03:00", "2026-11-19 10:30"),
    ("B03", "2026-11-22 09:00", "2026-11-22 17:30"),
)


def start(w: World) -> None:
    """Put the told repairs on the clock."""
    for loom, since, until in _RESERVED:
        reserve(w, loom, since, until)
    for scene, when in (
        (_locked_later(w, "A02", "7D"), "2026-10-27 13:18"),
        (_bad_joint(w), "2026-11-04 17:20"),
        (_head_goes_along(w), "2026-11-06 08:15"),
        (_locked_later(w, "B15", "8C"), "2026-11-10 21:24"),
        (_forgotten_lock(w), "2026-11-12 11:10"),
        (_robbed(w), "2026-11-12 15:25"),
        (_two_locks(w), "2026-11-13 13:02"),
        (_third_time(w), "2026-11-19 09:20"),
    ):
        w.spawn(scene, at=at(when))


def _locked_later(w: World, name: str, batch: str) -> Process:
    loom = w.looms[name]
    yield from w.say(loom, "stopped for part")
    yield 14
    yield from w.pause(name)
    loom.advance(w.now)
    place = loom.places["right tape"]
    place.fit(w.rng, giver=loom.giver, batch=batch)
    loom.wanted.pop("right tape", None)
    torque = "torque clamp screws 1.39 N.m"
    w.write(loom, "replaced right tape worn", f"batch {batch}", torque, "checked joint ok")
    yield 17
    yield from w.say(loom, "note thread-lock still to come, bottle empty")
    yield 42
    yield from w.say(loom, "thread-locked")
    yield 25
    yield from w.say(loom, "running")


def _bad_joint(w: World) -> Process:
    loom = w.looms["B10"]
    yield from w.say(loom, "stopped for part")
    yield 20
    yield from w.pause(loom.name)
    loom.advance(w.now)
    loom.places["left tape"].fit(w.rng, giver=loom.giver, batch="7F")
    loom.wanted.pop("left tape", None)
    torque = "torque clamp screws 1.41 N.m"
    w.write(loom, "replaced left tape", "batch 7F", torque, "thread-locked", "checked joint bad")
    yield 16
    yield from w.say(loom, "checked joint ok")
    yield 6
    yield from w.say(loom, "running")


def _head_goes_along(w: World) -> Process:
    a09 = w.looms["A09"]
    a16 = w.looms["A16"]
    head = a09.places["left head"]
    head.held = a16.places["left head"].held = True
    yield from fault(w, a09, "left head drops weft")
    yield 27
    yield from answer(w, a09, "cleaned left head lint in the jaw", head, "lint in the jaw")
    yield from w.until(at("2026-11-09 17:05"))
    yield from fault(w, a09, "left head loses weft on 5120")
    yield 31
    yield from answer(w, a09, "adjusted left head clamp spring", head, "spring set up")
    yield from w.until(at("2026-11-10 10:12"))
    yield from fault(w, a09, "left head drops weft at transfer")
    yield 21
    yield from w.say(a16, "stopped for check")
    yield 17
    swap(w, a09, a16, "left head")
    w.write(a16, "moved left head from A09")
    w.write(a09, "moved left head from A16")
    yield 14
    yield from w.say(a09, "checked transfer ok")
    yield 5
    yield from w.say(
        a09, "fault cleared head swapped with A16 to see whether it goes along", "running"
    )
    yield 3
    yield from w.say(a16, "running")
    yield from w.until(at("2026-11-13 03:21"))
    yield from fault(w, a16, "left head drops weft")
    yield 12
    who = w.writer("A")
    yield from w.say(a16, f"isolated by {who} lock {w.lock_of(who)}")
    yield 35
    yield from renew(w, a16, "left head", why=" broken")
    yield 11
    yield from w.say(a16, "fault cleared it was the head", f"lock removed by {who}", "running")
    head.held = a16.places["left head"].held = False


def _forgotten_lock(w: World) -> Process:
    loom = w.looms["A03"]
    second = w.writer("B")
    yield from w.say(loom, "stopped for part", f"isolated by {second} lock {w.lock_of(second)}")
    yield 44
    yield from renew(w, loom, "cutter", why=" worn")
    yield from w.until(at("2026-11-12 12:44"))
    w.write(loom, "running")
    yield 6
    yield from w.say(loom, "note lock still on the switch, loom had only been turned by hand")
    yield 1
    yield from w.say(loom, "stopped")
    yield 9
    here = w.writer("A")
    yield from w.say(loom, f"lock removed by {here} for {second}", "running")


def _robbed(w: World) -> Process:
    loom = w.looms["B08"]
    empty = w.looms["B17"]
    yield from fault(w, loom, "right head misses transfer, jaw cracked")
    yield 20
    yield from w.say(loom, "note no right head in the store, taking the one of B17")
    yield 26
    yield from w.pause(loom.name)
    empty.places["right head"].empty = True
    swap(w, loom, empty, "right head")
    loom.wanted.pop("right head", None)
    w.write(loom, "moved right head from B17")
    yield 12
    yield from w.say(loom, "checked transfer ok", "fault cleared head of B17 fitted", "running")
    yield 4
    yield from w.pause(empty.name)
    open_action(w, empty, "fit right head, was taken for B08", "due before start")


def _two_locks(w: World) -> Process:
    loom = w.looms["A11"]
    one, two = w.writer("A"), w.writer("B")
    yield from fault(w, loom, "brake stops late, smells of oil")
    yield 7
    yield from w.say(loom, f"isolated by {one} lock {w.lock_of(one)}")
    yield 3
    yield from w.say(loom, f"isolated by {two} lock {w.lock_of(two)}")
    yield 31
    yield from w.say(loom, f"lock removed by {two}")
    yield from w.until(at("2026-11-13 14:19"))
    here = w.writer("A")
    yield from w.say(loom, f"lock seen by {here}")
    yield 22
    yield from renew(w, loom, "brake", why=" worn")
    yield 15
    done = "fault cleared new lining"
    yield from w.say(loom, done, f"lock removed by {here} for {one}", "running")


def _third_time(w: World) -> Process:
    loom = w.looms["B03"]
    head = loom.places["right head"]
    head.held = True
    yield from fault(w, loom, "right head drops weft at transfer")
    yield 28
    yield from answer(
        w, loom, "adjusted right head clamp spring", head, "spring set up half a turn"
    )
    yield from w.until(at("2026-11-22 15:40"))
    yield from fault(w, loom, "right head loses weft again")
    yield 22
    who = w.writer("B")
    yield from w.say(loom, f"isolated by {who} lock {w.lock_of(who)}")
    yield 37
    yield from renew(w, loom, "right head", why=" broken")
    yield 12
    yield from w.say(loom, "fault cleared new head", f"lock removed by {who}", "running")
