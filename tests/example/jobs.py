"""The example's work: stops, faults and their repairs, worn parts changed, with their proofs.

Processes of `world`. What the lines say is taken from `prose`; the told story is left to `story`.
"""

from __future__ import annotations

from .diary import DAY, END, HOUR, at, wall
from .prose import FINDINGS, LOCKED, STYLES, TORQUES, TROUBLES, Trouble
from .wear import POOR_BATCH, Place
from .world import Loom, Process, World

# Stops by chance: how many a loom and day, and how long [min].
_STOPS: dict[str, tuple[float, int, int]] = {
    "warp": (0.036, 25, 150),
    "weft": (0.025, 15, 60),
    "style": (0.036, 80, 240),
    "order": (0.01, 100, 600),
    "power": (0.004, 20, 90),
    "check": (0.008, 15, 50),
    "": (0.01, 10, 40),
}
_FAULTS = 0.042  # a loom and day
# Running hours until a part is measured again, as a fitter reckons them.
_UNTIL_NEXT = {
    "tape": 85,
    "head": 140,
    "guide": 300,
    "cutter": 85,
    "brake": 220,
    "belt": 280,
    "leno": 230,
    "filter": 210,
}
_POOR_TAPES = (at("2026-10-30 00:00"), at("2026-11-10 00:00"))


def start(w: World) -> None:
    """Let stops and faults happen to every loom, by chance."""
    for loom in w.looms.values():
        w.spawn(_stops(w, loom))
        w.spawn(_faults(w, loom))


# ---- what a reading makes wanted --------------------------------------------------------


def consider(w: World, loom: Loom, place: Place, name: str) -> None:
    """Decide after a reading whether the part is wanted changed, and have somebody do it."""
    wear = place.wears[name]
    if place.held or wear.worst is None:
        return
    q = wear.quantity
    used = (wear.worst - q.new) / (q.limit - q.new)
    tuned = name in ("angle", "tension")
    step = used * wear.shape * _UNTIL_NEXT[place.part] / max(wear.worn, 80)
    near = 0.9 if (1.0 - used) * abs(q.limit - q.new) <= q.tool else 0.35
    if tuned:  # set back before it is near: that costs no part
        step, near = 0.15, 1.0
    if used < 1.0 and not (used + step > 1.0 and w.rng.random() < near):
        return
    if place.label not in loom.wanted:
        word = "adjusted" if tuned else "replaced"
        why = "" if tuned else w.rng.choice((" worn", " worn", ""))
        early = " early" if not tuned and used < 0.93 else why
        loom.wanted[place.label] = f"{word} {place.label}{early}"
        late = 4 * HOUR if used > 1.0 or w.now > END - 20 * HOUR else 22 * HOUR
        w.spawn(_change(w, loom), at=w.now + w.rng.randint(30, late))


def _change(w: World, loom: Loom) -> Process:
    """The loom is stopped for its wanted parts, if no other stop came first."""
    yield from w.wait_idle(loom)
    if not loom.wanted or w.room() < 100:
        return
    loom.busy = True
    who = w.writer(loom.section)
    locked = w.rng.random() < 0.2
    if locked:
        yield from w.say(loom, "stopped for part", f"isolated by {who} lock {w.lock_of(who)}")
        yield w.rng.randint(6, 20)
    else:
        yield from w.say(loom, "stopped for part")
        yield w.rng.randint(12, 35)
    closing = ["running"] if not locked and w.rng.random() < 0.75 else []
    yield from do_wanted(w, loom, closing)
    if locked:
        yield from w.say(loom, removal(w, loom), "running")
    elif not closing:
        yield from w.say(loom, *_after_job(w, loom), "running")
    loom.busy = False


def removal(w: World, loom: Loom) -> str:
    """The clause that ends the loom's lock: its owner's, or another's for an owner gone home."""
    here = w.writer(loom.section)
    return f"lock removed by {here}" + ("" if loom.lock == here else f" for {loom.lock}")


def _after_job(w: World, loom: Loom) -> list[str]:
    return ["checked selvedge ok"] if w.rng.random() < 0.06 else []


def do_wanted(w: World, loom: Loom, closing: list[str]) -> Process:
    """Do every job that is wanted on a standing loom, each in its own entry or two.

    The last one's entry ends with the `closing` clauses.
    """
    while loom.wanted:
        label, clause = next(iter(loom.wanted.items()))
        del loom.wanted[label]
        yield from w.pause(loom.name)
        place = loom.places[label]
        work, proofs = job(w, loom, clause, place)
        proofs += _fresh(w, place, 0.5 if clause.startswith("adjusted") else 0.15)
        if not loom.wanted:
            proofs += closing
        if len(proofs) > 1 and w.rng.random() < 0.12:
            w.write(loom, *work)
            yield w.rng.randint(4, 12)
            yield from w.say(loom, *proofs)
        else:
            w.write(loom, *work, *proofs)
        if loom.wanted or not closing:
            yield w.rng.randint(6, 18)


def _fresh(w: World, place: Place, chance: float) -> list[str]:
    """A reading taken right after the job, sometimes."""
    if w.rng.random() > chance or place.part in ("guide", "filter"):
        return []
    name, wear = next(iter(place.wears.items()))
    q = wear.quantity
    return [f"{place.label} {name} {wear.read(w.rng):.{q.places}f} {q.unit}"]


def job(w: World, loom: Loom, clause: str, place: Place) -> tuple[list[str], list[str]]:
    """The clauses of a job on a place, done at this minute: the work, and its proofs."""
    loom.advance(w.now)
    verb = clause.split()[0]
    if verb in ("adjusted", "repaired"):
        for name, wear in place.wears.items():
            wear.worst = None
            if name in ("angle", "tension", "force", "play"):
                place.level(w.rng, name, left=0.15 if name in ("angle", "tension") else 0.8)
        return [clause], []
    if verb != "replaced":
        return [clause], []
    batch = _batch(w, place)
    place.fitted = w.now
    place.fit(w.rng, giver=loom.giver, batch=batch)
    if place.part == "head":
        w.spawn(_recheck(w, loom, place, w.now), at=w.now + w.rng.randint(19 * HOUR, 24 * HOUR))
    return [clause, *([f"batch {batch}"] if batch else [])], proofs_of(w, place.part)


def proofs_of(w: World, part: str) -> list[str]:
    """The proofs that the register asks for after a part was replaced, all of them good."""
    proofs = []
    if part in TORQUES:
        screws, torque = TORQUES[part]
        screws = "" if w.rng.random() < 0.25 else f"{screws} "
        proofs.append(f"torque {screws}{torque * w.rng.uniform(0.975, 1.025):.2f} N.m")
    if part in LOCKED:
        proofs.append("thread-locked")
    if part in FINDINGS:
        proofs.append(f"checked {FINDINGS[part]} ok")
    return proofs


def _batch(w: World, place: Place) -> str:
    if place.part == "tape":
        if _POOR_TAPES[0] <= w.now < _POOR_TAPES[1]:
            return POOR_BATCH if w.rng.random() < 0.85 else "7D"
        return "7D" if w.now < _POOR_TAPES[0] else "8C"
    if place.part == "head":
        return "H21" if w.now < _POOR_TAPES[1] else "H22"
    return f"M{31 + w.now // (12 * DAY)}" if place.part == "cutter" else ""


def _recheck(w: World, loom: Loom, place: Place, fitted: int) -> Process:
    """A new head is measured again within the day that the register asks for.

    The register opens that action by itself; it is closed by the time of its job.
    """
    yield from w.wait_idle(loom)
    yield from w.pause(loom.name)
    loom.advance(w.now)
    if place.fitted != fitted:
        return  # replaced again or moved meanwhile: the action went with it
    shown = place.wears["force"].read(w.rng)
    done = f"done {wall(fitted):%Y-%m-%dT%H:%M} recheck {place.label}"
    w.write(loom, f"{place.label} force {shown:.1f} N", done)


# ---- stops ------------------------------------------------------------------------------


def _stops(w: World, loom: Loom) -> Process:
    total = sum(rate for rate, _, _ in _STOPS.values())
    while True:
        yield round(w.rng.expovariate(total) * DAY)
        if not w.idle(loom) or not loom.running or w.room() < 120:
            continue
        (reason,) = w.rng.choices(list(_STOPS), [rate for rate, _, _ in _STOPS.values()])
        _, short, long = _STOPS[reason]
        loom.busy = True
        stop = f"stopped for {reason}" if reason else "stopped"
        yield from w.say(loom, stop)
        yield min(w.rng.randint(short, long), max(w.room() - 70, 10))
        if loom.wanted:
            yield from do_wanted(w, loom, [])
        start_up = ["running"]
        if reason == "style":
            start_up = [f"style {w.rng.choice([s for s in STYLES if s != loom.style])}", "running"]
        elif w.rng.random() < 0.04:
            start_up = ["running slow, 380 rpm"]
        yield from w.say(loom, *start_up)
        loom.busy = False


# ---- faults -----------------------------------------------------------------------------


def _faults(w: World, loom: Loom) -> Process:
    while True:
        yield round(w.rng.expovariate(_FAULTS) * DAY)
        if w.idle(loom) and loom.running and w.room() > 240:
            yield from _trouble(w, loom)


def _trouble(w: World, loom: Loom) -> Process:
    loom.advance(w.now)
    trouble, place = _choose(w, loom)
    if place is not None and (place.held or place.empty):
        return
    loom.busy = True
    label = place.label if place is not None else ""
    said = w.rng.choice(trouble.says).format(p=label)
    if w.rng.random() < 0.8:
        yield from w.say(loom, "stopped for fault", f"fault {said}")
    else:
        yield from w.say(loom, f"fault {said}")
        yield w.rng.randint(3, 20)
        yield from w.say(loom, "stopped for fault")
    yield w.rng.randint(8, 70)
    who = w.writer(loom.section)
    locked = w.rng.random() < 0.4
    if locked:
        yield from w.say(loom, f"isolated by {who} lock {w.lock_of(who)}")
        long = w.rng.random() < 0.3 and w.room() > 700  # waits for a part, over the shift's end
        yield w.rng.randint(240, 420) if long else w.rng.randint(10, 50)
    repair, result = w.rng.choice(trouble.repairs)
    yield from mend(w, loom, repair.format(p=label), place)
    yield w.rng.randint(5, 30)
    if loom.wanted:
        yield from do_wanted(w, loom, [])
    freed = [removal(w, loom)] if locked else []
    yield from w.pause(loom.name)
    if locked:
        freed = [removal(w, loom)]
    w.write(loom, f"fault cleared {result}", *freed, "running")
    loom.busy = False


def mend(w: World, loom: Loom, repair: str, place: Place | None) -> Process:
    """Write one repair on a place, with its proofs where the part is new."""
    if not repair or place is None:
        return
    yield from w.pause(loom.name)
    work, proofs = job(w, loom, repair, place)
    loom.wanted.pop(place.label if repair.startswith("replaced") else "", None)
    w.write(loom, *work, *proofs)


def _choose(w: World, loom: Loom) -> tuple[Trouble, Place | None]:
    (trouble,) = w.rng.choices(TROUBLES, [t.weight for t in TROUBLES])
    places = [p for p in loom.places.values() if p.part == trouble.part]
    if not places:
        return trouble, None
    worn = [0.3 + max(w_.used() for w_ in p.wears.values()) ** 2 for p in places]
    return trouble, w.rng.choices(places, worn)[0]
