"""The life of the benchmark's shed, shift by shift: what happens next by itself."""

from __future__ import annotations

from heapq import heappop
from itertools import count

from tests.bench._calendar import ShiftTime
from tests.bench._jobs import JOBS, Jobs
from tests.bench._looms import Loom
from tests.bench._pen import DAY
from tests.bench._shed import SHIFT_MINUTES
from tests.bench._voices import Voice

KEPT_FREE = 4  # [min] at the end of a shift, for handing over
NEW_SHARE = 0.6  # of all entries; the others follow from them
WAITS = (("warp", 6), ("weft", 9), ("order", 1), ("power", 1), ("style", 2))
NOTES = (
    "weaver says noisy on the left", "weft tension set softer; weaver to watch",
    "fly under the reed, blown off", "warp nearly out, two days", "cloth roll doffed late",
    "start marks again, cloth looked fair", "temple ring dull, order one", "humidifier off again",
)  # fmt: skip
TASKS = ("recheck {p}", "order {p}", "look at the {p} after the doff", "listen to the {p}")
RESULTS = ("smooth", "nothing found", "within limits", "ordered", "will do")
DUES = ("due early", "due late", "due night", "due before start", "due in 200 h", "")


class Shed(Jobs):
    """The whole shed."""

    def __init__(self, looms: int, parts: int, seed: int) -> None:
        super().__init__(looms, parts, seed)
        self.free_numbers: list[int] = []
        self.numbers = count(1)
        self.waits = [reason for reason, weight in WAITS for _ in range(weight)]

    def shift(self, shift: ShiftTime, voice: Voice, entries: int) -> list[str]:
        """The entries of a shift, as many as asked for."""
        self.when, self.voice, self.lines = shift, voice, []
        self.written, self.now = None, shift.start + 3
        self.left = entries
        end = shift.start + shift.minutes - KEPT_FREE
        for loom in self.long:
            self.later(shift.start + self.random.randrange(10, 200), self.look, loom)
        at, random = float(self.now), self.random
        while self.left > 0:
            at += random.expovariate(1.0) * max(end - at, 0.0) / (NEW_SHARE * self.left)
            until = min(at, end)
            while self.heap and self.heap[0][0] <= until and self.left > 0:
                minute, _, happens, what = heappop(self.heap)
                happens(self.minute(minute), *what)
            if self.left > 0:
                self.something(self.minute(int(until)))
        return self.lines

    def something(self, minute: int) -> None:
        """Something new on some loom."""
        minute, loom = self.any_loom(minute)
        chance = self.random.random()
        if chance < 0.52:
            self.readings(minute, loom)
        elif chance < 0.58:
            self.line(minute, loom, self.voice.w["note"] + " " + self.random.choice(NOTES))
        elif chance < 0.61:
            hours = loom.base_h + loom.ran(minute) / 60
            self.line(minute, loom, f"{self.voice.w['counter']} {self.voice.amount(hours, 1, 'h')}")
        elif chance < 0.64:
            self.action(minute, loom)
        elif chance < 0.642:
            self.group(minute, self.random.choice(list(self.rows)))
        elif chance < 0.644 and self.written and self.written[0].last < minute:
            self.strike(minute)
        elif loom.busy or not loom.running or not any(not p.empty for p in loom.places):
            self.readings(minute, loom)
        elif chance < 0.645:
            self.move(minute, loom)
        elif chance < 0.69:
            self.fault(minute, loom)
        elif chance < 0.72:
            verb = self.random.choice(JOBS)
            self.job(minute, loom, self.random.choice(loom.places), verb, "", "")
        else:
            self.wait(minute, loom)

    def wait(self, minute: int, loom: Loom) -> None:
        """A stop that is no fault of the loom."""
        why, w = self.random.choice(self.waits), self.voice.w
        loom.stop(minute)
        loom.busy = True
        self.line(minute, loom, f"{w['stopped']} {w['for']} {w.get(why, why)}")
        self.later(minute + self.random.randrange(4, 90), self.goes, loom, why)

    def goes(self, minute: int, loom: Loom, why: str) -> None:
        """It runs again."""
        if self.waits_for(minute, loom, self.goes, why):
            return
        w = self.voice.w
        text = w["running"]
        if why == "style":
            text = f"{w['style']} K{self.random.randrange(10, 40)}; {text}"
        loom.busy = False
        loom.run(minute)
        self.line(minute, loom, text)

    def group(self, minute: int, row: str) -> None:
        """A section, or some looms of it, stands for power and runs again."""
        looms = self.rows[row]
        name = row
        if self.random.random() < 0.5 and len(looms) > 8:
            first = self.random.randrange(len(looms) - 6)
            looms = looms[first : first + 6]
            name = f"{looms[0].name}-{looms[-1].name}"
        for loom in looms:
            loom.stop(minute)
            loom.last = max(loom.last, minute)
        w = self.voice.w
        self.add(minute, f"{name} {w['stopped']} {w['for']} power")
        self.later(minute + self.random.randrange(5, 60), self.group_goes, name, looms)

    def group_goes(self, minute: int, name: str, looms: list[Loom]) -> None:
        """The group runs again; what is isolated stays."""
        for loom in looms:
            loom.run(minute)
            loom.last = max(loom.last, minute)
        self.add(minute, f"{name} {self.voice.w['running']}")

    def strike(self, minute: int) -> None:
        """The last readings of this shift were not so."""
        assert self.written
        loom, _, clock = self.written
        self.written = None
        self.line(minute, loom, f"struck {clock} read the wrong loom")

    # -- actions -------------------------------------------------------------------------------

    def action(self, minute: int, loom: Loom) -> None:
        """An action is opened, with a number or named by its time, and done or dropped later."""
        random, w = self.random, self.voice.w
        place = random.choice(loom.places)
        text = random.choice(TASKS).format(p=place.told(self.voice))
        key, number = self.when.stamp(minute), 0
        if random.random() < 0.7:
            number = self.free_numbers.pop(0) if self.free_numbers else next(self.numbers)
            text = f"{w['no']} {number} {text}"
        due = random.choice(DUES)
        for_whom = f"; {'für' if self.voice.german else 'for'} RB" if random.random() < 0.2 else ""
        self.line(minute, loom, f"{w['open']} {text}{'; ' if due else ''}{due}{for_whom}")
        self.later(minute + random.randrange(DAY // 4, 6 * DAY), self.done, loom, key, number)

    def done(self, minute: int, loom: Loom, key: str, number: int) -> None:
        """An action is closed."""
        if self.waits_for(minute, loom, self.done, key, number):
            return
        random, w = self.random, self.voice.w
        name = f"{w['no']} {number}" if number else key
        verb = w["done"] if random.random() < 0.95 else "dropped"
        self.line(minute, loom, f"{verb} {name} {random.choice(RESULTS)}")
        if number:
            self.free_numbers.append(number)


def check_density(entries: int, looms: int, shifts: int) -> None:
    """Refuses a log in which looms would have to be written of too often."""
    if entries > shifts * looms * SHIFT_MINUTES // 8:
        raise ValueError("too many entries for so few looms and files")
