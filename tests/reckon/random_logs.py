"""Random logs of three looms over ten days: stops, faults, readings, jobs, moves and meters."""

from __future__ import annotations

import random
from datetime import datetime, timedelta

from board.snapshot import Snapshot
from tests.state.shed import REGISTER, read

LOOMS = ("A01", "A02", "B01")
START = datetime(2026, 11, 2, 6)
NOW = "2026-11-12 06:00"

# a shed that is closed for some of the time, and an interval of each unit
SPARSE = (
    REGISTER.replace('days = "mon-sun"', 'days = "mon-fri"')
    .replace('replace_below = 2.45', 'replace_below = 2.45\ncheck_every = "20 h"')
    .replace('replace_below = 22.0', 'replace_below = 22.0\ncheck_every = "400000 picks"')
    .replace('replace_above = 0.40', 'replace_above = 0.40\ncheck_every = "2 days"')
    .replace('replace_above = 0.22', 'replace_above = 0.22\ncheck_every = "4 shifts"')
)  # fmt: skip

_WORDS = (
    "running", "running", "running", "stopped", "stopped for fault", "stopped for part",
    "stopped for weft", "stopped for laid-up", "style 4410", "style 7",
    "fault left head noisy", "fault left head noisy", "fault head noisy", "fault right head knocks",
    "fault left tape frays", "fault cutter dull", "fault hums", "fault cleared all",
    "fault cleared all", "left tape 2.90 mm", "left tape 2.80 mm; left tape 2.80 mm",
    "right tape 2.85 mm", "left head force 30 N", "right head force 29 N", "cutter play 0.10 mm",
    "cutter play gauge 0.15 mm stays out", "cutter blade 8.1 mm", "left guide 1 gap 0.15 mm",
    "left guide 2 gap 0.20 mm", "left guide gap 0.18 mm",
    "replaced left tape", "replaced left head worn", "replaced cutter", "adjusted left head",
    "repaired left head", "cleaned right head", "adjusted left guide 1",
    "torque 1.4 N.m", "torque 3.4 N.m", "thread-locked", "checked joint ok", "checked joint bad",
    "checked alignment ok", "batch 7F", "counter 100 h", "counter 160 h", "counter 0 h new",
    *(f"moved left head from {loom}" for loom in LOOMS),
    *(f"moved left tape from {loom}" for loom in LOOMS),
)  # fmt: skip


def random_shed(seed: int, entries: int = 90) -> Snapshot:
    """The shed that a log of so many entries makes; every loom ran at its beginning."""
    dice = random.Random(seed)
    lines = [f"06:00 {loom} running; fault left head noisy" for loom in LOOMS]
    for place in sorted(dice.randrange(10 * 24 * 3) for _ in range(entries)):
        when = START + timedelta(minutes=20 * place + 10)
        words = dice.sample(_WORDS, dice.choice((1, 1, 2, 3)))
        lines.append(
            f"{when.isoformat(timespec='minutes')} {dice.choice(LOOMS)} {'; '.join(words)}"
        )
    text = "day 2026-11-02 early by KM\n" + "\n".join(lines) + "\n"
    return read({"a.log": text}, NOW, register=SPARSE)
