"""How each fitter writes: one plain English clause in, the fitter's own way of putting it out.

The rest of the example says everything as one canonical clause (``left tape thickness 2.71 mm``);
here it gets the writer's decimal mark, unit, case and language. It never changes what is meant.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from random import Random

from .wear import QUANTITIES

_PARTS = "|".join(sorted({part for part, _ in QUANTITIES}))
_MEASURED = re.compile(
    rf"(?P<place>(?:left |right )?(?P<part>{_PARTS})(?: \d)?) (?P<quantity>[a-z]+) (?P<gauge>gauge )?"
    r"(?P<number>\d+(?:\.\d+)?) (?P<unit>mm|N|deg|Hz|bar)(?P<verdict> enters| stays out)?"
)
_TORQUE = re.compile(r"torque (?P<text>[a-z ]+ )?(?P<number>\d+\.\d+) N\.m")
_COUNTER = re.compile(r"counter (?P<number>\d+\.\d) h(?P<new> new)?")
_VERB = re.compile(r"(replaced|adjusted|repaired|cleaned|greased|tightened)\b")
_GERMAN_HEADS = (
    ("stopped for fault", "steht wegen Störung"),
    ("stopped for part", "steht wegen Teil"),
    ("stopped for style", "steht wegen Artikel"),
    ("stopped for", "steht wegen"),
    ("stopped", "gestoppt"),
    ("running", "läuft wieder"),
    ("isolated by", "gesperrt durch"),
    ("lock seen by", "Schloss gesehen von"),
    ("lock removed by", "Schloss entfernt von"),
    ("fault cleared", "Störung behoben"),
    ("fault", "Störung"),
    ("replaced", "getauscht"),
    ("adjusted", "eingestellt"),
    ("repaired", "repariert"),
    ("cleaned", "gereinigt"),
    ("greased", "geschmiert"),
    ("tightened", "nachgezogen"),
    ("torque", "Drehmoment"),
    ("thread-locked", "Schraubensicherung"),
    ("checked", "geprüft"),
    ("batch", "Charge"),
    ("counter", "Zähler"),
    ("style", "Artikel"),
    ("open no", "offen Nr"),
    ("done no", "erledigt Nr"),
    ("note", "Notiz"),
)
_GERMAN_WORDS = (
    ("drops weft at transfer", "verliert den Schuss bei der Übergabe"),
    ("drops weft", "verliert den Schuss"),
    ("loses weft", "verliert den Schuss"),
    ("on heavy yarn", "bei grobem Garn"),
    ("now and then", "ab und zu"),
    ("at the sprocket", "am Rad"),
    ("loose selvedge", "Kante lose"),
    ("misses transfer", "Übergabe fehlt"),
    ("edge frayed", "franst aus"),
    ("leaves tails", "schneidet nicht"),
    ("not cutting", "schneidet nicht"),
    ("rattles", "klappert"),
    ("brakes late", "bremst spät"),
    ("slipping", "rutscht"),
    ("selvedge opens", "Kante lose"),
    ("drips oil", "verliert Öl"),
    ("too hot", "wird heiss"),
    ("left", "links"),
    ("right", "rechts"),
    ("tape", "Band"),
    ("head", "Greifer"),
    ("guide", "Führung"),
    ("cutter", "Messer"),
    ("brake", "Bremse"),
    ("belt", "Riemen"),
    ("leno", "Dreher"),
    ("oil filter", "Ölfilter"),
    ("warp", "Kette"),
    ("weft", "Schuss"),
    ("clamp screws", "Klemmschrauben"),
    ("holder screws", "Halterschrauben"),
    ("knife screws", "Messerschrauben"),
    ("worn", "verschlissen"),
    ("broken", "gebrochen"),
    ("gauge", "Lehre"),
    ("enters", "geht rein"),
    ("stays out", "geht nicht rein"),
)
_TRANSLATED = re.compile(
    r"(stopped|fault(?! cleared)|torque|replaced|adjusted|repaired|cleaned|greased|tightened)\b|.*(gauge |\d\s?(mm|um|N|deg|Hz|bar|kPa|°)$)"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Voice:
    """One fitter's habits: how times, looms, numbers, units and words are written."""

    who: str
    time: str = "%H:%M"
    loom: str = "A07"
    comma: bool = False
    german: bool = False
    capital: bool = False
    tight: bool = False
    torque: str = "N.m"
    small: str = "mm"
    force: str = "N"
    pressure: str = "bar"
    angle: str = "deg"

    def clock(self, moment: str) -> str:
        """A time of day ``09:05`` in the fitter's form."""
        hour, minute = moment.split(":")
        if self.time == "%H%M":
            return hour + minute
        return f"{int(hour)}:{minute}" if self.time == "%-H:%M" else moment

    def name(self, loom: str) -> str:
        """A loom's name ``A07`` in the fitter's form."""
        short = re.sub(r"(?<=[AB])0", "", loom)
        return {"A07": loom, "A7": short, "a7": short.lower(), "a07": loom.lower()}[self.loom]

    def speak(self, clause: str, rng: Random) -> str:
        """The canonical clause as this fitter writes it."""
        said = clause
        if (m := _MEASURED.fullmatch(clause)) is not None:
            said = self._measured(m, rng)
        elif (m := _TORQUE.fullmatch(clause)) is not None:
            said = f"torque {m['text'] or ''}{self._amount(m['number'], 'N.m', '')}"
        elif (m := _COUNTER.fullmatch(clause)) is not None:
            said = f"counter {self._mark(m['number'])} h{m['new'] or ''}"
        if self.german:
            said = self._german(said, rng)
        return said[:1].upper() + said[1:] if self.capital else said

    def _measured(self, m: re.Match[str], rng: Random) -> str:
        alone = QUANTITIES[m["part"], m["quantity"]].alone
        named = f" {m['quantity']}" if not alone or rng.random() < 0.45 else ""
        amount = self._amount(m["number"], m["unit"], m["part"])
        return f"{m['place']}{named} {m['gauge'] or ''}{amount}{m['verdict'] or ''}"

    def _amount(self, number: str, unit: str, part: str) -> str:
        if unit == "N.m":
            unit = self.torque
            number = f"{float(number) * 100:.0f}" if unit == "cN.m" else number
        elif part == "cutter" and self.small == "um":
            number, unit = f"{float(number) * 1000:.0f}", "um"
        elif unit == "N" and self.force == "kgf":
            number, unit = f"{float(number) / 9.80665:.2f}", "kgf"
        elif unit == "bar" and self.pressure == "kPa":
            number, unit = f"{float(number) * 100:.0f}", "kPa"
        elif unit == "deg":
            unit = self.angle
        return f"{self._mark(number)}{'' if self.tight else ' '}{unit}"

    def _mark(self, number: str) -> str:
        return number.replace(".", ",") if self.comma else number

    def _german(self, said: str, rng: Random) -> str:
        if _TRANSLATED.match(said) is not None:
            for english, german in _GERMAN_WORDS:
                said = re.sub(rf"(?<![\w-]){english}(?![\w-])", german, said)
        for english, german in _GERMAN_HEADS:
            if re.match(rf"{english}(?![\w-])", said) is not None:
                rest = said[len(english) :]
                return german + (rest.replace(" for ", " für ") if "lock" in english else rest)
        if rng.random() < 0.3 and re.search(r"\d\s?(mm|N|Hz|bar)$", said) is not None:
            return f"gemessen {said}"
        return said


VOICES = {
    voice.who: voice
    for voice in (
        Voice(who="KM"),
        Voice(who="TN", time="%H%M", loom="a7", comma=True, torque="Nm", tight=True, angle="°"),
        Voice(who="RB", time="%-H:%M", loom="A7", torque="Nm", pressure="kPa"),
        Voice(who="HS", time="%H%M", comma=True, german=True, torque="Nm"),
        Voice(who="DW", loom="a07", comma=True, torque="N·m"),
        Voice(who="JO", time="%-H:%M", force="kgf", small="um", torque="cN.m"),
        Voice(who="EP", capital=True),
        Voice(who="UB", comma=True, german=True, loom="A7", torque="N.m", tight=True),
    )
}
