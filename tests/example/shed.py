"""The register of the invented shed, as text.

All limits, forces, torques and lives are invented for the example. It leaves how parts wear to
`wear` and how fitters word things to `prose`.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass

REGISTER = """\
# Quillbank is an invented shed. Every number in this file is invented too: none of them is a
# limit of any real loom. Put your own maker's and your own mill's figures in their place.

[shed]
name = "Quillbank"
zone = "Europe/London"
languages = ["de"]
shifts = { early = "06:00-14:00", late = "14:00-22:00", night = "22:00-06:00" }

[section.A]
looms = ["A01-A24"]
speed = 480                     # picks/min
giver = "left"

[section.B]
looms = ["B01-B24"]
speed = 540
giver = "right"

# ---- parts that are measured ------------------------------------------------------------

[part.tape]
sides = ["left", "right"]
words = ["band", "rapier tape"]

[part.tape.thickness]
unit = "mm"
new = 3.20
replace_below = 2.45
tool_uncertainty = 0.03         # expanded, k = 2, micrometer with flat anvils
plausible = [1.8, 4.2]
check_every = "90 h"

[part.tape.after]
torque = { value = 1.40, tolerance = "10 %", unit = "N.m", tool_tolerance = "4 %" }
needs = ["thread-locked", "checked joint"]

[part.tape.caution]
text = "The tape end springs back when the last clamp screw comes out: hold it with the hook."

[part.head]
sides = ["left", "right"]
words = ["gripper", "greifer"]

[part.head.force]
unit = "N"
new = 34.0
replace_below = 22.0
tool_uncertainty = 0.8
plausible = [8.0, 60.0]
check_every = "5 days"

[part.head.after]
torque = { value = 2.20, tolerance = "10 %", unit = "N.m", tool_tolerance = "4 %" }
needs = ["thread-locked", "checked transfer"]
recheck = "in 24 h"

[part.head.caution]
text = "The clamp jaw closes by itself when the loom is turned by hand."

[part.guide]                    # numbered from the left: 1 to 3 left, 4 to 6 right
sides = ["left", "right"]
words = ["führung", "hook guide"]

[part.guide.gap]
unit = "mm"
new = 0.12
replace_above = 0.40
tool_uncertainty = 0.02
plausible = [0.02, 1.8]
check_every = "9 days"

[part.guide.after]
needs = ["checked alignment"]

[part.cutter]
words = ["messer", "weft cutter"]

[part.cutter.play]
unit = "mm"
new = 0.04
replace_above = 0.22
tool_uncertainty = 0.01
plausible = [0.0, 0.9]
check_every = "90 h"

[part.cutter.after]
torque = { value = 3.00, tolerance = "10 %", unit = "N.m", tool_tolerance = "4 %" }
needs = ["checked cut"]

[part.cutter.caution]
text = "The blade is sharp on both edges: gloves, and the cap on before it leaves the loom."

[part.brake]
words = ["bremse"]

[part.brake.angle]              # crank angle run on after a stop
unit = "deg"
new = 33.0
band = [26.0, 44.0]
tool_uncertainty = 1.0
plausible = [5.0, 120.0]
check_every = "240 h"

[part.brake.lining]
unit = "mm"
new = 5.60
replace_below = 3.20
tool_uncertainty = 0.10
plausible = [1.2, 8.0]
check_every = "480 h"

[part.brake.after]
needs = ["checked stop"]

[part.belt]
words = ["riemen", "drive belt"]

[part.belt.tension]             # by the note it gives when plucked
unit = "Hz"
new = 61.0
band = [47.0, 68.0]
tool_uncertainty = 1.0
plausible = [15.0, 140.0]
check_every = "14 days"

[part.belt.after]
needs = ["checked alignment"]

[part.leno]
sides = ["left", "right"]
words = ["dreher", "selvedge disc"]

[part.leno.play]
unit = "mm"
new = 0.06
replace_above = 0.36
tool_uncertainty = 0.02
plausible = [0.0, 1.2]
check_every = "6000000 picks"

[part.filter]
words = ["oil filter", "ölfilter"]

[part.filter.pressure]          # across the filter, warm; no range of plausible readings given
unit = "bar"
new = 0.25
replace_above = 1.20
tool_uncertainty = 0.05
check_every = "18 shifts"

[part.filter.after]
needs = ["checked leaks"]

# ---- what repeats are grouped by --------------------------------------------------------

[symptom."drops weft"]
words = ["loses weft", "weft dropped", "lets go of the weft", "verliert den schuss"]

[symptom."misses transfer"]
words = ["missed transfer", "transfer missed", "übergabe fehlt"]

[symptom."frays"]
words = ["fraying", "edge frayed", "franst aus"]

[symptom."cuts badly"]
words = ["not cutting", "leaves tails", "schneidet nicht"]

[symptom."noisy"]
words = ["rattles", "knocks", "squeals", "klappert"]

[symptom."stops late"]
words = ["overruns", "brakes late", "bremst spät"]

[symptom."slips"]
words = ["slipping", "rutscht"]

[symptom."loose selvedge"]
words = ["selvedge loose", "selvedge opens", "kante lose"]

[symptom."leaks oil"]
words = ["oil leak", "drips oil", "verliert öl"]

[symptom."runs hot"]
words = ["smells hot", "too hot", "wird heiss"]

[symptom."sensor trips"]
words = ["false stops", "stops without cause"]

# ---- time, rules, stock -----------------------------------------------------------------

[calendar]
days = "mon-sun"
closed = ["2026-11-01", "2026-12-25", "2026-12-26"]

[rules]
guard_band = 1.0                # r, times the tool's expanded uncertainty
near_limit = "20 %"
repeat_window = ["200 h", "14 days"]

[spares]
tape = { stock = 96, lead_time = "10 days" }
head = { stock = 92, lead_time = "21 days" }
guide = { stock = 84, lead_time = "21 days" }
cutter = { stock = 44, lead_time = "7 days" }
brake = { stock = 17, lead_time = "28 days" }
belt = { stock = 4, lead_time = "14 days" }
leno = { stock = 52, lead_time = "21 days" }
filter = { stock = 20, lead_time = "5 days" }

# ---- the mill's German -------------------------------------------------------------------

[words.de]
gestoppt = "stopped"
steht = "stopped"
"läuft" = "running"
"läuft wieder" = "running"
"gesperrt durch" = "isolated by"
"schloss gesehen von" = "lock seen by"
"schloss entfernt von" = "lock removed by"
"störung" = "fault"
"störung behoben" = "fault cleared"
getauscht = "replaced"
ersetzt = "replaced"
eingestellt = "adjusted"
repariert = "repaired"
gereinigt = "cleaned"
geschmiert = "greased"
nachgezogen = "tightened"
drehmoment = "torque"
schraubensicherung = "thread-locked"
"geprüft" = "checked"
charge = "batch"
"zähler" = "counter"
artikel = "style"
notiz = "note"
lehre = "gauge"
"geht rein" = "enters"
"geht nicht rein" = "stays out"
offen = "open"
erledigt = "done"
links = "left"
rechts = "right"
kette = "warp"
schuss = "weft"
teil = "part"
verschlissen = "worn"
gebrochen = "broken"
wegen = "for"
"für" = "for"
nr = "no"
gemessen = ""
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """What one measured quantity of a part starts at, ends at and is measured with.

    `new`, `limit` and `tool` (expanded uncertainty) are in `unit`; `places` is the number of
    decimals a fitter writes.
    """

    part: str
    name: str
    unit: str
    new: float
    limit: float
    tool: float
    places: int
    alone: bool

    @property
    def sense(self) -> int:
        """Whether the number falls (-1) or rises (+1) as the part wears."""
        return 1 if self.limit > self.new else -1


# The side of a band that wear moves toward, and the decimals of each unit as it is written.
_WORN_END = {"angle": 1, "tension": 0}
_PLACES = {"mm": 2, "N": 1, "deg": 0, "Hz": 0, "bar": 2}


def quantities() -> dict[tuple[str, str], Quantity]:
    """Every measured quantity of the register, by part and name."""
    found: dict[tuple[str, str], Quantity] = {}
    for part, table in tomllib.loads(REGISTER)["part"].items():
        measured = {n: q for n, q in table.items() if isinstance(q, dict) and "unit" in q}
        for name, q in measured.items():
            limit = q.get("replace_below", q.get("replace_above"))
            if limit is None:
                limit = q["band"][_WORN_END[name]]
            found[part, name] = Quantity(
                part=part,
                name=name,
                unit=q["unit"],
                new=q["new"],
                limit=limit,
                tool=q["tool_uncertainty"],
                places=_PLACES[q["unit"]],
                alone=len(measured) == 1,
            )
    return found
