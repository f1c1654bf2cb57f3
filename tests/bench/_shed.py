"""The invented shed of the benchmark: its kinds of part, their limits, and its register.

Every number is invented. A loom has as many measured places as asked for: first those of its
tapes, heads, cutter, brake, belt and filter, then numbered guides.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

SHIFTS = (("early", 6 * 60), ("late", 14 * 60), ("night", 22 * 60))  # names and starts [min]
SHIFT_MINUTES = 480
ZONE = "Europe/London"
LOOMS_A_SECTION = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of part: how it wears, how it is read, what is asked for after a replacement."""

    name: str
    german: str
    quantity: str
    unit: str
    new: float
    limit: float
    limits: str  # the register's own key and value
    decimals: int
    uncertainty: float
    curve: float  # the wear grows with the age to this power
    life_h: float
    sided: bool = False
    torque: float = 0.0  # [N.m]; 0: none asked for
    locked: bool = False
    check: str = ""
    says: tuple[str, ...] = ()


KINDS = {
    kind.name: kind
    for kind in (
        Kind(
            name="tape", german="Band", quantity="thickness", unit="mm", new=3.20, limit=2.45,
            limits="replace_below = 2.45", decimals=2, uncertainty=0.03, curve=1.0, life_h=2200,
            sided=True, torque=1.40, locked=True, check="joint",
            says=("frays at the sprocket", "edge frayed, sounds rough", "knocks at the stroke end"),
        ),
        Kind(
            name="head", german="Greifer", quantity="force", unit="N", new=34.0, limit=22.0,
            limits="replace_below = 22.0", decimals=1, uncertainty=0.8, curve=1.6, life_h=2600,
            sided=True, torque=2.20, locked=True, check="transfer",
            says=("drops weft at transfer", "loses weft on heavy yarn", "misses transfer"),
        ),
        Kind(
            name="cutter", german="Messer", quantity="play", unit="mm", new=0.04, limit=0.22,
            limits="replace_above = 0.22", decimals=2, uncertainty=0.02, curve=1.0, life_h=1800,
            torque=3.00, check="cut", says=("leaves tails", "not cutting cotton"),
        ),
        Kind(
            name="brake", german="Bremse", quantity="angle", unit="deg", new=33.0, limit=44.0,
            limits="band = [26.0, 44.0]", decimals=0, uncertainty=1.0, curve=1.4, life_h=4000,
            check="stop", says=("stops late, start marks", "overruns after weft stop"),
        ),
        Kind(
            name="belt", german="Riemen", quantity="tension", unit="Hz", new=61.0, limit=47.0,
            limits="band = [47.0, 68.0]", decimals=0, uncertainty=1.0, curve=0.7, life_h=3500,
            check="alignment", says=("slips at start", "squeals, slipping"),
        ),
        Kind(
            name="filter", german="Ölfilter", quantity="pressure", unit="bar", new=0.25, limit=1.20,
            limits="replace_above = 1.20", decimals=2, uncertainty=0.05, curve=1.8, life_h=1500,
            check="leaks", says=("leaks oil at the cover", "drips oil"),
        ),
        Kind(
            name="guide", german="Führung", quantity="gap", unit="mm", new=0.12, limit=0.40,
            limits="replace_above = 0.40", decimals=2, uncertainty=0.03, curve=1.0, life_h=5000,
            check="alignment", says=("noisy", "rattles"),
        ),
    )
}  # fmt: skip

PLAUSIBLE = {
    "tape": "[1.5, 4.2]", "head": "[6.0, 60.0]", "cutter": "[0.0, 0.9]", "brake": "[5.0, 120.0]",
    "belt": "[10.0, 140.0]", "filter": "[0.0, 4.0]", "guide": "[0.0, 1.8]",
}  # fmt: skip

SYMPTOMS = {
    "drops weft": ("loses weft", "lets go of the weft"),
    "misses transfer": ("missed transfer",),
    "frays": ("edge frayed",),
    "cuts badly": ("not cutting", "leaves tails"),
    "noisy": ("rattles", "knocks"),
    "stops late": ("overruns",),
    "slips": ("slipping",),
    "leaks oil": ("drips oil",),
}

GERMAN = {
    "gestoppt": "stopped", "steht": "stopped", "läuft wieder": "running",
    "gesperrt durch": "isolated by", "schloss gesehen von": "lock seen by",
    "schloss entfernt von": "lock removed by", "störung": "fault",
    "störung behoben": "fault cleared", "getauscht": "replaced", "eingestellt": "adjusted",
    "repariert": "repaired", "gereinigt": "cleaned", "geschmiert": "greased",
    "nachgezogen": "tightened", "drehmoment": "torque", "schraubensicherung": "thread-locked",
    "geprüft": "checked", "charge": "batch", "zähler": "counter", "artikel": "style",
    "notiz": "note", "lehre": "gauge", "geht rein": "enters", "geht nicht rein": "stays out",
    "offen": "open", "erledigt": "done", "links": "left", "rechts": "right", "kette": "warp",
    "schuss": "weft", "teil": "part", "verschlissen": "worn", "gebrochen": "broken",
    "wegen": "for", "für": "for", "nr": "no",
}  # fmt: skip


def places(parts: int) -> list[tuple[Kind, str, int]]:
    """The measured places of a loom: kind, side or nothing, number or 0."""
    found: list[tuple[Kind, str, int]] = []
    for kind in KINDS.values():
        if kind.name != "guide":
            found += [(kind, side, 0) for side in (("left", "right") if kind.sided else ("",))]
    found += [(KINDS["guide"], "", number) for number in range(1, parts - len(found) + 1)]
    return found[:parts]


def loom_names(looms: int) -> list[tuple[str, list[str]]]:
    """Sections in walking order, and the looms of each."""
    found = []
    for first in range(0, looms, LOOMS_A_SECTION):
        row = _letters(first // LOOMS_A_SECTION)
        size = min(LOOMS_A_SECTION, looms - first)
        found.append((row, [f"{row}{number:02d}" for number in range(1, size + 1)]))
    return found


def _letters(number: int) -> str:
    """A, B, ..., Z, AA, AB, ..."""
    last = chr(ord("A") + number % 26)
    return last if number < 26 else _letters(number // 26 - 1) + last


def register(looms: int, parts: int) -> str:
    """The text of ``shed.toml``."""
    return "\n".join(_register(looms, parts)) + "\n"


def _register(looms: int, parts: int) -> Iterator[str]:
    yield "# An invented shed, made for measuring speed. Every number is invented."
    yield "[shed]"
    yield 'name = "Longrow"'
    yield f'zone = "{ZONE}"'
    yield 'languages = ["de"]'
    yield 'shifts = { early = "06:00-14:00", late = "14:00-22:00", night = "22:00-06:00" }'
    for row, names in loom_names(looms):
        yield f"\n[section.{row}]"
        yield f'looms = ["{names[0]}-{names[-1]}"]' if len(names) > 1 else f"looms = {names}"
        yield "speed = 500"
    for kind in dict.fromkeys(kind for kind, _, _ in places(parts)):
        yield from _part(kind)
    for symptom, words in SYMPTOMS.items():
        yield f'\n[symptom."{symptom}"]'
        yield f"words = {_list(words)}"
    yield "\n[words.de]"
    for word, means in GERMAN.items():
        yield f'"{word}" = "{means}"'
    yield "\n[spares]"
    yield 'tape = { stock = 40, lead_time = "10 days" }'


def _part(kind: Kind) -> Iterator[str]:
    yield f"\n[part.{kind.name}]"
    if kind.sided:
        yield 'sides = ["left", "right"]'
    yield f'words = ["{kind.german.lower()}"]'
    yield f"\n[part.{kind.name}.{kind.quantity}]"
    yield f'unit = "{kind.unit}"'
    yield f"new = {kind.new}"
    yield kind.limits
    yield f"tool_uncertainty = {kind.uncertainty}"
    yield f"plausible = {PLAUSIBLE[kind.name]}"
    yield 'check_every = "300 h"'
    yield f"\n[part.{kind.name}.after]"
    if kind.torque:
        yield f'torque = {{ value = {kind.torque}, tolerance = "10 %", unit = "N.m" }}'
    needs = (*(("thread-locked",) if kind.locked else ()), f"checked {kind.check}")
    yield f"needs = {_list(needs)}"


def _list(words: tuple[str, ...]) -> str:
    return "[" + ", ".join(f'"{word}"' for word in words) + "]"
