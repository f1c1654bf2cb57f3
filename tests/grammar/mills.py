"""Invented mills whose words the tests of the grammar read with."""

from __future__ import annotations

from datetime import time
from zoneinfo import ZoneInfo

from grammar.reader import Reader
from grammar.vocabulary import PartWords, QuantityWords, ShiftTimes, Vocabulary

THREE_SHIFTS = (
    ShiftTimes(name="early", start=time(6), end=time(14)),
    ShiftTimes(name="late", start=time(14), end=time(22)),
    ShiftTimes(name="night", start=time(22), end=time(6)),
)

PARTS = (
    PartWords(
        name="tape",
        sides=("left", "right"),
        words=("band", "rapier tape"),
        quantities=(QuantityWords(name="thickness", unit="mm", plausible=(1.5, 4.0)),),
    ),
    PartWords(
        name="head",
        sides=("left", "right"),
        words=("gripper",),
        quantities=(QuantityWords(name="force", unit="N", plausible=(8.0, 60.0)),),
    ),
    PartWords(
        name="guide",
        sides=("left", "right"),
        words=("führung",),
        quantities=(
            QuantityWords(name="gap", unit="mm", plausible=(0.02, 1.8)),
            QuantityWords(name="side play", unit="mm"),
        ),
    ),
    PartWords(name="hook", quantities=(QuantityWords(name="gap", unit="mm"),)),
    PartWords(
        name="brake",
        quantities=(
            QuantityWords(name="angle", unit="deg", plausible=(5.0, 120.0)),
            QuantityWords(name="lining", unit="mm", plausible=(1.2, 8.0)),
        ),
    ),
    PartWords(name="belt", quantities=(QuantityWords(name="tension", unit="Hz"),)),
    PartWords(
        name="pump",
        quantities=(QuantityWords(name="pressure", unit="bar", plausible=(0.5, 3000.0)),),
    ),
    PartWords(name="frame"),
)

ALIASES = {
    "stopped": ("gestoppt", "steht"),
    "running": ("läuft",),
    "isolated by": ("gesperrt durch",),
    "lock removed by": ("schloss entfernt von",),
    "fault": ("störung",),
    "fault cleared": ("störung behoben",),
    "replaced": ("getauscht",),
    "gauge": ("lehre",),
    "enters": ("geht rein",),
    "stays out": ("geht nicht rein",),
    "left": ("links",),
    "right": ("rechts",),
    "warp": ("kette",),
    "worn": ("verschlissen",),
    "for": ("wegen",),
    "by": ("von",),
    "no": ("nr",),
    "ok": ("i.o.", "in ordnung"),
    "note": ("notiz",),
    "shed": ("websaal",),
    "early": (),
}


def _looms(section: str, count: int) -> tuple[str, ...]:
    return tuple(f"{section}{n:02}" for n in range(1, count + 1))


def mill(zone: str = "Europe/London", shifts: tuple[ShiftTimes, ...] = THREE_SHIFTS) -> Vocabulary:
    """A shed of two rows, with some German words."""
    return Vocabulary(
        zone=ZoneInfo(zone),
        shifts=shifts,
        sections={"A": _looms("A", 24), "B": _looms("B", 24)},
        parts=PARTS,
        symptoms={"drops weft": ("loses weft", "weft dropped"), "noisy": ("rattles",)},
        aliases=ALIASES,
        fillers=("gemessen", "heute"),
    )


def plain_mill() -> Vocabulary:
    """A shed that numbers its looms plainly, knows no parts and has no words of its own."""
    return Vocabulary(
        zone=ZoneInfo("Europe/London"),
        shifts=THREE_SHIFTS,
        sections={"1": tuple(str(n) for n in range(1, 41))},
    )


HEADING = "day 2026-11-24 night by KM"


def under_heading(line: str, heading: str = HEADING) -> str:
    """A log of one line under its heading."""
    return f"{heading}\n{line}\n"


READER = Reader(mill())
PLAIN_READER = Reader(plain_mill())
