"""What fitters and weavers of the example say: faults and their repairs, notes, reasons.

Plain tables of canonical English clauses; `{p}` stands for the place (``right head``). How each
writer puts them is left to `voices`.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """A kind of fault: how it is reported, and the repairs that are tried, each with its result."""

    part: str
    weight: float
    says: tuple[str, ...]
    repairs: tuple[tuple[str, str], ...]


TROUBLES: tuple[Trouble, ...] = (
    Trouble(
        part="head",
        weight=3.0,
        says=("{p} drops weft at transfer", "{p} drops weft", "{p} loses weft on heavy yarn"),
        repairs=(
            ("cleaned {p} lint in the jaw", "lint in the jaw"),
            ("adjusted {p} clamp spring", "spring set up half a turn"),
            ("repaired {p} jaw pad glued", "new pad"),
            ("replaced {p} broken", "new head"),
        ),
    ),
    Trouble(
        part="head",
        weight=1.2,
        says=("{p} misses transfer now and then", "{p} misses transfer", "transfer missed {p}"),
        repairs=(
            ("adjusted {p} timing", "timing set back"),
            ("tightened {p} holder", "holder was loose"),
            ("cleaned {p}", "size and fly"),
        ),
    ),
    Trouble(
        part="tape",
        weight=1.3,
        says=("{p} edge frayed", "{p} frays at the sprocket", "{p} edge frayed, sounds rough"),
        repairs=(("replaced {p} broken", "new tape"), ("repaired {p} edge trimmed", "trimmed")),
    ),
    Trouble(
        part="tape",
        weight=0.8,
        says=("{p} knocks at the end of the stroke", "{p} rattles"),
        repairs=(
            ("tightened {p} clamp", "clamp was loose"),
            ("adjusted {p} stroke", "stroke set"),
        ),
    ),
    Trouble(
        part="cutter",
        weight=1.6,
        says=("{p} leaves tails", "{p} not cutting cotton", "{p} leaves tails on every tenth pick"),
        repairs=(
            ("adjusted {p}", "blade set down"),
            ("cleaned {p}", "wax on the blade"),
            ("replaced {p} worn", "new blade"),
        ),
    ),
    Trouble(
        part="brake",
        weight=0.8,
        says=("{p} stops late, start marks", "{p} brakes late", "{p} overruns after weft stop"),
        repairs=(("adjusted {p} air gap", "air gap set"), ("cleaned {p} oil on disc", "dry again")),
    ),
    Trouble(
        part="belt",
        weight=0.7,
        says=("{p} slips at start", "{p} squeals, slipping"),
        repairs=(("adjusted {p} tension", "tension up"), ("cleaned {p}", "oil wiped off")),
    ),
    Trouble(
        part="leno",
        weight=1.2,
        says=("{p} loose selvedge", "{p} selvedge opens", "{p} loose selvedge near the temple"),
        repairs=(
            ("cleaned {p}", "fly in the disc"),
            ("adjusted {p} crossing", "crossing reset"),
            ("greased {p} bearing", "runs free"),
        ),
    ),
    Trouble(
        part="filter",
        weight=0.5,
        says=("oil {p} leaks oil at the cover", "oil {p} drips oil"),
        repairs=(("tightened {p} cover", "cover nipped up"), ("replaced {p}", "new seal with it")),
    ),
    Trouble(
        part="",
        weight=1.2,
        says=("weft feeler sensor trips", "false stops, sensor trips at the gate"),
        repairs=(("", "plug cleaned and pushed home"), ("", "feeler wiped, no fly left")),
    ),
    Trouble(
        part="",
        weight=0.6,
        says=("main motor smells hot", "let-off gearbox noisy", "waste winder noisy"),
        repairs=(("", "fan grille was full of fly, blown out"),),
    ),
)

NOTES = (
    "weaver says noisy on the left",
    "weaver says noisy on the right, heard nothing",
    "weaver complains of weft tails in the waste selvedge",
    "weaver says start marks again, cloth looked fair",
    "fly under the reed, blown off",
    "temple ring left hand side dull, order one",
    "warp nearly out, two days",
    "cloth roll doffed late",
    "weft tension set softer for the slub; weaver to watch",
    "floor wet under the oil tray, wiped, look again tomorrow",
    "fabric inspector found a broken end, 40 cm, mended",
    "humidity low in this row, 58 %",
    "weaver asks for a new waste bin",
    "knotter booked for the next warp",
    "Fadenwächter sitzt schief, gerade gebogen",
    "lamp over the loom flickers, told the electrician",
    "runs well since the tape was changed",
    "selvedge a little tight at the left",
    "reed dent bent near the middle, straightened",
    "smells of warm size, not of belt",
)

# An action that was opened, and how it came out.
ACTIONS = (
    ("look at weft feeler plug", "plug pushed home"),
    ("order temple ring", "came and fitted"),
    ("clean under the loom at next style", "cleaned"),
    ("listen to let-off gearbox again", "quiet"),
    ("check selvedge waste winder", "smooth"),
    ("replace cracked cover hinge", "fitted"),
    ("top up oil", "level good"),
    ("ask weaver about start marks", "none seen"),
    ("check reed clamp bolts", "all tight"),
    ("straighten cable at the gate", "tied up"),
)
DROPS = ("warp is out anyway", "same as an older one", "covered by the style change")
STYLES = {"4410": 1.0, "4425": 0.94, "5120": 1.08, "6203": 1.18, "K17": 0.9}

TORQUES = {
    "tape": ("clamp screws", 1.40),
    "head": ("holder screws", 2.20),
    "cutter": ("knife screws", 3.00),
}
FINDINGS = {
    "tape": "joint",
    "head": "transfer",
    "guide": "alignment",
    "cutter": "cut",
    "brake": "stop",
    "belt": "alignment",
    "filter": "leaks",
}
LOCKED = ("tape", "head")
