"""How the writers of the benchmark's shed write: times, looms, numbers and key words."""

from __future__ import annotations

from dataclasses import dataclass, field

from tests.bench._shed import GERMAN, Kind

_ENGLISH = {word: word for word in GERMAN.values()}
_GERMAN = {means: word for word, means in GERMAN.items()} | {
    "stopped": "steht", "for": "wegen", "left": "links", "right": "rechts",
    "fault": "Störung", "fault cleared": "Störung behoben", "torque": "Drehmoment",
    "thread-locked": "Schraubensicherung", "batch": "Charge", "counter": "Zähler",
    "style": "Artikel", "note": "Notiz", "lock seen by": "Schloss gesehen von",
    "lock removed by": "Schloss entfernt von", "warp": "Kette", "weft": "Schuss", "part": "Teil",
}  # fmt: skip


@dataclass(slots=True)
class Voice:
    """A writer: initials and habits. ``w`` gives the writer's word for a key word."""

    name: str
    clock: str = "colon"  # or "plain", "short"
    lower: bool = False
    comma: bool = False
    touching: bool = False
    german: bool = False
    w: dict[str, str] = field(init=False)
    times: list[str] = field(init=False)
    looms: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.w = _GERMAN if self.german else _ENGLISH
        forms = {"colon": "{:02d}:{:02d}", "plain": "{:02d}{:02d}", "short": "{}:{:02d}"}
        form = forms[self.clock]
        self.times = [form.format(*divmod(minute, 60)) for minute in range(1440)]

    def loom(self, name: str) -> str:
        """The loom as this writer writes it, say ``b4`` for B04."""
        written = self.looms.get(name)
        if written is None:
            row = name.rstrip("0123456789")
            number = name[len(row) :]
            written = row.lower() + number.lstrip("0") if self.lower else name
            self.looms[name] = written
        return written

    def amount(self, value: float, decimals: int, unit: str) -> str:
        """A number with its unit."""
        number = f"{value:.{decimals}f}"
        if self.comma:
            number = number.replace(".", ",")
        return number + unit if self.touching else f"{number} {unit}"

    def place(self, kind: Kind, side: str, number: int) -> str:
        """A place of a loom, say ``left tape`` or ``guide 3``."""
        words = [self.w[side]] if side else []
        words.append(kind.german if self.german else kind.name)
        if number:
            words.append(str(number))
        return " ".join(words)


def voices() -> list[Voice]:
    """The leads of the shed; every one writes in the own way."""
    return [
        Voice("KM"),
        Voice("RB", clock="short"),
        Voice("JO", clock="plain", comma=True),
        Voice("TN", clock="plain", lower=True, comma=True, touching=True),
        Voice("DW"),
        Voice("HS", german=True, comma=True),
        Voice("EP", clock="short", lower=True),
        Voice("LC", touching=True),
    ]
