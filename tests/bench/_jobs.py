"""Readings, faults and jobs of the benchmark's shed, each step with what follows from it."""

from __future__ import annotations

from tests.bench._looms import Loom, Place
from tests.bench._pen import DAY, Pen
from tests.bench._voices import Voice

JOBS = ("cleaned", "greased", "adjusted", "tightened", "repaired")


class Jobs(Pen):
    """What fitters do."""

    def readings(self, minute: int, loom: Loom) -> None:
        """One to four places in turn; what is past its limit will be replaced."""
        ran, random, voice = loom.ran(minute), self.random, self.voice
        told = []
        for _ in range(random.choice((1, 1, 2, 2, 3, 4))):
            place = loom.places[loom.cursor]
            loom.cursor = (loom.cursor + 1) % len(loom.places)
            if place.empty:
                continue
            told.append(self.reading(place, ran, voice))
            if place.worn(ran) > 1.0 and not place.due:
                place.due = True
                self.later(minute + random.randrange(20, 3 * DAY), self.job, loom, place,
                           "replaced", "worn", "")  # fmt: skip
        if not told:
            told = [voice.w["note"] + " nothing to measure"]
        else:
            self.written = (loom, minute, voice.times[self.when.clock(minute)])
        self.line(minute, loom, "; ".join(dict.fromkeys(told)))

    def reading(self, place: Place, ran: int, voice: Voice) -> str:
        """A reading, or what a gauge tells of a guide."""
        kind, random = place.kind, self.random
        value = place.read(ran, random)
        if place.number and random.random() < 0.05:
            step = round(value, 1) or 0.1
            verdict = voice.w["enters" if value >= step else "stays out"]
            gauge = voice.amount(step, 2, kind.unit)
            return f"{place.told(voice)} {kind.quantity} {voice.w['gauge']} {gauge} {verdict}"
        quantity = f" {kind.quantity}" if random.random() < 0.4 else ""
        return f"{place.told(voice)}{quantity} {voice.amount(value, kind.decimals, kind.unit)}"

    def fault(self, minute: int, loom: Loom) -> None:
        """A fault is told of; the job follows."""
        random, w = self.random, self.voice.w
        place = random.choice(loom.places)
        text = f"{w['fault']} {place.told(self.voice)} {random.choice(place.kind.says)}"
        loom.busy = True
        if random.random() < 0.5:
            loom.stop(minute)
            text += f"; {w['stopped']} {w['for']} {w['fault'].lower()}"
        self.line(minute, loom, text)
        verb, why = (random.choice(JOBS), "") if random.random() < 0.8 else ("replaced", "broken")
        named = f"{place.side} {place.kind.name} {place.number or ''}".strip()
        self.later(minute + random.randrange(5, 240), self.job, loom, place, verb, why, named)

    def job(self, minute: int, loom: Loom, place: Place, verb: str, why: str, fault: str) -> None:
        """The loom is stopped for a job, mostly isolated; ``fault``: the open one it is for."""
        if loom.busy and not fault:
            self.later(minute + 60, self.job, loom, place, verb, why, fault)
            return
        if self.waits_for(minute, loom, self.job, place, verb, why, fault):
            return
        random, w = self.random, self.voice.w
        loom.busy = True
        loom.stop(minute)
        text = f"{w['stopped']} {w['for']} {w['part']}"
        if random.random() < 0.6:
            who, lock = random.choice(self.voices).name, random.randrange(1, 100)
            loom.locks.append((who, lock))
            text += f"; {w['isolated by']} {who} lock {lock}"
        self.line(minute, loom, text)
        self.later(minute + random.randrange(8, 60), self.work, loom, place, verb, why, fault)

    def work(self, minute: int, loom: Loom, place: Place, verb: str, why: str, fault: str) -> None:
        """The job is done, with its proofs."""
        if self.waits_for(minute, loom, self.work, place, verb, why, fault):
            return
        random, voice = self.random, self.voice
        w, kind, at = voice.w, place.kind, place.told(voice)
        text = [f"{w[verb]} {at} {w.get(why, why)}".rstrip()]
        if verb == "replaced":
            place.fit(loom.ran(minute), random)
            text += self.proofs(minute, loom, place)
        self.line(minute, loom, "; ".join(text))
        wait = random.randrange(4, 30)
        if loom.locks and random.random() < 0.05:
            wait = random.randrange(DAY, 6 * DAY)
            self.long[loom] = None
        value = ""
        if verb in ("replaced", "adjusted", "repaired") and random.random() < 0.4:
            value = kind.name
        self.later(minute + wait, self.finish, loom, place, value, fault)

    def proofs(self, minute: int, loom: Loom, place: Place) -> list[str]:
        """Batch, torque, thread lock and check of a new part; now and then the check comes late."""
        random, voice, kind = self.random, self.voice, place.kind
        w, text = voice.w, []
        if random.random() < 0.5:
            text.append(f"{w['batch']} {random.randrange(1, 30)}{random.choice('ABCDEF')}")
        if kind.torque:
            torque = kind.torque * random.uniform(0.98, 1.02)
            text.append(f"{w['torque']} clamp screws {voice.amount(torque, 2, 'N.m')}")
        if kind.locked:
            text.append(w["thread-locked"])
        if random.random() < 0.93:
            text.append(f"{w['checked']} {kind.check} ok")
        elif random.random() < 0.7:
            self.later(minute + random.randrange(60, DAY), self.check, loom, place)
        return text

    def check(self, minute: int, loom: Loom, place: Place) -> None:
        """The check that was left out."""
        if self.waits_for(minute, loom, self.check, place):
            return
        at = place.told(self.voice)
        self.line(minute, loom, f"{self.voice.w['checked']} {place.kind.check} {at} ok")

    def look(self, minute: int, loom: Loom) -> None:
        """A lock that stands for long is looked at."""
        if loom.locks and not self.waits_for(minute, loom, self.look):
            self.line(minute, loom, f"{self.voice.w['lock seen by']} {self.voice.name}")

    def finish(self, minute: int, loom: Loom, place: Place, value: str, fault: str) -> None:
        """The fault is cleared, the lock comes off, the loom runs."""
        if self.waits_for(minute, loom, self.finish, place, value, fault):
            return
        w, text = self.voice.w, []
        if fault:
            text.append(f"{w['fault cleared']} {place.told(self.voice)}")
        for who, _ in loom.locks:
            by = who if self.random.random() < 0.85 else self.voice.name
            other = f" {'für' if self.voice.german else 'for'} {who}" if by != who else ""
            text.append(f"{w['lock removed by']} {by}{other}")
        loom.locks.clear()
        self.long.pop(loom, None)
        if value:
            text.append(self.reading(place, loom.ran(minute), self.voice))
        loom.busy = False
        loom.run(minute)
        text.append(w["running"])
        self.line(minute, loom, "; ".join(text))

    def move(self, minute: int, loom: Loom) -> None:
        """A part comes from another loom, whose place is filled anew."""
        place = self.random.choice(loom.places)
        other = self.random.choice(self.looms)
        twin = other.places[loom.places.index(place)]
        if other is loom or other.busy or twin.empty or place.empty or other.last >= minute:
            self.readings(minute, loom)
            return
        w = self.voice.w
        age = other.ran(minute) - twin.born
        loom.stop(minute)
        loom.busy = True
        place.born, place.life, place.due = loom.ran(minute) - age, twin.life, False
        twin.empty, twin.due = True, True
        text = f"{w['stopped']} {w['for']} {w['part']}; moved {place.told(self.voice)} from {other.name}"
        self.line(minute, loom, text)
        self.later(minute + self.random.randrange(5, 40), self.finish, loom, place, "", "")
        self.later(minute + 2, self.job, other, twin, "replaced", "", "")
