"""The story of the example's last days, up to 05:58 on Wednesday 25 November. Times are local.

Worn parts left in service, each fitted some weeks before and measured since:
- A12 left tape PAST LIMIT (measured 23 Nov evening and 25 Nov 00:35); its action was opened for
  the early shift, dropped for want of a tape, opened again, and is overdue.
- A15 right tape and B06 cutter AT LIMIT; B09 right guide 5: the limit's gauge enters.
- B21 left head close to its limit.

What stands, and why:
- A07, section A, 24 Nov 23:02: fault, isolated by KM lock 14 at 23:10, in force at the end; its left
  tape is replaced and torqued, the thread-lock is missing and handed over with an action.
- B11, 24 Nov 20:40: isolated in the late shift for its brake, lock seen at 22:31, in force.
- B03, 02:14: right head drops weft, the third time in six days (`mishaps`), open. A18, 04:20: warp.
  B20, 05:05: style. B22, 24 Nov 19:10: no order. B17: laid up (`weeks`), its right head's place
  empty.
- A21 runs, as far as is known: no entry since 22 Nov, 09:40.
- B19, 04:41: a garbled isolation (`planted`); the loom was running.
- 05:56: KM hands the shed over to RB; nobody has taken it over yet.
"""

from __future__ import annotations

from .diary import at
from .rounds import SILENT
from .scenes import fault, open_action, prescribe, renew, reserve, seen
from .world import Loom, Process, World

_RESERVED = (
    (SILENT, "2026-11-22 03:00"),
    ("A07", "2026-11-24 15:00"),
    ("A12", "2026-11-24 22:00"),
    ("A15", "2026-11-24 22:00"),
    ("A18", "2026-11-24 21:00"),
    ("B03", "2026-11-24 19:00"),
    ("B06", "2026-11-24 20:00"),
    ("B09", "2026-11-24 20:00"),
    ("B11", "2026-11-24 13:00"),
    ("B14", "2026-11-24 23:00"),
    ("B19", "2026-11-24 20:00"),
    ("B20", "2026-11-24 20:00"),
    ("B21", "2026-11-24 20:00"),
    ("B22", "2026-11-24 11:00"),
)


def start(w: World) -> None:
    """Put the story of the last days on the clock."""
    for name, since in _RESERVED:
        reserve(w, name, since, "2026-11-25 06:00")
    end = at("2026-11-25 00:00")
    for name, label, quantity, used, since in (
        ("A12", "left tape", "thickness", 1.1, "2026-11-06 10:25"),
        ("A15", "right tape", "thickness", 0.99, "2026-11-04 15:40"),
        ("B06", "cutter", "play", 0.97, "2026-11-08 19:15"),
        ("B09", "right guide 5", "gap", 1.06, "2026-10-17 10:40"),
        ("B21", "left head", "force", 0.9, "2026-10-29 23:20"),
    ):
        w.spawn(_wear_on(w, w.looms[name], label, quantity, used, end), at=at(since))
    for scene, when in (
        (_silence(w), "2026-11-22 09:40"),
        (_overdue(w), "2026-11-23 20:25"),
        (_no_order(w), "2026-11-24 19:10"),
        (_brake(w), "2026-11-24 20:40"),
        (_half_done(w), "2026-11-24 21:59"),
        (_shown(w, "A15", "right tape", "thickness", (2.44, 2.47)), "2026-11-24 23:31"),
        (_shown(w, "A12", "left tape", "thickness", (2.35, 2.39)), "2026-11-25 00:35"),
        (_third_fault(w), "2026-11-25 02:14"),
        (_shown(w, "B06", "cutter", "play", (0.22, 0.22)), "2026-11-25 03:05"),
        (_shown(w, "B21", "left head", "force", (22.9, 23.6)), "2026-11-25 03:47"),
        (_enters(w), "2026-11-25 04:10"),
        (_stands(w, "A18", "warp"), "2026-11-25 04:20"),
        (_stands(w, "B20", "style"), "2026-11-25 05:05"),
        (_last_words(w), "2026-11-25 05:51"),
    ):
        w.spawn(scene, at=at(when))


def _wear_on(w: World, loom: Loom, label: str, quantity: str, used: float, by: int) -> Process:
    """Fit the part whose wear the story tells of, in a stop of its own."""
    yield from w.wait_idle(loom)
    loom.busy = True
    yield from w.say(loom, "stopped for part")
    yield 22
    yield from renew(w, loom, label, why=" worn")
    w.spawn(prescribe(w, loom, label, quantity, used=used, by=by))
    yield 13
    yield from w.say(loom, "running")
    loom.busy = False


def _shown(w: World, name: str, label: str, quantity: str, band: tuple[float, float]) -> Process:
    loom = w.looms[name]
    loom.checked["tapes" if quantity in ("thickness", "play") else "heads"] = w.now
    yield from w.say(loom, seen(w, loom, label, quantity, *band))


def _silence(w: World) -> Process:
    loom = w.looms[SILENT]
    yield from w.say(loom, "note cloth roll doffed, runs well")


def _overdue(w: World) -> Process:
    """The worn tape is found, put off, and put off again."""
    loom = w.looms["A12"]
    loom.checked["tapes"] = w.now
    yield from w.wait_idle(loom)
    yield from w.say(loom, seen(w, loom, "left tape", "thickness", 2.43, 2.46))
    yield 3
    yield from w.pause(loom.name)
    number = open_action(w, loom, "change left tape", "due night")
    yield from w.until(at("2026-11-24 05:20"))
    yield from w.pause(loom.name)
    w.write(loom, f"dropped no {number} no tape in the shed, store opens at 7")
    yield 2
    yield from w.pause(loom.name)
    open_action(w, loom, "change left tape", "due early")


def _no_order(w: World) -> Process:
    yield from w.say(w.looms["B22"], "stopped for order")


def _brake(w: World) -> Process:
    loom = w.looms["B11"]
    who = w.writer("B")
    yield from w.say(loom, "stopped for part", f"isolated by {who} lock {w.lock_of(who)}")
    yield 13
    yield from w.pause(loom.name)
    open_action(w, loom, "fit brake lining, comes with the morning post", "due 2026-11-26")
    yield from w.until(at("2026-11-24 22:31"))
    yield from w.say(loom, f"lock seen by {w.writer('B')}")


def _half_done(w: World) -> Process:
    loom = w.looms["A07"]
    loom.lock_number = 14  # kept for it: no other loom gets this lock tonight
    yield from w.until(at("2026-11-24 23:02"))
    yield from fault(w, loom, "left tape edge frayed, knocks in the guide")
    yield from w.until(at("2026-11-24 23:10"))
    w.write(loom, "isolated by KM lock 14")
    yield from w.until(at("2026-11-24 23:58"))
    loom.advance(w.now)
    loom.places["left tape"].fit(w.rng, giver=loom.giver, batch="8C")
    torque = "torque clamp screws 1.42 N.m"
    w.write(loom, "replaced left tape broken", "batch 8C", torque, "checked joint ok")
    yield from w.until(at("2026-11-25 05:41"))
    open_action(w, loom, "thread-lock left tape clamp screws", "due before start", "for RB")


def _third_fault(w: World) -> Process:
    loom = w.looms["B03"]
    yield from fault(w, loom, "right head drops weft at transfer")
    yield 19
    yield from w.say(loom, "note third time, the new head did not help, guides not measured yet")
    yield 1
    yield from w.pause(loom.name)
    open_action(w, loom, "measure right guides 4 to 6", "due early")


def _enters(w: World) -> Process:
    loom = w.looms["B09"]
    loom.advance(w.now)
    loom.places["right guide 5"].wears["gap"].saw(0.40)
    yield from w.say(loom, "right guide 5 gap gauge 0.40 mm enters")


def _stands(w: World, name: str, reason: str) -> Process:
    yield from w.say(w.looms[name], f"stopped for {reason}")


def _last_words(w: World) -> Process:
    yield from w.say(w.looms["A07"], "note thread-lock bottle empty, one is in the store from 7")
    yield from w.until(at("2026-11-25 05:58"))
    loom = w.looms["B14"]
    loom.advance(w.now)
    shown = loom.places["right tape"].wears["thickness"].read(w.rng)
    w.write(loom, f"right tape thickness {shown:.2f} mm")
